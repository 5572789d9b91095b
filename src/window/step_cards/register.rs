//! The card of registration: where each frame lies on the reference frame.

use crate::geometry::{Point, Size};
use crate::project::{FrameId, FrameMeasured, Plate, Project, StackMeasured};
use crate::session::jobs::Work;
use crate::window::queue::{Ask, ShownPlace};
use crate::window::step_cards::plots::{self, Series};
use crate::window::step_cards::{Card, part};
use crate::window::words::{card as words, picture::frame_named};
use egui::Ui;
use std::sync::Arc;

/// Residual in pixels from which a frame wants an eye.
const DOUBTFUL_PX: f32 = 1.0;

/// Shows the card.
pub(in crate::window) fn ui(ui: &mut Ui, card: &mut Card<'_>, plate: &Plate) {
    if ui
        .button(words::MEASURE)
        .on_hover_text(words::MEASURE_HOVER)
        .clicked()
    {
        card.queue.ask(Ask::Start(Work::MeasureAgain(plate.id)));
    }
    let project = Arc::clone(&card.project);
    let measured = plate.stack().and_then(|stack| stack.measured.as_ref());
    let Some(measured) = measured else {
        ui.label(words::NOT_MEASURED);
        return;
    };
    let moves: Vec<Moves> = measured
        .frames
        .iter()
        .map(|frame| Moves::of(frame, size_of(&project, frame.frame)))
        .collect();
    let lies = plate.variant().and_then(|variant| variant.lies.as_ref());
    if let Some(lies) = lies.filter(|lies| lies.residual_px > DOUBTFUL_PX) {
        card.finding(ui, &words::source_lies_off(lies.residual_px), None);
    }
    part(ui, words::SHIFT);
    let series = |name: &str, value: fn(&Moves) -> f64| Series {
        name: name.to_owned(),
        values: moves.iter().map(|one| Some(value(one))).collect(),
    };
    plots::lines(
        ui,
        (words::SHIFT_PLOT, "px"),
        &[
            series(words::ACROSS, |one| one.shift.x),
            series(words::DOWN, |one| one.shift.y),
        ],
    );
    part(ui, words::SCALE_CHANGE);
    plots::lines(
        ui,
        (words::SCALE_PLOT, "%"),
        &[series(words::SCALE_CHANGE, |one| one.scale_percent)],
    );
    part(ui, words::RESIDUALS);
    egui::Grid::new("residuals").striped(true).show(ui, |ui| {
        for head in words::RESIDUAL_HEADS {
            ui.weak(head);
        }
        ui.end_row();
        for (frame, moved) in measured.frames.iter().zip(&moves) {
            row(ui, card, frame, moved);
        }
    });
    findings(ui, card, measured);
}

/// What wants an eye.
fn findings(ui: &mut Ui, card: &mut Card<'_>, measured: &StackMeasured) {
    let project = Arc::clone(&card.project);
    for frame in &measured.frames {
        if frame.residual_px > DOUBTFUL_PX {
            let said = words::residual(&frame_named(&project, frame.frame), frame.residual_px);
            let place = ShownPlace {
                frame: Some(frame.frame),
                at: None,
            };
            card.finding(ui, &said, Some(place));
        }
    }
}

fn row(ui: &mut Ui, card: &mut Card<'_>, frame: &FrameMeasured, moved: &Moves) {
    let name = frame_named(&card.project, frame.frame);
    let chosen = card.state.frame == Some(frame.frame);
    if ui.selectable_label(chosen, &name).clicked() {
        card.show(ShownPlace {
            frame: Some(frame.frame),
            at: None,
        });
    }
    ui.monospace(format!("{:.2} px", moved.shift.distance(Point::default())));
    // Without a sign where it rounds to nothing.
    let turn_deg = libm::round(moved.turn_deg * 1000.0) / 1000.0 + 0.0;
    ui.monospace(format!("{turn_deg:.3} °"));
    ui.monospace(format!("{:.2} px", frame.residual_px));
    ui.end_row();
}

/// How a frame lies on the reference frame, about its own middle.
struct Moves {
    shift: Point,
    scale_percent: f64,
    turn_deg: f64,
}

impl Moves {
    fn of(frame: &FrameMeasured, size: Size) -> Self {
        let middle = Point::new(f64::from(size.width) * 0.5, f64::from(size.height) * 0.5);
        let found = frame.to_reference.to_similarity(middle);
        Self {
            shift: found.shift,
            scale_percent: (libm::exp(found.log_scale) - 1.0) * 100.0,
            turn_deg: found.angle_rad * 180.0 / std::f64::consts::PI,
        }
    }
}

fn size_of(project: &Project, frame: FrameId) -> Size {
    project
        .frame(frame)
        .and_then(|frame| frame.size)
        .unwrap_or_default()
}
