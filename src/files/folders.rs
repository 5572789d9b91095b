//! The user's folders.

use std::path::PathBuf;

/// Where state (journals) lies.
#[must_use]
pub fn state() -> PathBuf {
    std::env::var_os("PLATEBENCH_STATE_DIR").map_or_else(|| PathBuf::from("."), PathBuf::from)
}
