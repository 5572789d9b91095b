//! Picture files in and out: every code survives every format, profiles and camera tags
//! are found. Hostile files have their own page.
#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    clippy::too_many_lines,
    reason = "checks make and break files on purpose and walk long tables"
)]

use platebench::files::Limits;
use platebench::files::output::{Effort, OutputColour, Picture, Pixels, WriteOptions, write};
use platebench::files::photo::{PhotoFormat, describe, open};
use platebench::geometry::Size;
use platebench::pixels::{ColourEncoding, Curve, Numbers};
use std::io::Cursor;
use std::path::PathBuf;
use tempfile::{TempDir, tempdir};

fn limits() -> Limits {
    Limits::default()
}

fn kept(folder: &TempDir, name: &str, bytes: &[u8]) -> PathBuf {
    let path = folder.path().join(name);
    std::fs::write(&path, bytes).unwrap();
    path
}

fn codes8(channels: usize) -> Picture {
    let data: Vec<u8> = (0..=255).flat_map(|c| vec![c; channels]).collect();
    Picture {
        size: Size::new(32, 8),
        pixels: Pixels::U8 { channels, data },
    }
}

fn codes16(channels: usize) -> Picture {
    let data: Vec<u16> = (0..=65_535).flat_map(|c| vec![c; channels]).collect();
    Picture {
        size: Size::new(256, 256),
        pixels: Pixels::U16 { channels, data },
    }
}

fn numbers(picture: &Picture) -> Numbers {
    match &picture.pixels {
        Pixels::U8 { data, .. } => Numbers::U8(data.clone()),
        Pixels::U16 { data, .. } => Numbers::U16(data.clone()),
        Pixels::F32 { data, .. } => Numbers::F32(data.clone()),
    }
}

#[test]
fn every_code_comes_back_from_tiff_and_png() {
    let folder = tempdir().unwrap();
    for ending in ["tif", "png"] {
        for channels in [1, 3, 4] {
            for effort in [Effort::Quick, Effort::Balanced] {
                for (bits, picture) in [(8, codes8(channels)), (16, codes16(channels))] {
                    let path = folder.path().join(format!("a.{ending}"));
                    let mut options = WriteOptions::new(bits, OutputColour::Srgb);
                    options.effort = effort;
                    write(&path, &picture, &options).unwrap();
                    let photo = open(&path, &limits()).unwrap();
                    assert_eq!(photo.samples.size, picture.size);
                    assert_eq!(photo.samples.channels, channels);
                    assert_eq!(photo.info.bits, bits);
                    assert!(
                        photo.samples.numbers == numbers(&picture),
                        "{ending} {channels} {bits}"
                    );
                    let ppi = photo.info.resolution.unwrap();
                    assert!((ppi - 300.0).abs() < 0.02, "{ppi}");
                    assert_eq!(describe(&path, &limits()).unwrap(), photo.info);
                }
            }
        }
    }
}

#[test]
fn jpeg_keeps_flat_codes_within_its_rounding() {
    let folder = tempdir().unwrap();
    let path = folder.path().join("a.jpg");
    for channels in [1, 3] {
        // Blocks of 8 x 8 of one code each: only the constant term is coded.
        let mut data = Vec::new();
        for y in 0..128_u32 {
            for x in 0..128_u32 {
                let code = u8::try_from((y / 8) * 16 + x / 8).unwrap();
                data.extend(vec![code; channels]);
            }
        }
        let picture = Picture {
            size: Size::new(128, 128),
            pixels: Pixels::U8 {
                channels,
                data: data.clone(),
            },
        };
        let mut options = WriteOptions::new(8, OutputColour::Srgb);
        options.jpeg_quality = 100;
        options.description = "flat blocks".to_owned();
        write(&path, &picture, &options).unwrap();
        let photo = open(&path, &limits()).unwrap();
        let Numbers::U8(read) = &photo.samples.numbers else {
            panic!("8 bits expected")
        };
        let worst = read.iter().zip(&data).map(|(a, b)| a.abs_diff(*b)).max();
        assert!(worst <= Some(1), "{worst:?}");
        assert_eq!(photo.info.resolution, Some(300.0));
        assert_eq!(describe(&path, &limits()).unwrap(), photo.info);
        assert!(matches!(
            photo.samples.encoding,
            ColourEncoding::MatrixD50 { .. }
        ));
    }
}

