//! Whole pictures: fused stacks, separated lights, silhouettes, glows. Computed once, kept as tiles of every zoom level.

mod kept;
mod plans;

pub use plans::{bare, fused, guided, joined_like, light, one_frame, quiet, silhouette};
pub(super) use plans::{cut, glared};

use crate::engine::adapt;
use crate::engine::cutting::CutPlan;
use crate::engine::frames::{StackPlan, TakePlan};
use crate::engine::fusing::{
    depth_image, fuse_stack, joined, map_of, step, unveil, unveiled_image,
};
use crate::engine::masks::MaskPlan;
use crate::engine::stamp::Stamp;
use crate::engine::store::unpack;
use crate::engine::{Engine, EngineError, World, guided, passes};
use crate::geometry::{Rect, Size, TileIndex};
use crate::imaging::lights::lay::{self, Glare};
use crate::pixels::Image;
use crate::project::Fingerprint;
use std::sync::{Arc, PoisonError};

/// How to compute one whole picture.
#[derive(Debug, Clone)]
pub struct WholePlan {
    /// Stamp of everything it depends on.
    pub stamp: Fingerprint,
    size: Size,
    what: What,
}

#[derive(Debug, Clone)]
enum What {
    Fused(Arc<StackPlan>),
    /// A fused stack with near parts' blur taken off what is behind them.
    Unveiled {
        of: Box<WholePlan>,
        stack: Arc<StackPlan>,
    },
    /// A fused stack with what people say about joining its frames in some places.
    Guided {
        of: Box<WholePlan>,
        stack: Arc<StackPlan>,
        guides: Vec<guided::GuidePlan>,
    },
    /// The frames of a fused stack joined again, by the depth of another one of the same pose.
    JoinedLike {
        of: Box<WholePlan>,
        like: Box<WholePlan>,
        stack: Arc<StackPlan>,
    },
    /// Frames of a pass, fused with the depth of the unlit stack they belong to.
    Pass {
        unlit: Box<WholePlan>,
        stack: Arc<StackPlan>,
        take: Arc<TakePlan>,
    },
    /// Separated light with its noise shrunk.
    Quiet {
        of: Box<WholePlan>,
        unlit: Box<WholePlan>,
        strength: f32,
    },
    Glare {
        of: Box<WholePlan>,
        mask: Option<Arc<MaskPlan>>,
        glare: Glare,
        level: u32,
    },
    /// A matte's coverage with the backdrop's light.
    Cut(Box<CutPlan>),
}

/// What is kept of a whole picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Product {
    /// Light and coverage.
    Picture,
    /// Frame number in focus order, confidence, the frame mostly taken, coverage. Fused stacks only.
    Depth,
    /// Variance of red, green and blue, share of saturation. Separated light only; at full size only.
    Noise,
}

impl WholePlan {
    /// Fingerprint of one of its tiles.
    #[must_use]
    pub fn tile_stamp(&self, product: Product, level: u32, index: TileIndex) -> Fingerprint {
        Stamp::new(match product {
            Product::Picture => "picture",
            Product::Depth => "depth",
            Product::Noise => "noise",
        })
        .input(self.stamp)
        .number(u64::from(level))
        .number(u64::from(index.x))
        .number(u64::from(index.y))
        .done()
    }

    /// How much of the key light the frames of a pass hold, per channel; 1 for anything else.
    #[must_use]
    pub fn key_rgb(&self) -> [f32; 3] {
        match &self.what {
            What::Pass { take, .. } => take.key_rgb(),
            What::Fused(_)
            | What::Unveiled { .. }
            | What::Guided { .. }
            | What::JoinedLike { .. }
            | What::Quiet { .. }
            | What::Glare { .. }
            | What::Cut(_) => [1.0; 3],
        }
    }

    /// Its width and height.
    pub(super) const fn size(&self) -> Size {
        self.size
    }

    /// How many frames a fused stack is joined from; 0 for anything else.
    pub(super) fn frame_count(&self) -> usize {
        match &self.what {
            What::Fused(stack) | What::Unveiled { stack, .. } | What::Guided { stack, .. } => {
                stack.frames.len()
            }
            What::JoinedLike { .. }
            | What::Pass { .. }
            | What::Quiet { .. }
            | What::Glare { .. }
            | What::Cut(_) => 0,
        }
    }

