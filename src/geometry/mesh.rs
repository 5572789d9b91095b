//! A smooth local map: shifts given at the nodes of a square grid.

use crate::geometry::Point;
use serde::{Deserialize, Serialize};

/// Shifts at the nodes of a grid that begins at the origin; between nodes they run smoothly (Catmull-Rom in both directions),
/// beyond the grid the outermost ones hold on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Mesh {
    /// Distance of the nodes in pixels, 1 or more.
    pub spacing_px: f64,
    /// Nodes along x, at least one.
    pub columns: usize,
    /// Shifts in pixels, row by row; a whole number of rows.
    pub shifts: Vec<[f32; 2]>,
}

impl Mesh {
    /// Whether the numbers make a mesh: a proper spacing, whole rows, finite shifts.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        self.spacing_px.is_finite()
            && self.spacing_px >= 1.0
            && self.columns > 0
            && !self.shifts.is_empty()
            && self.shifts.len().is_multiple_of(self.columns)
            && self.shifts.iter().flatten().all(|shift| shift.is_finite())
    }

    /// Where `point` goes.
    #[must_use]
    pub fn apply(&self, point: Point) -> Point {
        let rows = self.shifts.len() / self.columns.max(1);
        if rows == 0 {
            return point;
        }
        let (column, across) = cell(point.x / self.spacing_px, self.columns);
        let (row, down) = cell(point.y / self.spacing_px, rows);
        let (wx, wy) = (weights(across), weights(down));
        let (mut x, mut y) = (0.0, 0.0);
        for (j, along_y) in wy.iter().enumerate() {
            let at_row = (row + j).saturating_sub(1).min(rows - 1);
            for (i, along_x) in wx.iter().enumerate() {
                let at_column = (column + i).saturating_sub(1).min(self.columns - 1);
                let shift = self.shifts[at_row * self.columns + at_column];
                let weight = along_x * along_y;
                x += f64::from(shift[0]) * weight;
                y += f64::from(shift[1]) * weight;
            }
        }
        Point::new(point.x + x, point.y + y)
    }
}

/// The node before `at` (in steps of the grid) and how far behind it `at` lies, 0..=1.
fn cell(at: f64, nodes: usize) -> (usize, f64) {
    let mut before = 0;
    let last = nodes - 1;
    let at = at.max(0.0);
    // Whole numbers by comparing: casts belong to `pixels`, which stands above.
    let mut step = last.next_power_of_two();
    while step > 0 {
        if before + step <= last && count(before + step) <= at {
            before += step;
        }
        step /= 2;
    }
    (before, (at - count(before)).min(1.0))
}

fn count(nodes: usize) -> f64 {
    f64::from(u32::try_from(nodes).unwrap_or(u32::MAX))
}

/// Catmull-Rom weights of the four nodes about a place `t` behind the second.
fn weights(t: f64) -> [f64; 4] {
    let (t2, t3) = (t * t, t * t * t);
    [
        0.5 * (-t + 2.0 * t2 - t3),
        0.5 * (2.0 - 5.0 * t2 + 3.0 * t3),
        0.5 * (t + 4.0 * t2 - 3.0 * t3),
        0.5 * (t3 - t2),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nodes_are_met_planes_stay_planes_and_the_border_holds_on() {
        let shifts = (0_u8..30)
            .map(|node| [0.5 * f32::from(node % 6), -0.25 * f32::from(node / 6)])
            .collect();
        let mesh = Mesh {
            spacing_px: 10.0,
            columns: 6,
            shifts,
        };
        assert!(mesh.is_sound(), "it is a mesh");
        let near = |at: Point, want: Point| {
            let found = mesh.apply(at);
            assert!(
                found.distance(want) < 1e-6,
                "{at:?}: {found:?} for {want:?}"
            );
        };
        near(Point::new(20.0, 30.0), Point::new(21.0, 29.25));
        near(Point::new(23.0, 17.0), Point::new(24.15, 16.575));
        near(Point::new(400.0, -50.0), Point::new(402.5, -50.0));
        let broken = Mesh { columns: 7, ..mesh };
        assert!(!broken.is_sound(), "rows are not whole");
    }
}
