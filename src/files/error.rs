//! What can go wrong with a file, sorted by whose fault it is, each as one sentence that says what to do.

use std::io;
use std::path::{Path, PathBuf};
use thiserror::Error;

/// A file that could not be read or written. The message names the file, says what happened and what to do.
#[derive(Debug, Error)]
pub enum FileError {
    /// Nothing has that name.
    #[error("{}: {what}", path.display())]
    NotFound {
        /// The name as given.
        path: PathBuf,
        /// What happened and what to do.
        what: String,
    },
    /// The content breaks the rules of its own format.
    #[error("{}: {what}", path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What happened and what to do.
        what: String,
    },
    /// The content is larger than the limits allow.
    #[error("{}: {what}", path.display())]
    TooLarge {
        /// The file.
        path: PathBuf,
        /// What happened and what to do.
        what: String,
    },
    /// The content is whole, but of a kind that is not read or written.
    #[error("{}: {what}", path.display())]
    NotSupported {
        /// The file.
        path: PathBuf,
        /// What happened and what to do.
        what: String,
    },
    /// The disc or the system said no: rights, space, a broken device.
    #[error("{}: {what}", path.display())]
    Refused {
        /// The file.
        path: PathBuf,
        /// What happened and what to do.
        what: String,
    },
    /// The caller asked for something that makes no sense.
    #[error("{}: {what}", path.display())]
    Parameter {
        /// The file.
        path: PathBuf,
        /// What happened and what to do.
        what: String,
    },
}

impl FileError {
    /// The file that the trouble is about.
    #[must_use]
    pub fn path(&self) -> &Path {
        match self {
            Self::NotFound { path, .. }
            | Self::Damaged { path, .. }
            | Self::TooLarge { path, .. }
            | Self::NotSupported { path, .. }
            | Self::Refused { path, .. }
            | Self::Parameter { path, .. } => path,
        }
    }

    pub(super) fn not_found(path: &Path, what: impl Into<String>) -> Self {
        Self::NotFound {
            path: path.to_path_buf(),
            what: what.into(),
        }
    }

    pub(super) fn damaged(path: &Path, what: impl Into<String>) -> Self {
        Self::Damaged {
            path: path.to_path_buf(),
            what: what.into(),
        }
    }

    pub(super) fn too_large(path: &Path, what: impl Into<String>) -> Self {
        Self::TooLarge {
            path: path.to_path_buf(),
            what: what.into(),
        }
    }

    pub(super) fn not_supported(path: &Path, what: impl Into<String>) -> Self {
        Self::NotSupported {
            path: path.to_path_buf(),
            what: what.into(),
        }
    }

    pub(super) fn refused(path: &Path, what: impl Into<String>) -> Self {
        Self::Refused {
            path: path.to_path_buf(),
            what: what.into(),
        }
    }

    pub(super) fn parameter(path: &Path, what: impl Into<String>) -> Self {
        Self::Parameter {
            path: path.to_path_buf(),
            what: what.into(),
        }
    }

    /// The file at `path` is not the one that the record means.
    #[must_use]
    pub fn changed(path: &Path) -> Self {
        Self::parameter(
            path,
            "its content is not what the project was made from; put the old file back, or swap the plate's source.",
        )
    }

    /// What the system said while reading `path`.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "the system has dozens of kinds of errors"
    )]
    pub(super) fn reading(path: &Path, error: &io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::NotFound => Self::not_found(
                path,
                "there is no such file; check the name and the folder.",
            ),
            io::ErrorKind::UnexpectedEof => Self::damaged(
                path,
                "the file is cut short; copy it again from where it came from.",
            ),
            io::ErrorKind::IsADirectory => {
                Self::parameter(path, "this is a folder, not a file; name a file in it.")
            }
            io::ErrorKind::PermissionDenied => Self::refused(
                path,
                "the file may not be read; change its permissions or copy it to a place of your own.",
            ),
            _ => Self::refused(
                path,
                format!("the file could not be read ({error}); check the disc."),
            ),
        }
    }

    /// What the system said while writing `path`.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "the system has dozens of kinds of errors"
    )]
    pub(super) fn writing(path: &Path, error: &io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::NotFound => Self::not_found(
                path,
                "the folder to write into does not exist; make it first or choose another place.",
            ),
            io::ErrorKind::NotADirectory => Self::parameter(
                path,
                "part of the name is a file, not a folder; choose another place.",
            ),
            io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => Self::refused(
                path,
                "this place may not be written to; choose another folder or change its permissions.",
            ),
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => Self::refused(
                path,
                "the disc is full; make room or choose another place. The old file, if any, is unchanged.",
            ),
            _ => Self::refused(
                path,
                format!(
                    "the file could not be written ({error}); choose another place. The old file, if any, is unchanged."
                ),
            ),
        }
    }
}
