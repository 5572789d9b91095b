//! The shapes of states: ring, dashed ring, triangle, dash, square, arc. Each stands beside its word, so colour adds nothing new.

use crate::window::build_sheet::facts::State;
use crate::window::theme::state_colour;
use egui::{Color32, Painter, Pos2, Rect, Shape, Stroke, StrokeKind, Vec2};

/// Draws the shape of `state` in the middle of a square of `side` points.
pub fn draw(painter: &Painter, middle: Pos2, side: f32, state: State) {
    let half = side * 0.5;
    let stroke = Stroke::new(1.75, colour(state));
    match state {
        State::Done => {
            painter.circle_stroke(middle, half, stroke);
        }
        State::Stale => {
            let ring = turn_points(middle, half, 24, 24);
            painter.extend(Shape::dashed_line(&ring, stroke, 2.5, 2.5));
        }
        State::NeedsALook => {
            let corners = vec![
                middle + Vec2::new(0.0, -half),
                middle + Vec2::new(half, half),
                middle + Vec2::new(-half, half),
            ];
            painter.add(Shape::closed_line(corners, stroke));
        }
        State::Empty => {
            painter.line_segment(
                [middle - Vec2::new(half, 0.0), middle + Vec2::new(half, 0.0)],
                stroke,
            );
        }
        State::Missing => {
            let square = Rect::from_center_size(middle, Vec2::splat(side));
            painter.rect_stroke(square, 0.0, stroke, StrokeKind::Inside);
        }
        State::Working => {
            painter.add(Shape::line(turn_points(middle, half, 18, 24), stroke));
        }
    }
}

const fn colour(state: State) -> Color32 {
    match state {
        State::Done => state_colour::DONE,
        State::Stale | State::Empty => state_colour::STALE,
        State::NeedsALook => state_colour::DOUBT,
        State::Missing => state_colour::MISSING,
        State::Working => state_colour::WORKING,
    }
}

/// The first `steps` of `of` steps round a circle, clockwise from the top.
fn turn_points(middle: Pos2, radius: f32, steps: u8, of: u8) -> Vec<Pos2> {
    (0..=steps)
        .map(|step| {
            let angle = f32::from(step) / f32::from(of) * std::f32::consts::TAU;
            middle + Vec2::new(libm::sinf(angle), -libm::cosf(angle)) * radius
        })
        .collect()
}
