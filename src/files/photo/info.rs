//! What a photo's metadata says: format, size, camera settings, time. Tags and units after Exif 3.0 (CIPA DC-008).

use crate::geometry::Size;
use crate::pixels::ColourEncoding;
use std::collections::BTreeMap;

/// A picture format that is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PhotoFormat {
    /// JPEG (ITU-T T.81), 8 bits.
    Jpeg,
    /// TIFF 6.0 or `BigTIFF`.
    Tiff,
    /// PNG, third edition.
    Png,
    /// OpenEXR.
    OpenExr,
}

impl PhotoFormat {
    /// The format by the first bytes of the file.
    #[must_use]
    pub fn of_content(start: &[u8]) -> Option<Self> {
        const TIFF: [&[u8]; 4] = [b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"];
        if start.starts_with(&[0xff, 0xd8, 0xff]) {
            Some(Self::Jpeg)
        } else if start.starts_with(b"\x89PNG\r\n\x1a\n") {
            Some(Self::Png)
        } else if start.starts_with(&[0x76, 0x2f, 0x31, 0x01]) {
            Some(Self::OpenExr)
        } else if TIFF.iter().any(|mark| start.starts_with(mark)) {
            Some(Self::Tiff)
        } else {
            None
        }
    }

    /// The format's name for people.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Jpeg => "JPEG",
            Self::Tiff => "TIFF",
            Self::Png => "PNG",
            Self::OpenExr => "OpenEXR",
        }
    }
}

/// What a photo's header and metadata say.
#[derive(Debug, Clone, PartialEq)]
pub struct PhotoInfo {
    /// The file's format, by content.
    pub format: PhotoFormat,
    /// Width and height, upright.
    pub size: Size,
    /// Bits per number as stored: 8, 16 or 32 (64 where doubles were stored).
    pub bits: u32,
    /// Whether the stored numbers are floating point.
    pub floating: bool,
    /// Numbers per pixel that are read.
    pub channels: usize,
    /// The Exif orientation that was found, 1..=8; the samples are already turned.
    pub orientation: u8,
    /// The camera's settings.
    pub camera: CameraInfo,
    /// In words: which colour encoding was found, or what was taken for want of one.
    pub colour: String,
    /// Size of the file in bytes.
    pub bytes_on_disc: u64,
    /// Pixels per inch, where the file says.
    pub resolution: Option<f64>,
}

/// What the camera wrote about itself and the shot.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct CameraInfo {
    /// Exposure time in seconds.
    pub exposure_s: Option<f64>,
    /// Aperture number.
    pub f_number: Option<f64>,
    /// ISO speed.
    pub iso: Option<f64>,
    /// Focal length in millimetres, as engraved.
    pub focal_mm: Option<f64>,
    /// Subject distance in millimetres; a hint only, cameras round it coarsely or leave it out.
    pub focus_distance_mm: Option<f64>,
    /// When the shot was taken, camera clock: `YYYY-MM-DDTHH:MM:SS.sss`.
    pub taken: Option<String>,
    /// Camera maker.
    pub make: Option<String>,
    /// Camera model.
    pub model: Option<String>,
    /// Lens.
    pub lens: Option<String>,
}

/// One metadata value, as far as it is used here.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum TagValue {
    Number(f64),
    Text(String),
}

/// Metadata by Exif tag number. The interoperability index stands under its own number, 1.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Tags(BTreeMap<u16, TagValue>);

/// The tags that are used, by number: Exif 3.0, tables of section 4.6.
pub(super) const USED: [u16; 18] = [
    INTEROPERABILITY,
    271,
    272,
    274,
    282,
    296,
    306,
    33434,
    33437,
    34855,
    36867,
    37382,
    37386,
    37521,
    40961,
    42035,
    42036,
    36880,
];
pub(super) const INTEROPERABILITY: u16 = 1;

impl Tags {
    pub(super) fn insert(&mut self, tag: u16, value: TagValue) {
        self.0.entry(tag).or_insert(value);
    }

    /// From a block of Exif data as it lies in JPEG and PNG files. A damaged block gives what could be read.
    pub(super) fn of_exif(block: &[u8]) -> Self {
        let block = block.strip_prefix(b"Exif\0\0").unwrap_or(block);
        let mut reader = exif::Reader::new();
        reader.continue_on_error(true);
        let mut tags = Self::default();
        let Ok(read) = reader
            .read_raw(block.to_vec())
            .or_else(|error| error.distill_partial_result(|_faults| ()))
        else {
            return tags;
        };
        for field in read.fields() {
            let number = field.tag.number();
            let context = field.tag.context();
            let in_place = if number == INTEROPERABILITY {
                context == exif::Context::Interop
            } else {
                context == exif::Context::Tiff || context == exif::Context::Exif
            };
            if field.ifd_num == exif::In::PRIMARY
                && in_place
                && USED.contains(&number)
                && let Some(value) = value_of(&field.value)
            {
                tags.insert(number, value);
            }
        }
        tags
    }

    fn number(&self, tag: u16) -> Option<f64> {
        match self.0.get(&tag) {
            Some(TagValue::Number(value)) if value.is_finite() => Some(*value),
            _ => None,
        }
    }

    fn positive(&self, tag: u16) -> Option<f64> {
        self.number(tag).filter(|value| *value > 0.0)
    }

