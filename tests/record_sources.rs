//! Copies that are compared, locks between two windows, backups, named states: what keeps work from being lost by mistake.
#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "a test may stop at once and looks at what was written"
)]

use platebench::geometry::Size;
use platebench::project::{Edit, NamedState, Project};
use platebench::session::{Command, NoWatch, Session, Settings, backup_of};
use std::path::{Path, PathBuf};

fn settings() -> Settings {
    Settings {
        scratch_bytes: 0,
        ..Settings::for_memory(64 << 20)
    }
}

fn named(folder: &Path, name: &str) -> Session {
    let project = Project::new(name, Size::new(64, 48));
    Session::new(project, folder, &settings())
}

fn name(session: &mut Session, name: &str) {
    session
        .run(Command::Edit(Edit::NameScene(name.to_owned())))
        .unwrap();
}

#[test]
fn photos_are_copied_in_twice_compared_and_never_replaced() {
    let (card, home, second) = (
        tempfile::tempdir().unwrap(),
        tempfile::tempdir().unwrap(),
        tempfile::tempdir().unwrap(),
    );
    let photos: Vec<PathBuf> = ["first", "again"]
        .iter()
        .map(|folder| {
            let folder = card.path().join(folder);
            std::fs::create_dir(&folder).unwrap();
            let photo = folder.join("0001.jpg");
            std::fs::write(&photo, folder.to_str().unwrap()).unwrap();
            photo
        })
        .collect();
    let session = named(home.path(), "scene");
    let copy = |to: Option<&Path>| session.copy_in(&photos, to, &NoWatch);
    let copies = copy(Some(second.path())).unwrap();
    for (photo, copied) in photos.iter().zip(&copies) {
        let bytes = std::fs::read(photo).unwrap();
        assert!(
            copied.starts_with(home.path().canonicalize().unwrap()),
            "{}",
            copied.display()
        );
        assert_eq!(std::fs::read(copied).unwrap(), bytes);
        let below = copied
            .strip_prefix(home.path().canonicalize().unwrap().join("photos"))
            .unwrap();
        assert_eq!(std::fs::read(second.path().join(below)).unwrap(), bytes);
    }
    assert_ne!(copies[0], copies[1], "two photos of one name stay apart");
    assert_eq!(
        copy(None).unwrap(),
        copies,
        "what is there already is taken as it is"
    );
    std::fs::write(&copies[0], "another picture").unwrap();
    let refused = copy(None).unwrap_err().to_string();
    assert!(refused.contains("never replaced"), "{refused}");
    assert_eq!(std::fs::read(&copies[0]).unwrap(), b"another picture");
}

#[test]
fn two_windows_do_not_write_one_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("scene.platebench");
    named(folder.path(), "first").save(Some(&path)).unwrap();
    let mut one = Session::open(&path, &settings()).unwrap();
    one.hold(&path).unwrap();
    let mut other = Session::open(&path, &settings()).unwrap();
    name(&mut other, "other");
    let refused = other.save(None).unwrap_err().to_string();
    assert!(refused.contains("another window"), "{refused}");
    name(&mut one, "one");
    one.save(None).unwrap();
    let elsewhere = folder.path().join("other.platebench");
    other.save(Some(&elsewhere)).unwrap();
    assert_eq!(
        Session::open(&elsewhere, &settings())
            .unwrap()
            .project()
            .name,
        "other"
    );
    drop(one);
    other.save(Some(&path)).unwrap();
    assert_eq!(
        Session::open(&path, &settings()).unwrap().project().name,
        "other"
    );
}

#[test]
fn the_file_before_the_last_save_can_be_opened() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("scene.platebench");
    let mut session = named(folder.path(), "first");
    session.save(Some(&path)).unwrap();
    name(&mut session, "second");
    session.save(None).unwrap();
    std::fs::write(&path, "{ \"format\": \"plateb").unwrap();
    let damaged = Session::open(&path, &settings()).unwrap_err().to_string();
    assert!(damaged.contains("scene.platebench.before"), "{damaged}");
    let mut before = Session::open(&backup_of(&path), &settings()).unwrap();
    assert_eq!(
        (before.project().name.as_str(), before.is_saved()),
        ("first", false)
    );
    assert_eq!(before.notes.len(), 1, "{:?}", before.notes);
    before.save(None).unwrap();
    assert_eq!(
        Session::open(&path, &settings()).unwrap().project().name,
        "first"
    );
}

#[test]
fn states_are_named_saved_and_gone_back_to() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("scene.platebench");
    let mut session = named(folder.path(), "first");
    name(&mut session, "for print");
    let state = |name: &str, session: &Session| NamedState {
        name: name.to_owned(),
        revision: session.history().now(),
    };
    let print = state("print", &session);
    session.save(Some(&path)).unwrap();
    session.run(Command::NameState(print)).unwrap();
    assert!(!session.is_saved(), "a name is work too");
    name(&mut session, "for screen");
    session.run(Command::Undo).unwrap();
    name(&mut session, "for a wall");
    let wall = state("wall", &session);
    session.run(Command::NameState(wall)).unwrap();
    session.save(None).unwrap();
    let mut again = Session::open(&path, &settings()).unwrap();
    assert!(again.is_saved(), "as it was written");
    for (called, name) in [("print", "for print"), ("wall", "for a wall")] {
        let revision = again.state_called(called).unwrap().revision;
        again.run(Command::GoTo(revision)).unwrap();
        assert_eq!(again.project().name, name);
    }
    let missing = again.state_called("screen").unwrap_err().to_string();
    assert!(missing.contains("print, wall"), "{missing}");
    again.run(Command::ForgetName("print".to_owned())).unwrap();
    assert_eq!(again.history().named().len(), 1);
}

#[test]
fn a_state_in_a_file_that_does_not_hold_together_is_not_gone_to() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("scene.platebench");
    let mut session = named(folder.path(), "first");
    let huge = platebench::project::Canvas {
        size: Size::new(u32::MAX, u32::MAX),
        pixels_per_inch: 300.0,
    };
    session.record(Edit::SetCanvas(huge)).unwrap();
    let sound = platebench::project::Canvas {
        size: Size::new(20, 20),
        ..huge
    };
    session.record(Edit::SetCanvas(sound)).unwrap();
    session.save(Some(&path)).unwrap();
    let mut again = Session::open(&path, &settings()).unwrap();
    let now = again.history().now();
    let refused = again.run(Command::Undo).unwrap_err().to_string();
    assert!(refused.contains("does not hold together"), "{refused}");
    assert_eq!(again.history().now(), now);
}
