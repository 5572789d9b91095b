//! Picture files in and out: every code survives every format, every variant of TIFF is read, profiles and camera tags
//! are found, and hostile files give one error and nothing else.

use platebench::files::output::{
    Effort, OutputColour, OutputFormat, Picture, Pixels, WriteOptions, write,
};
use platebench::files::photo::{PhotoFormat, describe, open};
use platebench::files::{FileError, Limits};
use platebench::geometry::Size;
use platebench::pixels::{ColourEncoding, Curve, Numbers};
use proptest::prelude::*;
use std::fs::File;
use std::io::{BufWriter, Cursor};
use std::path::{Path, PathBuf};
use tempfile::{TempDir, tempdir};
use tiff::encoder::{Compression, DeflateLevel, Predictor, TiffEncoder, colortype};
use tiff::tags::Tag;

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

#[test]
fn tiff_of_every_compression_and_both_sizes_is_read() {
    let folder = tempdir().unwrap();
    let data: Vec<u16> = (0..61 * 83 * 3_u32)
        .map(|i| u16::try_from(i * 40_503 % 65_536).unwrap())
        .collect();
    for (n, compression) in [
        Compression::Uncompressed,
        Compression::Lzw,
        Compression::Deflate(DeflateLevel::Balanced),
        Compression::Packbits,
    ]
    .into_iter()
    .enumerate()
    {
        for predictor in [Predictor::None, Predictor::Horizontal] {
            let small = folder.path().join(format!("{n}.tif"));
            let file = BufWriter::new(File::create(&small).unwrap());
            TiffEncoder::new(file)
                .unwrap()
                .with_compression(compression)
                .with_predictor(predictor)
                .write_image::<colortype::RGB16>(61, 83, &data)
                .unwrap();
            let big = folder.path().join(format!("{n}b.tif"));
            let file = BufWriter::new(File::create(&big).unwrap());
            TiffEncoder::new_big(file)
                .unwrap()
                .with_compression(compression)
                .with_predictor(predictor)
                .write_image::<colortype::RGB16>(61, 83, &data)
                .unwrap();
            for path in [small, big] {
                let photo = open(&path, &limits()).unwrap();
                assert_eq!(photo.samples.numbers, Numbers::U16(data.clone()), "{n}");
                assert_eq!(photo.samples.encoding, ColourEncoding::srgb());
            }
        }
    }
}

/// Tags of a hand-made TIFF and its chunks.
struct Made<'a> {
    size: (u32, u32),
    samples: u16,
    photometric: u16,
    planar: u16,
    extra: &'a [u16],
    tile: Option<(u32, u32)>,
    orientation: u16,
    chunks: Vec<Vec<u8>>,
}

fn made(path: &Path, made: &Made<'_>) {
    let mut encoder = TiffEncoder::new(File::create(path).unwrap()).unwrap();
    let mut directory = encoder.image_directory().unwrap();
    let mut offsets = Vec::new();
    let mut lengths = Vec::new();
    for chunk in &made.chunks {
        offsets.push(u32::try_from(directory.write_data(chunk.as_slice()).unwrap()).unwrap());
        lengths.push(u32::try_from(chunk.len()).unwrap());
    }
    directory.write_tag(Tag::ImageWidth, made.size.0).unwrap();
    directory.write_tag(Tag::ImageLength, made.size.1).unwrap();
    let bits = vec![8_u16; usize::from(made.samples)];
    directory
        .write_tag(Tag::BitsPerSample, bits.as_slice())
        .unwrap();
    directory.write_tag(Tag::Compression, 1_u16).unwrap();
    directory
        .write_tag(Tag::PhotometricInterpretation, made.photometric)
        .unwrap();
    directory
        .write_tag(Tag::SamplesPerPixel, made.samples)
        .unwrap();
    directory
        .write_tag(Tag::PlanarConfiguration, made.planar)
        .unwrap();
    directory
        .write_tag(Tag::Orientation, made.orientation)
        .unwrap();
    if !made.extra.is_empty() {
        directory.write_tag(Tag::ExtraSamples, made.extra).unwrap();
    }
    if let Some((width, height)) = made.tile {
        directory.write_tag(Tag::TileWidth, width).unwrap();
        directory.write_tag(Tag::TileLength, height).unwrap();
        directory
            .write_tag(Tag::TileOffsets, offsets.as_slice())
            .unwrap();
        directory
            .write_tag(Tag::TileByteCounts, lengths.as_slice())
            .unwrap();
    } else {
        directory.write_tag(Tag::RowsPerStrip, made.size.1).unwrap();
        directory
            .write_tag(Tag::StripOffsets, offsets.as_slice())
            .unwrap();
        directory
            .write_tag(Tag::StripByteCounts, lengths.as_slice())
            .unwrap();
    }
    directory.finish().unwrap();
}

