//! A focus stack with exact truth: layers at different depths, each blurred by a disc as wide as its distance from the
//! focus, near ones laid over far ones. 1080 x 720 pixels.
//!
//! The scene: a smooth backdrop behind the range, a slanted textured hull with a plain panel, a nearer bright wing, thin
//! struts and a dark post nearer still, five saturated lamps. Blocked rays at the lens are not modelled: a blurred layer
//! covers by its blurred coverage.
#![allow(
    dead_code,
    unreachable_pub,
    clippy::unwrap_used,
    clippy::allow_attributes,
    reason = "shared by several test binaries, each of which uses its own part of the scene"
)]

use super::disc_blur::blurred;
use platebench::geometry::{Point, Rect, Transform};
use platebench::imaging::basics::blur::gaussian;
use platebench::pixels::convert::{clamp_index, coordinate, count_f32, floor_f64, narrow};
use platebench::pixels::{Plane, Planes};
use rayon::prelude::*;

/// Pixels across.
pub const WIDTH: i32 = 1080;
/// Pixels down.
pub const HEIGHT: i32 = 720;
/// Frames of the usual stack.
pub const FRAMES: u32 = 16;
/// Blur radius in pixels that one frame step of focus adds.
pub const STEP_PX: f32 = 1.3;

/// What is behind the model.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Backdrop {
    /// A grey ramp.
    Grey,
    /// Nearly black, as for a space scene.
    Black,
}

/// One thing at its depth, measured in frames.
#[derive(Debug, Clone)]
pub struct Layer {
    /// Linear colour, not multiplied by coverage.
    pub colour: Planes,
    /// 0..=1.
    pub coverage: Plane,
    /// Frame index it is sharp in, per pixel.
    pub depth: Plane,
}

/// Layers from far to near.
#[derive(Debug, Clone)]
pub struct LayeredScene {
    /// Far to near.
    pub layers: Vec<Layer>,
}

/// Seeded numbers (Steele, Lea and Flood 2014, the `SplitMix64` generator).
#[derive(Debug, Clone)]
pub struct Dice(u64);

impl Dice {
    /// The same seed gives the same numbers.
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Evenly spread in 0..1.
    pub fn unit(&mut self) -> f64 {
        f64::from(u32::try_from(self.bits() >> 32).unwrap()) / 4_294_967_296.0
    }

    /// A whole number in `low..high`.
    pub fn whole(&mut self, low: i32, high: i32) -> i32 {
        low + floor_f64(self.unit() * f64::from(high - low))
    }

    /// Normal with mean 0 and deviation 1 (Box and Muller 1958).
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * libm::log(1.0 - self.unit())).sqrt();
        radius * libm::cos(std::f64::consts::TAU * self.unit())
    }

    /// Poisson with the given mean: exact below 30, rounded normal above.
    pub fn poisson(&mut self, mean: f64) -> f64 {
        if mean > 30.0 {
            return (mean + mean.sqrt() * self.normal()).round().max(0.0);
        }
        let limit = libm::exp(-mean);
        let (mut product, mut count) = (self.unit(), 0.0);
        while product > limit {
            product *= self.unit();
            count += 1.0;
        }
        count
    }
}

/// The frame from the origin.
pub fn frame_rect() -> Rect {
    Rect::new(0, 0, WIDTH, HEIGHT)
}

fn distance(x: i32, y: i32) -> Point {
    Point::new(f64::from(x), f64::from(y))
}

/// Coverage of a convex polygon with corners in clockwise order as seen.
pub fn polygon(corners: [(i32, i32); 4]) -> Plane {
    Plane::from_fn(frame_rect(), |x, y| {
        let mut inside = f64::MAX;
        for (at, &(ax, ay)) in corners.iter().enumerate() {
            let (bx, by) = corners[(at + 1) % 4];
            let (ex, ey) = (f64::from(bx - ax), f64::from(by - ay));
            let length = distance(bx, by).distance(distance(ax, ay));
            let side = (ex * f64::from(y - ay) - ey * f64::from(x - ax)) / length;
            inside = inside.min(side);
        }
        narrow((inside + 0.5).clamp(0.0, 1.0))
    })
}

