//! Tiles set aside on disc between runs: one file per key, bounded in size, safe to delete at any time. Nothing that goes
//! wrong here is an error: a tile that can't be read back is computed again.

use std::fs::File;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};
use std::time::SystemTime;

/// The checksum in front of each payload: BLAKE3.
const CHECKSUM: usize = 32;
/// Files end so, and only such files are ever removed.
const ENDING: &str = "tile";
/// When the bound is passed, files go until this many of sixteen parts of it are left, so that not every `put` has to
/// look through the folder.
const KEPT_SIXTEENTHS: u64 = 14;

/// A bounded store of byte blocks under 16-byte keys.
#[derive(Debug)]
pub struct DiscScratch {
    folder: PathBuf,
    max_bytes: u64,
    /// Bytes held, as far as this process knows; another process on the same folder only makes it inexact.
    held: Mutex<u64>,
    /// Taken away with the store.
    #[expect(dead_code, reason = "kept for what happens when it is dropped")]
    alone: Option<tempfile::TempDir>,
}

struct Entry {
    used: SystemTime,
    path: PathBuf,
    bytes: u64,
}

impl DiscScratch {
    /// Opens the store in `folder`, which is made when the first tile comes. At most `max_bytes` stay in it.
    #[must_use]
    pub fn open(folder: &Path, max_bytes: u64) -> Self {
        let store = Self {
            folder: folder.to_path_buf(),
            max_bytes,
            held: Mutex::new(0),
            alone: None,
        };
        store.shrink_to(max_bytes);
        store
    }

    /// A store of its own in `folder` that nobody shares, and that goes with the last use of it.
    #[must_use]
    pub fn open_alone(folder: &Path, max_bytes: u64) -> Option<Self> {
        std::fs::create_dir_all(folder).ok()?;
        let alone = tempfile::Builder::new()
            .prefix("alone-")
            .tempdir_in(folder)
            .ok()?;
        Some(Self {
            folder: alone.path().to_path_buf(),
            max_bytes,
            held: Mutex::new(0),
            alone: Some(alone),
        })
    }

    /// The block under `key`, or nothing where there is none or it is damaged (it is then removed).
    #[must_use]
    pub fn get(&self, key: [u8; 16]) -> Option<Vec<u8>> {
        let path = self.path_of(key);
        let file = File::open(&path).ok()?;
        // A file longer than the bound is not one of ours.
        if file.metadata().ok()?.len() > self.max_bytes {
            return None;
        }
        let mut stored = Vec::new();
        (&file).read_to_end(&mut stored).ok()?;
        let whole = stored
            .split_first_chunk::<CHECKSUM>()
            .is_some_and(|(sum, payload)| checksum(key, payload) == *sum);
        if !whole {
            self.remove(&path, stored.len() as u64);
            return None;
        }
        // The time of change serves as the time of use.
        file.set_modified(SystemTime::now()).ok();
        stored.drain(..CHECKSUM);
        Some(stored)
    }

    /// Whether there is a block under `key`; it may be damaged.
    #[must_use]
    pub fn has(&self, key: [u8; 16]) -> bool {
        self.path_of(key).is_file()
    }

    /// Keeps `payload` under `key`, if it can.
    pub fn put(&self, key: [u8; 16], payload: &[u8]) {
        let bytes = payload.len() as u64 + CHECKSUM as u64;
        if bytes > self.max_bytes {
            return;
        }
        let path = self.path_of(key);
        let replaced = std::fs::metadata(&path).map_or(0, |metadata| metadata.len());
        if self.write(&path, key, payload).is_none() {
            return;
        }
        let held = {
            let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
            *held = held.saturating_sub(replaced).saturating_add(bytes);
            *held
        };
        if held > self.max_bytes {
            self.shrink_to(self.max_bytes / 16 * KEPT_SIXTEENTHS);
        }
    }

    /// Removes every tile.
    pub fn clear(&self) {
        self.shrink_to(0);
    }