#[test]
fn tiff_tiles_planes_extra_channels_and_orientation() {
    let folder = tempdir().unwrap();
    let path = folder.path().join("a.tif");
    let plain = |chunks| Made {
        size: (20, 18),
        samples: 1,
        photometric: 1,
        planar: 1,
        extra: &[],
        tile: None,
        orientation: 1,
        chunks,
    };
    // Two by two tiles of 16 x 16, the outer ones partly outside.
    let value = |x: usize, y: usize| u8::try_from((x * 7 + y * 5) % 251).unwrap();
    let tile = |left: usize, top: usize| -> Vec<u8> {
        (0..256)
            .map(|i| value(left + i % 16, top + i / 16))
            .collect()
    };
    let wanted: Vec<u8> = (0..20 * 18).map(|i| value(i % 20, i / 20)).collect();
    let mut tiled = plain(vec![tile(0, 0), tile(16, 0), tile(0, 16), tile(16, 16)]);
    tiled.tile = Some((16, 16));
    made(&path, &tiled);
    let read = open(&path, &limits()).unwrap();
    assert_eq!(read.samples.numbers, Numbers::U8(wanted));

    let small = |chunks| Made {
        size: (2, 1),
        samples: 3,
        photometric: 2,
        ..plain(chunks)
    };
    let mut planes = small(vec![vec![1, 4], vec![2, 5], vec![3, 6]]);
    planes.planar = 2;
    made(&path, &planes);
    let read = open(&path, &limits()).unwrap();
    assert_eq!(read.samples.numbers, Numbers::U8(vec![1, 2, 3, 4, 5, 6]));

    // Extra channels: left out, kept as coverage, taken apart.
    for (extra, pixels, channels) in [
        (0_u16, vec![10, 20, 30, 40, 50, 60], 3),
        (2, vec![10, 20, 30, 128, 40, 50, 60, 255], 4),
        (1, vec![20, 40, 60, 128, 40, 50, 60, 255], 4),
    ] {
        let mut four = small(vec![vec![10, 20, 30, 128, 40, 50, 60, 255]]);
        four.samples = 4;
        let extra = [extra];
        four.extra = &extra;
        made(&path, &four);
        let read = open(&path, &limits()).unwrap();
        assert_eq!(read.samples.channels, channels);
        assert_eq!(read.samples.numbers, Numbers::U8(pixels));
    }

    // Grey with coverage, and grey with something else beside it.
    for (extra, pixels) in [(2_u16, vec![9, 8, 7, 6]), (0, vec![9, 7])] {
        let mut two = small(vec![vec![9, 8, 7, 6]]);
        let extra = [extra];
        (two.samples, two.photometric, two.extra) = (2, 1, &extra);
        made(&path, &two);
        let read = open(&path, &limits()).unwrap();
        assert_eq!(read.samples.numbers, Numbers::U8(pixels));
    }

    // Orientation 6: the stored row becomes the upright column.
    let mut turned = small(vec![vec![1, 2, 3, 4, 5, 6]]);
    turned.orientation = 6;
    made(&path, &turned);
    let read = open(&path, &limits()).unwrap();
    assert_eq!(read.samples.size, Size::new(1, 2));
    assert_eq!(read.info.orientation, 6);
    assert_eq!(describe(&path, &limits()).unwrap(), read.info);

    // Zero is white: the codes are turned over.
    let mut white = plain(vec![vec![0; 360]]);
    white.photometric = 0;
    made(&path, &white);
    let read = open(&path, &limits()).unwrap();
    assert_eq!(read.samples.numbers, Numbers::U8(vec![255; 360]));
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

/// One small valid file of each format.
fn samples_of_all(folder: &TempDir) -> Vec<(String, Vec<u8>)> {
    let noise: Vec<u16> = (0..64 * 70 * 3_u32)
        .map(|i| u16::try_from(i * 40_503 % 65_521).unwrap())
        .collect();
    let size = Size::new(64, 70);
    let mut files = Vec::new();
    for ending in ["tif", "png", "jpg", "exr"] {
        let path = folder.path().join(format!("whole.{ending}"));
        let (bits, pixels) = match ending {
            "jpg" => (
                8,
                Pixels::U8 {
                    channels: 3,
                    data: noise.iter().map(|c| c.to_le_bytes()[0]).collect(),
                },
            ),
            "exr" => (
                16,
                Pixels::F32 {
                    channels: 3,
                    data: noise.iter().map(|c| f32::from(*c) / 65_536.0).collect(),
                },
            ),
            _ => (
                16,
                Pixels::U16 {
                    channels: 3,
                    data: noise.clone(),
                },
            ),
        };
        write(
            &path,
            &Picture { size, pixels },
            &WriteOptions::new(bits, OutputColour::Srgb),
        )
        .unwrap();
        files.push((ending.to_owned(), std::fs::read(&path).unwrap()));
    }
    files
}

#[test]
fn files_cut_short_at_any_place_are_errors() {
    let folder = tempdir().unwrap();
    for (ending, bytes) in samples_of_all(&folder) {
        let step = (bytes.len() / 60).max(1);
        for end in (0..bytes.len())
            .step_by(step)
            .chain([bytes.len() - 1, bytes.len() - 2])
        {
            let path = kept(&folder, &format!("cut.{ending}"), &bytes[..end]);
            let outcome = open(&path, &limits());
            assert!(outcome.is_err(), "{ending} cut at {end} of {}", bytes.len());
        }
        let path = kept(
            &folder,
            &format!("cut.{ending}"),
            &bytes[..bytes.len() * 2 / 3],
        );
        let error = open(&path, &limits()).unwrap_err();
        assert!(matches!(error, FileError::Damaged { .. }), "{error}");
        assert!(
            error.to_string().contains("cut."),
            "names the file: {error}"
        );
    }
}

#[test]
fn empty_text_folder_missing_and_absurd_files_are_told_apart() {
    let folder = tempdir().unwrap();
    let fails = |path: &Path| {
        let error = open(path, &limits()).unwrap_err();
        assert_eq!(
            describe(path, &limits()).unwrap_err().to_string(),
            error.to_string()
        );
        error
    };
    assert!(matches!(
        fails(&kept(&folder, "a.tif", b"")),
        FileError::Damaged { .. }
    ));
    assert!(matches!(
        fails(&kept(&folder, "b.tif", b"Dear reader, this is text.")),
        FileError::NotSupported { .. }
    ));
    assert!(matches!(fails(folder.path()), FileError::Parameter { .. }));
    assert!(matches!(
        fails(&folder.path().join("c.tif")),
        FileError::NotFound { .. }
    ));

    // Headers that promise far more than any machine holds.
    let path = folder.path().join("d.tif");
    made(
        &path,
        &Made {
            size: (2_000_000_000, 2_000_000_000),
            samples: 3,
            photometric: 2,
            planar: 1,
            extra: &[],
            tile: None,
            orientation: 1,
            chunks: vec![vec![0; 30]],
        },
    );
    assert!(matches!(fails(&path), FileError::TooLarge { .. }));
    let mut png = Vec::new();
    let mut encoder = png::Encoder::new(&mut png, 1_000_000, 1_000_000);
    encoder.set_color(png::ColorType::Rgb);
    drop(encoder.write_header().unwrap());
    let error = fails(&kept(&folder, "e.png", &png));
    assert!(
        matches!(
            error,
            FileError::TooLarge { .. } | FileError::Damaged { .. }
        ),
        "{error}"
    );
    // A small limit is kept too.
    let (_, bytes) = samples_of_all(&folder).remove(0);
    let few = Limits {
        pixels: 1000,
        bytes: 1 << 30,
    };
    let error = open(&kept(&folder, "f.tif", &bytes), &few).unwrap_err();
    assert!(matches!(error, FileError::TooLarge { .. }), "{error}");
}

#[test]
fn jpeg_for_print_is_refused_clearly() {
    let folder = tempdir().unwrap();
    let mut jpeg = Vec::new();
    jpeg_encoder::Encoder::new(&mut jpeg, 90)
        .encode(&[99; 8 * 8 * 4], 8, 8, jpeg_encoder::ColorType::Cmyk)
        .unwrap();
    let error = open(&kept(&folder, "a.jpg", &jpeg), &limits()).unwrap_err();
    assert!(matches!(error, FileError::NotSupported { .. }), "{error}");
    assert!(error.to_string().contains("print"), "{error}");
}

#[test]
fn a_refused_write_leaves_the_old_file() {
    let folder = tempdir().unwrap();
    let path = kept(&folder, "a.jpg", b"old");
    let options = WriteOptions::new(8, OutputColour::Srgb);
    let error = write(&path, &codes8(4), &options).unwrap_err();
    assert!(matches!(error, FileError::Parameter { .. }), "{error}");
    assert_eq!(std::fs::read(&path).unwrap(), b"old");
    assert!(OutputFormat::of_path(Path::new("a.bmp")).is_err());
    assert_eq!(
        OutputFormat::of_path(Path::new("A.TIFF")).unwrap(),
        OutputFormat::Tiff
    );
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 160, failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever the bytes, there is an answer: a photo whose numbers fit its size, or one error that names the file.
    #[test]
    fn damaged_files_never_panic(
        format in 0_usize..4,
        places in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..12),
        front in any::<bool>(),
    ) {
        let folder = tempdir().unwrap();
        let (ending, mut bytes) = samples_of_all(&folder).swap_remove(format);
        let reach = if front { bytes.len().min(600) } else { bytes.len() };
        for (place, byte) in places {
            let at = place.index(reach);
            bytes[at] = byte;
        }
        let path = kept(&folder, &format!("hurt.{ending}"), &bytes);
        let few = Limits { pixels: 10_000_000, bytes: 256 << 20 };
        match open(&path, &few) {
            Ok(photo) => {
                let count = match &photo.samples.numbers {
                    Numbers::U8(numbers) => numbers.len(),
                    Numbers::U16(numbers) => numbers.len(),
                    Numbers::F32(numbers) => numbers.len(),
                };
                let wanted = photo.samples.size.area() * photo.samples.channels as u64;
                prop_assert_eq!(count as u64, wanted);
            }
            Err(error) => prop_assert!(error.to_string().contains("hurt.")),
        }
        let _info = describe(&path, &few);
    }

    #[test]
    fn random_bytes_after_a_true_mark_never_panic(
        format in 0_usize..4,
        noise in prop::collection::vec(any::<u8>(), 0..300),
    ) {
        let marks: [&[u8]; 4] = [b"II*\0\x08\0\0\0", b"\x89PNG\r\n\x1a\n", &[0xff, 0xd8, 0xff], &[0x76, 0x2f, 0x31, 1, 2, 0, 0, 0]];
        let folder = tempdir().unwrap();
        let bytes = [marks[format], &noise].concat();
        let path = kept(&folder, "noise", &bytes);
        prop_assert!(open(&path, &limits()).is_err());
    }
}
