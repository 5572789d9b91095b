//! What the frames of a stack span at every pixel, and holding the plate within it.
//!
//! Six numbers of every pixel are looked at and written again for each frame: they are kept in 16 bits, rounded outwards, so that the
//! span is never too narrow, and too wide by 0.0000076 near black and by 0.00012 near half of white at most.

use crate::geometry::Rect;
use crate::imaging::basics::wide::wide;
use crate::pixels::convert::low_u16;
use crate::pixels::{Plane, Planes};
use rayon::prelude::*;

/// Least and most of red, green and blue over the frames.
#[derive(Debug, Default)]
pub(super) struct Range {
    low: [Vec<u16>; 3],
    high: [Vec<u16>; 3],
}

/// Some rows of a range.
pub(super) struct RangeRows<'a> {
    low: [&'a mut [u16]; 3],
    high: [&'a mut [u16]; 3],
}

/// Added to light before it is rounded, so that light near black, and somewhat below, is told apart as finely as any.
const OFFSET: f32 = 1.0 / 64.0;
/// Least of what is told apart, with the offset: a number with the first code.
const LEAST: f32 = 1.0 / 1024.0;
/// Bits of a number that are rounded off; what is left over [`LEAST`] fits 16 bits up to light of 64.
const ROUNDED: u32 = 11;

/// How far a number lies above the least one, in steps of its last bit.
#[inline(always)]
fn steps(light: f32) -> u32 {
    let least = if light + OFFSET > LEAST {
        light + OFFSET
    } else {
        LEAST
    };
    least.to_bits() - LEAST.to_bits()
}

/// What brings a number to the next code unless it is one already.
const ALMOST_ONE: u32 = (1 << ROUNDED) - 1;

#[inline(always)]
fn code(steps: u32) -> u16 {
    let code = steps >> ROUNDED;
    low_u16(if code < 0xFFFF { code } else { 0xFFFF })
}

/// The light that is not above what was rounded down.
#[inline(always)]
fn least_of(code: u16) -> f32 {
    if code == 0 {
        f32::NEG_INFINITY
    } else {
        of_code(code)
    }
}

/// The light that is not below what was rounded up.
#[inline(always)]
fn most_of(code: u16) -> f32 {
    if code == 0xFFFF {
        f32::INFINITY
    } else {
        of_code(code)
    }
}

#[inline(always)]
fn of_code(code: u16) -> f32 {
    f32::from_bits((u32::from(code) << ROUNDED) + LEAST.to_bits()) - OFFSET
}

/// Rows that one thread works on at a time; no value depends on it.
const ROWS: usize = 32;

impl Range {
    /// A range that holds nothing yet.
    pub(super) fn new(area: usize) -> Self {
        Self {
            low: [(); 3].map(|()| vec![0xFFFF; area]),
            high: [(); 3].map(|()| vec![0; area]),
        }
    }

    /// The range cut into parts of `count` numbers.
    pub(super) fn parts(&mut self, count: usize) -> Vec<RangeRows<'_>> {
        let [low_r, low_g, low_b] = self.low.each_mut().map(|low| low.chunks_mut(count));
        let [high_r, high_g, high_b] = self.high.each_mut().map(|high| high.chunks_mut(count));
        low_r
            .zip(low_g)
            .zip(low_b)
            .zip(high_r.zip(high_g).zip(high_b))
            .map(|(((a, b), c), ((d, e), f))| RangeRows {
                low: [a, b, c],
                high: [d, e, f],
            })
            .collect()
    }

    /// `plane` held within the range of one channel in the 3 x 3 pixels around each pixel. The range of that channel is given up.
    pub(super) fn hold(&mut self, plane: &mut Plane, channel: usize) {
        let low = std::mem::take(&mut self.low[channel]);
        let high = std::mem::take(&mut self.high[channel]);
        let (width, height) = (plane.rect.width(), plane.rect.height());
        plane
            .data
            .par_chunks_mut(width.max(1) * ROWS)
            .enumerate()
            .for_each(|(band, rows)| {
                let mut room = [(); 2].map(|()| vec![0_u16; width]);
                for (offset, row) in rows.chunks_mut(width).enumerate() {
                    let y = band * ROWS + offset;
                    let around = [y.saturating_sub(1), y, (y + 1).min(height - 1)];
                    let lows = around.map(|y| &low[y * width..(y + 1) * width]);
                    let highs = around.map(|y| &high[y * width..(y + 1) * width]);
                    wide(
                        #[inline(always)]
                        || hold_row(row, (lows, highs), &mut room),
                    );
                }
            });
    }
}

