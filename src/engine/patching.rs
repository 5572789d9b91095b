//! What a change of a mask touches, computed by itself: shown while the pointer is down, until the exact tiles are there.
//!
//! Nothing of it is kept, and a tile that was patched is always made anew.

use crate::engine::masks;
use crate::engine::plate_tiles::{Place, PlatePlan, Stage};
use crate::engine::{Engine, EngineError, World};
use crate::geometry::{Rect, TileIndex};
use crate::pixels::Image;
use crate::project::{Mask, MaskId, MaskPart, Plate, PlateId, Project, Shape, Sign, StepKind};
use rayon::prelude::*;
use std::sync::Arc;

/// A change of what is drawn in masks of one plate, and of nothing else.
#[derive(Debug, Clone, PartialEq)]
pub struct MaskChange {
    pub(super) plate: PlateId,
    pub(super) masks: Vec<MaskId>,
    /// Pixels of the plate at full size that it can touch.
    pub(super) area: Rect,
}

/// Points at the end of a stroke under way that may still move its line.
const STROKE_END: usize = 3;

impl MaskChange {
    /// What changed from `before` to `after`; `None` where that is anything else, or reaches farther than where it was drawn.
    #[must_use]
    pub fn between(before: &Project, after: &Project) -> Option<Self> {
        let else_still = before.canvas == after.canvas
            && before.finish == after.finish
            && all_same(&before.frames, &after.frames)
            && all_same(&before.placements, &after.placements)
            && before.plates.len() == after.plates.len();
        if !else_still {
            return None;
        }
        let plates = before.plates.iter().zip(&after.plates);
        let mut changed = plates.filter(|(old, new)| !Arc::ptr_eq(old, new));
        let (old, new) = changed.next()?;
        if changed.next().is_some() || !same_but_for_masks(old, new) {
            return None;
        }
        let mut found: Option<Self> = None;
        for (old, new_mask) in old.masks.iter().zip(&new.masks) {
            if Arc::ptr_eq(old, new_mask) {
                continue;
            }
            if reaches_farther(new, new_mask.id) {
                return None;
            }
            let area = changed_area(old, new_mask)?;
            let found = found.get_or_insert_with(|| Self {
                plate: new.id,
                masks: Vec::new(),
                area,
            });
            found.area = found.area.union(area);
            found.masks.push(new_mask.id);
        }
        found
    }
}

fn all_same<T>(before: &[Arc<T>], after: &[Arc<T>]) -> bool {
    let mut pairs = before.iter().zip(after);
    before.len() == after.len() && pairs.all(|(old, new)| Arc::ptr_eq(old, new))
}

fn same_but_for_masks(before: &Plate, after: &Plate) -> bool {
    let Plate {
        id,
        name: _,
        size,
        passes,
        variants,
        current,
        masks,
        groups,
        steps,
    } = before;
    (*id, *size, *current) == (after.id, after.size, after.current)
        && masks.len() == after.masks.len()
        && *passes == after.passes
        && all_same(variants, &after.variants)
        && *groups == after.groups
        && *steps == after.steps
}

/// Whether a mask acts beyond its own pixels: through another mask, on how a stack is joined, or under what looks about.
fn reaches_farther(plate: &Plate, id: MaskId) -> bool {
    let guides = plate.variants.iter().filter_map(|variant| variant.stack());
    plate
        .masks
        .iter()
        .any(|mask| mask.masks_used().any(|used| used == id))
        || guides
            .flat_map(|stack| &stack.guides)
            .any(|guide| guide.mask == id)
        || plate.steps.iter().filter(|step| step.on).any(|step| {
            matches!(
                step.kind,
                StepKind::Spotting(_) | StepKind::PaintOut(_) | StepKind::Warp(_)
            )
        })
}

fn changed_area(before: &Mask, after: &Mask) -> Option<Rect> {
    let empty = |mask: &Mask| {
        let mut empty = mask.clone();
        empty.parts.clear();
        empty
    };
    if empty(before) != empty(after) {
        return None;
    }
    let same = |(old, new): &(&Arc<MaskPart>, &Arc<MaskPart>)| Arc::ptr_eq(old, new);
    let (old, new) = (&before.parts, &after.parts);
    let first = old.iter().zip(new).take_while(same).count();
    let rest = old.len().min(new.len()) - first;
    let backwards = old.iter().rev().zip(new.iter().rev());
    let last = backwards.take(rest).take_while(same).count();
    let between = |mask: &Mask| -> Vec<Arc<MaskPart>> {
        let count = mask.parts.len() - first - last;
        mask.parts.iter().skip(first).take(count).cloned().collect()
    };
    let (old, new) = (between(before), between(after));
    let touched = match (old.as_slice(), new.as_slice()) {
        ([short], [long]) => match end_of_stroke(short, long) {
            Some(end) => vec![Arc::new(end)],
            None => vec![Arc::clone(short), Arc::clone(long)],
        },
        _several => old.into_iter().chain(new).collect(),
    };
    let mut area: Option<Rect> = None;
    for part in &touched {
        // Outside of what keeps only what is within, everything changes.
        if part.sign == Sign::Within {
            return None;
        }
        let bounds = masks::bounds(part)?;
        area = Some(area.map_or(bounds, |area| area.union(bounds)));
    }
    area.map(|area| area.grow(masks::reach_px(after) + 1))
}

