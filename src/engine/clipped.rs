//! Where a photo's numbers are at the end of their range.

use crate::imaging::basics::edges::grow;
use crate::pixels::{Numbers, Plane, Samples};

/// Share of the largest code from which on a number counts as saturated.
const FULL: f32 = 0.995;
/// Pixels round a saturated one that sampling between pixels mixes with it.
const MIXED_PX: f32 = 3.0;

/// 1 where a photo's numbers are at the end of their range in any colour, and close by. Floating-point photos that go beyond white
/// are not clipped anywhere.
pub(super) fn saturated(samples: &Samples) -> Plane {
    let colours = if samples.channels < 3 { 1 } else { 3 };
    let full: Vec<bool> = match &samples.numbers {
        Numbers::U8(codes) => full(codes, (samples.channels, colours), |code| {
            f32::from(code) >= FULL * 255.0
        }),
        Numbers::U16(codes) => full(codes, (samples.channels, colours), |code| {
            f32::from(code) >= FULL * 65535.0
        }),
        Numbers::F32(values) if values.iter().any(|value| *value > 1.001) => Vec::new(),
        Numbers::F32(values) => full(values, (samples.channels, colours), |value| value >= FULL),
    };
    let rect = samples.size.rect();
    if !full.contains(&true) {
        return Plane::zero(rect);
    }
    let data = full.iter().map(|full| f32::from(u8::from(*full))).collect();
    grow(&Plane { rect, data }, MIXED_PX)
}

fn full<T: Copy>(
    numbers: &[T],
    (channels, colours): (usize, usize),
    is_full: impl Fn(T) -> bool,
) -> Vec<bool> {
    numbers
        .chunks_exact(channels.max(1))
        .map(|pixel| pixel[..colours].iter().any(|number| is_full(*number)))
        .collect()
}
