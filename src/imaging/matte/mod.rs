//! Cutting models out: coverage from a silhouette pass, from two backdrop levels, or from a plain backdrop, and clean edges.
//!
//! All work on linear light. A coverage is a [`Plane`] of 0..=1; a colour freed of its backdrop is premultiplied.

mod evenness;
mod guided;
mod plain;

pub use evenness::backdrop_of;
pub use plain::{Band, Plain, before_backdrop, covered_share, key_channel};

use crate::geometry::Rect;
use crate::imaging::basics::blur::gaussian;
use crate::imaging::basics::colour::luma;
use crate::imaging::basics::edges::{grow, soften};
use crate::imaging::basics::statistics::median;
use crate::pixels::{Image, Plane, Planes};
use rayon::prelude::*;

/// Where coverage begins and is complete, and how it is cleaned.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Levels {
    /// Raw coverage at or below this becomes 0.
    pub low: f32,
    /// Raw coverage at or above this becomes 1.
    pub high: f32,
    /// Pixels by which holes and specks are closed and opened before the levels; 0 leaves them.
    pub clean_px: f32,
}

impl Default for Levels {
    fn default() -> Self {
        Self {
            low: 0.03,
            high: 0.97,
            clean_px: 0.0,
        }
    }
}

/// Coverage from a silhouette pass, the model dark in front of an evenly lit card: `1 - I / B`.
///
/// `silhouette` is the fused pass; `card` the light of the bare card at each pixel (a clean plate, or [`card_level`] over the whole
/// picture). *Edge*: none. *Needs*: `clean_px`, rounded up, on every side.
#[must_use]
pub fn silhouette(silhouette: &Planes, card: &Plane, levels: &Levels) -> Plane {
    let rect = silhouette.rect();
    let raw = each(rect, |index| {
        let back = card.data.get(index).copied().unwrap_or(1.0).max(1e-6);
        1.0 - luma(silhouette.pixel(index)) / back
    });
    cleaned(&raw, levels)
}

/// A plane of the light of the bare card, from the brightest part of the silhouette pass: its `share` quantile (0.9 suits a model that
/// covers less than a tenth to nine tenths of the picture), the same for every pixel of `rect`.
#[must_use]
pub fn card_level(silhouette: &Planes, share: f64, rect: Rect) -> Plane {
    let mut lights: Vec<f32> = (0..silhouette.rgb[0].data.len())
        .map(|index| luma(silhouette.pixel(index)))
        .collect();
    if lights.is_empty() {
        return Plane::filled(rect, 1.0);
    }
    let last = lights.len() - 1;
    let at = crate::pixels::convert::floor_index(
        crate::pixels::convert::count_f64(last) * share.clamp(0.0, 1.0),
    );
    let (_, level, _) = lights.select_nth_unstable_by(at.min(last), f32::total_cmp);
    Plane::filled(rect, *level)
}

/// What the light of a clean plate is multiplied by to agree with `seen` along the border, where both show the bare set.
#[must_use]
pub fn gain_on_border(seen: &Plane, clean: &Plane) -> f32 {
    let rect = seen.rect.intersect(clean.rect);
    let side = rect.width().min(rect.height());
    let wide = crate::pixels::convert::coordinate(side / 12).max(1);
    let core = rect.grow(-wide);
    let mut ratios = Vec::new();
    for y in (rect.y0..rect.y1).step_by(3) {
        for x in (rect.x0..rect.x1).step_by(3) {
            let (seen, clean) = (seen.at(x, y), clean.at(x, y));
            if !core.contains(x, y) && clean > 1e-3 {
                ratios.push(seen / clean);
            }
        }
    }
    let gain = median(&ratios).unwrap_or(1.0);
    // Nothing like a fourth of the light is another light, not the same one a little changed.
    if (0.25..=4.0).contains(&gain) {
        gain
    } else {
        1.0
    }
}

/// Coverage from two passes that differ in the backdrop alone: `1 - (I1 - I2).(B1 - B2) / |B1 - B2|^2`.
///
/// Source: Smith, Blinn, Blue screen matting, 1996 (triangulation). `bright` and `dark` show the model, the other two the bare
/// backdrops. Where the backdrops do not differ nothing can be said, and coverage is 1.
#[must_use]
pub fn two_backdrops(bright: [&Planes; 2], dark: [&Planes; 2], levels: &Levels) -> Plane {
    let raw = each(bright[0].rect(), |index| {
        let [seen_1, back_1] = bright.map(|planes| planes.pixel(index));
        let [seen_2, back_2] = dark.map(|planes| planes.pixel(index));
        let (mut along, mut size) = (0.0_f32, 0.0_f32);
        for channel in 0..3 {
            let step = back_1[channel] - back_2[channel];
            along += (seen_1[channel] - seen_2[channel]) * step;
            size += step * step;
        }
        if size < 1e-8 { 1.0 } else { 1.0 - along / size }
    });
    cleaned(&raw, levels)
}