    fn text(&self, tag: u16) -> Option<String> {
        match self.0.get(&tag) {
            Some(TagValue::Text(text)) => {
                let text: String = text
                    .trim_matches(|c: char| c.is_whitespace() || c == '\0')
                    .chars()
                    .filter(|c| !c.is_control())
                    .take(200)
                    .collect();
                (!text.is_empty()).then_some(text)
            }
            _ => None,
        }
    }

    /// Exif orientation, 1 where it is missing or out of range.
    pub(super) fn orientation(&self) -> u8 {
        (1..=8_u8)
            .find(|code| self.number(274) == Some(f64::from(*code)))
            .unwrap_or(1)
    }

    /// Pixels per inch; unit 3 means per centimetre.
    pub(super) fn resolution(&self) -> Option<f64> {
        let value = self.positive(282)?;
        match self.number(296) {
            Some(3.0) => Some(value * 2.54),
            Some(1.0) => None,
            _ => Some(value),
        }
    }

    /// What the Exif colour space tags say, if anything. 1 is sRGB; "R03" in the interoperability index is the
    /// optional colour space of the design rule for camera file systems (CIPA DC-009), primaries and gamma 563/256 of
    /// IEC 61966-2-5 (opRGB).
    pub(super) fn colour(&self) -> Option<(ColourEncoding, String)> {
        if self
            .text(INTEROPERABILITY)
            .is_some_and(|text| text.starts_with("R03"))
        {
            let gamma = crate::pixels::Curve::Gamma(2.199_218_75);
            let encoding = ColourEncoding::Primaries {
                curves: [gamma.clone(), gamma.clone(), gamma],
                xy: [[0.64, 0.33], [0.21, 0.71], [0.15, 0.06], [0.3127, 0.3290]],
            };
            return Some((encoding, "Exif says opRGB".to_owned()));
        }
        (self.number(40961) == Some(1.0))
            .then(|| (ColourEncoding::srgb(), "Exif says sRGB".to_owned()))
    }

    /// The camera's settings.
    pub(super) fn camera(&self) -> CameraInfo {
        let lens = match (self.text(42035), self.text(42036)) {
            (Some(make), Some(model)) if !model.starts_with(&make) => {
                Some(format!("{make} {model}"))
            }
            (make, model) => model.or(make),
        };
        CameraInfo {
            exposure_s: self.positive(33434),
            f_number: self.positive(33437),
            iso: self.positive(34855),
            focal_mm: self.positive(37386),
            // Exif writes 0xffffffff for infinity; nobody photographs models from ten kilometres.
            focus_distance_mm: self
                .positive(37382)
                .filter(|metres| *metres < 1.0e4)
                .map(|metres| metres * 1000.0),
            taken: self
                .text(36867)
                .or_else(|| self.text(306))
                .and_then(|text| iso_time(&text, self.text(37521).as_deref())),
            make: self.text(271),
            model: self.text(272),
            lens,
        }
    }
}

/// The first number or text of an Exif value.
fn value_of(value: &exif::Value) -> Option<TagValue> {
    if let exif::Value::Ascii(texts) = value {
        let first = texts.first()?;
        return Some(TagValue::Text(String::from_utf8_lossy(first).into_owned()));
    }
    if let exif::Value::Rational(numbers) = value {
        return Some(TagValue::Number(numbers.first()?.to_f64()));
    }
    if let exif::Value::SRational(numbers) = value {
        return Some(TagValue::Number(numbers.first()?.to_f64()));
    }
    value
        .get_uint(0)
        .map(|number| TagValue::Number(f64::from(number)))
}

/// `YYYY:MM:DD HH:MM:SS` and a decimal fraction, as `YYYY-MM-DDTHH:MM:SS.sss`. Cameras with an unset clock write
/// blanks or zeros: that is no time.
fn iso_time(text: &str, fraction: Option<&str>) -> Option<String> {
    let shape = "dddd:dd:dd dd:dd:dd";
    let fits = text.len() == shape.len()
        && text
            .bytes()
            .zip(shape.bytes())
            .all(|(found, wanted)| match wanted {
                b'd' => found.is_ascii_digit(),
                b':' => found == b':' || found == b'-',
                _ => found == wanted || found == b'T',
            });
    if !fits || text.starts_with("0000") {
        return None;
    }
    let mut thousandths: String = fraction
        .unwrap_or_default()
        .chars()
        .take_while(char::is_ascii_digit)
        .take(3)
        .collect();
    while thousandths.len() < 3 {
        thousandths.push('0');
    }
    let (date, time) = (text[..10].replace(':', "-"), text[11..].replace('-', ":"));
    Some(format!("{date}T{time}.{thousandths}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_written_the_iso_way_or_left_out() {
        assert_eq!(
            iso_time("2026:11:24 01:02:03", Some("5 ")).as_deref(),
            Some("2026-11-24T01:02:03.500")
        );
        assert_eq!(
            iso_time("2026:11:24 01:02:03", None).as_deref(),
            Some("2026-11-24T01:02:03.000")
        );
        assert_eq!(iso_time("0000:00:00 00:00:00", None), None);
        assert_eq!(iso_time("    :  :     :  :  ", None), None);
        assert_eq!(iso_time("2026:11:24 01:02:é", None), None);
    }

    #[test]
    fn damaged_blocks_give_nothing() {
        assert_eq!(Tags::of_exif(b"Exif\0\0II*\0garbage"), Tags::default());
        assert_eq!(Tags::of_exif(&[]), Tags::default());
    }
}
