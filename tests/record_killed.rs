//! Killed at any moment, nothing is lost: a process that edits and saves is killed, and another one takes the work up.
//!
//! `PLATEBENCH_KILLS=200 cargo test --release --test record_killed` kills two hundred times; without it twenty.
#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::disallowed_methods,
    reason = "a test may stop at once, starts processes and talks to them"
)]

use platebench::geometry::Point;
use platebench::project::{Edit, MaskPart, PartId, PlateEdit, Shape, Sign};
use platebench::session::{Command, Session, Settings, backup_of};
use std::io::{BufRead as _, BufReader, Write as _};
use std::path::{Path, PathBuf};
use std::process::{self, Child, Stdio};
use std::time::Duration;

/// Tells the processes that this test starts where to work.
const PLACE: &str = "PLATEBENCH_KILL_PLACE";
/// Edits between two saves.
const SAVE_EVERY: usize = 7;

fn settings() -> Settings {
    Settings {
        scratch_bytes: 0,
        ..Settings::for_memory(64 << 20)
    }
}

fn project_in(place: &Path) -> PathBuf {
    place.join("scene.platebench")
}

fn start(what: &str, place: &Path) -> Child {
    process::Command::new(std::env::current_exe().unwrap())
        .args([
            what,
            "--exact",
            "--ignored",
            "--nocapture",
            "--test-threads=1",
        ])
        .env(PLACE, place)
        .env("PLATEBENCH_STATE_DIR", place.join("state"))
        .env("PLATEBENCH_CACHE_DIR", place.join("cache"))
        .env("PLATEBENCH_CONFIG_DIR", place.join("config"))
        .env("PLATEBENCH_DATA_DIR", place.join("data"))
        .stdout(Stdio::piped())
        .spawn()
        .unwrap()
}

/// How many numbered edits the history holds, none left out.
fn numbered(session: &Session) -> usize {
    let mut count = 0;
    for revision in session.history().revisions() {
        if let Edit::NameScene(name) = &revision.edit
            && let Some(number) = name.strip_prefix("edit ")
        {
            assert_eq!(
                number.parse::<usize>().unwrap(),
                count,
                "an edit is missing"
            );
            count += 1;
        }
    }
    count
}

#[test]
#[ignore = "started, and killed, by the test below"]
fn edits_and_saves() {
    let Some(place) = std::env::var_os(PLACE).map(PathBuf::from) else {
        return;
    };
    let mut session = Session::open(&project_in(&place), &settings()).unwrap();
    session.begin_journal().unwrap();
    assert!(session.notes.is_empty(), "{:?}", session.notes);
    let plate = session.project().plates[0].id;
    let mask = session.project().plates[0].masks[0].id;
    let first = numbered(&session);
    for number in first.. {
        session
            .run(Command::Edit(Edit::NameScene(format!("edit {number}"))))
            .unwrap();
        println!("made {number}");
        let stroke = MaskPart {
            id: PartId(session.next_id()),
            sign: Sign::Add,
            strength: 1.0,
            on: true,
            shape: Shape::Stroke {
                points: (0_u32..20)
                    .map(|at| Point::new(f64::from(at) * 3.0, 40.0))
                    .collect(),
                radius_px: 8.0,
                softness: 0.5,
                pressure: Vec::new(),
            },
        };
        let drawn = PlateEdit::AddPart(mask, std::sync::Arc::new(stroke));
        session
            .run(Command::Edit(Edit::Plate(plate, drawn)))
            .unwrap();
        if number % 3 == 0 {
            session.run(Command::Undo).unwrap();
        }
        if number % SAVE_EVERY == 0 {
            session.run(Command::Save(None)).unwrap();
        }
    }
}

#[test]
#[ignore = "started by the test below"]
fn takes_the_work_up() {
    let Some(place) = std::env::var_os(PLACE).map(PathBuf::from) else {
        return;
    };
    let project = project_in(&place);
    let on_disc = Session::open(&project, &settings()).unwrap();
    assert!(
        on_disc.notes.is_empty(),
        "the project file is sound: {:?}",
        on_disc.notes
    );
    if backup_of(&project).exists() {
        Session::open(&backup_of(&project), &settings()).unwrap();
    }
    let left = Session::left_behind();
    assert!(left.len() <= 1, "one process was killed: {left:?}");
    let mut session = match left.first() {
        Some(left) => Session::take_up(&left.journal, &settings()).unwrap(),
        None => on_disc,
    };
    session.begin_journal().unwrap();
    assert!(
        session.notes.is_empty(),
        "the dead process holds nothing: {:?}",
        session.notes
    );
    if let Some(left) = left.first() {
        Session::give_up(&left.journal);
    }
    session.save(None).unwrap();
    session.end_journal();
    println!("holds {}", numbered(&session));
}

/// The numbers behind `word` in what a process said.
fn said(output: impl std::io::Read, word: &str) -> Vec<usize> {
    BufReader::new(output)
        .lines()
        .map_while(Result::ok)
        .filter_map(|line| line.split(word).nth(1)?.trim().parse().ok())
        .collect()
}

#[test]
fn whatever_the_moment_of_the_kill_every_edit_made_is_there_again() {
    let kills: usize = std::env::var("PLATEBENCH_KILLS")
        .ok()
        .map_or(20, |count| count.parse().unwrap());
    let demo = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("demo_scenes/ice_shift/scene/ice_shift.platebench");
    let mut place = tempfile::tempdir().unwrap();
    let mut made_in_all = 0;
    // Only the moments are drawn; what happens at each is the system's.
    let mut drawn: u64 = 2026;
    for kill in 0..kills {
        if kill % 10 == 0 {
            place = tempfile::tempdir().unwrap();
            std::fs::copy(&demo, project_in(place.path())).unwrap();
        }
        let mut child = start("edits_and_saves", place.path());
        drawn = drawn
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        std::thread::sleep(Duration::from_millis(40 + (drawn >> 33) % 260));
        child.kill().unwrap();
        let status = child.wait().unwrap();
        assert!(!status.success(), "it was killed in the middle of its work");
        let made = said(child.stdout.take().unwrap(), "made ");
        let mut after = start("takes_the_work_up", place.path());
        let output = after.stdout.take().unwrap();
        let holds = said(output, "holds ");
        assert!(
            after.wait().unwrap().success(),
            "kill {kill}: the work could not be taken up"
        );
        let [holds] = holds.as_slice() else {
            panic!("kill {kill}: no answer");
        };
        let last = made.last().map_or(0, |last| last + 1);
        assert!(
            *holds >= last,
            "kill {kill}: {last} edits were made and {holds} are there"
        );
        made_in_all += made.len();
    }
    assert!(
        made_in_all > kills,
        "the kills came too early to prove anything"
    );
    println!("{kills} kills, {made_in_all} edits made meanwhile, all there again");
    std::io::stdout().flush().unwrap();
}
