//! Smoothing one plane along the edges of another.

use crate::geometry::Rect;
use crate::imaging::basics::blur::gaussian;
use crate::imaging::basics::pyramid::{Grown, expand, reduce, reduce_rows, smaller};
use crate::imaging::basics::wide::wide;
use crate::pixels::Plane;
use rayon::prelude::*;

/// Sigma in pixels of a quarter-size picture: with what reducing and expanding smooth, the window is about 5 px at full size.
const SIGMA_PX: f32 = 1.1;
/// Rows that one thread works on at a time; no value depends on it.
const ROWS: usize = 32;

/// A guided filter (He, Sun and Tang 2013) prepared for one guide picture, with Gaussian windows. The coefficients are worked out at
/// quarter size (He and Sun 2015), from products at full size.
#[derive(Debug)]
pub(super) struct Guided<'a> {
    guide: &'a Plane,
    mean: Plane,
    variance: Plane,
    edge_floor: f32,
}

/// A plane as a locally linear function of the guide: slope and floor, at half size.
#[derive(Debug)]
pub(super) struct Linear {
    slope: Plane,
    floor: Plane,
}

impl<'a> Guided<'a> {
    /// `edge_floor`: variance of the guide below which it counts as flat.
    pub(super) fn new(guide: &'a Plane, edge_floor: f32) -> Self {
        let mean = means(reduce(guide));
        let mut variance = means(reduce_rows(guide.rect, |y, out| {
            let row = row_of(guide, y);
            wide(
                #[inline(always)]
                || {
                    let pairs = out.iter_mut().zip(row);
                    pairs.for_each(|(out, guide)| *out = guide * guide);
                },
            );
        }));
        for (square, mean) in variance.data.iter_mut().zip(&mean.data) {
            *square = (*square - mean * mean).max(0.0);
        }
        Self {
            guide,
            mean,
            variance,
            edge_floor,
        }
    }

    /// The plane whose rows `row` writes as a locally linear function of the guide.
    pub(super) fn filter(&self, row: impl Fn(usize, &mut [f32]) + Sync) -> Linear {
        let rect = self.guide.rect;
        let mut floor = means(reduce_rows(rect, &row));
        let mut slope = means(reduce_rows(rect, |y, out| {
            row(y, out);
            let guide = row_of(self.guide, y);
            wide(
                #[inline(always)]
                || {
                    let pairs = out.iter_mut().zip(guide);
                    pairs.for_each(|(out, guide)| *out *= guide);
                },
            );
        }));
        for (index, a) in slope.data.iter_mut().enumerate() {
            let guide = self.mean.data[index];
            *a = (*a - guide * floor.data[index]) / (self.variance.data[index] + self.edge_floor);
            floor.data[index] -= *a * guide;
        }
        let half = smaller(rect);
        Linear {
            slope: expand(&gaussian(&slope, SIGMA_PX), half),
            floor: expand(&gaussian(&floor, SIGMA_PX), half),
        }
    }

    /// Hands each row of two filtered planes at full size to `put`, with the row of `out` it belongs to.
    pub(super) fn rows(
        &self,
        [one, other]: [&Linear; 2],
        out: &mut Plane,
        put: impl Fn(usize, [&[f32]; 2], &mut [f32]) + Sync,
    ) {
        let rect = self.guide.rect;
        let width = rect.width();
        out.data
            .par_chunks_mut(width.max(1) * ROWS)
            .enumerate()
            .for_each(|(band, rows)| {
                let mut room = [(); 2].map(|()| vec![0.0_f32; width]);
                let (mut line, mut grown) = (Vec::new(), vec![0.0_f32; width]);
                for (offset, row) in rows.chunks_mut(width).enumerate() {
                    let y = band * ROWS + offset;
                    let guide = row_of(self.guide, y);
                    for (linear, values) in [one, other].into_iter().zip(&mut room) {
                        wide(
                            #[inline(always)]
                            || linear.row(rect, (y, guide), (&mut line, &mut grown), values),
                        );
                    }
                    let [one, other] = &room;
                    put(y, [one, other], row);
                }
            });
    }
}

impl Linear {
    /// Row `y` at full size.
    #[inline(always)]
    fn row(
        &self,
        rect: Rect,
        (y, guide): (usize, &[f32]),
        (line, grown): (&mut Vec<f32>, &mut [f32]),
        out: &mut [f32],
    ) {
        Grown::new(&self.slope, rect).row(y, line, out);
        Grown::new(&self.floor, rect).row(y, line, grown);
        for ((value, guide), floor) in out.iter_mut().zip(guide).zip(grown) {
            *value = guide * *value + *floor;
        }
    }
}

/// Means in the filter's window, at quarter size, of a plane at half size.
fn means(half: Plane) -> Plane {
    gaussian(&reduce(&half), SIGMA_PX)
}

/// Row `y`, from 0.
fn row_of(plane: &Plane, y: usize) -> &[f32] {
    let width = plane.rect.width();
    &plane.data[y * width..(y + 1) * width]
}
