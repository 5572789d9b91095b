//! Journals: text files in the user's state folder that grow line by line while a project is open.
//!
//! A journal is locked by the process that writes it. One that can be locked belongs to a process that ended without saying
//! goodbye: its work is to be offered back.

use crate::files::{FileError, faults, folders};
use std::fs::{File, OpenOptions};
use std::io::{Read as _, Write as _};
use std::path::{Path, PathBuf};

/// The largest journal that is read back, in bytes.
const LARGEST: u64 = 1 << 30;

/// A journal being written.
#[derive(Debug)]
pub struct JournalFile {
    path: PathBuf,
    file: File,
}

impl JournalFile {
    /// Begins a journal in `folder` and locks it.
    ///
    /// # Errors
    /// When the folder cannot be written.
    pub fn begin(folder: &Path) -> Result<Self, FileError> {
        folders::make_folder(folder)?;
        for attempt in 0..1000 {
            let name = format!(
                "{}-{}-{attempt}.journal",
                crate::files::clock::now_text().replace(':', ""),
                std::process::id()
            );
            let path = folder.join(name);
            let opened = faults::check()
                .and_then(|()| OpenOptions::new().create_new(true).append(true).open(&path));
            match opened {
                Ok(file) => {
                    file.try_lock()
                        .map_err(|error| FileError::writing(&path, &error.into()))?;
                    crate::files::atomic_write::sync_folder(folder);
                    return Ok(Self { path, file });
                }
                Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => {}
                Err(error) => return Err(FileError::writing(&path, &error)),
            }
        }
        Err(FileError::writing(
            folder,
            &std::io::Error::other("too many journals in this folder"),
        ))
    }

    /// Adds a line and has it written to the disc.
    ///
    /// # Errors
    /// When the disc is full or gone.
    pub fn append(&mut self, line: &str) -> Result<(), FileError> {
        let mut whole = String::with_capacity(line.len() + 1);
        whole.push_str(line);
        whole.push('\n');
        let written = faults::Faulty(&mut self.file)
            .write_all(whole.as_bytes())
            .and_then(|()| self.file.sync_data());
        written.map_err(|error| FileError::writing(&self.path, &error))
    }

    /// Where it lies.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Takes the journal away: its work is saved or given up.
    pub fn remove(self) {
        remove(&self.path);
    }
}

/// Journals whose process ended without saying goodbye, oldest first, with their text.
#[must_use]
pub fn left_behind() -> Vec<(PathBuf, String)> {
    let Some(entries) = folder_of_user()
        .ok()
        .and_then(|folder| std::fs::read_dir(folder).ok())
    else {
        return Vec::new();
    };
    let mut paths: Vec<PathBuf> = entries
        .filter_map(|entry| entry.ok().map(|entry| entry.path()))
        .filter(|path| path.extension().is_some_and(|ending| ending == "journal"))
        .collect();
    paths.sort();
    paths
        .into_iter()
        .filter_map(|path| read_unlocked(&path).map(|text| (path, text)))
        .collect()
}

/// Takes a journal that was left behind away.
pub fn remove(path: &Path) {
    // It is offered again at the next start if this fails, which loses nothing.
    drop(std::fs::remove_file(path));
}

/// Where the user's journals are.
///
/// # Errors
/// When the system names no home folder.
pub fn folder_of_user() -> Result<PathBuf, FileError> {
    Ok(folders::Folders::of_user()?.state.join("journals"))
}

fn read_unlocked(path: &Path) -> Option<String> {
    let file = File::open(path).ok()?;
    file.try_lock().ok()?;
    let mut bytes = Vec::new();
    file.take(LARGEST).read_to_end(&mut bytes).ok()?;
    Some(String::from_utf8_lossy(&bytes).into_owned())
}
