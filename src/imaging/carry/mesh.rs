//! From shifts found at single places to a smooth mesh: strays dropped, gaps filled from their neighbours.

use super::{Comparable, Match};
use crate::geometry::{Mesh, Point};
use crate::imaging::basics::statistics::median;
use crate::pixels::convert::{coordinate, count_f64, floor_index};

/// Distance of the nodes, pixels.
const SPACING_PX: f64 = 32.0;
/// A node whose shift differs by more than this from the middle of its neighbours' is a stray, pixels.
const STRAY_PX: f32 = 1.5;
/// Reach of the neighbourhood that judges strays, nodes.
const NEIGHBOURS: i32 = 2;
/// Rounds of filling gaps from their neighbours; each reaches one node farther.
const ROUNDS: usize = 200;
/// Rounds of smoothing after that.
const SMOOTHINGS: usize = 1;

/// A mesh and how well it is founded.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// Position in the first picture to position in the second.
    pub mesh: Mesh,
    /// Nodes at which the pictures themselves gave the shift.
    pub seen: usize,
}

/// Nodes in rows, with a shift where one is known.
struct Nodes {
    columns: i32,
    rows: i32,
    shifts: Vec<Option<[f32; 2]>>,
}

/// The mesh that takes positions in `first` to positions in `second`, where the pictures show alike things up to about 18
/// pixels apart. `None` where too few places are alike to tell. Shifts are rounded to a hundredth of a pixel: what is recorded is what is
/// used.
#[must_use]
pub fn mesh(first: &Comparable, second: &Comparable) -> Option<Found> {
    let (columns, rows, places) = places(first);
    let shifts = first.matches(second, &places).into_iter().map(|found| {
        let Match::Alike { shift, .. } = found else {
            return None;
        };
        Some([shift.x, shift.y].map(crate::pixels::convert::narrow))
    });
    let mut nodes = Nodes {
        columns: coordinate(columns),
        rows: coordinate(rows),
        shifts: shifts.collect(),
    };
    nodes.drop_strays();
    let seen = nodes.shifts.iter().flatten().count();
    if seen < 8 {
        return None;
    }
    nodes.fill();
    for _round in 0..SMOOTHINGS {
        nodes.smooth();
    }
    let round = |shift: f32| (shift * 100.0).round() / 100.0;
    let shifts = nodes.shifts.iter();
    Some(Found {
        mesh: Mesh {
            spacing_px: SPACING_PX,
            columns,
            shifts: shifts
                .map(|shift| shift.unwrap_or_default().map(round))
                .collect(),
        },
        seen,
    })
}

/// Root mean square of the shifts that `first` and `second` still show at the places of a mesh, pixels; strays count.
#[must_use]
pub fn residual_px(first: &Comparable, second: &Comparable) -> f32 {
    let shifts: Vec<f64> = first
        .matches(second, &places(first).2)
        .into_iter()
        .filter_map(|found| match found {
            Match::Alike { shift, .. } => Some(shift.x * shift.x + shift.y * shift.y),
            Match::Flat | Match::Other => None,
        })
        .collect();
    let mean = shifts.iter().sum::<f64>() / count_f64(shifts.len().max(1));
    crate::pixels::convert::narrow(mean.sqrt())
}

/// Columns, rows and the places of the nodes.
fn places(picture: &Comparable) -> (usize, usize, Vec<Point>) {
    let rect = picture.full.rect;
    let count = |length: usize| floor_index(count_f64(length) / SPACING_PX) + 2;
    let (columns, rows) = (count(rect.width()), count(rect.height()));
    let places = (0..rows * columns).map(|node| {
        Point::new(
            count_f64(node % columns) * SPACING_PX,
            count_f64(node / columns) * SPACING_PX,
        )
    });
    (columns, rows, places.collect())
}

impl Nodes {
    fn at(&self, column: i32, row: i32) -> Option<[f32; 2]> {
        if column < 0 || row < 0 || column >= self.columns || row >= self.rows {
            return None;
        }
        let index = usize::try_from(row * self.columns + column).ok()?;
        self.shifts[index]
    }

    /// The shifts known within `reach` of node `index`, itself left out.
    fn near(&self, index: usize, reach: i32) -> Vec<[f32; 2]> {
        let at = coordinate(index);
        let (column, row) = (at % self.columns, at / self.columns);
        let mut near = Vec::new();
        for y in -reach..=reach {
            for x in -reach..=reach {
                if (x, y) != (0, 0) {
                    near.extend(self.at(column + x, row + y));
                }
            }
        }
        near
    }

    fn changed(&mut self, change: impl Fn(&Self, usize) -> Option<[f32; 2]>) {
        self.shifts = (0..self.shifts.len())
            .map(|index| change(self, index))
            .collect();
    }

    fn drop_strays(&mut self) {
        self.changed(|nodes, index| {
            let shift = nodes.shifts[index]?;
            let near = nodes.near(index, NEIGHBOURS);
            if near.len() < 3 {
                return None;
            }
            let fits = [0, 1].iter().all(|axis| {
                let along: Vec<f32> = near.iter().map(|other| other[*axis]).collect();
                median(&along).is_some_and(|middle| (shift[*axis] - middle).abs() <= STRAY_PX)
            });
            fits.then_some(shift)
        });
    }

    fn fill(&mut self) {
        for _round in 0..ROUNDS {
            if self.shifts.iter().all(Option::is_some) {
                return;
            }
            self.changed(|nodes, index| {
                nodes.shifts[index].or_else(|| mean(&nodes.near(index, 1)))
            });
        }
    }

    /// Each node becomes half itself and half the mean of its neighbours.
    fn smooth(&mut self) {
        self.changed(|nodes, index| {
            let own = nodes.shifts[index]?;
            let near = mean(&nodes.near(index, 1))?;
            Some([0.5 * (own[0] + near[0]), 0.5 * (own[1] + near[1])])
        });
    }
}

fn mean(shifts: &[[f32; 2]]) -> Option<[f32; 2]> {
    if shifts.is_empty() {
        return None;
    }
    let count = crate::pixels::convert::count_f32(shifts.len());
    let sum = |axis: usize| shifts.iter().map(|shift| shift[axis]).sum::<f32>();
    Some([sum(0) / count, sum(1) / count])
}
