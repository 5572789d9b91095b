//! Gaussian smoothing of planes.

use crate::imaging::basics::wide::wide;
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
        .par_chunks_mut(width * ROWS)
        .zip(plane.data.par_chunks(width * ROWS))
        .for_each(|(out, rows)| {
            wide(
                #[inline(always)]
                || {
                    let pairs = out.chunks_mut(width).zip(rows.chunks(width));
                    pairs.for_each(|(out, row)| filter_row(row, taps, out));
                },
            );
        });
    let mut data = vec![0.0_f32; plane.data.len()];
    data.par_chunks_mut(width * ROWS)
        .enumerate()
        .for_each(|(band, out)| {
            wide(
                #[inline(always)]
                || {
                    for (offset, out) in out.chunks_mut(width).enumerate() {
                        let row = |row: usize| &across[row * width..][..width];
                        smooth_row(taps, band * ROWS + offset, height, row, out);
                    }
                },
            );
        });
    Plane {
        rect: plane.rect,
        data,
    }
}

/// Rows that one thread works on at a time; no value depends on it.
const ROWS: usize = 16;
/// Pixels that are weighed in one go,
const MANY: usize = 32;
/// and what is left of a row.
const LANES: usize = 8;

/// One row of the pass down the columns: `row` gives the rows of a picture `height` pixels high, of which row `y` is smoothed.
#[inline(always)]
pub fn smooth_row<'a>(
    taps: &[f32],
    y: usize,
    height: usize,
    row: impl Fn(usize) -> &'a [f32],
    out: &mut [f32],
) {
    let at = |offset: i32| row(mirror(coordinate(y) + offset, height));
    let rows: Vec<[&[f32]; 2]> = (0..coordinate(taps.len()))
        .map(|distance| [at(-distance), at(distance)])
        .collect();
    weigh(taps, out, |distance, place, count| {
        rows[distance].map(|row| &row[place..place + count])
    });
}

/// One row smoothed along itself.
#[inline(always)]
pub fn filter_row(row: &[f32], taps: &[f32], out: &mut [f32]) {
    let reach = taps.len() - 1;
    let mut padded = vec![0.0; row.len() + 2 * reach];
    padded[reach..reach + row.len()].copy_from_slice(row);
    filter_padded(&mut padded, taps, out);
}

/// The same for a row with room for one tap less than there are before and after it.
#[inline(always)]
pub fn filter_padded(padded: &mut [f32], taps: &[f32], out: &mut [f32]) {
    let reach = taps.len() - 1;
    let width = padded.len() - 2 * reach;
    for at in (0..reach).chain(width + reach..width + 2 * reach) {
        padded[at] = padded[reach + mirror(coordinate(at) - coordinate(reach), width)];
    }
    weigh(taps, out, |distance, place, count| {
        let middle = place + reach;
        [
            &padded[middle - distance..][..count],
            &padded[middle + distance..][..count],
        ]
    });
}

/// Gives each place of `out` the sum over the taps of tap times the pair of values at that distance (the centre counts once).
/// `pair` gives the values of `count` places from `place` on.
#[inline(always)]
fn weigh<'a>(taps: &[f32], out: &mut [f32], pair: impl Fn(usize, usize, usize) -> [&'a [f32]; 2]) {
    let many = out.len() / MANY * MANY;
    let few = out.len() / LANES * LANES;
    weigh_blocks::<MANY>(taps, &mut out[..many], 0, &pair);
    weigh_blocks::<LANES>(taps, &mut out[many..few], many, &pair);
    weigh_blocks::<1>(taps, &mut out[few..], few, &pair);
}

/// Weighs `N` places in one go, those of `out` being the ones from `place` on.
#[inline(always)]
fn weigh_blocks<'a, const N: usize>(
    taps: &[f32],
    out: &mut [f32],
    mut place: usize,
    pair: &impl Fn(usize, usize, usize) -> [&'a [f32]; 2],
) {
    let (blocks, _) = out.as_chunks_mut::<N>();
    for block in blocks {
        let mut sum = [0.0_f32; N];
        let [centre, _] = pair(0, place, N);
        for (sum, value) in sum.iter_mut().zip(centre) {
            *sum = taps[0] * value;
        }
        for (distance, tap) in taps.iter().enumerate().skip(1) {
            let [before, after] = pair(distance, place, N);
            for ((sum, a), b) in sum.iter_mut().zip(before).zip(after) {
                *sum += tap * (a + b);
            }
        }
        *block = sum;
        place += N;
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
