//! Fingerprints of results: what went in, in a fixed order, through BLAKE3.

use crate::project::{ContentHash, Fingerprint};
use serde::Serialize;

/// Collects everything a result depends on.
#[derive(Debug, Clone)]
pub struct Stamp(blake3::Hasher);

impl Stamp {
    /// Begins a stamp for the kind and version of step called `kind`.
    #[must_use]
    pub fn new(kind: &str) -> Self {
        Self(blake3::Hasher::new()).text(kind)
    }

    /// Adds a text.
    #[must_use]
    pub fn text(mut self, text: &str) -> Self {
        self.0
            .update(&u64::try_from(text.len()).unwrap_or(u64::MAX).to_le_bytes());
        self.0.update(text.as_bytes());
        self
    }

    /// Adds a whole number.
    #[must_use]
    pub fn number(mut self, number: u64) -> Self {
        self.0.update(&number.to_le_bytes());
        self
    }

    /// Adds another result's fingerprint.
    #[must_use]
    pub fn input(mut self, input: Fingerprint) -> Self {
        self.0.update(&input.0);
        self
    }

    /// Adds a file's content.
    #[must_use]
    pub fn content(mut self, content: ContentHash) -> Self {
        self.0.update(&content.0);
        self
    }

    /// Adds recorded parameters, in the form they have in a project file. Numbers are written so that every different value
    /// gives a different text.
    #[must_use]
    pub fn parameters(self, parameters: &impl Serialize) -> Self {
        let text = serde_json::to_string(parameters)
            .unwrap_or_else(|error| format!("unwritable: {error}"));
        self.text(&text)
    }

    /// The fingerprint.
    #[must_use]
    pub fn done(&self) -> Fingerprint {
        let mut short = [0; 16];
        short.copy_from_slice(&self.0.finalize().as_bytes()[..16]);
        Fingerprint(short)
    }
}
