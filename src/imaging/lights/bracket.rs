//! One light pass shot at several exposures: cores that are saturated in the longer ones come from the shorter ones.

use crate::pixels::{Plane, Planes};
use rayon::prelude::*;

/// One photo of a bracket, on the plate's pixels and brought to the plate's exposure.
#[derive(Debug, Clone)]
pub struct Exposed {
    /// Its light.
    pub light: Planes,
    /// Variance of its noise.
    pub variance: Planes,
    /// Where it is saturated, 0..=1.
    pub saturated: Plane,
    /// Where it holds anything at all, 0..=1.
    pub valid: Plane,
}

/// A bracket joined to one light.
pub type Merged = Exposed;

/// Joins a bracket, least noise counting most, what is saturated not at all (Debevec and Malik 1997, with weights from the noise).
/// `frames`: from the longest exposure to the shortest, over one rectangle; where every one is saturated the shortest is taken, and the
/// place stays marked: the light there is "at least". A single frame comes back bit for bit. `None` without frames.
#[must_use]
pub fn merged(mut frames: Vec<Exposed>) -> Option<Merged> {
    let shortest = frames.pop()?;
    if frames.is_empty() {
        return Some(shortest);
    }
    let mut out = shortest.clone();
    let weights: Vec<Plane> = frames.iter().chain([&shortest]).map(weight).collect();
    let all: Vec<&Exposed> = frames.iter().chain([&shortest]).collect();
    for channel in 0..3 {
        let pairs = out.light.rgb[channel]
            .data
            .par_iter_mut()
            .zip(&mut out.variance.rgb[channel].data)
            .enumerate();
        pairs.for_each(|(at, (light, variance))| {
            let (mut sum, mut noise, mut total) = (0.0, 0.0, 0.0);
            for (frame, weight) in all.iter().zip(&weights) {
                let weight = weight.data[at];
                sum += weight * frame.light.rgb[channel].data[at];
                noise += weight * weight * frame.variance.rgb[channel].data[at];
                total += weight;
            }
            if total > 0.0 {
                *light = sum / total;
                *variance = noise / (total * total);
            }
        });
    }
    for frame in &frames {
        let marks = out.saturated.data.iter_mut().zip(&frame.saturated.data);
        marks.for_each(|(mark, other)| *mark = mark.min(*other));
        let marks = out.valid.data.iter_mut().zip(&frame.valid.data);
        marks.for_each(|(valid, other)| *valid = valid.max(*other));
    }
    Some(out)
}

/// How much each pixel counts: one over its variance, nothing where it is saturated or missing.
fn weight(frame: &Exposed) -> Plane {
    let mut out = Plane::zero(frame.light.rect());
    for (at, value) in out.data.iter_mut().enumerate() {
        let noise: f32 = frame.variance.pixel(at).iter().sum();
        let sound = frame.valid.data[at] * (1.0 - frame.saturated.data[at]).max(0.0);
        *value = if sound > 0.0 {
            sound / noise.max(1e-12)
        } else {
            0.0
        };
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;

    const RECT: Rect = Rect::new(0, 0, 3, 1);

    fn exposed(light: [f32; 3], variance: f32, saturated: [f32; 3]) -> Exposed {
        let plane = |values: [f32; 3]| Plane {
            rect: RECT,
            data: values.to_vec(),
        };
        Exposed {
            light: Planes {
                rgb: [plane(light), plane(light), plane(light)],
            },
            variance: Planes {
                rgb: [0, 1, 2].map(|_| Plane::filled(RECT, variance)),
            },
            saturated: plane(saturated),
            valid: Plane::filled(RECT, 1.0),
        }
    }

    #[test]
    fn cores_come_from_the_shorter_exposure_and_the_rest_mostly_from_the_longer() {
        let long = exposed([0.2, 1.0, 1.0], 1e-6, [0.0, 1.0, 1.0]);
        let short = exposed([0.3, 4.0, 16.0], 9e-6, [0.0, 0.0, 1.0]);
        let out = merged(vec![long.clone(), short]).unwrap();
        let light = &out.light.rgb[0].data;
        assert!((light[0] - 0.21).abs() < 1e-6, "{light:?}");
        assert_eq!((light[1], light[2]), (4.0, 16.0));
        assert_eq!(out.saturated.data, [0.0, 0.0, 1.0], "the last stays marked");
        assert!((out.variance.rgb[1].data[0] - 0.9e-6).abs() < 1e-9);
        assert_eq!(merged(vec![long.clone()]).unwrap().light, long.light);
        assert!(merged(Vec::new()).is_none());
    }
}
