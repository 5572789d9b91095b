//! Phase correlation: proposes a shift. It does not see size or turn and is fooled by repeated panels, so what it says is
//! only ever a start for the solver.

use crate::geometry::{Point, Rect};
use crate::pixels::Plane;
use crate::pixels::convert::{coordinate, count_f64, floor_f64, narrow};
use rustfft::num_complex::Complex;
use rustfft::{FftDirection, FftPlanner};

/// The shift that brings `moved` onto `reference`, in pixels, by the peak of the phase correlation, refined on a grid of
/// `steps_per_px` steps per pixel (1 = the plain peak).
///
/// Both planes must have the same size; otherwise, and for flat pictures, `None`. The pictures are taken as periodic; take
/// off the mean and fade the borders before if they are not. *Source*: Guizar-Sicairos, Thurman and Fienup 2008, "Efficient
/// subpixel image registration algorithms" (matrix-multiply transform around the peak).
#[must_use]
pub fn phase_shift(reference: &Plane, moved: &Plane, steps_per_px: usize) -> Option<Point> {
    let (width, height) = (reference.rect.width(), reference.rect.height());
    if moved.rect.width() != width || moved.rect.height() != height || width * height == 0 {
        return None;
    }
    let spectrum = cross_spectrum(reference, moved)?;
    let surface = transformed(spectrum.clone(), width, FftDirection::Inverse);
    let (x, y) = peak(&surface, width)?;
    if steps_per_px <= 1 {
        return Some(Point::new(x, y));
    }
    Some(refined(&spectrum, (width, height), (x, y), steps_per_px))
}

/// Height of the phase-correlation peak for two planes of one size: 1 for a pure shift, near 0 for strangers.
#[must_use]
pub fn phase_surface_peak(reference: &Plane, moved: &Plane) -> Option<f32> {
    let (width, height) = (reference.rect.width(), reference.rect.height());
    if moved.rect.width() != width || moved.rect.height() != height || width * height == 0 {
        return None;
    }
    let surface = transformed(
        cross_spectrum(reference, moved)?,
        width,
        FftDirection::Inverse,
    );
    let highest = surface.iter().map(|value| value.re).fold(0.0, f64::max);
    Some(narrow(highest / count_f64(width * height)))
}

/// Unit-length products reference x conjugate(moved).
fn cross_spectrum(reference: &Plane, moved: &Plane) -> Option<Vec<Complex<f64>>> {
    let width = reference.rect.width();
    let complex = |plane: &Plane| {
        plane
            .data
            .iter()
            .map(|value| Complex::new(f64::from(*value), 0.0))
            .collect()
    };
    let a = transformed(complex(reference), width, FftDirection::Forward);
    let b = transformed(complex(moved), width, FftDirection::Forward);
    let largest = a
        .iter()
        .zip(&b)
        .skip(1)
        .map(|(a, b)| (a * b.conj()).norm_sqr().sqrt())
        .fold(0.0, f64::max);
    if largest <= 0.0 || !largest.is_finite() {
        return None;
    }
    let floor = largest * 1e-12;
    Some(
        a.iter()
            .zip(&b)
            .map(|(a, b)| {
                let product = a * b.conj();
                let length = product.norm_sqr().sqrt();
                if length > floor {
                    product / length
                } else {
                    Complex::new(0.0, 0.0)
                }
            })
            .collect(),
    )
}

/// Two-dimensional Fourier transform (not scaled).
fn transformed(
    mut data: Vec<Complex<f64>>,
    width: usize,
    direction: FftDirection,
) -> Vec<Complex<f64>> {
    let height = data.len() / width;
    let mut planner = FftPlanner::new();
    planner.plan_fft(width, direction).process(&mut data);
    let mut turned = turn(&data, width);
    planner.plan_fft(height, direction).process(&mut turned);
    turn(&turned, height)
}

fn turn(data: &[Complex<f64>], width: usize) -> Vec<Complex<f64>> {
    let height = data.len() / width;
    let mut out = Vec::with_capacity(data.len());
    for x in 0..width {
        out.extend((0..height).map(|y| data[y * width + x]));
    }
    out
}

/// Place of the highest value, as signed shifts.
fn peak(surface: &[Complex<f64>], width: usize) -> Option<(f64, f64)> {
    let height = surface.len() / width;
    let mut best: Option<(f64, usize)> = None;
    for (at, value) in surface.iter().enumerate() {
        if best.is_none_or(|(height, _)| value.re > height) {
            best = Some((value.re, at));
        }
    }
    let (_, at) = best?;
    Some((signed(at % width, width), signed(at / width, height)))
}

/// Index of a periodic axis as a number from minus a half to a half of its length.
fn signed(index: usize, length: usize) -> f64 {
    let at = f64::from(coordinate(index));
    if index > length / 2 {
        at - f64::from(coordinate(length))
    } else {
        at
    }
}

