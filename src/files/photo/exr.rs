//! OpenEXR: half and single floats, grey (Y) or colour (R, G, B), with or without coverage (A). Of several layers the
//! first is read that holds a picture; where one part holds prefixed channels (`lights.R`), plain ones come first.

use super::{CameraInfo, Decoded, Depth, PhotoFormat, PhotoInfo, Source, coverage, decoding, icc};
use crate::files::FileError;
use crate::pixels::{ColourEncoding, Curve, Numbers};
use exr::image::{AnyChannels, FlatSamples, Image, Layer};
use exr::meta::MetaData;
use exr::meta::attribute::{Chromaticities, SampleType};
use exr::meta::header::Header;
use exr::prelude::{ReadChannels, ReadLayers};
use std::fs::File;
use std::io::BufReader;

type Picture = Image<Layer<AnyChannels<FlatSamples>>>;

pub(super) fn read(source: &Source<'_>, depth: Depth) -> Result<Decoded, FileError> {
    let told = |error: &exr::error::Error| told(source, error);
    let open = || {
        File::open(source.path)
            .map(BufReader::new)
            .map_err(|error| FileError::reading(source.path, &error))
    };
    let meta = MetaData::read_from_buffered(open()?, false).map_err(|error| told(&error))?;
    let Some(header) = meta.headers.iter().find(|header| !header.deep) else {
        return Err(FileError::not_supported(
            source.path,
            "it holds only deep pictures, which are not read; save it flat.",
        ));
    };
    let (mut decoded, wanted) = describe(source, header)?;
    if depth == Depth::Whole {
        let picture: Picture = exr::prelude::read()
            .no_deep_data()
            .largest_resolution_level()
            .all_channels()
            .first_valid_layer()
            .all_attributes()
            .from_buffered(open()?)
            .map_err(|error| told(&error))?;
        decoded.numbers = Some(pixels(source, &picture, &decoded, &wanted)?);
    }
    Ok(decoded)
}

fn told(source: &Source<'_>, error: &exr::error::Error) -> FileError {
    match error {
        exr::error::Error::NotSupported(what) => FileError::not_supported(
            source.path,
            format!(
                "this kind of OpenEXR is not read ({what}); save it with a common compression."
            ),
        ),
        exr::error::Error::Io(error) => FileError::reading(source.path, error),
        exr::error::Error::Invalid(_) | exr::error::Error::Aborted => decoding(source.path, error),
    }
}

/// The header's facts, and the names of the channels to read, in order.
fn describe(source: &Source<'_>, header: &Header) -> Result<(Decoded, Vec<String>), FileError> {
    let list = &header.channels.list;
    let names: Vec<String> = list
        .iter()
        .map(|channel| channel.name.to_string())
        .collect();
    let Some(wanted) = wanted(&names) else {
        return Err(FileError::not_supported(
            source.path,
            "it holds neither R, G, B nor Y channels; save it as RGB.",
        ));
    };
    if list
        .iter()
        .any(|channel| channel.sampling.0 != 1 || channel.sampling.1 != 1)
    {
        return Err(FileError::not_supported(
            source.path,
            "its channels differ in size; save it as plain RGB.",
        ));
    }
    let all = stored_bytes(header);
    let size = source.limits.check(
        source.path,
        (header.layer_size.0 as u64, header.layer_size.1 as u64),
        all.saturating_add(wanted.len() as u64 * 4),
    )?;
    let half = list
        .iter()
        .filter(|channel| wanted.iter().any(|name| channel.name.eq(name.as_str())))
        .all(|channel| channel.sample_type == SampleType::F16);
    let (encoding, colour) = colour(header.shared_attributes.chromaticities);
    let attributes = &header.own_attributes;
    let decoded = Decoded {
        info: PhotoInfo {
            format: PhotoFormat::OpenExr,
            size,
            bits: if half { 16 } else { 32 },
            floating: true,
            channels: wanted.len(),
            orientation: 1,
            camera: camera(header),
            colour,
            bytes_on_disc: source.bytes,
            resolution: attributes
                .horizontal_density
                .map(f64::from)
                .filter(|v| *v > 0.0),
        },
        channels: wanted.len(),
        encoding,
        numbers: None,
    };
    Ok((decoded, wanted))
}

