//! TIFF through the library's directory writer: strips of 64 rows, compressed here and in parallel. The library's own
//! strip writer says "compressed" but does not compress (tiff 0.11.3), so it is not used.

use super::{Effort, Job, Pixels, profile};
use crate::files::FileError;
use crate::files::atomic_write::Sink;
use crate::pixels::convert;
use flate2::{Compression, write::ZlibEncoder};
use rayon::prelude::*;
use std::io::Write;
use tiff::encoder::{DirectoryEncoder, Rational, TiffEncoder, TiffKind};
use tiff::tags::Tag;

const STRIP_ROWS: usize = 64;
/// Classic TIFF counts its bytes in 32 bits; beyond this `BigTIFF` is written, with room left for the tags.
const CLASSIC_LIMIT: u64 = 3_900_000_000;
/// This many strips are compressed at once, so that memory stays small.
const STRIPS_AT_ONCE: usize = 16;

pub(super) fn write(job: &Job<'_>, sink: &mut dyn Sink) -> Result<(), FileError> {
    write_kind(job, sink, CLASSIC_LIMIT)
}

fn write_kind(job: &Job<'_>, sink: &mut dyn Sink, limit: u64) -> Result<(), FileError> {
    let form = Form::of(job);
    let told = |error: &tiff::TiffError| told(job, error);
    // Deflate can grow incompressible data by a few bytes in a thousand.
    let estimate = form.row_bytes as u64 * u64::from(job.picture.size.height) * 101 / 100;
    if estimate > limit {
        let mut encoder = TiffEncoder::new_big(sink).map_err(|error| told(&error))?;
        let directory = encoder.image_directory().map_err(|error| told(&error))?;
        fill(job, &form, directory)
    } else {
        let mut encoder = TiffEncoder::new(sink).map_err(|error| told(&error))?;
        let directory = encoder.image_directory().map_err(|error| told(&error))?;
        fill(job, &form, directory)
    }
}

fn told(job: &Job<'_>, error: &tiff::TiffError) -> FileError {
    match error {
        tiff::TiffError::IoError(error) => job.disc(error),
        tiff::TiffError::FormatError(_)
        | tiff::TiffError::UnsupportedError(_)
        | tiff::TiffError::LimitsExceeded
        | tiff::TiffError::IntSizeError
        | tiff::TiffError::UsageError(_) => job.encoder(error),
    }
}

/// How the picture is laid down.
struct Form {
    channels: usize,
    row_numbers: usize,
    row_bytes: usize,
    bits: u16,
    floating: bool,
    deflate: bool,
    predictor: bool,
}

impl Form {
    fn of(job: &Job<'_>) -> Self {
        let channels = job.picture.pixels.channels();
        let bits: u16 = match job.options.bits {
            8 => 8,
            16 => 16,
            _ => 32,
        };
        let floating = matches!(job.picture.pixels, Pixels::F32 { .. });
        let row_numbers = job.picture.size.width as usize * channels;
        let deflate = job.options.effort == Effort::Balanced;
        Self {
            channels,
            row_numbers,
            row_bytes: row_numbers * usize::from(bits / 8),
            bits,
            floating,
            deflate,
            predictor: deflate && !floating,
        }
    }
}

