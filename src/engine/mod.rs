//! Floor 4: turns a project into pixels, tile by tile, with a cache, progress and cancel.
//!
//! Deliberately absent: paths, file formats, the clock. What lies outside comes through the two traits of [`ports`].
//!
//! A step is one of three kinds. *Measure*: reads whole inputs, gives a small value, which is recorded in the project and from
//! then on used as recorded ([`measure`]). *Whole*: reads whole inputs, streamed frame by frame, gives a whole picture, kept as
//! tiles in the store and set aside through [`Scratch`] ([`wholes`]). *Local*: a tile is computed from the area of its inputs
//! it needs ([`plate_tiles`], [`scene_tiles`]).
//!
//! Every tile has a [`Fingerprint`](crate::project::Fingerprint) of all it depends on. A step that does not touch a tile passes
//! its input's fingerprint through, so that a small change renews only what lies under it and above.

mod adapt;
mod ahead;
mod arriving;
mod clipped;
mod cutting;
mod developing;
pub mod export;
pub mod frames;
mod fusing;
mod guided;
mod healing;
pub mod light_colour;
mod masks;
pub mod measure;
mod operations;
mod passes;
mod patched_scene;
pub mod patching;
pub mod plate_tiles;
pub mod ports;
pub mod scene_tiles;
pub mod seen;
mod separated;
mod sky;
pub mod stamp;
pub mod store;
pub mod view;
mod warping;
pub mod wholes;

pub use ports::{EngineError, Scratch, SourceError, Sources, Watch};
pub use separated::SeparatedLight;
pub use store::{Counts, TileStore};
pub use warping::{STRETCH_WARNS, before_warp, stretch_at, stretch_of};

use crate::geometry::{Size, TileGrid};
use crate::project::{Fingerprint, Project};
use std::collections::BTreeSet;
use std::sync::{Arc, Mutex};

/// How an engine works. Nothing here changes a pixel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Options {
    /// Side of a tile in pixels, 32..=2048.
    pub tile_side: u32,
    /// Bytes of tiles kept in memory.
    pub memory_bytes: usize,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            tile_side: 256,
            memory_bytes: 1 << 30,
        }
    }
}

/// Computes pictures of projects and keeps what it computed.
#[derive(Debug)]
pub struct Engine {
    options: Options,
    store: TileStore,
    /// Masks as far as they are drawn.
    masks: masks::KeptMasks,
    /// The whole pictures there are.
    wholes: Mutex<BTreeSet<Fingerprint>>,
    last_depth: fusing::LastDepth,
    /// Held while a whole picture is computed.
    computing: Mutex<()>,
}

/// A project ready to be computed, with the ways to its sources. Every frame in use has its content and size recorded.
#[derive(Clone)]
pub struct World<'a> {
    /// The recipe.
    pub project: Arc<Project>,
    /// Where samples come from.
    pub sources: &'a dyn Sources,
    /// Where tiles may be set aside.
    pub scratch: &'a dyn Scratch,
    /// Who is told of progress and may stop the work.
    pub watch: &'a dyn Watch,
}

impl std::fmt::Debug for World<'_> {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter
            .debug_struct("World")
            .field("project", &self.project.name)
            .finish_non_exhaustive()
    }
}

impl Engine {
    /// An engine with an empty store.
    #[must_use]
    pub fn new(options: Options) -> Self {
        let options = Options {
            tile_side: options.tile_side.clamp(32, 2048),
            ..options
        };
        Self {
            options,
            store: TileStore::new(options.memory_bytes),
            masks: masks::KeptMasks::default(),
            wholes: Mutex::new(BTreeSet::new()),
            last_depth: fusing::LastDepth::default(),
            computing: Mutex::new(()),
        }
    }

    /// Side of its tiles in pixels.
    #[must_use]
    pub const fn tile_side(&self) -> u32 {
        self.options.tile_side
    }

    /// What was computed and reused so far.
    #[must_use]
    pub fn counts(&self) -> Counts {
        self.store.counts()
    }

    fn grid(&self, size: Size, level: u32) -> TileGrid {
        TileGrid::new(size.at_level(level), self.options.tile_side)
    }
}
