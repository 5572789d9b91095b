//! The part of a card about a mask: which one, what to draw with, what was drawn.

use crate::pixels::convert::narrow;
use crate::project::{Edit, Mask, MaskId, MaskPart, Plate, PlateEdit, PlateId, Shape, Sign};
use crate::window::gestures::stroke::RADIUS_PX;
use crate::window::queue::{Drawing, ShownPlace, Tool};
use crate::window::step_cards::field::{self, Knob, Reach};
use crate::window::step_cards::{Card, Switch, choice, mask_rules};
use crate::window::words::card as words;
use egui::Ui;
use std::sync::Arc;

/// How the next stroke is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Brush {
    radius_px: f32,
    softness: f32,
    strength: f32,
    sign: Sign,
}

impl Default for Brush {
    fn default() -> Self {
        Self {
            radius_px: 24.0,
            softness: 0.3,
            strength: 1.0,
            sign: Sign::Add,
        }
    }
}

const BRUSH: [Knob<Brush>; 3] = [
    Knob {
        text: words::RADIUS,
        reach: Reach::new(RADIUS_PX.0 as f64, RADIUS_PX.1 as f64, 24.0, 1),
        get: |brush| f64::from(brush.radius_px),
        set: |brush, value| brush.radius_px = narrow(value),
    },
    Knob {
        text: words::SOFTNESS,
        reach: Reach::new(0.0, 1.0, 0.3, 2),
        get: |brush| f64::from(brush.softness),
        set: |brush, value| brush.softness = narrow(value),
    },
    Knob {
        text: words::DRAWN_STRENGTH,
        reach: Reach::new(0.0, 1.0, 1.0, 2),
        get: |brush| f64::from(brush.strength),
        set: |brush, value| brush.strength = narrow(value),
    },
];

const MASK: [Knob<Mask>; 2] = [
    Knob {
        text: words::GROW,
        reach: Reach::new(-200.0, 200.0, 0.0, 1),
        get: |mask| f64::from(mask.grow_px),
        set: |mask, value| mask.grow_px = narrow(value),
    },
    Knob {
        text: words::MASK_FEATHER,
        reach: Reach::new(0.0, 500.0, 0.0, 1),
        get: |mask| f64::from(mask.feather_px),
        set: |mask, value| mask.feather_px = narrow(value),
    },
];

const PART_STRENGTH: Reach = Reach::new(0.0, 1.0, 1.0, 2);

/// Chooses the mask that something acts through; gives the edit that `set` makes of the choice. A new mask and its use are one
/// edit.
pub(super) fn choose(
    ui: &mut Ui,
    card: &mut Card<'_>,
    (plate, of): (&Plate, &str),
    now: Option<MaskId>,
    set: impl Fn(Option<MaskId>) -> PlateEdit,
) {
    ui.horizontal_wrapped(|ui| {
        let mut all = vec![(None, words::EVERYWHERE.to_owned())];
        all.extend(
            plate
                .masks
                .iter()
                .map(|mask| (Some(mask.id), mask.name.clone())),
        );
        if let Some(chosen) = choice(ui, (&words::ACTS_THROUGH, of), now, &all) {
            card.plate_edit(plate.id, set(chosen));
        }
        let button = ui.button(words::NEW_MASK);
        if button.clicked() {
            let mask = Mask::new(
                MaskId(card.look.session.next_id()),
                words::mask_for(of, plate.masks.len()),
            );
            let id = mask.id;
            let edits = vec![
                Edit::Plate(plate.id, PlateEdit::AddMask(Arc::new(mask))),
                Edit::Plate(plate.id, set(Some(id))),
            ];
            card.edit(Edit::All {
                name: words::mask_added(of),
                edits,
            });
        }
        let _named = button.accessible_name(format!("{} {of}", words::NEW_MASK_FOR));
    });
}

/// Shows a mask: tools, settings, parts.
pub(super) fn ui(ui: &mut Ui, card: &mut Card<'_>, plate: &Plate, id: MaskId) {
    let Some(mask) = plate.mask(id) else {
        return;
    };
    ui.horizontal(|ui| {
        let called = words::NAME_OF_MASK;
        card.name(ui, (called, &mask.name), |name| {
            set_mask(
                plate.id,
                &Mask {
                    name,
                    ..Mask::clone(mask)
                },
            )
        });
        let button = ui.small_button(words::REMOVE);
        if button.clicked() {
            card.draw(None);
            card.plate_edit(plate.id, PlateEdit::RemoveMask(id));
        }
        let _named = button.accessible_name(words::remove(&mask.name));
    });
    tools(ui, card, (plate, mask));
    mask_rules::add(ui, card, (plate, mask));
    parts(ui, card, (plate, mask));
    card.knobs(ui, (&MASK, ""), mask.as_ref(), |mask| {
        set_mask(plate.id, &mask)
    });
    if (Switch {
        on: mask.inverted,
        name: words::INVERTED,
        hover: words::INVERTED_HOVER,
    })
    .ui(ui)
    {
        let mut set = Mask::clone(mask);
        set.inverted = !mask.inverted;
        card.edit(set_mask(plate.id, &set));
    }
}

