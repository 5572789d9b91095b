//! The light of a plain backdrop where the model hides it, from what shows of it round the model.

use super::plain::root;
use crate::geometry::Rect;
use crate::imaging::basics::statistics::{NORMAL_FROM_MAD, median};
use crate::pixels::convert::{coordinate, count_f64, floor_index, narrow};
use crate::pixels::{Plane, Planes};
use nalgebra::{SMatrix, SVector};
use rayon::prelude::*;

/// Powers of x and y up to the fourth together.
const TERMS: usize = 15;
type Terms = SVector<f64, TERMS>;

/// Width of the border that is taken for backdrop at first, as a share of the shorter side.
const BORDER_SHARE: f64 = 0.08;
/// Deviations from the fit beyond which a pixel is no backdrop.
const AGREES: f32 = 2.5;
/// Pixels that a fit looks at, about.
const LOOKED_AT: usize = 60_000;
/// Fits on the border, then fits on everything that agrees.
const ROUNDS: [bool; 7] = [true, true, true, true, false, false, false];

/// The bare backdrop of `seen`, from its border: a smooth surface (fourth order in square roots of light) that leaves out what does not
/// agree with it, so that the model may run out of the picture on one side.
///
/// *Range*: light of at least 1e-4. *Edge*: none.
#[must_use]
pub fn backdrop_of(seen: &Planes) -> Planes {
    let rgb = seen.rgb.each_ref();
    Planes {
        rgb: rgb.map(surface),
    }
}

fn surface(plane: &Plane) -> Plane {
    let rect = plane.rect;
    let step = floor_index((count_f64(rect.area()) / count_f64(LOOKED_AT)).sqrt()).max(1);
    let mut samples: Vec<Sample> = Vec::new();
    let border = floor_index(BORDER_SHARE * count_f64(rect.width().min(rect.height()))).max(2);
    let core = rect.grow(-coordinate(border));
    // The border is narrow: it is looked at more closely than the rest.
    let fine = (step / 2).max(1);
    for y in (rect.y0..rect.y1).step_by(fine) {
        for x in (rect.x0..rect.x1).step_by(fine) {
            let on_border = !core.contains(x, y);
            let coarse = coordinate(step);
            if on_border || ((x - rect.x0) % coarse == 0 && (y - rect.y0) % coarse == 0) {
                samples.push(Sample {
                    terms: terms(rect, x, y),
                    root: root(plane.at(x, y)),
                    on_border,
                });
            }
        }
    }
    let fitted = fit(&samples);
    let mut out = Plane::zero(rect);
    let width = rect.width().max(1);
    out.data
        .par_chunks_mut(width)
        .enumerate()
        .for_each(|(row, out)| {
            for (column, out) in out.iter_mut().enumerate() {
                let at = terms(
                    rect,
                    rect.x0 + coordinate(column),
                    rect.y0 + coordinate(row),
                );
                let root = narrow(fitted.dot(&at));
                *out = (root.max(0.0) * root.max(0.0) - 1e-4).max(1e-4);
            }
        });
    out
}

struct Sample {
    terms: Terms,
    root: f32,
    on_border: bool,
}

fn terms(rect: Rect, x: i32, y: i32) -> Terms {
    let along =
        |at: i32, first: i32, length: usize| f64::from(at - first) / count_f64(length.max(1)) - 0.5;
    let x = along(x, rect.x0, rect.width());
    let y = along(y, rect.y0, rect.height());
    let (x2, y2) = (x * x, y * y);
    Terms::from([
        1.0,
        x,
        y,
        x2,
        x * y,
        y2,
        x2 * x,
        x2 * y,
        x * y2,
        y2 * y,
        x2 * x2,
        x2 * x * y,
        x2 * y2,
        x * y2 * y,
        y2 * y2,
    ])
}

fn fit(samples: &[Sample]) -> Terms {
    let mut fitted = Terms::zeros();
    let mut agree: Vec<&Sample> = samples.iter().filter(|one| one.on_border).collect();
    for border_only in ROUNDS {
        let Some(next) = solved(&agree) else {
            return fitted;
        };
        fitted = next;
        let off = |one: &Sample| (one.root - narrow(fitted.dot(&one.terms))).abs();
        let distances: Vec<f32> = agree.iter().map(|one| off(one)).collect();
        let most = AGREES * NORMAL_FROM_MAD * median(&distances).unwrap_or(0.0).max(1e-5);
        agree = samples
            .iter()
            .filter(|one| (one.on_border || !border_only) && off(one) < most)
            .collect();
    }
    fitted
}

fn solved(samples: &[&Sample]) -> Option<Terms> {
    let mut square = SMatrix::<f64, TERMS, TERMS>::zeros();
    let mut right = Terms::zeros();
    for one in samples {
        square.ger(1.0, &one.terms, &one.terms, 1.0);
        right.axpy(f64::from(one.root), &one.terms, 1.0);
    }
    for at in 0..TERMS {
        square[(at, at)] += 1e-9 * count_f64(samples.len().max(1));
    }
    Some(square.cholesky()?.solve(&right))
}
