//! Copies of photos that are read back and compared, so that a copy is known to be one.

use crate::files::FileError;
use crate::files::atomic_write::write_atomically;
use crate::files::digest::{content_hash, hex};
use crate::files::folders::make_folder;
use std::fs::File;
use std::io::Read as _;
use std::path::Path;

/// Copies `from` to `to`, whole or not at all, making folders where they are missing; then reads the copy back. Gives the
/// BLAKE3 hash and the number of bytes that both have. A file that is at `to` already is taken as the copy where it has the same content, and is
/// never replaced.
///
/// # Errors
/// When `from` cannot be read or is not `wanted` (where that is given), `to` holds something else or cannot be written, or
/// the copy reads back differently.
pub fn copy_verified(
    from: &Path,
    to: &Path,
    wanted: Option<[u8; 32]>,
) -> Result<([u8; 32], u64), FileError> {
    if let Some(folder) = to.parent() {
        make_folder(folder)?;
    }
    let wrong = |found: &[u8; 32]| wanted.is_some_and(|wanted| wanted != *found);
    if std::fs::symlink_metadata(to).is_ok() {
        let (there, here) = (content_hash(to)?, content_hash(from)?);
        if wrong(&here) {
            return Err(FileError::changed(from));
        }
        if there != here {
            return Err(FileError::parameter(
                to,
                "there is another file of this name, and it is never replaced; choose another folder.",
            ));
        }
        return Ok((here, length(to)?));
    }
    let mut hasher = blake3::Hasher::new();
    write_atomically(to, |sink| {
        let told = |error: &std::io::Error| FileError::reading(from, error);
        let mut file = File::open(from).map_err(|error| told(&error))?;
        let mut buffer = vec![0_u8; 1 << 18];
        loop {
            let read = file.read(&mut buffer).map_err(|error| told(&error))?;
            if read == 0 {
                break;
            }
            hasher.update(&buffer[..read]);
            sink.write_all(&buffer[..read])
                .map_err(|error| FileError::writing(to, &error))?;
        }
        if wrong(hasher.finalize().as_bytes()) {
            return Err(FileError::changed(from));
        }
        Ok(())
    })?;
    let read = *hasher.finalize().as_bytes();
    let copied = content_hash(to)?;
    if copied != read {
        return Err(FileError::damaged(
            to,
            format!(
                "the copy reads back differently (blake3 {} instead of {}); check the disc.",
                hex(&copied),
                hex(&read)
            ),
        ));
    }
    Ok((read, length(to)?))
}

fn length(path: &Path) -> Result<u64, FileError> {
    std::fs::metadata(path)
        .map(|data| data.len())
        .map_err(|error| FileError::reading(path, &error))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn copies_are_compared_and_never_replace() {
        let folder = tempfile::tempdir().unwrap();
        let from = folder.path().join("a");
        std::fs::write(&from, b"light").unwrap();
        let hash = *blake3::hash(b"light").as_bytes();
        let to = folder.path().join("b").join("c");
        assert_eq!(copy_verified(&from, &to, Some(hash)).unwrap(), (hash, 5));
        assert_eq!(std::fs::read(&to).unwrap(), b"light");
        assert_eq!(copy_verified(&from, &to, None).unwrap(), (hash, 5));
        std::fs::write(&from, b"other").unwrap();
        assert!(copy_verified(&from, &to, None).is_err(), "never replaced");
        let new = folder.path().join("d");
        let changed = copy_verified(&from, &new, Some(hash)).unwrap_err();
        assert!(changed.to_string().contains("not what"), "{changed}");
        assert!(!new.exists(), "and nothing left");
    }
}