pub fn draw_line(plane: &mut Plane, from: (i32, i32), to: (i32, i32), thickness: f64) {
    let (a, b) = (distance(from.0, from.1), distance(to.0, to.1));
    let length = a.distance(b);
    for y in 0..HEIGHT {
        let row = plane.row_mut(y);
        for x in 0..WIDTH {
            let p = distance(x, y);
            let along = ((p.x - a.x) * (b.x - a.x) + (p.y - a.y) * (b.y - a.y)) / (length * length);
            let gap = p.distance(a.towards(b, along.clamp(0.0, 1.0)));
            let cover = narrow((thickness * 0.5 + 0.5 - gap).clamp(0.0, 1.0));
            let cell = &mut row[clamp_index(x)];
            *cell = cell.max(cover);
        }
    }
}

/// Panels, lines and grain around 1.
pub fn texture(seed: u64, contrast: f64) -> Plane {
    let mut dice = Dice::new(seed);
    let mut plane = Plane::filled(frame_rect(), 1.0);
    for _ in 0..700 {
        let (x, y) = (dice.whole(0, WIDTH), dice.whole(0, HEIGHT));
        let (w, h) = (dice.whole(4, 90), dice.whole(4, 60));
        let value = narrow(1.0 + contrast * (dice.unit() - 0.5) * 2.0);
        let outlined = dice.unit() < 0.4;
        let panel = Rect::new(x, y, x + w + 1, y + h + 1);
        for py in panel.y0..panel.y1.min(HEIGHT) {
            for px in panel.x0..panel.x1.min(WIDTH) {
                let rim =
                    px == panel.x0 || py == panel.y0 || px == panel.x1 - 1 || py == panel.y1 - 1;
                plane.row_mut(py)[clamp_index(px)] =
                    if rim && outlined { value * 0.4 } else { value };
            }
        }
    }
    let grain = Plane::from_fn(frame_rect(), |_, _| narrow(dice.normal()));
    let grain = gaussian(&grain, 0.8);
    for (value, speck) in plane.data.iter_mut().zip(&grain.data) {
        *value *= 1.0 + 0.18 * speck;
    }
    gaussian(&plane, 0.6)
}

pub fn coloured(texture: &Plane, base: [f32; 3]) -> Planes {
    Planes {
        rgb: base.map(|part| texture.map(|value| (value * part).max(0.002))),
    }
}

impl LayeredScene {
    /// The scene; other seeds give other textures.
    pub fn new(seed: u64, backdrop: Backdrop) -> Self {
        let rect = frame_rect();
        let last = count_f32(usize::try_from(FRAMES).unwrap());
        let ramp = Plane::from_fn(rect, |x, _| match backdrop {
            Backdrop::Grey => 0.10 + 0.05 * x as f32 / WIDTH as f32,
            Backdrop::Black => 0.004,
        });
        let behind = Layer {
            colour: Planes {
                rgb: [ramp.clone(), ramp.clone(), ramp.map(|value| value * 1.1)],
            },
            coverage: Plane::filled(rect, 1.0),
            depth: Plane::filled(rect, last + 2.0),
        };
        Self {
            layers: vec![behind, hull(seed, last), wing(seed), struts(seed), lamps()],
        }
    }

    /// The frame from the origin; all layers have its size.
    fn rect(&self) -> Rect {
        self.layers
            .first()
            .map_or_else(Rect::default, |layer| layer.coverage.rect)
    }

