//! The demo scene, carried inside the program.

use crate::files::{self, folders};
use crate::session::SessionError;
use include_dir::{Dir, include_dir};
use std::path::{Path, PathBuf};

/// The photos and the project of "Ice shift".
static SCENE: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/demo_scenes/ice_shift/scene");

/// The project's file name.
const PROJECT: &str = "ice_shift.platebench";

/// Where the demo scene is put if nobody says.
#[must_use]
pub fn usual_folder() -> PathBuf {
    let data = folders::Folders::of_user()
        .map_or_else(|_no_home| PathBuf::from("."), |folders| folders.data);
    data.join("ice_shift")
}

/// Puts a fresh copy of the demo scene into `folder` and says where its project is.
///
/// # Errors
/// When the folder cannot be written, or holds something else already.
pub fn lay_out(folder: &Path) -> Result<PathBuf, SessionError> {
    let project = folder.join(PROJECT);
    if files::places::has_entries(folder) && !files::places::exists(&project) {
        return Err(SessionError::Refused(format!(
            "{} is not empty and holds no demo scene: choose an empty folder",
            folder.display()
        )));
    }
    lay_out_folder(&SCENE, folder)?;
    Ok(project)
}

fn lay_out_folder(from: &Dir<'_>, folder: &Path) -> Result<(), SessionError> {
    folders::make_folder(folder)?;
    for file in from.files() {
        let name = file.path().file_name().unwrap_or_default();
        files::atomic_write::write_bytes(&folder.join(name), file.contents())?;
    }
    for inner in from.dirs() {
        lay_out_folder(
            inner,
            &folder.join(inner.path().file_name().unwrap_or_default()),
        )?;
    }
    Ok(())
}