    /// The fused unlit stack that a pass belongs to.
    pub(super) fn unlit(&self) -> Option<&Self> {
        match &self.what {
            What::Pass { unlit, .. } | What::Quiet { unlit, .. } => Some(unlit),
            What::Glare { of, .. } => of.unlit(),
            What::Fused(_)
            | What::Unveiled { .. }
            | What::Guided { .. }
            | What::JoinedLike { .. }
            | What::Cut(_) => None,
        }
    }

    fn needs(&self) -> Vec<&Self> {
        match &self.what {
            What::Fused(_) => Vec::new(),
            What::Unveiled { of, .. } | What::Guided { of, .. } => vec![of],
            What::JoinedLike { of, like, .. } => vec![of, like],
            What::Pass { unlit, .. } => vec![unlit],
            What::Quiet { of, unlit, .. } => vec![unlit, of],
            What::Glare { of, mask, .. } => {
                let looks = mask.iter().flat_map(|mask| mask.wholes());
                looks.chain([of.as_ref()]).collect()
            }
            What::Cut(cut) => cut.needs(),
        }
    }
}

/// A whole picture just computed.
struct Computed {
    picture: Image,
    more: Option<(Product, Image)>,
}

impl Engine {
    /// Computes a whole picture and those it needs, unless they are there already.
    ///
    /// Never called from work that is shared out over the thread pool: a thread that waits here for the one that computes may hold,
    /// further up its stack, a piece of the very picture that is computed, and both would wait for ever.
    ///
    /// # Errors
    /// When a source cannot be read, or the work was stopped.
    pub fn ensure_whole(&self, world: &World<'_>, plan: &WholePlan) -> Result<(), EngineError> {
        for needed in plan.needs() {
            self.ensure_whole(world, needed)?;
        }
        // One at a time: each uses all threads, and none is computed twice at once.
        let _computing = self
            .computing
            .lock()
            .unwrap_or_else(PoisonError::into_inner);
        if self.has_whole(world.scratch, plan) {
            self.store.count(|counts| counts.wholes_reused += 1);
            return Ok(());
        }
        let computed = self.compute_whole(world, plan)?;
        let mut whole = vec![(Product::Picture, computed.picture)];
        whole.extend(computed.more);
        self.keep_whole(world, plan, whole);
        self.store.count(|counts| {
            counts.wholes_run += 1;
            *counts.wholes_run_of.entry(plan.stamp).or_default() += 1;
        });
        Ok(())
    }

    /// Runs `work`; if tiles of whole pictures were lost meanwhile, computes them again and tries once more.
    pub(super) fn with_wholes<T>(
        &self,
        prepare: impl Fn() -> Result<(), EngineError>,
        work: impl Fn() -> Result<T, EngineError>,
    ) -> Result<T, EngineError> {
        for _attempt in 0..2 {
            prepare()?;
            match work() {
                Err(EngineError::OutOfStore) => {
                    self.known_wholes().clear();
                }
                settled => return settled,
            }
        }
        Err(EngineError::OutOfStore)
    }

    /// One tile of a whole picture that was computed before.
    ///
    /// # Errors
    /// [`EngineError::OutOfStore`] when it is not kept any more.
    pub(super) fn whole_tile(
        &self,
        world: &World<'_>,
        plan: &WholePlan,
        product: Product,
        (level, index): (u32, TileIndex),
    ) -> Result<Arc<Image>, EngineError> {
        let stamp = self.sided(plan.tile_stamp(product, level, index));
        if let Some(tile) = self.store.get(stamp) {
            return Ok(tile);
        }
        let rect = self.grid(plan.size, level).rect(index);
        let bytes = world.scratch.get(stamp).ok_or(EngineError::OutOfStore)?;
        let tile = Arc::new(unpack(rect, &bytes).ok_or(EngineError::OutOfStore)?);
        self.store.put(stamp, Arc::clone(&tile));
        Ok(tile)
    }

    /// The part of a whole picture inside `rect` at `level`.
    pub(super) fn whole_area(
        &self,
        world: &World<'_>,
        plan: &WholePlan,
        product: Product,
        (level, rect): (u32, Rect),
    ) -> Result<Image, EngineError> {
        let mut area = Image::empty(rect);
        for index in self.grid(plan.size, level).covering(rect) {
            area.paste(&*self.whole_tile(world, plan, product, (level, index))?);
        }
        Ok(area)
    }

