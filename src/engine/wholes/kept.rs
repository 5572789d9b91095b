//! Which whole pictures are there, and the tiles that they are kept in.

use super::{Product, What, WholePlan};
use crate::engine::stamp::Stamp;
use crate::engine::store::pack;
use crate::engine::{Engine, Scratch, World};
use crate::imaging::basics::pyramid;
use crate::pixels::Image;
use crate::project::Fingerprint;
use std::collections::BTreeSet;
use std::sync::{Arc, MutexGuard, PoisonError};

/// Every product, in the order that a whole picture says in what it was kept.
const PRODUCTS: [Product; 3] = [Product::Picture, Product::Depth, Product::Noise];

impl Engine {
    /// Whether a whole picture is there. Never waits for one that is being computed.
    pub(in crate::engine) fn has_whole(&self, scratch: &dyn Scratch, plan: &WholePlan) -> bool {
        let key = self.whole_key(plan);
        if self.known_wholes().contains(&key) {
            return true;
        }
        // The scratch folder may have made room since: what it says of a whole picture outlives some of its tiles.
        let kept = scratch
            .get(key)
            .is_some_and(|products| self.holds_tiles(scratch, plan, &products));
        if kept {
            self.known_wholes().insert(key);
        }
        kept
    }

    pub(super) fn known_wholes(&self) -> MutexGuard<'_, BTreeSet<Fingerprint>> {
        self.wholes.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Keeps the tiles of a whole picture, and that it is there.
    pub(super) fn keep_whole(
        &self,
        world: &World<'_>,
        plan: &WholePlan,
        whole: Vec<(Product, Image)>,
    ) {
        let key = self.whole_key(plan);
        let mut products = Vec::new();
        for (product, image) in whole {
            products.extend(place_of(product));
            self.keep_tiles(world, plan, product, image);
        }
        world.scratch.put(key, &products);
        self.known_wholes().insert(key);
    }

    /// What a whole picture is known by.
    pub(in crate::engine) fn whole_key(&self, plan: &WholePlan) -> Fingerprint {
        self.sided(plan.stamp)
    }

    /// Tiles of another size are other tiles.
    pub(super) fn sided(&self, stamp: Fingerprint) -> Fingerprint {
        Stamp::new("tile side")
            .input(stamp)
            .number(u64::from(self.tile_side()))
            .done()
    }

    fn keep_tiles(&self, world: &World<'_>, plan: &WholePlan, product: Product, whole: Image) {
        let mut picture = whole;
        for level in 0.. {
            let grid = self.grid(plan.size, level);
            for index in grid.tiles() {
                let tile = picture.crop(grid.rect(index));
                let stamp = self.sided(plan.tile_stamp(product, level, index));
                world.scratch.put(stamp, &pack(&tile));
                self.store.put(stamp, Arc::new(tile));
            }
            if self.is_last(plan, level) {
                return;
            }
            picture = pyramid::halve(&picture);
        }
    }

    /// Whether the scratch folder holds every tile of the products that a whole picture was kept in.
    fn holds_tiles(&self, scratch: &dyn Scratch, plan: &WholePlan, products: &[u8]) -> bool {
        let product = |place: &u8| PRODUCTS.get(usize::from(*place)).copied();
        !products.is_empty()
            && products.iter().map(product).all(|product| {
                product.is_some_and(|product| self.holds_tiles_of(scratch, plan, product))
            })
    }

    fn holds_tiles_of(&self, scratch: &dyn Scratch, plan: &WholePlan, product: Product) -> bool {
        for level in 0.. {
            let held = self
                .grid(plan.size, level)
                .tiles()
                .all(|index| scratch.has(self.sided(plan.tile_stamp(product, level, index))));
            if !held || self.is_last(plan, level) {
                return held;
            }
        }
        false
    }

    /// Whether no smaller copy is kept.
    fn is_last(&self, plan: &WholePlan, level: u32) -> bool {
        let grid = self.grid(plan.size, level);
        let is_point = grid.size.width == 1 && grid.size.height == 1;
        is_point || matches!(plan.what, What::Glare { .. })
    }
}

fn place_of(product: Product) -> Option<u8> {
    let place = PRODUCTS.iter().position(|other| *other == product)?;
    u8::try_from(place).ok()
}
