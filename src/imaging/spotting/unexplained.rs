//! What one picture of a pose shows that another one of the same pose does not explain.
//!
//! Both were shot of the same set, so the one is the other but for a little light, a part of a pixel of shift, a little sharpness, and
//! noise. Cell by cell the difference is fitted by what those make of the other picture. What is left is judged against what is usual
//! there: noise, and, where the picture is full of fine detail, what sampling it anew leaves of that.

use crate::geometry::Rect;
use crate::imaging::basics::blur::gaussian;
use crate::imaging::basics::statistics::{NORMAL_FROM_MAD, median, percentile};
use crate::pixels::convert::{clamp_index, coordinate, count_f32, floor_i32, narrow};
use crate::pixels::{Plane, Planes};
use rayon::prelude::*;

/// Side of a cell, px; how far cells are away that are fitted together with one, and that say what is usual in it.
const CELL: usize = 16;
const FITTED: usize = 2;
const USUAL: usize = 2;
/// What a fit may be made of: light added, light multiplied, shifts across and down, sharpness; and how large each usually is. A fit goes
/// beyond that only where the pictures say so clearly.
const PARTS: usize = 5;
const PRIOR: [f64; PARTS] = [1e3, 0.1, 0.5, 0.5, 0.3];
/// Numbers kept of a cell: products of the parts with one another and with the difference.
const SUMS: usize = PARTS * (PARTS + 1) / 2 + PARTS;
/// Fits one after the other; a pixel that stands out of what the last one left by so many deviations is no part of the next, where
/// registration may be off by so many px.
const FITS: usize = 3;
const NO_PART: f32 = 3.5;
const OFF_PX: f32 = 0.2;
/// Smoothing of both pictures before they are compared, px: beyond it, what two samplings of one edge show is not the same.
const SOFT: f32 = 0.8;
/// Rim of what both pictures show that nothing is said about, px.
const RIM: i32 = 4;
/// Noise below this share of the picture's middle one is taken for that; and what counts at most of a pixel, in variances of noise.
const LEAST_NOISE: f32 = 0.3;
const COUNTS: f32 = 9.0;

/// A picture as it is compared.
pub(super) struct Soft {
    /// Square roots of its smoothed light, the mean of its channels: dust has hardly a colour, and noise is the same everywhere in them.
    pub(super) roots: Plane,
    /// Energy of the detail that smoothing took away, in squares of these roots.
    detail: Plane,
}

impl Soft {
    /// Smoothing comes before roots are taken: a kernel's overshoot beside a bright edge would look large in dark parts.
    pub(super) fn new(light: &Planes) -> Self {
        let rect = light.rect();
        let smooth = light.rgb.each_ref().map(|plane| gaussian(plane, SOFT));
        let roots = by_place(rect, |at| {
            let [red, green, blue] = smooth
                .each_ref()
                .map(|plane| (plane.data[at].max(0.0) + 1e-4).sqrt());
            (red + green + blue) / 3.0
        });
        let detail = by_place(rect, |at| {
            let parts = light.rgb.iter().zip(&smooth);
            let lost = parts
                .map(|(light, smooth)| light.data[at] - smooth.data[at])
                .sum::<f32>()
                / 3.0;
            let lost = 0.5 * lost / roots.data[at];
            lost * lost
        });
        Self { roots, detail }
    }
}

/// What one picture shows and the other does not explain.
pub(super) struct Unexplained {
    /// What is left of the difference, in square roots of light; 0 where there is nothing to compare.
    pub(super) left: Plane,
    /// Where both pictures have pixels.
    shown: Vec<bool>,
    /// The other picture's energy of fine detail.
    detail: Plane,
    cells: Cells,
}

