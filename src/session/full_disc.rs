//! Checks: whatever moment the disc is full at, the old file is whole, the work is in memory, and it can be saved elsewhere.
#![expect(
    clippy::disallowed_methods,
    reason = "checks look at what was left on the disc"
)]

use crate::files::faults::arranged::{self, full_after};
use crate::geometry::Size;
use crate::project::{Edit, Project};
use crate::session::{Command, Session, Settings, backup_of};
use std::path::Path;

fn settings() -> Settings {
    Settings {
        scratch_bytes: 0,
        ..Settings::for_memory(64 << 20)
    }
}

fn name(session: &mut Session, name: &str) {
    session
        .run(Command::Edit(Edit::NameScene(name.to_owned())))
        .unwrap();
}

fn opened(path: &Path) -> String {
    let session = Session::open(path, &settings()).unwrap();
    session.project().name.clone()
}

/// Names left in `folder` that are nobody's.
fn leavings(folder: &Path) -> Vec<String> {
    let names = std::fs::read_dir(folder).unwrap();
    names
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.ends_with(".part"))
        .collect()
}

#[test]
fn a_full_disc_at_any_write_of_a_save_loses_nothing() {
    let mut moments = 0;
    loop {
        let folder = arranged::folder();
        let path = folder.path().join("scene.platebench");
        let mut session = Session::new(
            Project::new("first", Size::new(64, 48)),
            folder.path(),
            &settings(),
        );
        session.save(Some(&path)).unwrap();
        name(&mut session, "second");
        session.save(None).unwrap();
        name(&mut session, "third");
        let (saved, failed) = full_after(moments, || session.save(None));
        if !failed {
            saved.unwrap();
            assert_eq!(opened(&path), "third");
            break;
        }
        moments += 1;
        let said = saved.unwrap_err().to_string();
        assert!(said.contains("the disc is full"), "{said}");
        assert_eq!(opened(&path), "second", "the old file is whole");
        let before = opened(&backup_of(&path));
        assert!(
            before == "first" || before == "second",
            "so is the backup: {before}"
        );
        assert!(
            leavings(folder.path()).is_empty(),
            "and nothing half-written is left"
        );
        assert!(
            !session.is_saved() && session.project().name == "third",
            "the work is in memory"
        );
        let elsewhere = folder.path().join("elsewhere.platebench");
        session.save(Some(&elsewhere)).unwrap();
        assert_eq!(opened(&elsewhere), "third");
        session.save(Some(&path)).unwrap();
        assert_eq!(opened(&path), "third", "and in its own place again");
    }
    assert!(moments >= 4, "only {moments} places to fail at were met");
}

#[test]
fn a_full_disc_at_any_write_of_a_journal_is_said_and_the_journal_begins_again() {
    let mut moments = 0;
    loop {
        let folder = arranged::folder();
        let journals = folder.path().join("journals");
        let mut session = Session::new(
            Project::new("first", Size::new(64, 48)),
            folder.path(),
            &settings(),
        );
        let (begun, failed) = full_after(moments, || {
            let begun = session.begin_journal_in(journals.clone());
            name(&mut session, "second");
            name(&mut session, "third");
            begun
        });
        if !failed {
            begun.unwrap();
            break;
        }
        moments += 1;
        let fault = session.journal_fault().unwrap().to_owned();
        assert!(fault.contains("the disc is full"), "{fault}");
        assert_eq!(session.project().name, "third", "the work goes on");
        name(&mut session, "fourth");
        assert_eq!(session.journal_fault(), None, "there is room again");
        drop(session);
        let left: Vec<_> = std::fs::read_dir(&journals).unwrap().collect();
        assert_eq!(left.len(), 1, "one journal, a whole one");
        let journal = left.into_iter().next().unwrap().unwrap().path();
        let taken = Session::take_up(&journal, &settings()).unwrap();
        assert_eq!(taken.project().name, "fourth");
        assert_eq!(taken.history().revisions().len(), 3);
    }
    assert!(moments >= 3, "only {moments} places to fail at were met");
}
