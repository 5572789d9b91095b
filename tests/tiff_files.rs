//! TIFF in all its arrangements: compressions, both sizes of offsets, tiles, planes, extra channels, orientation, tags.
#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    clippy::too_many_lines,
    reason = "checks make and break files on purpose and walk long tables"
)]

use platebench::files::Limits;
use platebench::files::photo::{describe, open};
use platebench::geometry::Size;
use platebench::pixels::{ColourEncoding, Numbers};
use std::fs::File;
use std::io::BufWriter;
use std::path::Path;
use tempfile::tempdir;
use tiff::encoder::{Compression, DeflateLevel, Predictor, TiffEncoder, colortype};
use tiff::tags::Tag;

fn limits() -> Limits {
    Limits::default()
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

#[test]
fn camera_tags_are_read_from_tiff_directories() {
    let folder = tempdir().unwrap();
    let path = folder.path().join("a.tif");
    let mut encoder = TiffEncoder::new(File::create(&path).unwrap()).unwrap();
    let mut exif = encoder.extra_directory().unwrap();
    let rational = |n, d| tiff::encoder::Rational { n, d };
    exif.write_tag(Tag::from_u16_exhaustive(33434), rational(1, 8))
        .unwrap();
    exif.write_tag(Tag::from_u16_exhaustive(36867), "2026:01:02 03:04:05")
        .unwrap();
    let place = exif.finish_with_offsets().unwrap().offset;
    let mut image = encoder.new_image::<colortype::Gray8>(2, 2).unwrap();
    image
        .encoder()
        .write_tag(Tag::ExifDirectory, place)
        .unwrap();
    image.encoder().write_tag(Tag::Model, "Box 2").unwrap();
    image.write_data(&[1, 2, 3, 4]).unwrap();
    let info = describe(&path, &limits()).unwrap();
    assert_eq!(info.camera.exposure_s, Some(0.125));
    assert_eq!(
        info.camera.taken.as_deref(),
        Some("2026-01-02T03:04:05.000")
    );
    assert_eq!(info.camera.model.as_deref(), Some("Box 2"));
}
