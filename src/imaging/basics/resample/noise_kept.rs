//! What a resample leaves of white noise.

use super::kernel::{Kernel, PHASES, Taps, split};
use super::whole_shift;
use crate::geometry::{Point, Rect, Transform};
use crate::pixels::Plane;
use crate::pixels::convert::coordinate;
use rayon::prelude::*;

/// Share of white noise's variance that each pixel of `target` keeps when a picture is sampled through `source_from_target`: the sum
/// of the squared weights, 1 on the source's own pixels, less between them. The kernel is taken as not widened.
#[must_use]
pub fn noise_kept(target: Rect, source_from_target: &Transform, kernel: Kernel) -> Plane {
    if whole_shift(source_from_target).is_some() || target.is_empty() {
        return Plane::filled(target, 1.0);
    }
    let table = Taps::of(kernel);
    let energy: Vec<f32> = (0..=PHASES)
        .map(|phase| table.row(phase).iter().map(|tap| tap * tap).sum())
        .collect();
    let mut out = Plane::zero(target);
    out.data
        .par_chunks_mut(target.width())
        .enumerate()
        .for_each(|(row, values)| {
            let y = f64::from(target.y0 + coordinate(row)) + 0.5;
            for (column, value) in values.iter_mut().enumerate() {
                let x = f64::from(target.x0 + coordinate(column)) + 0.5;
                let at = source_from_target.apply(Point::new(x, y));
                *value = energy[split(at.x - 0.5).1] * energy[split(at.y - 0.5).1];
            }
        });
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::imaging::basics::random::{bits_at, normal};
    use crate::imaging::basics::resample::sample_plane;
    use crate::pixels::convert::narrow;

    #[test]
    fn the_share_is_what_sampled_noise_has() {
        let rect = Rect::new(0, 0, 400, 300);
        let noise = Plane::from_fn(rect, |x, y| 0.1 * narrow(normal(bits_at(3, x, y))));
        for shift in [(0.0, 0.0), (0.5, 0.5), (0.25, 0.0), (0.1, 0.7)] {
            let transform = Transform::translation(shift.0, shift.1);
            let inner = rect.grow(-6);
            let (moved, _) = sample_plane(&noise, inner, &transform, Kernel::Lanczos3);
            let kept = noise_kept(inner, &transform, Kernel::Lanczos3);
            let found = moved.data.iter().map(|v| v * v).sum::<f32>();
            let expected = kept.data.iter().map(|v| v * 0.01).sum::<f32>();
            let ratio = found / expected;
            assert!((ratio - 1.0).abs() < 0.02, "{shift:?}: {ratio}");
        }
    }
}