impl Unexplained {
    /// What of `picture` the `other` one does not explain, where `shown` says that both have pixels (1). All cover the same rectangle.
    pub(super) fn new(picture: &Soft, other: &Soft, shown: &Plane) -> Self {
        let mut difference = picture.roots.clone();
        let shown = inner(shown);
        let pixels = difference
            .data
            .iter_mut()
            .zip(&other.roots.data)
            .zip(&shown);
        pixels
            .for_each(|((value, other), shown)| *value = if *shown { *value - other } else { 0.0 });
        let mut out = Self {
            left: difference.clone(),
            shown,
            detail: other.detail.clone(),
            cells: Cells::new(difference.rect),
        };
        let slopes = Slopes::new(&other.roots);
        for fit in 0..FITS {
            out.left = out.fitted(&difference, &slopes, fit);
        }
        out
    }

    /// `difference` less what fits it, for the `fit`th time (from 0). After the first time, pixels that stand out of what is left so far
    /// are no part of the fit.
    fn fitted(&self, difference: &Plane, slopes: &Slopes<'_>, fit: usize) -> Plane {
        let cells = self.cells;
        let noise = self.noise(&self.left);
        let fits = |at: &usize| {
            let usual = cells.spread(&noise, *at)[0];
            let off = OFF_PX * slopes.steep.data[*at];
            let most = NO_PART * (usual * usual + off * off).sqrt();
            self.shown[*at] && (fit == 0 || self.left.data[*at].abs() < most)
        };
        let sums = cells.each(|cell| sums(cells.pixels(cell).filter(fits), difference, slopes));
        let shares = cells.each(|cell| {
            let mut all = [0.0; SUMS];
            for near in cells.together(cell, FITTED) {
                all.iter_mut()
                    .zip(&sums[near])
                    .for_each(|(all, sum)| *all += sum);
            }
            solved(&all, f64::from(noise[cell][0])).map(narrow)
        });
        let data = (0..difference.data.len()).into_par_iter().map(|at| {
            if !self.shown[at] {
                return 0.0;
            }
            let parts = slopes
                .parts_at(at)
                .into_iter()
                .zip(cells.spread(&shares, at));
            difference.data[at] - parts.map(|(part, share)| part * share).sum::<f32>()
        });
        Plane {
            rect: difference.rect,
            data: data.collect(),
        }
    }

    /// What is left, smoothed to `sigma` px, and the same in deviations of what is usual at each place.
    pub(super) fn standing(&self, sigma: f32) -> (Plane, Plane) {
        let cells = self.cells;
        let smooth = gaussian(&self.left, sigma);
        let detail = gaussian(&self.detail, (1.0 + sigma * sigma).sqrt());
        let noise = self.noise(&smooth);
        // How much of the energy of detail is left, beyond noise.
        let energies = cells.each(|cell| {
            let usual = noise[cell][0] * noise[cell][0];
            let (mut beyond, mut there) = (0.0_f64, 0.0_f64);
            for at in cells.pixels(cell).filter(|at| self.shown[*at]) {
                let value = smooth.data[at] * smooth.data[at] - usual;
                beyond += f64::from(value.min(COUNTS * usual));
                there += f64::from(detail.data[at]);
            }
            [beyond, there]
        });
        let usual = cells.each(|cell| {
            let near = cells.together(cell, USUAL).map(|near| energies[near]);
            let [beyond, there] =
                near.fold([0.0, 1e-12], |all, one| [all[0] + one[0], all[1] + one[1]]);
            [noise[cell][0], narrow(beyond.max(0.0) / there)]
        });
        let mut standing = smooth.clone();
        standing
            .data
            .par_iter_mut()
            .enumerate()
            .for_each(|(at, value)| {
                let [noise, share] = cells.spread(&usual, at);
                let deviation = (noise * noise + share * detail.data[at].max(0.0)).sqrt();
                *value = if self.shown[at] {
                    *value / deviation
                } else {
                    0.0
                };
            });
        (smooth, standing)
    }

