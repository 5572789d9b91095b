//! TIFF 6.0 and `BigTIFF`: 8 and 16 bit whole numbers, half, single and double floats; grey or colour; strips or tiles.

use super::info::{TagValue, Tags, USED};
use super::tiff_chunks::{self, Kind, Layout};
use super::{Decoded, Depth, PhotoFormat, PhotoInfo, Source, cut_short, decoding, icc, plausible};
use crate::files::FileError;
use std::fs::File;
use std::io::{BufReader, ErrorKind};
use tiff::decoder::ifd::Value;
use tiff::decoder::{Decoder, Limits};
use tiff::tags::Tag;
use tiff::{ColorType, TiffError};

/// A decoder on the file itself.
pub(super) type FileDecoder = Decoder<BufReader<File>>;

/// Profiles with tables and long descriptions exceed the library's one MiB.
const LARGEST_TAG: usize = 64 << 20;

pub(super) fn read(source: &Source<'_>, depth: Depth) -> Result<Decoded, FileError> {
    let mut decoder = decoder(source)?;
    let layout = layout(source, &mut decoder)?;
    let tags = tags(&mut decoder);
    let profile = decoder.get_tag_u8_vec(Tag::IccProfile).ok();
    let usual = if layout.kind.floating() {
        icc::plain_light()
    } else {
        icc::plain_codes()
    };
    let (encoding, colour) = icc::colour(profile.as_deref(), &tags, usual);
    let numbers = match depth {
        Depth::Header => None,
        Depth::Whole => Some(tiff_chunks::read(source, decoder, &layout)?),
    };
    Ok(Decoded {
        info: PhotoInfo {
            format: PhotoFormat::Tiff,
            size: layout.size,
            bits: layout.kind.bits(),
            floating: layout.kind.floating(),
            channels: layout.kept,
            orientation: tags.orientation(),
            camera: tags.camera(),
            colour,
            bytes_on_disc: source.bytes,
            resolution: tags.resolution(),
        },
        channels: layout.kept,
        encoding,
        numbers,
    })
}

/// A fresh decoder; several may read the same file at once.
pub(super) fn decoder(source: &Source<'_>) -> Result<FileDecoder, FileError> {
    let file = File::open(source.path).map_err(|error| FileError::reading(source.path, &error))?;
    let mut limits = Limits::default();
    limits.decoding_buffer_size = source.limits.bytes_usize();
    limits.intermediate_buffer_size = source.limits.bytes_usize();
    limits.ifd_value_size = LARGEST_TAG.min(source.limits.bytes_usize());
    Decoder::new(BufReader::new(file))
        .map(|decoder| decoder.with_limits(limits))
        .map_err(|error| told(source, &error))
}

/// What the library said, by whose fault it is.
#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "the system has dozens of kinds of errors"
)]
pub(super) fn told(source: &Source<'_>, error: &TiffError) -> FileError {
    match error {
        TiffError::IoError(error) => match error.kind() {
            ErrorKind::UnexpectedEof => cut_short(source.path),
            // The decompressors report bad data as an error of input.
            ErrorKind::InvalidData | ErrorKind::InvalidInput | ErrorKind::Other => {
                decoding(source.path, error)
            }
            _ => FileError::reading(source.path, error),
        },
        TiffError::UnsupportedError(error) => FileError::not_supported(
            source.path,
            format!("this kind of TIFF is not read ({error}); save it as 8 or 16 bit RGB."),
        ),
        TiffError::LimitsExceeded | TiffError::IntSizeError => FileError::too_large(
            source.path,
            "parts of it are larger than the memory limit allows; raise the limit or save it in smaller strips.",
        ),
        TiffError::FormatError(_) | TiffError::UsageError(_) => decoding(source.path, error),
    }
}

