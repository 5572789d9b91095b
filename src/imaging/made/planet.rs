//! A planet: a lit sphere with terrain, thin air and, if wanted, a ring.

use super::noise::{Octaves, octaves, seams};
use super::ring::Ring;
use super::{direction, dot, mix, mix_colour, shrink, smooth};
use crate::geometry::{Point, Rect};
use crate::imaging::basics::random::mix as scramble;
use crate::pixels::Image;
use crate::pixels::convert::{coordinate, low_u32, narrow};
use rayon::prelude::*;

/// The air of a planet, as it shows at the limb.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Air {
    /// Height over which it thins to a third, in planet radii; 0.01 is thin.
    pub height: f32,
    /// Light of the bright rim as a share of the key light.
    pub strength: f32,
    /// Colour of scattered light, working space.
    pub colour: [f32; 3],
}

/// A planet, drawn without perspective.
#[derive(Debug, Clone, PartialEq)]
pub struct Planet {
    /// Middle of the disc, canvas pixels.
    pub centre: Point,
    /// Radius of the disc, pixels.
    pub radius_px: f32,
    /// Azimuth and elevation of the key light, radians (see [`direction`]).
    pub key: [f64; 2],
    /// Light of a white surface facing the key light.
    pub light: f32,
    /// Turn of the pole in the picture, radians, clockwise from straight up.
    pub pole_turn: f64,
    /// Tilt of the pole towards the viewer, radians; also opens the ring.
    pub pole_tilt: f64,
    /// Turn about the pole, radians.
    pub spin: f64,
    /// Colours of bright ground, dark ground and cracks (shares of light thrown back), working space.
    pub ground: [[f32; 3]; 3],
    /// Size of the largest features in radii.
    pub feature: f32,
    /// Banding along latitude, 0 (none) to 1 (a banded gas).
    pub bands: f32,
    /// Strength of cracks, 0..1.
    pub cracks: f32,
    /// Height of the terrain as it shades, 0..1.
    pub relief: f32,
    /// Air, if any (strength 0 for none).
    pub air: Air,
    /// Ring, if any.
    pub ring: Option<Ring>,
    /// Chooses the terrain.
    pub seed: u64,
}

impl Default for Planet {
    /// A pale ice world with a ring, lit from the upper left.
    fn default() -> Self {
        Self {
            centre: Point::default(),
            radius_px: 600.0,
            key: [-1.15, 0.42],
            light: 1.0,
            pole_turn: 0.42,
            pole_tilt: 0.30,
            spin: 0.0,
            ground: [[0.66, 0.68, 0.69], [0.24, 0.29, 0.33], [0.30, 0.23, 0.19]],
            feature: 0.75,
            bands: 0.25,
            cracks: 0.6,
            relief: 0.38,
            air: Air {
                height: 0.008,
                strength: 0.5,
                colour: [0.42, 0.66, 1.0],
            },
            ring: Some(Ring::default()),
            seed: 1,
        }
    }
}

/// The planet inside `rect`, premultiplied; its air and ring cover only in part.
#[must_use]
pub fn render(recipe: &Planet, rect: Rect, level: u32) -> Image {
    let mut out = Image::empty(rect);
    if rect.is_empty() || recipe.radius_px <= 0.0 {
        return out;
    }
    let scene = Scene::new(recipe, level);
    out.data
        .par_chunks_mut(rect.width())
        .enumerate()
        .for_each(|(row, pixels)| {
            for (at, pixel) in pixels.iter_mut().enumerate() {
                *pixel = scene.at(rect.x0 + coordinate(at), rect.y0 + coordinate(row));
            }
        });
    out
}

/// Pixels of the canvas that `recipe` can change.
#[must_use]
pub fn bounds(recipe: &Planet) -> Rect {
    let ring = recipe.ring.as_ref().map_or(1.0, |ring| ring.outer + 0.02);
    let air = 1.0 + 10.0 * recipe.air.height;
    let reach = f64::from(recipe.radius_px * ring.max(air) + 2.0);
    Rect::around(&[
        Point::new(recipe.centre.x - reach, recipe.centre.y - reach),
        Point::new(recipe.centre.x + reach, recipe.centre.y + reach),
    ])
}

struct Scene<'a> {
    recipe: &'a Planet,
    centre: [f32; 2],
    pixel: f32,
    key: [f32; 3],
    /// Rows: the planet's own axes (two in the equator, then the pole) in picture axes.
    axes: [[f32; 3]; 3],
    seed: u32,
}

