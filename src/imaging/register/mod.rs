//! Finds where one frame lies on another.
//!
//! Frames of one stack differ in focus only. A symmetric defocus keeps the phase of low spatial frequencies, so plain linear
//! luminance, low-passed on both sides, is compared, never edges. Frames under other light are compared by band-passed,
//! locally normalised luminance, since lamps add low frequencies and bright edges.
//!
//! The measure is the enhanced correlation coefficient, which does not mind gain and offset. Source: Evangelidis and Psarakis,
//! Parametric image alignment using enhanced correlation coefficient maximization, IEEE TPAMI 30 (2008) 1858, forward additive
//! form. The model is a similarity about the optical centre (the middle of the picture): more freedom fits the asymmetry of
//! defocus and not motion.

mod chain;
mod ecc;
mod likeness;

pub use chain::{Link, solve_links};
pub use likeness::{Light, Prepared};

use crate::geometry::{Point, Similarity, Transform};
use ecc::Fit;

/// Where a frame was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Found {
    /// Position on the moved frame to position on the reference frame.
    pub reference_from_moved: Transform,
    /// The same about the reference's middle.
    pub similarity: Similarity,
    /// Correlation coefficient at the end, -1..=1.
    pub correlation: f32,
    /// Root mean square over textured tiles of the shift that the model leaves, in pixels at full size.
    pub residual_px: f32,
}

/// Correlation below which nothing was found.
const LEAST_CORRELATION: f32 = 0.2;

/// The similarity that lays `moved` on `reference`, searched from `start` (moved to reference); both of the same size.
///
/// `None` when the pictures do not correlate.
#[must_use]
pub fn similarity(reference: &Prepared, moved: &Prepared, start: &Transform) -> Option<Found> {
    let first = start.inverse()?;
    let fit = ecc::descend(
        reference,
        moved,
        Fit::from_transform(&first, reference.middle()),
        0,
    )?;
    found(reference, moved, &fit)
}

/// As [`similarity`], but searching sizes within 10 %, turns within 5 degrees and shifts within a quarter of the picture.
#[must_use]
pub fn search(reference: &Prepared, moved: &Prepared) -> Option<Found> {
    let mut best: Option<Fit> = None;
    let shift = reference.side() * 0.11;
    let steps = [-2.0, -1.0, 0.0, 1.0, 2.0];
    for scale in steps {
        for turn in steps {
            for dx in [-1.0, 0.0, 1.0] {
                for dy in [-1.0, 0.0, 1.0] {
                    let start = Similarity {
                        log_scale: scale * 0.045,
                        angle_rad: turn * 0.04,
                        shift: Point::new(dx * shift, dy * shift),
                    };
                    let map = Transform::similarity(start, reference.middle());
                    let fit = ecc::coarsest(
                        reference,
                        moved,
                        Fit::from_transform(&map, reference.middle()),
                    );
                    if let Some(fit) = fit
                        && best
                            .as_ref()
                            .is_none_or(|best| fit.correlation > best.correlation)
                    {
                        best = Some(fit);
                    }
                }
            }
        }
    }
    let fit = ecc::descend(reference, moved, best?, 1)?;
    found(reference, moved, &fit)
}

fn found(reference: &Prepared, moved: &Prepared, fit: &Fit) -> Option<Found> {
    if fit.correlation < LEAST_CORRELATION {
        return None;
    }
    let moved_from_reference = rounded(&fit.transform(reference.middle()));
    let reference_from_moved = rounded(&moved_from_reference.inverse()?);
    Some(Found {
        reference_from_moved,
        similarity: reference_from_moved.to_similarity(reference.middle()),
        correlation: fit.correlation,
        residual_px: ecc::residual(reference, moved, fit),
    })
}

/// The transform as it is written in a record: linear part to 1e-9, shifts to 1e-5 px. What is recorded is what is used.
#[must_use]
pub fn rounded(transform: &Transform) -> Transform {
    let to = |value: f64, steps: f64| (value * steps).round() / steps;
    let mut rows = transform.rows;
    for row in &mut rows[..2] {
        *row = [to(row[0], 1e9), to(row[1], 1e9), to(row[2], 1e5)];
    }
    Transform { rows }
}

#[cfg(test)]
mod tests;
