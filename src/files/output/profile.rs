//! The colour profiles that are embedded in finished files, made on the spot by the profile library.

use crate::pixels::ColourEncoding;
use moxcms::{ColorProfile, DataColorSpace, LocalizableString, ProfileText, ToneReprCurve};

/// What the numbers of a finished file mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OutputColour {
    /// IEC 61966-2-1: BT.709 primaries and the sRGB curve.
    Srgb,
    /// SMPTE EG 432-1 primaries with D65 and the sRGB curve.
    DisplayP3,
    /// ITU-R BT.2020 primaries with the sRGB curve.
    Bt2020Srgb,
    /// Linear light, BT.709 primaries.
    LinearBt709,
    /// Linear light, BT.2020 primaries.
    LinearBt2020,
    /// Plain numbers (a mask, a depth map): no profile.
    Plain,
}

impl OutputColour {
    /// Chromaticities of red, green, blue and white; `None` for plain numbers.
    #[must_use]
    pub const fn xy(self) -> Option<[[f64; 2]; 4]> {
        match self {
            Self::Srgb | Self::LinearBt709 => Some(ColourEncoding::BT709_XY),
            // SMPTE EG 432-1.
            Self::DisplayP3 => Some([
                [0.680, 0.320],
                [0.265, 0.690],
                [0.150, 0.060],
                [0.3127, 0.3290],
            ]),
            Self::Bt2020Srgb | Self::LinearBt2020 => Some(ColourEncoding::BT2020_XY),
            Self::Plain => None,
        }
    }

    /// Whether the numbers are the light itself.
    #[must_use]
    pub const fn is_linear(self) -> bool {
        matches!(self, Self::LinearBt709 | Self::LinearBt2020)
    }

    const fn name(self) -> &'static str {
        match self {
            Self::Srgb => "sRGB",
            Self::DisplayP3 => "Display P3",
            Self::Bt2020Srgb => "BT.2020 primaries, sRGB curve",
            Self::LinearBt709 => "Linear light, BT.709 primaries",
            Self::LinearBt2020 => "Linear light, BT.2020 primaries",
            Self::Plain => "",
        }
    }
}

/// The ICC profile for pictures of `channels` channels, or nothing for plain numbers or where none can be made. The
/// same bytes on every day and machine.
pub(super) fn icc(colour: OutputColour, channels: usize) -> Option<Vec<u8>> {
    let mut profile = match colour {
        OutputColour::Srgb | OutputColour::LinearBt709 => ColorProfile::new_srgb(),
        OutputColour::DisplayP3 => ColorProfile::new_display_p3(),
        OutputColour::Bt2020Srgb | OutputColour::LinearBt2020 => ColorProfile::new_bt2020(),
        OutputColour::Plain => return None,
    };
    let curve = if colour.is_linear() {
        Some(ToneReprCurve::Lut(Vec::new()))
    } else {
        ColorProfile::new_srgb().red_trc
    };
    if channels == 1 {
        let mut grey = ColorProfile::new_gray_with_gamma(1.0);
        grey.gray_trc = curve;
        grey.color_space = DataColorSpace::Gray;
        profile = grey;
    } else {
        profile.red_trc = curve.clone();
        profile.green_trc = curve.clone();
        profile.blue_trc = curve;
    }
    // A code point of another curve would contradict the curves.
    profile.cicp = None;
    let name = if channels == 1 {
        format!("Grey: {}", colour.name())
    } else {
        colour.name().to_owned()
    };
    profile.description = Some(ProfileText::Localizable(vec![LocalizableString::new(
        "en".to_owned(),
        "US".to_owned(),
        name,
    )]));
    let mut bytes = profile.encode().ok()?;
    // ICC.1:2022, 7.2: the date of making stands at byte 24, as six 16-bit numbers. The library writes the clock's.
    const DATE: [u8; 12] = [0x07, 0xea, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0];
    bytes.get_mut(24..36)?.copy_from_slice(&DATE);
    // ICC.1:2022, 7.2.2: a profile's length is a whole number of four bytes, and stands in its first four.
    bytes.resize(bytes.len().next_multiple_of(4), 0);
    let length = u32::try_from(bytes.len()).ok()?;
    bytes.get_mut(..4)?.copy_from_slice(&length.to_be_bytes());
    Some(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn profiles_are_the_same_bytes_each_time_and_parse() {
        for colour in [
            OutputColour::Srgb,
            OutputColour::DisplayP3,
            OutputColour::Bt2020Srgb,
            OutputColour::LinearBt709,
            OutputColour::LinearBt2020,
        ] {
            for channels in [1, 3, 4] {
                let bytes = icc(colour, channels).unwrap();
                assert_eq!(Some(&bytes), icc(colour, channels).as_ref());
                let read = ColorProfile::new_from_slice(&bytes).unwrap();
                assert_eq!(
                    read.color_space,
                    if channels == 1 {
                        DataColorSpace::Gray
                    } else {
                        DataColorSpace::Rgb
                    }
                );
            }
        }
        assert_eq!(icc(OutputColour::Plain, 1), None);
    }
}
