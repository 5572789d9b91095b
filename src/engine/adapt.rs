//! From the record's terms to the terms of `imaging`, which knows no projects.

use crate::engine::stamp::Stamp;
use crate::geometry::Rect;
use crate::imaging::basics::colour;
use crate::imaging::basics::colour::white_balance;
use crate::imaging::{blend, finish, fuse, grade, mask, matte};
use crate::pixels::convert::{count_f32, narrow};
use crate::pixels::{Image, Plane, Planes};
use crate::project::{
    Blend, Develop, Finish, FuseSettings, Grade, Mask, MaskPart, MatteMethod, Shape, Sign,
    WhiteBalance,
};

/// Pixels at full size per pixel of `level`.
pub(super) fn level_factor(level: u32) -> f64 {
    f64::from(1_u32 << level.min(31))
}

/// Pixels of `level` per pixel at full size.
pub(super) fn level_scale(level: u32) -> f32 {
    narrow(1.0 / level_factor(level))
}

/// What a mask does to one tile.
#[derive(Debug)]
pub(super) enum MaskHere<'a> {
    /// It keeps everything out.
    Nothing,
    /// There is no mask: everything is let in.
    Everywhere,
    /// These parts reach the tile.
    Some {
        mask: &'a Mask,
        parts: Vec<&'a MaskPart>,
    },
}

/// What `mask` does to the pixels of `rect` at `level`.
pub(super) fn mask_here(mask: Option<&Mask>, rect: Rect, level: u32) -> MaskHere<'_> {
    let Some(mask) = mask else {
        return MaskHere::Everywhere;
    };
    let parts = reaching(mask, rect, level);
    if parts.is_empty() && !mask.inverted {
        MaskHere::Nothing
    } else {
        MaskHere::Some { mask, parts }
    }
}

/// The parts of a mask that can be felt in `rect` at `level`.
fn reaching(mask: &Mask, rect: Rect, level: u32) -> Vec<&MaskPart> {
    let margin = adjust(mask).reach_px();
    // One pixel of the level more on every side, for its own softening.
    let step = 2 * (1_i32 << level.min(20));
    let wide = Rect::new(
        rect.x0.saturating_mul(step / 2),
        rect.y0.saturating_mul(step / 2),
        rect.x1.saturating_mul(step / 2),
        rect.y1.saturating_mul(step / 2),
    )
    .grow(margin + step);
    let felt = |part: &&MaskPart| part.on && !mask::bounds(&drawn(part)).intersect(wide).is_empty();
    mask.parts.iter().map(AsRef::as_ref).filter(felt).collect()
}

impl MaskHere<'_> {
    /// Adds what the tile depends on.
    pub(super) fn add_to(&self, stamp: Stamp) -> Stamp {
        match self {
            Self::Nothing => stamp.text("nothing"),
            Self::Everywhere => stamp.text("everywhere"),
            Self::Some { mask, parts } => {
                let stamp = stamp.parameters(&(mask.grow_px, mask.feather_px, mask.inverted));
                parts.iter().fold(stamp, |stamp, part| {
                    stamp.parameters(&(&part.sign, part.strength, &part.shape))
                })
            }
        }
    }
}

/// The mask over `rect` at `level`; `None` where there is no mask.
pub(super) fn draw_mask(mask: Option<&Mask>, rect: Rect, level: u32) -> Option<Plane> {
    let mask = mask?;
    let parts: Vec<mask::Part> = reaching(mask, rect, level).into_iter().map(drawn).collect();
    Some(mask::rasterise(&parts, &adjust(mask), rect, level))
}

fn adjust(mask: &Mask) -> mask::Adjust {
    mask::Adjust {
        grow_px: mask.grow_px,
        feather_px: mask.feather_px,
        invert: mask.inverted,
    }
}

fn drawn(part: &MaskPart) -> mask::Part {
    let mode = match part.sign {
        Sign::Add => mask::Mode::Add,
        Sign::Remove => mask::Mode::Remove,
    };
    let shape = match &part.shape {
        Shape::Stroke {
            points,
            radius_px,
            softness,
        } => mask::Shape::Stroke(mask::Stroke {
            points: points.clone(),
            pressure: Vec::new(),
            radius_px: *radius_px,
            softness: *softness,
            strength: part.strength,
        }),
        Shape::Outline { nodes, feather_px } => {
            let control = |at: crate::geometry::Point, handle: Option<crate::geometry::Point>| {
                handle.map(|handle| crate::geometry::Point::new(at.x + handle.x, at.y + handle.y))
            };
            let nodes = nodes.iter().map(|node| mask::Node {
                at: node.at,
                arrive: control(node.at, node.before),
                leave: control(node.at, node.after),
            });
            mask::Shape::Outline(mask::Outline {
                nodes: nodes.collect(),
                feather_px: *feather_px,
                strength: part.strength,
            })
        }
    };
    mask::Part { mode, shape }
}

