//! The spikes that straight aperture blades put round lamps.
//!
//! Each blade edge throws a line of light at right angles to itself, both ways (Fraunhofer diffraction), so `n` blades give `n`
//! lines, of which parallel edges share one: `n` spikes for an even number, `2 n` for an odd one. Along a line the light falls as
//! distance to the -2, across it is as narrow as the pattern's core, and the pattern's size grows with wavelength times f-number.
//! The lines are drawn from these laws, because Fourier transforms differ in their last bits between machines.

use crate::geometry::Rect;
use crate::imaging::basics::colour::luma;
use crate::pixels::convert::{clamp_index, count_f32, floor_i32, narrow};
use crate::pixels::{Plane, Planes};
use rayon::prelude::*;

/// The shape of spikes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spikes {
    /// Straight blades, 3..=18.
    pub blades: u32,
    /// Direction of the first line in degrees, clockwise as seen from the x axis.
    pub turn_deg: f32,
    /// Radius in pixels of the diffraction pattern's core at 540 nm: from there on a spike falls as distance to the -2.
    pub core_px: f32,
    /// Share of the lamps' light that goes into the spikes, 0..=1.
    pub share: f32,
    /// 0: all colours alike; 1: sizes as wavelengths (600, 540, 460 nm).
    pub spread: f32,
}

/// Light below this share of the brightest makes no spikes that could be seen.
const LEAST_SHARE: f32 = 1.0 / 64.0;
/// Lamps drawn at most; more are joined with their neighbours.
const MOST_LAMPS: usize = 12_000;
/// A spike ends at this many core radii.
const LONGEST: f32 = 72.0;
/// Least half width of a line in pixels.
const LEAST_WIDTH_PX: f32 = 0.7;
/// Steps per pixel to which lamps are moved.
const STEPS: i32 = 4;
const WAVELENGTHS_NM: [f32; 3] = [600.0, 540.0, 460.0];

/// Radius in pixels of the first dark ring of a round opening, `1.22 * wavelength * f-number`, at 540 nm and pixels of 4 um.
#[must_use]
pub fn core_px(f_number: f32) -> f32 {
    1.22 * 0.540 * f_number / 4.0
}

/// `light` with a share of its lamps' light spread into spikes. Light moves but is not made: what leaves a lamp lies in its spikes, up
/// to the border. Black stays black; share 0 returns the light bit for bit.
#[must_use]
pub fn spikes(light: &Planes, shape: &Spikes) -> Planes {
    let share = shape.share.clamp(0.0, 1.0);
    let blades = shape.blades.clamp(3, 18);
    if share.is_nan() || share <= 0.0 || light.rect().is_empty() {
        return light.clone();
    }
    let bright = bright_pixels(light);
    let lamps = joined(light, &bright);
    let mut out = light.clone();
    for at in &bright {
        let colour = light.pixel(*at).map(|value| {
            if value > 0.0 {
                value * (1.0 - share)
            } else {
                value
            }
        });
        out.set_pixel(*at, colour);
    }
    out.rgb
        .par_iter_mut()
        .zip(WAVELENGTHS_NM)
        .enumerate()
        .for_each(|(channel, (plane, wavelength))| {
            let size = 1.0 + shape.spread.clamp(0.0, 1.0) * (wavelength / 540.0 - 1.0);
            let stars = Stars::new(blades, shape.turn_deg, shape.core_px.max(0.05) * size);
            for lamp in &lamps {
                stars.draw(plane, lamp, share * lamp.light[channel]);
            }
        });
    out
}

/// Indices of the pixels that make spikes.
fn bright_pixels(light: &Planes) -> Vec<usize> {
    let count = light.rgb[0].data.len();
    let most = (0..count).fold(0.0_f32, |most, at| most.max(luma(light.pixel(at))));
    if most <= 0.0 {
        return Vec::new();
    }
    (0..count)
        .filter(|at| luma(light.pixel(*at)) >= most * LEAST_SHARE)
        .collect()
}

/// A source of spikes: where, in steps of a pixel, and how much light.
struct Lamp {
    x: i32,
    y: i32,
    light: [f32; 3],
}

