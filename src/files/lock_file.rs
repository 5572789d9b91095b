//! One window on one project: a lock file beside the project file, held by the process that works on it.
//!
//! The system lets go of the lock when that process ends, however it ends, so a lock that a crash left behind is taken over.

use crate::files::clock;
use std::fs::{File, OpenOptions};
use std::io::{Read as _, Seek as _, Write as _};
use std::path::{Path, PathBuf};

/// A lock that is held until it is dropped.
#[derive(Debug)]
pub struct ProjectLock {
    path: PathBuf,
    /// Kept open: closing it lets go of the lock.
    _file: File,
}

/// What came of asking for the lock.
#[derive(Debug)]
pub enum Asked {
    /// It is ours now.
    Ours(ProjectLock),
    /// Another process works on the project; who, in words.
    Theirs(String),
    /// Nothing can be locked here: the folder may not be written to, or its file system has no locks.
    NoLocks,
}

impl ProjectLock {
    /// Asks for the lock of the project file at `project`.
    #[must_use]
    pub fn ask(project: &Path) -> Asked {
        let project = crate::files::places::absolute(project);
        let Some(path) = place(&project) else {
            return Asked::NoLocks;
        };
        // A file that was taken away between opening and locking is not the one that others will look at.
        for _attempt in 0..100 {
            let opened = OpenOptions::new()
                .read(true)
                .write(true)
                .create(true)
                .truncate(false)
                .open(&path);
            let Ok(mut file) = opened else {
                return Asked::NoLocks;
            };
            match file.try_lock() {
                Err(std::fs::TryLockError::WouldBlock) => {
                    let mut who = String::new();
                    // Whoever it is may not have written it yet.
                    drop(file.take(200).read_to_string(&mut who));
                    return Asked::Theirs(who.trim().to_owned());
                }
                Err(std::fs::TryLockError::Error(_no_locks)) => return Asked::NoLocks,
                Ok(()) if is_at(&file, &path) => {
                    sign(&mut file);
                    return Asked::Ours(Self { path, _file: file });
                }
                Ok(()) => {}
            }
        }
        Asked::NoLocks
    }

    /// Whether this is the lock of the project file at `project`.
    #[must_use]
    pub fn is_of(&self, project: &Path) -> bool {
        place(&crate::files::places::absolute(project)).is_some_and(|place| place == self.path)
    }
}

impl Drop for ProjectLock {
    fn drop(&mut self) {
        // While the lock is still held, so that nobody else's file is taken away. Left behind, it does no harm.
        drop(std::fs::remove_file(&self.path));
    }
}

fn place(project: &Path) -> Option<PathBuf> {
    let name = project.file_name()?.to_string_lossy().into_owned();
    Some(project.with_file_name(format!(".{name}.lock")))
}

/// Says who holds it. Failing to costs nothing but the words.
fn sign(file: &mut File) {
    let who = format!(
        "process {} since {}\n",
        std::process::id(),
        clock::now_text()
    );
    drop(
        file.set_len(0)
            .and_then(|()| file.rewind())
            .and_then(|()| file.write_all(who.as_bytes())),
    );
}

#[cfg(unix)]
fn is_at(file: &File, path: &Path) -> bool {
    use std::os::unix::fs::MetadataExt as _;
    let same = |one: &std::fs::Metadata, other: &std::fs::Metadata| {
        (one.dev(), one.ino()) == (other.dev(), other.ino())
    };
    matches!((file.metadata(), std::fs::metadata(path)), (Ok(one), Ok(other)) if same(&one, &other))
}

#[cfg(not(unix))]
fn is_at(_file: &File, path: &Path) -> bool {
    path.exists()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lock_is_held_once_let_go_of_and_taken_over() {
        let folder = tempfile::tempdir().unwrap();
        let project = folder.path().join("a.platebench");
        let Asked::Ours(held) = ProjectLock::ask(&project) else {
            panic!("nobody holds it");
        };
        assert!(held.is_of(&project), "of this project");
        let Asked::Theirs(who) = ProjectLock::ask(&project) else {
            panic!("it is held");
        };
        assert!(who.contains(&std::process::id().to_string()), "{who}");
        drop(held);
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
        // What a crash leaves: the file, and nobody who holds it.
        std::fs::write(folder.path().join(".a.platebench.lock"), "process 1").unwrap();
        assert!(
            matches!(ProjectLock::ask(&project), Asked::Ours(_)),
            "taken over"
        );
        let nowhere = Path::new("/proc/a.platebench");
        assert!(
            matches!(ProjectLock::ask(nowhere), Asked::NoLocks),
            "no place"
        );
    }
}
