//! The card of matching: how the light of the frames was brought together, and the plate to that of the scene.

use crate::pixels::convert::narrow;
use crate::project::{Edit, Grade, Plate, PlateEdit, Step, StepId, StepKind};
use crate::window::queue::ShownPlace;
use crate::window::step_cards::field::{Knob, Reach};
use crate::window::step_cards::plots::{self, Series};
use crate::window::step_cards::{Card, Switch, part};
use crate::window::words::{card as words, picture::frame_named};
use egui::Ui;
use std::sync::Arc;

/// Difference of gains in stops from which a frame wants an eye.
const DOUBTFUL_STOPS: f64 = 0.5;

const GRADE: [Knob<Grade>; 6] = [
    Knob {
        text: words::EXPOSURE,
        reach: Reach::new(-10.0, 10.0, 0.0, 2),
        get: |grade| f64::from(grade.exposure_stops),
        set: |grade, value| grade.exposure_stops = narrow(value),
    },
    Knob {
        text: words::RED,
        reach: Reach::new(0.0, 4.0, 1.0, 2),
        get: |grade| f64::from(grade.colour_rgb[0]),
        set: |grade, value| grade.colour_rgb[0] = narrow(value),
    },
    Knob {
        text: words::GREEN,
        reach: Reach::new(0.0, 4.0, 1.0, 2),
        get: |grade| f64::from(grade.colour_rgb[1]),
        set: |grade, value| grade.colour_rgb[1] = narrow(value),
    },
    Knob {
        text: words::BLUE,
        reach: Reach::new(0.0, 4.0, 1.0, 2),
        get: |grade| f64::from(grade.colour_rgb[2]),
        set: |grade, value| grade.colour_rgb[2] = narrow(value),
    },
    Knob {
        text: words::BLACK_LEVEL,
        reach: Reach::new(-0.1, 0.5, 0.0, 4),
        get: |grade| f64::from(grade.black_level),
        set: |grade, value| grade.black_level = narrow(value),
    },
    Knob {
        text: words::SATURATION,
        reach: Reach::new(0.0, 2.0, 1.0, 2),
        get: |grade| f64::from(grade.saturation),
        set: |grade, value| grade.saturation = narrow(value),
    },
];

/// Shows the card.
pub(in crate::window) fn ui(ui: &mut Ui, card: &mut Card<'_>, plate: &Plate) {
    gains(ui, card, plate);
    part(ui, words::GRADE);
    ui.weak(words::GRADE_SAYS);
    let found = plate.steps.iter().find_map(|step| match &step.kind {
        StepKind::Grade(grade) => Some((step, *grade)),
        StepKind::Matte(_) | StepKind::Spotting(_) | StepKind::PaintOut(_) | StepKind::Warp(_) => {
            None
        }
    });
    let Some((step, grade)) = found else {
        if ui.button(words::ADD_GRADE).clicked() {
            let step = Step {
                id: StepId(card.look.session.next_id()),
                on: true,
                mask: None,
                kind: StepKind::Grade(Grade::default()),
            };
            let at = plate.steps.len();
            card.plate_edit(plate.id, PlateEdit::AddStep { step, at });
        }
        return;
    };
    if (Switch {
        on: step.on,
        name: words::GRADE_ON,
        hover: words::STEP_ON_HOVER,
    })
    .ui(ui)
    {
        let mut set = step.clone();
        set.on = !step.on;
        card.plate_edit(plate.id, PlateEdit::SetStep(set));
    }
    card.knobs(ui, (&GRADE, ""), &grade, |grade| {
        let kind = StepKind::Grade(grade);
        let set = Step {
            kind,
            ..step.clone()
        };
        Edit::Plate(plate.id, PlateEdit::SetStep(set))
    });
    if ui.button(words::REMOVE_GRADE).clicked() {
        card.plate_edit(plate.id, PlateEdit::RemoveStep(step.id));
    }
}

/// The gains of each frame, in stops.
fn gains(ui: &mut Ui, card: &mut Card<'_>, plate: &Plate) {
    let measured = plate.stack().and_then(|stack| stack.measured.as_ref());
    let Some(measured) = measured else {
        ui.label(words::NOT_MEASURED);
        return;
    };
    let stops = |channel: usize| -> Vec<Option<f64>> {
        measured
            .frames
            .iter()
            .map(|frame| frame.gain_rgb[channel])
            .map(|gain| (gain > 0.0).then(|| libm::log2(f64::from(gain))))
            .collect()
    };
    part(ui, words::GAINS);
    let series: Vec<Series> = words::RGB
        .iter()
        .enumerate()
        .map(|(channel, name)| Series {
            name: (*name).to_owned(),
            values: stops(channel),
        })
        .collect();
    plots::lines(ui, (words::GAINS_PLOT, words::STOPS), &series);
    let project = Arc::clone(&card.project);
    for (frame, green) in measured.frames.iter().zip(stops(1)) {
        if let Some(stops) = green.filter(|stops| stops.abs() > DOUBTFUL_STOPS) {
            let said = words::matched_far(&frame_named(&project, frame.frame), stops);
            let place = ShownPlace {
                frame: Some(frame.frame),
                at: None,
            };
            card.finding(ui, &said, Some(place));
        }
    }
}