    /// Bytes held now, as far as this process knows.
    #[must_use]
    pub fn bytes(&self) -> u64 {
        *self.held.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn path_of(&self, key: [u8; 16]) -> PathBuf {
        let name: String = key.iter().map(|byte| format!("{byte:02x}")).collect();
        self.folder
            .join(&name[..2])
            .join(format!("{name}.{ENDING}"))
    }

    /// Not flushed to the disc: after a power cut the checksum tells, and the tile is computed again.
    fn write(&self, path: &Path, key: [u8; 16], payload: &[u8]) -> Option<()> {
        let folder = path.parent()?;
        std::fs::create_dir_all(folder).ok()?;
        let mut new = tempfile::Builder::new()
            .prefix(".tile-")
            .suffix(".tile")
            .tempfile_in(folder)
            .ok()?;
        new.write_all(&checksum(key, payload)).ok()?;
        new.write_all(payload).ok()?;
        new.persist(path).ok()?;
        Some(())
    }

    fn remove(&self, path: &Path, bytes: u64) {
        if std::fs::remove_file(path).is_ok() {
            let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
            *held = held.saturating_sub(bytes);
        }
    }

    /// Counts what is there, and removes the longest unused until at most `target` bytes are left.
    fn shrink_to(&self, target: u64) {
        let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
        let mut entries = self.entries();
        entries.sort_by(|a, b| a.used.cmp(&b.used).then_with(|| a.path.cmp(&b.path)));
        let mut total: u64 = entries.iter().map(|entry| entry.bytes).sum();
        for entry in &entries {
            if total <= target {
                break;
            }
            if std::fs::remove_file(&entry.path).is_ok() {
                total = total.saturating_sub(entry.bytes);
            }
        }
        *held = total;
    }

    fn entries(&self) -> Vec<Entry> {
        let mut entries = Vec::new();
        for branch in 0..=255_u8 {
            let folder = self.folder.join(format!("{branch:02x}"));
            let Ok(listing) = std::fs::read_dir(folder) else {
                continue;
            };
            for path in listing.flatten().map(|entry| entry.path()) {
                if path.extension().is_none_or(|ending| ending != ENDING) {
                    continue;
                }
                if let Ok(metadata) = std::fs::symlink_metadata(&path)
                    && metadata.is_file()
                {
                    entries.push(Entry {
                        used: metadata.modified().unwrap_or(SystemTime::UNIX_EPOCH),
                        bytes: metadata.len(),
                        path,
                    });
                }
            }
        }
        entries
    }
}

/// Over key and payload, so that a file under the wrong name is damaged too.
fn checksum(key: [u8; 16], payload: &[u8]) -> [u8; CHECKSUM] {
    let mut hasher = blake3::Hasher::new();
    hasher.update(&key);
    hasher.update(payload);
    *hasher.finalize().as_bytes()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;
    use tempfile::tempdir;

    fn key(n: u8) -> [u8; 16] {
        let mut key = [0; 16];
        key[0] = n;
        key
    }

    #[test]
    fn what_is_put_comes_back_also_after_reopening() {
        let folder = tempdir().unwrap();
        let store = DiscScratch::open(folder.path(), 10_000);
        assert_eq!(store.get(key(1)), None);
        store.put(key(1), b"one");
        store.put(key(2), b"");
        store.put(key(1), b"one again");
        assert_eq!(store.bytes(), 32 + 9 + 32);
        let again = DiscScratch::open(folder.path(), 10_000);
        assert_eq!(again.bytes(), store.bytes());
        assert_eq!(again.get(key(1)).as_deref(), Some(b"one again".as_slice()));
        assert_eq!(again.get(key(2)).as_deref(), Some(b"".as_slice()));
    }

    #[test]
    fn damaged_short_and_misnamed_tiles_are_as_if_absent() {
        let folder = tempdir().unwrap();
        let store = DiscScratch::open(folder.path(), 10_000);
        for n in 1..=3 {
            store.put(key(n), b"payload");
        }
        let mut bytes = std::fs::read(store.path_of(key(1))).unwrap();
        bytes[35] ^= 1;
        std::fs::write(store.path_of(key(1)), &bytes).unwrap();
        std::fs::write(store.path_of(key(2)), &bytes[..10]).unwrap();
        std::fs::copy(store.path_of(key(3)), folder.path().join("x")).unwrap();
        store.put(key(4), b"");
        std::fs::copy(folder.path().join("x"), store.path_of(key(4))).unwrap();
        assert_eq!(store.get(key(1)), None);
        assert_eq!(store.get(key(2)), None);
        assert_eq!(store.get(key(4)), None);
        assert!(store.get(key(3)).is_some());
        assert!(!store.path_of(key(1)).exists());
    }

    #[test]
    fn the_longest_unused_goes_first_and_the_bound_holds() {
        let folder = tempdir().unwrap();
        let store = DiscScratch::open(folder.path(), 1000);
        for n in 0..8 {
            store.put(key(n), &[n; 88]);
            let age = SystemTime::UNIX_EPOCH + Duration::from_secs(1000 + u64::from(n));
            File::open(store.path_of(key(n)))
                .unwrap()
                .set_modified(age)
                .unwrap();
        }
        assert!(store.get(key(0)).is_some(), "now the newest");
        store.put(key(9), &[9; 88]);
        assert!(store.bytes() <= 1000);
        assert!(store.get(key(0)).is_some());
        assert!(store.get(key(9)).is_some());
        assert_eq!(store.get(key(1)), None);
        store.put(key(10), &[0; 2000]);
        assert_eq!(store.get(key(10)), None);
        store.clear();
        assert_eq!(store.bytes(), 0);
    }

    #[test]
    fn a_folder_that_vanishes_or_never_was_is_no_trouble() {
        let folder = tempdir().unwrap();
        let file = folder.path().join("file");
        std::fs::write(&file, "x").unwrap();
        let store = DiscScratch::open(&file, 1000);
        store.put(key(1), b"1");
        assert_eq!(store.get(key(1)), None);
        let gone = folder.path().join("gone");
        let store = DiscScratch::open(&gone, 1000);
        store.put(key(1), b"1");
        std::fs::remove_dir_all(&gone).unwrap();
        assert_eq!(store.get(key(1)), None);
        store.put(key(1), b"2");
        assert_eq!(store.get(key(1)).as_deref(), Some(b"2".as_slice()));
    }
}
