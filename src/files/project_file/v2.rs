//! Version 2 of the project format: the same envelope as version 4, whose steps are of more kinds. Read, never written any more.

use super::{Opened, ProjectFileError, v4};

pub(super) fn read(text: &str) -> Result<Opened, ProjectFileError> {
    v4::read(text)
}
