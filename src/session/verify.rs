//! Proves a finished picture from its record: are the photos unchanged, and does a rebuild give the receipt's pixels?

use crate::engine::Engine;
use crate::engine::Watch;
use crate::files::{self, FileError, photo, places};
use crate::project::RevisionId;
use crate::session::build::encoding_for_bits;
use crate::session::receipt::{self, Receipt};
use crate::session::scratch::ScratchFolder;
use crate::session::sources::{Reading, SourceReport, SourceState};
use crate::session::{Session, SessionError, Settings};
use serde::Serialize;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What came of proving a project.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct VerifyReport {
    /// Every photo in use.
    pub sources: Vec<SourceReport>,
    /// What the rebuild gave.
    pub rebuild: Rebuild,
    /// Why it was not run, or what is known of the difference.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
    /// The receipt it was held against.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub receipt: Option<PathBuf>,
    /// The finished picture beside the receipt.
    pub picture: PictureState,
}

/// What a rebuild gave.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Rebuild {
    /// The receipt's pixels.
    #[serde(rename = "same")]
    Same,
    /// Other pixels.
    #[serde(rename = "differs")]
    Differs,
    /// It was not run.
    #[serde(rename = "not run")]
    NotRun,
}

/// Whether the finished picture holds the receipt's pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum PictureState {
    /// It does.
    #[serde(rename = "same")]
    Same,
    /// It holds others, or cannot be read.
    #[serde(rename = "differs")]
    Differs,
    /// It is not beside its receipt.
    #[serde(rename = "missing")]
    Missing,
    /// Its format does not keep the pixels exactly, or there is no receipt.
    #[serde(rename = "not checked")]
    NotChecked,
}

impl VerifyReport {
    /// Whether there is anything to look at.
    #[must_use]
    pub fn has_findings(&self) -> bool {
        self.rebuild == Rebuild::Differs
            || self.picture == PictureState::Differs
            || self
                .sources
                .iter()
                .any(|source| source.state != SourceState::Same)
    }
}

impl Session {
    /// Proves the project: reads every photo, and builds the picture of `receipt` (default: the newest receipt in the project's
    /// folder) anew, from nothing that was kept. Where the project went on since, the state that the receipt names is
    /// looked for in the history. Records nothing.
    ///
    /// # Errors
    /// When the receipt cannot be read, or the work was stopped. What is wrong with photos or pixels is in the report.
    pub fn verify(
        &self,
        receipt: Option<&Path>,
        settings: &Settings,
        watch: &dyn Watch,
    ) -> Result<VerifyReport, SessionError> {
        let mut alone = self.alone(settings);
        alone.find_moved()?;
        let sources = alone.check_sources(Reading::Fresh, watch)?;
        let mut report = VerifyReport {
            sources,
            rebuild: Rebuild::NotRun,
            why: None,
            receipt: None,
            picture: PictureState::NotChecked,
        };
        let found = match receipt {
            Some(path) => Some(path.to_owned()),
            None => receipt::newest_in(self.shelf().folder()),
        };
        let Some(path) = found else {
            report.why = Some(
                "there is no receipt in the project's folder: build the scene there, or name a receipt"
                    .to_owned(),
            );
            return Ok(report);
        };
        let paid = receipt::read(&path)?;
        report.picture = picture_state(&path, &paid);
        report.receipt = Some(path);
        alone.prove(&paid, &mut report, watch)?;
        Ok(report)
    }

    /// A copy with the whole history that shares nothing computed.
    fn alone(&self, settings: &Settings) -> Self {
        let mut alone = self.worker();
        alone.history = self.history.clone();
        alone.engine = Arc::new(Engine::new(settings.engine));
        alone.scratch = Arc::new(ScratchFolder::alone(settings.scratch_bytes));
        alone
    }

    fn prove(
        &mut self,
        paid: &Receipt,
        report: &mut VerifyReport,
        watch: &dyn Watch,
    ) -> Result<(), SessionError> {
        if !paid.changed_sources.is_empty() {
            self.take_changed()?;
        }
        if !self.go_to_state_of(paid, watch)? {
            report.rebuild = Rebuild::Differs;
            report.why = Some(
                "the receipt was not written for this project: no state in its history has the receipt's fingerprint"
                    .to_owned(),
            );
            return Ok(());
        }
        if let Err(refused) = self.refuse_changed() {
            report.why = Some(format!("not every photo is as it was: {refused}"));
            return Ok(());
        }
        let encoding = encoding_for_bits(&paid.output, paid.bits)?;
        match self.encoded_scene(paid.level, encoding, watch) {
            Ok(picture) => {
                let pixels = files::digest::label(&files::digest::of_picture(&picture));
                report.rebuild = if pixels == paid.pixels {
                    Rebuild::Same
                } else {
                    report.why = Some(difference(paid));
                    Rebuild::Differs
                };
            }
            Err(error) if error.is_cancelled() => return Err(error),
            Err(error) => report.why = Some(error.to_string()),
        }
        Ok(())
    }

    /// Goes to the state that the receipt was written for: the one now, or the newest in the history that has its fingerprint.
    fn go_to_state_of(&mut self, paid: &Receipt, watch: &dyn Watch) -> Result<bool, SessionError> {
        if self.project_fingerprint()? == paid.project {
            return Ok(true);
        }
        let now = self.history.now();
        let all: Vec<RevisionId> = self
            .history
            .revisions()
            .iter()
            .rev()
            .map(|revision| revision.id)
            .collect();
        for state in all.into_iter().map(Some).chain([None]) {
            self.history.go_to(state);
            if self.project_fingerprint()? == paid.project {
                return Ok(true);
            }
            if watch.cancelled() {
                return Err(crate::engine::EngineError::Cancelled.into());
            }
        }
        // A picture is often built before what was measured for it is saved: measuring again gives the same.
        self.history.go_to(now);
        match self.measure_all(watch) {
            Err(error) if error.is_cancelled() => Err(error),
            Err(_photos_missing) => Ok(false),
            Ok(()) => Ok(self.project_fingerprint()? == paid.project),
        }
    }
}

fn difference(paid: &Receipt) -> String {
    let ours = env!("CARGO_PKG_VERSION");
    if paid.program == ours {
        "same photos, same record, same program, other pixels: please report this".to_owned()
    } else {
        format!(
            "the picture was built with version {} and this is version {ours}: rebuild it with that version",
            paid.program
        )
    }
}

/// Whether the picture beside the receipt holds its pixels, where its format keeps them exactly.
fn picture_state(path: &Path, paid: &Receipt) -> PictureState {
    let picture = path.with_file_name(&paid.output);
    if !places::exists(&picture) {
        return PictureState::Missing;
    }
    let exact = files::output::OutputFormat::of_path(&picture)
        .is_ok_and(files::output::OutputFormat::keeps_numbers);
    if !exact {
        return PictureState::NotChecked;
    }
    let read: Result<_, FileError> = photo::open(&picture, &files::Limits::default());
    let same = read.is_ok_and(|photo| {
        files::digest::label(&files::digest::of_samples(&photo.samples)) == paid.pixels
    });
    if same {
        PictureState::Same
    } else {
        PictureState::Differs
    }
}
