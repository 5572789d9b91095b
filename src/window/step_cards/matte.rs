//! The card of the matte: how a plate is cut out.

use crate::pixels::convert::narrow;
use crate::project::{
    Edit, Mask, MaskId, Matte, MatteMethod, PassId, PassRole, Plate, PlateEdit, Step, StepId,
    StepKind,
};
use crate::window::step_cards::field::{Knob, Reach};
use crate::window::step_cards::{Card, Switch, choice, mask, part};
use crate::window::words::card as words;
use egui::Ui;
use std::sync::Arc;

const EDGE: [Knob<Matte>; 2] = [
    Knob {
        text: words::SPREAD,
        reach: Reach::new(-20.0, 20.0, 0.0, 1),
        get: |matte| f64::from(matte.spread_px),
        set: |matte, value| matte.spread_px = narrow(value),
    },
    Knob {
        text: words::MATTE_FEATHER,
        reach: Reach::new(0.0, 20.0, 0.0, 1),
        get: |matte| f64::from(matte.feather_px),
        set: |matte, value| matte.feather_px = narrow(value),
    },
];

/// Levels of a silhouette matte, in percent of the backdrop's light.
const LEVELS: [Knob<Matte>; 2] = [
    Knob {
        text: words::SOLID_BELOW,
        reach: Reach::new(0.0, 50.0, 4.0, 1),
        get: |matte| levels(matte).0 * 100.0,
        set: |matte, value| set_levels(matte, (value / 100.0, levels(matte).1)),
    },
    Knob {
        text: words::CLEAR_ABOVE,
        reach: Reach::new(50.0, 100.0, 92.0, 1),
        get: |matte| levels(matte).1 * 100.0,
        set: |matte, value| set_levels(matte, (levels(matte).0, value / 100.0)),
    },
];

fn levels(matte: &Matte) -> (f64, f64) {
    match matte.method {
        MatteMethod::Silhouette {
            solid_below,
            clear_above,
            ..
        } => (f64::from(solid_below), f64::from(clear_above)),
        MatteMethod::Drawn => (0.04, 0.92),
    }
}

fn set_levels(matte: &mut Matte, (solid, clear): (f64, f64)) {
    if let MatteMethod::Silhouette {
        solid_below,
        clear_above,
        ..
    } = &mut matte.method
    {
        (*solid_below, *clear_above) = (narrow(solid), narrow(clear));
    }
}

/// Shows the card.
pub(in crate::window) fn ui(ui: &mut Ui, card: &mut Card<'_>, plate: &Plate) {
    let found = plate.steps.iter().find_map(|step| match &step.kind {
        StepKind::Matte(matte) => Some((step, matte)),
        StepKind::Grade(_) => None,
    });
    mask::leave_others(card, plate, found.and_then(|(step, _matte)| step.mask));
    let silhouettes: Vec<(PassId, String)> = plate
        .passes
        .iter()
        .filter(|pass| pass.role == PassRole::Silhouette)
        .map(|pass| (pass.id, pass.name.clone()))
        .collect();
    let Some((step, matte)) = found else {
        begin(ui, card, (plate, &silhouettes));
        return;
    };
    ui.horizontal(|ui| {
        if (Switch {
            on: step.on,
            name: words::MATTE_ON,
            hover: words::STEP_ON_HOVER,
        })
        .ui(ui)
        {
            let mut set = step.clone();
            set.on = !step.on;
            card.plate_edit(plate.id, PlateEdit::SetStep(set));
        }
        if ui.small_button(words::REMOVE_MATTE).clicked() {
            card.draw(None);
            card.plate_edit(plate.id, PlateEdit::RemoveStep(step.id));
        }
    });
    method(ui, card, (plate, step, matte), &silhouettes);
    let id = plate.id;
    let edit = |matte: Matte| {
        let kind = StepKind::Matte(matte);
        Edit::Plate(
            id,
            PlateEdit::SetStep(Step {
                kind,
                ..step.clone()
            }),
        )
    };
    if matches!(matte.method, MatteMethod::Silhouette { .. }) {
        card.knobs(ui, (&LEVELS, ""), matte, edit);
    }
    card.knobs(ui, (&EDGE, ""), matte, edit);
    mask_of(ui, card, (plate, step, matte));
}

/// The mask that cuts the plate out, or keeps a silhouette to its place.
fn mask_of(ui: &mut Ui, card: &mut Card<'_>, (plate, step, matte): (&Plate, &Step, &Matte)) {
    part(ui, words::MATTE_MASK);
    ui.weak(match matte.method {
        MatteMethod::Drawn => words::DRAWN_MASK_SAYS,
        MatteMethod::Silhouette { .. } => words::GARBAGE_MASK_SAYS,
    });
    mask::choose(ui, card, (plate, words::MATTE_OF), step.mask, |mask| {
        PlateEdit::SetStep(Step {
            mask,
            ..step.clone()
        })
    });
    if let Some(mask) = step.mask {
        mask::ui(ui, card, plate, mask);
    }
}

/// Where there is no matte yet: the ways to begin one.
fn begin(ui: &mut Ui, card: &mut Card<'_>, (plate, silhouettes): (&Plate, &[(PassId, String)])) {
    ui.label(words::NO_MATTE);
    if ui
        .button(words::DRAW_MATTE)
        .on_hover_text(words::DRAW_MATTE_HOVER)
        .clicked()
    {
        let next = card.look.session.next_id();
        let mask = Mask::new(
            MaskId(next),
            words::mask_for(words::MATTE_OF, plate.masks.len()),
        );
        let step = Step {
            id: StepId(next + 1),
            on: true,
            mask: Some(mask.id),
            kind: StepKind::Matte(Matte {
                method: MatteMethod::Drawn,
                spread_px: 0.0,
                feather_px: 0.0,
            }),
        };
        let edits = vec![
            Edit::Plate(plate.id, PlateEdit::AddMask(Arc::new(mask))),
            Edit::Plate(plate.id, PlateEdit::AddStep { step, at: 0 }),
        ];
        card.edit(Edit::All {
            name: words::MATTE_BEGUN.to_owned(),
            edits,
        });
    }
    for (pass, name) in silhouettes {
        if ui.button(words::cut_by(name)).clicked() {
            let step = Step {
                id: StepId(card.look.session.next_id()),
                on: true,
                mask: None,
                kind: StepKind::Matte(Matte::silhouette(*pass)),
            };
            card.plate_edit(plate.id, PlateEdit::AddStep { step, at: 0 });
            card.follow_up(plate);
        }
    }
}

fn method(
    ui: &mut Ui,
    card: &mut Card<'_>,
    (plate, step, matte): (&Plate, &Step, &Matte),
    silhouettes: &[(PassId, String)],
) {
    let now = match matte.method {
        MatteMethod::Drawn => None,
        MatteMethod::Silhouette { pass, .. } => Some(pass),
    };
    let mut all = vec![(None, words::DRAWN.to_owned())];
    all.extend(
        silhouettes
            .iter()
            .map(|(pass, name)| (Some(*pass), words::cut_by(name))),
    );
    ui.horizontal(|ui| {
        let Some(chosen) = choice(ui, (&words::METHOD, ""), now, &all) else {
            return;
        };
        let method = chosen.map_or(MatteMethod::Drawn, |pass| Matte::silhouette(pass).method);
        let kind = StepKind::Matte(Matte {
            method,
            ..matte.clone()
        });
        card.plate_edit(
            plate.id,
            PlateEdit::SetStep(Step {
                kind,
                ..step.clone()
            }),
        );
        card.follow_up(plate);
    });
}
