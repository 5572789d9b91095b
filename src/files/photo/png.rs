//! PNG (W3C, third edition): 8 and 16 bits, grey or colour, with or without coverage; palettes are expanded.

use super::info::Tags;
use super::{Decoded, Depth, PhotoFormat, PhotoInfo, Source, cut_short, decoding, icc, plausible};
use crate::files::FileError;
use crate::pixels::{ColourEncoding, Curve, Numbers};
use png::{BitDepth, ColorType, Decoder, DecodingError, Reader, Transformations};
use std::fs::File;
use std::io::{BufRead, BufReader, Seek};

pub(super) fn read(source: &Source<'_>, depth: Depth) -> Result<Decoded, FileError> {
    let file = File::open(source.path).map_err(|error| FileError::reading(source.path, &error))?;
    let mut decoder = Decoder::new_with_limits(
        BufReader::new(file),
        png::Limits {
            bytes: source.limits.bytes_usize().min(256 << 20),
        },
    );
    decoder.set_transformations(Transformations::EXPAND);
    let mut reader = decoder.read_info().map_err(|error| told(source, &error))?;
    let mut decoded = header(source, &reader)?;
    if depth == Depth::Whole {
        decoded.numbers = Some(pixels(source, &mut reader, &decoded)?);
    }
    Ok(decoded)
}

fn told(source: &Source<'_>, error: &DecodingError) -> FileError {
    match error {
        DecodingError::IoError(error) => FileError::reading(source.path, error),
        DecodingError::LimitsExceeded => FileError::too_large(
            source.path,
            "its metadata takes more memory than the limit allows; save the picture again without it.",
        ),
        DecodingError::Format(error) if error.to_string().contains("end of") => {
            cut_short(source.path)
        }
        DecodingError::Format(_) | DecodingError::Parameter(_) => decoding(source.path, error),
    }
}

fn header<R: BufRead + Seek>(
    source: &Source<'_>,
    reader: &Reader<R>,
) -> Result<Decoded, FileError> {
    let found = reader.info();
    let (colour_type, bit_depth) = reader.output_color_type();
    let channels = match colour_type {
        ColorType::Grayscale => 1_usize,
        ColorType::GrayscaleAlpha => 2,
        ColorType::Rgb => 3,
        ColorType::Rgba => 4,
        ColorType::Indexed => return Err(decoding(source.path, &"its palette is missing")),
    };
    let bits = if bit_depth == BitDepth::Sixteen {
        16
    } else {
        8
    };
    let size = source.limits.check(
        source.path,
        (u64::from(found.width), u64::from(found.height)),
        channels as u64 * u64::from(bits / 8),
    )?;
    plausible(source, size.area() * channels as u64)?;
    let tags = found
        .exif_metadata
        .as_deref()
        .map(Tags::of_exif)
        .unwrap_or_default();
    let (encoding, colour) = colour_of(source, found, &tags)?;
    let resolution = found
        .pixel_dims
        .filter(|dims| dims.unit == png::Unit::Meter && dims.xppu > 0)
        .map(|dims| f64::from(dims.xppu) * 0.0254);
    Ok(Decoded {
        info: PhotoInfo {
            format: PhotoFormat::Png,
            size,
            bits,
            floating: false,
            channels,
            orientation: tags.orientation(),
            camera: tags.camera(),
            colour,
            bytes_on_disc: source.bytes,
            resolution: resolution.or_else(|| tags.resolution()),
        },
        channels,
        encoding,
        numbers: None,
    })
}

fn pixels<R: BufRead + Seek>(
    source: &Source<'_>,
    reader: &mut Reader<R>,
    decoded: &Decoded,
) -> Result<Numbers, FileError> {
    let count = usize::try_from(decoded.info.size.area())
        .unwrap_or(usize::MAX)
        .saturating_mul(decoded.channels);
    let sample_bytes = if decoded.info.bits == 16 { 2 } else { 1 };
    if reader.output_buffer_size() != count.checked_mul(sample_bytes) {
        return Err(decoding(source.path, &"its sizes disagree"));
    }
    let numbers = if decoded.info.bits == 16 {
        let mut numbers = vec![0_u16; count];
        reader
            .next_frame(bytemuck::cast_slice_mut(&mut numbers))
            .map_err(|error| told(source, &error))?;
        // Stored with the high byte first.
        numbers
            .iter_mut()
            .for_each(|code| *code = u16::from_be(*code));
        Numbers::U16(numbers)
    } else {
        let mut numbers = vec![0_u8; count];
        reader
            .next_frame(&mut numbers)
            .map_err(|error| told(source, &error))?;
        Numbers::U8(numbers)
    };
    reader.finish().map_err(|error| told(source, &error))?;
    Ok(numbers)
}

