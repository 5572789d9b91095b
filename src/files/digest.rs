//! Knows a file again by its content: BLAKE3 of all its bytes, whatever its name or date.

use crate::files::FileError;
use std::fs::File;
use std::path::Path;

/// BLAKE3 hash (32 bytes, default length, no key) of the file's bytes, read in a stream.
///
/// # Errors
/// [`FileError::NotFound`], [`FileError::Parameter`] for a folder, [`FileError::Refused`].
pub fn content_hash(path: &Path) -> Result<[u8; 32], FileError> {
    let told = |error: &std::io::Error| FileError::reading(path, error);
    let mut file = File::open(path).map_err(|error| told(&error))?;
    let mut hasher = blake3::Hasher::new();
    let mut buffer = vec![0_u8; 1 << 18];
    loop {
        let read = std::io::Read::read(&mut file, &mut buffer).map_err(|error| told(&error))?;
        if read == 0 {
            return Ok(*hasher.finalize().as_bytes());
        }
        hasher.update(&buffer[..read]);
    }
}

/// The hash as 64 small hexadecimal digits.
#[must_use]
pub fn hex(hash: &[u8; 32]) -> String {
    blake3::Hash::from_bytes(*hash).to_hex().to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn published_vector_of_the_empty_input() {
        // BLAKE3 paper's official test vectors (test_vectors.json), input length 0.
        let file = tempfile::NamedTempFile::new().unwrap();
        let hash = content_hash(file.path()).unwrap();
        assert_eq!(
            hex(&hash),
            "af1349b9f5f9a1a6a0404dea36dcc9499bcb25c9adc112b7cc9a93cae41f3262"
        );
    }

    #[test]
    fn long_files_hash_as_their_bytes_do() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a");
        let bytes: Vec<u8> = (0..700_001_u32).map(|i| i.to_le_bytes()[1]).collect();
        std::fs::write(&path, &bytes).unwrap();
        assert_eq!(
            content_hash(&path).unwrap(),
            *blake3::hash(&bytes).as_bytes()
        );
        assert!(matches!(
            content_hash(folder.path()),
            Err(FileError::Parameter { .. })
        ));
    }
}
