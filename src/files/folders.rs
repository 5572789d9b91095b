//! The user's folders, by the XDG Base Directory rules and their like on other systems.
//!
//! Each can be set by an environment variable of the program's own, so that tests and scripts leave the user's folders alone.

use std::path::PathBuf;

const NAME: &str = "platebench";

/// Settings: `PLATEBENCH_CONFIG_DIR`, else a folder under the user's configuration folder.
#[must_use]
pub fn config() -> Option<PathBuf> {
    own("PLATEBENCH_CONFIG_DIR").or_else(|| base(|base| base.config_dir()))
}

/// Tiles that may be deleted at any time: `PLATEBENCH_CACHE_DIR`, else a folder under the user's cache folder.
#[must_use]
pub fn cache() -> Option<PathBuf> {
    own("PLATEBENCH_CACHE_DIR").or_else(|| base(|base| base.cache_dir()))
}

/// Journals: `PLATEBENCH_STATE_DIR`, else a folder under the user's state folder, or under the data folder where the system has
/// no state folder.
#[must_use]
pub fn state() -> Option<PathBuf> {
    let usual = || base(|base| base.state_dir().unwrap_or_else(|| base.data_dir()));
    own("PLATEBENCH_STATE_DIR").or_else(usual)
}

/// The demo scene: `PLATEBENCH_DATA_DIR`, else a folder under the user's data folder.
#[must_use]
pub fn data() -> Option<PathBuf> {
    own("PLATEBENCH_DATA_DIR").or_else(|| base(|base| base.data_dir()))
}

/// Whether the system says that there is a display.
#[must_use]
pub fn has_display() -> bool {
    let set = |name: &str| std::env::var_os(name).is_some_and(|value| !value.is_empty());
    !cfg!(target_os = "linux") || set("DISPLAY") || set("WAYLAND_DISPLAY")
}

fn own(name: &str) -> Option<PathBuf> {
    std::env::var_os(name)
        .filter(|value| !value.is_empty())
        .map(PathBuf::from)
}

fn base(of: impl FnOnce(&dyn Base) -> PathBuf) -> Option<PathBuf> {
    let strategy = etcetera::choose_base_strategy().ok()?;
    Some(of(&strategy).join(NAME))
}

/// The strategy's folders, so that one closure fits every system's strategy.
trait Base {
    fn config_dir(&self) -> PathBuf;
    fn cache_dir(&self) -> PathBuf;
    fn data_dir(&self) -> PathBuf;
    fn state_dir(&self) -> Option<PathBuf>;
}

impl<T: etcetera::BaseStrategy> Base for T {
    fn config_dir(&self) -> PathBuf {
        etcetera::BaseStrategy::config_dir(self)
    }

    fn cache_dir(&self) -> PathBuf {
        etcetera::BaseStrategy::cache_dir(self)
    }

    fn data_dir(&self) -> PathBuf {
        etcetera::BaseStrategy::data_dir(self)
    }

    fn state_dir(&self) -> Option<PathBuf> {
        etcetera::BaseStrategy::state_dir(self)
    }
}
