//! Decoding there and back.

use super::*;
use crate::imaging::basics::colour::{Gamut, OutputTransform, encode_srgb};
use crate::pixels::convert::{unit_to_u8, unit_to_u16};

fn samples(numbers: Numbers, channels: usize, width: u32, encoding: ColourEncoding) -> Samples {
    Samples {
        size: Size::new(width, 1),
        channels,
        numbers,
        encoding,
    }
}

#[test]
fn every_8_bit_code_survives_in_every_channel() {
    let codes: Vec<u8> = (0..=255_u8)
        .flat_map(|code| [code, 255 - code, code / 2])
        .collect();
    let photo = samples(Numbers::U8(codes.clone()), 3, 256, ColourEncoding::srgb());
    let planes = Decoder::for_samples(&photo)
        .unwrap()
        .decode_planes(&photo, photo.size.rect())
        .unwrap();
    let out = OutputTransform::new(Gamut::Clip);
    for (x, code) in codes.chunks_exact(3).enumerate() {
        let back = out
            .to_bt709(planes.pixel(x))
            .map(|light| unit_to_u8(encode_srgb(light)));
        assert_eq!(back, [code[0], code[1], code[2]]);
    }
}

#[test]
fn every_16_bit_code_survives_in_every_channel() {
    let codes: Vec<u16> = (0..=65535_u16)
        .flat_map(|code| [code, 65535 - code, code.rotate_left(7)])
        .collect();
    for gamut in [Gamut::Clip, Gamut::KeepHue] {
        let photo = samples(
            Numbers::U16(codes.clone()),
            3,
            65536,
            ColourEncoding::srgb(),
        );
        let planes = Decoder::for_samples(&photo)
            .unwrap()
            .decode_planes(&photo, photo.size.rect())
            .unwrap();
        let out = OutputTransform::new(gamut);
        for (x, code) in codes.chunks_exact(3).enumerate() {
            let back = out
                .to_bt709(planes.pixel(x))
                .map(|light| unit_to_u16(encode_srgb(light)));
            assert_eq!(back, [code[0], code[1], code[2]], "{gamut:?}");
        }
    }
}

#[test]
fn coverage_is_multiplied_in_and_the_outside_is_empty() {
    let photo = samples(
        Numbers::U8(vec![255, 255, 255, 51, 128, 128, 128, 255]),
        4,
        2,
        ColourEncoding::srgb(),
    );
    let image = Decoder::for_samples(&photo)
        .unwrap()
        .decode_image(&photo, Rect::new(-1, -1, 3, 2))
        .unwrap();
    for (got, want) in image.at(0, 0).iter().zip([0.2, 0.2, 0.2, 0.2]) {
        assert!((got - want).abs() < 1e-6, "{:?}", image.at(0, 0));
    }
    assert_eq!(image.at(-1, 0), [0.0; 4]);
    assert_eq!(image.at(2, 0), [0.0; 4]);
    assert!((image.at(1, 0)[3] - 1.0).abs() < 1e-6);
}

#[test]
fn the_profile_way_agrees_with_the_matrix_way() {
    let bytes = ColorProfile::new_srgb().encode().unwrap();
    let numbers: Vec<f32> = (0..30_u16).map(|step| f32::from(step) / 29.0).collect();
    let direct = samples(Numbers::F32(numbers.clone()), 3, 10, ColourEncoding::srgb());
    let profiled = samples(
        Numbers::F32(numbers),
        3,
        10,
        ColourEncoding::IccTables(bytes.into()),
    );
    let rect = direct.size.rect();
    let a = Decoder::for_samples(&direct)
        .unwrap()
        .decode_planes(&direct, rect)
        .unwrap();
    let b = Decoder::for_samples(&profiled)
        .unwrap()
        .decode_planes(&profiled, rect)
        .unwrap();
    for x in 0..10 {
        for (a, b) in a.pixel(x).iter().zip(b.pixel(x)) {
            // Profiles store colorants in steps of 1/65536 of a rounded D50.
            assert!((a - b).abs() < 1e-3, "{a} {b} at {x}");
        }
    }
}

#[test]
fn wrong_numbers_are_refused() {
    let photo = samples(Numbers::U8(vec![0; 5]), 3, 2, ColourEncoding::srgb());
    let decoder = Decoder::for_samples(&photo).unwrap();
    assert_eq!(
        decoder.decode_planes(&photo, photo.size.rect()),
        Err(ColourError::Numbers)
    );
    assert!(
        Decoder::new(
            &ColourEncoding::IccTables(vec![1, 2, 3].into()),
            Depth::Eight
        )
        .is_err()
    );
}