/// The order of precedence of the standard (11.3.2): cICP, iCCP, sRGB, then gAMA and cHRM.
fn colour_of(
    source: &Source<'_>,
    found: &png::Info<'_>,
    tags: &Tags,
) -> Result<(ColourEncoding, String), FileError> {
    if let Some(points) = found.coding_independent_code_points {
        return code_points(points.color_primaries, points.transfer_function).ok_or_else(|| {
            FileError::not_supported(
                source.path,
                format!(
                    "its colours are coded in a way that is not read (code points {} and {}); save it in sRGB.",
                    points.color_primaries, points.transfer_function
                ),
            )
        });
    }
    if found.icc_profile.is_some() {
        return Ok(icc::colour(
            found.icc_profile.as_deref(),
            tags,
            icc::plain_codes(),
        ));
    }
    if found.srgb.is_some() {
        return Ok((ColourEncoding::srgb(), "the file says sRGB".to_owned()));
    }
    if let Some(gamma) = found.gama_chunk.map(|gamma| f64::from(gamma.into_scaled()))
        && gamma > 0.0
    {
        return Ok(gamma_and_primaries(found, gamma));
    }
    Ok(icc::colour(None, tags, icc::plain_codes()))
}

/// The value of gAMA is 100,000 times the exponent that made the codes from light.
fn gamma_and_primaries(found: &png::Info<'_>, gamma: f64) -> (ColourEncoding, String) {
    let scaled = |value: png::ScaledFloat| f64::from(value.into_scaled()) / 100_000.0;
    let point = |(x, y): (png::ScaledFloat, png::ScaledFloat)| [scaled(x), scaled(y)];
    let xy = found.chrm_chunk.map_or(ColourEncoding::BT709_XY, |c| {
        [point(c.red), point(c.green), point(c.blue), point(c.white)]
    });
    let exponent = 100_000.0 / gamma;
    let curve = if gamma == 100_000.0 {
        Curve::Linear
    } else {
        Curve::Gamma(exponent)
    };
    let encoding = ColourEncoding::Primaries {
        curves: [curve.clone(), curve.clone(), curve],
        xy,
    };
    (encoding, format!("the file says gamma {exponent:.3}"))
}

/// Code points of ITU-T H.273, tables 2 and 3.
fn code_points(primaries: u8, transfer: u8) -> Option<(ColourEncoding, String)> {
    // SMPTE EG 432-1: the P3 primaries with D65.
    const P3_D65: [[f64; 2]; 4] = [
        [0.680, 0.320],
        [0.265, 0.690],
        [0.150, 0.060],
        [0.3127, 0.3290],
    ];
    let (xy, name) = match primaries {
        1 => (ColourEncoding::BT709_XY, "BT.709"),
        9 => (ColourEncoding::BT2020_XY, "BT.2020"),
        12 => (P3_D65, "P3"),
        _ => return None,
    };
    // BT.709 and BT.2020 give light to codes 4.5 L below 0.018, else 1.099 L^0.45 - 0.099; this is the way back.
    let camera = Curve::Parametric([
        1.0 / 0.45,
        1.0 / 1.099,
        0.099 / 1.099,
        1.0 / 4.5,
        0.081,
        0.0,
        0.0,
    ]);
    let curve = match transfer {
        1 | 6 | 14 | 15 => camera,
        4 => Curve::Gamma(2.2),
        5 => Curve::Gamma(2.8),
        8 => Curve::Linear,
        13 => Curve::Srgb,
        _ => return None,
    };
    let encoding = ColourEncoding::Primaries {
        curves: [curve.clone(), curve.clone(), curve],
        xy,
    };
    Some((
        encoding,
        format!("the file says {name} primaries, transfer {transfer} of H.273"),
    ))
}
