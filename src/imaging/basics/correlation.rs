//! How alike two pictures are in a window, and the shift at which they are most alike.
//!
//! *Source*: normalised cross-correlation with a surface through the peak (Lewis 1995, "Fast normalized cross-correlation").

use crate::geometry::{Point, Rect};
use crate::pixels::Plane;
use crate::pixels::convert::{coordinate, count_f32};

/// The shift within `reach` of `start` at which `b` is most like `a` in `window`, between pixels, and the correlation there. `None` where it
/// lies at the border of what was searched, so that nothing is known of it.
#[must_use]
pub fn best(
    a: &Plane,
    b: &Plane,
    window: Rect,
    (start, reach): ((i32, i32), i32),
) -> Option<(Point, f32)> {
    let side = 2 * reach + 1;
    let mut scores = Vec::new();
    for dy in -reach..=reach {
        for dx in -reach..=reach {
            scores.push(alike(a, b, window, (start.0 + dx, start.1 + dy)));
        }
    }
    let (at, highest) = scores
        .iter()
        .enumerate()
        .fold(
            (0, -2.0),
            |kept, (at, score)| {
                if *score > kept.1 { (at, *score) } else { kept }
            },
        );
    let (column, row) = (coordinate(at) % side, coordinate(at) / side);
    if column == 0 || row == 0 || column == side - 1 || row == side - 1 {
        return None;
    }
    let score = |dx: i32, dy: i32| {
        let index = usize::try_from((row + dy) * side + column + dx).unwrap_or(at);
        scores[index]
    };
    let (dx, dy) = peak(score);
    let x = f64::from(start.0 + column - reach) + f64::from(dx);
    let y = f64::from(start.1 + row - reach) + f64::from(dy);
    Some((Point::new(x, y), highest))
}

/// Where the surface of second order through the scores around the highest one has its top, at most a pixel away in x and y. The
/// mixed term counts: along slanting detail the scores form a slanting ridge.
fn peak(score: impl Fn(i32, i32) -> f32) -> (f32, f32) {
    let slope = (
        0.5 * (score(1, 0) - score(-1, 0)),
        0.5 * (score(0, 1) - score(0, -1)),
    );
    let top = 2.0 * score(0, 0);
    let bend = (
        score(1, 0) + score(-1, 0) - top,
        score(0, 1) + score(0, -1) - top,
    );
    let mixed = 0.25 * (score(1, 1) + score(-1, -1) - score(1, -1) - score(-1, 1));
    let solid = bend.0 * bend.1 - mixed * mixed;
    let within = |value: f32| value.clamp(-1.0, 1.0);
    if bend.0 < -1e-9 && bend.1 < -1e-9 && solid > 1e-12 {
        let x = (mixed * slope.1 - bend.1 * slope.0) / solid;
        let y = (mixed * slope.0 - bend.0 * slope.1) / solid;
        return (within(x), within(y));
    }
    let alone = |slope: f32, bend: f32| {
        if bend < -1e-9 {
            (-slope / bend).clamp(-0.5, 0.5)
        } else {
            0.0
        }
    };
    (alone(slope.0, bend.0), alone(slope.1, bend.1))
}

/// Correlation of `a` in `window` with `b` in the window shifted by (dx, dy); -2 where that leaves `b`.
#[must_use]
pub fn alike(a: &Plane, b: &Plane, window: Rect, (dx, dy): (i32, i32)) -> f32 {
    let moved = window.shift(dx, dy);
    if moved.intersect(b.rect) != moved {
        return -2.0;
    }
    let mut sums = [0.0_f32; 5];
    for y in window.y0..window.y1 {
        let rows = part(a, window, y, 0)
            .iter()
            .zip(part(b, window, y + dy, dx));
        let mut row = [0.0_f32; 5];
        for (a, b) in rows {
            row[0] += a;
            row[1] += b;
            row[2] += a * a;
            row[3] += b * b;
            row[4] += a * b;
        }
        for (sum, row) in sums.iter_mut().zip(row) {
            *sum += row;
        }
    }
    let count = count_f32(window.area());
    let [a, b, aa, bb, ab] = sums.map(|sum| sum / count);
    let (va, vb) = ((aa - a * a).max(0.0), (bb - b * b).max(0.0));
    let scale = (va * vb).sqrt();
    if scale > 1e-12 {
        (ab - a * b) / scale
    } else {
        -1.0
    }
}

/// The pixels of row `y` of `window`, shifted by `dx`; the window lies inside.
fn part(plane: &Plane, window: Rect, y: i32, dx: i32) -> &[f32] {
    let start = plane.rect.index(window.x0 + dx, y);
    &plane.data[start..start + window.width()]
}
