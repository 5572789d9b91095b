//! Gaussian and Laplacian pyramids (Burt and Adelson 1983), and halving a picture for smaller zoom levels.

use super::blur::mirror;
use super::wide::wide as widely;
use crate::geometry::Rect;
use crate::pixels::convert::{coordinate, count_f32};
use crate::pixels::{Image, Plane};
use rayon::prelude::*;

/// A Laplacian pyramid: what each level adds to the next coarser one, finest first, and the smallest picture at the end.
#[derive(Debug, Clone, PartialEq)]
pub struct Pyramid {
    /// Band-pass planes, finest first; the last one is the low-pass rest.
    pub levels: Vec<Plane>,
}

/// Part of white noise's variance that each band of a Laplacian pyramid holds, finest first (measured: see the test of the fusion's
/// noise). Later levels: a quarter of the one before.
pub const WHITE_NOISE_SHARE: [f32; 4] = [0.8893, 0.0529, 0.01015, 0.00235];

/// The rectangle of the next smaller level of a plane over `rect`: it starts at the origin and has half the sides, rounded up.
#[must_use]
pub fn smaller(rect: Rect) -> Rect {
    let half = |side: usize| coordinate(side.div_ceil(2));
    Rect::new(0, 0, half(rect.width()), half(rect.height()))
}

/// `plane` smoothed by (1 4 6 4 1)/16 along both axes, every second pixel kept, the first one included.
///
/// *Edge*: mirrored about the border pixels. The answer lies at [`smaller`].
#[must_use]
pub fn reduce(plane: &Plane) -> Plane {
    let rect = smaller(plane.rect);
    let (wide, high) = (plane.rect.width(), plane.rect.height());
    let mut out = Plane::unwritten(rect);
    if out.data.is_empty() {
        return out;
    }
    let row = |y: i32| {
        let start = mirror(y, high) * wide;
        &plane.data[start..start + wide]
    };
    let width = rect.width();
    out.data
        .par_chunks_mut(width * ROWS)
        .enumerate()
        .for_each(|(band, rows)| {
            let mut line = vec![0.0_f32; wide + 5];
            for (offset, out) in rows.chunks_mut(width).enumerate() {
                let y = 2 * coordinate(band * ROWS + offset);
                let around = [row(y - 2), row(y - 1), row(y), row(y + 1), row(y + 2)];
                widely(
                    #[inline(always)]
                    || reduce_row(around, &mut line, out),
                );
            }
        });
    out
}

/// [`reduce`] of a plane over `rect` that is nowhere as a whole: `row` writes its rows (from 0), each one a few times.
#[must_use]
pub fn reduce_rows(rect: Rect, row: impl Fn(usize, &mut [f32]) + Sync) -> Plane {
    const AROUND: usize = 5;
    let (wide, high) = (rect.width(), rect.height());
    let mut out = Plane::unwritten(smaller(rect));
    if out.data.is_empty() {
        return out;
    }
    let width = out.rect.width();
    let bands = out.data.par_chunks_mut(width * ROWS).enumerate();
    bands.for_each(|(band, rows)| {
        let mut line = vec![0.0_f32; wide + 5];
        // Neighbouring rows of the smaller plane share rows of the large one: row y waits at place y modulo their number.
        let mut lines = [(); AROUND].map(|()| (None, vec![0.0_f32; wide]));
        for (offset, out) in rows.chunks_mut(width).enumerate() {
            let y = 2 * coordinate(band * ROWS + offset);
            let around = [y - 2, y - 1, y, y + 1, y + 2].map(|y| mirror(y, high));
            for y in around {
                let (held, line) = &mut lines[y % AROUND];
                if *held != Some(y) {
                    row(y, line);
                    *held = Some(y);
                }
            }
            let around = around.map(|y| lines[y % AROUND].1.as_slice());
            widely(
                #[inline(always)]
                || reduce_row(around, &mut line, out),
            );
        }
    });
    out
}

/// One row of the smaller plane from the five rows around it; `line` is room for a row and five more places.
#[inline(always)]
fn reduce_row([a, b, c, d, e]: [&[f32]; 5], line: &mut [f32], out: &mut [f32]) {
    let wide = a.len();
    let outer = a.iter().zip(e).zip(b.iter().zip(d));
    for ((value, middle), ((a, e), (b, d))) in line[2..wide + 2].iter_mut().zip(c).zip(outer) {
        *value = 0.0625 * (a + e) + 0.25 * (b + d) + 0.375 * middle;
    }
    pad(line, wide);
    // The pairs of even and odd places of the padded line.
    let (pairs, _) = line.as_chunks::<2>();
    for (value, near) in out.iter_mut().zip(pairs.windows(3)) {
        let [one, two, three] = [near[0], near[1], near[2]];
        *value = 0.0625 * (one[0] + three[0]) + 0.25 * (one[1] + two[1]) + 0.375 * two[0];
    }
}

/// Rows that one thread works on at a time; no value depends on it.
const ROWS: usize = 16;