fn fill<W: Write + std::io::Seek, K: TiffKind>(
    job: &Job<'_>,
    form: &Form,
    mut directory: DirectoryEncoder<'_, W, K>,
) -> Result<(), FileError> {
    let told = |error: &tiff::TiffError| told(job, error);
    let height = job.picture.size.height as usize;
    let strips: Vec<usize> = (0..height.div_ceil(STRIP_ROWS)).collect();
    let mut offsets: Vec<u64> = Vec::new();
    let mut lengths: Vec<u64> = Vec::new();
    for group in strips.chunks(STRIPS_AT_ONCE) {
        let packed: Vec<std::io::Result<Vec<u8>>> = group
            .par_iter()
            .map(|strip| {
                let rows = strip * STRIP_ROWS..height.min((strip + 1) * STRIP_ROWS);
                pack(strip_bytes(job, form, rows), form)
            })
            .collect();
        for strip in packed {
            let strip = strip.map_err(|error| job.disc(&error))?;
            lengths.push(strip.len() as u64);
            offsets.push(
                directory
                    .write_data(strip.as_slice())
                    .map_err(|error| told(&error))?,
            );
        }
    }
    tags(job, form, &mut directory).map_err(|error| told(&error))?;
    let offsets: Vec<K::OffsetType> = offsets
        .into_iter()
        .map(K::convert_offset)
        .collect::<Result<_, _>>()
        .map_err(|error| told(&error))?;
    let lengths: Vec<K::OffsetType> = lengths
        .into_iter()
        .map(K::convert_offset)
        .collect::<Result<_, _>>()
        .map_err(|error| told(&error))?;
    directory
        .write_tag(Tag::StripOffsets, K::convert_slice(&offsets))
        .map_err(|error| told(&error))?;
    directory
        .write_tag(Tag::StripByteCounts, K::convert_slice(&lengths))
        .map_err(|error| told(&error))?;
    directory.finish().map_err(|error| told(&error))
}

/// The tags that describe the picture: TIFF 6.0, sections 4 to 6, 14, 18 and 19; the profile after ICC.1:2022, annex B.
fn tags<W: Write + std::io::Seek, K: TiffKind>(
    job: &Job<'_>,
    form: &Form,
    directory: &mut DirectoryEncoder<'_, W, K>,
) -> tiff::TiffResult<()> {
    let size = job.picture.size;
    let short = |value: usize| u16::try_from(value).unwrap_or(u16::MAX);
    directory.write_tag(Tag::NewSubfileType, 0_u32)?;
    directory.write_tag(Tag::ImageWidth, size.width)?;
    directory.write_tag(Tag::ImageLength, size.height)?;
    directory.write_tag(
        Tag::BitsPerSample,
        vec![form.bits; form.channels].as_slice(),
    )?;
    directory.write_tag(Tag::Compression, if form.deflate { 8_u16 } else { 1 })?;
    let photometric = if form.channels == 1 { 1_u16 } else { 2 };
    directory.write_tag(Tag::PhotometricInterpretation, photometric)?;
    directory.write_tag(Tag::Orientation, 1_u16)?;
    directory.write_tag(Tag::SamplesPerPixel, short(form.channels))?;
    directory.write_tag(Tag::RowsPerStrip, 64_u32)?;
    directory.write_tag(Tag::PlanarConfiguration, 1_u16)?;
    let format = if form.floating { 3_u16 } else { 1 };
    directory.write_tag(Tag::SampleFormat, vec![format; form.channels].as_slice())?;
    if form.predictor {
        directory.write_tag(Tag::Predictor, 2_u16)?;
    }
    if form.channels == 4 {
        directory.write_tag(Tag::ExtraSamples, [2_u16].as_slice())?;
    }
    let hundredths = convert::floor_index(job.options.pixels_per_inch * 100.0 + 0.5);
    let resolution = || Rational {
        n: u32::try_from(hundredths).unwrap_or(30_000),
        d: 100,
    };
    directory.write_tag(Tag::XResolution, resolution())?;
    directory.write_tag(Tag::YResolution, resolution())?;
    directory.write_tag(Tag::ResolutionUnit, 2_u16)?;
    if !job.options.software.is_empty() {
        directory.write_tag(Tag::Software, plain(&job.options.software).as_str())?;
    }
    if !job.options.description.is_empty() {
        directory.write_tag(
            Tag::ImageDescription,
            plain(&job.options.description).as_str(),
        )?;
    }
    if let Some(profile) = profile::icc(job.options.colour, form.channels) {
        // The profile is of type UNDEFINED (7), not bytes.
        directory.write_tag(Tag::IccProfile, Undefined(&profile))?;
    }
    Ok(())
}

