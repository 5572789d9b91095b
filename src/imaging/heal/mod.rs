//! Healing: what is hurt (dust, hair, a stand) is filled from the picture itself or from another picture of the same place.
//!
//! Pictures are patches of a plate: as much of it round the hurt place as [`needed`] says. Filling copies whole pieces of picture, so
//! grain and texture come with them and a healed place is as noisy as its surroundings.

mod exemplar;
mod membrane;

pub use exemplar::{Reach, reach_of};
pub use membrane::membrane;

use crate::geometry::Rect;
use crate::imaging::basics::blur::gaussian;
use crate::pixels::{Image, Plane};

/// Coverage of a hurt place from which on a pixel is filled.
const HURT: f32 = 0.02;
/// Smoothing of the difference along the seam with another picture, px: noise on the seam is not carried inwards.
const SEAM_SIGMA_PX: f32 = 1.5;

/// How far round a hurt place healing looks, for a place whose largest inscribed disc has the radius `radius_px`.
#[must_use]
pub fn needed(hurt: Rect, radius_px: f32) -> Rect {
    let reach = reach_of(radius_px);
    hurt.grow(reach.window + reach.half + 2)
}

/// `picture` with the places that `hurt` (0..=1, over the same rectangle) covers filled by the best matching pieces of the rest.
///
/// `barred` marks what is not to be copied from (other hurt places). Pieces are found by what is known round each place, near the
/// strongest structure first, so that lines go on. *Source*: Criminisi, Perez and Toyama 2004, with the mean of each piece brought to
/// its place. Where nothing fits, the surroundings are drawn together smoothly.
#[must_use]
pub fn from_surroundings(picture: &Image, hurt: &Plane, barred: &[bool], radius_px: f32) -> Image {
    let marked = marked(hurt);
    let filled = exemplar::filled(picture, &marked, barred, reach_of(radius_px));
    laid_in(picture, &filled, hurt)
}

/// `picture` with the places that `hurt` covers taken from `other`, a picture of the same place over the same rectangle.
///
/// Differences of light along the seam are spread over the inside so that no edge shows (Perez, Gangnet and Blake 2003). Where `other`
/// has no coverage, nothing is filled.
#[must_use]
pub fn from_other(picture: &Image, other: &Image, hurt: &Plane) -> Image {
    let marked = marked(hurt);
    let rect = picture.rect;
    let usable = |at: usize| other.data[at][3] > 0.5;
    let mut donor = other.clone();
    for channel in 0..3 {
        let mut step = Plane::zero(rect);
        let mut weight = Plane::zero(rect);
        for (at, marked) in marked.iter().enumerate() {
            if !marked && usable(at) {
                step.data[at] = picture.data[at][channel] - other.data[at][channel];
                weight.data[at] = 1.0;
            }
        }
        let (mut step, weight) = (
            gaussian(&step, SEAM_SIGMA_PX),
            gaussian(&weight, SEAM_SIGMA_PX),
        );
        for (step, weight) in step.data.iter_mut().zip(&weight.data) {
            *step /= weight.max(1e-6);
        }
        let known: Vec<bool> = marked
            .iter()
            .enumerate()
            .map(|(at, marked)| !marked && weight.data[at] > 1e-3)
            .collect();
        let step = membrane(&step, &known);
        for (pixel, step) in donor.data.iter_mut().zip(&step.data) {
            pixel[channel] = (pixel[channel] + step).max(0.0);
        }
    }
    for (at, pixel) in donor.data.iter_mut().enumerate() {
        if usable(at) {
            pixel[3] = picture.data[at][3].max(other.data[at][3]);
        } else {
            *pixel = picture.data[at];
        }
    }
    laid_in(picture, &donor, hurt)
}

fn marked(hurt: &Plane) -> Vec<bool> {
    hurt.data.iter().map(|hurt| *hurt > HURT).collect()
}

fn laid_in(picture: &Image, filled: &Image, hurt: &Plane) -> Image {
    let mut out = picture.clone();
    let pixels = out.data.iter_mut().zip(&filled.data).zip(&hurt.data);
    for ((pixel, filled), share) in pixels {
        if *share > 0.0 {
            for (value, filled) in pixel.iter_mut().zip(filled) {
                *value += (filled - *value) * share.min(1.0);
            }
        }
    }
    out
}
