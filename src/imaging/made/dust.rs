//! A lane of distant light with dark dust in front of it.

use super::noise::{Octaves, octaves, ridges};
use super::{glow_colour, mix, mix_colour, shrink, smooth};
use crate::geometry::{Point, Rect};
use crate::imaging::basics::random::mix as scramble;
use crate::pixels::Image;
use crate::pixels::convert::{clamp_index, coordinate, low_u32, narrow};
use rayon::prelude::*;

/// A band of unresolved starlight across the sky, with clouds and dark lanes. Quiet by default: it is a background.
#[derive(Debug, Clone, PartialEq)]
pub struct Dust {
    /// A point in the middle of the band, canvas pixels.
    pub centre: Point,
    /// Direction of the band, radians, clockwise from the x axis as seen.
    pub angle_rad: f64,
    /// Half width of the band at which its light has fallen to about a third, pixels.
    pub width_px: f32,
    /// Size of the largest clouds, pixels.
    pub cloud_px: f32,
    /// Light in the brightest parts (1 is white; 0.01 to 0.03 is a night sky).
    pub light: f32,
    /// Colour temperature of the light where it is clear and where dust reddens it, kelvin.
    pub kelvin: [f64; 2],
    /// Coverage of the darkest dust, 0..1: what it hides of the stars behind.
    pub opacity: f32,
    /// How much clouds bend: 0 smooth, 1 curling.
    pub warp: f32,
    /// Chooses the clouds.
    pub seed: u64,
}

impl Default for Dust {
    fn default() -> Self {
        Self {
            centre: Point::default(),
            angle_rad: -0.5,
            width_px: 500.0,
            cloud_px: 900.0,
            light: 0.012,
            kelvin: [8200.0, 4600.0],
            opacity: 0.75,
            warp: 0.7,
            seed: 1,
        }
    }
}

/// The band inside `rect`: its light, with the coverage of the dust in front of what lies behind.
#[must_use]
pub fn render(recipe: &Dust, rect: Rect, level: u32) -> Image {
    let mut out = Image::empty(rect);
    if rect.is_empty() {
        return out;
    }
    let field = Field::new(recipe, level);
    // The band is smooth, so it is worked out on a lattice that is fixed to the canvas, and smoothed between its points.
    let first = |pixel: i32| pixel.div_euclid(LATTICE) - 1;
    let (columns, rows) = (
        first(rect.x0)..first(rect.x1 - 1) + 4,
        first(rect.y0)..first(rect.y1 - 1) + 4,
    );
    let wide = columns.len();
    let mut points = vec![[0.0_f32; 4]; wide * rows.len()];
    points
        .par_chunks_mut(wide)
        .zip(rows.clone().into_par_iter())
        .for_each(|(line, row)| {
            for (point, column) in line.iter_mut().zip(columns.clone()) {
                *point = field.at(column, row);
            }
        });
    out.data
        .par_chunks_mut(rect.width())
        .enumerate()
        .for_each(|(row, pixels)| {
            let (top, down) = taps(rect.y0 + coordinate(row));
            let top = clamp_index(top - rows.start) * wide;
            for (at, pixel) in pixels.iter_mut().enumerate() {
                let (left, across) = taps(rect.x0 + coordinate(at));
                let left = top + clamp_index(left - columns.start);
                for (line, down) in down.iter().enumerate() {
                    for (point, across) in points[left + line * wide..].iter().zip(across) {
                        for (sum, value) in pixel.iter_mut().zip(point) {
                            *sum += down * across * value;
                        }
                    }
                }
            }
        });
    out
}

/// Pixels between the points of the lattice.
const LATTICE: i32 = 4;

/// The first of three lattice points about a pixel, and their weights (quadratic B-spline).
fn taps(pixel: i32) -> (i32, [f32; 3]) {
    let cell = pixel.div_euclid(LATTICE);
    let t = (narrow(f64::from(pixel.rem_euclid(LATTICE))) + 0.5) / narrow(f64::from(LATTICE));
    (
        cell - 1,
        [
            0.5 * (1.0 - t) * (1.0 - t),
            0.5 + t * (1.0 - t),
            0.5 * t * t,
        ],
    )
}

struct Field<'a> {
    recipe: &'a Dust,
    seed: u32,
    pixel: f32,
    turn: [f32; 2],
    clear: [f32; 3],
    red: [f32; 3],
}

impl<'a> Field<'a> {
    fn new(recipe: &'a Dust, level: u32) -> Self {
        Self {
            recipe,
            seed: low_u32(scramble(recipe.seed)),
            pixel: 1.0 / shrink(level),
            turn: [
                narrow(libm::cos(recipe.angle_rad)),
                narrow(libm::sin(recipe.angle_rad)),
            ],
            clear: glow_colour(recipe.kelvin[0]),
            red: glow_colour(recipe.kelvin[1]),
        }
    }

    /// The band at the middle of lattice cell (x, y).
    fn at(&self, x: i32, y: i32) -> [f32; 4] {
        let recipe = self.recipe;
        let step = self.pixel * narrow(f64::from(LATTICE));
        let dx = (narrow(f64::from(x)) + 0.5) * step - narrow(recipe.centre.x);
        let dy = (narrow(f64::from(y)) + 0.5) * step - narrow(recipe.centre.y);
        let along = dx * self.turn[0] + dy * self.turn[1];
        let across = dy * self.turn[0] - dx * self.turn[1];
        let cloud = recipe.cloud_px.max(8.0);
        let how = |count: u32, gain: f32| Octaves {
            count,
            gain,
            finest: 1.5 * step / cloud,
        };
        // Clouds are drawn out along the band, and pushed about by slower noise.
        let place = [along / cloud * 0.7, across / cloud, 0.37];
        let push = octaves(self.seed ^ 0x51, place, how(3, 0.5));
        let push_more = octaves(self.seed ^ 0xa7, [place[1], place[0], 1.9], how(3, 0.5));
        let bent = [
            place[0] + recipe.warp * 0.55 * push.value,
            place[1] + recipe.warp * 0.55 * push_more.value,
            0.71,
        ];
        let clouds = octaves(self.seed, bent, how(7, 0.55)).value;
        let wander = 0.45 * push.value + 0.2 * push_more.value;
        let offset = across / recipe.width_px.max(1.0) + wander;
        let band = libm::expf(-offset * offset);
        let core = libm::expf(-3.0 * offset * offset);
        let light = band * smooth(-0.75, 0.95, clouds + 0.25 * core) + 0.35 * core;

        let finer = bent.map(|value| value * 1.7 + 4.1);
        let lanes = ridges(self.seed ^ 0x3d, finer, how(6, 0.58));
        let murk = octaves(
            self.seed ^ 0x77,
            bent.map(|value| value * 1.3 - 2.0),
            how(5, 0.6),
        )
        .value;
        // Dust gathers along the middle line of the band.
        let lane = libm::expf(-6.0 * (offset + 0.12) * (offset + 0.12));
        let dust = smooth(0.30, 0.85, lanes + 0.35 * murk + 0.18 * lane) * (0.15 + 0.85 * band);
        let hidden = recipe.opacity.clamp(0.0, 1.0) * dust;

        let tint = mix_colour(
            self.clear,
            self.red,
            (0.25 + 0.9 * dust + 0.3 * core).min(1.0),
        );
        let level = recipe.light * light * mix(1.0, 0.12, dust);
        [tint[0] * level, tint[1] * level, tint[2] * level, hidden]
    }
}