/// The peak of the correlation on a fine grid within 0.75 px of (x, y).
fn refined(
    spectrum: &[Complex<f64>],
    (width, height): (usize, usize),
    (x, y): (f64, f64),
    steps_per_px: usize,
) -> Point {
    let per = f64::from(coordinate(steps_per_px));
    let half = floor_f64(per * 0.75);
    let offsets: Vec<f64> = (-half..=half).map(|step| f64::from(step) / per).collect();
    let waves = |at: f64, length: usize| -> Vec<Complex<f64>> {
        (0..length)
            .map(|k| {
                let angle =
                    std::f64::consts::TAU * signed(k, length) * at / f64::from(coordinate(length));
                Complex::new(libm::cos(angle), libm::sin(angle))
            })
            .collect()
    };
    let columns: Vec<Vec<Complex<f64>>> = offsets.iter().map(|dx| waves(x + dx, width)).collect();
    let rows: Vec<Vec<Complex<f64>>> = offsets.iter().map(|dy| waves(y + dy, height)).collect();
    let mut best = (f64::MIN, Point::new(x, y));
    for (dx, column) in offsets.iter().zip(&columns) {
        let along: Vec<Complex<f64>> = spectrum
            .chunks(width)
            .map(|line| line.iter().zip(column).map(|(a, b)| a * b).sum())
            .collect();
        for (dy, row) in offsets.iter().zip(&rows) {
            let value: Complex<f64> = along.iter().zip(row).map(|(a, b)| a * b).sum();
            if value.re > best.0 {
                best = (value.re, Point::new(x + dx, y + dy));
            }
        }
    }
    best.1
}

/// `plane` minus its mean, faded to 0 towards the borders by a raised cosine, so that the periodic view has no seams.
pub(super) fn faded(plane: &Plane) -> Plane {
    let (width, height) = (plane.rect.width(), plane.rect.height());
    let sum: f64 = plane.data.iter().map(|value| f64::from(*value)).sum();
    let mean = narrow(sum / count_f64(plane.data.len().max(1)));
    let window = |length: usize| -> Vec<f32> {
        (0..length)
            .map(|at| {
                let turn = std::f64::consts::TAU * (f64::from(coordinate(at)) + 0.5)
                    / f64::from(coordinate(length));
                narrow(0.5 - 0.5 * libm::cos(turn))
            })
            .collect()
    };
    let (across, down) = (window(width), window(height));
    let mut out = plane.clone();
    for (row, fade) in out.data.chunks_mut(width.max(1)).zip(&down) {
        for (value, along) in row.iter_mut().zip(&across) {
            *value = (*value - mean) * along * fade;
        }
    }
    out
}

/// The next power of two, at least 32.
pub(super) fn padded_side(length: usize) -> usize {
    length.max(32).next_power_of_two()
}

/// `plane` in the middle of a larger, empty one of `width` by `height`.
pub(super) fn placed(plane: &Plane, width: usize, height: usize) -> Plane {
    let left = (coordinate(width) - coordinate(plane.rect.width())) / 2;
    let top = (coordinate(height) - coordinate(plane.rect.height())) / 2;
    let (x, y) = (plane.rect.x0 - left, plane.rect.y0 - top);
    plane.crop(Rect::new(
        x,
        y,
        x + coordinate(width),
        y + coordinate(height),
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Waves of many lengths and a shifted copy with the shift exact in the Fourier sense.
    fn waves(side: i32, dx: f64, dy: f64) -> Plane {
        let mut state = 7_u64;
        let mut next = || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            f64::from(u32::try_from(state >> 40).unwrap()) / f64::from(1_u32 << 24)
        };
        let all: Vec<[f64; 4]> = (0..160)
            .map(|_| {
                let (kx, ky) = (
                    (next() * 41.0).floor() - 20.0,
                    (next() * 41.0).floor() - 20.0,
                );
                [kx, ky, next() * 6.0, next()]
            })
            .collect();
        Plane::from_fn(Rect::new(0, 0, side, side), |x, y| {
            let (x, y) = (f64::from(x) - dx, f64::from(y) - dy);
            let turn = std::f64::consts::TAU / f64::from(side);
            narrow(
                all.iter()
                    .map(|[kx, ky, phase, size]| size * libm::cos((kx * x + ky * y) * turn + phase))
                    .sum(),
            )
        })
    }

    /// The published example (`checks/registration.csv`, Guizar-Sicairos et al. 2008) shifts a camera picture by
    /// (-22.4 down, 13.32 across) and reports (22, -13) in whole pixels and (22.4, -13.32) at 100 steps per pixel. That
    /// picture is not shipped; these are periodic waves of our own with the same shift.
    #[test]
    fn the_published_shift_is_found_whole_and_to_a_hundredth() {
        let reference = waves(128, 0.0, 0.0);
        let moved = waves(128, 13.32, -22.4);
        let whole = phase_shift(&reference, &moved, 1).unwrap();
        assert_eq!((whole.y, whole.x), (22.0, -13.0));
        let fine = phase_shift(&reference, &moved, 100).unwrap();
        assert!((fine.y - 22.4).abs() < 0.0101, "{fine:?}");
        assert!((fine.x + 13.32).abs() < 0.0101, "{fine:?}");
    }

    #[test]
    fn flat_pictures_and_unlike_sizes_give_nothing() {
        let flat = Plane::filled(Rect::new(0, 0, 32, 32), 0.5);
        assert!(phase_shift(&flat, &flat, 1).is_none());
        assert!(phase_shift(&flat, &waves(64, 0.0, 0.0), 1).is_none());
    }
}
