//! The card of the matte: how a plate is cut out.

use crate::pixels::convert::narrow;
use crate::project::{
    Edit, Mask, MaskId, Matte, MatteMethod, PassRole, Plate, PlateEdit, Step, StepId, StepKind,
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
        MatteMethod::Drawn | MatteMethod::Plain { .. } | MatteMethod::TwoLevels { .. } => {
            (0.04, 0.92)
        }
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

/// Edge and holes before a plain backdrop.
const PLAIN: [Knob<Matte>; 3] = [
    Knob {
        text: words::EDGE_WIDTH,
        reach: Reach::new(0.3, 4.0, 0.8, 1),
        get: |matte| plain(matte)[0],
        set: |matte, value| set_plain(matte, 0, value),
    },
    Knob {
        text: words::LARGEST_HOLE,
        reach: Reach::new(0.0, 10.0, 1.0, 2),
        get: |matte| plain(matte)[1] * 100.0,
        set: |matte, value| set_plain(matte, 1, value / 100.0),
    },
    Knob {
        text: words::LEAST_DIFFERENCE,
        reach: Reach::new(0.005, 0.5, 0.03, 3),
        get: |matte| plain(matte)[2],
        set: |matte, value| set_plain(matte, 2, value),
    },
];

/// Edge, hole and difference of a plain backdrop's matte.
fn plain(matte: &Matte) -> [f64; 3] {
    match matte.method {
        MatteMethod::Plain {
            edge_px,
            hole_share,
            least,
            ..
        } => [edge_px, hole_share, least].map(f64::from),
        MatteMethod::Drawn | MatteMethod::Silhouette { .. } | MatteMethod::TwoLevels { .. } => {
            [0.8, 0.01, 0.03]
        }
    }
}

fn set_plain(matte: &mut Matte, number: usize, value: f64) {
    if let MatteMethod::Plain {
        edge_px,
        hole_share,
        least,
        ..
    } = &mut matte.method
    {
        *[edge_px, hole_share, least][number] = narrow(value);
    }
}

/// Shows the card.
pub(in crate::window) fn ui(ui: &mut Ui, card: &mut Card<'_>, plate: &Plate) {
    let found = plate
        .steps
        .iter()
        .find_map(|step| Some((step, step.kind.matte()?)));
    mask::leave_others(card, plate, found.and_then(|(step, _matte)| step.mask));
    let ways = ways(plate);
    let Some((step, matte)) = found else {
        begin(ui, card, (plate, &ways));
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
    method(ui, card, (plate, step, matte), &ways);
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
    if matches!(matte.method, MatteMethod::Plain { .. }) {
        card.knobs(ui, (&PLAIN, ""), matte, edit);
    }
    card.knobs(ui, (&EDGE, ""), matte, edit);
    if clean_edge(ui, matte) {
        let mut set = matte.clone();
        set.clean_edge = !matte.clean_edge;
        card.edit(edit(set));
    }
    drawn_mattes(ui, card, (plate, step, matte));
    mask_of(ui, card, (plate, step, matte));
}

/// Whether the edge's colour is cleaned, where the method knows the backdrop; true when it was switched.
fn clean_edge(ui: &mut Ui, matte: &Matte) -> bool {
    let known = matches!(
        matte.method,
        MatteMethod::Plain { .. } | MatteMethod::TwoLevels { .. }
    );
    known
        && (Switch {
            on: matte.clean_edge,
            name: words::CLEAN_EDGE,
            hover: words::CLEAN_EDGE_HOVER,
        })
        .ui(ui)
}

/// The mask that cuts the plate out, or keeps a silhouette to its place.
fn mask_of(ui: &mut Ui, card: &mut Card<'_>, (plate, step, matte): (&Plate, &Step, &Matte)) {
    part(ui, words::MATTE_MASK);
    ui.weak(match matte.method {
        MatteMethod::Drawn => words::DRAWN_MASK_SAYS,
        MatteMethod::Silhouette { .. }
        | MatteMethod::Plain { .. }
        | MatteMethod::TwoLevels { .. } => words::GARBAGE_MASK_SAYS,
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

/// The core and holdout mattes.
fn drawn_mattes(ui: &mut Ui, card: &mut Card<'_>, (plate, step, matte): (&Plate, &Step, &Matte)) {
    let mut all = vec![(None, words::NO_DRAWN_MATTE.to_owned())];
    all.extend(
        plate
            .masks
            .iter()
            .map(|mask| (Some(mask.id), mask.name.clone())),
    );
    let mut set = matte.clone();
    for (text, is_core) in [(&words::CORE_MATTE, true), (&words::HOLDOUT_MATTE, false)] {
        ui.horizontal(|ui| {
            let now = if is_core { matte.core } else { matte.holdout };
            if let Some(chosen) = choice(ui, (text, ""), now, &all) {
                if is_core {
                    set.core = chosen;
                } else {
                    set.holdout = chosen;
                }
            }
        });
    }
    if set != *matte {
        let kind = StepKind::Matte(set);
        card.plate_edit(
            plate.id,
            PlateEdit::SetStep(Step {
                kind,
                ..step.clone()
            }),
        );
    }
}

/// A way of cutting a plate out, and what it is called.
type Way = (MatteMethod, String);

/// The ways that a plate's passes allow, besides a drawn mask.
fn ways(plate: &Plate) -> Vec<Way> {
    let of_role = |role: PassRole| plate.passes.iter().filter(move |pass| pass.role == role);
    let first = |role: PassRole| of_role(role).next().map(|pass| pass.id);
    let mut ways: Vec<Way> = of_role(PassRole::Silhouette)
        .map(|pass| (Matte::silhouette(pass.id).method, words::cut_by(&pass.name)))
        .collect();
    if plate.stack().is_none() {
        return ways;
    }
    ways.push((MatteMethod::plain(None), words::CUT_PLAIN.to_owned()));
    let clean = first(PassRole::CleanPlate);
    if clean.is_some() {
        ways.push((MatteMethod::plain(clean), words::CUT_CLEAN.to_owned()));
    }
    let other = (
        first(PassRole::Backdrop),
        first(PassRole::BackdropCleanPlate),
    );
    if let (Some(clean), (Some(other), Some(other_clean))) = (clean, other) {
        let method = MatteMethod::TwoLevels {
            other,
            clean,
            other_clean,
        };
        ways.push((method, words::CUT_TWO_LEVELS.to_owned()));
    }
    ways
}

/// Whether two methods go the same way, whatever their settings.
fn same_way(one: &MatteMethod, other: &MatteMethod) -> bool {
    std::mem::discriminant(one) == std::mem::discriminant(other)
        && one.passes_used().eq(other.passes_used())
}

/// Where there is no matte yet: the ways to begin one.
fn begin(ui: &mut Ui, card: &mut Card<'_>, (plate, ways): (&Plate, &[Way])) {
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
            kind: StepKind::Matte(Matte::new(MatteMethod::Drawn)),
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
    for (method, name) in ways {
        if ui.button(name).clicked() {
            let step = Step {
                id: StepId(card.look.session.next_id()),
                on: true,
                mask: None,
                kind: StepKind::Matte(Matte::new(method.clone())),
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
    ways: &[Way],
) {
    let now = ways
        .iter()
        .position(|(way, _)| same_way(way, &matte.method));
    let mut all = vec![(None, words::DRAWN.to_owned())];
    all.extend(
        ways.iter()
            .enumerate()
            .map(|(at, (_, name))| (Some(at), name.clone())),
    );
    ui.horizontal(|ui| {
        let Some(chosen) = choice(ui, (&words::METHOD, ""), now, &all) else {
            return;
        };
        let chosen = chosen.and_then(|at| ways.get(at));
        let method = chosen.map_or(MatteMethod::Drawn, |(way, _)| way.clone());
        let kind = StepKind::Matte(Matte {
            clean_edge: Matte::new(method.clone()).clean_edge,
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
