//! OpenEXR, half or single floats, with the chromaticities written out: readers take BT.709 where they are missing.

use super::{Effort, Job, OutputColour, Pixels};
use crate::files::FileError;
use crate::files::atomic_write::Sink;
use crate::pixels::convert;
use exr::image::write::WritableImage;
use exr::image::{AnyChannel, AnyChannels, Encoding, FlatSamples, Image, Layer};
use exr::math::Vec2;
use exr::meta::attribute::{Chromaticities, Text};
use exr::meta::header::LayerAttributes;

pub(super) fn write(job: &Job<'_>, sink: &mut dyn Sink) -> Result<(), FileError> {
    let Pixels::F32 { channels, data } = &job.picture.pixels else {
        return Err(job.encoder(&"OpenEXR holds floating point numbers"));
    };
    let names: &[&str] = match channels {
        1 => &["Y"],
        3 => &["R", "G", "B"],
        _ => &["R", "G", "B", "A"],
    };
    let list = names
        .iter()
        .enumerate()
        .map(|(place, name)| AnyChannel::new(*name, channel(job, data, *channels, place)))
        .collect();
    let attributes = LayerAttributes {
        software_name: text(&job.options.software),
        comments: text(&job.options.description),
        horizontal_density: Some(convert::narrow(job.options.pixels_per_inch)),
        ..LayerAttributes::default()
    };
    let encoding = match job.options.effort {
        Effort::Quick => Encoding::FAST_LOSSLESS,
        Effort::Balanced => Encoding::SMALL_LOSSLESS,
    };
    let size = Vec2(
        job.picture.size.width as usize,
        job.picture.size.height as usize,
    );
    let layer = Layer::new(size, attributes, encoding, AnyChannels::sort(list));
    let mut image = Image::from_layer(layer);
    image.attributes.chromaticities = chromaticities(job.options.colour);
    image
        .write()
        .to_buffered(sink)
        .map_err(|error| match error {
            exr::error::Error::Io(error) => job.disc(&error),
            exr::error::Error::NotSupported(_)
            | exr::error::Error::Invalid(_)
            | exr::error::Error::Aborted => job.encoder(&error),
        })
}

/// One channel's numbers. Colours are stored with the coverage multiplied in, as the format defines.
fn channel(job: &Job<'_>, data: &[f32], channels: usize, place: usize) -> FlatSamples {
    let values = data.chunks_exact(channels).map(|pixel| match pixel {
        [_, _, _, coverage] if place < 3 => pixel[place] * coverage,
        _ => pixel[place],
    });
    if job.options.bits == 16 {
        FlatSamples::F16(values.map(half::f16::from_f32).collect())
    } else {
        FlatSamples::F32(values.collect())
    }
}

fn text(text: &str) -> Option<Text> {
    (!text.is_empty())
        .then(|| Text::new_or_none(text))
        .flatten()
}

fn chromaticities(colour: OutputColour) -> Option<Chromaticities> {
    let point = |[x, y]: [f64; 2]| Vec2(convert::narrow(x), convert::narrow(y));
    colour.xy().map(|[red, green, blue, white]| Chromaticities {
        red: point(red),
        green: point(green),
        blue: point(blue),
        white: point(white),
    })
}