    /// The picture focused at frame `focus`; `step_px` is the blur radius that one frame step adds. No noise.
    pub fn render(&self, focus: f32, step_px: f32) -> Planes {
        let mut out = Planes::zero(self.rect());
        for layer in &self.layers {
            let radius = layer.depth.map(|depth| (depth - focus).abs() * step_px);
            let above = blurred(layer, &radius);
            for (index, [r, g, b, part]) in above.into_iter().enumerate() {
                let below = out.pixel(index).map(|value| value * (1.0 - part));
                out.set_pixel(index, [below[0] + r, below[1] + g, below[2] + b]);
            }
        }
        out
    }

    /// Everything sharp, and the frame each pixel is sharp in.
    pub fn truth(&self) -> (Planes, Plane) {
        let mut picture = Planes::zero(self.rect());
        let mut depth = Plane::zero(self.rect());
        for layer in &self.layers {
            for index in 0..depth.data.len() {
                let part = layer.coverage.data[index];
                let (below, above) = (picture.pixel(index), layer.colour.pixel(index));
                let mixed = [0, 1, 2].map(|c: usize| below[c] * (1.0 - part) + above[c] * part);
                picture.set_pixel(index, mixed);
                if part > 0.5 {
                    depth.data[index] = layer.depth.data[index];
                }
            }
        }
        (picture, depth)
    }
}

fn hull(seed: u64, last: f32) -> Layer {
    let mut paint = coloured(&texture(seed + 1, 0.5), [0.28, 0.29, 0.31]);
    for y in 250..330 {
        for x in 300..520 {
            paint.set_pixel(frame_rect().index(x, y), [0.25, 0.25, 0.26]);
        }
    }
    Layer {
        colour: paint,
        coverage: polygon([(60, 170), (1040, 100), (1040, 610), (60, 560)]),
        depth: Plane::from_fn(frame_rect(), |x, _| {
            (last - 2.0) - (last - 8.0) * x as f32 / WIDTH as f32
        }),
    }
}

fn wing(seed: u64) -> Layer {
    Layer {
        colour: coloured(&texture(seed + 2, 0.35), [0.55, 0.52, 0.46]),
        coverage: polygon([(250, 330), (820, 240), (900, 520), (420, 690)]),
        depth: Plane::from_fn(frame_rect(), |_, y| 4.0 - 1.5 * y as f32 / HEIGHT as f32),
    }
}

fn struts(seed: u64) -> Layer {
    let mut coverage = Plane::zero(frame_rect());
    draw_line(&mut coverage, (150, 40), (420, 690), 2.0);
    draw_line(&mut coverage, (560, 30), (600, 420), 1.0);
    draw_line(&mut coverage, (700, 60), (1000, 650), 3.0);
    draw_line(&mut coverage, (900, 20), (880, 400), 1.0);
    for y in 330..HEIGHT {
        coverage.row_mut(y)[960..=1000].fill(1.0);
    }
    let mut paint = texture(seed + 3, 0.2);
    for y in 0..HEIGHT {
        paint.row_mut(y)[850..]
            .iter_mut()
            .for_each(|value| *value *= 0.15);
    }
    Layer {
        colour: coloured(&paint, [0.7, 0.68, 0.66]),
        coverage,
        depth: Plane::filled(frame_rect(), 1.0),
    }
}

fn lamps() -> Layer {
    let places = [(300, 420), (500, 560), (640, 330), (780, 430), (200, 300)];
    let coverage = Plane::from_fn(frame_rect(), |x, y| {
        let nearest = places
            .iter()
            .map(|&(cx, cy)| distance(x, y).distance(distance(cx, cy)))
            .fold(f64::MAX, f64::min);
        narrow((3.5 - nearest).clamp(0.0, 1.0))
    });
    let rect = frame_rect();
    Layer {
        colour: Planes {
            rgb: [3.0, 2.7, 2.1].map(|value| Plane::filled(rect, value)),
        },
        coverage,
        depth: Plane::filled(rect, 1.0),
    }
}

