//! PNG (W3C, third edition) with an embedded profile, resolution and text.

use super::{Effort, Job, Pixels, profile};
use crate::files::FileError;
use crate::files::atomic_write::Sink;
use crate::pixels::convert;
use png::{BitDepth, ColorType, Compression, Encoder, EncodingError, Info, PixelDimensions, Unit};
use std::borrow::Cow;
use std::io::Write;

/// Rows handed over at once while turning 16-bit numbers into the file's byte order.
const ROWS_AT_ONCE: usize = 64;

pub(super) fn write(job: &Job<'_>, sink: &mut dyn Sink) -> Result<(), FileError> {
    encode(job, sink).map_err(|error| match error {
        EncodingError::IoError(error) => job.disc(&error),
        EncodingError::Format(_) | EncodingError::Parameter(_) | EncodingError::LimitsExceeded => {
            job.encoder(&error)
        }
    })
}

fn encode(job: &Job<'_>, sink: &mut dyn Sink) -> Result<(), EncodingError> {
    let size = job.picture.size;
    let channels = job.picture.pixels.channels();
    let mut info = Info::with_size(size.width, size.height);
    info.color_type = match channels {
        1 => ColorType::Grayscale,
        3 => ColorType::Rgb,
        _ => ColorType::Rgba,
    };
    info.bit_depth = if job.options.bits == 16 {
        BitDepth::Sixteen
    } else {
        BitDepth::Eight
    };
    info.icc_profile = profile::icc(job.options.colour, channels).map(Cow::Owned);
    let per_metre = convert::floor_index(job.options.pixels_per_inch / 0.0254 + 0.5);
    let per_metre = u32::try_from(per_metre).unwrap_or(11_811);
    info.pixel_dims = Some(PixelDimensions {
        xppu: per_metre,
        yppu: per_metre,
        unit: Unit::Meter,
    });
    let mut encoder = Encoder::with_info(sink, info)?;
    encoder.set_compression(match job.options.effort {
        Effort::Quick => Compression::Fast,
        Effort::Balanced => Compression::Balanced,
    });
    for (key, text) in [
        ("Software", &job.options.software),
        ("Description", &job.options.description),
    ] {
        if !text.is_empty() {
            encoder.add_itxt_chunk(key.to_owned(), text.clone())?;
        }
    }
    let mut writer = encoder.write_header()?;
    let mut rows = writer.stream_writer()?;
    match &job.picture.pixels {
        Pixels::U8 { data, .. } => rows.write_all(data)?,
        Pixels::U16 { data, .. } => {
            for part in data.chunks(size.width as usize * channels * ROWS_AT_ONCE) {
                // The file holds the high byte first.
                let bytes: Vec<u8> = part.iter().flat_map(|code| code.to_be_bytes()).collect();
                rows.write_all(&bytes)?;
            }
        }
        Pixels::F32 { .. } => {
            return Err(std::io::Error::other("PNG holds no floating point numbers").into());
        }
    }
    rows.finish()?;
    writer.finish()
}