/// A photo of a bare backdrop without its noise: smoothed by a Gaussian of 2 px, as triangulation and differences want it.
#[must_use]
pub fn quiet_backdrop(photo: &Planes) -> Planes {
    Planes {
        rgb: photo.rgb.each_ref().map(|plane| gaussian(plane, 2.0)),
    }
}

/// `coverage` spread (positive) or choked (negative) by `spread_px`, then with edges softened to `feather_px` pixels.
///
/// *Edge*: outside the plane the coverage is 0. *Needs*: the spread plus about 1.4 of the feather on every side.
#[must_use]
pub fn shape(coverage: &Plane, spread_px: f32, feather_px: f32) -> Plane {
    soften(&grow(coverage, spread_px), feather_px)
}

/// The model freed of its backdrop: premultiplied `F = I - (1 - coverage) B`, with its coverage.
///
/// Where noise makes the result negative it is 0; where coverage is 0 nothing remains.
#[must_use]
pub fn cut(seen: &Planes, backdrop: &Planes, coverage: &Plane) -> Image {
    let rect = seen.rect();
    let mut out = Image::empty(rect);
    out.data
        .par_iter_mut()
        .enumerate()
        .for_each(|(index, pixel)| {
            let cover = coverage.data.get(index).copied().unwrap_or(0.0);
            if cover <= 0.0 {
                return;
            }
            let (seen, back) = (seen.pixel(index), backdrop.pixel(index));
            for channel in 0..3 {
                pixel[channel] = (seen[channel] - (1.0 - cover) * back[channel]).max(0.0);
            }
            pixel[3] = cover;
        });
    out
}

/// The model cut out where the backdrop is black, or unknown: premultiplied `coverage I`.
#[must_use]
pub fn cut_plain(seen: &Planes, coverage: &Plane) -> Image {
    let mut out = Image::empty(seen.rect());
    out.data
        .par_iter_mut()
        .enumerate()
        .for_each(|(index, pixel)| {
            let cover = coverage.data.get(index).copied().unwrap_or(0.0);
            let [r, g, b] = seen.pixel(index);
            *pixel = [r * cover, g * cover, b * cover, cover];
        });
    out
}

/// How a picture is freed of its backdrop where both are kept as one: the backdrop's light in each pixel of the photo, `(1 - coverage) B`
/// as red, green and blue, and the coverage.
#[must_use]
pub fn backdrop_and_coverage(backdrop: &Planes, coverage: &Plane) -> Image {
    let pixels = coverage.data.par_iter().enumerate().map(|(at, cover)| {
        let left = 1.0 - cover;
        let [r, g, b] = backdrop.pixel(at).map(|light| light * left);
        [r, g, b, *cover]
    });
    Image {
        rect: coverage.rect,
        data: pixels.collect(),
    }
}

/// Takes the backdrop's light out of `picture` (premultiplied `F = I - (1 - a) B`) and gives it the coverage `wanted`, which may be another
/// than the one of `found` (see [`backdrop_and_coverage`]): where it is less, light goes with it; where it is more, the photo fills it.
pub fn free(picture: &mut Image, found: &Image, wanted: &Plane) {
    let pixels = picture.data.iter_mut().zip(&found.data).zip(&wanted.data);
    for ((pixel, found), wanted) in pixels {
        let (cover, wanted) = (found[3], *wanted);
        if wanted <= 0.0 {
            *pixel = [0.0; 4];
            continue;
        }
        for channel in 0..3 {
            let seen = pixel[channel];
            let free = (seen - found[channel] * pixel[3]).max(0.0);
            pixel[channel] = if wanted <= cover {
                free * wanted / cover.max(1e-6)
            } else {
                free + (wanted - cover) * seen
            };
        }
        pixel[3] *= wanted;
    }
}