/// `picture` as a sensor records it: Poisson light of `full_well` electrons at 1.0, and `read` electrons of noise.
pub fn noisy(picture: &Planes, seed: u64, full_well: f64, read: f64) -> Planes {
    let mut out = picture.clone();
    for (channel, plane) in (0_u64..).zip(out.rgb.iter_mut()) {
        plane
            .data
            .par_chunks_mut(clamp_index(WIDTH))
            .enumerate()
            .for_each(|(y, row)| {
                let place = u64::try_from(y).unwrap() * 3 + channel;
                let mut dice = Dice::new(seed.wrapping_mul(0x5851_f42d_4c95_7f2d) ^ (place << 20));
                for value in row {
                    let electrons = dice.poisson(f64::from(value.max(0.0)) * full_well);
                    *value = narrow((electrons + dice.normal() * read) / full_well);
                }
            });
    }
    out
}

/// `picture` seen through `out_from_picture`, by an 8-tap Lanczos kernel, mirrored at the border; negative lobes cut at 0.
pub fn warped(picture: &Planes, out_from_picture: &Transform) -> Planes {
    let back = out_from_picture.inverse().unwrap();
    Planes {
        rgb: [0, 1, 2].map(|channel: usize| warped_plane(&picture.rgb[channel], &back)),
    }
}

fn warped_plane(plane: &Plane, back: &Transform) -> Plane {
    let mut out = plane.clone();
    let width = plane.rect.width();
    let fold = |at: i32, length: usize| platebench::imaging::basics::blur::mirror(at, length);
    out.data
        .par_chunks_mut(width)
        .enumerate()
        .for_each(|(y, row)| {
            for (x, value) in row.iter_mut().enumerate() {
                let from = back.apply(Point::new(
                    f64::from(coordinate(x)) + 0.5,
                    f64::from(coordinate(y)) + 0.5,
                ));
                let (u, v) = (from.x - 0.5, from.y - 0.5);
                let (wx, wy) = (lanczos(u - u.floor()), lanczos(v - v.floor()));
                let mut sum = 0.0;
                for (j, down) in (-3..).zip(wy) {
                    let line = fold(floor_f64(v) + j, plane.rect.height()) * width;
                    let along: f64 = (-3..)
                        .zip(wx)
                        .map(|(i, across)| {
                            f64::from(plane.data[line + fold(floor_f64(u) + i, width)]) * across
                        })
                        .sum();
                    sum += along * down;
                }
                *value = narrow(sum.max(0.0));
            }
        });
    out
}

/// Weights of the eight pixels from -3 to +4 around a point at fraction `t`.
fn lanczos(t: f64) -> [f64; 8] {
    let sinc = |x: f64| {
        if x.abs() < 1e-9 {
            1.0
        } else {
            libm::sin(std::f64::consts::PI * x) / (std::f64::consts::PI * x)
        }
    };
    let mut taps = [0.0; 8];
    for (offset, tap) in (-3..).zip(&mut taps) {
        let x = f64::from(offset) - t;
        *tap = sinc(x) * sinc(x / 4.0);
    }
    let sum: f64 = taps.iter().sum();
    taps.map(|tap| tap / sum)
}

/// Luma of linear BT.2020 light.
pub fn luma(picture: &Planes) -> Plane {
    let mut out = Plane::zero(picture.rect());
    for (index, value) in out.data.iter_mut().enumerate() {
        let [r, g, b] = picture.pixel(index);
        *value = 0.2627 * r + 0.6780 * g + 0.0593 * b;
    }
    out
}

/// Root mean square and worst distance between two transforms over a 9 x 7 grid of the picture.
pub fn grid_error(found: &Transform, truth: &Transform) -> (f64, f64) {
    let (mut sum, mut worst) = (0.0, 0.0_f64);
    for row in 0..7 {
        for column in 0..9 {
            let at = Point::new(
                f64::from(WIDTH) * f64::from(column) / 8.0,
                f64::from(HEIGHT) * f64::from(row) / 6.0,
            );
            let gap = found.apply(at).distance(truth.apply(at));
            sum += gap * gap;
            worst = worst.max(gap);
        }
    }
    ((sum / 63.0).sqrt(), worst)
}