/// Fills the two places before and after the `wide` values in the middle of `line` by mirroring.
fn pad(line: &mut [f32], wide: usize) {
    let middle = |at: i32| mirror(at, wide) + 2;
    line[0] = line[middle(-2)];
    line[1] = line[middle(-1)];
    line[wide + 2] = line[middle(coordinate(wide))];
    line[wide + 3] = line[middle(coordinate(wide) + 1)];
}

/// `plane` brought to the pixels of `rect`, of which it is the [`reduce`]d size, with the same kernel.
#[must_use]
pub fn expand(plane: &Plane, rect: Rect) -> Plane {
    let mut out = Plane::zero(rect);
    combine(plane, &mut out, |_, value| value);
    out
}

/// `fine` minus the expanded `coarse`: one level of a Laplacian pyramid. `coarse` must be the size of `reduce(fine)`.
#[must_use]
pub fn band(fine: &Plane, coarse: &Plane) -> Plane {
    let mut out = fine.clone();
    combine(coarse, &mut out, |fine, smooth| fine - smooth);
    out
}

/// Puts each pixel of `out` and of the expanded `coarse` through `mix`.
fn combine(coarse: &Plane, out: &mut Plane, mix: impl Fn(f32, f32) -> f32 + Sync) {
    if out.data.is_empty() || coarse.rect.is_empty() {
        return;
    }
    let grown = Grown::new(coarse, out.rect);
    out.data
        .par_chunks_mut(out.rect.width() * ROWS)
        .enumerate()
        .for_each(|(band, rows)| {
            let mut line = Vec::new();
            let mut smooth = vec![0.0_f32; grown.width];
            for (offset, out) in rows.chunks_mut(grown.width).enumerate() {
                widely(
                    #[inline(always)]
                    || {
                        grown.row(band * ROWS + offset, &mut line, &mut smooth);
                        let pairs = out.iter_mut().zip(&smooth);
                        pairs.for_each(|(value, smooth)| *value = mix(*value, *smooth));
                    },
                );
            }
        });
}

/// A coarse plane seen at the size of the finer one it was [`reduce`]d from, row by row.
#[derive(Debug, Clone, Copy)]
pub struct Grown<'a> {
    coarse: &'a Plane,
    width: usize,
    height: usize,
}

impl<'a> Grown<'a> {
    /// `coarse` at the size of `fine`; neither may be empty.
    #[must_use]
    pub fn new(coarse: &'a Plane, fine: Rect) -> Self {
        Self {
            coarse,
            width: fine.width(),
            height: fine.height(),
        }
    }

    /// Row `y` (from 0). `line` is room to work in.
    #[inline(always)]
    pub fn row(&self, y: usize, line: &mut Vec<f32>, out: &mut [f32]) {
        let (wide, high) = (self.coarse.rect.width(), self.coarse.rect.height());
        // A mirrored fine picture mirrors the coarse one as well, about its own first pixel and about the last fine pixel.
        let row = |y: i32| {
            let start = fold(y, high, self.height) * wide;
            &self.coarse.data[start..start + wide]
        };
        line.resize(wide + 2, 0.0);
        let middle = coordinate(y / 2);
        let places = line[1..=wide].iter_mut();
        if y.is_multiple_of(2) {
            let around = row(middle - 1).iter().zip(row(middle + 1));
            for ((value, here), (above, below)) in places.zip(row(middle)).zip(around) {
                *value = 0.125 * (above + below) + 0.75 * here;
            }
        } else {
            for ((value, here), below) in places.zip(row(middle)).zip(row(middle + 1)) {
                *value = 0.5 * (here + below);
            }
        }
        line[0] = line[1 + fold(-1, wide, self.width)];
        line[wide + 1] = line[1 + fold(coordinate(wide), wide, self.width)];
        spread(line, out);
    }
}

/// The coarse index that stands for `at` (-1 or one past the end) when the fine picture of `fine` pixels is mirrored.
fn fold(at: i32, coarse: usize, fine: usize) -> usize {
    let index = mirror(2 * at, fine) / 2;
    index.min(coarse - 1)
}

/// Spreads one padded coarse row over a fine row.
#[inline(always)]
fn spread(line: &[f32], out: &mut [f32]) {
    let (pairs, last) = out.as_chunks_mut::<2>();
    let count = pairs.len();
    for (pair, taps) in pairs.iter_mut().zip(line.windows(3)) {
        pair[0] = 0.125 * (taps[0] + taps[2]) + 0.75 * taps[1];
        pair[1] = 0.5 * (taps[1] + taps[2]);
    }
    if let (Some(value), Some([before, here, after])) =
        (last.first_mut(), line.get(count..count + 3))
    {
        *value = 0.125 * (before + after) + 0.75 * here;
    }
}

/// The Laplacian pyramid of `plane` with `levels` band-pass levels (fewer if the picture gets smaller than two pixels) and the
/// low-pass rest.
#[must_use]
pub fn build(plane: &Plane, levels: usize) -> Pyramid {
    let mut out = Vec::with_capacity(levels + 1);
    let mut rest = plane.clone();
    for _ in 0..levels {
        if rest.rect.width() < 2 && rest.rect.height() < 2 {
            break;
        }
        let small = reduce(&rest);
        combine(&small, &mut rest, |fine, smooth| fine - smooth);
        out.push(std::mem::replace(&mut rest, small));
    }
    out.push(rest);
    Pyramid { levels: out }
}

