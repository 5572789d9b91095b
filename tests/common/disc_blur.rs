//! Defocus of one layer: discs whose radius may differ from pixel to pixel.
#![allow(
    unreachable_pub,
    clippy::allow_attributes,
    reason = "shared by several test binaries"
)]

use super::layered_scene::Layer;
use platebench::geometry::Rect;
use platebench::pixels::Plane;
use platebench::pixels::convert::{ceil_i32, clamp_index, coordinate, floor_i32, narrow};
use rayon::prelude::*;

/// A disc as rows of equal weights with single weights at the rim.
struct Disc {
    rows: Vec<DiscRow>,
    full: f32,
}

/// Offset down, first and last full pixel across (empty if first > last), and the rim pixels with their weights.
type DiscRow = (i32, i32, i32, Vec<(i32, f32)>);

/// Area-sampled disc (5 x 5 samples a pixel) that sums to 1.
fn disc(radius: f32) -> Disc {
    let reach = ceil_i32(radius + 0.5);
    let samples = |x: i32, y: i32| {
        let mut hit = 0.0_f32;
        for v in 0..5 {
            for u in 0..5 {
                let (dx, dy) = (
                    x as f32 + (u as f32 - 2.0) * 0.2,
                    y as f32 + (v as f32 - 2.0) * 0.2,
                );
                if dx * dx + dy * dy <= radius * radius {
                    hit += 1.0;
                }
            }
        }
        hit
    };
    let mut sum = 0.0;
    let mut rows = Vec::new();
    for y in -reach..=reach {
        let line: Vec<(i32, f32)> = (-reach..=reach).map(|x| (x, samples(x, y))).collect();
        sum += line.iter().map(|(_, hit)| hit).sum::<f32>();
        let full: Vec<i32> = line
            .iter()
            .filter(|(_, hit)| *hit >= 25.0)
            .map(|(x, _)| *x)
            .collect();
        let rim: Vec<(i32, f32)> = line
            .iter()
            .filter(|(_, hit)| *hit > 0.0 && *hit < 25.0)
            .copied()
            .collect();
        rows.push((
            y,
            full.first().copied().unwrap_or(1),
            full.last().copied().unwrap_or(0),
            rim,
        ));
    }
    for row in &mut rows {
        row.3.iter_mut().for_each(|(_, hit)| *hit /= sum);
    }
    Disc {
        rows,
        full: 25.0 / sum,
    }
}

/// Colour times coverage, and coverage, blurred by discs of the radius given per pixel: interpolated between discs half a
/// pixel apart, as in the reference script; the border is repeated.
pub fn blurred(layer: &Layer, radius: &Plane) -> Vec<[f32; 4]> {
    let (low, high) = radius
        .data
        .iter()
        .fold((f32::MAX, 0.0_f32), |(low, high), value| {
            (low.min(*value), high.max(*value))
        });
    let flat = high - low <= 1e-3;
    let first = floor_i32(low * 2.0);
    let discs: Vec<Disc> = if flat {
        vec![disc(low.max(0.05))]
    } else {
        (first..=ceil_i32(high * 2.0) + 1)
            .map(|half| disc((half as f32 * 0.5).max(0.05)))
            .collect()
    };
    let pad = ceil_i32(high + 2.0);
    let sums = padded_sums(layer, pad);
    let across = layer.coverage.rect.width();
    let wide = across + 2 * clamp_index(pad) + 1;
    let reached = covered(&layer.coverage).grow(pad);
    let mut out = vec![[0.0_f32; 4]; layer.coverage.data.len()];
    out.par_chunks_mut(across).enumerate().for_each(|(y, row)| {
        for (x, value) in row.iter_mut().enumerate() {
            let (px, py) = (coordinate(x), coordinate(y));
            if !reached.contains(px, py) {
                continue;
            }
            let at = |disc: &Disc| read(disc, &sums, wide, px + pad, py + pad);
            let place = if flat {
                0.0
            } else {
                radius.data[y * across + x] * 2.0
            };
            let below = if flat { 0 } else { floor_i32(place) };
            let part = place - below as f32;
            let index = if flat { 0 } else { clamp_index(below - first) };
            let one = at(&discs[index]);
            let other = if part > 0.0 {
                at(&discs[index + 1])
            } else {
                one
            };
            *value = [0, 1, 2, 3].map(|c: usize| one[c] * (1.0 - part) + other[c] * part);
        }
    });
    out
}

/// The smallest rectangle with all coverage above 0.
fn covered(coverage: &Plane) -> Rect {
    let mut found = Rect::default();
    for y in 0..coordinate(coverage.rect.height()) {
        let row = coverage.row(y);
        let first = row.iter().position(|value| *value > 0.0);
        let last = row.iter().rposition(|value| *value > 0.0);
        if let (Some(first), Some(last)) = (first, last) {
            found = found.union(Rect::new(coordinate(first), y, coordinate(last) + 1, y + 1));
        }
    }
    found
}

/// Running sums along the rows of the layer with `pad` repeated pixels around; one more column than pixels.
fn padded_sums(layer: &Layer, pad: i32) -> Vec<[f64; 4]> {
    let rect = layer.coverage.rect;
    let (across, down) = (coordinate(rect.width()), coordinate(rect.height()));
    let mut sums = Vec::new();
    for y in -pad..down + pad {
        let mut sum = [0.0; 4];
        sums.push(sum);
        for x in -pad..across + pad {
            let index = rect.index(x.clamp(0, across - 1), y.clamp(0, down - 1));
            let part = layer.coverage.data[index];
            let [r, g, b] = layer.colour.pixel(index);
            for (total, value) in sum.iter_mut().zip([r * part, g * part, b * part, part]) {
                *total += f64::from(value);
            }
            sums.push(sum);
        }
    }
    sums
}

fn read(disc: &Disc, sums: &[[f64; 4]], wide: usize, x: i32, y: i32) -> [f32; 4] {
    let mut total = [0.0_f64; 4];
    let mut add = |from: &[f64; 4], to: &[f64; 4], weight: f32| {
        for ((sum, from), to) in total.iter_mut().zip(from).zip(to) {
            *sum += (to - from) * f64::from(weight);
        }
    };
    for (down, first, last, rim) in &disc.rows {
        let line = &sums[clamp_index(y + down) * wide..][..wide];
        if first <= last {
            add(
                &line[clamp_index(x + first)],
                &line[clamp_index(x + last + 1)],
                disc.full,
            );
        }
        for (across, weight) in rim {
            let at = clamp_index(x + across);
            add(&line[at], &line[at + 1], *weight);
        }
    }
    total.map(narrow)
}
