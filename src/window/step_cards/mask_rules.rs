//! The part of a mask's card about its rules: ranges of brightness, colour and depth, other masks; and how a part joins the others.

use crate::pixels::convert::narrow;
use crate::project::{
    Edit, Mask, MaskId, MaskPart, PartId, Plate, PlateEdit, PlateId, RangeOf, Rule, Shape, Sign,
};
use crate::window::step_cards::field::{Knob, Reach};
use crate::window::step_cards::{Card, choice};
use crate::window::words::card as words;
use egui::Ui;
use std::sync::Arc;

/// Three numbers of a range, whatever it is of.
#[derive(Debug, Clone, Copy)]
struct Range {
    low: f64,
    high: f64,
    soft: f64,
}

const fn knob(
    text: super::field::Text,
    usual: f64,
    get: fn(&Range) -> f64,
    set: fn(&mut Range, f64),
) -> Knob<Range> {
    Knob {
        text,
        reach: Reach::new(0.0, 1.0, usual, 3),
        get,
        set,
    }
}

const RANGE: [Knob<Range>; 3] = [
    knob(
        words::RANGE_FROM,
        0.5,
        |range| range.low,
        |range, value| range.low = value,
    ),
    knob(
        words::RANGE_TO,
        1.0,
        |range| range.high,
        |range, value| range.high = value,
    ),
    knob(
        words::RANGE_SOFT,
        0.1,
        |range| range.soft,
        |range, value| range.soft = value,
    ),
];

/// A colour range reaches from the picked colour on.
const COLOUR: [Knob<Range>; 2] = [
    knob(
        words::COLOUR_REACH,
        0.03,
        |range| range.high,
        |range, value| range.high = value,
    ),
    knob(
        words::RANGE_SOFT,
        0.02,
        |range| range.soft,
        |range, value| range.soft = value,
    ),
];

/// Shows the buttons that add rules.
pub(super) fn add(ui: &mut Ui, card: &mut Card<'_>, (plate, mask): (&Plate, &Mask)) {
    ui.horizontal_wrapped(|ui| {
        if ui.small_button(words::ADD_BRIGHTNESS).clicked() {
            let rule = Rule::Brightness {
                of: RangeOf::Plate,
                low: 0.5,
                high: 1.0,
                soft: 0.1,
            };
            card.edit(add_rule(card, (plate.id, mask.id), rule));
        }
        if ui.small_button(words::ADD_COLOUR).clicked() {
            let rule = Rule::Colour {
                of: RangeOf::Plate,
                picked_rgb: [1.0, 0.75, 0.5],
                reach: 0.03,
                soft: 0.02,
            };
            card.edit(add_rule(card, (plate.id, mask.id), rule));
        }
        if plate.stack().is_some() && ui.small_button(words::ADD_DEPTH).clicked() {
            let rule = Rule::Depth {
                near: 0.0,
                far: 0.5,
                soft: 0.1,
            };
            card.edit(add_rule(card, (plate.id, mask.id), rule));
        }
        let fits =
            |other: &&Arc<Mask>| other.id != mask.id && !plate.mask_is_within(mask.id, other);
        for other in plate.masks.iter().filter(fits) {
            if ui.small_button(words::add_mask(&other.name)).clicked() {
                let rule = Rule::Mask { mask: other.id };
                card.edit(add_rule(card, (plate.id, mask.id), rule));
            }
        }
    });
}

fn add_rule(card: &Card<'_>, (plate, mask): (PlateId, MaskId), rule: Rule) -> Edit {
    let part = MaskPart {
        id: PartId(card.look.session.next_id()),
        sign: Sign::Add,
        strength: 1.0,
        on: true,
        shape: Shape::Rule(rule),
    };
    Edit::Plate(plate, PlateEdit::AddPart(mask, Arc::new(part)))
}

/// Shows how a part joins the ones before it, and a rule's values.
pub(super) fn part(
    ui: &mut Ui,
    card: &mut Card<'_>,
    (plate, mask): (&Plate, &Mask),
    (part, name): (&MaskPart, &str),
) {
    let set = |part: MaskPart| Edit::Plate(plate.id, PlateEdit::SetPart(mask.id, Arc::new(part)));
    ui.horizontal(|ui| {
        let all = words::JOINS.map(|(sign, word)| (sign, word.to_owned()));
        if let Some(sign) = choice(ui, (&words::JOINS_BY, name), part.sign, &all) {
            card.edit(set(MaskPart {
                sign,
                ..part.clone()
            }));
        }
    });
    let Shape::Rule(rule) = &part.shape else {
        return;
    };
    let with = |rule: Rule| {
        set(MaskPart {
            shape: Shape::Rule(rule),
            ..part.clone()
        })
    };
    if let Some(of) = looks_at(rule) {
        ui.horizontal(|ui| {
            let mut all = vec![(RangeOf::Plate, words::OF_PLATE.to_owned())];
            let light = |pass: &crate::project::Pass| {
                (RangeOf::Light(pass.id), words::of_light(&pass.name))
            };
            all.extend(plate.passes.iter().map(light));
            if let Some(of) = choice(ui, (&words::RANGE_OF, name), of, &all) {
                card.edit(with(looking_at(rule, of)));
            }
        });
    }
    if let Some((range, knobs)) = numbers(rule) {
        card.knobs(ui, (knobs, name), &range, |range| {
            with(turned(rule, &range))
        });
    }
}

const fn looks_at(rule: &Rule) -> Option<RangeOf> {
    match rule {
        Rule::Brightness { of, .. } | Rule::Colour { of, .. } => Some(*of),
        Rule::Depth { .. } | Rule::Mask { .. } => None,
    }
}

fn looking_at(rule: &Rule, wanted: RangeOf) -> Rule {
    let mut rule = rule.clone();
    if let Rule::Brightness { of, .. } | Rule::Colour { of, .. } = &mut rule {
        *of = wanted;
    }
    rule
}

fn numbers(rule: &Rule) -> Option<(Range, &'static [Knob<Range>])> {
    let range = |low: f32, high: f32, soft: f32| Range {
        low: f64::from(low),
        high: f64::from(high),
        soft: f64::from(soft),
    };
    match rule {
        Rule::Brightness {
            low, high, soft, ..
        } => Some((range(*low, *high, *soft), &RANGE)),
        Rule::Depth { near, far, soft } => Some((range(*near, *far, *soft), &RANGE)),
        Rule::Colour { reach, soft, .. } => Some((range(0.0, *reach, *soft), &COLOUR)),
        Rule::Mask { .. } => None,
    }
}

fn turned(rule: &Rule, range: &Range) -> Rule {
    let mut rule = rule.clone();
    match &mut rule {
        Rule::Brightness {
            low, high, soft, ..
        }
        | Rule::Depth {
            near: low,
            far: high,
            soft,
        } => {
            (*low, *high, *soft) = (narrow(range.low), narrow(range.high), narrow(range.soft));
        }
        Rule::Colour { reach, soft, .. } => {
            (*reach, *soft) = (narrow(range.high), narrow(range.soft));
        }
        Rule::Mask { .. } => {}
    }
    rule
}
