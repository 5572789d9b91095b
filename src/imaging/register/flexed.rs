//! Where the model itself moved between two pictures: what single places ask for beyond the motion of the whole, and a smooth mesh of
//! it where that helps.
//!
//! Places are compared by normalised cross-correlation of the filtered pictures. The mesh is the smoothest that follows them (a
//! membrane, strays held off by Tukey's weights; Beaton and Tukey 1974, "The fitting of power series"). It is kept only where a whole
//! group of neighbouring places is explained by it: single ones follow lamps, highlights and noise.

use super::level::Level;
use super::similarity::paired;
use super::{Found, Prepared};
use crate::geometry::{Mesh, Point, Rect, Transform};
use crate::imaging::basics::correlation::{alike, best};
use crate::imaging::basics::statistics::median;
use crate::pixels::Plane;
use crate::pixels::convert::{clamp_index, coordinate, count_f64, floor_index, narrow};
use rayon::prelude::*;

/// Distance of the places, pixels of the level.
const SPACING_PX: i32 = 32;
/// Half the side of the window that is compared, pixels of the level.
const WINDOW: i32 = 32;
/// Sides of the smallest window that tells anything, pixels of the level.
const LEAST_SIDE: i32 = 16;
/// Farthest shift looked for, pixels at full size: beyond what is bent, so that it can be told.
const FAR_PX: f64 = 12.0;
/// Shift from which on a place counts as moved, pixels at full size.
const MOVED_PX: f64 = 0.3;
/// Correlation from which on a place tells anything.
const ALIKE: f32 = 0.6;
/// What the shift must leave of the difference that was there before it.
const LEFT_SHARE: f32 = 0.8;
/// Neighbouring places that must agree.
const GROUP: usize = 4;
/// How strongly neighbours hold together, beside a place of full weight.
const STIFFNESS: f32 = 0.3;
/// Weight with which a place that tells nothing stays where it is.
const AT_REST: f32 = 0.02;
/// Neighbours that a place needs to be believed.
const LEAST_NEAR: usize = 3;
/// Distance from its neighbours' or the mesh's shift at which a place has no say any more, pixels of the level.
const STRAY_PX: f32 = 2.0;
/// Rounds of weighing, and sweeps of solving in each.
const ROUNDS: (usize, usize) = (3, 200);
/// About how many places are reported along the longer side.
const REPORTED: usize = 14;

/// What a place still asks for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Left {
    /// The place, pixels of the reference at full size.
    pub at: Point,
    /// What lies there is off by this much in the other picture, brought over by motion and mesh; pixels.
    pub shift: Point,
}

/// What is left over by the motion of the whole.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Flexed {
    /// Position on the reference to the position at which the motion puts what belongs there; `None` where the motion is enough.
    pub mesh: Option<Mesh>,
    /// What places still ask for after that.
    pub left: Vec<Left>,
}

/// What `found` leaves over between two pictures prepared for the same light. Shifts of more than `farthest_px` (pixels at full size) are
/// told, but not bent.
#[must_use]
pub fn flexed(reference: &Prepared, moved: &Prepared, found: &Found, farthest_px: f64) -> Flexed {
    let pairs = paired(reference, moved);
    let (Some((first, second)), Some(motion)) =
        (pairs.first(), found.reference_from_moved.inverse())
    else {
        return Flexed::default();
    };
    let scene = Pair {
        first,
        second,
        motion,
    };
    let mut places = Places::new(first);
    let still = scene.planes(None);
    let far = coordinate(floor_index(FAR_PX / first.step()));
    places.look(&still, far);
    let moved_groups = places.groups((first.step(), farthest_px));
    let mesh = (!moved_groups.is_empty()).then(|| places.mesh(&moved_groups, first.step()));
    let mesh = mesh.filter(|mesh| places.is_better(&scene.planes(Some(mesh)), &moved_groups));
    if let Some(mesh) = &mesh {
        places.look(&scene.planes(Some(mesh)), far);
    }
    Flexed {
        left: places.reported(first.step()),
        mesh,
    }
}

/// Two levels and where one lies on the other, pixels at full size.
struct Pair<'a> {
    first: &'a Level,
    second: &'a Level,
    motion: Transform,
}

impl Pair<'_> {
    /// Both pictures on the first one's pixels; nothing where either must not be used.
    fn planes(&self, mesh: Option<&Mesh>) -> [Plane; 2] {
        let (level, width) = (self.first, self.first.width);
        let rect = Rect::new(0, 0, coordinate(width), coordinate(level.height));
        let [mut here, mut there] = [Plane::zero(rect), Plane::zero(rect)];
        let step = level.step();
        let rows = here.data.par_chunks_mut(width.max(1));
        rows.zip(there.data.par_chunks_mut(width.max(1)))
            .enumerate()
            .for_each(|(y, (here, there))| {
                for x in 0..width {
                    let at = y * width + x;
                    if level.valid[at] == 0 {
                        continue;
                    }
                    let centre = |number: usize| (count_f64(number) + 0.5) * step;
                    let point = Point::new(centre(x), centre(y));
                    let bent = mesh.map_or(point, |mesh| mesh.apply(point));
                    let found = self.motion.apply(bent);
                    if let Some(sample) = self.second.sample(found.x / step, found.y / step) {
                        here[x] = level.data[at];
                        there[x] = sample.value;
                    }
                }
            });
        [here, there]
    }
}

