//! The card of frames: which take part, which is the reference, and how the reference frame is read.

use crate::pixels::convert::narrow;
use crate::project::{
    Camera, Develop, Edit, FrameId, Plate, PlateEdit, Project, Sign, Stack, WhiteBalance,
};
use crate::window::queue::{Drawing, ShownPlace, Tool};
use crate::window::step_cards::field::{Knob, Reach};
use crate::window::step_cards::plots::{self, Series};
use crate::window::step_cards::{Card, choice, part};
use crate::window::words::{card as words, picture::frame_named};
use egui::Ui;
use std::sync::Arc;

const KNOBS: [Knob<Develop>; 3] = [
    Knob {
        text: words::EXPOSURE,
        reach: Reach::new(-10.0, 10.0, 0.0, 2),
        get: |develop| f64::from(develop.exposure_stops),
        set: |develop, value| develop.exposure_stops = narrow(value),
    },
    Knob {
        text: words::BLACK_LEVEL,
        reach: Reach::new(-0.1, 0.5, 0.0, 4),
        get: |develop| f64::from(develop.black_level),
        set: |develop, value| develop.black_level = narrow(value),
    },
    Knob {
        text: words::TONE,
        reach: Reach::new(0.5, 2.0, 1.0, 2),
        get: |develop| f64::from(develop.tone),
        set: |develop, value| develop.tone = narrow(value),
    },
];

/// Light that is shown as neutral.
#[derive(Debug, Clone, Copy)]
struct Light {
    kelvin: f32,
    tint: f32,
}

const LIGHT: [Knob<Light>; 2] = [
    Knob {
        text: words::KELVIN,
        reach: Reach::new(1667.0, 25_000.0, 5500.0, 0),
        get: |light| f64::from(light.kelvin),
        set: |light, value| light.kelvin = narrow(value),
    },
    Knob {
        text: words::TINT,
        reach: Reach::new(-100.0, 100.0, 0.0, 1),
        get: |light| f64::from(light.tint),
        set: |light, value| light.tint = narrow(value),
    },
];

/// The kinds of white balance.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    AsShot,
    Light,
    Grey,
}

/// Difference of exposure in stops that wants an eye.
const DOUBTFUL_STOPS: f64 = 1.0;

/// Shows the card.
pub(in crate::window) fn ui(ui: &mut Ui, card: &mut Card<'_>, plate: &Plate) {
    let Some(stack) = plate.stack() else {
        return;
    };
    sources(ui, card, plate);
    list(ui, card, (plate, stack));
    exposures(ui, card, stack);
    part(ui, words::DEVELOP);
    let (id, variant) = (plate.id, plate.current);
    let edit = move |develop| Edit::Plate(id, PlateEdit::SetDevelop(variant, develop));
    card.knobs(ui, (&KNOBS, ""), &stack.develop, edit);
    white_balance(ui, card, (plate, stack));
}

/// Which source of the plate is in use, where there are several.
fn sources(ui: &mut Ui, card: &mut Card<'_>, plate: &Plate) {
    if plate.variants.len() < 2 {
        return;
    }
    let all: Vec<_> = plate
        .variants
        .iter()
        .map(|variant| (variant.id, variant.name.clone()))
        .collect();
    ui.horizontal(|ui| {
        let name = (&words::SOURCE_IN_USE, "");
        if let Some(source) = choice(ui, name, plate.current, &all) {
            card.plate_edit(plate.id, PlateEdit::UseVariant(source));
        }
    });
}

fn list(ui: &mut Ui, card: &mut Card<'_>, (plate, stack): (&Plate, &Stack)) {
    let project = Arc::clone(&card.project);
    let reference = stack.reference_frame();
    egui::Grid::new("frames").striped(true).show(ui, |ui| {
        for head in words::FRAME_HEADS {
            ui.weak(head);
        }
        ui.end_row();
        for entry in &stack.frames {
            let name = frame_named(&project, entry.frame);
            let mut used = entry.used;
            let check = ui.checkbox(&mut used, "").on_hover_text(words::USED_HOVER);
            if check.changed() {
                let edit = PlateEdit::UseFrame {
                    variant: plate.current,
                    frame: entry.frame,
                    used,
                };
                card.plate_edit(plate.id, edit);
            }
            let _named = check.accessible_name(words::use_frame(&name));
            let is_reference = reference == Some(entry.frame);
            let radio = ui
                .radio(is_reference, "")
                .on_hover_text(words::REFERENCE_HOVER);
            if radio.clicked() && stack.reference != Some(entry.frame) {
                let edit = PlateEdit::SetReference(plate.current, Some(entry.frame));
                card.plate_edit(plate.id, edit);
            }
            let _named = radio.accessible_name(words::reference_frame(&name));
            let shown = card.state.frame == Some(entry.frame);
            if ui.selectable_label(shown, &name).clicked() {
                card.show(ShownPlace {
                    frame: Some(entry.frame),
                    at: None,
                });
            }
            let camera = project.frame(entry.frame).map(|frame| &frame.camera);
            ui.monospace(camera.map_or_else(String::new, exposure));
            ui.end_row();
        }
    });
    if stack.reference.is_some()
        && ui
            .small_button(words::USUAL_REFERENCE)
            .on_hover_text(words::USUAL_REFERENCE_HOVER)
            .clicked()
    {
        card.plate_edit(plate.id, PlateEdit::SetReference(plate.current, None));
    }
}

