//! The user's folders for this program: settings, state (logs, recovery), cache (safe to delete) and data, each in the
//! place the system's convention gives (XDG Base Directory Specification on Linux). The environment may move them.

use crate::files::FileError;
use etcetera::BaseStrategy;
use std::ffi::OsString;
use std::path::{Path, PathBuf};

/// The folder's name under each base.
const NAME: &str = "platebench";

/// Where this program keeps its own things. The folders need not exist yet; see [`make_folder`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Folders {
    /// Settings.
    pub config: PathBuf,
    /// Logs, recovery copies, the list of recent projects.
    pub state: PathBuf,
    /// Tiles set aside; safe to delete.
    pub cache: PathBuf,
    /// The demo scene and whatever else is the user's.
    pub data: PathBuf,
}

impl Folders {
    /// The folders of this user. `PLATEBENCH_CONFIG_DIR`, `PLATEBENCH_STATE_DIR`, `PLATEBENCH_CACHE_DIR` and
    /// `PLATEBENCH_DATA_DIR` override one each, which is how tests stay away from the user's own.
    ///
    /// # Errors
    /// [`FileError::NotFound`] where the system names no home folder and not all four are given.
    pub fn of_user() -> Result<Self, FileError> {
        Self::from_environment(|name| std::env::var_os(name))
    }

    fn from_environment(variable: impl Fn(&str) -> Option<OsString>) -> Result<Self, FileError> {
        let given = |what: &str| {
            variable(&format!("PLATEBENCH_{what}_DIR"))
                .filter(|value| !value.is_empty())
                .map(PathBuf::from)
        };
        let (config, state) = (given("CONFIG"), given("STATE"));
        let (cache, data) = (given("CACHE"), given("DATA"));
        if let (Some(config), Some(state), Some(cache), Some(data)) =
            (&config, &state, &cache, &data)
        {
            return Ok(Self {
                config: config.clone(),
                state: state.clone(),
                cache: cache.clone(),
                data: data.clone(),
            });
        }
        let base = etcetera::choose_base_strategy().map_err(|error| {
            FileError::not_found(
                Path::new("~"),
                format!("the system names no home folder ({error}); set HOME."),
            )
        })?;
        Ok(Self {
            config: config.unwrap_or_else(|| base.config_dir().join(NAME)),
            state: state.unwrap_or_else(|| {
                base.state_dir()
                    .unwrap_or_else(|| base.data_dir())
                    .join(NAME)
            }),
            cache: cache.unwrap_or_else(|| base.cache_dir().join(NAME)),
            data: data.unwrap_or_else(|| base.data_dir().join(NAME)),
        })
    }
}

/// Makes `folder` and those above it, where they are missing.
///
/// # Errors
/// What the system said, as a [`FileError`].
pub fn make_folder(folder: &Path) -> Result<(), FileError> {
    std::fs::create_dir_all(folder).map_err(|error| FileError::writing(folder, &error))
}

/// A folder that is being filled and takes its place only when it is complete; dropped before, it goes with all it holds.
#[derive(Debug)]
pub struct Filling(tempfile::TempDir);

/// Begins to fill a folder that shall stand at `folder`; meanwhile it stands beside that place.
///
/// # Errors
/// When the folder above cannot be written.
pub fn beside(folder: &Path) -> Result<Filling, FileError> {
    let above = match folder.parent() {
        Some(above) if !above.as_os_str().is_empty() => above,
        _none => Path::new("."),
    };
    make_folder(above)?;
    tempfile::Builder::new()
        .prefix(".platebench-")
        .suffix(".part")
        .tempdir_in(above)
        .map(Filling)
        .map_err(|error| FileError::writing(folder, &error))
}

impl Filling {
    /// Where it stands now.
    #[must_use]
    pub fn path(&self) -> &Path {
        self.0.path()
    }

    /// Puts it in its place, where nothing or an empty folder is.
    ///
    /// # Errors
    /// When it cannot be moved there; it is gone then.
    pub fn take_place(self, folder: &Path) -> Result<(), FileError> {
        let told = |error: &std::io::Error| FileError::writing(folder, error);
        open_to_others(self.path()).map_err(|error| told(&error))?;
        std::fs::rename(self.path(), folder).map_err(|error| told(&error))?;
        // It is not there any more; nothing is to be taken away.
        let _moved: PathBuf = self.0.keep();
        Ok(())
    }
}

/// Temporary folders are private to their owner; this one becomes as any other here.
#[cfg(unix)]
fn open_to_others(folder: &Path) -> std::io::Result<()> {
    let probe = folder.join(".plain");
    std::fs::create_dir(&probe)?;
    let plain = std::fs::metadata(&probe)?.permissions();
    std::fs::remove_dir(&probe)?;
    std::fs::set_permissions(folder, plain)
}

#[cfg(not(unix))]
fn open_to_others(_folder: &Path) -> std::io::Result<()> {
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn overrides_win_and_the_rest_ends_in_the_name() {
        let folders = Folders::from_environment(|name| {
            (name == "PLATEBENCH_STATE_DIR").then(|| OsString::from("/somewhere/else"))
        });
        if let Ok(folders) = folders {
            assert_eq!(folders.state, Path::new("/somewhere/else"));
            assert!(folders.config.ends_with(NAME));
            assert!(folders.cache.ends_with(NAME));
            assert_ne!(folders.cache, folders.config);
        }
        let all = Folders::from_environment(|name| Some(OsString::from(name))).unwrap();
        assert_eq!(all.cache, Path::new("PLATEBENCH_CACHE_DIR"));
        assert_eq!(all.data, Path::new("PLATEBENCH_DATA_DIR"));
        assert_eq!(all.config, Path::new("PLATEBENCH_CONFIG_DIR"));
    }
}
