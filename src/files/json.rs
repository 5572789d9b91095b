//! Small JSON files: receipts and preferences.

use crate::files::FileError;
use crate::files::atomic_write::write_bytes;
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::path::Path;

/// Writes `value` as indented JSON, whole or not at all.
///
/// # Errors
/// When a number in it is not finite, or as [`write_bytes`].
pub fn write(path: &Path, value: &impl Serialize) -> Result<(), FileError> {
    let text = serde_json::to_string_pretty(value).map_err(|error| {
        FileError::parameter(path, format!("it cannot be written as JSON: {error}"))
    })?;
    write_bytes(path, format!("{text}\n").as_bytes())
}

/// `text` as a value, if it is one.
#[must_use]
pub fn parse<T: DeserializeOwned>(text: &str) -> Option<T> {
    serde_json::from_str(text).ok()
}