    /// A whole picture at full size, computed if need be.
    pub(super) fn whole_picture(
        &self,
        world: &World<'_>,
        plan: &WholePlan,
    ) -> Result<Image, EngineError> {
        self.with_wholes(
            || self.ensure_whole(world, plan),
            || self.whole_area(world, plan, Product::Picture, (0, plan.size.rect())),
        )
    }

    fn fused(
        &self,
        world: &World<'_>,
        size: Size,
        stack: &StackPlan,
    ) -> Result<Computed, EngineError> {
        let fused = fuse_stack(world, size, stack, &self.last_depth)?;
        Ok(Computed {
            picture: adapt::image_of(&fused.planes, &fused.coverage),
            more: Some((Product::Depth, depth_image(&fused))),
        })
    }

    fn compute_whole(&self, world: &World<'_>, plan: &WholePlan) -> Result<Computed, EngineError> {
        match &plan.what {
            What::Cut(cut) => Ok(Computed {
                picture: self.cut(world, cut, plan.size.rect())?,
                more: None,
            }),
            What::Fused(stack) => self.fused(world, plan.size, stack),
            What::Unveiled { of, stack } => self.unveiled(world, of, stack),
            What::Guided { of, stack, guides } => {
                let all = (0, plan.size.rect());
                let before = guided::Before {
                    picture: self.whole_area(world, of, Product::Picture, all)?,
                    depth: self.whole_area(world, of, Product::Depth, all)?,
                };
                let after = self.guide(world, stack, guides, before)?;
                Ok(Computed {
                    picture: after.picture,
                    more: Some((Product::Depth, after.depth)),
                })
            }
            What::JoinedLike { of, like, stack } => self.joined_like(world, [of, like], stack),
            What::Pass { unlit, stack, take } => {
                let depth = self.whole_area(world, unlit, Product::Depth, (0, plan.size.rect()))?;
                let pass = passes::compute(world, plan.size, stack, (take, &depth))?;
                Ok(Computed {
                    picture: pass.picture,
                    more: pass.noise.map(|noise| (Product::Noise, noise)),
                })
            }
            What::Quiet {
                of,
                unlit,
                strength,
            } => {
                let all = (0, plan.size.rect());
                let light = self.whole_area(world, of, Product::Picture, all)?;
                let noise = self.whole_area(world, of, Product::Noise, all)?;
                let guide = self.whole_area(world, unlit, Product::Picture, all)?;
                step(world, "quietening light", 0, 1)?;
                Ok(Computed {
                    picture: passes::quietened((&light, &noise), &guide, *strength),
                    more: None,
                })
            }
            What::Glare {
                of,
                mask,
                glare,
                level,
            } => {
                let all = plan.size.rect();
                let light = self.whole_area(world, of, Product::Picture, (*level, all))?;
                let mask = self.draw_mask(world, mask.as_deref(), all, *level)?;
                step(world, "glare", 0, 1)?;
                Ok(Computed {
                    picture: lay::with_glare(&light, mask.as_ref(), glare),
                    more: None,
                })
            }
        }
    }
}

impl Engine {
    /// `of`, the fused `stack`, with near parts' blur taken off what is behind them.
    fn unveiled(
        &self,
        world: &World<'_>,
        of: &WholePlan,
        stack: &StackPlan,
    ) -> Result<Computed, EngineError> {
        let all = (0, of.size.rect());
        let picture = self.whole_area(world, of, Product::Picture, all)?;
        let depth = self.whole_area(world, of, Product::Depth, all)?;
        let map = map_of(&depth, stack.frames.len());
        Ok(Computed {
            picture: unveiled_image(world, stack, &map, &picture)?,
            more: Some((Product::Depth, depth)),
        })
    }

    /// The frames of `stack`, which was fused as `of`, joined by the depth of `like`.
    fn joined_like(
        &self,
        world: &World<'_>,
        [of, like]: [&WholePlan; 2],
        stack: &StackPlan,
    ) -> Result<Computed, EngineError> {
        let all = of.size.rect();
        let map = |plan: &WholePlan| {
            let depth = self.whole_area(world, plan, Product::Depth, (0, all))?;
            Ok::<_, EngineError>(map_of(&depth, plan.frame_count()))
        };
        let map = map(like)?.in_frames_of(&map(of)?);
        let mut fused = joined(world, stack, (&map, all, all))?;
        if stack.fuse.unveil {
            unveil(world, stack, &map, &mut fused.planes)?;
        }
        Ok(Computed {
            picture: adapt::image_of(&fused.planes, &fused.coverage),
            more: None,
        })
    }
}
