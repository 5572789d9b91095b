//! Brushing strokes into a mask.

use crate::geometry::Point;
use crate::pixels::convert::narrow;
use crate::project::{Edit, MaskId, Project, Shape, Sign};
use crate::session::Command;
use crate::window::gestures::{Input, Moved, add_part};
use crate::window::queue::{Ask, Drawing, Queue};
use crate::window::theme::{picture, picture_size};
use egui::{Painter, Pos2, Stroke};

/// Smallest and largest half width of a stroke, in reference pixels.
pub const RADIUS_PX: (f32, f32) = (0.5, 2000.0);

/// A stroke while the button is down.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawn {
    drawing: Drawing,
    mask: MaskId,
    points: Vec<Point>,
    /// How hard a pen pressed at each point, 0..=1.
    forces: Vec<f32>,
}

impl Drawn {
    /// The edit it would be.
    #[must_use]
    pub fn edit(&self, project: &Project) -> Edit {
        let shape = Shape::Stroke {
            points: self.points.clone(),
            radius_px: self.drawing.radius_px,
            softness: self.drawing.softness,
            pressure: self.pressure(),
        };
        add_part(self.drawing, self.mask, project, shape)
    }

    /// What is recorded of the pen; nothing where it was a mouse, or pressed fully all along.
    fn pressure(&self) -> Vec<f32> {
        if self.forces.iter().all(|force| *force >= 1.0) {
            return Vec::new();
        }
        let rounded = |force: &f32| (force * 1e3).round() / 1e3;
        self.forces.iter().map(rounded).collect()
    }

    fn push(&mut self, at: Point, force: f32) {
        // Points closer than an eighth of the radius add nothing that can be seen, only size to the record.
        let least = f64::from(self.drawing.radius_px * 0.125).max(0.25);
        if self
            .points
            .last()
            .is_none_or(|last| last.distance(at) >= least)
        {
            self.points.push(at);
            self.forces.push(force);
        }
    }
}

/// Follows one frame of the pointer.
pub fn follow(held: &mut Option<Drawn>, input: &Input<'_>, drawing: Drawing, queue: &mut Queue) {
    for (moved, force) in input.moves.iter().zip(&input.forces) {
        match moved {
            Moved::Press(at) => {
                *held = drawing.mask.map(|mask| Drawn {
                    drawing,
                    mask,
                    points: vec![input.map.to_picture(*at)],
                    forces: vec![*force],
                });
            }
            Moved::To(at) => {
                if let Some(stroke) = held {
                    stroke.push(input.map.to_picture(*at), *force);
                }
            }
            Moved::Release(at) => {
                if let Some(mut stroke) = held.take() {
                    let last = stroke.forces.last().map_or(*force, |last| last.min(*force));
                    stroke.push(input.map.to_picture(*at), last);
                    let edit = stroke.edit(input.look.session.project());
                    queue.ask(Ask::Command(Command::Edit(edit)));
                }
            }
        }
    }
}

/// The same with strokes `by` steps wider; a step is an eighth.
#[must_use]
pub fn wider(drawing: Drawing, by: i32) -> Drawing {
    let factor = if by < 0 { 1.0 / 1.125 } else { 1.125 };
    Drawing {
        radius_px: (drawing.radius_px * factor).clamp(RADIUS_PX.0, RADIUS_PX.1),
        ..drawing
    }
}

/// Paints the stroke under way, and the circle it would be drawn with.
pub fn paint(
    held: Option<&Drawn>,
    painter: &Painter,
    (input, drawing): (&Input<'_>, Drawing),
    pointer: Option<Pos2>,
) {
    if drawing.tool != crate::window::queue::Tool::Stroke {
        return;
    }
    let map = &input.map;
    let colour = match drawing.sign {
        Sign::Add | Sign::Within => picture::LINE,
        Sign::Remove => picture::REMOVING,
    };
    if let Some(stroke) = held {
        let radius = map.length(f64::from(drawing.radius_px)).max(1.0);
        let path: Vec<Pos2> = stroke.points.iter().map(|at| map.to_window(*at)).collect();
        let faint = colour.gamma_multiply(0.35);
        if let [dab] = path.as_slice() {
            painter.circle_filled(*dab, radius, faint);
        } else {
            painter.line(
                path.clone(),
                egui::epaint::PathStroke::new(radius * 2.0, faint),
            );
        }
        painter.line(
            path,
            egui::epaint::PathStroke::new(picture_size::LINE, colour),
        );
    }
    if let Some(at) = pointer {
        let radius = map.length(f64::from(drawing.radius_px)).max(2.0);
        let core = radius * (1.0 - drawing.softness.clamp(0.0, 1.0));
        painter.circle_stroke(
            at,
            radius,
            Stroke::new(picture_size::CASING, picture::CASING),
        );
        painter.circle_stroke(at, radius, Stroke::new(picture_size::LINE, colour));
        if core > 2.0 && core < radius - 2.0 {
            painter.circle_stroke(at, core, Stroke::new(1.0, colour.gamma_multiply(0.6)));
        }
        // A word beside the circle says what the colour says.
        let sign = match drawing.sign {
            Sign::Add | Sign::Within => "+",
            Sign::Remove => "-",
        };
        let beside = at + egui::vec2(narrow(f64::from(radius)) + 6.0, 0.0);
        painter.text(
            beside,
            egui::Align2::LEFT_CENTER,
            sign,
            egui::FontId::proportional(14.0),
            colour,
        );
    }
}
