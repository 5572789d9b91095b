//! What people chose about the program itself: looks and recent files.

use crate::files::{self, folders};
use crate::session::SessionError;
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// Most recent files kept.
const RECENT: usize = 12;

/// The surround of the window.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Surround {
    /// Dark grey.
    #[default]
    Dark,
    /// Light grey.
    Light,
}

/// What people chose.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Preferences {
    /// The surround.
    pub surround: Surround,
    /// Size of text, 0.75..=2.
    pub text_scale: f32,
    /// Projects opened lately, newest first.
    pub recent: Vec<PathBuf>,
}

impl Default for Preferences {
    fn default() -> Self {
        Self {
            surround: Surround::Dark,
            text_scale: 1.0,
            recent: Vec::new(),
        }
    }
}

impl Preferences {
    /// What was chosen last; the usual where nothing was.
    #[must_use]
    pub fn load() -> Self {
        let text = file().and_then(|file| files::text::read_text(&file, 1 << 20).ok());
        let mut loaded: Self = text
            .and_then(|text| files::json::parse(&text))
            .unwrap_or_default();
        loaded.text_scale = if loaded.text_scale.is_finite() {
            loaded.text_scale.clamp(0.75, 2.0)
        } else {
            1.0
        };
        loaded.recent.truncate(RECENT);
        loaded
    }

    /// Keeps what was chosen.
    ///
    /// # Errors
    /// When the user's configuration folder cannot be written.
    pub fn save(&self) -> Result<(), SessionError> {
        let Some(file) = file() else { return Ok(()) };
        if let Some(folder) = file.parent() {
            folders::make_folder(folder)?;
        }
        Ok(files::json::write(&file, self)?)
    }

    /// Puts a project at the head of the recent files.
    pub fn note(&mut self, project: &Path) {
        let project = files::places::absolute(project);
        self.recent.retain(|other| *other != project);
        self.recent.insert(0, project);
        self.recent.truncate(RECENT);
    }
}

fn file() -> Option<PathBuf> {
    Some(
        folders::Folders::of_user()
            .ok()?
            .config
            .join("preferences.json"),
    )
}
