//! Star fields.

use super::{glow_colour, noise, shrink};
use crate::geometry::{Rect, Size};
use crate::imaging::basics::colour::luma;
use crate::imaging::basics::random::{Stream, mix};
use crate::optics::sky::{SKY_SQUARE_DEGREES, star_kelvin};
use crate::pixels::Image;
use crate::pixels::convert::{
    ceil_i32, clamp_index, coordinate, floor_f64, floor_i32, low_u32, narrow,
};

/// A field of stars.
///
/// Counts follow N(brighter than m) ~ 10^(slope m), fixed by the whole-sky count to magnitude 6 (Yale Bright Star Catalogue, 5th
/// edition: 5023). Colours follow the shares of spectral classes in the same catalogue and the temperature of B-V by Ballesteros 2012.
#[derive(Debug, Clone, PartialEq)]
pub struct Stars {
    /// The canvas at full size.
    pub canvas: Size,
    /// Horizontal angle of view of the canvas in degrees; sets how many stars there are.
    pub field_deg: f64,
    /// Magnitude of the faintest stars drawn.
    pub faintest: f64,
    /// Growth of counts: log10 N per magnitude; 0.50 fits the sky to magnitude 6, 0.48 to 10 (within 10 %).
    pub slope: f64,
    /// Light of a star of magnitude 0, summed over its pixels.
    pub light: f32,
    /// Standard deviation of a star's image in pixels, 0.5 or more.
    pub sigma_px: f32,
    /// Share of a star's light in a wide glow (four times as wide), 0..0.3.
    pub halo: f32,
    /// Strength of star colours: 0 white, 1 as black bodies.
    pub colour: f32,
    /// Unevenness of the field: 0 even, 1 with empty places.
    pub clumping: f32,
    /// Chooses the field.
    pub seed: u64,
}

impl Stars {
    /// A quiet field for `canvas`: few and small.
    #[must_use]
    pub fn new(canvas: Size) -> Self {
        Self {
            canvas,
            field_deg: 40.0,
            faintest: 8.0,
            slope: 0.48,
            light: 180.0,
            sigma_px: 0.75,
            halo: 0.05,
            colour: 0.7,
            clumping: 0.5,
            seed: 1,
        }
    }

    /// Mean number of stars per pixel of the canvas.
    #[must_use]
    pub fn density(&self) -> f64 {
        let per_square_degree =
            5023.0 / SKY_SQUARE_DEGREES * libm::exp10(self.slope * (self.faintest - 6.0));
        let degrees = self.field_deg / f64::from(self.canvas.width.max(1));
        per_square_degree * degrees * degrees
    }
}

/// Side of a cell in pixels; each cell has its own stars.
const CELL: i32 = 64;
/// Light below which a star's image is not drawn on: far below an 8-bit step.
const NOTHING: f32 = 2e-5;
/// Brightest magnitude that is drawn.
const BRIGHTEST: f64 = -1.5;

/// One star: place (full-size pixels) and summed light per channel.
struct Star {
    x: f64,
    y: f64,
    light: [f32; 3],
}

/// The stars inside `rect` as light without coverage: lay them with `plus-lighter`, or over black.
#[must_use]
pub fn render(recipe: &Stars, rect: Rect, level: u32) -> Image {
    let mut out = Image::empty(rect);
    let shrink = shrink(level);
    let sigma = (recipe.sigma_px * shrink).max(0.5);
    // The brightest possible star bounds how far away a star can be felt.
    let most = recipe.light * narrow(libm::exp10(-0.4 * BRIGHTEST)) * shrink * shrink;
    let margin = ceil_i32(reach(most * 3.0, sigma * 4.0));
    let cell = |pixel: i32| floor_f64(f64::from(pixel) / (f64::from(shrink) * f64::from(CELL)));
    let around = rect.grow(margin);
    for row in cell(around.y0)..=cell(around.y1) {
        for column in cell(around.x0)..=cell(around.x1) {
            for star in stars_of(recipe, column, row) {
                splat(&mut out, &star, recipe, shrink);
            }
        }
    }
    out
}

