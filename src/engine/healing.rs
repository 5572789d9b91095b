//! Spotting and paint-out: each place is filled once, at full size, and laid into the tiles that it reaches, at any zoom level.

use crate::engine::plate_tiles::{Place, PlatePlan};
use crate::engine::stamp::Stamp;
use crate::engine::store::{pack, unpack};
use crate::engine::wholes::{self, Product, WholePlan};
use crate::engine::{Engine, EngineError, World};
use crate::geometry::{Point, Rect, TileGrid};
use crate::imaging::basics::pyramid::halve;
use crate::imaging::{heal, mask};
use crate::pixels::convert::small_f32;
use crate::pixels::{Image, Plane};
use crate::project::{Fingerprint, Patch, PatchFrom, PatchShape, Plate, PlateId, Project};
use std::sync::Arc;

/// The places of one step.
#[derive(Debug, Clone)]
pub(super) struct HealPlan {
    patches: Vec<Arc<PatchPlan>>,
}

/// One place.
#[derive(Debug, Clone)]
struct PatchPlan {
    patch: Patch,
    part: mask::Part,
    /// What it changes, at full size.
    bounds: Rect,
    /// What it is filled from, at full size.
    needed: Rect,
    other: Option<WholePlan>,
}

impl HealPlan {
    /// Plans the places of a step.
    ///
    /// # Errors
    /// When a pass or source that it is filled from is not there.
    pub(super) fn new(
        project: &Project,
        plate: &Plate,
        patches: Vec<&Patch>,
    ) -> Result<Self, EngineError> {
        let whole = plate.size.unwrap_or_default().rect();
        let mut planned = Vec::new();
        let mut others: Vec<(PatchFrom, Option<WholePlan>)> = Vec::new();
        for patch in patches {
            let part = part_of(patch);
            let bounds = mask::bounds(&part).intersect(whole);
            if bounds.is_empty() {
                continue;
            }
            let other = match others.iter().find(|(from, _)| *from == patch.from) {
                Some((_, other)) => other.clone(),
                None => {
                    let other = other(project, plate, patch.from)?;
                    others.push((patch.from, other.clone()));
                    other
                }
            };
            planned.push(Arc::new(PatchPlan {
                needed: needed(patch, bounds).intersect(whole),
                patch: patch.clone(),
                part,
                bounds,
                other,
            }));
        }
        Ok(Self { patches: planned })
    }

    /// The whole pictures it is filled from, each once.
    pub(super) fn wholes(&self) -> Vec<&WholePlan> {
        let mut wholes: Vec<&WholePlan> = Vec::new();
        for other in self.patches.iter().filter_map(|patch| patch.other.as_ref()) {
            if wholes.iter().all(|known| known.stamp != other.stamp) {
                wholes.push(other);
            }
        }
        wholes
    }

    /// The places that reach a tile, by number.
    fn reaching(&self, place: &Place) -> impl Iterator<Item = usize> {
        let step = 1_i32 << place.level.min(20);
        let rect = place.rect;
        let wide = Rect::new(
            rect.x0.saturating_mul(step),
            rect.y0.saturating_mul(step),
            rect.x1.saturating_mul(step),
            rect.y1.saturating_mul(step),
        );
        let reaches = move |(number, patch): (usize, &Arc<PatchPlan>)| {
            (!patch.bounds.intersect(wide).is_empty()).then_some(number)
        };
        self.patches.iter().enumerate().filter_map(reaches)
    }

    /// Other places that lie in what place `number` is filled from.
    fn beside(&self, number: usize) -> impl Iterator<Item = (usize, &Arc<PatchPlan>)> {
        let needed = self.patches[number].needed;
        let others = self.patches.iter().enumerate();
        others.filter(move |(other, patch)| {
            *other != number && !patch.bounds.intersect(needed).is_empty()
        })
    }

    pub(super) fn stamp(
        &self,
        before: Fingerprint,
        of: (&PlatePlan, usize),
        place: &Place,
    ) -> Fingerprint {
        let mut reaching = self.reaching(place).peekable();
        if reaching.peek().is_none() {
            return before;
        }
        reaching
            .fold(Stamp::new("heal 1").input(before), |stamp, number| {
                stamp.input(self.patch_stamp(of, number, place.side))
            })
            .done()
    }

    /// Everything that the filling of one place depends on.
    fn patch_stamp(
        &self,
        (plan, count): (&PlatePlan, usize),
        number: usize,
        side: u32,
    ) -> Fingerprint {
        let patch = &self.patches[number];
        let Patch {
            shape,
            from,
            feather_px,
            ..
        } = &patch.patch;
        let stamp = Stamp::new("patch 1").parameters(&(shape, from, feather_px));
        let stamp = self.beside(number).fold(stamp, |stamp, (other, beside)| {
            let first = u64::from(other < number);
            stamp.number(first).parameters(&beside.patch.shape)
        });
        let stamp = patch
            .other
            .iter()
            .fold(stamp, |stamp, other| stamp.input(other.stamp));
        let grid = TileGrid::new(plan.size, side);
        grid.covering(patch.needed)
            .into_iter()
            .fold(stamp, |stamp, index| {
                let rect = grid.rect(index);
                let place = Place {
                    level: 0,
                    index,
                    rect,
                    side,
                };
                stamp.input(plan.stamp(count, &place))
            })
            .done()
    }
}