/// Keeps of `picture` what `coverage` (over the same rectangle) covers: light and coverage are multiplied by it.
pub fn keep(picture: &mut Image, coverage: &Plane) {
    for (pixel, cover) in picture.data.iter_mut().zip(&coverage.data) {
        *pixel = pixel.map(|value| value * cover);
    }
}

fn each(rect: Rect, value: impl Fn(usize) -> f32 + Sync) -> Plane {
    let mut data = vec![0.0; rect.area()];
    data.par_iter_mut()
        .enumerate()
        .for_each(|(index, out)| *out = value(index));
    Plane { rect, data }
}

fn cleaned(raw: &Plane, levels: &Levels) -> Plane {
    let over = 1.0 / (levels.high - levels.low).max(1e-6);
    let levelled = raw.map(|value| ((value - levels.low) * over).clamp(0.0, 1.0));
    if levels.clean_px <= 0.0 {
        return levelled;
    }
    // Opening takes specks away, closing fills holes; both leave straight edges where they are.
    let radius = levels.clean_px;
    let opened = grow(&grow(&levelled, -radius), radius);
    grow(&grow(&opened, radius), -radius)
}

#[cfg(test)]
mod tests {
    use super::*;

    const PAGE: Rect = Rect::new(0, 0, 60, 40);

    /// A grey disc with a soft edge: its true coverage.
    fn truth() -> Plane {
        Plane::from_fn(PAGE, |x, y| {
            let (dx, dy) = (x - 30, y - 20);
            let away = crate::pixels::convert::narrow(f64::from(dx * dx + dy * dy).sqrt());
            ((13.0 - away) / 3.0).clamp(0.0, 1.0)
        })
    }

    fn flat(colour: [f32; 3]) -> Planes {
        Planes {
            rgb: colour.map(|value| Plane::filled(PAGE, value)),
        }
    }

    fn shown(model: [f32; 3], back: [f32; 3]) -> Planes {
        let cover = truth();
        Planes {
            rgb: [0, 1, 2].map(|at| cover.map(|a| a * model[at] + (1.0 - a) * back[at])),
        }
    }

    fn worst(a: &Plane, b: &Plane) -> f32 {
        a.data
            .iter()
            .zip(&b.data)
            .map(|(a, b)| (a - b).abs())
            .fold(0.0, f32::max)
    }

    const OPEN: Levels = Levels {
        low: 0.0,
        high: 1.0,
        clean_px: 0.0,
    };

    #[test]
    fn a_silhouette_gives_back_the_coverage() {
        let pass = shown([0.0; 3], [0.7; 3]);
        let card = card_level(&pass, 0.8, PAGE);
        let found = silhouette(&pass, &card, &OPEN);
        assert!(worst(&found, &truth()) < 1e-5);
    }

    #[test]
    fn two_backdrops_give_coverage_and_colour_whatever_the_model_looks_like() {
        // The model has the very colour of one backdrop.
        let (model, b1, b2) = ([0.6, 0.5, 0.4], [0.6, 0.5, 0.4], [0.01, 0.01, 0.02]);
        let (i1, i2) = (shown(model, b1), shown(model, b2));
        let found = two_backdrops([&i1, &flat(b1)], [&i2, &flat(b2)], &OPEN);
        assert!(worst(&found, &truth()) < 1e-5);
        let free = cut(&i2, &flat(b2), &found);
        for (pixel, cover) in free.data.iter().zip(&truth().data) {
            for (value, want) in pixel.iter().zip(model) {
                assert!((value - want * cover).abs() < 1e-5, "{pixel:?}");
            }
        }
    }

    #[test]
    fn cleaning_removes_specks_and_fills_holes() {
        let mut pass = shown([0.0; 3], [0.7; 3]);
        for plane in &mut pass.rgb {
            let index = plane.rect.index(3, 3);
            plane.data[index] = 0.0;
            let index = plane.rect.index(30, 20);
            plane.data[index] = 0.7;
        }
        let card = Plane::filled(PAGE, 0.7);
        let levels = Levels {
            clean_px: 1.0,
            ..OPEN
        };
        let found = silhouette(&pass, &card, &levels);
        assert!(found.at(3, 3) <= 0.0 && found.at(30, 20) >= 1.0 - 1e-6);
        let shrunk = shape(&found, -2.0, 0.0);
        let sum = |plane: &Plane| plane.data.iter().sum::<f32>();
        assert!(sum(&shrunk) < sum(&found) && sum(&shape(&found, 2.0, 0.0)) > sum(&found));
    }
}