/// Exposure as photographers write it; what is unknown is left out.
fn exposure(camera: &Camera) -> String {
    let mut said = Vec::new();
    if let Some(time) = camera.exposure_s.filter(|time| *time > 0.0) {
        said.push(if time < 0.3 {
            format!("1/{:.0} s", 1.0 / time)
        } else {
            format!("{time:.1} s")
        });
    }
    if let Some(f_number) = camera.f_number {
        said.push(format!("f/{f_number}"));
    }
    if let Some(iso) = camera.iso {
        said.push(format!("ISO {iso:.0}"));
    }
    said.join("  ")
}

/// Exposure of each frame in stops from the reference frame's, as the camera wrote it.
fn exposures(ui: &mut Ui, card: &mut Card<'_>, stack: &Stack) {
    let project = Arc::clone(&card.project);
    let Some(reference) = stack.reference_frame() else {
        return;
    };
    let Some(usual) = gathered(&project, reference) else {
        return;
    };
    let stops: Vec<(FrameId, Option<f64>)> = stack
        .used()
        .map(|frame| {
            let stops = gathered(&project, frame).map(|light| libm::log2(light / usual));
            (frame, stops)
        })
        .collect();
    part(ui, words::EXPOSURES);
    let series = Series {
        name: words::EXPOSURE.name.to_owned(),
        values: stops.iter().map(|(_frame, stops)| *stops).collect(),
    };
    plots::lines(ui, (words::EXPOSURE_PLOT, words::STOPS), &[series]);
    for (frame, stops) in stops {
        if let Some(stops) = stops.filter(|stops| stops.abs() > DOUBTFUL_STOPS) {
            let said = words::exposed_unlike(&frame_named(&project, frame), stops);
            let place = ShownPlace {
                frame: Some(frame),
                at: None,
            };
            card.finding(ui, &said, Some(place));
        }
    }
}

fn gathered(project: &Project, frame: FrameId) -> Option<f64> {
    project.frame(frame)?.camera.relative_exposure()
}

fn white_balance(ui: &mut Ui, card: &mut Card<'_>, (plate, stack): (&Plate, &Stack)) {
    let (id, variant, develop) = (plate.id, plate.current, stack.develop);
    let edit = move |white_balance| {
        let develop = Develop {
            white_balance,
            ..develop
        };
        Edit::Plate(id, PlateEdit::SetDevelop(variant, develop))
    };
    let kind = match develop.white_balance {
        WhiteBalance::AsShot => Kind::AsShot,
        WhiteBalance::Light { .. } => Kind::Light,
        WhiteBalance::Grey { .. } => Kind::Grey,
    };
    ui.horizontal(|ui| {
        let mut all = vec![
            (Kind::AsShot, words::AS_SHOT.to_owned()),
            (Kind::Light, words::LIGHT_OF.to_owned()),
        ];
        if kind == Kind::Grey {
            all.push((Kind::Grey, words::PICKED_GREY.to_owned()));
        }
        let name = (&words::WHITE_BALANCE, "");
        match choice(ui, name, kind, &all) {
            Some(Kind::AsShot) => card.edit(edit(WhiteBalance::AsShot)),
            Some(Kind::Light) => card.edit(edit(WhiteBalance::Light {
                kelvin: 5500.0,
                tint: 0.0,
            })),
            Some(Kind::Grey) | None => {}
        }
        pick_grey(ui, card, plate);
    });
    match develop.white_balance {
        WhiteBalance::AsShot => {}
        WhiteBalance::Light { kelvin, tint } => {
            let light = Light { kelvin, tint };
            card.knobs(ui, (&LIGHT, ""), &light, |light| {
                edit(WhiteBalance::Light {
                    kelvin: light.kelvin,
                    tint: light.tint,
                })
            });
        }
        WhiteBalance::Grey { at, gain_rgb } => {
            ui.horizontal(|ui| {
                ui.weak(words::grey_at(at, gain_rgb));
                if ui.small_button(words::SHOW_ME).clicked() {
                    card.show(ShownPlace {
                        frame: None,
                        at: Some(at),
                    });
                }
            });
        }
    }
}

fn pick_grey(ui: &mut Ui, card: &mut Card<'_>, plate: &Plate) {
    let picking = card
        .look
        .drawing
        .is_some_and(|drawing| drawing.tool == Tool::Grey && drawing.plate == plate.id);
    let button = ui
        .selectable_label(picking, words::PICK_GREY)
        .on_hover_text(words::PICK_GREY_HOVER);
    if button.clicked() {
        let drawing = Drawing {
            plate: plate.id,
            mask: None,
            tool: Tool::Grey,
            radius_px: 1.0,
            softness: 0.0,
            strength: 1.0,
            sign: Sign::Add,
        };
        card.draw((!picking).then_some(drawing));
    }
}
