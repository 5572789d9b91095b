//! Places that are filled, as they are shown on the picture, and what people decide about those that were found.

use crate::project::{Patch, PatchFrom, PatchShape, StepKind, Verdict};
use crate::session::spotting::middle_of;
use crate::window::gestures::hand::grips::Grip;
use crate::window::theme::{picture, picture_size};
use crate::window::viewport::overlay::{cased, dashed, polygon};
use crate::window::viewport::pan_zoom::Map;
use egui::{Painter, Pos2, Stroke, vec2};

fn place_of(kind: &StepKind, grip: Grip) -> Option<(usize, &Patch)> {
    let Grip::Place(number) = grip else {
        return None;
    };
    Some((number, kind.patches().get(number)?))
}

/// Whether the find that is gripped was accepted.
pub(super) fn is_accepted(kind: &StepKind, grip: Grip) -> bool {
    place_of(kind, grip).is_some_and(|(_, patch)| patch.verdict == Verdict::Accepted)
}

/// The step with `verdict` on the gripped find; `None` where no find is gripped, or that was decided before.
pub(super) fn decided(kind: &StepKind, grip: Grip, verdict: Verdict) -> Option<StepKind> {
    let (number, patch) = place_of(kind, grip)?;
    if patch.confidence.is_none() || patch.verdict == verdict {
        return None;
    }
    let StepKind::Spotting(spotting) = kind else {
        return None;
    };
    let mut spotting = spotting.clone();
    spotting.patches.get_mut(number)?.verdict = verdict;
    Some(StepKind::Spotting(spotting))
}

/// How a place is drawn: its state by the kind of its line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Look {
    /// Filled, because somebody said so: a full line.
    Filled,
    /// Nobody decided; filled because it was found surely enough: a dashed line.
    Proposed,
    /// Nobody decided; too unsure to be filled: corners only.
    Unsure,
    /// Refused: struck out.
    Refused,
}

fn look_of(kind: &StepKind, patch: &Patch) -> Look {
    let StepKind::Spotting(spotting) = kind else {
        return Look::Filled;
    };
    match patch.verdict {
        _by_hand if patch.confidence.is_none() => Look::Filled,
        Verdict::Accepted => Look::Filled,
        Verdict::Refused => Look::Refused,
        Verdict::Undecided if spotting.takes(patch) => Look::Proposed,
        Verdict::Undecided => Look::Unsure,
    }
}

/// Paints the places of a step.
pub(super) fn paint(
    painter: &Painter,
    map: &Map,
    (kind, on): (&StepKind, bool),
    chosen: Option<Grip>,
) {
    let held = |number: usize| {
        chosen.is_some_and(|grip| {
            matches!(grip, Grip::Place(of) | Grip::Node(of, _) | Grip::Source(of) if of == number)
        })
    };
    for (number, patch) in kind.patches().iter().enumerate() {
        let middle = map.to_window(middle_of(patch));
        let far = map.area.expand(map.length(1000.0).min(4000.0));
        if !far.contains(middle) {
            continue;
        }
        let colour = if held(number) {
            picture::CHOSEN
        } else {
            picture::LINE
        };
        let look = look_of(kind, patch);
        let colour = if on && look != Look::Refused {
            colour
        } else {
            colour.gamma_multiply(0.35)
        };
        let stroke = Stroke::new(picture_size::LINE, colour);
        paint_one(painter, map, patch, (look, stroke));
        if let PatchFrom::Place { offset } = patch.from {
            let at = middle_of(patch);
            let from = map.to_window(crate::geometry::Point::new(
                at.x + offset.x,
                at.y + offset.y,
            ));
            let casing = Stroke::new(picture_size::CASING, picture::CASING);
            painter.arrow(from, middle - from, casing);
            painter.arrow(from, middle - from, stroke);
        }
    }
}

fn paint_one(painter: &Painter, map: &Map, patch: &Patch, (look, stroke): (Look, Stroke)) {
    let window = |points: &[crate::geometry::Point]| -> Vec<Pos2> {
        points.iter().map(|at| map.to_window(*at)).collect()
    };
    let rim = match &patch.shape {
        PatchShape::Dab { at, radius_px } => {
            let radius = map.length(f64::from(*radius_px)).max(picture_size::SPOT);
            circle(map.to_window(*at), radius)
        }
        PatchShape::Line { points, width_px } => {
            let half = map
                .length(f64::from(*width_px) * 0.5)
                .max(picture_size::SPOT * 0.6);
            let path = window(points);
            match path.as_slice() {
                [only] => circle(*only, half),
                _line => along(&path, half),
            }
        }
        PatchShape::Outline { points } => window(points),
    };
    match look {
        Look::Filled => polygon(painter, &rim, stroke),
        Look::Proposed => {
            let mut closed = rim;
            closed.extend(closed.first().copied());
            dashed(painter, &closed, stroke);
        }
        Look::Unsure | Look::Refused => {
            let bounds = egui::Rect::from_points(&rim).expand(2.0);
            corners(painter, bounds, stroke);
            if look == Look::Refused {
                cased(painter, &[bounds.left_bottom(), bounds.right_top()], stroke);
            }
        }
    }
}

fn circle(at: Pos2, radius: f32) -> Vec<Pos2> {
    (0_u8..24)
        .map(|step| {
            let angle = f32::from(step) * std::f32::consts::TAU / 24.0;
            at + vec2(libm::cosf(angle), libm::sinf(angle)) * radius
        })
        .collect()
}

/// The rim of a line of a width.
fn along(path: &[Pos2], half: f32) -> Vec<Pos2> {
    let side = |sign: f32| {
        path.iter().enumerate().map(move |(number, at)| {
            let before = path[number.saturating_sub(1)];
            let after = path[(number + 1).min(path.len() - 1)];
            *at + (after - before).normalized().rot90() * half * sign
        })
    };
    let mut rim: Vec<Pos2> = side(1.0).collect();
    let mut back: Vec<Pos2> = side(-1.0).collect();
    back.reverse();
    rim.extend(back);
    rim
}

/// The four corners of a rectangle, and nothing between them.
fn corners(painter: &Painter, bounds: egui::Rect, stroke: Stroke) {
    let arm = (bounds.width().min(bounds.height()) * 0.3).max(2.0);
    for (corner, x, y) in [
        (bounds.left_top(), 1.0, 1.0),
        (bounds.right_top(), -1.0, 1.0),
        (bounds.right_bottom(), -1.0, -1.0),
        (bounds.left_bottom(), 1.0, -1.0),
    ] {
        let path = [
            corner + vec2(arm * x, 0.0),
            corner,
            corner + vec2(0.0, arm * y),
        ];
        cased(painter, &path, stroke);
    }
}
