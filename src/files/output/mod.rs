//! Finished pixels to files: TIFF, PNG, JPEG, OpenEXR, always whole or not at all. The caller has already encoded the
//! numbers for the colour space it names; here they are only laid down, with the profile that says so.

mod exr;
mod jpeg;
mod png;
pub mod profile; // the colour profiles that are embedded
mod tiff;

use crate::files::FileError;
use crate::files::atomic_write::{Sink, write_atomically};
use crate::geometry::Size;
pub use profile::OutputColour;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

/// A format that is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OutputFormat {
    /// TIFF: 8 or 16 bit codes, half or single floats.
    Tiff,
    /// PNG: 8 or 16 bit codes.
    Png,
    /// JPEG: 8 bit codes, no coverage.
    Jpeg,
    /// OpenEXR: half or single floats.
    OpenExr,
}

impl OutputFormat {
    /// The format that the ending of a file's name asks for, in capitals or small letters.
    ///
    /// # Errors
    /// [`FileError::Parameter`] for any other ending.
    pub fn of_path(path: &Path) -> Result<Self, FileError> {
        let ending = path
            .extension()
            .map(|ending| ending.to_string_lossy().to_ascii_lowercase())
            .unwrap_or_default();
        match ending.as_str() {
            "tif" | "tiff" => Ok(Self::Tiff),
            "png" => Ok(Self::Png),
            "jpg" | "jpeg" => Ok(Self::Jpeg),
            "exr" => Ok(Self::OpenExr),
            _ => Err(FileError::parameter(
                path,
                "the name's ending chooses the format; end it in .tif, .png, .jpg or .exr.",
            )),
        }
    }

    /// Whether what is read back are the very numbers that were written.
    #[must_use]
    pub const fn keeps_numbers(self) -> bool {
        match self {
            Self::Tiff | Self::Png => true,
            Self::Jpeg | Self::OpenExr => false,
        }
    }

    /// Bits per number where nobody asks: 16, but 8 for JPEG. For OpenEXR 16 means half floats.
    #[must_use]
    pub const fn usual_bits(self) -> u32 {
        match self {
            Self::Tiff | Self::Png | Self::OpenExr => 16,
            Self::Jpeg => 8,
        }
    }

    /// Whether `bits` per number can be written in this format. 32 means floats; OpenEXR's 16 are half floats.
    #[must_use]
    pub const fn takes_bits(self, bits: u32) -> bool {
        match self {
            Self::Tiff => matches!(bits, 8 | 16 | 32),
            Self::Png => matches!(bits, 8 | 16),
            Self::Jpeg => bits == 8,
            Self::OpenExr => matches!(bits, 16 | 32),
        }
    }
}

/// The numbers of a finished picture, row by row, channels side by side: 1 grey, 3 colour, 4 colour and coverage that is
/// not multiplied in.
#[derive(Debug, Clone, PartialEq)]
pub enum Pixels {
    /// 8-bit codes.
    U8 {
        /// 1, 3 or 4.
        channels: usize,
        /// The codes.
        data: Vec<u8>,
    },
    /// 16-bit codes.
    U16 {
        /// 1, 3 or 4.
        channels: usize,
        /// The codes.
        data: Vec<u16>,
    },
    /// Floats; written as half floats where [`WriteOptions::bits`] is 16.
    F32 {
        /// 1, 3 or 4.
        channels: usize,
        /// The values.
        data: Vec<f32>,
    },
}

impl Pixels {
    /// Numbers per pixel.
    #[must_use]
    pub const fn channels(&self) -> usize {
        match self {
            Self::U8 { channels, .. } | Self::U16 { channels, .. } | Self::F32 { channels, .. } => {
                *channels
            }
        }
    }

    fn count(&self) -> usize {
        match self {
            Self::U8 { data, .. } => data.len(),
            Self::U16 { data, .. } => data.len(),
            Self::F32 { data, .. } => data.len(),
        }
    }
}

/// A finished picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// Width and height.
    pub size: Size,
    /// `size.area() * channels` numbers.
    pub pixels: Pixels,
}

/// How hard to compress, where the format has a choice.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Effort {
    /// For work files: quick. TIFF is left uncompressed.
    Quick,
    /// For delivery: smaller files.
    #[default]
    Balanced,
}

