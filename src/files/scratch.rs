//! A bounded store of tiles on disc. It may be deleted at any time; a damaged file counts as absent.

use crate::files::FileError;
use std::collections::BTreeMap;
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Bytes of the checksum at the head of each file.
const CHECK: usize = 16;

/// Tiles on disc, one file each, in 256 folders.
#[derive(Debug)]
pub struct DiscScratch {
    folder: PathBuf,
    bound: u64,
    inner: Mutex<Inner>,
}

#[derive(Debug, Default)]
struct Inner {
    /// Length and age of each file.
    files: BTreeMap<[u8; 16], (u64, u64)>,
    /// Which file is how old; the smallest number is the oldest.
    ages: BTreeMap<u64, [u8; 16]>,
    clock: u64,
    bytes: u64,
}

impl DiscScratch {
    /// Opens the store in `folder`, made if need be, and keeps it at or below `bound` bytes.
    ///
    /// # Errors
    /// When the folder cannot be made.
    pub fn open(folder: &Path, bound: u64) -> Result<Self, FileError> {
        fs::create_dir_all(folder).map_err(|error| FileError::writing(folder, &error))?;
        let mut found = Vec::new();
        for number in 0..=u8::MAX {
            let Ok(entries) = fs::read_dir(folder.join(format!("{number:02x}"))) else {
                continue;
            };
            for entry in entries.flatten() {
                let (Some(key), Ok(data)) = (
                    key_of(&entry.file_name().to_string_lossy()),
                    entry.metadata(),
                ) else {
                    continue;
                };
                found.push((data.modified().ok(), key, data.len()));
            }
        }
        found.sort();
        let mut inner = Inner::default();
        for (_changed, key, length) in found {
            inner.note(key, length);
        }
        let store = Self {
            folder: folder.to_owned(),
            bound,
            inner: Mutex::new(inner),
        };
        store.make_room();
        Ok(store)
    }

    /// What was kept under `key`, if it is there and whole.
    #[must_use]
    pub fn get(&self, key: [u8; 16]) -> Option<Vec<u8>> {
        let mut bytes = fs::read(self.path_of(key)).ok()?;
        let payload = bytes.split_off(CHECK.min(bytes.len()));
        if bytes != checksum(&payload) {
            return None;
        }
        let mut inner = self.lock();
        let length = u64::try_from(payload.len() + CHECK).unwrap_or(u64::MAX);
        inner.note(key, length);
        Some(payload)
    }

    /// Keeps `payload` under `key`. A full or missing disc is no error: the tile is made again when it is needed.
    pub fn put(&self, key: [u8; 16], payload: &[u8]) {
        let path = self.path_of(key);
        let Some(folder) = path.parent() else { return };
        let written = fs::create_dir_all(folder).and_then(|()| {
            let mut file = tempfile::NamedTempFile::new_in(folder)?;
            file.write_all(&checksum(payload))?;
            file.write_all(payload)?;
            file.persist(&path).map_err(|error| error.error)?;
            Ok(())
        });
        if written.is_ok() {
            self.lock().note(
                key,
                u64::try_from(payload.len() + CHECK).unwrap_or(u64::MAX),
            );
            self.make_room();
        }
    }

    fn make_room(&self) {
        let mut inner = self.lock();
        while inner.bytes > self.bound {
            let Some((_age, key)) = inner.ages.pop_first() else {
                break;
            };
            if let Some((length, _age)) = inner.files.remove(&key) {
                inner.bytes -= length;
            }
            // A file that cannot be removed is found again when the store is opened next.
            drop(fs::remove_file(self.path_of(key)));
        }
    }

    fn path_of(&self, key: [u8; 16]) -> PathBuf {
        let name: String = key.iter().map(|byte| format!("{byte:02x}")).collect();
        self.folder.join(&name[..2]).join(name)
    }

    fn lock(&self) -> MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Inner {
    fn note(&mut self, key: [u8; 16], length: u64) {
        self.clock += 1;
        if let Some((old, age)) = self.files.insert(key, (length, self.clock)) {
            self.bytes -= old;
            self.ages.remove(&age);
        }
        self.bytes += length;
        self.ages.insert(self.clock, key);
    }
}

fn checksum(payload: &[u8]) -> Vec<u8> {
    blake3::hash(payload).as_bytes()[..CHECK].to_vec()
}

fn key_of(name: &str) -> Option<[u8; 16]> {
    if name.len() != 32 || !name.is_ascii() {
        return None;
    }
    let mut key = [0; 16];
    for (byte, at) in key.iter_mut().zip((0..).step_by(2)) {
        *byte = u8::from_str_radix(&name[at..at + 2], 16).ok()?;
    }
    Some(key)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_oldest_goes_and_a_damaged_file_is_absent() {
        let folder = tempfile::tempdir().unwrap();
        let store = DiscScratch::open(folder.path(), 250).unwrap();
        for number in 0..3 {
            store.put([number; 16], &[number; 84]);
        }
        assert_eq!(store.get([0; 16]), None, "beyond the bound");
        assert_eq!(store.get([2; 16]), Some(vec![2; 84]));
        fs::write(store.path_of([2; 16]), b"something else").unwrap();
        assert_eq!(store.get([2; 16]), None, "damaged");
        let again = DiscScratch::open(folder.path(), 250).unwrap();
        assert_eq!(again.get([1; 16]), Some(vec![1; 84]), "kept over a restart");
    }
}
