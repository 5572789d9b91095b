//! Distances from the edge of a set of pixels.

use crate::geometry::Rect;
use crate::pixels::Plane;
use crate::pixels::convert::{clamp_index, coordinate, count_f32};
use rayon::prelude::*;

/// Distance in pixels of each pixel's centre from the edge of `marked` (row by row over `rect`): positive inside, negative outside.
///
/// Exact up to `most_px`, and never farther. The edge runs half-way between a marked pixel and one that is not. *Edge*: the picture is
/// as if its border pixels went on.
#[must_use]
pub fn signed_distance(marked: &[bool], rect: Rect, most_px: u16) -> Plane {
    let inside = distance_to(marked, rect, most_px, false);
    let outside = distance_to(marked, rect, most_px, true);
    let far = f32::from(most_px);
    let pairs = inside.iter().zip(&outside).zip(marked);
    let data = pairs.map(|((inside, outside), marked)| {
        let away = if *marked { *inside } else { *outside };
        let away = (away - 0.5).min(far);
        if *marked { away } else { -away }
    });
    Plane {
        rect,
        data: data.collect(),
    }
}

/// Distance of each pixel from the nearest one that is `wanted`, at most one more than `most_px`.
#[expect(
    clippy::fn_params_excessive_bools,
    reason = "the value that pixels of a mark are looked for with"
)]
fn distance_to(marked: &[bool], rect: Rect, most_px: u16, wanted: bool) -> Vec<f32> {
    let (width, height) = (rect.width(), rect.height());
    let most = usize::from(most_px) + 1;
    let far = count_f32(most);
    let mut down = vec![far; marked.len()];
    if width == 0 {
        return down;
    }
    let rows: Vec<usize> = (0..height).collect();
    let mut last = vec![far; width];
    for y in rows.iter().chain(rows.iter().rev()) {
        let row = &marked[y * width..][..width];
        let out = &mut down[y * width..][..width];
        for ((last, out), is) in last.iter_mut().zip(out).zip(row) {
            *last = if *is == wanted {
                0.0
            } else {
                (*last + 1.0).min(far)
            };
            *out = out.min(*last);
        }
    }
    let mut out = vec![0.0_f32; marked.len()];
    out.par_chunks_mut(width)
        .zip(down.par_chunks(width))
        .for_each(|(out, down)| nearest_along(down, most, out));
    out
}

fn nearest_along(down: &[f32], most: usize, out: &mut [f32]) {
    let (far, last) = (count_f32(most), coordinate(down.len()) - 1);
    for (x, out) in out.iter_mut().enumerate() {
        let mut best = far * far;
        let here = coordinate(x);
        let reach = coordinate(most);
        for other in (here - reach).max(0)..=(here + reach).min(last) {
            let across = count_f32(clamp_index((other - here).abs()));
            let along = down[clamp_index(other)];
            best = best.min(across * across + along * along);
        }
        *out = best.sqrt();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_edge_lies_half_way_between_pixels() {
        let rect = Rect::new(0, 0, 20, 9);
        let marked: Vec<bool> = (0..rect.area()).map(|at| at % 20 >= 10).collect();
        let found = signed_distance(&marked, rect, 4);
        assert!((found.at(10, 4) - 0.5).abs() < 1e-6, "first inside");
        assert!((found.at(9, 4) + 0.5).abs() < 1e-6, "last outside");
        assert!((found.at(19, 4) - 4.0).abs() < 1e-6, "no farther");
    }
}
