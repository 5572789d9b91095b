//! After a swap: does what was drawn on the plate still lie where it did?
//!
//! Along the edge of a mask or matte, and where a group's light falls, the fused pictures of the first source and the new one
//! are compared place by place.

use crate::engine::healing::{inside_and_around, middle_of};
use crate::engine::masks::MaskPlan;
use crate::engine::measure::place::SideBySide;
use crate::engine::wholes;
use crate::engine::{Engine, EngineError, World, adapt};
use crate::geometry::{Point, Rect};
use crate::imaging::carry::Match;
use crate::imaging::matte;
use crate::pixels::Plane;
use crate::pixels::convert::{coordinate, count_f64, floor_f64, narrow};
use crate::project::{
    Mask, MaskId, Matte, MatteMethod, PassId, Patch, Plate, PlateId, PracticalGroup, StepKind,
    VariantId,
};

/// What was carried over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Carried {
    /// A mask, by its place in the plate's list.
    Mask(usize),
    /// A step, by its place in the plate's list.
    Step(usize),
    /// A practical group, by its place in the plate's list.
    Group(usize),
}

/// A place at which something carried over no longer lies where it did.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Astray {
    /// What.
    pub what: Carried,
    /// Where, on the plate.
    pub place: Rect,
    /// How far the picture lies from where it was, at most, px; `None` where it shows something else.
    pub by_px: Option<f32>,
}

/// Edges are judged at one place in each square of this side, px.
const CELL_PX: i32 = 32;
/// Shift up to which an edge counts as being where it was, px.
const EDGE_TOLERANCE_PX: f32 = 1.5;
/// Shift up to which a lit detail counts as being where it was, px.
const LIT_TOLERANCE_PX: f32 = 0.5;
/// How far a speck stands out, in square roots of light, to be told from nothing.
const LEAST_SPECK: f32 = 0.01;
/// Share of its light below which a speck counts as gone.
const GONE_SHARE: f32 = 0.4;
/// Share of a group's brightest light below which a place counts as unlit.
const LIT_SHARE: f32 = 0.02;
/// Light below which nothing is lit, whatever the group's brightest is.
const LEAST_LIGHT: f32 = 1e-3;

impl Engine {
    /// Judges everything that was carried over from the plate's first source to `variant`, which must have been measured.
    ///
    /// # Errors
    /// When a source cannot be read, or the work was stopped.
    pub fn judge_carried(
        &self,
        world: &World<'_>,
        plate: PlateId,
        variant: VariantId,
    ) -> Result<Vec<Astray>, EngineError> {
        let not_prepared = || EngineError::NotPrepared(plate);
        let plate_of = world.project.plate(plate).ok_or_else(not_prepared)?;
        let source = plate_of.variant_by_id(variant).ok_or_else(not_prepared)?;
        let lies = source.lies.as_ref().ok_or_else(not_prepared)?;
        let both = self.side_by_side(world, plate, (variant, lies))?;
        let judge = Judge {
            engine: self,
            world,
            plate: plate_of,
            rect: plate_of.size.ok_or_else(not_prepared)?.rect(),
        };
        let mut astray = Vec::new();
        for what in everything(plate_of) {
            let places = judge.places(what, variant)?;
            let mut bad = judged(&both, what, &places, plate_of);
            bad.extend(judge.gone(&both, what));
            astray.extend(joined(bad));
        }
        Ok(astray)
    }

    /// The places at which `what` is judged after a swap to `variant`; none where it cannot have gone astray.
    ///
    /// # Errors
    /// When a source cannot be read, or the work was stopped.
    pub fn judged_places(
        &self,
        world: &World<'_>,
        (plate, variant): (PlateId, VariantId),
        what: Carried,
    ) -> Result<Vec<Point>, EngineError> {
        let not_prepared = || EngineError::NotPrepared(plate);
        let plate_of = world.project.plate(plate).ok_or_else(not_prepared)?;
        let judge = Judge {
            engine: self,
            world,
            plate: plate_of,
            rect: plate_of.size.ok_or_else(not_prepared)?.rect(),
        };
        judge.places(what, variant)
    }
}

