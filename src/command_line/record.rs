//! The calls that look after the record: verify, pack, relink, swap.

use super::progress::Progress;
use super::words::Common;
use super::{Ended, answers};
use crate::project::NamedState;
use crate::session::{Command, Session, SessionError, Settings, photos_at};
use std::path::{Path, PathBuf};

/// What a call runs with.
type With<'a> = (&'a Common, &'a Settings);

pub(super) fn verify(
    project: &Path,
    receipt: Option<&Path>,
    (common, settings): With<'_>,
) -> Result<Ended, SessionError> {
    let session = Session::open(project, settings)?;
    let progress = Progress::new(common);
    let report = session.verify(receipt, settings, &progress)?;
    progress.finish();
    answers::verified(&report, common);
    Ok(ended(usize::from(report.has_findings())))
}

pub(super) fn pack(
    project: &Path,
    folder: &Path,
    (common, settings): With<'_>,
) -> Result<Ended, SessionError> {
    let session = Session::open(project, settings)?;
    let progress = Progress::new(common);
    let report = session.pack(folder, &progress)?;
    progress.finish();
    answers::packed(&report, common);
    Ok(Ended::Done)
}

pub(super) fn relink(
    project: &Path,
    folder: &Path,
    (common, settings): With<'_>,
) -> Result<Ended, SessionError> {
    let mut session = Session::open(project, settings)?;
    session.hold(project)?;
    let (found, missing) = session.relink(folder)?;
    if found > 0 {
        session.save(None)?;
    }
    answers::relinked(found, &missing, common);
    Ok(ended(missing.len()))
}

/// `copies`: whether the photos are copied into the project's folder, and to which second place.
pub(super) fn swap(
    project: &Path,
    (plate, frames): (&str, &[PathBuf]),
    copies: Option<Option<PathBuf>>,
    (common, settings): With<'_>,
) -> Result<Ended, SessionError> {
    let mut session = Session::open(project, settings)?;
    session.hold(project)?;
    let progress = Progress::new(common);
    let mut photos = photos_at(frames)?;
    if let Some(second) = copies {
        photos = session.copy_in(&photos, second.as_deref(), &progress)?;
    }
    let report = session.swap(plate, &photos, &progress)?;
    session.save(None)?;
    progress.finish();
    answers::swapped(&report, common);
    Ok(ended(report.needs_a_look.len()))
}

/// Lists the steps; names the state after step `at` (now without one), or takes a name away.
pub(super) fn steps(
    project: &Path,
    (name, at): (Option<String>, Option<u32>),
    forget: Option<String>,
    (common, settings): With<'_>,
) -> Result<Ended, SessionError> {
    let mut session = Session::open(project, settings)?;
    let changes = name.is_some() || forget.is_some();
    if changes {
        session.hold(project)?;
    }
    if let Some(name) = forget {
        session.state_called(&name)?;
        session.run(Command::ForgetName(name))?;
    }
    if let Some(name) = name {
        let revision = match at {
            Some(number) => session.step_number(number)?,
            None => session.history().now(),
        };
        session.run(Command::NameState(NamedState { name, revision }))?;
    }
    if changes {
        session.save(None)?;
    }
    answers::steps(session.history(), common);
    Ok(Ended::Done)
}

/// Goes to a named state.
pub(super) fn go_to_state(session: &mut Session, name: &str) -> Result<(), SessionError> {
    let revision = session.state_called(name)?.revision;
    session.run(Command::GoTo(revision))
}

/// Takes changed photos as they are, and says which.
pub(super) fn allow_changed(session: &mut Session) -> Result<(), SessionError> {
    session.find_moved()?;
    for name in session.take_changed()? {
        eprintln!("note: {name} changed since; it is taken as it is now");
    }
    Ok(())
}

fn ended(findings: usize) -> Ended {
    match findings {
        0 => Ended::Done,
        _some => Ended::WithFindings,
    }
}
