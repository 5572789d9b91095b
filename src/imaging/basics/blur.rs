//! Gaussian smoothing of planes.

use crate::pixels::Plane;
use crate::pixels::convert::{ceil_i32, clamp_index, coordinate, narrow};
use rayon::prelude::*;

/// Taps of a Gaussian of standard deviation `sigma_px` from the centre outwards, cut at 3.5 sigma and normalised so that the whole,
/// two-sided kernel sums to 1.
#[must_use]
pub fn gaussian_taps(sigma_px: f32) -> Vec<f32> {
    let reach = clamp_index(ceil_i32(sigma_px * 3.5)).max(1);
    let sigma = f64::from(sigma_px.max(1e-3));
    let raw: Vec<f64> = (0..=reach)
        .map(|tap| {
            let at = f64::from(coordinate(tap)) / sigma;
            libm::exp(-0.5 * at * at)
        })
        .collect();
    let whole = raw[0] + 2.0 * raw[1..].iter().sum::<f64>();
    raw.iter().map(|tap| narrow(tap / whole)).collect()
}

/// `plane` smoothed by a Gaussian of standard deviation `sigma_px`.
///
/// *Edge*: the picture is mirrored about its border pixels. *Needs*: 3.5 `sigma_px` on every side.
#[must_use]
pub fn gaussian(plane: &Plane, sigma_px: f32) -> Plane {
    if sigma_px <= 0.0 || plane.rect.is_empty() {
        return plane.clone();
    }
    smooth(plane, &gaussian_taps(sigma_px))
}

/// `plane` filtered by the symmetric kernel `taps` (centre first) along both axes, mirrored about its border pixels.
#[must_use]
pub fn smooth(plane: &Plane, taps: &[f32]) -> Plane {
    let (width, height) = (plane.rect.width(), plane.rect.height());
    if width == 0 || height == 0 {
        return plane.clone();
    }
    let mut across = vec![0.0_f32; plane.data.len()];
    across
        .par_chunks_mut(width)
        .zip(plane.data.par_chunks(width))
        .for_each(|(out, row)| filter_row(row, taps, out));
    let mut data = vec![0.0_f32; plane.data.len()];
    data.par_chunks_mut(width).enumerate().for_each(|(y, out)| {
        smooth_row(taps, y, height, |row| &across[row * width..][..width], out);
    });
    Plane {
        rect: plane.rect,
        data,
    }
}

/// One row of the pass down the columns: `row` gives the rows of a picture `height` pixels high, of which row `y` is smoothed.
pub fn smooth_row<'a>(
    taps: &[f32],
    y: usize,
    height: usize,
    row: impl Fn(usize) -> &'a [f32],
    out: &mut [f32],
) {
    for (distance, tap) in taps.iter().enumerate() {
        let above = row(mirror(coordinate(y) - coordinate(distance), height));
        let below = row(mirror(coordinate(y) + coordinate(distance), height));
        if distance == 0 {
            out.iter_mut()
                .zip(above)
                .for_each(|(sum, value)| *sum = tap * value);
        } else {
            out.iter_mut()
                .zip(above)
                .zip(below)
                .for_each(|((sum, a), b)| *sum += tap * (a + b));
        }
    }
}

/// One row smoothed along itself.
pub fn filter_row(row: &[f32], taps: &[f32], out: &mut [f32]) {
    let width = row.len();
    let reach = taps.len() - 1;
    let padded: Vec<f32> = (0..width + 2 * reach)
        .map(|at| row[mirror(coordinate(at) - coordinate(reach), width)])
        .collect();
    out.iter_mut()
        .zip(&padded[reach..])
        .for_each(|(sum, value)| *sum = taps[0] * value);
    for (distance, tap) in taps.iter().enumerate().skip(1) {
        let left = &padded[reach - distance..];
        let right = &padded[reach + distance..];
        out.iter_mut()
            .zip(left)
            .zip(right)
            .for_each(|((sum, a), b)| *sum += tap * (a + b));
    }
}

/// Index `at` folded back into 0..`length` by mirroring about the first and last pixel (without repeating them).
#[must_use]
pub fn mirror(at: i32, length: usize) -> usize {
    let last = coordinate(length) - 1;
    if last <= 0 {
        return 0;
    }
    let period = 2 * last;
    let folded = at.rem_euclid(period);
    clamp_index(if folded > last {
        period - folded
    } else {
        folded
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;

    #[test]
    fn smoothing_keeps_a_flat_plane_and_the_sum_of_a_spot() {
        let flat = gaussian(&Plane::filled(Rect::new(0, 0, 20, 9), 0.25), 2.0);
        assert!(
            flat.data.iter().all(|value| (value - 0.25).abs() < 1e-6),
            "flat stays flat"
        );
        let mut spot = Plane::zero(Rect::new(0, 0, 41, 41));
        spot.row_mut(20)[20] = 1.0;
        let spread: f32 = gaussian(&spot, 3.0).data.iter().sum();
        assert!((spread - 1.0).abs() < 1e-4, "sum {spread}");
    }
}
