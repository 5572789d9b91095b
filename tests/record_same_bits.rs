//! The same record gives the same pixels: any number of threads, any tile size, cold and warm store, packed and unpacked
//! elsewhere; and `verify` says when it would not.
#![expect(
    clippy::too_many_lines,
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::disallowed_methods,
    reason = "a test may stop at once, runs the program and breaks files on purpose"
)]

#[path = "common/small_scene.rs"]
mod small_scene;

use platebench::session::build::BuildRequest;
use platebench::session::{NoWatch, Session, Watch};
use serde_json::Value;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, OnceLock};
use tempfile::TempDir;

/// A folder with the small scene, measured and saved.
fn measured() -> &'static Path {
    static SCENE: OnceLock<TempDir> = OnceLock::new();
    let folder = SCENE.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let project = small_scene::lay_out(folder.path());
        let mut session = Session::open(&project, &small_scene::settings()).unwrap();
        session.measure_all(&NoWatch).unwrap();
        session.save(None).unwrap();
        std::fs::remove_file(platebench::session::backup_of(&project)).unwrap();
        folder
    });
    folder.path()
}

/// A copy of its own.
fn scene() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    // Photos are looked for beside the project's folder too, where those of other tests must not lie.
    let home = folder.path().join("work/scene");
    copy_folder(measured(), &home);
    (folder, home.join("small.platebench"))
}

fn copy_folder(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let (path, name) = {
            let entry = entry.unwrap();
            (entry.path(), entry.file_name())
        };
        if path.is_dir() {
            copy_folder(&path, &to.join(name));
        } else {
            std::fs::copy(&path, to.join(name)).unwrap();
        }
    }
}

/// Runs the program with the user's folders under `store`.
fn run(store: &Path, words: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_platebench"));
    command
        .args(words)
        .args(["--json", "--quiet", "--progress", "never"]);
    for what in ["CONFIG", "STATE", "CACHE", "DATA"] {
        command.env(format!("PLATEBENCH_{what}_DIR"), store.join(what));
    }
    command.output().unwrap()
}

fn json(output: &Output) -> Value {
    serde_json::from_slice(&output.stdout)
        .unwrap_or_else(|_none| panic!("no answer: {}", String::from_utf8_lossy(&output.stderr)))
}

