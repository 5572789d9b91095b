//! From the record's terms to the terms of `imaging`, which knows no projects.

use crate::imaging::basics::colour;
use crate::imaging::inspect::Dust;
use crate::imaging::lights::lay::{Glare, LaidOver};
use crate::imaging::{blend, finish, fuse, grade, lights, matte};
use crate::pixels::convert::{count_f32, narrow};
use crate::pixels::{Image, Plane, Planes};
use crate::project::{
    Blend, Finish, FuseSettings, Grade, LayOver, MatteMethod, PracticalGroup, SensorDust,
};

/// Pixels at full size per pixel of `level`.
pub(super) fn level_factor(level: u32) -> f64 {
    f64::from(1_u32 << level.min(31))
}

/// Pixels of `level` per pixel at full size.
pub(super) fn level_scale(level: u32) -> f32 {
    narrow(1.0 / level_factor(level))
}

/// Recorded dust that makes sense.
pub(super) fn dust(recorded: &[SensorDust]) -> Vec<Dust> {
    let sound = |spot: &&SensorDust| {
        spot.radius_px > 0.0
            && spot.at.x.is_finite()
            && spot.at.y.is_finite()
            && spot.loss.iter().all(|loss| (0.0..=0.9).contains(loss))
    };
    let kept = recorded.iter().filter(sound);
    kept.map(|spot| Dust {
        at: spot.at,
        radius_px: spot.radius_px,
        loss: spot.loss,
    })
    .collect()
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

/// What a lens puts round a group's lamps at `level`; `None` for nothing.
pub(super) fn glare(group: &PracticalGroup, level: u32) -> Option<Glare> {
    let shrink = level_scale(level);
    let spikes = group.spikes.filter(|spikes| spikes.share > 0.0);
    let glows = group.glow_px > 0.0 && group.glow_share > 0.0;
    (glows || spikes.is_some()).then(|| Glare {
        glow_px: group.glow_px * shrink,
        glow_share: if glows { group.glow_share } else { 0.0 },
        spikes: spikes.map(|spikes| lights::Spikes {
            blades: spikes.blades,
            turn_deg: spikes.turn_deg,
            core_px: lights::core_px(spikes.f_number) * spikes.length * shrink,
            share: spikes.share,
            spread: spikes.spread,
        }),
    })
}

/// How a group is laid over.
pub(super) fn laid_over(group: &PracticalGroup, key_rgb: [f32; 3]) -> LaidOver {
    let flicker = group.flicker.map_or(0.0, |flicker| {
        let typical = f32::from(flicker.hundredths) / 100.0;
        lights::flicker_stops(flicker.seed, group.id.0, typical)
    });
    LaidOver {
        stops: group.stops + flicker,
        tint_rgb: group.tint_rgb,
        covering_key_rgb: (group.lay_over == LayOver::Covering).then_some(key_rgb),
        keep_colour: group.keep_colour,
        light_is_masked: glare(group, 0).is_some(),
    }
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
        MatteMethod::Drawn | MatteMethod::Plain { .. } | MatteMethod::TwoLevels { .. } => {
            matte::Levels::default()
        }
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
    colour::luma_of(planes)
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