/// Everything that is carried over with a plate, in the order it is listed.
pub fn everything(plate: &Plate) -> impl Iterator<Item = Carried> + use<> {
    let masks = (0..plate.masks.len()).map(Carried::Mask);
    let steps = (0..plate.steps.len()).map(Carried::Step);
    let groups = (0..plate.groups.len()).map(Carried::Group);
    masks.chain(steps).chain(groups)
}

struct Judge<'a> {
    engine: &'a Engine,
    world: &'a World<'a>,
    plate: &'a Plate,
    rect: Rect,
}

impl Judge<'_> {
    fn places(&self, what: Carried, variant: VariantId) -> Result<Vec<Point>, EngineError> {
        match what {
            Carried::Mask(number) => {
                let mask = self.plate.masks.get(number);
                mask.map_or(Ok(Vec::new()), |mask| self.mask(mask))
            }
            Carried::Step(number) => match self.plate.steps.get(number).map(|step| &step.kind) {
                Some(StepKind::Matte(matte)) => self.matte(matte, variant),
                Some(kind @ (StepKind::Spotting(_) | StepKind::PaintOut(_))) => {
                    Ok(self.patches(&kind.acting_patches()))
                }
                Some(StepKind::Warp(warp)) => Ok(self.inside(warp.kind.points())),
                _edgeless => Ok(Vec::new()),
            },
            Carried::Group(number) => {
                let group = self.plate.groups.get(number);
                group.map_or(Ok(Vec::new()), |group| self.group(group, variant))
            }
        }
    }

    /// A mask that only groups use matters where their light falls on its edge; any other all along it.
    fn mask(&self, mask: &Mask) -> Result<Vec<Point>, EngineError> {
        let Some(drawn) = self.drawn(Some(mask.id))? else {
            return Ok(Vec::new());
        };
        let mut places = edge_places(&drawn);
        let by_steps = self
            .plate
            .steps
            .iter()
            .any(|step| step.mask == Some(mask.id));
        let groups: Vec<&PracticalGroup> = self
            .plate
            .groups
            .iter()
            .filter(|group| group.mask == Some(mask.id) && self.plate.take(group.pass).is_some())
            .collect();
        if !by_steps && !groups.is_empty() {
            let mut lit = Plane::zero(self.rect);
            for group in groups {
                let light = self.lit(group.pass)?;
                lit.data
                    .iter_mut()
                    .zip(&light.data)
                    .for_each(|(lit, light)| *lit = lit.max(*light));
            }
            places.retain(|place| is_lit(&lit, cell_about(*place)));
        }
        Ok(places)
    }

    /// Specks that a spotting step fills and that the new source does not show any more: the model was cleaned, or the speck lay on it
    /// elsewhere. A comparison of wide windows overlooks what is so small.
    fn gone(&self, both: &SideBySide, what: Carried) -> Vec<Astray> {
        let step = match what {
            Carried::Step(number) => self.plate.steps.get(number),
            Carried::Mask(_) | Carried::Group(_) => None,
        };
        let Some(kind @ StepKind::Spotting(_)) = step.map(|step| &step.kind) else {
            return Vec::new();
        };
        let mut patches = kind.acting_patches();
        patches.retain(|patch| !self.inside(vec![middle_of(patch)]).is_empty());
        let middles: Vec<Point> = patches.iter().map(|patch| middle_of(patch)).collect();
        let found = both.old.farthest(&both.new, &middles);
        let mut gone = Vec::new();
        for (patch, found) in patches.iter().zip(found) {
            let by = match found {
                Match::Alike { shift, .. } => (floor_f64(shift.x + 0.5), floor_f64(shift.y + 0.5)),
                Match::Flat => (0, 0),
                // That was said already.
                Match::Other => continue,
            };
            let (inside, around) = inside_and_around(patch);
            let was = both.old.stands_out((&inside, &around), (0, 0));
            let is = both.new.stands_out((&inside, &around), by);
            let (Some(was), Some(is)) = (was, is) else {
                continue;
            };
            if was.abs() >= LEAST_SPECK && is * was.signum() < GONE_SHARE * was.abs() {
                gone.push(Astray {
                    what,
                    place: cell_about(middle_of(patch)).intersect(self.rect),
                    by_px: None,
                });
            }
        }
        gone
    }

    /// The rims of the places that are filled anew: what they were filled for lies there or it does not.
    fn patches(&self, patches: &[&Patch]) -> Vec<Point> {
        self.inside(patches.iter().map(|patch| middle_of(patch)).collect())
    }

    fn inside(&self, mut places: Vec<Point>) -> Vec<Point> {
        places.retain(|place| {
            let (x, y) = (floor_f64(place.x), floor_f64(place.y));
            self.rect.contains(x, y)
        });
        places
    }

    /// A matte whose silhouette was not shot again is judged along its edge.
    fn matte(&self, matte: &Matte, variant: VariantId) -> Result<Vec<Point>, EngineError> {
        let MatteMethod::Silhouette { pass, .. } = matte.method else {
            return Ok(Vec::new());
        };
        if self.was_shot_again(pass, variant) {
            return Ok(Vec::new());
        }
        let plan = wholes::silhouette(&self.world.project, self.plate, pass)?;
        let light = self.engine.whole_picture(self.world, &plan)?;
        // The pass was brought to a backdrop of 1 when it was measured.
        let card = Plane::filled(self.rect, 1.0);
        let levels = adapt::silhouette_levels(&matte.method);
        let covered = matte::silhouette(&adapt::planes_of(&light), &card, &levels);
        Ok(edge_places(&covered))
    }

    /// A group whose pass was not shot again is judged where its light falls.
    fn group(&self, group: &PracticalGroup, variant: VariantId) -> Result<Vec<Point>, EngineError> {
        if self.was_shot_again(group.pass, variant) {
            return Ok(Vec::new());
        }
        let mut lit = self.lit(group.pass)?;
        if let Some(mask) = self.drawn(group.mask)? {
            lit.data
                .iter_mut()
                .zip(&mask.data)
                .for_each(|(light, mask)| *light *= mask);
        }
        Ok(cells(self.rect)
            .filter(|cell| is_lit(&lit, *cell))
            .map(middle)
            .collect())
    }

    /// A mask over the whole plate; `None` without one.
    fn drawn(&self, id: Option<MaskId>) -> Result<Option<Plane>, EngineError> {
        let plan = MaskPlan::new(&self.world.project, self.plate, id, 0.0)?;
        self.engine
            .draw_mask(self.world, plan.as_deref(), self.rect, 0)
    }

    fn was_shot_again(&self, pass: PassId, variant: VariantId) -> bool {
        self.plate
            .take(pass)
            .is_none_or(|(of, _take)| of.id == variant)
    }

    /// Where a pass adds light, as a share of its brightest.
    fn lit(&self, pass: PassId) -> Result<Plane, EngineError> {
        let plan = wholes::light(&self.world.project, self.plate, pass)?;
        let light = self.engine.whole_picture(self.world, &plan)?;
        let luma = adapt::luma(&adapt::planes_of(&light));
        let brightest = luma.data.iter().copied().fold(0.0, f32::max);
        let full = brightest.max(LEAST_LIGHT / LIT_SHARE);
        Ok(luma.map(|light| light / full))
    }
}