/// What is known of one place.
#[derive(Debug, Clone, Copy)]
struct Place {
    /// Correlation without any shift.
    before: f32,
    /// Correlation with the shift.
    after: f32,
    /// Pixels of the level.
    shift: [f32; 2],
}

/// Places in rows.
struct Places {
    columns: usize,
    rows: usize,
    known: Vec<Option<Place>>,
}

impl Places {
    fn new(level: &Level) -> Self {
        let spacing = clamp_index(SPACING_PX);
        let count = |length: usize| length / spacing + 2;
        let (columns, rows) = (count(level.width), count(level.height));
        Self {
            columns,
            rows,
            known: vec![None; columns * rows],
        }
    }

    fn window(&self, number: usize, rect: Rect) -> Rect {
        let at = |count: usize| coordinate(count) * SPACING_PX;
        let (x, y) = (at(number % self.columns), at(number / self.columns));
        Rect::new(x - WINDOW, y - WINDOW, x + WINDOW, y + WINDOW).intersect(rect)
    }

    /// Compares every place, shifts up to `far` pixels of the level.
    fn look(&mut self, [here, there]: &[Plane; 2], far: i32) {
        let known = (0..self.known.len()).into_par_iter().map(|number| {
            // As far from the border as the window is moved about, so that it never leaves the picture.
            let window = self.window(number, here.rect.grow(-far - 1));
            if window.width() < clamp_index(LEAST_SIDE) || window.height() < clamp_index(LEAST_SIDE)
            {
                return None;
            }
            let (shift, after) = best(here, there, window, ((0, 0), far))?;
            (after >= ALIKE).then(|| Place {
                before: alike(here, there, window, (0, 0)),
                after,
                shift: [narrow(shift.x), narrow(shift.y)],
            })
        });
        self.known = known.collect();
        self.drop_strays();
    }

    /// Places that their neighbours do not bear out tell nothing: repeated detail fits itself one piece farther on.
    fn drop_strays(&mut self) {
        let borne_out = |number: usize| {
            let place = self.known[number]?;
            let near: Vec<Place> = self
                .around(number)
                .filter_map(|other| self.known[other])
                .collect();
            let fits = |axis: usize| {
                let along: Vec<f32> = near.iter().map(|other| other.shift[axis]).collect();
                median(&along).is_some_and(|middle| (place.shift[axis] - middle).abs() <= STRAY_PX)
            };
            (near.len() >= LEAST_NEAR && fits(0) && fits(1)).then_some(place)
        };
        self.known = (0..self.known.len()).map(borne_out).collect();
    }

    /// The places about one, itself left out.
    fn around(&self, number: usize) -> impl Iterator<Item = usize> + use<> {
        let (columns, rows) = (self.columns, self.rows);
        let (column, row) = (number % columns, number / columns);
        let span = |at: usize, count: usize| at.saturating_sub(1)..(at + 2).min(count);
        span(row, rows)
            .flat_map(move |row| span(column, columns).map(move |at| row * columns + at))
            .filter(move |other| *other != number)
    }

    fn near(&self, number: usize) -> impl Iterator<Item = usize> + use<> {
        let (columns, rows) = (self.columns, self.rows);
        let (column, row) = (number % columns, number / columns);
        let across = [
            column.checked_sub(1),
            Some(column + 1).filter(|next| *next < columns),
        ];
        let down = [
            row.checked_sub(1),
            Some(row + 1).filter(|next| *next < rows),
        ];
        let beside = across
            .into_iter()
            .flatten()
            .map(move |column| row * columns + column);
        beside.chain(
            down.into_iter()
                .flatten()
                .map(move |row| row * columns + column),
        )
    }

    /// Whether a place moved, and a shift that can be bent explains it.
    fn has_moved(&self, number: usize, (step, farthest_px): (f64, f64)) -> bool {
        self.known[number].is_some_and(|place| {
            let by = length(place.shift) * step;
            (MOVED_PX..=farthest_px).contains(&by)
                && unlike(place.after) <= LEFT_SHARE * unlike(place.before)
        })
    }

