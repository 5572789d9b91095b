//! What is drawn on the picture: outlines, strokes, handles, arrows, signs.

use crate::geometry::{Point, Size, Transform};
use crate::project::{Mask, MaskPart, Node, Shape, Sign};
use crate::window::theme::{picture, picture_size};
use crate::window::viewport::pan_zoom::Map;
use egui::{Align2, Color32, FontId, Painter, Pos2, Stroke, StrokeKind, vec2};

/// Straight pieces that a curved segment is drawn in.
const PIECES: u32 = 24;

/// A line with a dark casing, to be seen on anything.
pub fn cased(painter: &Painter, path: &[Pos2], stroke: Stroke) {
    let casing = egui::epaint::PathStroke::new(stroke.width + 2.0, picture::CASING);
    painter.line(path.to_vec(), casing);
    painter.line(
        path.to_vec(),
        egui::epaint::PathStroke::new(stroke.width, stroke.color),
    );
}

/// A closed line with a dark casing.
pub fn polygon(painter: &Painter, corners: &[Pos2], stroke: Stroke) {
    let mut path = corners.to_vec();
    path.extend(corners.first());
    cased(painter, &path, stroke);
}

/// A broken line with a dark casing.
pub fn dashed(painter: &Painter, path: &[Pos2], stroke: Stroke) {
    let dash = picture_size::DASH;
    let casing = Stroke::new(stroke.width + 2.0, picture::CASING);
    painter.extend(egui::Shape::dashed_line(path, casing, dash, dash));
    painter.extend(egui::Shape::dashed_line(path, stroke, dash, dash));
}

/// How far a point of the window lies from a line through pixel positions.
#[must_use]
pub fn distance_to(line: &[Point], map: &Map, at: Pos2) -> f32 {
    let path: Vec<Pos2> = line.iter().map(|at| map.to_window(*at)).collect();
    let pieces = path.windows(2).map(|pair| {
        let along = pair[1] - pair[0];
        let share = ((at - pair[0]).dot(along) / along.length_sq().max(1e-9)).clamp(0.0, 1.0);
        (pair[0] + along * share).distance(at)
    });
    let ends = path.first().map(|first| first.distance(at));
    pieces.chain(ends).fold(f32::INFINITY, f32::min)
}

/// A square handle.
pub fn handle(painter: &Painter, at: Pos2, colour: Color32) {
    let side = picture_size::HANDLE * 2.0;
    painter.rect(
        egui::Rect::from_center_size(at, vec2(side, side)),
        0.0,
        picture::TEXT_GROUND,
        Stroke::new(picture_size::LINE, colour),
        StrokeKind::Middle,
    );
}

/// The four control points of the segment between two nodes.
#[must_use]
pub fn segment(a: &Node, b: &Node) -> [Point; 4] {
    let off =
        |at: Point, by: Option<Point>| by.map_or(at, |by| Point::new(at.x + by.x, at.y + by.y));
    [a.at, off(a.at, a.after), off(b.at, b.before), b.at]
}

/// A position on a cubic curve (de Casteljau's construction).
#[must_use]
pub fn on_segment(control: &[Point; 4], t: f64) -> Point {
    let [p0, p1, p2, p3] = *control;
    let (q0, q1, q2) = (p0.towards(p1, t), p1.towards(p2, t), p2.towards(p3, t));
    q0.towards(q1, t).towards(q1.towards(q2, t), t)
}

/// Whether a line comes back to where it began.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ends {
    /// It does not.
    Open,
    /// It does.
    Closed,
}

/// The line through nodes, in the window.
#[must_use]
pub fn curve(nodes: &[Node], map: &Map, ends: Ends) -> Vec<Pos2> {
    let mut path = Vec::new();
    let pairs = match ends {
        Ends::Closed => nodes.len(),
        Ends::Open => nodes.len().saturating_sub(1),
    };
    path.extend(nodes.first().map(|node| map.to_window(node.at)));
    for index in 0..pairs {
        let (a, b) = (&nodes[index], &nodes[(index + 1) % nodes.len()]);
        if a.after.is_none() && b.before.is_none() {
            path.push(map.to_window(b.at));
            continue;
        }
        let control = segment(a, b);
        for piece in 1..=PIECES {
            let t = f64::from(piece) / f64::from(PIECES);
            path.push(map.to_window(on_segment(&control, t)));
        }
    }
    path
}

/// The segment of an outline that passes within reach of a point of the window, and how far along.
#[must_use]
pub fn nearest_on(nodes: &[Node], map: &Map, at: Pos2) -> Option<(usize, f64)> {
    let mut best: Option<(f32, usize, f64)> = None;
    for index in 0..nodes.len() {
        let control = segment(&nodes[index], &nodes[(index + 1) % nodes.len()]);
        let mut from = map.to_window(control[0]);
        for piece in 1..=PIECES {
            let to = map.to_window(on_segment(&control, f64::from(piece) / f64::from(PIECES)));
            let along = to - from;
            let share = ((at - from).dot(along) / along.length_sq().max(1e-9)).clamp(0.0, 1.0);
            let far = (from + along * share).distance(at);
            if best.is_none_or(|(least, ..)| far < least) {
                let t = (f64::from(piece - 1) + f64::from(share)) / f64::from(PIECES);
                best = Some((far, index, t));
            }
            from = to;
        }
    }
    let (far, index, t) = best?;
    (far <= picture_size::GRAB).then_some((index, t.clamp(0.02, 0.98)))
}