fn stars_of(recipe: &Stars, column: i32, row: i32) -> Vec<Star> {
    let mut stream = Stream::at(recipe.seed, column, row);
    let side = f64::from(CELL);
    let count = floor_f64(stream.poisson(recipe.density() * side * side));
    let mut stars = Vec::with_capacity(clamp_index(count));
    for _ in 0..count {
        let x = (f64::from(column) + stream.unit()) * side;
        let y = (f64::from(row) + stream.unit()) * side;
        let least = libm::exp10(recipe.slope * (BRIGHTEST - recipe.faintest));
        let place = least + (1.0 - least) * stream.unit();
        let magnitude = recipe.faintest + libm::log10(place) / recipe.slope;
        let kelvin = temperature(stream.unit(), stream.unit());
        let stays = stream.unit();
        if stays < f64::from(recipe.clumping) * thinness(recipe, x, y) {
            continue;
        }
        let sum = recipe.light * narrow(libm::exp10(-0.4 * magnitude));
        let body = glow_colour(kelvin);
        let light = body.map(|value| sum * super::mix(1.0, value / luma(body), recipe.colour));
        stars.push(Star { x, y, light });
    }
    stars
}

/// How empty the field is at a place, 0..1: a slow noise of a sixth of the canvas.
fn thinness(recipe: &Stars, x: f64, y: f64) -> f64 {
    let scale = 6.0 / f64::from(recipe.canvas.width.max(1));
    let place = [narrow(x * scale), narrow(y * scale), 0.5];
    let how = noise::Octaves {
        count: 3,
        gain: 0.6,
        finest: 0.0,
    };
    let value = noise::octaves(low_u32(mix(recipe.seed)), place, how).value;
    f64::from((0.5 - 0.9 * value).clamp(0.0, 1.0))
}

/// Shares of the spectral classes O B A F G K M in the Yale Bright Star Catalogue to V 6.5, and the B-V where each begins and ends.
const CLASSES: [(f64, f64, f64); 7] = [
    (0.006, -0.32, -0.30),
    (0.189, -0.30, -0.02),
    (0.208, -0.02, 0.30),
    (0.140, 0.30, 0.58),
    (0.138, 0.58, 0.81),
    (0.258, 0.81, 1.40),
    (0.061, 1.40, 1.75),
];

fn temperature(class: f64, within: f64) -> f64 {
    let mut left = class;
    let mut b_v = CLASSES[6].2;
    for (share, from, to) in CLASSES {
        if left < share {
            b_v = from + (to - from) * within;
            break;
        }
        left -= share;
    }
    star_kelvin(b_v)
}

/// Distance at which a Gaussian of summed light `light` falls below what is drawn.
fn reach(light: f32, sigma: f32) -> f32 {
    let peak = light / (std::f32::consts::TAU * sigma * sigma);
    if peak <= NOTHING {
        return 0.0;
    }
    sigma * (2.0 * libm::logf(peak / NOTHING)).max(0.0).sqrt() + 1.0
}

fn splat(out: &mut Image, star: &Star, recipe: &Stars, shrink: f32) {
    let sigma = (recipe.sigma_px * shrink).max(0.5);
    let halo = recipe.halo.clamp(0.0, 0.9);
    for (share, sigma) in [(1.0 - halo, sigma), (halo, sigma * 4.0)] {
        let light = star.light.map(|value| value * share * shrink * shrink);
        let strongest = light[0].max(light[1]).max(light[2]);
        let reach = reach(strongest, sigma);
        if reach <= 0.0 {
            continue;
        }
        let centre = (star.x * f64::from(shrink), star.y * f64::from(shrink));
        let (cx, cy) = (narrow(centre.0), narrow(centre.1));
        let spot = Rect::new(
            floor_i32(cx - reach),
            floor_i32(cy - reach),
            floor_i32(cx + reach) + 1,
            floor_i32(cy + reach) + 1,
        )
        .intersect(out.rect);
        if spot.is_empty() {
            continue;
        }
        let across = shares(spot.x0, spot.width(), centre.0, sigma);
        let down = shares(spot.y0, spot.height(), centre.1, sigma);
        for (y, down) in (spot.y0..spot.y1).zip(&down) {
            let first = out.rect.index(spot.x0, y);
            for (pixel, across) in out.data[first..first + spot.width()]
                .iter_mut()
                .zip(&across)
            {
                for (sum, light) in pixel.iter_mut().zip(light) {
                    *sum += light * (across * down);
                }
            }
        }
    }
}

/// Share of a Gaussian's light in each pixel of a row: exact areas, so that no light is lost however small the star.
fn shares(first: i32, count: usize, centre: f64, sigma: f32) -> Vec<f32> {
    let over = 1.0 / (f64::from(sigma) * std::f64::consts::SQRT_2);
    let at = |pixel: i32| libm::erf((f64::from(pixel) - centre) * over);
    (0..count)
        .map(|pixel| {
            let x = first + coordinate(pixel);
            narrow(0.5 * (at(x + 1) - at(x)))
        })
        .collect()
}
