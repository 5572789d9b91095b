//! The card of warps: strakes, handles, corners, and how far they stretch the plate.

use crate::pixels::convert::narrow;
use crate::project::{PatchFrom, Plate, Step, StepKind, Warp, WarpKind};
use crate::session::spotting::{WarpStretch, moves, stretch_of};
use crate::window::queue::{Adding, HandTool, Heals, ShownPlace};
use crate::window::step_cards::field::{Knob, Reach};
use crate::window::step_cards::spotting::{head, set};
use crate::window::step_cards::{Card, Switch, part};
use crate::window::words::card as words;
use egui::Ui;

/// How a warp dies away.
const SOFT: [Knob<Warp>; 1] = [Knob {
    text: words::WARP_SOFT,
    reach: Reach::new(1.0, 500.0, 60.0, 0),
    get: |warp| f64::from(warp.soft_px),
    set: |warp, value| warp.soft_px = narrow(value),
}];

/// Shows the card.
pub(in crate::window) fn ui(ui: &mut Ui, card: &mut Card<'_>, plate: &Plate) {
    let tools = [
        HandTool::Strake,
        HandTool::Handle,
        HandTool::Straight,
        HandTool::Lock,
        HandTool::Corners,
    ];
    let adding = |tool| Adding {
        plate: plate.id,
        tool,
        to: Heals::Spotting,
        from: PatchFrom::Surroundings,
        radius_px: 1.0,
    };
    card.tools(ui, tools.map(adding));
    for step in &plate.steps {
        if let StepKind::Warp(warp) = &step.kind {
            one(ui, card, (plate, step, warp));
        }
    }
}

fn one(ui: &mut Ui, card: &mut Card<'_>, (plate, step, warp): (&Plate, &Step, &Warp)) {
    let name = words::warp(warp.kind.word());
    part(ui, &name);
    head(ui, card, (plate, step), &name);
    card.knobs(ui, (&SOFT, &name), warp, |warp| {
        set(plate, step, StepKind::Warp(warp))
    });
    if let WarpKind::Strake {
        kept,
        was,
        now,
        covers,
    } = &warp.kind
        && (Switch {
            on: *covers,
            name: words::COVERS,
            hover: words::COVERS_HOVER,
        })
        .ui(ui)
    {
        let kind = WarpKind::Strake {
            kept: kept.clone(),
            was: was.clone(),
            now: now.clone(),
            covers: !covers,
        };
        let warp = Warp {
            kind,
            ..warp.clone()
        };
        card.edit(set(plate, step, StepKind::Warp(warp)));
    }
    if moves(step) {
        stretch(ui, card, (plate, step));
    } else {
        ui.label(words::NO_HANDLES);
    }
}

/// Whether a warp stretches too much, or cannot be carried out at all.
fn stretch(ui: &mut Ui, card: &mut Card<'_>, (plate, step): (&Plate, &Step)) {
    let Some(found) = measured(card, plate, step) else {
        card.finding(ui, words::WARP_CANNOT, None);
        return;
    };
    ui.label(words::stretches(found.most));
    if let Some(at) = found.beyond {
        let place = ShownPlace {
            frame: None,
            at: Some(at),
        };
        card.finding(ui, &words::stretched(found.most), Some(place));
    }
    if found.folds {
        card.finding(ui, words::WARP_FOLDS, None);
    }
}

/// What a warp does at worst; looked at again only when it changed.
fn measured(card: &mut Card<'_>, plate: &Plate, step: &Step) -> Option<WarpStretch> {
    let known = card.state.stretches.iter().find(|(of, _)| of == step);
    if let Some((_, found)) = known {
        return *found;
    }
    let found = stretch_of(plate, step);
    card.state.stretches.retain(|(of, _)| of.id != step.id);
    card.state.stretches.push((step.clone(), found));
    found
}