    /// The deviation of `plane` in every cell: of the quieter cells round it, where detail has little say.
    fn noise(&self, plane: &Plane) -> Vec<[f32; 1]> {
        let cells = self.cells;
        let own = cells.each(|cell| {
            let pixels = cells.pixels(cell).filter(|at| self.shown[*at]);
            let sizes: Vec<f32> = pixels.map(|at| plane.data[at].abs()).collect();
            median(&sizes).map(|size| NORMAL_FROM_MAD * size)
        });
        let known: Vec<f32> = own.iter().flatten().copied().collect();
        let least = (LEAST_NOISE * median(&known).unwrap_or(0.0)).max(1e-6);
        cells.each(|cell| {
            let near: Vec<f32> = cells
                .together(cell, 1)
                .filter_map(|near| own[near])
                .collect();
            [percentile(&near, 0.3).unwrap_or(least).max(least)]
        })
    }
}

/// Where both pictures have pixels, without a rim.
fn inner(shown: &Plane) -> Vec<bool> {
    let rect = shown.rect;
    let rows = (rect.y0..rect.y1).into_par_iter().flat_map_iter(|y| {
        (rect.x0..rect.x1).map(move |x| {
            [(-RIM, -RIM), (RIM, -RIM), (-RIM, RIM), (RIM, RIM)]
                .iter()
                .all(|(dx, dy)| rect.contains(x + dx, y + dy) && shown.at(x + dx, y + dy) > 0.99)
        })
    });
    rows.collect()
}

/// What a picture bends by at every place.
struct Slopes<'a> {
    light: &'a Plane,
    across: Plane,
    down: Plane,
    bend: Plane,
    /// Strength of the slope, the largest of a place and its neighbours.
    steep: Plane,
}

impl<'a> Slopes<'a> {
    fn new(light: &'a Plane) -> Self {
        let at = |x: i32, y: i32| light.nearest(x, y);
        let across = by_pixel(light.rect, |x, y| 0.5 * (at(x + 1, y) - at(x - 1, y)));
        let down = by_pixel(light.rect, |x, y| 0.5 * (at(x, y + 1) - at(x, y - 1)));
        let bend = by_pixel(light.rect, |x, y| {
            at(x + 1, y) + at(x - 1, y) + at(x, y + 1) + at(x, y - 1) - 4.0 * at(x, y)
        });
        let strength = by_pixel(light.rect, |x, y| {
            let [a, b, c] = [&across, &down, &bend].map(|plane| plane.at(x, y));
            a * a + b * b + 0.25 * c * c
        });
        let steep = by_pixel(light.rect, |x, y| {
            let near = (-1..=1).flat_map(|dy| (-1..=1).map(move |dx| (dx, dy)));
            let near = near.map(|(dx, dy)| strength.nearest(x + dx, y + dy));
            near.fold(0.0, f32::max).sqrt()
        });
        Self {
            light,
            across,
            down,
            bend,
            steep,
        }
    }

    fn parts_at(&self, at: usize) -> [f32; PARTS] {
        let parts = [self.light, &self.across, &self.down, &self.bend];
        let [light, across, down, bend] = parts.map(|part| part.data[at]);
        [1.0, light, across, down, bend]
    }
}

fn by_place(rect: Rect, value: impl Fn(usize) -> f32 + Send + Sync) -> Plane {
    let data = (0..rect.area()).into_par_iter().map(value);
    Plane {
        rect,
        data: data.collect(),
    }
}

fn by_pixel(rect: Rect, value: impl Fn(i32, i32) -> f32 + Sync) -> Plane {
    let mut out = Plane::zero(rect);
    let rows = out.data.par_chunks_mut(rect.width().max(1)).enumerate();
    rows.for_each(|(row, out)| {
        let y = rect.y0 + coordinate(row);
        for (x, out) in (rect.x0..rect.x1).zip(out) {
            *out = value(x, y);
        }
    });
    out
}

/// The cells of a picture.
#[derive(Debug, Clone, Copy)]
struct Cells {
    rect: Rect,
    columns: usize,
    rows: usize,
}

impl Cells {
    fn new(rect: Rect) -> Self {
        Self {
            rect,
            columns: rect.width().div_ceil(CELL),
            rows: rect.height().div_ceil(CELL),
        }
    }

