//! Version 3 of the project format: the same envelope as version 6. Read, never written any more.

use super::{Opened, ProjectFileError, v6};

pub(super) fn read(text: &str) -> Result<Opened, ProjectFileError> {
    v6::read(text)
}
