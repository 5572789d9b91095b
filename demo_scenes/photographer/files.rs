//! Writes the photographs (JPEG with EXIF) and the truth's greys (PNG).

use exif::experimental::Writer;
use exif::{Field, In, Rational, Tag, Value};
use jpeg_encoder::{ColorType, Encoder, SamplingFactor};
use std::error::Error;
use std::path::Path;

/// What the camera writes beside the picture.
#[derive(Clone, Debug)]
pub(crate) struct Note {
    /// Exposure time, thousandths of a second.
    pub(crate) milliseconds: u32,
    /// f-number.
    pub(crate) stop: f32,
    /// Sensitivity.
    pub(crate) iso: u16,
    /// Focal length, mm.
    pub(crate) focal: f32,
    /// Focus distance, mm.
    pub(crate) focus: f32,
    /// Hundredths of a second since the start of the shooting day.
    pub(crate) clock: u64,
    /// Lens name.
    pub(crate) lens: &'static str,
}

/// Any failure of writing.
pub(crate) type Fail = Box<dyn Error + Send + Sync>;

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "small positive numbers"
)]
fn thousandths(x: f32) -> u32 {
    (x * 1000.0).round().max(0.0) as u32
}

fn block(n: &Note, size: (usize, usize)) -> Result<Vec<u8>, Fail> {
    let s = n.clock / 100;
    let when = format!(
        "2026:02:{:02} {:02}:{:02}:{:02}",
        14 + s / 86_400,
        s / 3600 % 24,
        s / 60 % 60,
        s % 60
    );
    let sub = format!("{:02}", n.clock % 100);
    let ascii = |tag, text: &str| (tag, Value::Ascii(vec![text.as_bytes().to_vec()]));
    let ratio = |tag, num: u32, denom: u32| (tag, Value::Rational(vec![Rational { num, denom }]));
    let time = if 1000 % n.milliseconds == 0 {
        (1, 1000 / n.milliseconds)
    } else {
        (n.milliseconds, 1000)
    };
    let (w, h) = (u32::try_from(size.0)?, u32::try_from(size.1)?);
    let list = [
        ascii(Tag::Make, "Halvard Works"),
        ascii(Tag::Model, "HW-24 bench camera"),
        ascii(Tag::Software, "HW-24 1.3"),
        (Tag::Orientation, Value::Short(vec![1])),
        ratio(Tag::ExposureTime, time.0, time.1),
        ratio(Tag::FNumber, thousandths(n.stop) / 100, 10),
        (Tag::PhotographicSensitivity, Value::Short(vec![n.iso])),
        (Tag::ExifVersion, Value::Undefined(b"0232".to_vec(), 0)),
        ascii(Tag::DateTimeOriginal, &when),
        ascii(Tag::SubSecTimeOriginal, &sub),
        ratio(Tag::SubjectDistance, thousandths(n.focus) / 10, 100_000),
        ratio(Tag::FocalLength, thousandths(n.focal) / 100, 10),
        (Tag::ColorSpace, Value::Short(vec![1])),
        (Tag::PixelXDimension, Value::Long(vec![w])),
        (Tag::PixelYDimension, Value::Long(vec![h])),
        ascii(Tag::LensModel, n.lens),
    ];
    let fields: Vec<Field> = list
        .into_iter()
        .map(|(tag, value)| Field {
            tag,
            ifd_num: In::PRIMARY,
            value,
        })
        .collect();
    let mut writer = Writer::new();
    for f in &fields {
        writer.push_field(f);
    }
    let mut buf = std::io::Cursor::new(Vec::new());
    writer.write(&mut buf, true)?;
    Ok(buf.into_inner())
}

/// Writes a JPEG.
pub(crate) fn jpeg(
    path: &Path,
    rgb: &[u8],
    size: (usize, usize),
    quality: u8,
    note: Option<&Note>,
) -> Result<(), Fail> {
    if let Some(dir) = path.parent() {
        std::fs::create_dir_all(dir)?;
    }
    let mut e = Encoder::new_file(path, quality)?;
    e.set_sampling_factor(if quality > 94 {
        SamplingFactor::R_4_4_4
    } else {
        SamplingFactor::R_4_2_2
    });
    e.set_optimized_huffman_tables(true);
    if let Some(n) = note {
        e.add_exif_metadata(&block(n, size)?)?;
    }
    e.encode(
        rgb,
        u16::try_from(size.0)?,
        u16::try_from(size.1)?,
        ColorType::Rgb,
    )?;
    Ok(())
}

/// Writes a PNG of 8-bit grey, 16-bit grey (big-endian bytes) or 8-bit colour.
pub(crate) fn png(
    path: &Path,
    data: &[u8],
    size: (usize, usize),
    kind: (png::ColorType, png::BitDepth),
) -> Result<(), Fail> {
    if let Some(dir) = path.parent() {
        std::fs::create_dir_all(dir)?;
    }
    let file = std::io::BufWriter::new(std::fs::File::create(path)?);
    let mut e = png::Encoder::new(file, u32::try_from(size.0)?, u32::try_from(size.1)?);
    e.set_color(kind.0);
    e.set_depth(kind.1);
    e.set_compression(png::Compression::High);
    e.write_header()?.write_image_data(data)?;
    Ok(())
}
