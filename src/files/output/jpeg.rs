//! JPEG (ITU-T T.81), grey or 4:4:4 colour, with an embedded profile and a small Exif block.

use super::{Job, Pixels, profile};
use crate::files::FileError;
use crate::files::atomic_write::Sink;
use crate::pixels::convert;
use exif::experimental::Writer;
use exif::{Field, In, Tag, Value};
use jpeg_encoder::{ColorType, Encoder, EncodingError, PixelDensity, SamplingFactor};

pub(super) fn write(job: &Job<'_>, sink: &mut dyn Sink) -> Result<(), FileError> {
    encode(job, sink).map_err(|error| {
        if let EncodingError::IoError(error) = &error {
            job.disc(error)
        } else {
            job.encoder(&error)
        }
    })
}

fn encode(job: &Job<'_>, sink: &mut dyn Sink) -> Result<(), EncodingError> {
    let Pixels::U8 { channels, data } = &job.picture.pixels else {
        return Err(EncodingError::Write("a JPEG holds 8-bit codes".to_owned()));
    };
    let mut encoder = Encoder::new(sink, job.options.jpeg_quality);
    encoder.set_sampling_factor(SamplingFactor::F_1_1);
    encoder.set_optimized_huffman_tables(true);
    let density = convert::floor_index(job.options.pixels_per_inch + 0.5);
    encoder.set_density(PixelDensity::dpi(
        u16::try_from(density).unwrap_or(u16::MAX),
    ));
    if let Some(block) = exif_block(job) {
        encoder.add_exif_metadata(&block)?;
    }
    if let Some(profile) = profile::icc(job.options.colour, *channels) {
        encoder.add_icc_profile(&profile)?;
    }
    let side = |value: u32| u16::try_from(value).unwrap_or(u16::MAX);
    let colour = if *channels == 1 {
        ColorType::Luma
    } else {
        ColorType::Rgb
    };
    encoder.encode(
        data,
        side(job.picture.size.width),
        side(job.picture.size.height),
        colour,
    )
}

/// Software and description as an Exif block (Exif 3.0, tags 305 and 270).
fn exif_block(job: &Job<'_>) -> Option<Vec<u8>> {
    let field = |tag, text: &str| Field {
        tag,
        ifd_num: In::PRIMARY,
        value: Value::Ascii(vec![text.bytes().filter(|byte| *byte != 0).collect()]),
    };
    let mut fields = vec![Field {
        tag: Tag::Orientation,
        ifd_num: In::PRIMARY,
        value: Value::Short(vec![1]),
    }];
    if !job.options.software.is_empty() {
        fields.push(field(Tag::Software, &job.options.software));
    }
    if !job.options.description.is_empty() {
        fields.push(field(Tag::ImageDescription, &job.options.description));
    }
    let mut writer = Writer::new();
    fields.iter().for_each(|field| writer.push_field(field));
    let mut block = std::io::Cursor::new(Vec::new());
    writer.write(&mut block, true).ok()?;
    Some(block.into_inner())
}
