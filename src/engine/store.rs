//! Computed tiles in memory, within a byte budget; the least recently used go first.

use crate::geometry::Rect;
use crate::pixels::Image;
use crate::project::{Fingerprint, PlateId};
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// What the engine did so far.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Counts {
    /// Tiles of plates that were computed.
    pub plate_tiles_run: usize,
    /// Tiles of plates that were there already.
    pub plate_tiles_reused: usize,
    /// Tiles of the scene that were computed.
    pub scene_tiles_run: usize,
    /// Tiles of the scene that were there already.
    pub scene_tiles_reused: usize,
    /// Whole pictures (fused stacks, separated lights) that were computed.
    pub wholes_run: usize,
    /// Whole pictures that were there already.
    pub wholes_reused: usize,
    /// How often each whole picture was computed.
    pub wholes_run_of: BTreeMap<Fingerprint, usize>,
    /// How many tiles each operation of each plate computed; operation 0 is a made plate's own picture.
    pub tiles_run_of: BTreeMap<(PlateId, usize), usize>,
}

/// Tiles by fingerprint.
#[derive(Debug)]
pub struct TileStore {
    budget: usize,
    inner: Mutex<Inner>,
}

#[derive(Debug, Default)]
struct Inner {
    tiles: BTreeMap<Fingerprint, Kept>,
    /// Which tile was used when; the smallest is the oldest.
    ages: BTreeMap<u64, Fingerprint>,
    clock: u64,
    bytes: usize,
    counts: Counts,
}

#[derive(Debug)]
struct Kept {
    tile: Arc<Image>,
    age: u64,
}

impl TileStore {
    /// An empty store that keeps up to `budget` bytes.
    #[must_use]
    pub fn new(budget: usize) -> Self {
        Self {
            budget,
            inner: Mutex::new(Inner::default()),
        }
    }

    /// The tile with this fingerprint, if it is kept.
    #[must_use]
    pub fn get(&self, stamp: Fingerprint) -> Option<Arc<Image>> {
        let mut inner = self.lock();
        inner.clock += 1;
        let now = inner.clock;
        let kept = inner.tiles.get_mut(&stamp)?;
        let before = std::mem::replace(&mut kept.age, now);
        let tile = Arc::clone(&kept.tile);
        inner.ages.remove(&before);
        inner.ages.insert(now, stamp);
        Some(tile)
    }

    /// Keeps a tile, making room if needed.
    pub fn put(&self, stamp: Fingerprint, tile: Arc<Image>) {
        let mut inner = self.lock();
        inner.clock += 1;
        let age = inner.clock;
        inner.bytes += bytes_of(&tile);
        if let Some(old) = inner.tiles.insert(stamp, Kept { tile, age }) {
            inner.bytes -= bytes_of(&old.tile);
            inner.ages.remove(&old.age);
        }
        inner.ages.insert(age, stamp);
        while inner.bytes > self.budget && inner.tiles.len() > 1 {
            let Some((_age, oldest)) = inner.ages.pop_first() else {
                break;
            };
            if let Some(gone) = inner.tiles.remove(&oldest) {
                inner.bytes -= bytes_of(&gone.tile);
            }
        }
    }

    /// Keeps a tile where there is room for it without letting another one go.
    pub fn put_beside(&self, stamp: Fingerprint, tile: Arc<Image>) {
        let room = self.lock().bytes + bytes_of(&tile) <= self.budget;
        if room {
            self.put(stamp, tile);
        }
    }

    /// What was counted so far.
    #[must_use]
    pub fn counts(&self) -> Counts {
        self.lock().counts.clone()
    }

    /// Adds to the counts.
    pub fn count(&self, add: impl FnOnce(&mut Counts)) {
        add(&mut self.lock().counts);
    }

    /// A panic in another thread leaves the store whole: every change is complete before the lock is let go.
    fn lock(&self) -> MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

fn bytes_of(tile: &Image) -> usize {
    tile.data.len() * 16 + 64
}

/// A tile as bytes.
pub(super) fn pack(tile: &Image) -> Vec<u8> {
    tile.data
        .iter()
        .flatten()
        .flat_map(|value| value.to_le_bytes())
        .collect()
}

/// The tile that [`pack`] made these bytes of, if they are as many as `rect` needs.
pub(super) fn unpack(rect: Rect, bytes: &[u8]) -> Option<Image> {
    if bytes.len() != rect.area() * 16 {
        return None;
    }
    let value = |bytes: &[u8]| f32::from_le_bytes([bytes[0], bytes[1], bytes[2], bytes[3]]);
    let data = bytes.chunks_exact(16).map(|pixel| {
        [
            value(&pixel[0..4]),
            value(&pixel[4..8]),
            value(&pixel[8..12]),
            value(&pixel[12..16]),
        ]
    });
    Some(Image {
        rect,
        data: data.collect(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;

    #[test]
    fn the_least_recently_used_goes_first() {
        let tile = || Arc::new(Image::empty(Rect::new(0, 0, 8, 8)));
        let store = TileStore::new(2 * bytes_of(&tile()));
        let stamp = |number: u8| Fingerprint([number; 16]);
        store.put(stamp(1), tile());
        store.put(stamp(2), tile());
        assert!(store.get(stamp(1)).is_some(), "kept");
        store.put(stamp(3), tile());
        assert!(store.get(stamp(2)).is_none(), "the oldest went");
        assert!(
            store.get(stamp(1)).is_some() && store.get(stamp(3)).is_some(),
            "the others stay"
        );
    }
}
