//! Small text files, with a size limit so that a wrong name can't fill the memory.

use crate::files::FileError;
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// The text of `path`, at most `max_bytes` of UTF-8. A byte order mark at the front is dropped.
///
/// # Errors
/// [`FileError::NotFound`], [`FileError::TooLarge`], [`FileError::Damaged`] where it is not UTF-8 text,
/// [`FileError::Refused`].
pub fn read_text(path: &Path, max_bytes: u64) -> Result<String, FileError> {
    let told = |error: &std::io::Error| FileError::reading(path, error);
    let file = File::open(path).map_err(|error| told(&error))?;
    let mut bytes = Vec::new();
    file.take(max_bytes.saturating_add(1))
        .read_to_end(&mut bytes)
        .map_err(|error| told(&error))?;
    if bytes.len() as u64 > max_bytes {
        return Err(FileError::too_large(
            path,
            format!(
                "the text is longer than {max_bytes} bytes; check that this is the right file."
            ),
        ));
    }
    let text = String::from_utf8(bytes).map_err(|error| {
        FileError::damaged(
            path,
            format!(
                "this is not a text file (byte {} is not UTF-8); check that this is the right file.",
                error.utf8_error().valid_up_to()
            ),
        )
    })?;
    Ok(match text.strip_prefix('\u{feff}') {
        Some(rest) => rest.to_owned(),
        None => text,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limit_encoding_and_mark() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a");
        std::fs::write(&path, "\u{feff}abc").unwrap();
        assert_eq!(read_text(&path, 6).unwrap(), "abc");
        assert!(matches!(
            read_text(&path, 5),
            Err(FileError::TooLarge { .. })
        ));
        std::fs::write(&path, [b'a', 0xff]).unwrap();
        assert!(matches!(
            read_text(&path, 9),
            Err(FileError::Damaged { .. })
        ));
    }
}
