//! Knows a file again by its content: BLAKE3 of all its bytes, whatever its name or date.

use crate::files::FileError;
use crate::files::output::{Picture, Pixels};
use crate::geometry::Size;
use crate::pixels::{Numbers, Samples};
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

/// BLAKE3 hash of bytes in memory.
#[must_use]
pub fn of_bytes(bytes: &[u8]) -> [u8; 32] {
    *blake3::hash(bytes).as_bytes()
}

/// The hash as it stands in receipts: `blake3:` and 64 hexadecimal digits.
#[must_use]
pub fn label(hash: &[u8; 32]) -> String {
    format!("blake3:{}", hex(hash))
}

/// BLAKE3 hash of a picture's numbers: width, height, numbers per pixel, then every number, all little-endian.
#[must_use]
pub fn of_picture(picture: &Picture) -> [u8; 32] {
    let hasher = begin(picture.size, picture.pixels.channels());
    match &picture.pixels {
        Pixels::U8 { data, .. } => finish(hasher, data, |number| [*number]),
        Pixels::U16 { data, .. } => finish(hasher, data, |number| number.to_le_bytes()),
        Pixels::F32 { data, .. } => finish(hasher, data, |number| number.to_le_bytes()),
    }
}

/// The same of a decoded photo: equal to [`of_picture`] of the picture that was written, where its format keeps the numbers.
#[must_use]
pub fn of_samples(samples: &Samples) -> [u8; 32] {
    let hasher = begin(samples.size, samples.channels);
    match &samples.numbers {
        Numbers::U8(data) => finish(hasher, data, |number| [*number]),
        Numbers::U16(data) => finish(hasher, data, |number| number.to_le_bytes()),
        Numbers::F32(data) => finish(hasher, data, |number| number.to_le_bytes()),
    }
}

fn begin(size: Size, channels: usize) -> blake3::Hasher {
    let mut hasher = blake3::Hasher::new();
    hasher.update(&size.width.to_le_bytes());
    hasher.update(&size.height.to_le_bytes());
    hasher.update(&[u8::try_from(channels).unwrap_or(0)]);
    hasher
}

fn finish<T, const BYTES: usize>(
    mut hasher: blake3::Hasher,
    numbers: &[T],
    bytes: impl Fn(&T) -> [u8; BYTES],
) -> [u8; 32] {
    for part in numbers.chunks(1 << 16) {
        let bytes: Vec<u8> = part.iter().flat_map(&bytes).collect();
        hasher.update(&bytes);
    }
    *hasher.finalize().as_bytes()
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