/// Adds up the levels of a Laplacian pyramid; what [`build`] took apart comes back within rounding.
#[must_use]
pub fn collapse(pyramid: Pyramid) -> Plane {
    let mut levels = pyramid.levels.into_iter().rev();
    let mut sum = levels.next().unwrap_or(Plane {
        rect: Rect::default(),
        data: Vec::new(),
    });
    for mut level in levels {
        combine(&sum, &mut level, |detail, smooth| detail + smooth);
        sum = level;
    }
    sum
}

/// `image` at half size: each pixel is the mean of the 2 x 2 pixels at even coordinates that it covers. What lies outside the image
/// counts as nothing, so a border at odd coordinates comes out half covered.
#[must_use]
pub fn halve(image: &Image) -> Image {
    let rect = image.rect;
    let half_up = |at: i32| at.div_euclid(2) + at.rem_euclid(2);
    let small = Rect::new(
        rect.x0.div_euclid(2),
        rect.y0.div_euclid(2),
        half_up(rect.x1),
        half_up(rect.y1),
    );
    let mut out = Image::empty(small);
    if rect.is_empty() {
        return out;
    }
    let width = small.width();
    out.data
        .par_chunks_mut(width)
        .enumerate()
        .for_each(|(row, pixels)| {
            let y = 2 * (small.y0 + coordinate(row));
            for (column, pixel) in pixels.iter_mut().enumerate() {
                let x = 2 * (small.x0 + coordinate(column));
                *pixel = quarter(image, x, y);
            }
        });
    out
}

fn quarter(image: &Image, x: i32, y: i32) -> [f32; 4] {
    let mut sum = [0.0_f32; 4];
    for (x, y) in [(x, y), (x + 1, y), (x, y + 1), (x + 1, y + 1)] {
        if image.rect.contains(x, y) {
            for (total, value) in sum.iter_mut().zip(image.at(x, y)) {
                *total += value;
            }
        }
    }
    sum.map(|total| total / count_f32(4))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pixels::convert::narrow;

    fn bumpy(rect: Rect) -> Plane {
        Plane::from_fn(rect, |x, y| {
            let (x, y) = (f64::from(x), f64::from(y));
            narrow(0.5 + 0.3 * libm::sin(0.7 * x + 0.01 * y * y) + 0.2 * libm::cos(1.9 * y - x))
        })
    }

    #[test]
    fn a_pyramid_rebuilds_its_input() {
        for (width, height) in [(64, 64), (101, 57), (1, 9), (2, 2), (3, 1), (1, 1)] {
            let plane = bumpy(Rect::new(5, -2, 5 + width, -2 + height));
            for levels in [0, 1, 4, 9] {
                let back = collapse(build(&plane, levels));
                assert_eq!(back.rect, plane.rect);
                for (a, b) in back.data.iter().zip(&plane.data) {
                    assert!((a - b).abs() <= 1e-6, "{width} x {height}: {a} for {b}");
                }
            }
        }
    }

    #[test]
    fn flat_planes_have_no_detail_and_ramps_none_away_from_the_border() {
        let rect = Rect::new(0, 0, 61, 40);
        for level in &build(&Plane::filled(rect, 0.3), 4).levels[..4] {
            assert!(level.data.iter().all(|v| v.abs() < 1e-6), "{level:?}");
        }
        let ramp = Plane::from_fn(rect, |x, y| {
            narrow(0.01 * f64::from(x) - 0.02 * f64::from(y))
        });
        let level = &build(&ramp, 1).levels[0];
        for y in 4..36 {
            assert!(level.row(y)[4..56].iter().all(|v| v.abs() < 1e-6), "{y}");
        }
    }

    #[test]
    fn the_reduced_plane_is_the_published_kernel() {
        let mut spot = Plane::zero(Rect::new(0, 0, 17, 17));
        spot.row_mut(8)[8] = 256.0;
        let small = reduce(&spot);
        assert_eq!(small.at(4, 4), 36.0);
        assert_eq!([small.at(3, 4), small.at(5, 4)], [6.0, 6.0]);
        assert_eq!([small.at(3, 3), small.at(2, 4)], [1.0, 0.0]);
    }

    #[test]
    fn halving_takes_the_mean_of_four() {
        let image = Image::from_fn(Rect::new(-1, 0, 3, 2), |x, y| {
            let value = narrow(f64::from(x + 10 * y));
            [value, 0.0, 1.0, 1.0]
        });
        let half = halve(&image);
        assert_eq!(half.rect, Rect::new(-1, 0, 2, 1));
        assert_eq!(half.at(0, 0), [5.5, 0.0, 1.0, 1.0]);
        assert_eq!(half.at(-1, 0), [2.0, 0.0, 0.5, 0.5]);
        assert_eq!(half.at(1, 0), [3.5, 0.0, 0.5, 0.5]);
    }
}