/// The whole picture that a place is filled from, if it is filled from one.
fn other(
    project: &Project,
    plate: &Plate,
    from: PatchFrom,
) -> Result<Option<WholePlan>, EngineError> {
    Ok(match from {
        PatchFrom::Surroundings | PatchFrom::Place { .. } => None,
        PatchFrom::CleanPlate { pass } => Some(wholes::bare(project, plate, pass)?),
        PatchFrom::OtherTake { variant } => {
            let variant = plate
                .variant_by_id(variant)
                .ok_or(EngineError::NotPrepared(plate.id))?;
            Some(wholes::fused(project, plate, variant)?)
        }
        PatchFrom::Frame { frame } => Some(wholes::one_frame(project, plate, frame)?),
    })
}

/// What of the plate a place is filled from.
fn needed(patch: &Patch, bounds: Rect) -> Rect {
    /// Rim along which another picture's light is brought to the plate's, px.
    const SEAM: i32 = 8;
    match patch.from {
        PatchFrom::Surroundings => heal::needed(bounds, patch.shape.radius_px()),
        PatchFrom::CleanPlate { .. } | PatchFrom::OtherTake { .. } | PatchFrom::Frame { .. } => {
            bounds.grow(SEAM)
        }
        PatchFrom::Place { offset } => {
            let rim = bounds.grow(SEAM);
            let (dx, dy) = whole_offset(offset);
            rim.union(rim.shift(dx, dy))
        }
    }
}

/// Pieces are copied from whole pixels away, so that their grain stays as it is.
fn whole_offset(offset: Point) -> (i32, i32) {
    let whole = |value: f64| crate::geometry::rect::whole(value.round());
    (whole(offset.x), whole(offset.y))
}

fn part_of(patch: &Patch) -> mask::Part {
    let stroke = |points: Vec<Point>, radius_px: f32| {
        let feather = patch.feather_px.max(0.0);
        let radius = radius_px + feather;
        mask::Shape::Stroke(mask::Stroke {
            points,
            pressure: Vec::new(),
            radius_px: radius,
            softness: feather / radius.max(1e-3),
            strength: 1.0,
        })
    };
    let shape = match &patch.shape {
        PatchShape::Dab { at, radius_px } => stroke(vec![*at], *radius_px),
        PatchShape::Line { points, width_px } => stroke(points.clone(), *width_px * 0.5),
        PatchShape::Outline { points } => mask::Shape::Outline(mask::Outline {
            nodes: points
                .iter()
                .map(|at| mask::Node {
                    at: *at,
                    arrive: None,
                    leave: None,
                })
                .collect(),
            feather_px: patch.feather_px,
            strength: 1.0,
        }),
    };
    mask::Part {
        mode: mask::Mode::Add,
        shape,
    }
}

fn drawn(patch: &PatchPlan, rect: Rect) -> Plane {
    let parts = [patch.part.clone()];
    mask::rasterise(&parts, &mask::Adjust::default(), rect, 0)
}

impl Engine {
    /// Where `patches` would fill a plate, over all of it.
    ///
    /// # Errors
    /// When the plate was not prepared.
    pub fn patches_mask(
        &self,
        world: &World<'_>,
        plate: PlateId,
        patches: &[Patch],
    ) -> Result<Plane, EngineError> {
        let plate_of = world.project.plate(plate);
        let size = plate_of
            .and_then(|plate| plate.size)
            .ok_or(EngineError::NotPrepared(plate))?;
        let mut out = Plane::zero(size.rect());
        for part in patches.iter().map(part_of) {
            let area = mask::bounds(&part).intersect(out.rect);
            let drawn = mask::rasterise(&[part], &mask::Adjust::default(), area, 0);
            for y in area.y0..area.y1 {
                for x in area.x0..area.x1 {
                    let at = out.rect.index(x, y);
                    out.data[at] = out.data[at].max(drawn.at(x, y));
                }
            }
        }
        Ok(out)
    }

    /// Lays the filled places of a step into a tile.
    pub(super) fn heal(
        &self,
        world: &World<'_>,
        of: (&PlatePlan, usize),
        heal: &HealPlan,
        (tile, place): (&mut Image, &Place),
    ) -> Result<(), EngineError> {
        for number in heal.reaching(place) {
            let change = self.patch_change(world, of, (heal, number), place.level)?;
            let met = change.rect.intersect(tile.rect);
            for y in met.y0..met.y1 {
                for x in met.x0..met.x1 {
                    let change = change.at(x, y);
                    let at = tile.rect.index(x, y);
                    for (value, change) in tile.data[at].iter_mut().zip(change) {
                        *value += change;
                    }
                }
            }
        }
        Ok(())
    }

