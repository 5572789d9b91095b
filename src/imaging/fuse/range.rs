//! What the frames of a stack span at every pixel, and holding the plate within it.
//!
//! Six numbers of every pixel are looked at and written again for each frame: they are kept in 16 bits, rounded outwards, so that the
//! span is never too narrow, and too wide by a millionth near black and by 0.00024 near half of white at most. Twice the light, or light
//! below black, has twice the span or its mirror image, so that light passes fuse alike at any strength.

use super::room::filled;
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

/// Light below this is told apart in even steps of 2^-20, so that the codes go through black; light above it by 11 bits of its number.
const LEAST: f32 = 1.0 / 512.0;
/// Bits of a number that are rounded off; what is left over [`LEAST`] fits 15 bits up to light of 64.
const ROUNDED: u32 = 12;
/// What brings a number to the next code unless it is one already.
const ALMOST_ONE: u32 = (1 << ROUNDED) - 1;
/// The code of black. Light below it counts downwards from the code before, as far as light above it counts upwards.
const BLACK: u16 = 0x8000;

/// The codes of light rounded down and up.
#[inline(always)]
fn codes(light: f32) -> (u16, u16) {
    let size = light.abs();
    let steps = if size < LEAST {
        (size + LEAST).to_bits() - LEAST.to_bits()
    } else {
        size.to_bits() - LEAST.to_bits() + (1 << (f32::MANTISSA_DIGITS - 1))
    };
    let code = |steps: u32| {
        let code = steps >> ROUNDED;
        low_u16(if code < 0x7FFF { code } else { 0x7FFF })
    };
    let (inwards, outwards) = (code(steps), code(steps + ALMOST_ONE));
    if light < 0.0 {
        (BLACK - 1 - outwards, BLACK - 1 - inwards)
    } else {
        (BLACK + inwards, BLACK + outwards)
    }
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
    const EVEN: u32 = 1 << (f32::MANTISSA_DIGITS - 1 - ROUNDED);
    let is_below = code < BLACK;
    let steps = u32::from(if is_below {
        BLACK - 1 - code
    } else {
        code - BLACK
    });
    let number = |steps: u32| f32::from_bits((steps << ROUNDED) + LEAST.to_bits());
    let size = if steps < EVEN {
        number(steps) - LEAST
    } else {
        number(steps - EVEN)
    };
    if is_below { -size } else { size }
}

/// Rows that one thread works on at a time; no value depends on it.
const ROWS: usize = 32;

impl Range {
    /// A range that holds nothing yet.
    pub(super) fn new(area: usize) -> Self {
        Self {
            low: [(); 3].map(|()| filled(0xFFFF, area)),
            high: [(); 3].map(|()| filled(0, area)),
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
                    None => places
                        .zip(values)
                        .for_each(|(place, value)| take_in(place, codes(*value))),
                    Some(present) => {
                        let there = places.zip(values).zip(present);
                        there.for_each(|((place, value), present)| {
                            take_in(place, codes_there(*value, *present));
                        });
                    }
                }
            }
        }
    }
}

/// The codes of light where at least half of a pixel is `present`, else codes that widen nothing.
#[inline(always)]
fn codes_there(light: f32, present: f32) -> (u16, u16) {
    let (down, up) = codes(light);
    let is_there = present > 0.5;
    (
        if is_there { down } else { 0xFFFF },
        if is_there { up } else { 0 },
    )
}

/// Widens the span of a pixel.
#[inline(always)]
fn take_in((low, high): (&mut u16, &mut u16), (down, up): (u16, u16)) {
    *low = least(*low, down);
    *high = most(*high, up);
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

    fn bounds(light: f32) -> (f32, f32) {
        let (down, up) = codes(light);
        (least_of(down), most_of(up))
    }

    #[test]
    fn bounds_are_rounded_outwards_and_by_little() {
        let lights = (0..=20_000).map(|step: i16| f32::from(step) * 4.1e-5);
        for light in lights
            .chain([1.0, 7.3, 63.0])
            .flat_map(|light| [light, -light])
        {
            let (low, high) = bounds(light);
            // Near black the least number is added and taken off again, which rounds too.
            let off = 1e-10;
            assert!(
                low <= light + off && light - off <= high,
                "{low} {light} {high}"
            );
            let step = (light.abs() / 2048.0).max(1.0 / (1024.0 * 1024.0));
            assert!(high - low <= step * 1.0001, "{low} {light} {high}");
            assert_eq!(bounds(-light), (-high, -low), "as far below black as above");
        }
        for light in [-1e9, -65.0, 65.0, 1e9] {
            let (low, high) = bounds(light);
            assert!(low <= light && light <= high, "{low} {light} {high}");
        }
        let codes: Vec<(u16, u16)> = (-3000..3000_i16)
            .map(|at| codes(f32::from(at) * 1e-6))
            .collect();
        assert!(codes.is_sorted(), "codes rise with the light");
    }
}
