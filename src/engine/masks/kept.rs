//! Masks as far as they are drawn, kept tile by tile: the next stroke is drawn over what is there, however many lie under it.

use crate::geometry::TileIndex;
use crate::pixels::Plane;
use crate::project::{Fingerprint, MaskId, MaskPart};
use std::collections::VecDeque;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Tiles that are kept, at most: those under a window of four megapixels.
const TILES: usize = 64;

/// A part that was drawn, and what it looks at.
pub(super) type Drawn = (Arc<MaskPart>, Option<Fingerprint>);

/// A tile of a mask.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct MaskTile {
    pub(super) mask: MaskId,
    pub(super) level: u32,
    pub(super) index: TileIndex,
    /// Pixels about the tile that are drawn too.
    pub(super) margin_px: i32,
}

/// The tiles drawn last.
#[derive(Debug, Default)]
pub(in crate::engine) struct KeptMasks(Mutex<VecDeque<Kept>>);

#[derive(Debug)]
struct Kept {
    tile: MaskTile,
    parts: Vec<Drawn>,
    plane: Arc<Plane>,
}

impl KeptMasks {
    /// How many of `parts` are drawn in a tile, and what they give; `None` where none are.
    pub(super) fn begun(&self, tile: MaskTile, parts: &[Drawn]) -> Option<(usize, Arc<Plane>)> {
        let kept = self.lock();
        let kept = kept.iter().find(|kept| kept.tile == tile)?;
        let count = kept.parts.len();
        let first = parts.get(..count)?;
        let same = |(a, b): (&Drawn, &Drawn)| Arc::ptr_eq(&a.0, &b.0) && a.1 == b.1;
        let all_same = kept.parts.iter().zip(first).all(same);
        all_same.then(|| (count, Arc::clone(&kept.plane)))
    }

    /// Keeps what `parts` give in a tile.
    pub(super) fn keep(&self, tile: MaskTile, parts: &[Drawn], plane: Arc<Plane>) {
        let mut all = self.lock();
        all.retain(|kept| kept.tile != tile);
        all.truncate(TILES - 1);
        let parts = parts.to_vec();
        all.push_front(Kept { tile, parts, plane });
    }

    /// A panic in another thread leaves the tiles whole: every change is complete before the lock is let go.
    fn lock(&self) -> MutexGuard<'_, VecDeque<Kept>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
