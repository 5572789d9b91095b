//! JPEG, 8 bits, grey or colour.

use super::info::Tags;
use super::jpeg_marks::{Coding, Marks, walk};
use super::{Decoded, Depth, PhotoFormat, PhotoInfo, Source, cut_short, decoding, icc};
use crate::files::FileError;
use crate::pixels::Numbers;
use std::fs::File;
use std::io::{BufRead, BufReader, Cursor, Read, Seek};
use zune_jpeg::JpegDecoder;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

/// The most a JPEG can say (16 bits a side).
const LARGEST_SIDE: usize = 65_535;
/// Real progressive files have about ten scans; more is a file made to keep the decoder busy.
const MOST_SCANS: usize = 100;

pub(super) fn read(source: &Source<'_>, depth: Depth) -> Result<Decoded, FileError> {
    let told = |error: &std::io::Error| FileError::reading(source.path, error);
    let mut file = BufReader::new(File::open(source.path).map_err(|error| told(&error))?);
    match depth {
        Depth::Header => header(source, &mut JpegDecoder::new_with_options(file, options())),
        Depth::Whole => {
            source.limits.check_bytes(source.path, source.bytes)?;
            let mut bytes = Vec::new();
            file.read_to_end(&mut bytes).map_err(|error| told(&error))?;
            whole(source, &bytes)
        }
    }
}

fn options() -> DecoderOptions {
    DecoderOptions::default()
        .set_max_width(LARGEST_SIDE)
        .set_max_height(LARGEST_SIDE)
        .jpeg_set_max_scans(MOST_SCANS)
}

fn whole(source: &Source<'_>, bytes: &[u8]) -> Result<Decoded, FileError> {
    let coding = match walk(bytes) {
        Marks::Whole { coding, .. } => coding,
        Marks::CutShort => return Err(cut_short(source.path)),
        Marks::Broken => return Err(decoding(source.path, &"its markers are out of order")),
        Marks::OtherProcess(name) => return Err(other_kind(source, name)),
    };
    let mut decoder = JpegDecoder::new_with_options(Cursor::new(bytes), options());
    let mut decoded = header(source, &mut decoder)?;
    let wanted = decoder
        .output_buffer_size()
        .and_then(|size| u64::try_from(size).ok());
    let expected = decoded.info.size.area() * decoded.channels as u64;
    if wanted != Some(expected) {
        return Err(decoding(source.path, &"its sizes disagree"));
    }
    let length = usize::try_from(expected).unwrap_or(0);
    let numbers = match coding {
        Coding::Usual => {
            let mut numbers = vec![0_u8; length];
            decoder
                .decode_into(&mut numbers)
                .map_err(|error| decoding(source.path, &error))?;
            numbers
        }
        Coding::OneAfterTheOther => scan_by_scan(source, bytes, length)?,
    };
    decoded.numbers = Some(Numbers::U8(numbers));
    Ok(decoded)
}

/// A baseline picture whose colours come in scans of their own.
fn scan_by_scan(source: &Source<'_>, bytes: &[u8], length: usize) -> Result<Vec<u8>, FileError> {
    let mut decoder = jpeg_decoder::Decoder::new(Cursor::new(bytes));
    decoder.set_max_decoding_buffer_size(length);
    let numbers = decoder
        .decode()
        .map_err(|error| decoding(source.path, &error))?;
    if numbers.len() == length {
        Ok(numbers)
    } else {
        Err(decoding(source.path, &"its sizes disagree"))
    }
}

fn other_kind(source: &Source<'_>, name: &str) -> FileError {
    FileError::not_supported(
        source.path,
        format!("this kind of JPEG is not read ({name}); save it as a TIFF or a plain JPEG."),
    )
}

/// Everything but the pixels; also tells the decoder what to decode to.
fn header<R: BufRead + Seek>(
    source: &Source<'_>,
    decoder: &mut JpegDecoder<R>,
) -> Result<Decoded, FileError> {
    decoder
        .decode_headers()
        .map_err(|error| decoding(source.path, &error))?;
    let Some(found) = decoder.info() else {
        return Err(decoding(source.path, &"it has no header"));
    };
    let (channels, space) = match found.components {
        1 => (1_usize, ColorSpace::Luma),
        3 => (3, ColorSpace::RGB),
        4 => return Err(other_kind(source, "four inks, for print")),
        _ => return Err(other_kind(source, "neither grey nor colour")),
    };
    decoder.set_options(options().jpeg_set_out_colorspace(space));
    let size = source.limits.check(
        source.path,
        (u64::from(found.width), u64::from(found.height)),
        channels as u64,
    )?;
    let tags = decoder
        .exif()
        .map(|block| Tags::of_exif(block))
        .unwrap_or_default();
    let profile = decoder.icc_profile();
    let (encoding, colour) = icc::colour(profile.as_deref(), &tags, icc::plain_codes());
    let resolution = jfif_resolution(source.path).or_else(|| tags.resolution());
    Ok(Decoded {
        info: PhotoInfo {
            format: PhotoFormat::Jpeg,
            size,
            bits: 8,
            floating: false,
            channels,
            orientation: tags.orientation(),
            camera: tags.camera(),
            colour,
            bytes_on_disc: source.bytes,
            resolution,
        },
        channels,
        encoding,
        numbers: None,
    })
}

/// Pixels per inch after JFIF (ITU-T T.871), whose segment is the first in the file: unit 1 is per inch, 2 per
/// centimetre, 0 a mere shape. The decoder keeps none of it.
fn jfif_resolution(path: &std::path::Path) -> Option<f64> {
    let mut start = [0_u8; 18];
    File::open(path).ok()?.read_exact(&mut start).ok()?;
    if start[..4] != [0xff, 0xd8, 0xff, 0xe0] || start[6..11] != *b"JFIF\0" {
        return None;
    }
    let density = f64::from(u16::from_be_bytes([start[14], start[15]]));
    match start[13] {
        1 if density > 1.0 => Some(density),
        2 if density > 1.0 => Some(density * 2.54),
        _ => None,
    }
}
