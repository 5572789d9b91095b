//! Where a frame lies against another one: size, turn and shift between neighbouring focus distances, between lit and
//! unlit passes, and the perspective after a swap or a bumped camera.
//!
//! Transforms are in pixels at full size from the top-left corner of the planes that were handed in; the optical centre is
//! the middle of the reference. One solver (enhanced correlation, Gauss-Newton, coarse to fine) serves two pre-filters:
//! frames of one stack are compared in low-passed linear light, because defocus keeps the phase of low frequencies only;
//! passes in other light are compared in a locally normalised band, because only fine structure survives a change of light.

mod flexed;
mod level;
mod links;
mod masks;
mod motion;
mod perspective;
mod phase;
mod prepared;
mod radial;
mod residual;
mod similarity;
mod solver;
mod upright; // the solver's sums for similarities

pub use flexed::{Flexed, Left, flexed};
pub use links::{Link, link_error_px, solve_links};
pub use perspective::perspective;
pub use phase::{phase_shift, phase_surface_peak};
pub use prepared::{Light, Prepared};
pub use radial::{Lens, RadialFit, lens};
pub use similarity::{rigid, similarity};

use crate::geometry::{Similarity, Transform};

/// Where a frame was found to lie.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Found {
    /// Takes points of the moved frame to points of the reference, in pixels at full size; rounded by [`rounded`].
    pub reference_from_moved: Transform,
    /// The same as size, turn and shift about the reference's centre (for a perspective: its behaviour there).
    pub similarity: Similarity,
    /// Correlation of the two filtered pictures where both are valid, -1..=1.
    pub correlation: f32,
    /// What the model could not explain: weighted rms of the shifts still found in single tiles, pixels at full size.
    pub residual_px: f32,
    /// A distortion that the two frames do not share, if tiles tell of one. Whether to believe it is for a whole stack to say.
    pub radial: Option<RadialFit>,
}

/// `transform` with the linear part rounded to 1e-9, the shifts to 1e-6 px and the perspective row to 1e-13 per pixel.
///
/// What is recorded in a project is rounded this way before it is used, so that a rebuild uses the same numbers.
#[must_use]
pub fn rounded(transform: Transform) -> Transform {
    let to = |value: f64, steps: f64| (value * steps).round() / steps;
    let [[a, b, c], [d, e, f], [g, h, i]] = transform.rows;
    Transform {
        rows: [
            [to(a, 1e9), to(b, 1e9), to(c, 1e6)],
            [to(d, 1e9), to(e, 1e9), to(f, 1e6)],
            [to(g, 1e13), to(h, 1e13), to(i, 1e9)],
        ],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rounding_twice_changes_nothing() {
        let given = Transform {
            rows: [
                [1.001_234_567_891_2, -0.000_123_456_789_1, 12.345_678_912_3],
                [0.000_123_456_789_1, 1.001_234_567_891_2, -7.654_321_987_6],
                [1.234_567e-9, 0.0, 1.0],
            ],
        };
        let once = rounded(given);
        assert_eq!(rounded(once), once);
        assert!((once.rows[0][2] - given.rows[0][2]).abs() <= 5e-7);
        assert!((once.rows[0][0] - given.rows[0][0]).abs() <= 5e-10);
    }
}