    /// The pixels of a cell, by their places in a plane.
    fn pixels(self, cell: usize) -> impl Iterator<Item = usize> {
        let (width, height) = (self.rect.width(), self.rect.height());
        let (x, y) = (cell % self.columns * CELL, cell / self.columns * CELL);
        let rows = y..(y + CELL).min(height);
        rows.flat_map(move |y| (x..(x + CELL).min(width)).map(move |x| y * width + x))
    }

    /// A cell with those up to `reach` cells away.
    fn together(self, cell: usize, reach: usize) -> impl Iterator<Item = usize> {
        let (x, y) = (cell % self.columns, cell / self.columns);
        let along =
            move |at: usize, count: usize| at.saturating_sub(reach)..(at + reach + 1).min(count);
        along(y, self.rows)
            .flat_map(move |row| along(x, self.columns).map(move |x| row * self.columns + x))
    }

    /// What `of` says of every cell.
    fn each<T: Send>(self, of: impl Fn(usize) -> T + Send + Sync) -> Vec<T> {
        (0..self.columns * self.rows)
            .into_par_iter()
            .map(of)
            .collect()
    }

    /// A value of every cell as one of every pixel, straight between the middles of cells.
    fn spread<const N: usize>(self, values: &[[f32; N]], at: usize) -> [f32; N] {
        let width = self.rect.width();
        let place = |at: usize, count: usize| {
            let at = (count_f32(at) + 0.5) / count_f32(CELL) - 0.5;
            let at = at.clamp(0.0, count_f32(count - 1));
            let first = clamp_index(floor_i32(at)).min(count.saturating_sub(2));
            (first, (first + 1).min(count - 1), at - count_f32(first))
        };
        let (x, right, a) = place(at % width, self.columns);
        let (y, below, b) = place(at / width, self.rows);
        std::array::from_fn(|number| {
            let value = |x: usize, y: usize| values[y * self.columns + x][number];
            let upper = value(x, y) + a * (value(right, y) - value(x, y));
            let lower = value(x, below) + a * (value(right, below) - value(x, below));
            upper + b * (lower - upper)
        })
    }
}

fn sums(
    pixels: impl Iterator<Item = usize>,
    difference: &Plane,
    slopes: &Slopes<'_>,
) -> [f64; SUMS] {
    let mut sums = [0.0; SUMS];
    for at in pixels {
        let parts = slopes.parts_at(at).map(f64::from);
        let mut place = 0;
        for (first, part) in parts.iter().enumerate() {
            for other in &parts[first..] {
                sums[place] += part * other;
                place += 1;
            }
            sums[SUMS - PARTS + first] += part * f64::from(difference.data[at]);
        }
    }
    sums
}

/// The parts that fit best, none larger than is usual without need (least squares with a normal prior), by Cholesky's decomposition.
fn solved(sums: &[f64; SUMS], noise: f64) -> [f64; PARTS] {
    let mut rows = [[0.0; PARTS]; PARTS];
    let mut place = 0;
    for first in 0..PARTS {
        for row in &mut rows[first..] {
            row[first] = sums[place];
            place += 1;
        }
        rows[first][first] += (noise / PRIOR[first]) * (noise / PRIOR[first]) + 1e-12;
    }
    let mut wanted: [f64; PARTS] = std::array::from_fn(|part| sums[SUMS - PARTS + part]);
    for row in 0..PARTS {
        for column in 0..=row {
            let taken: f64 = (0..column).map(|at| rows[row][at] * rows[column][at]).sum();
            let rest = rows[row][column] - taken;
            rows[row][column] = if row == column {
                rest.max(1e-15).sqrt()
            } else {
                rest / rows[column][column]
            };
        }
        let taken: f64 = (0..row).map(|at| rows[row][at] * wanted[at]).sum();
        wanted[row] = (wanted[row] - taken) / rows[row][row];
    }
    for row in (0..PARTS).rev() {
        let taken: f64 = (row + 1..PARTS).map(|at| rows[at][row] * wanted[at]).sum();
        wanted[row] = (wanted[row] - taken) / rows[row][row];
    }
    wanted
}
