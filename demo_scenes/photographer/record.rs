//! Files: JPEG with its EXIF block, PNG maps.

use crate::num::index;
use exif::experimental::Writer;
use exif::{Field, In, Rational, Tag, Value};
use std::io;
use std::path::Path;

/// What the camera writes down about a frame.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Note {
    /// Exposure time as a fraction, s.
    pub(crate) exposure: (u32, u32),
    /// F-number.
    pub(crate) f_number: f32,
    /// Sensitivity.
    pub(crate) iso: u16,
    /// Focal length, mm.
    pub(crate) focal: f32,
    /// Focus distance, mm.
    pub(crate) focus: f32,
    /// Second of the day and hundredths.
    pub(crate) clock: (u32, u32),
    /// Day of the month.
    pub(crate) day: u32,
}

/// A picture's size as the encoders want it.
fn short_size(size: (usize, usize)) -> io::Result<(u16, u16)> {
    let conv = |n: usize| u16::try_from(n).map_err(io::Error::other);
    Ok((conv(size.0)?, conv(size.1)?))
}

fn text(s: &str) -> Value {
    Value::Ascii(vec![s.as_bytes().to_vec()])
}

fn ratio(x: f32, per: u32) -> Value {
    #[expect(clippy::cast_precision_loss, reason = "small denominators")]
    let num = u32::try_from(index((x * per as f32).round())).unwrap_or(0);
    Value::Rational(vec![Rational { num, denom: per }])
}

fn fields(size: (usize, usize), n: &Note) -> Vec<Field> {
    let (sec, hundredth) = n.clock;
    let when = format!(
        "2025:11:{:02} {:02}:{:02}:{:02}",
        n.day,
        sec / 3600,
        sec / 60 % 60,
        sec % 60
    );
    let long = |v: usize| Value::Long(vec![u32::try_from(v).unwrap_or(0)]);
    let list = [
        (Tag::Make, text("Halvard Works")),
        (Tag::Model, text("HW-24")),
        (Tag::Software, text("HW-24 body 1.3")),
        (Tag::Orientation, Value::Short(vec![1])),
        (Tag::DateTime, text(&when)),
        (Tag::DateTimeOriginal, text(&when)),
        (Tag::DateTimeDigitized, text(&when)),
        (Tag::SubSecTimeOriginal, text(&format!("{hundredth:02}"))),
        (
            Tag::ExposureTime,
            Value::Rational(vec![Rational {
                num: n.exposure.0,
                denom: n.exposure.1,
            }]),
        ),
        (Tag::FNumber, ratio(n.f_number, 10)),
        (Tag::PhotographicSensitivity, Value::Short(vec![n.iso])),
        (Tag::FocalLength, ratio(n.focal, 1)),
        (Tag::SubjectDistance, ratio(n.focus / 1000.0, 100_000)),
        (Tag::ExposureProgram, Value::Short(vec![1])),
        (Tag::WhiteBalance, Value::Short(vec![1])),
        (Tag::Flash, Value::Short(vec![0])),
        (Tag::ColorSpace, Value::Short(vec![1])),
        (Tag::PixelXDimension, long(size.0)),
        (Tag::PixelYDimension, long(size.1)),
        (Tag::LensMake, text("Halvard Works")),
        (Tag::LensModel, text("HW Tabletop 60 mm")),
    ];
    list.into_iter()
        .map(|(tag, value)| Field {
            tag,
            ifd_num: In::PRIMARY,
            value,
        })
        .collect()
}

/// Writes an sRGB JPEG; with a note it carries EXIF.
pub(crate) fn jpeg(
    path: &Path,
    size: (usize, usize),
    rgb: &[u8],
    quality: u8,
    note: Option<&Note>,
) -> io::Result<()> {
    let (w, h) = short_size(size)?;
    let mut e = jpeg_encoder::Encoder::new_file(path, quality).map_err(io::Error::other)?;
    let s = if quality > 94 {
        jpeg_encoder::SamplingFactor::F_1_1
    } else {
        jpeg_encoder::SamplingFactor::F_2_1
    };
    e.set_sampling_factor(s);
    e.set_optimized_huffman_tables(true);
    if let Some(n) = note {
        let list = fields(size, n);
        let mut writer = Writer::new();
        for f in &list {
            writer.push_field(f);
        }
        let mut block = io::Cursor::new(Vec::new());
        writer.write(&mut block, true).map_err(io::Error::other)?;
        e.add_exif_metadata(&block.into_inner())
            .map_err(io::Error::other)?;
    }
    e.encode(rgb, w, h, jpeg_encoder::ColorType::Rgb)
        .map_err(io::Error::other)
}

/// Writes a grey PNG of 8 or 16 bits (16-bit data big-endian).
pub(crate) fn grey_png(
    path: &Path,
    size: (usize, usize),
    data: &[u8],
    depth: png::BitDepth,
) -> io::Result<()> {
    let file = io::BufWriter::new(std::fs::File::create(path)?);
    let (w, h) = short_size(size)?;
    let mut e = png::Encoder::new(file, u32::from(w), u32::from(h));
    e.set_color(png::ColorType::Grayscale);
    e.set_depth(depth);
    e.set_compression(png::Compression::High);
    let mut w = e.write_header().map_err(io::Error::other)?;
    w.write_image_data(data).map_err(io::Error::other)?;
    w.finish().map_err(io::Error::other)
}