#[test]
fn floats_come_back_from_tiff_and_exr_unclipped() {
    let folder = tempdir().unwrap();
    // Exact in half precision too, and with coverage 1 or a power of two, so that multiplying it in and out is exact.
    let values = [
        -1.5_f32,
        0.0,
        0.25,
        1.0,
        4.0,
        1024.0,
        60_000.0,
        6.103_515_6e-5,
    ];
    for ending in ["tif", "exr"] {
        for (bits, channels) in [(16, 1), (16, 3), (32, 1), (32, 3), (16, 4), (32, 4)] {
            let mut data: Vec<f32> = (0..70 * 9 * channels).map(|i| values[i % 8]).collect();
            if channels == 4 {
                data.chunks_exact_mut(4)
                    .enumerate()
                    .for_each(|(i, pixel)| pixel[3] = if i % 2 == 0 { 1.0 } else { 0.5 });
            }
            let picture = Picture {
                size: Size::new(9, 70),
                pixels: Pixels::F32 { channels, data },
            };
            for effort in [Effort::Quick, Effort::Balanced] {
                let path = folder.path().join(format!("a.{ending}"));
                let mut options = WriteOptions::new(bits, OutputColour::LinearBt2020);
                options.effort = effort;
                write(&path, &picture, &options).unwrap();
                let photo = open(&path, &limits()).unwrap();
                assert!(photo.info.floating);
                assert_eq!(photo.info.bits, bits);
                if ending == "exr" && bits == 16 && channels == 4 {
                    // Halving the smallest normal half number leaves its precision; all others stay exact.
                    continue;
                }
                assert_eq!(
                    photo.samples.numbers,
                    numbers(&picture),
                    "{ending} {bits} {channels}"
                );
                if ending == "exr" {
                    let ColourEncoding::Primaries { curves, xy } = &photo.samples.encoding else {
                        panic!("primaries expected")
                    };
                    assert_eq!(curves[0], Curve::Linear);
                    for (found, wanted) in xy.iter().zip(ColourEncoding::BT2020_XY) {
                        assert!((found[0] - wanted[0]).abs() < 1e-7);
                        assert!((found[1] - wanted[1]).abs() < 1e-7);
                    }
                }
            }
        }
    }
}

/// D50 colorants of sRGB: IEC 61966-2-1 primaries, Bradford adapted, as tabled in the ICC's own sRGB profile notes; of
/// Display P3 and BT.2020: derived from SMPTE EG 432-1 and ITU-R BT.2020 in the same way. Rows X, Y, Z.
const SRGB_D50: [[f64; 3]; 3] = [
    [0.4361, 0.3851, 0.1431],
    [0.2225, 0.7169, 0.0606],
    [0.0139, 0.0971, 0.7141],
];
const P3_D50: [[f64; 3]; 3] = [
    [0.5151, 0.2920, 0.1571],
    [0.2412, 0.6922, 0.0666],
    [-0.0011, 0.0419, 0.7841],
];
const BT2020_D50: [[f64; 3]; 3] = [
    [0.6735, 0.1657, 0.1251],
    [0.2790, 0.6753, 0.0456],
    [-0.0019, 0.0300, 0.7972],
];

