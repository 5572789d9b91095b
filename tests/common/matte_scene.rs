//! A model before a plain backdrop with exact coverage: textured plates, a panel nearly as the backdrop, three thin struts, edges
//! blurred by a disc of 1.2 px, light that the backdrop throws on the model's rim. 1080 x 720 pixels.
#![allow(
    dead_code,
    unreachable_pub,
    clippy::allow_attributes,
    reason = "shared by several test binaries"
)]

use super::disc_blur::blurred;
use super::layered_scene::{
    HEIGHT, Layer, WIDTH, coloured, draw_line, frame_rect, noisy, polygon, texture,
};
use platebench::imaging::basics::edges::signed_distance;
use platebench::pixels::convert::narrow;
use platebench::pixels::{Plane, Planes};

/// Electrons at white and electrons of read noise of the photos.
const SENSOR: (f64, f64) = (20_000.0, 4.0);
/// Blur radius of the model's edge, px.
const BLUR_PX: f32 = 1.2;

/// The scene and its truth.
#[derive(Debug, Clone)]
pub struct MatteScene {
    /// The photo without noise.
    pub seen: Planes,
    /// The bare backdrop without noise.
    pub backdrop: Planes,
    /// True coverage.
    pub coverage: Plane,
    /// The model's light, multiplied by coverage.
    pub model: Planes,
}

/// The scene before a backdrop of about `colour`, uneven by a fifth; `spill` of its light falls on the model's rim.
pub fn scene(colour: [f32; 3], spill: f32) -> MatteScene {
    let rect = frame_rect();
    let uneven = Plane::from_fn(rect, |x, y| {
        0.8 + 0.4 * x as f32 / WIDTH as f32 + 0.1 * libm::sinf(y as f32 / 200.0)
    });
    let backdrop = Planes {
        rgb: colour.map(|light| uneven.map(|even| light * even)),
    };
    let mut coverage = polygon([(250, 200), (820, 140), (900, 520), (420, 620)]);
    draw_line(&mut coverage, (150, 40), (420, 600), 2.0);
    draw_line(&mut coverage, (560, 30), (600, 420), 1.0);
    draw_line(&mut coverage, (700, 60), (1000, 650), 3.0);
    let mut paint = coloured(&texture(7, 0.8), [0.42, 0.44, 0.47]);
    for y in 330..380 {
        for x in 400..480 {
            let at = rect.index(x, y);
            paint.set_pixel(at, backdrop.pixel(at).map(|light| light * 1.02));
        }
    }
    let solid: Vec<bool> = coverage.data.iter().map(|cover| *cover > 0.5).collect();
    let depth = signed_distance(&solid, rect, 60);
    for (at, depth) in depth.data.iter().enumerate() {
        let thrown = libm::expf(-depth.max(0.0) / 6.0) * spill;
        let (model, back) = (paint.pixel(at), backdrop.pixel(at));
        paint.set_pixel(at, [0, 1, 2].map(|c: usize| model[c] + thrown * back[c]));
    }
    let layer = Layer {
        colour: paint,
        coverage,
        depth: Plane::zero(rect),
    };
    let soft = blurred(&layer, &Plane::filled(rect, BLUR_PX));
    let mut out = MatteScene {
        seen: backdrop.clone(),
        backdrop,
        coverage: Plane::zero(rect),
        model: Planes::zero(rect),
    };
    for (at, [r, g, b, cover]) in soft.into_iter().enumerate() {
        out.coverage.data[at] = cover;
        out.model.set_pixel(at, [r, g, b]);
    }
    out.seen = out.before(&out.backdrop);
    out
}

impl MatteScene {
    /// The model before another backdrop, without noise.
    pub fn before(&self, backdrop: &Planes) -> Planes {
        let mut out = self.model.clone();
        for (at, cover) in self.coverage.data.iter().enumerate() {
            let (model, back) = (self.model.pixel(at), backdrop.pixel(at));
            let light = [0, 1, 2].map(|c: usize| model[c] + (1.0 - cover) * back[c]);
            out.set_pixel(at, light);
        }
        out
    }

    /// Mean square error over everything, and mean error where the truth is partial.
    pub fn errors(&self, found: &Plane) -> (f64, f64) {
        let (mut square, mut edge, mut count) = (0.0, 0.0, 0.0);
        for (found, truth) in found.data.iter().zip(&self.coverage.data) {
            let off = f64::from(found.clamp(0.0, 1.0) - truth);
            square += off * off;
            if (0.02..=0.98).contains(truth) {
                edge += off.abs();
                count += 1.0;
            }
        }
        (square / f64::from(WIDTH * HEIGHT), edge / count)
    }
}

/// A backdrop of grey light, brighter to the right.
pub fn ramp(light: f32) -> Planes {
    let plane = Plane::from_fn(frame_rect(), |x, _| {
        light * (0.8 + 0.4 * x as f32 / WIDTH as f32)
    });
    Planes {
        rgb: [plane.clone(), plane.clone(), plane],
    }
}

/// The photo that a camera takes of it.
pub fn photo(of: &Planes, seed: u64) -> Planes {
    noisy(of, seed, SENSOR.0, SENSOR.1)
}

/// The mean of four photos of it.
pub fn four_photos(of: &Planes, seed: u64) -> Planes {
    let mut sum = Planes::zero(of.rect());
    for number in 0..4 {
        let one = photo(of, seed * 4 + number);
        for (sum, one) in sum.rgb.iter_mut().zip(&one.rgb) {
            let pairs = sum.data.iter_mut().zip(&one.data);
            pairs.for_each(|(sum, one)| *sum += narrow(0.25 * f64::from(*one)));
        }
    }
    sum
}