/// How far what is judged may lie from where it was, px.
#[must_use]
pub const fn tolerance_px(what: Carried) -> f32 {
    match what {
        Carried::Mask(_) | Carried::Step(_) => EDGE_TOLERANCE_PX,
        Carried::Group(_) => LIT_TOLERANCE_PX,
    }
}

fn judged(both: &SideBySide, what: Carried, places: &[Point], plate: &Plate) -> Vec<Astray> {
    let whole = plate.size.unwrap_or_default().rect();
    let found = both.old.farthest(&both.new, places);
    let mut bad: Vec<Astray> = Vec::new();
    for (place, found) in places.iter().zip(found) {
        let by_px = match found {
            Match::Flat => continue,
            Match::Other => None,
            Match::Alike { shift, .. } => {
                let by_px = narrow(shift.distance(Point::default()));
                if by_px <= tolerance_px(what) {
                    continue;
                }
                Some(by_px)
            }
        };
        bad.push(Astray {
            what,
            place: cell_about(*place).intersect(whole),
            by_px,
        });
    }
    bad
}

/// Neighbouring places become one.
fn joined(bad: Vec<Astray>) -> Vec<Astray> {
    let mut out: Vec<Astray> = Vec::new();
    for one in bad {
        let mut all = one;
        // Joining two may make a third one a neighbour.
        while let Some(at) = out.iter().position(|other| {
            !other
                .place
                .grow(CELL_PX / 2)
                .intersect(all.place)
                .is_empty()
        }) {
            let other = out.remove(at);
            all.place = all.place.union(other.place);
            all.by_px = match (all.by_px, other.by_px) {
                (Some(one), Some(other)) => Some(one.max(other)),
                _something_else => None,
            };
        }
        out.push(all);
    }
    out
}

