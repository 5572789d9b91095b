//! The smoothest surface through what is known.

use crate::pixels::Plane;
use crate::pixels::convert::count_f32;

/// Rounds of relaxation after the surface was laid from coarse to fine.
const ROUNDS: usize = 60;
/// Over-relaxation of a round.
const PACE: f32 = 1.6;

/// `plane` with every pixel that is not `known` on the smoothest surface (Laplace's) through those that are.
///
/// *Edge*: the border is free. Where nothing is known all is 0.
#[must_use]
pub fn membrane(plane: &Plane, known: &[bool]) -> Plane {
    let (width, height) = (plane.rect.width(), plane.rect.height());
    let mut out = plane.clone();
    if width == 0 || height == 0 {
        return out;
    }
    let weights: Vec<f32> = known
        .iter()
        .map(|known| f32::from(u8::from(*known)))
        .collect();
    let values: Vec<f32> = plane
        .data
        .iter()
        .zip(&weights)
        .map(|(value, weight)| value * weight)
        .collect();
    let rough = drawn_together(&values, &weights, (width, height));
    let unknown: Vec<usize> = (0..known.len()).filter(|at| !known[*at]).collect();
    for at in &unknown {
        out.data[*at] = rough[*at];
    }
    for _round in 0..ROUNDS {
        for at in &unknown {
            let (x, y) = (at % width, at / width);
            let neighbours = [
                (x > 0).then(|| at - 1),
                (x + 1 < width).then(|| at + 1),
                (y > 0).then(|| at - width),
                (y + 1 < height).then(|| at + width),
            ];
            let (mut sum, mut count) = (0.0, 0.0);
            for near in neighbours.into_iter().flatten() {
                sum += out.data[near];
                count += 1.0;
            }
            if count > 0.0 {
                out.data[*at] += PACE * (sum / count - out.data[*at]);
            }
        }
    }
    out
}

/// Weighted values averaged into ever larger squares until all is known, and handed down again.
fn drawn_together(values: &[f32], weights: &[f32], (width, height): (usize, usize)) -> Vec<f32> {
    let mean = |values: &[f32], weights: &[f32]| -> Vec<f32> {
        values
            .iter()
            .zip(weights)
            .map(|(value, weight)| if *weight > 0.0 { value / weight } else { 0.0 })
            .collect()
    };
    if width == 1 && height == 1 || weights.iter().all(|weight| *weight > 0.0) {
        return mean(values, weights);
    }
    let (wide, high) = (width.div_ceil(2), height.div_ceil(2));
    let (mut sums, mut totals) = (vec![0.0; wide * high], vec![0.0_f32; wide * high]);
    for y in 0..height {
        for x in 0..width {
            let (from, to) = (y * width + x, (y / 2) * wide + x / 2);
            sums[to] += values[from];
            totals[to] += weights[from];
        }
    }
    let full = 1.0 / count_f32(4);
    sums.iter_mut().for_each(|sum| *sum *= full);
    totals.iter_mut().for_each(|total| *total *= full);
    let coarse = drawn_together(&sums, &totals, (wide, high));
    let mut out = mean(values, weights);
    for y in 0..height {
        for x in 0..width {
            if weights[y * width + x] <= 0.0 {
                out[y * width + x] = coarse[(y / 2) * wide + x / 2];
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;

    #[test]
    fn a_plane_surface_goes_on_inside_a_hole() {
        let rect = Rect::new(0, 0, 40, 30);
        let truth = Plane::from_fn(rect, |x, y| 0.01 * x as f32 - 0.02 * y as f32);
        let known: Vec<bool> = (0..rect.area())
            .map(|at| !(10..26).contains(&(at % 40)) || !(8..20).contains(&(at / 40)))
            .collect();
        let found = membrane(&truth, &known);
        for (found, truth) in found.data.iter().zip(&truth.data) {
            assert!((found - truth).abs() < 2e-3, "{found} for {truth}");
        }
    }
}