/// The tag type is ASCII (TIFF 6.0, section 2); other letters become question marks.
fn plain(text: &str) -> String {
    text.chars()
        .map(|c| if c.is_ascii() && c != '\0' { c } else { '?' })
        .collect()
}

struct Undefined<'a>(&'a [u8]);

impl tiff::encoder::TiffValue for Undefined<'_> {
    const BYTE_LEN: u8 = 1;
    const FIELD_TYPE: tiff::tags::Type = tiff::tags::Type::UNDEFINED;

    fn count(&self) -> usize {
        self.0.len()
    }

    fn data(&self) -> std::borrow::Cow<'_, [u8]> {
        std::borrow::Cow::Borrowed(self.0)
    }
}

/// The numbers of some rows as the file holds them, in this machine's byte order, which the header names.
fn strip_bytes(job: &Job<'_>, form: &Form, rows: std::ops::Range<usize>) -> Vec<u8> {
    let part = rows.start * form.row_numbers..rows.end * form.row_numbers;
    match &job.picture.pixels {
        Pixels::U8 { data, .. } => {
            let mut numbers = data[part].to_vec();
            if form.predictor {
                for row in numbers.chunks_exact_mut(form.row_numbers) {
                    differences(row, form.channels, u8::wrapping_sub);
                }
            }
            numbers
        }
        Pixels::U16 { data, .. } => {
            let mut numbers = data[part].to_vec();
            if form.predictor {
                for row in numbers.chunks_exact_mut(form.row_numbers) {
                    differences(row, form.channels, u16::wrapping_sub);
                }
            }
            bytemuck::cast_slice(&numbers).to_vec()
        }
        Pixels::F32 { data, .. } if form.bits == 16 => data[part]
            .iter()
            .flat_map(|value| half::f16::from_f32(*value).to_ne_bytes())
            .collect(),
        Pixels::F32 { data, .. } => bytemuck::cast_slice(&data[part]).to_vec(),
    }
}

/// Horizontal differencing (TIFF 6.0, section 14): every number less its left neighbour's of the same channel.
fn differences<T: Copy>(row: &mut [T], channels: usize, minus: fn(T, T) -> T) {
    for place in (channels..row.len()).rev() {
        row[place] = minus(row[place], row[place - channels]);
    }
}

fn pack(bytes: Vec<u8>, form: &Form) -> std::io::Result<Vec<u8>> {
    if !form.deflate {
        return Ok(bytes);
    }
    let room = bytes.len() / 2 + 64;
    let mut encoder = ZlibEncoder::new(Vec::with_capacity(room), Compression::new(6));
    encoder.write_all(&bytes)?;
    encoder.finish()
}

#[cfg(test)]
mod tests {
    use super::super::{OutputColour, Picture, WriteOptions};
    use super::*;
    use crate::files::{Limits, photo};
    use crate::geometry::Size;
    use crate::pixels::Numbers;
    use std::path::Path;

    #[test]
    fn big_tiff_is_read_back() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.tif");
        let data: Vec<u16> = (0..130 * 7 * 3_u16).collect();
        let picture = Picture {
            size: Size::new(7, 130),
            pixels: Pixels::U16 {
                channels: 3,
                data: data.clone(),
            },
        };
        let options = WriteOptions::new(16, OutputColour::Srgb);
        let job = Job {
            path: Path::new("a.tif"),
            picture: &picture,
            options: &options,
        };
        let mut bytes = std::io::Cursor::new(Vec::new());
        write_kind(&job, &mut bytes, 0).unwrap();
        let bytes = bytes.into_inner();
        // BigTIFF's version number is 43.
        assert!(bytes[2] == 43 || bytes[3] == 43);
        std::fs::write(&path, bytes).unwrap();
        let read = photo::open(&path, &Limits::default()).unwrap();
        assert_eq!(read.samples.numbers, Numbers::U16(data));
    }
}
