//! How near a plate comes to the picture it should be.
#![allow(
    dead_code,
    unreachable_pub,
    clippy::unwrap_used,
    clippy::cast_possible_truncation,
    clippy::allow_attributes,
    reason = "shared by several test binaries"
)]

use platebench::files::Limits;
use platebench::files::photo;
use platebench::imaging::basics::colour::{Decoder, encode_srgb};
use platebench::pixels::Planes;
use std::path::Path;

/// A photo file as light of the working space.
pub fn light(path: &Path) -> Planes {
    let photo = photo::open(path, &Limits::default()).unwrap();
    let decoder = Decoder::for_samples(&photo.samples).unwrap();
    decoder
        .decode_planes(&photo.samples, photo.samples.size.rect())
        .unwrap()
}

/// PSNR in dB over the covered pixels, sRGB-encoded, one gain per channel fitted.
pub fn psnr(picture: &Planes, truth: &Planes, covered: &[bool]) -> f64 {
    let mut error = 0.0;
    let mut count = 0.0;
    for channel in 0..3 {
        let (a, b) = (&picture.rgb[channel].data, &truth.rgb[channel].data);
        let (mut both, mut own) = (0.0_f64, 0.0_f64);
        for at in (0..a.len()).filter(|at| covered[*at]) {
            both += f64::from(a[at]) * f64::from(b[at]);
            own += f64::from(a[at]) * f64::from(a[at]);
        }
        let gain = (both / own) as f32;
        for at in (0..a.len()).filter(|at| covered[*at]) {
            let difference = f64::from(encode_srgb(a[at] * gain) - encode_srgb(b[at]));
            error += difference * difference;
            count += 1.0;
        }
    }
    -10.0 * libm::log10(error / count)
}