fn code(output: &Output) -> i32 {
    output.status.code().unwrap()
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

fn build(store: &Path, project: &Path, more: &[&str]) -> (String, Value) {
    let output = project.with_file_name("out.png");
    let words = [&["build", text(project), "-o", text(&output)], more].concat();
    let answer = json(&run(store, &words));
    (answer["pixels"].as_str().unwrap().to_owned(), answer)
}

#[test]
fn threads_tiles_stores_and_places_do_not_matter() {
    let (folder, project) = scene();
    let cold = || tempfile::tempdir().unwrap();
    let store = cold();
    let (first, _) = build(store.path(), &project, &["--threads", "1"]);
    println!("{first}");
    let (warm, answer) = build(store.path(), &project, &["--threads", "2"]);
    assert_eq!(warm, first, "warm store");
    let plates = answer["plates"].as_array().unwrap();
    let reused = plates
        .iter()
        .map(|plate| plate["steps_reused"].as_u64().unwrap())
        .sum::<u64>();
    assert!(reused > 0, "the warm store was used: {plates:?}");
    for (threads, side) in [("7", "256"), ("2", "128"), ("1", "512"), ("7", "512")] {
        let words = ["--threads", threads, "--tile-side", side];
        assert_eq!(build(cold().path(), &project, &words).0, first, "{words:?}");
    }
    let small = build(
        cold().path(),
        &project,
        &["--scale", "1/2", "--threads", "7"],
    )
    .0;
    let same = build(
        cold().path(),
        &project,
        &["--scale", "1/2", "--tile-side", "128"],
    )
    .0;
    assert_eq!(small, same, "half size");

    let elsewhere = tempfile::tempdir().unwrap();
    let packed = elsewhere.path().join("packed");
    let answer = json(&run(
        store.path(),
        &["pack", text(&project), "-o", text(&packed)],
    ));
    assert!(
        answer["files"] == 50,
        "47 photos, project, picture, receipt: {answer}"
    );
    drop(folder);
    let there = packed.join("small.platebench");
    assert_eq!(
        build(cold().path(), &there, &["--threads", "2"]).0,
        first,
        "packed and unpacked"
    );
    let verified = run(cold().path(), &["verify", text(&there)]);
    let answer = json(&verified);
    assert_eq!(code(&verified), 0, "{answer}");
    assert_eq!(answer["rebuild"], "same", "{answer}");
    assert_eq!(answer["picture"], "same", "{answer}");
}

/// A watch that sees which threads compute whole pictures.
#[derive(Default)]
struct Threads {
    of_the_pool: Mutex<BTreeSet<String>>,
    glare_seen: AtomicBool,
}

impl Watch for Threads {
    fn progress(&self, stage: &str, _done: usize, _total: usize) {
        if rayon::current_thread_index().is_some() {
            self.of_the_pool.lock().unwrap().insert(stage.to_owned());
        }
        if stage == "glare" {
            self.glare_seen.store(true, Ordering::Relaxed);
        }
    }

    fn cancelled(&self) -> bool {
        false
    }
}

/// A job of the thread pool that waited for a whole picture could hold up the very thread that computes it, for ever.
#[test]
fn no_thread_of_the_pool_waits_for_a_whole_picture() {
    let (folder, project) = scene();
    let settings = small_scene::settings();
    let mut session = Session::open(&project, &settings).unwrap();
    let request = BuildRequest {
        output: folder.path().join("out.png"),
        level: 1,
        bits: None,
    };
    let threads = Threads::default();
    session.build(&request, &threads).unwrap();
    assert!(
        threads.glare_seen.load(Ordering::Relaxed),
        "the scene has glare"
    );
    let of_the_pool = threads.of_the_pool.lock().unwrap();
    assert!(of_the_pool.is_empty(), "{of_the_pool:?}");
}

/// The photo, as the project names it, that the checks below hurt.
const HURT: &str = "photos/ice/ice_1.jpg";

fn states(answer: &Value) -> Vec<(String, String)> {
    let word = |value: &Value| value.as_str().unwrap().to_owned();
    let sources = answer["sources"].as_array().unwrap().iter();
    sources
        .map(|source| (word(&source["file"]), word(&source["state"])))
        .filter(|(_, state)| state != "same")
        .collect()
}

#[test]
fn altered_exchanged_and_missing_photos_are_named_and_not_built_from() {
    let store = tempfile::tempdir().unwrap();
    let (_folder, project) = scene();
    let (honest, _) = build(store.path(), &project, &[]);
    let at = |name: &str| project.with_file_name(name);
    let output = project.with_file_name("other.png");
    let words = ["build", text(&project), "-o", text(&output)];

    // Altered: the pixels would come from the warm store, and are refused all the same.
    let whole = std::fs::read(at(HURT)).unwrap();
    small_scene::shrink_photo(
        &small_scene::demo().join("photos/ice/ice_2.jpg"),
        &at("new.jpg"),
    );
    let mut other = std::fs::read(at("new.jpg")).unwrap();
    other.push(0);
    std::fs::write(at(HURT), &other).unwrap();
    let refused = run(store.path(), &words);
    let said = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert_eq!(code(&refused), 1, "{said}");
    assert!(said.contains("ice_1.jpg") && !output.exists(), "{said}");
    let verified = run(store.path(), &["verify", text(&project)]);
    let answer = json(&verified);
    assert_eq!(code(&verified), 3, "{answer}");
    assert_eq!(states(&answer), [(HURT.to_owned(), "changed".to_owned())]);
    assert_eq!(answer["rebuild"], "not run", "{answer}");
    let allowed = run(store.path(), &[&words[..], &["--allow-changed"]].concat());
    assert_ne!(
        json(&allowed)["pixels"].as_str().unwrap(),
        honest,
        "another photo, another picture"
    );
    let receipt = std::fs::read(project.with_file_name("other.png.receipt.json")).unwrap();
    let receipt: Value = serde_json::from_slice(&receipt).unwrap();
    assert_eq!(receipt["changed_sources"], serde_json::json!([HURT]));
    let marked = project.with_file_name("other.png.receipt.json");
    let proved = run(
        store.path(),
        &["verify", text(&project), "--receipt", text(&marked)],
    );
    assert_eq!(
        json(&proved)["rebuild"],
        "same",
        "what was built then can be built again"
    );
    assert_eq!(code(&proved), 3, "and the photo is still another one");

    // Exchanged: two photos under each other's names.
    let second = std::fs::read(at("photos/ice/ice_2.jpg")).unwrap();
    std::fs::write(at(HURT), &second).unwrap();
    std::fs::write(at("photos/ice/ice_2.jpg"), &whole).unwrap();
    let answer = json(&run(store.path(), &["verify", text(&project)]));
    assert_eq!(states(&answer).len(), 2, "{answer}");
    assert!(
        answer
            .to_string()
            .contains("it holds the picture that was photos/ice/ice_2.jpg"),
        "{answer}"
    );
    std::fs::write(at("photos/ice/ice_2.jpg"), &second).unwrap();

    // Cut short, and gone for good.
    std::fs::write(at(HURT), &whole[..whole.len() / 2]).unwrap();
    assert_eq!(
        states(&json(&run(store.path(), &["verify", text(&project)])))[0].1,
        "changed"
    );
    std::fs::remove_file(at(HURT)).unwrap();
    let verified = run(store.path(), &["verify", text(&project)]);
    assert_eq!(
        states(&json(&verified)),
        [(HURT.to_owned(), "missing".to_owned())]
    );
    assert_eq!(code(&verified), 3);
    assert_eq!(code(&run(store.path(), &words)), 1, "nothing to build from");
    let packed = project.with_file_name("packed");
    assert_eq!(
        code(&run(
            store.path(),
            &["pack", text(&project), "-o", text(&packed)]
        )),
        1
    );
    assert!(!packed.exists(), "and no half pack");

    // Renamed beside its siblings, with others moved elsewhere: found by content.
    std::fs::write(at("photos/ice/renamed.jpg"), &whole).unwrap();
    let moved = tempfile::tempdir().unwrap();
    std::fs::rename(at("photos/tug"), moved.path().join("tug")).unwrap();
    let relinked = run(
        store.path(),
        &["relink", text(&project), "--in", text(moved.path())],
    );
    let answer = json(&relinked);
    assert!(
        answer["found"].as_u64().unwrap() >= 6,
        "the whole folder: {answer}"
    );
    assert_eq!(answer["missing"], serde_json::json!([HURT]), "{answer}");
    assert_eq!(
        build(store.path(), &project, &[]).0,
        honest,
        "and the renamed one was found beside"
    );
}

#[test]
fn a_changed_scene_or_picture_is_told_from_its_receipt() {
    let store = tempfile::tempdir().unwrap();
    let (_folder, project) = scene();
    let verify = || {
        let output = run(store.path(), &["verify", text(&project)]);
        (code(&output), json(&output))
    };
    let (ended, answer) = verify();
    assert_eq!(
        (ended, &answer["rebuild"]),
        (0, &Value::from("not run")),
        "no receipt yet"
    );
    build(store.path(), &project, &[]);

    // The scene goes on; the receipt's state is in the history.
    let mut session = Session::open(&project, &small_scene::settings()).unwrap();
    let finish = platebench::project::Finish {
        exposure_stops: 0.7,
        ..session.project().finish
    };
    session
        .record(platebench::project::Edit::SetFinish(finish))
        .unwrap();
    session.save(None).unwrap();
    drop(session);
    let (ended, answer) = verify();
    assert_eq!(
        (ended, &answer["rebuild"]),
        (0, &Value::from("same")),
        "{answer}"
    );

    // Another pixel in the finished picture.
    let picture = project.with_file_name("out.png");
    let photo =
        platebench::files::photo::open(&picture, &platebench::files::Limits::default()).unwrap();
    let platebench::pixels::Numbers::U16(mut data) = photo.samples.numbers else {
        panic!("16 bits were written");
    };
    data[1000] ^= 1;
    let hurt = platebench::files::output::Picture {
        size: photo.samples.size,
        pixels: platebench::files::output::Pixels::U16 { channels: 3, data },
    };
    let options = platebench::files::output::WriteOptions::new(
        16,
        platebench::files::output::OutputColour::Srgb,
    );
    platebench::files::output::write(&picture, &hurt, &options).unwrap();
    let (ended, answer) = verify();
    assert_eq!(
        (ended, &answer["picture"]),
        (3, &Value::from("differs")),
        "{answer}"
    );

    // A receipt that claims other pixels.
    let receipt = project.with_file_name("out.png.receipt.json");
    let claimed = std::fs::read_to_string(&receipt).unwrap();
    let at = claimed.rfind("blake3:").unwrap() + 7;
    let digit = if claimed[at..].starts_with('0') {
        "1"
    } else {
        "0"
    };
    std::fs::write(
        &receipt,
        format!("{}{digit}{}", &claimed[..at], &claimed[at + 1..]),
    )
    .unwrap();
    let (ended, answer) = verify();
    assert_eq!(
        (ended, &answer["rebuild"]),
        (3, &Value::from("differs")),
        "{answer}"
    );
}
