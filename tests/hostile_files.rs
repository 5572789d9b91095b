//! Hostile picture files: cut short, damaged, absurd, or no pictures at all. Each gives one error that names the file,
//! or a photo whose numbers fit its size, and nothing else.
#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    clippy::too_many_lines,
    reason = "checks make and break files on purpose and walk long tables"
)]

use platebench::files::output::{OutputColour, OutputFormat, Picture, Pixels, WriteOptions, write};
use platebench::files::photo::{describe, open};
use platebench::files::{FileError, Limits};
use platebench::geometry::Size;
use platebench::pixels::Numbers;
use proptest::prelude::*;
use std::fs::File;
use std::path::{Path, PathBuf};
use tempfile::{TempDir, tempdir};
use tiff::encoder::TiffEncoder;
use tiff::tags::Tag;

fn limits() -> Limits {
    Limits::default()
}

fn kept(folder: &TempDir, name: &str, bytes: &[u8]) -> PathBuf {
    let path = folder.path().join(name);
    std::fs::write(&path, bytes).unwrap();
    path
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
    let mut encoder = TiffEncoder::new(File::create(&path).unwrap()).unwrap();
    let mut directory = encoder.image_directory().unwrap();
    let offset = directory.write_data([0_u8; 30].as_slice()).unwrap();
    for (tag, value) in [
        (Tag::ImageWidth, 2_000_000_000_u32),
        (Tag::ImageLength, 2_000_000_000),
        (Tag::BitsPerSample, 8),
        (Tag::Compression, 1),
        (Tag::PhotometricInterpretation, 1),
        (Tag::SamplesPerPixel, 1),
        (Tag::RowsPerStrip, 2_000_000_000),
        (Tag::StripOffsets, u32::try_from(offset).unwrap()),
        (Tag::StripByteCounts, 30),
    ] {
        directory.write_tag(tag, value).unwrap();
    }
    directory.finish().unwrap();
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
    // Within the limits, but more than the few bytes can hold.
    let mut png = Vec::new();
    drop(
        png::Encoder::new(&mut png, 10_000, 10_000)
            .write_header()
            .unwrap(),
    );
    let error = fails(&kept(&folder, "g.png", &png));
    assert!(matches!(error, FileError::Damaged { .. }), "{error}");
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
    let picture = Picture {
        size: Size::new(1, 1),
        pixels: Pixels::U8 {
            channels: 4,
            data: vec![1; 4],
        },
    };
    let options = WriteOptions::new(8, OutputColour::Srgb);
    let error = write(&path, &picture, &options).unwrap_err();
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