impl<'a> Scene<'a> {
    fn new(recipe: &'a Planet, level: u32) -> Self {
        let shrink = shrink(level);
        let radius = recipe.radius_px * shrink;
        let (turn, tilt, spin) = (recipe.pole_turn, recipe.pole_tilt, recipe.spin);
        let single = |v: [f64; 3]| v.map(narrow);
        let (st, ct) = (libm::sin(turn), libm::cos(turn));
        let (sl, cl) = (libm::sin(tilt), libm::cos(tilt));
        let pole = [st * cl, -ct * cl, sl];
        let east = [ct, st, 0.0];
        let front = [
            pole[1] * east[2] - pole[2] * east[1],
            pole[2] * east[0] - pole[0] * east[2],
            pole[0] * east[1] - pole[1] * east[0],
        ];
        let (ss, cs) = (libm::sin(spin), libm::cos(spin));
        let first = [0, 1, 2].map(|at| cs * east[at] + ss * front[at]);
        let second = [0, 1, 2].map(|at| cs * front[at] - ss * east[at]);
        Self {
            recipe,
            centre: [
                narrow(recipe.centre.x) * shrink,
                narrow(recipe.centre.y) * shrink,
            ],
            pixel: 1.0 / radius.max(1e-3),
            key: direction(recipe.key[0], recipe.key[1]),
            axes: [single(first), single(second), single(pole)],
            seed: low_u32(scramble(recipe.seed)),
        }
    }

    fn at(&self, x: i32, y: i32) -> [f32; 4] {
        let px = (narrow(f64::from(x)) + 0.5 - self.centre[0]) * self.pixel;
        let py = (narrow(f64::from(y)) + 0.5 - self.centre[1]) * self.pixel;
        let from_centre = (px * px + py * py).sqrt();
        let ring = self.ring_at(px, py);
        let body = self.body(px, py, from_centre);
        let seen = match ring {
            Some((ring, height)) => {
                let surface = (1.0 - from_centre * from_centre).max(0.0).sqrt();
                if from_centre < 1.0 && height < surface {
                    over(body, ring)
                } else {
                    over(ring, body)
                }
            }
            None => body,
        };
        let light = self.recipe.light;
        [seen[0] * light, seen[1] * light, seen[2] * light, seen[3]]
    }

    /// Disc and air.
    fn body(&self, px: f32, py: f32, from_centre: f32) -> [f32; 4] {
        let disc = ((1.0 - from_centre) / self.pixel + 0.5).clamp(0.0, 1.0);
        let air = self.air_outside(px, py, from_centre);
        if disc <= 0.0 {
            return air;
        }
        // Pixels on the very edge are shaded as the nearest place on the sphere.
        let inward = 1.0_f32.min(0.9999 / from_centre.max(1e-6));
        let (nx, ny) = (px * inward, py * inward);
        let normal = [nx, ny, (1.0 - nx * nx - ny * ny).max(0.0).sqrt()];
        let ground = self.ground(normal);
        [
            mix(air[0], ground[0], disc),
            mix(air[1], ground[1], disc),
            mix(air[2], ground[2], disc),
            mix(air[3], 1.0, disc),
        ]
    }

    fn air_outside(&self, px: f32, py: f32, from_centre: f32) -> [f32; 4] {
        let air = self.recipe.air;
        let height = (from_centre - 1.0).max(0.0);
        if air.strength <= 0.0 || air.height <= 0.0 || height > 10.0 * air.height {
            return [0.0; 4];
        }
        let depth = libm::expf(-height / air.height);
        let over = 1.0 / from_centre.max(1e-6);
        let sun = px * over * self.key[0] + py * over * self.key[1];
        // Air scatters strongly forwards, so a light behind the planet draws the rim further round.
        let behind = (-self.key[2]).max(0.0);
        let lit = smooth(-0.22 - 0.3 * behind, 0.55, sun) * (1.0 + 1.5 * behind);
        let level = air.strength * depth * lit;
        [
            air.colour[0] * level,
            air.colour[1] * level,
            air.colour[2] * level,
            0.35 * depth * air.strength.min(1.0),
        ]
    }

    fn ground(&self, normal: [f32; 3]) -> [f32; 3] {
        let recipe = self.recipe;
        let place = self.axes.map(|axis| dot(axis, normal));
        // A pixel covers more ground near the limb.
        let finest = 2.0 * self.pixel / normal[2].max(0.15);
        let (colour, slope) = self.terrain(place, finest);
        let slope = [0, 1, 2].map(|at| {
            self.axes[0][at] * slope[0] + self.axes[1][at] * slope[1] + self.axes[2][at] * slope[2]
        });
        let outward = dot(slope, normal);
        let bent = [0, 1, 2]
            .map(|at| normal[at] - 0.07 * recipe.relief * (slope[at] - outward * normal[at]));
        let length = dot(bent, bent).sqrt().max(1e-6);
        let flat = dot(normal, self.key);
        let sun = dot(bent, self.key) / length;
        // Ground beyond the terminator stays dark even where it leans to the light; thin air carries a little light over.
        let edge = if recipe.air.strength > 0.0 {
            0.05
        } else {
            0.015
        };
        let carried = 0.012 * recipe.air.strength.min(1.0) * smooth(-3.0 * edge, edge, flat);
        let lit = sun.max(0.0) * smooth(-edge, edge * 2.0, flat) + carried;
        let lit = lit * self.ring_shadow(normal);
        let mut out = colour.map(|share| share * lit);
        if recipe.air.strength > 0.0 {
            let air = recipe.air;
            let grazing = 1.0 - normal[2];
            let veil = (grazing * grazing * grazing * 0.75 + 0.05)
                * air.strength
                * smooth(-0.2, 0.55, flat);
            let thin = 1.0 - 0.55 * grazing * grazing * air.strength.min(1.0);
            out = [0, 1, 2].map(|at| out[at] * thin + air.colour[at] * veil * 0.8);
        }
        out
    }