fn layout(source: &Source<'_>, decoder: &mut FileDecoder) -> Result<Layout, FileError> {
    let told = |error: &TiffError| told(source, error);
    let (width, height) = decoder.dimensions().map_err(|error| told(&error))?;
    let mut list = |tag| {
        decoder
            .find_tag_unsigned_vec::<u16>(tag)
            .map(Option::unwrap_or_default)
            .map_err(|error| told(&error))
    };
    let bits = list(Tag::BitsPerSample)?;
    let formats = list(Tag::SampleFormat)?;
    let extra = list(Tag::ExtraSamples)?;
    let samples = list(Tag::SamplesPerPixel)?.first().copied().unwrap_or(1);
    let photometric = list(Tag::PhotometricInterpretation)?.first().copied();
    let planar = list(Tag::PlanarConfiguration)?.first() == Some(&2);
    let kind = kind(source, &bits, &formats)?;
    let colours = match photometric {
        Some(0 | 1) => 1_usize,
        Some(2) => 3,
        _ => {
            return Err(FileError::not_supported(
                source.path,
                "this TIFF is neither grey nor RGB; save it as 8 or 16 bit RGB.",
            ));
        }
    };
    let samples = usize::from(samples);
    if samples < colours || samples > 64 {
        return Err(decoding(
            source.path,
            &"its number of channels makes no sense",
        ));
    }
    // ExtraSamples: 1 coverage that is multiplied in, 2 coverage that stands apart, 0 anything.
    let covered = samples > colours && matches!(extra.first(), Some(1 | 2));
    let kept = colours + usize::from(covered);
    let delivered = if planar {
        samples
    } else {
        delivered(source, decoder)?
    };
    if delivered < kept {
        return Err(decoding(
            source.path,
            &"its channels are not what its header says",
        ));
    }
    let bytes_per_pixel = (kept as u64).max(delivered as u64) * kind.bytes_in_memory();
    let size = source.limits.check(
        source.path,
        (u64::from(width), u64::from(height)),
        bytes_per_pixel,
    )?;
    plausible(source, size.area().saturating_mul(bytes_per_pixel))?;
    Ok(Layout {
        size,
        samples: delivered,
        kept,
        multiplied_in: covered && extra.first() == Some(&1),
        planar: planar && samples > 1,
        kind,
    })
}

/// Numbers per pixel that the decoder gives: it leaves out extra channels of RGB pictures by itself, but not of grey
/// ones.
#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "every other kind of colour is refused"
)]
fn delivered(source: &Source<'_>, decoder: &mut FileDecoder) -> Result<usize, FileError> {
    match decoder.colortype().map_err(|error| told(source, &error))? {
        ColorType::Gray(_) => Ok(1),
        ColorType::GrayA(_) => Ok(2),
        ColorType::RGB(_) => Ok(3),
        ColorType::RGBA(_) => Ok(4),
        ColorType::Multiband { num_samples, .. } => Ok(usize::from(num_samples)),
        _ => Err(FileError::not_supported(
            source.path,
            "this TIFF is neither grey nor RGB; save it as 8 or 16 bit RGB.",
        )),
    }
}

fn kind(source: &Source<'_>, bits: &[u16], formats: &[u16]) -> Result<Kind, FileError> {
    let depth = bits.first().copied().unwrap_or(1);
    let format = formats.first().copied().unwrap_or(1);
    let uniform = bits.iter().all(|b| *b == depth) && formats.iter().all(|f| *f == format);
    match (format, depth) {
        (1, 8) if uniform => Ok(Kind::U8),
        (1, 16) if uniform => Ok(Kind::U16),
        (3, 16) if uniform => Ok(Kind::F16),
        (3, 32) if uniform => Ok(Kind::F32),
        (3, 64) if uniform => Ok(Kind::F64),
        _ => Err(FileError::not_supported(
            source.path,
            format!(
                "this TIFF has {depth} bits per number in a form that is not read; save it with 8 or 16 bits."
            ),
        )),
    }
}

/// The used tags of the picture's directory and of its Exif directory. What can't be read is left out.
fn tags(decoder: &mut FileDecoder) -> Tags {
    let mut tags = Tags::default();
    for number in USED.into_iter().filter(|number| *number > 1) {
        let found = decoder.find_tag(Tag::from_u16_exhaustive(number));
        if let Some(value) = found.ok().flatten().and_then(value_of) {
            tags.insert(number, value);
        }
    }
    let pointer = decoder
        .find_tag(Tag::ExifDirectory)
        .ok()
        .flatten()
        .and_then(|value| value.into_ifd_pointer().ok());
    let Some(directory) = pointer.and_then(|pointer| decoder.read_directory(pointer).ok()) else {
        return tags;
    };
    let mut reader = decoder.read_directory_tags(&directory);
    for number in USED.into_iter().filter(|number| *number > 1) {
        let found = reader.find_tag(Tag::from_u16_exhaustive(number));
        if let Some(value) = found.ok().flatten().and_then(value_of) {
            tags.insert(number, value);
        }
    }
    tags
}

/// The first number or text.
fn value_of(value: Value) -> Option<TagValue> {
    let value = if let Value::List(values) = value {
        values.into_iter().next()?
    } else {
        value
    };
    if let Value::Ascii(text) = value {
        return Some(TagValue::Text(text));
    }
    if let Value::Rational(over, under) = value {
        return (under != 0).then(|| TagValue::Number(f64::from(over) / f64::from(under)));
    }
    if let Value::SRational(over, under) = value {
        return (under != 0).then(|| TagValue::Number(f64::from(over) / f64::from(under)));
    }
    if let Ok(number) = value.clone().into_u32() {
        return Some(TagValue::Number(f64::from(number)));
    }
    value.into_f64().ok().map(TagValue::Number)
}
