//! A frame made ready for registration: the pyramid of its filtered luma with masks, built once per frame.

use super::level::{Level, halved};
use super::masks::Mask;
use crate::geometry::{Point, Size};
use crate::imaging::basics::blur::gaussian;
use crate::imaging::basics::pixelwise::{changed, combined};
use crate::pixels::Plane;

/// What differs between the two pictures besides where they lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Light {
    /// Same light, different focus: low-passed linear luma.
    Same,
    /// Other light, same focus: locally normalised band of the square root of luma, with masks of agreement.
    Other,
}

/// A pyramid ready to be compared with others made for the same [`Light`].
#[derive(Debug, Clone)]
pub struct Prepared {
    pub(super) light: Light,
    pub(super) size: Size,
    /// From fine to coarse.
    pub(super) levels: Vec<Level>,
}

/// Low-pass of [`Light::Same`] in pixels of each level. The finest level is half size, so this is about 4 px at full size:
/// more than the change of blur radius between neighbouring focus distances.
const LOW_PASS_PX: f32 = 2.0;
/// Pictures of more pixels are compared at quarter size at the finest, where the same low-pass needs fewer pixels; a finer level holds
/// nothing more behind it.
const QUARTER_SIZE_PIXELS: u64 = 8_000_000;
/// The low-pass at quarter size.
const QUARTER_LOW_PASS_PX: f32 = 1.2;
/// Pictures narrower than this start at full size.
const SMALL_PX: u32 = 256;
/// The coarsest level is about this many pixels on its shorter side.
const COARSEST_PX: usize = 40;
/// Larger pictures are compared at half size in another light.
const OTHER_FULL_SIZE_PIXELS: u64 = 3_000_000;
/// What of a picture is compared in another light, pixels of the level.
#[derive(Debug, Clone, Copy)]
struct Band {
    /// Structure wider than this is left out.
    widest_px: f32,
    /// Width of the window of local contrast.
    contrast_px: f32,
    /// Smoothing for interpolation.
    low_pass_px: f32,
}

/// The band that lost least in another light, of those tried on a layered scene.
const WIDE: Band = Band {
    widest_px: 6.0,
    contrast_px: 10.0,
    low_pass_px: 1.1,
};
/// The band of a finest level at half size: wider structure is shading, which follows the lamps. With only the model's own lamps on,
/// it pulled a whole pass by 0.6 px.
const NARROW: Band = Band {
    widest_px: 2.0,
    contrast_px: 4.0,
    low_pass_px: 0.8,
};
/// Contrast, in sqrt luma, that counts as none.
const CONTRAST_FLOOR: f32 = 2e-3;

impl Prepared {
    /// Filters `luma` (linear light, any scale; its rectangle's corner becomes the origin) for comparison in `light`.
    ///
    /// Pixels at or above `saturation` and their surroundings are left out.
    #[must_use]
    pub fn new(luma: &Plane, light: Light, saturation: f32) -> Self {
        let size = Size::new(
            u32::try_from(luma.rect.width()).unwrap_or(0),
            u32::try_from(luma.rect.height()).unwrap_or(0),
        );
        let small = size.width.min(size.height) < SMALL_PX;
        let first = match light {
            Light::Same if size.area() > QUARTER_SIZE_PIXELS => 2,
            Light::Same => u32::from(!small),
            Light::Other => u32::from(size.area() > OTHER_FULL_SIZE_PIXELS),
        };
        let mut levels = Vec::new();
        if size.area() > 0 {
            let mut mask = Mask::below(luma, saturation);
            let mut reduced = None;
            for level in 0..16 {
                if level > 0 {
                    reduced = Some(halved(reduced.as_ref().unwrap_or(luma)));
                    mask = mask.halved();
                }
                let picture = reduced.as_ref().unwrap_or(luma);
                let side = picture.rect.width().min(picture.rect.height());
                if level > first && side < COARSEST_PX {
                    break;
                }
                if level >= first {
                    let low_pass = if level == first && level == 2 {
                        QUARTER_LOW_PASS_PX
                    } else {
                        LOW_PASS_PX
                    };
                    let band = if light == Light::Other && level == first && level > 0 {
                        NARROW
                    } else {
                        WIDE
                    };
                    levels.push(filtered(picture, &mask, (light, low_pass, band), level));
                }
            }
        }
        Self {
            light,
            size,
            levels,
        }
    }

    /// Width and height of the frame at full size.
    #[must_use]
    pub fn size(&self) -> Size {
        self.size
    }

    /// The middle of the frame, pixels at full size.
    #[must_use]
    pub fn centre(&self) -> Point {
        Point::new(
            f64::from(self.size.width) * 0.5,
            f64::from(self.size.height) * 0.5,
        )
    }

    /// Half the diagonal, pixels at full size.
    pub(super) fn reach(&self) -> f64 {
        self.centre().distance(Point::default()).max(1.0)
    }
}

fn filtered(
    picture: &Plane,
    mask: &Mask,
    (light, low_pass, band): (Light, f32, Band),
    level: u32,
) -> Level {
    let (plane, reach) = match light {
        Light::Same => (gaussian(picture, low_pass), 4),
        Light::Other => (normalised(picture, band), 4),
    };
    Level {
        level,
        width: plane.rect.width(),
        height: plane.rect.height(),
        valid: mask.shrunk(reach),
        data: plane.data,
    }
}

/// n = d / (sqrt(G10(d^2)) + eps) with d = y - G6(y), y = sqrt(luma), slightly smoothed for interpolation.
fn normalised(luma: &Plane, of: Band) -> Plane {
    let root = changed(luma, |value| value.max(0.0).sqrt());
    let low = gaussian(&root, of.widest_px);
    let band = combined(&root, &low, |a, b| a - b);
    let energy = gaussian(&changed(&band, |value| value * value), of.contrast_px);
    let even = combined(&band, &energy, |d, e| {
        d / (e.max(0.0).sqrt() + CONTRAST_FLOOR)
    });
    gaussian(&even, of.low_pass_px)
}