fn set_mask(plate: PlateId, mask: &Mask) -> Edit {
    Edit::Plate(plate, PlateEdit::SetMask(Arc::new(mask.clone())))
}

fn tools(ui: &mut Ui, card: &mut Card<'_>, (plate, mask): (&Plate, &Mask)) {
    let drawing = card
        .look
        .drawing
        .filter(|drawing| drawing.plate == plate.id && drawing.mask == Some(mask.id));
    if let Some(drawing) = drawing {
        // Keys in the picture can have changed it.
        card.state.brush = Brush {
            radius_px: drawing.radius_px,
            softness: drawing.softness,
            strength: drawing.strength,
            sign: drawing.sign,
        };
    }
    let mut brush = card.state.brush;
    let mut tool = drawing.map(|drawing| drawing.tool);
    ui.horizontal_wrapped(|ui| {
        for (one, word, hover) in words::TOOLS {
            let chosen = tool == Some(one);
            if ui
                .selectable_label(chosen, word)
                .on_hover_text(hover)
                .clicked()
            {
                tool = (!chosen).then_some(one);
            }
        }
    });
    ui.horizontal(|ui| {
        for (sign, word) in words::SIGNS {
            if ui.radio(brush.sign == sign, word).clicked() {
                brush.sign = sign;
            }
        }
    });
    for knob in &BRUSH {
        let now = (knob.get)(&brush);
        if let Some(turned) = field::number(ui, (&knob.text, ""), &knob.reach, now) {
            (knob.set)(&mut brush, turned.value);
        }
    }
    if let Some(tool) = tool {
        ui.weak(words::tool_help(tool));
    }
    card.state.brush = brush;
    let wanted = tool.map(|tool| Drawing {
        plate: plate.id,
        mask: Some(mask.id),
        tool,
        radius_px: brush.radius_px,
        softness: brush.softness,
        strength: brush.strength,
        sign: brush.sign,
    });
    if wanted != drawing {
        card.draw(wanted);
    }
}

fn parts(ui: &mut Ui, card: &mut Card<'_>, (plate, mask): (&Plate, &Mask)) {
    if mask.parts.is_empty() {
        ui.weak(words::NOTHING_DRAWN);
        return;
    }
    for (index, part) in mask.parts.iter().enumerate() {
        let name = words::part_named(index + 1, part);
        ui.horizontal(|ui| {
            let mut on = part.on;
            let check = ui
                .checkbox(&mut on, &name)
                .on_hover_text(words::PART_ON_HOVER);
            if check.changed() {
                let set = MaskPart {
                    on,
                    ..MaskPart::clone(part)
                };
                card.edit(set_part(plate.id, mask.id, &set));
            }
            let button = ui.small_button(words::SHOW_ME);
            if button.clicked()
                && let Some(at) = place_of(part)
            {
                card.show(ShownPlace {
                    frame: None,
                    at: Some(at),
                });
            }
            let _named = button.accessible_name(format!("{} {name}", words::SHOW));
            let button = ui.small_button(words::REMOVE);
            if button.clicked() {
                card.plate_edit(plate.id, PlateEdit::RemovePart(mask.id, part.id));
            }
            let _named = button.accessible_name(words::remove(&name));
        });
        let strength = (&words::PART_STRENGTH, name.as_str());
        let now = f64::from(part.strength);
        if let Some(turned) = field::number(ui, strength, &PART_STRENGTH, now) {
            let mut set = MaskPart::clone(part);
            set.strength = narrow(turned.value);
            card.turn(turned, set_part(plate.id, mask.id, &set));
        }
        mask_rules::part(ui, card, (plate, mask), (part, &name));
    }
}

fn set_part(plate: PlateId, mask: MaskId, part: &MaskPart) -> Edit {
    Edit::Plate(plate, PlateEdit::SetPart(mask, Arc::new(part.clone())))
}

fn place_of(part: &MaskPart) -> Option<crate::geometry::Point> {
    match &part.shape {
        Shape::Stroke { points, .. } => points.get(points.len() / 2).copied(),
        Shape::Outline { nodes, .. } => nodes.first().map(|node| node.at),
        Shape::Rule(_) => None,
    }
}

/// Ends drawing into another plate's mask or a mask that is not shown here.
pub(super) fn leave_others(card: &mut Card<'_>, plate: &Plate, shown: Option<MaskId>) {
    let elsewhere = card.look.drawing.is_some_and(|drawing| {
        drawing.tool != Tool::Grey && (drawing.plate != plate.id || drawing.mask != shown)
    });
    if elsewhere {
        card.draw(None);
    }
}