/// Bytes per pixel of all channels: the decoder unpacks the ones that are not wanted too.
fn stored_bytes(header: &Header) -> u64 {
    header
        .channels
        .list
        .iter()
        .map(|channel| match channel.sample_type {
            SampleType::F16 => 2,
            SampleType::F32 | SampleType::U32 => 4,
        })
        .fold(0_u64, u64::saturating_add)
}

fn camera(header: &Header) -> CameraInfo {
    let attributes = &header.own_attributes;
    let positive = |value: Option<f32>| value.map(f64::from).filter(|value| *value > 0.0);
    CameraInfo {
        exposure_s: positive(attributes.exposure),
        f_number: positive(attributes.aperture),
        iso: positive(attributes.iso_speed),
        ..CameraInfo::default()
    }
}

fn colour(found: Option<Chromaticities>) -> (ColourEncoding, String) {
    let Some(found) = found else {
        return (
            ColourEncoding::linear_bt709(),
            "nothing said: linear light with BT.709 primaries".to_owned(),
        );
    };
    let xy = [found.red, found.green, found.blue, found.white]
        .map(|point| [f64::from(point.0), f64::from(point.1)]);
    if xy.iter().flatten().any(|value| !value.is_finite()) || xy.iter().any(|point| point[1] == 0.0)
    {
        let (encoding, words) = icc::plain_light();
        return (
            encoding,
            format!("the chromaticities make no sense; {words}"),
        );
    }
    let encoding = ColourEncoding::Primaries {
        curves: [Curve::Linear, Curve::Linear, Curve::Linear],
        xy,
    };
    (
        encoding,
        "linear light with the primaries that the file names".to_owned(),
    )
}

/// The channels of a picture among `names`: plain ones, else those of the first prefix that has them.
fn wanted(names: &[String]) -> Option<Vec<String>> {
    let mut prefixes = vec![""];
    for name in names {
        if let Some(dot) = name.rfind('.')
            && !prefixes.contains(&&name[..=dot])
        {
            prefixes.push(&name[..=dot]);
        }
    }
    for prefix in prefixes {
        for group in [["R", "G", "B"].as_slice(), ["Y"].as_slice()] {
            let mut found: Vec<String> = group.iter().map(|c| format!("{prefix}{c}")).collect();
            if found.iter().all(|name| names.contains(name)) {
                let coverage = format!("{prefix}A");
                if names.contains(&coverage) {
                    found.push(coverage);
                }
                return Some(found);
            }
        }
    }
    None
}

fn pixels(
    source: &Source<'_>,
    picture: &Picture,
    decoded: &Decoded,
    wanted: &[String],
) -> Result<Numbers, FileError> {
    let layer = &picture.layer_data;
    let size = decoded.info.size;
    let count = size.width as usize * size.height as usize;
    let n = decoded.channels;
    let mut numbers = vec![0.0_f32; count * n];
    for (place, name) in wanted.iter().enumerate() {
        let channel = layer
            .channel_data
            .list
            .iter()
            .find(|channel| channel.name.eq(name.as_str()))
            .filter(|channel| channel.sample_data.len() == count);
        let Some(channel) = channel else {
            return Err(decoding(source.path, &"a channel is missing"));
        };
        let targets = numbers.iter_mut().skip(place).step_by(n);
        match &channel.sample_data {
            FlatSamples::F16(values) => targets.zip(values).for_each(|(to, v)| *to = v.to_f32()),
            FlatSamples::F32(values) => targets.zip(values).for_each(|(to, v)| *to = *v),
            FlatSamples::U32(_) => {
                return Err(FileError::not_supported(
                    source.path,
                    "its channels hold whole numbers, which are not read; save it as half or float.",
                ));
            }
        }
    }
    let mut numbers = Numbers::F32(numbers);
    // OpenEXR's colours have the coverage multiplied in ("Technical Introduction to OpenEXR").
    if n == 2 || n == 4 {
        coverage::take_apart(&mut numbers, n);
    }
    Ok(numbers)
}