#[test]
fn embedded_profiles_are_found_as_matrix_and_curves() {
    let folder = tempdir().unwrap();
    for ending in ["tif", "png", "jpg"] {
        for (colour, wanted) in [
            (OutputColour::Srgb, SRGB_D50),
            (OutputColour::DisplayP3, P3_D50),
            (OutputColour::Bt2020Srgb, BT2020_D50),
        ] {
            let path = folder.path().join(format!("a.{ending}"));
            write(&path, &codes8(3), &WriteOptions::new(8, colour)).unwrap();
            let photo = open(&path, &limits()).unwrap();
            let ColourEncoding::MatrixD50 {
                curves,
                xyz_from_rgb,
            } = &photo.samples.encoding
            else {
                panic!("{ending} {colour:?}: {:?}", photo.samples.encoding)
            };
            for (found, wanted) in xyz_from_rgb.iter().flatten().zip(wanted.iter().flatten()) {
                assert!(
                    (found - wanted).abs() < 4e-4,
                    "{colour:?}: {xyz_from_rgb:?}"
                );
            }
            // The curve of IEC 61966-2-1 as the parametric form writes it.
            let Curve::Parametric([g, a, b, c, d, e, f]) = curves[0] else {
                panic!("{:?}", curves[0])
            };
            for (found, wanted) in [
                (g, 2.4),
                (a, 1.0 / 1.055),
                (b, 0.055 / 1.055),
                (c, 1.0 / 12.92),
                (d, 0.04045),
                (e, 0.0),
                (f, 0.0),
            ] {
                assert!((found - wanted).abs() < 2e-4, "{found} {wanted}");
            }
            assert!(
                photo.info.colour.contains("profile"),
                "{}",
                photo.info.colour
            );
        }
    }
    let path = folder.path().join("a.tif");
    let flat = Picture {
        size: Size::new(1, 1),
        pixels: Pixels::F32 {
            channels: 3,
            data: vec![1.0; 3],
        },
    };
    write(
        &path,
        &flat,
        &WriteOptions::new(32, OutputColour::LinearBt709),
    )
    .unwrap();
    let encoding = open(&path, &limits()).unwrap().samples.encoding;
    assert!(
        matches!(&encoding, ColourEncoding::MatrixD50 { curves, .. } if curves[0] == Curve::Linear),
        "{encoding:?}"
    );
}

fn camera_block() -> Vec<u8> {
    use exif::{Field, In, Rational, Tag, Value};
    let field = |tag, value| Field {
        tag,
        ifd_num: In::PRIMARY,
        value,
    };
    let rational = |num, denom| Value::Rational(vec![Rational { num, denom }]);
    let text = |text: &str| Value::Ascii(vec![text.as_bytes().to_vec()]);
    let fields = [
        field(Tag::Make, text("Test Works")),
        field(Tag::Model, text("Box 1")),
        field(Tag::Orientation, Value::Short(vec![8])),
        field(Tag::ExposureTime, rational(1, 60)),
        field(Tag::FNumber, rational(56, 10)),
        field(Tag::PhotographicSensitivity, Value::Short(vec![200])),
        field(Tag::FocalLength, rational(60, 1)),
        field(Tag::SubjectDistance, rational(45, 100)),
        field(Tag::DateTimeOriginal, text("2026:11:24 18:30:05")),
        field(Tag::SubSecTimeOriginal, text("25")),
        field(Tag::ColorSpace, Value::Short(vec![1])),
        field(Tag::LensModel, text("60 mm")),
    ];
    let mut writer = exif::experimental::Writer::new();
    fields.iter().for_each(|field| writer.push_field(field));
    let mut block = Cursor::new(Vec::new());
    writer.write(&mut block, false).unwrap();
    block.into_inner()
}