/// Develops a frame and brings it to the reference's light: black off, gains, exposure, white balance, tone.
pub(super) fn develop(
    planes: &mut Planes,
    develop: &Develop,
    gain_rgb: [f32; 3],
    offset_rgb: [f32; 3],
) {
    let white = match develop.white_balance {
        WhiteBalance::AsShot => [1.0; 3],
        WhiteBalance::Light { kelvin, tint } => {
            white_balance::gains_from_kelvin(f64::from(kelvin), f64::from(tint) / 1000.0)
        }
        WhiteBalance::Grey { gain_rgb, .. } => gain_rgb,
    };
    let exposure = libm::exp2f(develop.exposure_stops);
    for (channel, plane) in planes.rgb.iter_mut().enumerate() {
        let gain = gain_rgb[channel] * white[channel] * exposure;
        let lift = (offset_rgb[channel] - develop.black_level * gain_rgb[channel])
            * white[channel]
            * exposure;
        if gain.to_bits() == 1.0_f32.to_bits() && lift.to_bits() << 1 == 0 {
            continue;
        }
        plane
            .data
            .iter_mut()
            .for_each(|value| *value = *value * gain + lift);
    }
    if develop.tone.to_bits() != 1.0_f32.to_bits() {
        grade::bend(planes, develop.tone);
    }
}

/// Brings a tile's light to that of the scene, as strongly as the mask says.
pub(super) fn graded(tile: &mut Image, recorded: &Grade, mask: Option<&Plane>) {
    let settings = grade::Settings {
        exposure_stops: recorded.exposure_stops,
        colour_rgb: recorded.colour_rgb,
        black_level: recorded.black_level,
        saturation: recorded.saturation,
    };
    grade::apply(tile, &settings, mask);
}

/// The settings of the fusion. Detail 0 gathers energy over 2 px (clean), 1 over 1.2 px.
pub(super) fn fuse_settings(settings: &FuseSettings) -> fuse::FuseSettings {
    fuse::FuseSettings {
        detail: 2.0 - 0.8 * settings.detail.clamp(0.0, 1.0),
        depth_width: settings.depth_width,
        ..fuse::FuseSettings::default()
    }
    .in_range()
}

/// The levels of a silhouette matte, in coverage.
pub(super) fn silhouette_levels(method: &MatteMethod) -> matte::Levels {
    match method {
        MatteMethod::Drawn => matte::Levels::default(),
        MatteMethod::Silhouette {
            solid_below,
            clear_above,
            ..
        } => matte::Levels {
            low: 1.0 - clear_above,
            high: 1.0 - solid_below,
            clean_px: 0.0,
        },
    }
}

/// The blend by the name both rooms share.
pub(super) fn blend(blend: Blend) -> blend::Blend {
    blend::Blend::from_name(blend.name()).unwrap_or_default()
}

/// The finish.
pub(super) fn finish(recorded: &Finish) -> finish::Finish {
    let grain = recorded
        .grain
        .map_or_else(finish::Grain::default, |grain| finish::Grain {
            strength: grain.strength,
            size_px: grain.size_px,
            seed: grain.seed,
            ..finish::Grain::default()
        });
    // A shoulder of 1 brings four times white to white, 0 leaves light as it is.
    let white = 1.0 + 3.0 * recorded.shoulder.clamp(0.0, 1.0);
    finish::Finish {
        exposure_ev: recorded.exposure_stops,
        vignette: finish::Vignette {
            stops: recorded.vignette_stops,
        },
        saturation: recorded.saturation,
        tone: finish::Tone {
            contrast: recorded.contrast,
            white,
            ..finish::Tone::default()
        },
        grain,
    }
}

/// An image of light with coverage: the light is multiplied by it.
pub(super) fn image_of(planes: &Planes, coverage: &Plane) -> Image {
    let data = (0..coverage.data.len()).map(|at| {
        let (colour, cover) = (planes.pixel(at), coverage.data[at]);
        [
            colour[0] * cover,
            colour[1] * cover,
            colour[2] * cover,
            cover,
        ]
    });
    Image {
        rect: coverage.rect,
        data: data.collect(),
    }
}

/// One channel of an image.
pub(super) fn channel(image: &Image, channel: usize) -> Plane {
    Plane {
        rect: image.rect,
        data: image.data.iter().map(|pixel| pixel[channel]).collect(),
    }
}

/// The smaller of two planes over the same rectangle.
pub(super) fn least(one: &Plane, other: &Plane) -> Plane {
    let data = one.data.iter().zip(&other.data).map(|(a, b)| a.min(*b));
    Plane {
        rect: one.rect,
        data: data.collect(),
    }
}

/// Luminance of every pixel.
pub(super) fn luma(planes: &Planes) -> Plane {
    let data = (0..planes.rgb[0].data.len()).map(|at| colour::luma(planes.pixel(at)));
    Plane {
        rect: planes.rect(),
        data: data.collect(),
    }
}

/// The mean of a count of values, for shares.
pub(super) fn share(part: usize, whole: usize) -> f32 {
    count_f32(part) / count_f32(whole.max(1))
}

/// The opposite of [`image_of`]: light not multiplied by coverage, and the coverage.
pub(super) fn planes_and_coverage(image: &Image) -> (Planes, Plane) {
    let coverage = channel(image, 3);
    let light = |number: usize| {
        let data = image.data.iter().map(|pixel| {
            if pixel[3] > 0.0 {
                pixel[number] / pixel[3]
            } else {
                0.0
            }
        });
        Plane {
            rect: image.rect,
            data: data.collect(),
        }
    };
    let rgb = [light(0), light(1), light(2)];
    (Planes { rgb }, coverage)
}

/// The light of an image without its coverage.
pub(super) fn planes_of(image: &Image) -> Planes {
    Planes {
        rgb: [channel(image, 0), channel(image, 1), channel(image, 2)],
    }
}