impl RangeRows<'_> {
    /// Takes in the pixels of `inner` where at least half of them lie on the frame.
    #[inline(always)]
    pub(super) fn widen(
        &mut self,
        (first, stride): (usize, usize),
        pixels: &Planes,
        presence: Option<&Plane>,
        inner: Rect,
    ) {
        let from = |plane: &Plane| usize::try_from(inner.x0 - plane.rect.x0).unwrap_or(0);
        for (row, y) in (inner.y0..inner.y1).enumerate() {
            let place = first + row * stride;
            let here = place..place + inner.width();
            let present = presence.map(|plane| &plane.row(y)[from(plane)..][..inner.width()]);
            for (channel, plane) in pixels.rgb.iter().enumerate() {
                let values = &plane.row(y)[from(plane)..][..inner.width()];
                let low = self.low[channel][here.clone()].iter_mut();
                let places = low.zip(&mut self.high[channel][here.clone()]);
                match present {
                    None => places.zip(values).for_each(|((low, high), value)| {
                        let steps = steps(*value);
                        *low = least(*low, code(steps));
                        *high = most(*high, code(steps + ALMOST_ONE));
                    }),
                    Some(present) => {
                        let there = places.zip(values).zip(present);
                        let there = there.filter(|(_, present)| **present > 0.5);
                        there.for_each(|(((low, high), value), _present)| {
                            let steps = steps(*value);
                            *low = least(*low, code(steps));
                            *high = most(*high, code(steps + ALMOST_ONE));
                        });
                    }
                }
            }
        }
    }
}

#[inline(always)]
fn least(a: u16, b: u16) -> u16 {
    if a < b { a } else { b }
}

#[inline(always)]
fn most(a: u16, b: u16) -> u16 {
    if a > b { a } else { b }
}

#[inline(always)]
fn hold_row(row: &mut [f32], (lows, highs): ([&[u16]; 3], [&[u16]; 3]), room: &mut [Vec<u16>; 2]) {
    let [low, high] = room;
    let [a, b, c] = lows;
    for (low, ((a, b), c)) in low.iter_mut().zip(a.iter().zip(b).zip(c)) {
        *low = least(least(*a, *b), *c);
    }
    let [a, b, c] = highs;
    for (high, ((a, b), c)) in high.iter_mut().zip(a.iter().zip(b).zip(c)) {
        *high = most(most(*a, *b), *c);
    }
    let last = row.len() - 1;
    let held = |value: f32, low: u16, high: u16| {
        let (bottom, top) = (least_of(low), most_of(high));
        let raised = if value > bottom { value } else { bottom };
        let held = if raised < top { raised } else { top };
        // Where there is no frame the bounds are the wrong way round.
        if low <= high { held } else { value }
    };
    let edge = |x: usize| {
        let (left, right) = (x.saturating_sub(1), (x + 1).min(last));
        (
            least(least(low[left], low[x]), low[right]),
            most(most(high[left], high[x]), high[right]),
        )
    };
    for x in [0, last] {
        let (low, high) = edge(x);
        row[x] = held(row[x], low, high);
    }
    if last < 2 {
        return;
    }
    let bounds = low.windows(3).zip(high.windows(3));
    for (value, (low, high)) in row[1..last].iter_mut().zip(bounds) {
        let low = least(least(low[0], low[1]), low[2]);
        let high = most(most(high[0], high[1]), high[2]);
        *value = held(*value, low, high);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bounds_are_rounded_outwards_and_by_little() {
        let lights = (-400..=20_000).map(|step: i16| f32::from(step) * 4.1e-5);
        for light in lights.chain([1.0, 7.3, 63.0]) {
            let low = least_of(code(steps(light)));
            let high = most_of(code(steps(light) + ALMOST_ONE));
            // Taking the offset off again rounds too.
            let off = 2e-8 + light.abs() * f32::EPSILON;
            assert!(
                low <= light + off && light - off <= high,
                "{low} {light} {high}"
            );
            if light > -0.014 {
                let step = (light + OFFSET) / 2048.0;
                assert!(high - low <= step + off, "{low} {light} {high}");
            }
        }
        let far = [-1.0, -0.02, 65.0, 1e9].map(|light| {
            (
                least_of(code(steps(light))),
                light,
                most_of(code(steps(light) + ALMOST_ONE)),
            )
        });
        assert!(
            far.iter()
                .all(|(low, light, high)| low <= light && light <= high),
            "{far:?}"
        );
    }
}