    /// Share of light thrown back, and slope of the terrain in the planet's own axes.
    fn terrain(&self, place: [f32; 3], finest: f32) -> ([f32; 3], [f32; 3]) {
        let recipe = self.recipe;
        let scale = 1.0 / recipe.feature.max(0.02);
        let how = |count: u32, gain: f32, scale: f32| Octaves {
            count,
            gain,
            finest: finest * scale,
        };
        let at = place.map(|value| value * scale);
        // Slow noise in all three directions pushes the finer pattern about, so that provinces flow instead of curdling.
        let push = [0x11_u32, 0x12, 0x13].map(|salt| {
            octaves(
                self.seed ^ salt,
                at.map(|value| value * 0.8),
                how(2, 0.4, 0.8 * scale),
            )
            .value
        });
        let bent = [0, 1, 2].map(|axis| at[axis] + 0.35 * push[axis]);
        let land = octaves(self.seed, bent, how(9, 0.66, scale));
        let relief = octaves(
            self.seed ^ 0x41,
            bent.map(|value| value * 3.0),
            how(7, 0.44, 3.0 * scale),
        );
        let latitude = place[2] + 0.06 * push[0];
        let band = octaves(
            self.seed ^ 0x2b,
            [0.2 + 0.15 * at[0], 0.4 + 0.15 * at[1], latitude * 7.0],
            how(5, 0.6, 7.0),
        )
        .value;
        let share = mix(land.value * 0.9, band * 1.1, recipe.bands);
        let dark = smooth(-0.22, 0.40, share);
        let mut colour = mix_colour(recipe.ground[0], recipe.ground[1], dark);
        let frost = smooth(0.62, 0.9, place[2].abs() + 0.18 * land.value);
        colour = mix_colour(colour, recipe.ground[0], 0.8 * frost);
        if recipe.cracks > 0.0 {
            let lines = seams(self.seed ^ 0x35, bent, finest * scale) * recipe.cracks;
            colour = mix_colour(colour, recipe.ground[2], 0.85 * lines * (1.0 - 0.5 * frost));
        }
        (colour, relief.slope.map(|value| value * scale))
    }

    /// Share of the key light that passes the ring on its way to the place of the sphere with `normal`.
    fn ring_shadow(&self, place: [f32; 3]) -> f32 {
        let Some(ring) = &self.recipe.ring else {
            return 1.0;
        };
        let pole = self.axes[2];
        let towards = dot(pole, self.key);
        if towards.abs() < 1e-3 {
            return 1.0;
        }
        let along = -dot(pole, place) / towards;
        if along <= 0.0 {
            return 1.0;
        }
        let met = [0, 1, 2].map(|at| place[at] + along * self.key[at]);
        let radius = dot(met, met).sqrt();
        let depth = ring.depth_at(radius, 3.0 * self.pixel / place[2].max(0.2), self.seed);
        libm::expf(-depth / towards.abs().max(0.05))
    }

    /// Ring at a place of the picture: its light and coverage, and its height towards the viewer.
    fn ring_at(&self, px: f32, py: f32) -> Option<([f32; 4], f32)> {
        let ring = self.recipe.ring.as_ref()?;
        let pole = self.axes[2];
        if pole[2].abs() < 0.02 {
            return None;
        }
        let point = |px: f32, py: f32| [px, py, -(pole[0] * px + pole[1] * py) / pole[2]];
        let here = point(px, py);
        let radius = dot(here, here).sqrt();
        if radius < ring.inner - 0.1 || radius > ring.outer + 0.1 {
            return None;
        }
        let span = |other: [f32; 3]| (dot(other, other).sqrt() - radius).abs();
        let pixel = span(point(px + self.pixel, py)).max(span(point(px, py + self.pixel)));
        let depth = ring.depth_at(radius, pixel, self.seed);
        if depth <= 1e-4 {
            return None;
        }
        let normal = if pole[2] > 0.0 {
            pole
        } else {
            pole.map(|value| -value)
        };
        let mut shaded = ring.shade(depth, normal, self.key);
        let lit = self.planet_shadow(here);
        for value in &mut shaded[..3] {
            *value *= lit;
        }
        Some((shaded, here[2]))
    }

    /// Share of the key light that passes the planet on its way to `place`; the edge is softened as by air.
    fn planet_shadow(&self, place: [f32; 3]) -> f32 {
        let along = dot(place, self.key);
        if along >= 0.0 {
            return 1.0;
        }
        let aside = (dot(place, place) - along * along).max(0.0).sqrt();
        let soft = 0.012 + 1.5 * self.pixel;
        smooth(1.0 - soft, 1.0 + soft, aside)
    }
}

fn over(top: [f32; 4], under: [f32; 4]) -> [f32; 4] {
    [0, 1, 2, 3].map(|at| top[at] + under[at] * (1.0 - top[3]))
}