/// The bright pixels, joined in cells of 1, 2, 4, ... pixels until they are few enough; a joined lamp lies in the middle of its light.
fn joined(light: &Planes, bright: &[usize]) -> Vec<Lamp> {
    let rect = light.rect();
    let width = rect.width();
    let mut shift = 0_u32;
    loop {
        let key = |at: usize| ((at / width) >> shift, (at % width) >> shift);
        let mut cells: std::collections::BTreeMap<(usize, usize), [f64; 6]> =
            std::collections::BTreeMap::new();
        for at in bright {
            let cell = cells.entry(key(*at)).or_default();
            let colour = light.pixel(*at).map(|value| value.max(0.0));
            let weight = f64::from(luma(colour));
            for (sum, value) in cell.iter_mut().zip(colour) {
                *sum += f64::from(value);
            }
            cell[3] += weight * (f64::from(count_f32(at % width)) + 0.5);
            cell[4] += weight * (f64::from(count_f32(at / width)) + 0.5);
            cell[5] += weight;
        }
        if cells.len() > MOST_LAMPS && shift < 12 {
            shift += 1;
            continue;
        }
        let place = |sum: f64, weight: f64| floor_i32(narrow(sum / weight * f64::from(STEPS)));
        let lamp = |cell: [f64; 6]| Lamp {
            x: place(cell[3], cell[5]) + rect.x0 * STEPS,
            y: place(cell[4], cell[5]) + rect.y0 * STEPS,
            light: [cell[0], cell[1], cell[2]].map(narrow),
        };
        let lit = cells.into_values().filter(|cell| cell[5] > 0.0);
        return lit.map(lamp).collect();
    }
}

/// One star for each step of a pixel, each with weights that sum to 1.
struct Stars {
    phases: Vec<Vec<(i32, i32, f32)>>,
}

impl Stars {
    fn new(blades: u32, turn_deg: f32, core_px: f32) -> Self {
        let lines: Vec<(f32, f32)> = (0..blades)
            .map(|line| {
                let turn = f64::from(turn_deg) + 360.0 * f64::from(line) / f64::from(blades);
                let angle = turn.to_radians();
                (narrow(libm::cos(angle)), narrow(libm::sin(angle)))
            })
            .collect();
        let phases = (0..STEPS * STEPS)
            .map(|phase| star(&lines, core_px, (phase % STEPS, phase / STEPS)))
            .collect();
        Self { phases }
    }

    fn draw(&self, plane: &mut Plane, lamp: &Lamp, light: f32) {
        if light <= 0.0 {
            return;
        }
        let rect = plane.rect;
        let phase = lamp.y.rem_euclid(STEPS) * STEPS + lamp.x.rem_euclid(STEPS);
        let (x, y) = (lamp.x.div_euclid(STEPS), lamp.y.div_euclid(STEPS));
        for (dx, dy, weight) in &self.phases[clamp_index(phase)] {
            if rect.contains(x + dx, y + dy) {
                plane.data[rect.index(x + dx, y + dy)] += weight * light;
            }
        }
    }
}

/// The star of a lamp that lies `phase` steps into its pixel: pixel offsets and weights.
fn star(lines: &[(f32, f32)], core_px: f32, phase: (i32, i32)) -> Vec<(i32, i32, f32)> {
    let reach = (LONGEST * core_px).max(6.0);
    let width = (0.5 * core_px).max(LEAST_WIDTH_PX);
    let side = floor_i32(reach) + 2;
    let place = |step: i32| (narrow(f64::from(step)) + 0.5) / narrow(f64::from(STEPS));
    let (px, py) = (place(phase.0), place(phase.1));
    let page = Rect::new(-side, -side, side + 1, side + 1);
    let mut sums = std::collections::BTreeMap::new();
    for (cos, sin) in lines {
        for step in -side..=side {
            // Along the longer axis pixel by pixel, across it the few pixels of the line's width.
            let steep = sin.abs() > cos.abs();
            let (long, short) = if steep { (*sin, *cos) } else { (*cos, *sin) };
            let (pl, ps) = if steep { (py, px) } else { (px, py) };
            let along = narrow(f64::from(step)) + 0.5 - pl;
            let middle = ps + along * short / long;
            let half = 3.0 * width / long.abs() + 1.0;
            for other in floor_i32(middle - half)..=floor_i32(middle + half) {
                let across = narrow(f64::from(other)) + 0.5 - ps;
                let t = along * long + across * short;
                let s = across * long - along * short;
                let weight = fall(t, core_px, reach) * bell(s / width);
                let (x, y) = if steep { (other, step) } else { (step, other) };
                if weight > 0.0 && page.contains(x, y) {
                    *sums.entry((y, x)).or_insert(0.0_f32) += weight;
                }
            }
        }
    }
    let whole: f64 = sums.values().map(|weight| f64::from(*weight)).sum();
    sums.into_iter()
        .map(|((y, x), weight)| (x, y, narrow(f64::from(weight) / whole)))
        .collect()
}

