//! Neighbour and skip-one links of a stack solved together.

use crate::geometry::{Point, Similarity, Size, Transform};
use crate::pixels::convert::{coordinate, count_f64};
use nalgebra::{DMatrix, DVector};

/// One measured pair of frames.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Link {
    /// Frame whose points are moved.
    pub from: usize,
    /// Frame they are moved to.
    pub to: usize,
    /// `to_from_from` about the common centre, as [`similarity`](crate::imaging::register::similarity) finds it with `to`
    /// as the reference.
    pub similarity: Similarity,
    /// Trust, relative to the other links; not negative.
    pub weight: f64,
}

/// Pull of every frame towards lying still, relative to a link of weight 1: settles frames that no link reaches.
const STILL: f64 = 1e-9;

/// Where each of `n` frames lies against frame `reference`, from all links at once.
///
/// Weighted least squares, first in log-scale and angle (which add up exactly along a chain), then in the shifts with those
/// known. Links to frames that do not exist are left out; a frame that no link reaches lies still.
#[must_use]
pub fn solve_links(n: usize, reference: usize, links: &[Link]) -> Vec<Similarity> {
    let good: Vec<Link> = links
        .iter()
        .filter(|link| link.from < n && link.to < n && link.from != link.to)
        .filter(|link| link.weight > 0.0 && link.weight.is_finite())
        .copied()
        .collect();
    let log_scale = solve(n, reference, &good, |link| link.similarity.log_scale);
    let angle = solve(n, reference, &good, |link| link.similarity.angle_rad);
    let turned = |link: &Link| {
        let scale = libm::exp(log_scale[link.to]);
        let (sin, cos) = (libm::sin(angle[link.to]), libm::cos(angle[link.to]));
        let shift = link.similarity.shift;
        Point::new(
            scale * (cos * shift.x - sin * shift.y),
            scale * (sin * shift.x + cos * shift.y),
        )
    };
    let x = solve(n, reference, &good, |link| turned(link).x);
    let y = solve(n, reference, &good, |link| turned(link).y);
    (0..n)
        .map(|frame| Similarity {
            log_scale: log_scale[frame],
            angle_rad: angle[frame],
            shift: Point::new(x[frame], y[frame]),
        })
        .collect()
}

/// One number per frame, 0 at `reference`, so that number(from) - number(to) meets each link as nearly as possible.
fn solve(n: usize, reference: usize, links: &[Link], measured: impl Fn(&Link) -> f64) -> Vec<f64> {
    let mut normal = DMatrix::<f64>::zeros(n, n);
    let mut wanted = DVector::<f64>::zeros(n);
    for frame in 0..n {
        normal[(frame, frame)] = if frame == reference { 1e9 } else { STILL };
    }
    for link in links {
        let (from, to, weight) = (link.from, link.to, link.weight);
        let value = measured(link) * weight;
        normal[(from, from)] += weight;
        normal[(to, to)] += weight;
        normal[(from, to)] -= weight;
        normal[(to, from)] -= weight;
        wanted[from] += value;
        wanted[to] -= value;
    }
    let mut found = normal.cholesky().map_or_else(
        || vec![0.0; n],
        |solver| solver.solve(&wanted).iter().copied().collect(),
    );
    let zero = found.get(reference).copied().unwrap_or(0.0);
    found.iter_mut().for_each(|value| *value -= zero);
    found
}

/// How far `link` is from what the solved frames say, rms over a 9 x 7 grid of a picture of `size`, in pixels.
///
/// Frames that do not exist give infinity.
#[must_use]
pub fn link_error_px(solved: &[Similarity], link: &Link, size: Size) -> f64 {
    let centre = Point::new(f64::from(size.width) * 0.5, f64::from(size.height) * 0.5);
    let (Some(from), Some(to)) = (solved.get(link.from), solved.get(link.to)) else {
        return f64::INFINITY;
    };
    let direct = Transform::similarity(*from, centre);
    let chained =
        Transform::similarity(*to, centre).after(&Transform::similarity(link.similarity, centre));
    let mut sum = 0.0;
    for row in 0..7_usize {
        for column in 0..9_usize {
            let at = Point::new(
                f64::from(size.width) * f64::from(coordinate(column)) / 8.0,
                f64::from(size.height) * f64::from(coordinate(row)) / 6.0,
            );
            let gap = direct.apply(at).distance(chained.apply(at));
            sum += gap * gap;
        }
    }
    (sum / count_f64(63)).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn about(log_scale: f64, angle_rad: f64, x: f64, y: f64) -> Similarity {
        Similarity {
            log_scale,
            angle_rad,
            shift: Point::new(x, y),
        }
    }

    /// `to_from_from` out of true frame positions.
    fn exact(truth: &[Similarity], from: usize, to: usize, weight: f64) -> Link {
        let centre = Point::new(500.0, 300.0);
        let similarity = Transform::similarity(truth[to], centre)
            .inverse()
            .unwrap()
            .after(&Transform::similarity(truth[from], centre))
            .to_similarity(centre);
        Link {
            from,
            to,
            similarity,
            weight,
        }
    }

    #[test]
    fn exact_links_give_the_frames_back() {
        let truth: Vec<Similarity> = (0..6_u32)
            .map(|k| {
                let k = f64::from(k) - 2.0;
                about(0.02 * k, 0.003 * k, 5.0 * k, -3.0 * k * k)
            })
            .collect();
        let shifted_truth: Vec<Similarity> = {
            let centre = Point::new(500.0, 300.0);
            let back = Transform::similarity(truth[2], centre).inverse().unwrap();
            truth
                .iter()
                .map(|one| {
                    back.after(&Transform::similarity(*one, centre))
                        .to_similarity(centre)
                })
                .collect()
        };
        let mut links = Vec::new();
        for k in 0..5 {
            links.push(exact(&truth, k, k + 1, 1.0));
        }
        for k in 0..4 {
            links.push(exact(&truth, k + 2, k, 0.5));
        }
        let solved = solve_links(6, 2, &links);
        for (found, wanted) in solved.iter().zip(&shifted_truth) {
            assert!(
                (found.log_scale - wanted.log_scale).abs() < 1e-7,
                "{found:?} {wanted:?}"
            );
            assert!(
                (found.angle_rad - wanted.angle_rad).abs() < 1e-7,
                "{found:?} {wanted:?}"
            );
            assert!(
                found.shift.distance(wanted.shift) < 1e-5,
                "{found:?} {wanted:?}"
            );
        }
        for link in &links {
            assert!(link_error_px(&solved, link, Size::new(1000, 600)) < 1e-4);
        }
    }

    #[test]
    fn a_frame_without_links_lies_still_and_bad_links_are_left_out() {
        let link = Link {
            from: 0,
            to: 9,
            similarity: about(0.1, 0.0, 4.0, 0.0),
            weight: 1.0,
        };
        let solved = solve_links(3, 1, &[link]);
        assert!(
            solved
                .iter()
                .all(|one| one.shift.distance(Point::default()) < 1e-9)
        );
        assert!(link_error_px(&solved, &link, Size::new(10, 10)).is_infinite());
    }
}
