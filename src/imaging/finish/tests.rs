//! What finishing promises.

use super::encode::Channels;
use super::*;
use crate::geometry::Rect;
use crate::imaging::basics::colour::{Decoder, Gamut};
use crate::pixels::convert::count_f64;
use crate::pixels::{ColourEncoding, Numbers, Samples};

const CANVAS: Size = Size::new(120, 80);

fn ramp(rect: Rect) -> Image {
    Image::from_fn(rect, |x, y| {
        let light = count_f32(clamp(x) + 3 * clamp(y)) / 400.0;
        [light, light * 0.8, light * 0.5, 1.0]
    })
}

fn clamp(value: i32) -> usize {
    crate::pixels::convert::clamp_index(value)
}

fn recipe() -> Finish {
    Finish {
        exposure_ev: 0.4,
        vignette: Vignette { stops: 0.7 },
        saturation: 0.9,
        tone: Tone {
            contrast: 1.2,
            white: 4.0,
            ..Tone::default()
        },
        grain: Grain {
            strength: 0.05,
            size_px: 2.3,
            ..Grain::default()
        },
    }
}

#[test]
fn a_neutral_finish_changes_no_bit() {
    let mut image = ramp(CANVAS.rect());
    finish(&mut image, &Finish::default(), CANVAS, 0);
    assert_eq!(image, ramp(CANVAS.rect()));
}

#[test]
fn tiles_agree_bit_for_bit() {
    for level in 0..2 {
        let mut whole = ramp(CANVAS.rect());
        finish(&mut whole, &recipe(), CANVAS, level);
        for tile in [Rect::new(0, 0, 37, 41), Rect::new(37, 41, 120, 80)] {
            let mut cut = ramp(tile);
            finish(&mut cut, &recipe(), CANVAS, level);
            assert_eq!(cut, whole.crop(tile));
        }
    }
}

#[test]
fn the_tone_curve_keeps_its_pivot_meets_white_and_never_falls() {
    let tone = recipe().tone;
    let curve = ToneCurve::new(&tone);
    assert!((tone.light(0.18) - 0.18).abs() < 1e-7);
    let white = 0.18 * libm::pow(4.0 / 0.18, 1.0 / f64::from(1.2_f32));
    assert!(
        (tone.light(white) - 1.0).abs() < 1e-6,
        "{}",
        tone.light(white)
    );
    let mut last = 0.0;
    for step in 1..4000_i32 {
        let x = f64::from(step) * 1e-3;
        let exact = tone.light(x);
        let fast = f64::from(curve.apply(narrow(x)));
        assert!((fast / exact - 1.0).abs() < 2e-5, "{x}: {fast} for {exact}");
        assert!(exact > last, "falls at {x}");
        last = exact;
    }
    assert!((curve.apply(-0.25) + 0.25).abs() < 1e-9);
}

#[test]
fn grain_has_the_strength_asked_for_at_every_size() {
    for size_px in [1.0, 1.7, 4.0] {
        let grain = Grain {
            strength: 0.1,
            size_px,
            colour: 0.5,
            seed: 4,
        };
        let mut image = Image::from_fn(Rect::new(0, 0, 256, 256), |_, _| [0.18, 0.18, 0.18, 1.0]);
        let only = Finish {
            grain,
            ..Finish::default()
        };
        finish(&mut image, &only, CANVAS, 0);
        for channel in 0..3 {
            let values: Vec<f64> = image.data.iter().map(|p| f64::from(p[channel])).collect();
            let mean = values.iter().sum::<f64>() / count_f64(values.len());
            let spread = values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>();
            let sigma = (spread / count_f64(values.len())).sqrt();
            assert!((mean - 0.18).abs() < 1.5e-3, "mean {mean}");
            assert!(
                (sigma / 0.018 - 1.0).abs() < 0.06,
                "size {size_px}: {sigma}"
            );
        }
    }
}

#[test]
fn the_corner_loses_the_stops_asked_for() {
    let falloff = Falloff::new(Vignette { stops: 1.5 }, Size::new(4000, 3000), 0);
    assert!((falloff.at(0, 0) - libm::exp2f(-1.5)).abs() < 1e-3);
    assert!((falloff.at(2000, 1500) - 1.0).abs() < 1e-5);
}

#[test]
fn dither_keeps_exact_codes_and_the_mean_of_shades() {
    let codes: Vec<u8> = (0..=255_u8).flat_map(|code| [code, code, code]).collect();
    let photo = Samples {
        size: Size::new(256, 1),
        channels: 3,
        numbers: Numbers::U8(codes.clone()),
        encoding: ColourEncoding::srgb(),
    };
    let decoder = Decoder::for_samples(&photo).unwrap();
    let row = decoder.decode_image(&photo, photo.size.rect()).unwrap();
    for y in 0..50 {
        let mut row = row.clone();
        row.rect = row.rect.shift(0, y);
        assert_eq!(
            encode_8(&row, Channels::Rgb, Gamut::Clip, Dither::ByPlace),
            codes
        );
    }
    let light = narrow(crate::imaging::basics::colour::srgb_to_linear(
        100.3 / 255.0,
    ));
    let flat = Image::from_fn(Rect::new(0, 0, 300, 300), |_, _| [light, light, light, 1.0]);
    let out = encode_8(&flat, Channels::Rgb, Gamut::Clip, Dither::ByPlace);
    let mean = out.iter().map(|code| f64::from(*code)).sum::<f64>() / count_f64(out.len());
    assert!((mean - 100.3).abs() < 0.02, "{mean}");
}

#[test]
fn coverage_goes_out_beside_the_colour() {
    let image = Image::from_fn(Rect::new(0, 0, 1, 1), |_, _| [0.25, 0.25, 0.25, 0.5]);
    let rgba = encode_16(&image, Channels::Rgba, Gamut::KeepHue);
    let half = crate::imaging::basics::colour::encode_srgb(0.5);
    let want = crate::pixels::convert::unit_to_u16(half);
    assert!(rgba[0].abs_diff(want) <= 1 && rgba[3] == 32768, "{rgba:?}");
    assert_eq!(display(&image, Gamut::Clip).rgba[3], 128);
    assert!((linear_bt709(&image)[0][3] - 0.5).abs() < 1e-7);
}