/// One part of a mask: what adds is a full line, what takes away a dashed one; what is off is faint.
pub fn part(painter: &Painter, map: &Map, part: &MaskPart) {
    let colour = match part.sign {
        Sign::Add | Sign::Within => picture::LINE,
        Sign::Remove => picture::REMOVING,
    };
    let colour = if part.on {
        colour
    } else {
        colour.gamma_multiply(0.35)
    };
    let stroke = Stroke::new(picture_size::LINE, colour);
    let path = match &part.shape {
        Shape::Outline { nodes, .. } => curve(nodes, map, Ends::Closed),
        Shape::Stroke {
            points, radius_px, ..
        } => {
            let path: Vec<Pos2> = points.iter().map(|at| map.to_window(*at)).collect();
            let wide = map.length(f64::from(*radius_px)).max(1.0);
            let faint = colour.gamma_multiply(0.2);
            match path.as_slice() {
                [dab] => {
                    painter.circle_filled(*dab, wide, faint);
                }
                _line => {
                    painter.line(
                        path.clone(),
                        egui::epaint::PathStroke::new(wide * 2.0, faint),
                    );
                }
            }
            path
        }
        Shape::Rule(_) => return,
    };
    match part.sign {
        Sign::Add | Sign::Within => cased(painter, &path, stroke),
        Sign::Remove => dashed(painter, &path, stroke),
    }
}

/// All parts of a mask.
pub fn mask(painter: &Painter, map: &Map, mask: &Mask) {
    for one in &mask.parts {
        part(painter, map, one);
    }
}

/// Arrows from where things lie on a photo to where registration puts them, lengthened so that they can be seen.
pub fn shift_arrows(painter: &Painter, map: &Map, to_reference: &Transform, size: Size) {
    let grid = [0.15, 0.5, 0.85];
    let longest = grid
        .iter()
        .flat_map(|down| grid.iter().map(move |across| (*across, *down)))
        .map(|(across, down)| {
            let at = Point::new(
                f64::from(size.width) * across,
                f64::from(size.height) * down,
            );
            at.distance(to_reference.apply(at))
        })
        .fold(0.0, f64::max);
    // The longest arrow takes a twelfth of the picture's width, whatever the shift.
    let stretch = f64::from(size.width) / 12.0 / longest.max(1e-6);
    if longest < 1e-6 {
        return;
    }
    for down in grid {
        for across in grid {
            let at = Point::new(
                f64::from(size.width) * across,
                f64::from(size.height) * down,
            );
            let to = at.towards(to_reference.apply(at), stretch);
            arrow(painter, map.to_window(at), map.to_window(to));
        }
    }
}

/// How many times longer than what they tell arrows of what is left over are drawn.
pub const LEFT_OVER_STRETCH: f64 = 40.0;

/// What registration left over at single places (pixels of the picture), drawn [`LEFT_OVER_STRETCH`] times longer.
pub fn left_over_arrows(painter: &Painter, map: &Map, left: impl Iterator<Item = (Point, Point)>) {
    for (at, off) in left {
        let to = at.towards(off, LEFT_OVER_STRETCH);
        arrow(painter, map.to_window(at), map.to_window(to));
    }
}

/// An arrow with a dark casing.
fn arrow(painter: &Painter, from: Pos2, to: Pos2) {
    for (width, colour) in [
        (picture_size::CASING, picture::CASING),
        (picture_size::LINE, picture::LINE),
    ] {
        painter.arrow(from, to - from, Stroke::new(width, colour));
    }
}

/// A ring round a place that is pointed out.
pub fn ring(painter: &Painter, at: Pos2) {
    let radius = picture_size::TURN * 0.5;
    painter.circle_stroke(
        at,
        radius,
        Stroke::new(picture_size::CASING, picture::CASING),
    );
    painter.circle_stroke(at, radius, Stroke::new(picture_size::LINE, picture::CHOSEN));
}

/// A sentence on the picture.
pub fn sign(painter: &Painter, at: Pos2, align: Align2, text: &str) {
    let galley = painter.layout(
        text.to_owned(),
        FontId::proportional(13.0),
        picture::TEXT,
        picture_size::SIGN.min(painter.clip_rect().width() - 2.0 * picture_size::SIGN_MARGIN),
    );
    let rect = align
        .anchor_size(at, galley.size())
        .expand(picture_size::SIGN_MARGIN);
    painter.rect_filled(rect, 0.0, picture::TEXT_GROUND);
    painter.galley(
        rect.shrink(picture_size::SIGN_MARGIN).min,
        galley,
        picture::TEXT,
    );
}
