//! Warps, as they are shown on the picture: lines and handles where they are now, where they were, and how far the move dies away.

use crate::geometry::Point;
use crate::project::{Warp, WarpKind};
use crate::window::gestures::hand::inset::inset;
use crate::window::theme::{picture, picture_size};
use crate::window::viewport::overlay::{cased, dashed, polygon};
use crate::window::viewport::pan_zoom::Map;
use egui::{Painter, Pos2, Stroke, vec2};

/// A soft edge is at least so many times as wide as the largest move, or the picture would fold.
const LEAST_SOFT: f64 = 2.0;

/// Paints a warp's lines; its points are painted as handles over them.
pub(super) fn paint(painter: &Painter, map: &Map, (warp, on): (&Warp, bool)) {
    let colour = if on {
        picture::LINE
    } else {
        picture::LINE.gamma_multiply(0.35)
    };
    let line = Stroke::new(picture_size::LINE, colour);
    let faint = faint_of(line);
    let window =
        |points: &[Point]| -> Vec<Pos2> { points.iter().map(|at| map.to_window(*at)).collect() };
    match &warp.kind {
        WarpKind::Strake {
            kept,
            was,
            now,
            covers,
        } => {
            dashed(
                painter,
                &window(&soft_edge((kept, now), was, (warp, *covers))),
                faint,
            );
            cased(painter, &window(kept), line);
            if was != now {
                dashed(painter, &window(was), line);
            }
            cased(painter, &window(now), line);
        }
        WarpKind::Handles {
            handles,
            lines,
            outline,
        } => {
            if outline.len() > 2 {
                let outline = window(outline);
                // What lies inside the broken line moves in full.
                for edge in inset(&outline, map.length(f64::from(warp.soft_px))) {
                    dashed(painter, &edge, faint);
                }
                polygon(painter, &outline, line);
            }
            for [was, now] in handles {
                arrow(painter, (map.to_window(*was), map.to_window(*now)), line);
            }
            for [was_0, was_1, now_0, now_1] in lines {
                dashed(painter, &window(&[*was_0, *was_1]), faint);
                cased(painter, &window(&[*now_0, *now_1]), line);
            }
        }
        WarpKind::Corners { was, now } => {
            let reach = map.length(soft_px(was, now, warp));
            paint_corners(painter, (window(was), &window(now)), reach, line);
        }
    }
}

/// A region put into perspective: where it was, where it is, and how far the move dies away.
fn paint_corners(
    painter: &Painter,
    (mut was, now): (Vec<Pos2>, &[Pos2]),
    reach: f32,
    line: Stroke,
) {
    let faint = faint_of(line);
    was.extend(was.first().copied());
    dashed(painter, &was, faint);
    polygon(painter, now, line);
    let bounds = egui::Rect::from_points(now).expand(reach);
    let corners = [
        bounds.left_top(),
        bounds.right_top(),
        bounds.right_bottom(),
        bounds.left_bottom(),
        bounds.left_top(),
    ];
    dashed(painter, &corners, faint);
}

/// The line that shows what is less than the one shown by `line`.
fn faint_of(line: Stroke) -> Stroke {
    Stroke::new(1.0, line.color.gamma_multiply(0.7))
}

/// How far a warp dies away as it is carried out.
fn soft_px(was: &[Point], now: &[Point], warp: &Warp) -> f64 {
    let moves = was.iter().zip(now).map(|(was, now)| was.distance(*now));
    let largest = moves.fold(0.0, f64::max);
    f64::from(warp.soft_px).max(LEAST_SOFT * largest)
}

/// The line round everything that a strake moves.
fn soft_edge(
    (kept, now): (&[Point], &[Point]),
    was: &[Point],
    (warp, covers): (&Warp, bool),
) -> Vec<Point> {
    let (Some(from), Some(to)) = (now.first(), now.last()) else {
        return Vec::new();
    };
    let (Some(kept_from), Some(kept_to)) = (kept.first(), kept.last()) else {
        return Vec::new();
    };
    let soft = soft_px(was, now, warp);
    let length = from.distance(*to).max(1e-6);
    let along = Point::new((to.x - from.x) / length, (to.y - from.y) / length);
    // The side of the moved line on which the kept one does not lie.
    let side = along.x * (kept_from.y - from.y) - along.y * (kept_from.x - from.x);
    let out = if side > 0.0 {
        Point::new(along.y, -along.x)
    } else {
        Point::new(-along.y, along.x)
    };
    let beyond = if covers { 0.0 } else { soft };
    let off = |at: Point, ahead: f64, outward: f64| {
        Point::new(
            at.x + along.x * ahead + out.x * outward,
            at.y + along.y * ahead + out.y * outward,
        )
    };
    let same_way = (kept_to.x - kept_from.x) * along.x + (kept_to.y - kept_from.y) * along.y > 0.0;
    let (kept_from, kept_to) = if same_way {
        (*kept_from, *kept_to)
    } else {
        (*kept_to, *kept_from)
    };
    let mut edge = vec![off(kept_from, -soft, 0.0), off(*from, -soft, beyond)];
    edge.extend(now.iter().map(|at| off(*at, 0.0, beyond)));
    edge.push(off(*to, soft, beyond));
    edge.push(off(kept_to, soft, 0.0));
    edge
}

fn arrow(painter: &Painter, (was, now): (Pos2, Pos2), line: Stroke) {
    let casing = Stroke::new(picture_size::CASING, picture::CASING);
    painter.circle_stroke(was, picture_size::HANDLE - 1.0, casing);
    painter.circle_stroke(was, picture_size::HANDLE - 1.0, line);
    if was.distance(now) > 1.0 {
        painter.arrow(was, now - was, casing);
        painter.arrow(was, now - was, line);
    } else {
        painter.line_segment([was - vec2(3.0, 0.0), was + vec2(3.0, 0.0)], line);
    }
}