/// How a picture is to be written.
#[derive(Debug, Clone, PartialEq)]
pub struct WriteOptions {
    /// Bits per number: 8 or 16 for codes, 16 (half) or 32 for floats. Must fit [`Picture::pixels`].
    pub bits: u32,
    /// What the numbers mean; the profile that is embedded.
    pub colour: OutputColour,
    /// Pixels per inch for print, 1.0..=60000.0.
    pub pixels_per_inch: f64,
    /// The program's name and version.
    pub software: String,
    /// A line about the picture; nothing is written where it is empty.
    pub description: String,
    /// JPEG quality, 1..=100.
    pub jpeg_quality: u8,
    /// How hard to compress.
    pub effort: Effort,
}

impl WriteOptions {
    /// Usual settings for `bits` per number in `colour`: 300 pixels per inch, JPEG quality 95.
    #[must_use]
    pub fn new(bits: u32, colour: OutputColour) -> Self {
        Self {
            bits,
            colour,
            pixels_per_inch: 300.0,
            software: format!("platebench {}", env!("CARGO_PKG_VERSION")),
            description: String::new(),
            jpeg_quality: 95,
            effort: Effort::Balanced,
        }
    }
}

/// Writes `picture` to `path` in the format of the name's ending. The new file takes an old one's place only when it is
/// complete.
///
/// # Errors
/// [`FileError::Parameter`] where the picture, the options and the format don't fit each other (nothing is written);
/// else what the disc said, as for [`write_atomically`].
pub fn write(path: &Path, picture: &Picture, options: &WriteOptions) -> Result<(), FileError> {
    let format = OutputFormat::of_path(path)?;
    check(path, format, picture, options)?;
    write_atomically(path, |sink| {
        let job = Job {
            path,
            picture,
            options,
        };
        catch_unwind(AssertUnwindSafe(|| job.write(format, sink))).unwrap_or_else(|_panic| {
            Err(FileError::refused(
                path,
                "the picture could not be encoded; choose another format. The old file, if any, is unchanged.",
            ))
        })
    })
}

fn check(
    path: &Path,
    format: OutputFormat,
    picture: &Picture,
    options: &WriteOptions,
) -> Result<(), FileError> {
    let wrong = |what: &str| Err(FileError::parameter(path, what));
    let channels = picture.pixels.channels();
    if !matches!(channels, 1 | 3 | 4) {
        return wrong("a picture has 1, 3 or 4 channels; use one of these.");
    }
    if picture.size.area() == 0
        || picture.size.area().checked_mul(channels as u64) != Some(picture.pixels.count() as u64)
    {
        return wrong(
            "the picture's size and its numbers disagree; give as many as the size says.",
        );
    }
    let fits = match &picture.pixels {
        Pixels::U8 { .. } => options.bits == 8 && format != OutputFormat::OpenExr,
        Pixels::U16 { .. } => options.bits == 16 && format != OutputFormat::OpenExr,
        Pixels::F32 { .. } => {
            matches!(format, OutputFormat::Tiff | OutputFormat::OpenExr)
                && matches!(options.bits, 16 | 32)
        }
    };
    if !fits || !format.takes_bits(options.bits) {
        return wrong(
            "this format can't hold numbers of that kind; choose other bits or another ending.",
        );
    }
    if format == OutputFormat::Jpeg {
        if channels == 4 {
            return wrong("a JPEG holds no coverage; leave it out, or write a PNG or TIFF.");
        }
        if picture.size.width > 65_535 || picture.size.height > 65_535 {
            return wrong("a JPEG holds at most 65535 pixels a side; write a TIFF or PNG.");
        }
        if !(1..=100).contains(&options.jpeg_quality) {
            return wrong("JPEG quality goes from 1 to 100; choose one in between.");
        }
    }
    if !(1.0..=60_000.0).contains(&options.pixels_per_inch) {
        return wrong("pixels per inch go from 1 to 60000; choose a number in between.");
    }
    Ok(())
}

/// One picture on its way to the disc.
struct Job<'a> {
    path: &'a Path,
    picture: &'a Picture,
    options: &'a WriteOptions,
}

impl Job<'_> {
    fn write(&self, format: OutputFormat, sink: &mut dyn Sink) -> Result<(), FileError> {
        match format {
            OutputFormat::Tiff => tiff::write(self, sink),
            OutputFormat::Png => png::write(self, sink),
            OutputFormat::Jpeg => jpeg::write(self, sink),
            OutputFormat::OpenExr => exr::write(self, sink),
        }
    }

    fn disc(&self, error: &std::io::Error) -> FileError {
        FileError::writing(self.path, error)
    }

    fn encoder(&self, said: &dyn std::fmt::Display) -> FileError {
        FileError::refused(
            self.path,
            format!(
                "the picture could not be encoded ({said}); choose another format. The old file, if any, is unchanged."
            ),
        )
    }
}