/// The stroke along which `long` goes on where `short` ended; `None` where it is not the same stroke drawn farther.
fn end_of_stroke(short: &MaskPart, long: &MaskPart) -> Option<MaskPart> {
    let Shape::Stroke { points: old, .. } = &short.shape else {
        return None;
    };
    let goes_on = stroke_from(long, 0, old.len()).as_ref() == Some(short);
    let first = old.len().saturating_sub(STROKE_END);
    stroke_from(long, first, usize::MAX).filter(|_end| goes_on)
}

/// Points `first` to `end` (left out) of a stroke, as a stroke of its own; `None` for what is no stroke.
fn stroke_from(part: &MaskPart, first: usize, end: usize) -> Option<MaskPart> {
    let mut some = part.clone();
    let Shape::Stroke {
        points, pressure, ..
    } = &mut some.shape
    else {
        return None;
    };
    points.truncate(end);
    points.drain(..first.min(points.len()));
    pressure.truncate(end);
    pressure.drain(..first.min(pressure.len()));
    Some(some)
}

impl Engine {
    /// The part of one tile of a plate at `stage` that `change` touches; `None` where only the whole tile can be made.
    ///
    /// # Errors
    /// When a whole picture's tiles are not kept any more.
    pub fn patch_plate(
        &self,
        world: &World<'_>,
        (plan, stage): (&PlatePlan, Stage),
        (level, index): (u32, TileIndex),
        change: &MaskChange,
    ) -> Result<Option<Image>, EngineError> {
        if plan.plate.id != change.plate || plan.acts_beyond(change) {
            return Ok(None);
        }
        let tile = self.grid(plan.size, level).rect(index);
        let rect = at_level(change.area, level).intersect(tile);
        let count = plan.operations_until(stage);
        let begun = self.begun(world, (plan, count), (level, rect), change)?;
        in_bands(rect, |band| {
            self.gone_on(world, (plan, count), (level, band), &begun)
        })
        .map(Some)
    }

    /// The pixels of `rect` of a plate at `level` after as many of its operations as tiles are kept of: of the first `count`, and of those
    /// before the first that acts through what changed.
    pub(super) fn begun(
        &self,
        world: &World<'_>,
        (plan, count): (&PlatePlan, usize),
        (level, rect): (u32, Rect),
        change: &MaskChange,
    ) -> Result<Begun, EngineError> {
        let tiles = self.grid(plan.size, level).covering(rect);
        let places: Vec<Place> = tiles
            .iter()
            .map(|index| self.place(plan, level, *index))
            .collect();
        let kept = |done: usize| {
            let tiles = places.iter().map(|place| self.kept_tile(plan, done, place));
            tiles.collect::<Option<Vec<_>>>()
        };
        let there = (1..=plan.unchanged_by(change, count))
            .rev()
            .find_map(|done| Some((done, kept(done)?)));
        let (done, tiles) = match there {
            Some(there) => there,
            None => {
                let base = places
                    .iter()
                    .map(|place| self.tile_after(world, plan, 0, place));
                (0, base.collect::<Result<Vec<_>, _>>()?)
            }
        };
        let mut region = Image::empty(rect);
        tiles.iter().for_each(|tile| region.paste(tile));
        Ok(Begun { done, region })
    }

    /// The pixels of `rect`, which lies in what was begun, after the first `count` operations.
    pub(super) fn gone_on(
        &self,
        world: &World<'_>,
        (plan, count): (&PlatePlan, usize),
        (level, rect): (u32, Rect),
        begun: &Begun,
    ) -> Result<Image, EngineError> {
        let index = self.grid(plan.size, level).covering(rect);
        let mut region = begun.region.crop(rect);
        let Some(first) = index.first() else {
            return Ok(region);
        };
        let place = Place {
            rect,
            ..self.place(plan, level, *first)
        };
        for operation in begun.done..count {
            region = self.operate(world, (plan, operation), (Arc::new(region), &place))?;
        }
        Ok(region)
    }
}

/// A part of a plate after its first `done` operations.
pub(super) struct Begun {
    done: usize,
    region: Image,
}

/// Rows of a patch that are made in one go, at most.
const BAND_ROWS: i32 = 64;

/// Makes `rect` in bands of rows on several threads.
pub(super) fn in_bands(
    rect: Rect,
    make: impl Fn(Rect) -> Result<Image, EngineError> + Sync,
) -> Result<Image, EngineError> {
    let height = rect.y1 - rect.y0;
    let count = (height + BAND_ROWS - 1) / BAND_ROWS;
    let top = |band: i32| rect.y0 + height * band / count;
    let bands = (0..count).into_par_iter().map(|band| {
        let (y0, y1) = (top(band), top(band + 1));
        make(Rect { y0, y1, ..rect })
    });
    let bands: Vec<Image> = bands.collect::<Result<_, _>>()?;
    let mut out = Image::empty(rect);
    bands.iter().for_each(|band| out.paste(band));
    Ok(out)
}

/// The pixels at `level` that `area`, at full size, can touch.
pub(super) fn at_level(area: Rect, level: u32) -> Rect {
    let level = level.min(20);
    Rect::new(
        area.x0 >> level,
        area.y0 >> level,
        (area.x1 >> level) + 1,
        (area.y1 >> level) + 1,
    )
    .grow(1)
}
