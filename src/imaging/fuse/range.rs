//! What the frames of a stack span at every pixel, and holding the plate within it.

use crate::geometry::Rect;
use crate::imaging::basics::wide::wide;
use crate::pixels::{Plane, Planes};
use rayon::prelude::*;

/// Least and most of red, green and blue over the frames.
#[derive(Debug, Default)]
pub(super) struct Range {
    low: [Vec<f32>; 3],
    high: [Vec<f32>; 3],
}

/// Some rows of a range.
pub(super) struct RangeRows<'a> {
    low: [&'a mut [f32]; 3],
    high: [&'a mut [f32]; 3],
}

/// Rows that one thread works on at a time; no value depends on it.
const ROWS: usize = 32;

impl Range {
    /// A range that holds nothing yet.
    pub(super) fn new(area: usize) -> Self {
        Self {
            low: [(); 3].map(|()| vec![f32::INFINITY; area]),
            high: [(); 3].map(|()| vec![f32::NEG_INFINITY; area]),
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
                let mut room = [(); 2].map(|()| vec![0.0_f32; width]);
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
                        *low = if *value < *low { *value } else { *low };
                        *high = if *value > *high { *value } else { *high };
                    }),
                    Some(present) => {
                        let there = places.zip(values).zip(present);
                        let there = there.filter(|(_, present)| **present > 0.5);
                        there.for_each(|(((low, high), value), _present)| {
                            *low = low.min(*value);
                            *high = high.max(*value);
                        });
                    }
                }
            }
        }
    }
}

#[inline(always)]
fn hold_row(row: &mut [f32], (lows, highs): ([&[f32]; 3], [&[f32]; 3]), room: &mut [Vec<f32>; 2]) {
    let least = |a: f32, b: f32| if a < b { a } else { b };
    let most = |a: f32, b: f32| if a > b { a } else { b };
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
    let held = |value: f32, low: f32, high: f32| {
        if low <= high {
            least(most(value, low), high)
        } else {
            value
        }
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
