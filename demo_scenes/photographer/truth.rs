//! What is true of a pose: pinhole picture at the reference, light of each group, coverage and depth.

use crate::camera::Camera;
use crate::field::Sitting;
use crate::light::Draw;
use crate::num::{real, word};
use crate::part::Paint;
use crate::vec3::{V3, hash2};
use rayon::prelude::*;

/// True values of one pixel.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Pixel {
    /// Key light.
    pub(crate) key: V3,
    /// Furnace group.
    pub(crate) furnace: V3,
    /// Running group.
    pub(crate) running: V3,
    /// Share covered by the model (the stand does not count).
    pub(crate) cover: f32,
    /// Distance of the model along the axis, mm (0 where there is none).
    pub(crate) depth: f32,
}

/// Pinhole picture with `side * side` samples a pixel.
pub(crate) fn pinhole(sitting: &Sitting<'_>, side: usize) -> Vec<Pixel> {
    let (w, h) = sitting.camera.size;
    let mut out = vec![Pixel::default(); w * h];
    out.par_chunks_mut(w).enumerate().for_each(|(y, row)| {
        for (x, px) in row.iter_mut().enumerate() {
            *px = one(sitting, (x, y), side);
        }
    });
    out
}

fn one(sitting: &Sitting<'_>, at: (usize, usize), side: usize) -> Pixel {
    let mut sum = Pixel::default();
    let k = 1.0 / real(side * side);
    let mut near = f32::INFINITY;
    for i in 0..side * side {
        let pixel = hash2(word(at.0), word(at.1)) ^ 0x7E57;
        let cell = hash2(pixel, word(i));
        let u = (real(i % side) + crate::vec3::unit_of(cell)) / real(side);
        let v = (real(i / side) + crate::vec3::unit_of(hash2(cell, 1))) / real(side);
        let p = (real(at.0) + tent(u), real(at.1) + tent(v));
        let t = sitting.trace(
            p,
            (0.0, 0.0),
            Draw {
                pixel,
                view: word(i),
            },
        );
        sum.key += t.key * k;
        sum.furnace += t.furnace * k;
        sum.running += t.running * k;
        if t.solid > 0.5
            && let Some((paint, d)) = sitting.peek(p)
            && paint != Paint::Stand
        {
            sum.cover += k;
            near = near.min(d);
        }
    }
    if near < f32::INFINITY {
        sum.depth =
            sitting
                .peek((real(at.0) + 0.5, real(at.1) + 0.5))
                .map_or(
                    near,
                    |(paint, d)| {
                        if paint == Paint::Stand { near } else { d }
                    },
                );
    }
    sum
}

/// An even number 0..1 turned into a place in a pixel that is hit as the photographs' pixels are: a tent two pixels wide
/// about the middle. The truth then has the photographs' own sharpness.
fn tent(even: f32) -> f32 {
    if even < 0.5 {
        (2.0 * even).sqrt() - 0.5
    } else {
        1.5 - (2.0 - 2.0 * even).sqrt()
    }
}

/// Camera at half, quarter … size for a quick look.
pub(crate) fn smaller(camera: Camera, by: usize) -> Camera {
    Camera {
        size: (camera.size.0 / by, camera.size.1 / by),
        ..camera
    }
}
