//! What the engine needs from outside, and what can go wrong on the way.

use crate::pixels::Samples;
use crate::project::{Fingerprint, Frame, PlateId};
use std::sync::Arc;
use thiserror::Error;

/// Gives the samples of frames.
pub trait Sources: Sync {
    /// The decoded samples of `frame`, whose content is the recorded one.
    ///
    /// # Errors
    /// When the file is missing, changed or cannot be read; the message names the file and what to do.
    fn samples(&self, frame: &Frame) -> Result<Arc<Samples>, SourceError>;
}

/// Sets tiles aside and gives them back. May forget anything at any time.
pub trait Scratch: Sync {
    /// What was set aside under `stamp`, if it is still there and sound.
    fn get(&self, stamp: Fingerprint) -> Option<Vec<u8>>;
    /// Whether something lies under `stamp`; it may still turn out to be damaged.
    fn has(&self, stamp: Fingerprint) -> bool;
    /// Sets `bytes` aside. Failing to is no error: the tile is computed again when it is needed.
    fn put(&self, stamp: Fingerprint, bytes: &[u8]);
}

/// Is told how the work goes on, and may stop it.
pub trait Watch: Sync {
    /// `done` of `total` parts of `stage` are done.
    fn progress(&self, stage: &str, done: usize, total: usize);
    /// Whether to stop.
    fn cancelled(&self) -> bool;
}

/// Keeps nothing.
#[derive(Debug, Clone, Copy, Default)]
pub struct NoScratch;

impl Scratch for NoScratch {
    fn get(&self, _stamp: Fingerprint) -> Option<Vec<u8>> {
        None
    }

    fn has(&self, _stamp: Fingerprint) -> bool {
        false
    }

    fn put(&self, _stamp: Fingerprint, _bytes: &[u8]) {}
}

/// Says nothing and never stops.
#[derive(Debug, Clone, Copy, Default)]
pub struct NoWatch;

impl Watch for NoWatch {
    fn progress(&self, _stage: &str, _done: usize, _total: usize) {}

    fn cancelled(&self) -> bool {
        false
    }
}

/// A frame whose samples could not be had.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{message}")]
pub struct SourceError {
    /// What happened, to which file, what to do.
    pub message: String,
}

/// Why a picture could not be computed.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum EngineError {
    /// It was stopped.
    #[error("stopped")]
    Cancelled,
    /// A source could not be read.
    #[error(transparent)]
    Source(#[from] SourceError),
    /// Frames of one stack differ in size.
    #[error(
        "{file} is {found} px, but the reference frame of its stack is {wanted} px: leave it out, or shoot it again"
    )]
    OtherSize {
        /// The frame's file.
        file: String,
        /// Its size, as `6000 x 4000`.
        found: String,
        /// The reference frame's size.
        wanted: String,
    },
    /// A frame could not be registered.
    #[error(
        "{file} could not be registered to {reference}: they may not show the same pose; leave it out, or shoot it again"
    )]
    NotRegistered {
        /// The frame's file.
        file: String,
        /// The file it was to be registered to.
        reference: String,
    },
    /// The recipe cannot be followed.
    #[error("plate '{plate}': {why}")]
    Plate {
        /// The plate's name.
        plate: String,
        /// What is wrong and what to do.
        why: String,
    },
    /// Something the plan relies on was not recorded; a fault of the program.
    #[error("plate {0} was not prepared for computing (please report this)")]
    NotPrepared(PlateId),
    /// Tiles could not be kept long enough.
    #[error(
        "the memory given is too small for this scene: give more, or make room in the scratch folder"
    )]
    OutOfStore,
}