#[test]
fn camera_tags_are_read_from_jpeg_and_png() {
    let folder = tempdir().unwrap();
    let mut jpeg = Vec::new();
    let mut encoder = jpeg_encoder::Encoder::new(&mut jpeg, 90);
    encoder.add_exif_metadata(&camera_block()).unwrap();
    encoder
        .encode(&[99; 16 * 8 * 3], 16, 8, jpeg_encoder::ColorType::Rgb)
        .unwrap();
    let mut png = Vec::new();
    let mut info = png::Info::with_size(16, 8);
    info.exif_metadata = Some(camera_block().into());
    info.color_type = png::ColorType::Rgb;
    let mut writer = png::Encoder::with_info(&mut png, info)
        .unwrap()
        .write_header()
        .unwrap();
    writer.write_image_data(&[99; 16 * 8 * 3]).unwrap();
    writer.finish().unwrap();
    // The names lie on purpose: the content decides.
    for (path, format) in [
        (kept(&folder, "a.png", &jpeg), PhotoFormat::Jpeg),
        (kept(&folder, "b.jpg", &png), PhotoFormat::Png),
    ] {
        let photo = open(&path, &limits()).unwrap();
        let camera = &photo.info.camera;
        assert_eq!(photo.info.format, format);
        assert_eq!(photo.info.orientation, 8);
        assert_eq!(photo.samples.size, Size::new(8, 16));
        assert_eq!(camera.exposure_s, Some(1.0 / 60.0));
        assert_eq!(camera.f_number, Some(5.6));
        assert_eq!(camera.iso, Some(200.0));
        assert_eq!(camera.focal_mm, Some(60.0));
        assert_eq!(camera.focus_distance_mm, Some(450.0));
        assert_eq!(camera.taken.as_deref(), Some("2026-11-24T18:30:05.250"));
        assert_eq!(camera.make.as_deref(), Some("Test Works"));
        assert_eq!(camera.model.as_deref(), Some("Box 1"));
        assert_eq!(camera.lens.as_deref(), Some("60 mm"));
        assert_eq!(photo.info.colour, "Exif says sRGB");
        assert_eq!(describe(&path, &limits()).unwrap(), photo.info);
    }
}

#[test]
fn a_folder_is_read_by_time_then_by_counting_names() {
    let folder = tempdir().unwrap();
    let picture = codes8(3);
    for name in ["f10.jpg", "f9.tif", "f2.png"] {
        let path = folder.path().join(name);
        write(&path, &picture, &WriteOptions::new(8, OutputColour::Srgb)).unwrap();
    }
    // Photos with a time of their own follow those without, in the order of their times.
    let mut late = Vec::new();
    let mut encoder = jpeg_encoder::Encoder::new(&mut late, 90);
    encoder.add_exif_metadata(&camera_block()).unwrap();
    encoder
        .encode(&[9; 8 * 8], 8, 8, jpeg_encoder::ColorType::Luma)
        .unwrap();
    kept(&folder, "a1.jpg", &late);
    kept(&folder, "notes.tif", b"no picture");
    let names = |words: &[&str]| -> Vec<String> {
        let words: Vec<PathBuf> = words.iter().map(|word| folder.path().join(word)).collect();
        platebench::files::locate::frames(&words, &limits())
            .unwrap()
            .iter()
            .map(|path| path.file_name().unwrap().to_string_lossy().into_owned())
            .collect()
    };
    assert_eq!(names(&[""]), ["f2.png", "f9.tif", "f10.jpg", "a1.jpg"]);
    assert_eq!(
        names(&["f?.*", "f10.jpg", "f9.tif"]),
        ["f2.png", "f9.tif", "f10.jpg"]
    );
    let nothing = [folder.path().join("g*.tif")];
    assert!(platebench::files::locate::frames(&nothing, &limits()).is_err());
}

/// A camera may write the colours of a baseline file one after the other, with the colour at half size: such a file must come
/// out as the picture that went in, not as stripes.
#[test]
fn a_subsampled_jpeg_in_separate_scans_is_the_picture_that_went_in() {
    let folder = tempdir().unwrap();
    let path = folder.path().join("halved.jpg");
    let (width, height) = (96_u16, 64_u16);
    let mut rgb = Vec::new();
    for y in 0..height {
        for x in 0..width {
            rgb.extend([
                u8::try_from(x * 2).unwrap(),
                u8::try_from(y * 3).unwrap(),
                90,
            ]);
        }
    }
    let mut encoder = jpeg_encoder::Encoder::new_file(&path, 95).unwrap();
    encoder.set_sampling_factor(jpeg_encoder::SamplingFactor::F_2_2);
    encoder
        .encode(&rgb, width, height, jpeg_encoder::ColorType::Rgb)
        .unwrap();
    let photo = open(&path, &Limits::default()).unwrap();
    let Numbers::U8(read) = photo.samples.numbers else {
        panic!("8 bits")
    };
    let worst = read
        .iter()
        .zip(&rgb)
        .map(|(a, b)| a.abs_diff(*b))
        .max()
        .unwrap();
    assert!(worst <= 12, "worst difference {worst} codes");
}