/// Light along a line at distance `t`: as distance to the -2 beyond the core, drawn out to nothing at `reach`.
fn fall(t: f32, core_px: f32, reach: f32) -> f32 {
    let (near, far) = (t / core_px, t / reach);
    let end = (1.0 - far * far).max(0.0);
    end * end / (1.0 + near * near)
}

/// Light across a line, at `u` half widths.
fn bell(u: f32) -> f32 {
    let rest = (1.0 - u * u / 9.0).max(0.0);
    let squared = rest * rest;
    squared * squared
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lamp(side: i32, at: (i32, i32)) -> Planes {
        let rect = Rect::new(0, 0, side, side);
        let plane =
            |power: f32| Plane::from_fn(rect, |x, y| if (x, y) == at { power } else { 0.0 });
        Planes {
            rgb: [plane(80.0), plane(100.0), plane(60.0)],
        }
    }

    fn shape(blades: u32) -> Spikes {
        Spikes {
            blades,
            turn_deg: 11.0,
            core_px: core_px(11.0),
            share: 0.3,
            spread: 0.0,
        }
    }

    #[test]
    fn light_moves_and_none_is_made() {
        let light = lamp(401, (200, 200));
        for spread in [0.0, 1.0] {
            let out = spikes(&light, &Spikes { spread, ..shape(7) });
            for (before, after) in light.rgb.iter().zip(&out.rgb) {
                let sum = |p: &Plane| p.data.iter().map(|v| f64::from(*v)).sum::<f64>();
                let ratio = sum(after) / sum(before);
                assert!((ratio - 1.0).abs() < 1e-3, "{ratio}");
            }
        }
    }

    #[test]
    fn black_stays_black_and_no_share_returns_the_light() {
        let black = Planes::zero(Rect::new(0, 0, 60, 60));
        assert_eq!(spikes(&black, &shape(6)), black);
        let light = lamp(61, (30, 30));
        let none = Spikes {
            share: 0.0,
            ..shape(6)
        };
        assert_eq!(spikes(&light, &none), light);
    }

    #[test]
    fn spikes_fall_with_the_square_of_distance_and_grow_with_the_f_number() {
        let along = |f_number: f32, x: i32| {
            let shape = Spikes {
                turn_deg: 0.0,
                core_px: core_px(f_number),
                ..shape(8)
            };
            spikes(&lamp(801, (400, 400)), &shape).rgb[1].at(400 + x, 400)
        };
        let slope = libm::log2f(along(16.0, 24) / along(16.0, 12));
        assert!((-2.3..-1.7).contains(&slope), "{slope}");
        assert!(
            along(22.0, 40) > 1.5 * along(8.0, 40),
            "longer at small openings"
        );
    }

    #[test]
    fn many_lamps_are_joined_without_losing_light() {
        let rect = Rect::new(0, 0, 300, 300);
        let plane = Plane::from_fn(rect, |x, y| {
            f32::from(u8::from((60..240).contains(&x) && (60..240).contains(&y)))
        });
        let light = Planes {
            rgb: [plane.clone(), plane.clone(), plane],
        };
        let short = Spikes {
            core_px: 0.3,
            ..shape(6)
        };
        let out = spikes(&light, &short);
        let sum = |p: &Planes| p.rgb[0].data.iter().map(|v| f64::from(*v)).sum::<f64>();
        assert!((sum(&out) / sum(&light) - 1.0).abs() < 1e-3);
    }
}