    /// What the filling of one place adds to the plate at `level`. Made at full size and halved, so that every level shows the same.
    fn patch_change(
        &self,
        world: &World<'_>,
        of: (&PlatePlan, usize),
        (heal, number): (&HealPlan, usize),
        level: u32,
    ) -> Result<Arc<Image>, EngineError> {
        let stamp = Stamp::new("patch change 1")
            .input(heal.patch_stamp(of, number, self.tile_side()))
            .number(u64::from(level))
            .done();
        if let Some(kept) = self.store.get(stamp) {
            return Ok(kept);
        }
        let rect = aligned(heal.patches[number].bounds, level);
        let change = if level > 0 {
            let finer = self.patch_change(world, of, (heal, number), level - 1)?;
            halve(&finer.crop(doubled(rect)))
        } else if let Some(kept) = world
            .scratch
            .get(stamp)
            .and_then(|kept| unpack(rect, &kept))
        {
            kept
        } else {
            let change = self.filled(world, of, (heal, number))?;
            world.scratch.put(stamp, &pack(&change));
            change
        };
        let change = Arc::new(change);
        self.store.put(stamp, Arc::clone(&change));
        Ok(change)
    }

    fn filled(
        &self,
        world: &World<'_>,
        (plan, count): (&PlatePlan, usize),
        (heal, number): (&HealPlan, usize),
    ) -> Result<Image, EngineError> {
        if world.watch.cancelled() {
            return Err(EngineError::Cancelled);
        }
        let patch = &heal.patches[number];
        let picture = self.area_after(world, plan, count, patch.needed)?;
        let mut hurt = drawn(patch, patch.needed);
        let mut barred = vec![false; hurt.data.len()];
        for (other, beside) in heal.beside(number) {
            let drawn = drawn(beside, patch.needed);
            for (at, share) in drawn.data.iter().enumerate() {
                barred[at] |= *share > 0.0;
                if other < number {
                    // Where two places meet, the earlier one fills.
                    hurt.data[at] *= 1.0 - share;
                }
            }
        }
        let filled = match (patch.patch.from, &patch.other) {
            (_, Some(other)) => {
                let other = self.whole_area(world, other, Product::Picture, (0, patch.needed))?;
                heal::from_other(&picture, &other, &hurt)
            }
            (PatchFrom::Place { offset }, None) => {
                let (dx, dy) = whole_offset(offset);
                let mut other = picture.crop(patch.needed.shift(dx, dy));
                other.rect = patch.needed;
                heal::from_other(&picture, &other, &hurt)
            }
            (
                PatchFrom::Surroundings
                | PatchFrom::CleanPlate { .. }
                | PatchFrom::OtherTake { .. }
                | PatchFrom::Frame { .. },
                None,
            ) => heal::from_surroundings(&picture, &hurt, &barred, patch.patch.shape.radius_px()),
        };
        let mut change = filled.crop(patch.bounds);
        let before = picture.crop(patch.bounds);
        for (change, before) in change.data.iter_mut().zip(&before.data) {
            for (change, before) in change.iter_mut().zip(before) {
                *change -= before;
            }
        }
        Ok(change)
    }

    /// A part of a plate at full size after its first `count` operations.
    fn area_after(
        &self,
        world: &World<'_>,
        plan: &PlatePlan,
        count: usize,
        rect: Rect,
    ) -> Result<Image, EngineError> {
        let mut area = Image::empty(rect);
        for index in self.grid(plan.size, 0).covering(rect) {
            let place = self.place(plan, 0, index);
            area.paste(&*self.tile_after(world, plan, count, &place)?);
        }
        Ok(area)
    }
}

/// The pixels of `level` that hold any of `rect`, which is at full size.
fn aligned(rect: Rect, level: u32) -> Rect {
    let step = 1_i32 << level.min(20);
    let up = |value: i32| value.div_euclid(step) + i32::from(value.rem_euclid(step) != 0);
    Rect::new(
        rect.x0.div_euclid(step),
        rect.y0.div_euclid(step),
        up(rect.x1),
        up(rect.y1),
    )
}

const fn doubled(rect: Rect) -> Rect {
    Rect::new(rect.x0 * 2, rect.y0 * 2, rect.x1 * 2, rect.y1 * 2)
}

/// Where a place is filled, and the same with the ground round it: shares of both, on the same pixels.
pub(super) fn inside_and_around(patch: &Patch) -> (Plane, Plane) {
    /// Width of the ground, px.
    const GROUND: i32 = 5;
    let part = part_of(patch);
    let rect = mask::bounds(&part).grow(GROUND);
    let wide = mask::Adjust {
        grow_px: small_f32(GROUND),
        ..mask::Adjust::default()
    };
    let parts = [part];
    (
        mask::rasterise(&parts, &mask::Adjust::default(), rect, 0),
        mask::rasterise(&parts, &wide, rect, 0),
    )
}

/// The middle of a place.
pub(super) fn middle_of(patch: &Patch) -> Point {
    let points = patch.shape.points();
    let count = crate::pixels::convert::count_f64(points.len().max(1));
    let sum = points.iter().fold(Point::default(), |sum, point| {
        Point::new(sum.x + point.x, sum.y + point.y)
    });
    Point::new(sum.x / count, sum.y / count)
}