fn cells(rect: Rect) -> impl Iterator<Item = Rect> {
    let side = usize::try_from(CELL_PX).unwrap_or(1);
    (rect.y0..rect.y1).step_by(side).flat_map(move |y| {
        (rect.x0..rect.x1)
            .step_by(side)
            .map(move |x| Rect::new(x, y, x + CELL_PX, y + CELL_PX).intersect(rect))
    })
}

fn middle(cell: Rect) -> Point {
    Point::new(
        f64::from(cell.x0 + cell.x1) * 0.5,
        f64::from(cell.y0 + cell.y1) * 0.5,
    )
}

fn cell_about(place: Point) -> Rect {
    let (x, y) = (floor_f64(place.x), floor_f64(place.y));
    let half = CELL_PX / 2;
    Rect::new(x - half, y - half, x + half, y + half)
}

fn is_lit(lit: &Plane, cell: Rect) -> bool {
    let inside = cell.intersect(lit.rect);
    (inside.y0..inside.y1).any(|y| {
        let start = lit.rect.index(inside.x0, y);
        lit.data[start..start + inside.width()]
            .iter()
            .any(|light| *light >= LIT_SHARE)
    })
}

/// One place on the edge (where the coverage passes one half) in each cell that the edge runs through: the mean of the edge's pixels there.
fn edge_places(mask: &Plane) -> Vec<Point> {
    let (width, rect) = (mask.rect.width(), mask.rect);
    let inside = |index: usize| mask.data[index] >= 0.5;
    let mut places = Vec::new();
    for cell in cells(rect) {
        let (mut x_sum, mut y_sum, mut count) = (0.0, 0.0, 0_usize);
        for y in cell.y0..cell.y1 {
            for x in cell.x0..cell.x1 {
                let index = rect.index(x, y);
                let right = x + 1 < rect.x1 && inside(index) != inside(index + 1);
                let below = y + 1 < rect.y1 && inside(index) != inside(index + width);
                if right || below {
                    x_sum += f64::from(x) + 0.5 + if right { 0.5 } else { 0.0 };
                    y_sum += f64::from(y) + 0.5 + if below { 0.5 } else { 0.0 };
                    count += 1;
                }
            }
        }
        if coordinate(count) >= 2 {
            places.push(Point::new(
                x_sum / count_f64(count),
                y_sum / count_f64(count),
            ));
        }
    }
    places
}
