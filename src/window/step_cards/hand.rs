//! The part of a card that shows the steps done by hand on a fused plate: spotting, paint-out, warps.

use crate::geometry::Point;
use crate::pixels::convert::narrow;
use crate::project::{Edit, Patch, Plate, PlateEdit, Spotting, Step, StepKind, Warp};
use crate::session::jobs::Work;
use crate::session::spotting::{middle_of, stretch_of};
use crate::window::queue::{Ask, ShownPlace};
use crate::window::step_cards::field::{Knob, Reach};
use crate::window::step_cards::{Card, Switch, part};
use crate::window::words::card as words;
use egui::Ui;

/// How sure the finder must be.
const SURE: [Knob<Spotting>; 1] = [Knob {
    text: words::LEAST_CONFIDENCE,
    reach: Reach::new(0.0, 1.0, 0.5, 2),
    get: |spotting| f64::from(spotting.least_confidence),
    set: |spotting, value| spotting.least_confidence = narrow(value),
}];

/// How a warp dies away.
const SOFT: [Knob<Warp>; 1] = [Knob {
    text: words::WARP_SOFT,
    reach: Reach::new(1.0, 500.0, 60.0, 0),
    get: |warp| f64::from(warp.soft_px),
    set: |warp, value| warp.soft_px = narrow(value),
}];

/// Finds that are listed with a button each, at most.
const LISTED: usize = 40;

/// Shows the steps that are there, and the button that looks for dust and hair.
pub(super) fn ui(ui: &mut Ui, card: &mut Card<'_>, plate: &Plate) {
    part(ui, words::BY_HAND);
    if ui
        .button(words::FIND_SPOTS)
        .on_hover_text(words::FIND_SPOTS_HOVER)
        .clicked()
    {
        card.queue.ask(Ask::Start(Work::FindSpots(plate.id)));
    }
    for step in &plate.steps {
        match &step.kind {
            StepKind::Spotting(spotting) => {
                head(ui, card, (plate, step), words::SPOTTING);
                card.knobs(ui, (&SURE, ""), spotting, |spotting| {
                    set(plate, step, StepKind::Spotting(spotting))
                });
                spots(ui, card, (plate, step, spotting));
            }
            StepKind::PaintOut(paint_out) => {
                head(ui, card, (plate, step), words::PAINT_OUT);
                ui.label(words::places(paint_out.patches.len()));
                if !paint_out.shadow_seen_to && !paint_out.patches.is_empty() {
                    let at = paint_out.patches.first().map(middle_of);
                    card.finding(ui, words::LOOK_FOR_SHADOW, Some(place(at)));
                }
                if (Switch {
                    on: paint_out.shadow_seen_to,
                    name: words::SHADOW_SEEN_TO,
                    hover: words::SHADOW_SEEN_TO_HOVER,
                })
                .ui(ui)
                {
                    let mut paint_out = paint_out.clone();
                    paint_out.shadow_seen_to = !paint_out.shadow_seen_to;
                    card.edit(set(plate, step, StepKind::PaintOut(paint_out)));
                }
            }
            StepKind::Warp(warp) => {
                let name = words::warp(warp.kind.word());
                head(ui, card, (plate, step), &name);
                card.knobs(ui, (&SOFT, &name), warp, |warp| {
                    set(plate, step, StepKind::Warp(warp))
                });
                stretch(ui, card, (plate, step));
            }
            StepKind::Matte(_) | StepKind::Grade(_) => {}
        }
    }
}

fn set(plate: &Plate, step: &Step, kind: StepKind) -> Edit {
    Edit::Plate(
        plate.id,
        PlateEdit::SetStep(Step {
            kind,
            ..step.clone()
        }),
    )
}

const fn place(at: Option<Point>) -> ShownPlace {
    ShownPlace { frame: None, at }
}

fn head(ui: &mut Ui, card: &mut Card<'_>, (plate, step): (&Plate, &Step), name: &str) {
    ui.horizontal(|ui| {
        let acts = words::acts(name);
        if (Switch {
            on: step.on,
            name: &acts,
            hover: words::STEP_ON_HOVER,
        })
        .ui(ui)
        {
            let mut set = step.clone();
            set.on = !step.on;
            card.plate_edit(plate.id, PlateEdit::SetStep(set));
        }
        let remove = ui.small_button(words::REMOVE);
        if remove.clicked() {
            card.plate_edit(plate.id, PlateEdit::RemoveStep(step.id));
        }
        let _named = remove.accessible_name(words::remove(name));
    });
}

/// The finds, the surest first: each can be looked at and refused.
fn spots(ui: &mut Ui, card: &mut Card<'_>, (plate, step, spotting): (&Plate, &Step, &Spotting)) {
    let taken = spotting
        .patches
        .iter()
        .filter(|patch| spotting.takes(patch));
    ui.label(words::places_of(taken.count(), spotting.patches.len()));
    let mut refused = None;
    for (number, patch) in spotting.patches.iter().enumerate().take(LISTED) {
        ui.horizontal(|ui| {
            let name = words::spot(number + 1);
            ui.label(said(&name, patch));
            let show = ui.small_button(words::SHOW);
            if show.clicked() {
                card.show(place(Some(middle_of(patch))));
            }
            let _named = show.accessible_name(format!("{} {name}", words::SHOW));
            let refuse = ui.small_button(words::REFUSE);
            if refuse.clicked() {
                refused = Some(number);
            }
            let _named = refuse.accessible_name(words::refuse(&name));
        });
    }
    if let Some(number) = refused {
        let mut spotting = spotting.clone();
        spotting.patches.remove(number);
        card.edit(set(plate, step, StepKind::Spotting(spotting)));
    }
}

fn said(name: &str, patch: &Patch) -> String {
    patch.confidence.map_or_else(
        || words::set_by_hand(name),
        |confidence| words::found_with(name, confidence),
    )
}

/// Whether a warp stretches too much, or cannot be carried out at all.
fn stretch(ui: &mut Ui, card: &mut Card<'_>, (plate, step): (&Plate, &Step)) {
    let Some(found) = stretch_of(plate, step) else {
        card.finding(ui, words::WARP_CANNOT, None);
        return;
    };
    if let Some(at) = found.beyond {
        card.finding(ui, &words::stretched(found.most), Some(place(Some(at))));
    }
    if found.folds {
        card.finding(ui, words::WARP_FOLDS, None);
    }
}
