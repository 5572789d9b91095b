//! Version 2 of the project format: the same envelope as version 5, whose steps are of more kinds. Read, never written any more.

use super::{Opened, ProjectFileError, v5};

pub(super) fn read(text: &str) -> Result<Opened, ProjectFileError> {
    v5::read(text)
}
