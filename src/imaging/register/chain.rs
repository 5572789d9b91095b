//! Links between neighbouring frames, solved together.

use crate::geometry::{Point, Similarity};
use nalgebra::{DMatrix, DVector};

/// Where frame `to` lies on frame `from`, as measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Link {
    /// Number of the frame it was measured on.
    pub from: usize,
    /// Number of the frame that was found.
    pub to: usize,
    /// Position on `to` to position on `from`, about the middle.
    pub from_to: Similarity,
    /// How much it is trusted, above 0.
    pub weight: f64,
}

/// Where each of `count` frames lies on frame `reference`, by weighted least squares over all links in (log-scale, angle, x, y).
///
/// The four are added up along a chain, which is exact for the first two and, for motions of a locked-off camera (turns and
/// scale changes of a few per cent), for the shift to second order. Frames without a link to the reference stay where they are.
#[must_use]
pub fn solve_links(count: usize, reference: usize, links: &[Link]) -> Vec<Similarity> {
    let mut normal = DMatrix::<f64>::zeros(count, count);
    let mut right = DMatrix::<f64>::zeros(count, 4);
    for link in links {
        let values = [
            link.from_to.log_scale,
            link.from_to.angle_rad,
            link.from_to.shift.x,
            link.from_to.shift.y,
        ];
        normal[(link.from, link.from)] += link.weight;
        normal[(link.to, link.to)] += link.weight;
        normal[(link.from, link.to)] -= link.weight;
        normal[(link.to, link.from)] -= link.weight;
        for (column, value) in values.into_iter().enumerate() {
            right[(link.to, column)] += link.weight * value;
            right[(link.from, column)] -= link.weight * value;
        }
    }
    // The reference stays at zero; a whisper of weight keeps frames without links in place.
    normal[(reference, reference)] += 1e9;
    for frame in 0..count {
        normal[(frame, frame)] += 1e-9;
    }
    let solved = normal.cholesky();
    let column = |column: usize| -> DVector<f64> {
        let wanted = right.column(column).into_owned();
        solved
            .as_ref()
            .map_or_else(|| DVector::zeros(count), |solved| solved.solve(&wanted))
    };
    let [scale, angle, x, y] = [column(0), column(1), column(2), column(3)];
    (0..count)
        .map(|frame| Similarity {
            log_scale: scale[frame] - scale[reference],
            angle_rad: angle[frame] - angle[reference],
            shift: Point::new(x[frame] - x[reference], y[frame] - y[reference]),
        })
        .collect()
}
