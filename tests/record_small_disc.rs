//! A disc that really is full: a small file system in memory, mounted for the test. Needs the right to mount, so it is not
//! part of the plain run: `cargo test --release --test record_small_disc -- --ignored`.
#![expect(
    clippy::too_many_lines,
    clippy::print_stdout,
    clippy::disallowed_methods,
    reason = "a test may stop at once, starts processes and reads what they left"
)]

use platebench::geometry::Point;
use platebench::project::{Edit, MaskPart, PartId, PlateEdit, Shape, Sign};
use platebench::session::{Command, Session, Settings, backup_of};
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process;
use std::sync::Arc;

/// Tells the process that this test starts where the small disc is.
const DISC: &str = "PLATEBENCH_SMALL_DISC";

fn settings() -> Settings {
    Settings {
        scratch_bytes: 0,
        ..Settings::for_memory(64 << 20)
    }
}

#[test]
#[ignore = "needs the right to mount"]
fn a_disc_that_is_full_loses_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let disc = folder.path().join("disc");
    std::fs::create_dir(&disc).unwrap();
    let mount = |words: &[&str]| {
        process::Command::new(words[0])
            .args(&words[1..])
            .status()
            .unwrap()
    };
    let place = disc.to_str().unwrap();
    let mounted = mount(&["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", place]);
    assert!(mounted.success(), "this test needs the right to mount");
    let outcome = process::Command::new(std::env::current_exe().unwrap())
        .args(["fills_the_disc", "--exact", "--ignored", "--nocapture"])
        .env(DISC, &disc)
        .env("PLATEBENCH_STATE_DIR", disc.join("state"))
        .status();
    assert!(
        mount(&["umount", place]).success(),
        "{place} is still mounted"
    );
    assert!(outcome.unwrap().success(), "see what it said");
}

#[test]
#[ignore = "started by the test above"]
fn fills_the_disc() {
    let Some(disc) = std::env::var_os(DISC).map(PathBuf::from) else {
        return;
    };
    let demo = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("demo_scenes/ice_shift/scene/ice_shift.platebench");
    let project = disc.join("scene.platebench");
    std::fs::copy(demo, &project).unwrap();
    let mut session = Session::open(&project, &settings()).unwrap();
    session.begin_journal().unwrap();
    let (mut saved, mut said) = (0, None);
    for number in 0..2000_u32 {
        let plate = &session.project().plates[0];
        let points = (0_u32..40).map(|at| Point::new(f64::from(at) * 3.1, f64::from(number)));
        let stroke = MaskPart {
            id: PartId(session.next_id()),
            sign: Sign::Add,
            strength: 1.0,
            on: true,
            shape: Shape::Stroke {
                points: points.collect(),
                radius_px: 8.0,
                softness: 0.5,
                pressure: Vec::new(),
            },
        };
        let drawn = PlateEdit::AddPart(plate.masks[0].id, Arc::new(stroke));
        let edit = Edit::Plate(plate.id, drawn);
        session.run(Command::Edit(edit)).unwrap();
        match session.run(Command::Save(None)) {
            Ok(()) => saved = session.history().revisions().len(),
            Err(error) => {
                said = Some(error.to_string());
                break;
            }
        }
    }
    let said = said.unwrap();
    println!("after {saved} edits: {said}");
    assert!(said.contains("the disc is full"), "{said}");
    let on_disc = Session::open(&project, &settings()).unwrap();
    assert_eq!(
        on_disc.history().revisions().len(),
        saved,
        "the old file is whole"
    );
    Session::open(&backup_of(&project), &settings()).unwrap();
    // Not a byte is left: the journal says so, and the work goes on.
    let filler = disc.join("filler");
    let mut rest = std::fs::File::create(&filler).unwrap();
    while rest.write_all(&[0; 512]).is_ok() {}
    while session.journal_fault().is_none() {
        session
            .run(Command::Edit(Edit::NameScene("x".repeat(500))))
            .unwrap();
    }
    println!("the journal: {}", session.journal_fault().unwrap());
    session
        .run(Command::Edit(Edit::NameScene("the last".to_owned())))
        .unwrap();
    let elsewhere = tempfile::tempdir().unwrap();
    let there = elsewhere.path().join("scene.platebench");
    session.run(Command::Save(Some(there.clone()))).unwrap();
    assert_eq!(
        Session::open(&there, &settings()).unwrap().project().name,
        "the last"
    );
    // Room again: the journal begins anew and holds everything.
    for file in [filler, backup_of(&project), project] {
        std::fs::remove_file(file).unwrap();
    }
    session
        .run(Command::Edit(Edit::NameScene("room again".to_owned())))
        .unwrap();
    assert_eq!(session.journal_fault(), None);
    let count = session.history().revisions().len();
    drop(session);
    let left = Session::left_behind();
    let taken = Session::take_up(&left.last().unwrap().journal, &settings()).unwrap();
    assert_eq!(taken.project().name, "room again");
    assert_eq!(taken.history().revisions().len(), count);
}