    /// The places that moved together with enough of their neighbours.
    fn groups(&self, at: (f64, f64)) -> Vec<usize> {
        let mut seen = vec![false; self.known.len()];
        let mut all = Vec::new();
        for start in 0..self.known.len() {
            let mut group = Vec::new();
            let mut next = vec![start];
            while let Some(number) = next.pop() {
                if !seen[number] && self.has_moved(number, at) {
                    seen[number] = true;
                    group.push(number);
                    next.extend(self.near(number));
                }
            }
            if group.len() >= GROUP {
                all.extend(group);
            }
        }
        all.sort_unstable();
        all
    }

    /// The mesh that follows the places in `moved` and leaves all others where they are.
    fn mesh(&self, moved: &[usize], step: f64) -> Mesh {
        let wanted: Vec<([f32; 2], f32)> = (0..self.known.len())
            .map(|number| match self.known[number] {
                Some(place) if moved.binary_search(&number).is_ok() => (place.shift, place.after),
                Some(place) => ([0.0; 2], place.after),
                None => ([0.0; 2], AT_REST),
            })
            .collect();
        let mut shifts = vec![[0.0_f32; 2]; wanted.len()];
        let mut weights: Vec<f32> = wanted.iter().map(|(_shift, weight)| *weight).collect();
        for round in 0..ROUNDS.0 {
            for _sweep in 0..ROUNDS.1 {
                self.relax(&mut shifts, &wanted, &weights);
            }
            if round + 1 == ROUNDS.0 {
                break;
            }
            for (number, weight) in weights.iter_mut().enumerate() {
                let (wish, full) = wanted[number];
                let off = length([wish[0] - shifts[number][0], wish[1] - shifts[number][1]]);
                let share = (narrow(off) / STRAY_PX).min(1.0);
                let held = 1.0 - share * share;
                *weight = full * held * held;
            }
        }
        let rounded = |shift: f32| narrow((f64::from(shift) * step * 100.0).round() / 100.0);
        Mesh {
            spacing_px: f64::from(SPACING_PX) * step,
            columns: self.columns,
            shifts: shifts.iter().map(|shift| shift.map(rounded)).collect(),
        }
    }

    fn relax(&self, shifts: &mut [[f32; 2]], wanted: &[([f32; 2], f32)], weights: &[f32]) {
        for number in 0..shifts.len() {
            let (wish, weight) = (wanted[number].0, weights[number]);
            let mut sum = wish.map(|value| value * weight);
            let mut total = weight;
            for other in self.near(number) {
                sum[0] += STIFFNESS * shifts[other][0];
                sum[1] += STIFFNESS * shifts[other][1];
                total += STIFFNESS;
            }
            shifts[number] = sum.map(|value| value / total.max(1e-6));
        }
    }

    /// Whether the places that moved are explained by what the mesh made of the pictures.
    fn is_better(&self, [here, there]: &[Plane; 2], moved: &[usize]) -> bool {
        let (mut before, mut after) = (0.0, 0.0);
        for number in moved {
            let window = self.window(*number, here.rect);
            before += self.known[*number].map_or(0.0, |place| unlike(place.before));
            after += unlike(alike(here, there, window, (0, 0)));
        }
        after <= LEFT_SHARE * before
    }

    /// What blocks of places still ask for: the middle of each block's shifts.
    fn reported(&self, step: f64) -> Vec<Left> {
        let side = self.columns.max(self.rows).div_ceil(REPORTED).max(1);
        let mut left = Vec::new();
        for top in (0..self.rows).step_by(side) {
            for first in (0..self.columns).step_by(side) {
                let numbers = (top..(top + side).min(self.rows)).flat_map(|row| {
                    (first..(first + side).min(self.columns)).map(move |at| row * self.columns + at)
                });
                let block: Vec<(usize, Place)> = numbers
                    .filter_map(|number| Some((number, self.known[number]?)))
                    .collect();
                // Few places of a block speak for themselves only.
                if block.len() * 3 >= side * side {
                    left.extend(self.middle(&block, step));
                }
            }
        }
        left
    }

    fn middle(&self, block: &[(usize, Place)], step: f64) -> Option<Left> {
        let along = |axis: usize| {
            let shifts: Vec<f32> = block.iter().map(|(_at, place)| place.shift[axis]).collect();
            median(&shifts).map(|middle| (f64::from(middle) * step * 100.0).round() / 100.0)
        };
        let shift = Point::new(along(0)?, along(1)?);
        let (number, _place) = block.get(block.len() / 2)?;
        let at = |count: usize| count_f64(count) * f64::from(SPACING_PX) * step;
        Some(Left {
            at: Point::new(at(number % self.columns), at(number / self.columns)),
            shift,
        })
    }
}

/// How much two pictures of this correlation differ, 0..=1.
fn unlike(correlation: f32) -> f32 {
    1.0 - correlation.max(0.0) * correlation.max(0.0)
}

fn length([x, y]: [f32; 2]) -> f64 {
    Point::new(f64::from(x), f64::from(y)).distance(Point::default())
}
