//! The lights desk: passes, and a fader for each practical group.

use crate::geometry::Point;
use crate::pixels::convert::narrow;
use crate::project::{
    Edit, GroupId, KeyLight, LayOver, Pass, PassId, PassRole, Plate, PlateEdit, PracticalGroup,
    TakeFrame,
};
use crate::session::jobs::Work;
use crate::window::queue::{Ask, Doubled, ShownPlace};
use crate::window::step_cards::field::{Knob, Reach};
use crate::window::step_cards::{Card, Switch, choice, lamp_colour, lamps, mask, part};
use crate::window::words::card as words;
use egui::Ui;

const KNOBS: [Knob<PracticalGroup>; 1] = [Knob {
    text: words::GROUP_STRENGTH,
    reach: Reach::new(-8.0, 6.0, 0.0, 2),
    get: |group| f64::from(group.stops),
    set: |group, value| group.stops = narrow(value),
}];

const GLOW: [Knob<PracticalGroup>; 2] = [
    Knob {
        text: words::GLOW_SIZE,
        reach: Reach::new(0.0, 400.0, 0.0, 1),
        get: |group| f64::from(group.glow_px),
        set: |group, value| group.glow_px = narrow(value),
    },
    Knob {
        text: words::GLOW_SHARE,
        reach: Reach::new(0.0, 100.0, 0.0, 1),
        get: |group| f64::from(group.glow_share) * 100.0,
        set: |group, value| group.glow_share = narrow(value / 100.0),
    },
];

/// A group's glow and the width of its plate in pixels, for sizes that are said as a share of it.
#[derive(Debug, Clone)]
struct OnPlate {
    group: PracticalGroup,
    width: f64,
}

const GLOW_OF_PLATE: [Knob<OnPlate>; 1] = [Knob {
    text: words::GLOW_OF_PLATE,
    reach: Reach::new(0.0, 20.0, 0.0, 2),
    get: |on| f64::from(on.group.glow_px) / on.width * 100.0,
    set: |on, value| on.group.glow_px = narrow(value / 100.0 * on.width),
}];

/// Deviations by which the noise of a new group's light is shrunk.
const USUAL_DENOISE: f32 = 2.0;

/// Shows the card.
pub(in crate::window) fn ui(ui: &mut Ui, card: &mut Card<'_>, plate: &Plate) {
    let shown = card
        .state
        .group
        .and_then(|id| plate.groups.iter().find(|group| group.id == id))
        .and_then(|group| group.mask);
    mask::leave_others(card, plate, shown);
    let light = |pass: &&Pass| pass.role == PassRole::Light;
    if !plate.passes.iter().any(|pass| light(&pass)) {
        ui.label(words::NO_LIGHT_PASS);
    }
    for pass in plate.passes.iter().filter(light) {
        self::pass(ui, card, (plate, pass));
    }
    for group in &plate.groups {
        self::group(ui, card, (plate, group));
    }
}

fn pass(ui: &mut Ui, card: &mut Card<'_>, (plate, pass): (&Plate, &Pass)) {
    ui.horizontal_wrapped(|ui| {
        ui.label(words::pass_named(&pass.name));
        let all = [
            KeyLight::Auto,
            KeyLight::On,
            KeyLight::Dimmed,
            KeyLight::Off,
        ]
        .map(|light| (light, words::key_light(light).to_owned()));
        let name = (&words::KEY_LIGHT, pass.name.as_str());
        let now = pass.key_light;
        if let Some(key_light) = choice(ui, name, now, &all) {
            let set = Pass {
                key_light,
                ..pass.clone()
            };
            card.plate_edit(plate.id, PlateEdit::SetPass(set));
        }
        let button = ui.small_button(words::ADD_GROUP);
        if button.clicked() {
            let group = new_group(card, plate, pass.id);
            card.plate_edit(plate.id, PlateEdit::AddGroup(group));
            card.follow_up(plate);
        }
        let _named = button.accessible_name(words::add_group_from(&pass.name));
        let look = ui.small_button(words::FIND_DOUBLED);
        if look.clicked() {
            card.queue
                .ask(Ask::Start(Work::FindDoubled(plate.id, pass.id)));
        }
        let _named = look
            .on_hover_text(words::FIND_DOUBLED_HOVER)
            .accessible_name(words::find_doubled_in(&pass.name));
    });
    flexed(ui, card, (plate, pass));
    doubled(ui, card, (plate, pass));
}

/// Where the model itself moved between the unlit photos and the pass.
fn flexed(ui: &mut Ui, card: &mut Card<'_>, (plate, pass): (&Plate, &Pass)) {
    let take = plate
        .take(pass.id)
        .and_then(|(_of, take)| take.measured.as_ref());
    let Some(measured) = take else {
        return;
    };
    let most = |of: fn(&TakeFrame) -> f64| measured.frames.iter().map(of).fold(0.0, f64::max);
    let bent_px = most(TakeFrame::bent_px);
    if bent_px > 0.0 {
        card.finding(ui, &words::bent(&pass.name, bent_px), None);
    }
    let off_px = most(TakeFrame::farthest_off_px);
    if off_px > TakeFrame::FARTHEST_BENT_PX {
        card.finding(ui, &words::moved_far(&pass.name, off_px), None);
    }
}

/// Most places of doubled light that stand on the card.
const MOST_DOUBLED: usize = 8;

/// Where light of the pass doubles, as it was looked for last.
fn doubled(ui: &mut Ui, card: &mut Card<'_>, (plate, pass): (&Plate, &Pass)) {
    let of_this = |found: &&Doubled| found.plate == plate.id && found.pass == pass.id;
    let Some(found) = card.look.doubled.filter(of_this) else {
        return;
    };
    for (number, place) in (1..).zip(found.places.iter().take(MOST_DOUBLED)) {
        let middle = |low: i32, high: i32| f64::midpoint(f64::from(low), f64::from(high));
        let at = Point::new(middle(place.x0, place.x1), middle(place.y0, place.y1));
        let shown = ShownPlace {
            frame: None,
            at: Some(at),
        };
        card.finding(ui, &words::doubled(&pass.name, number), Some(shown));
    }
}

fn new_group(card: &Card<'_>, plate: &Plate, pass: PassId) -> PracticalGroup {
    let number = words::group_number(plate.groups.len() + 1);
    let mut group = PracticalGroup::new(GroupId(card.look.session.next_id()), number, pass);
    group.denoise = USUAL_DENOISE;
    group
}

fn group(ui: &mut Ui, card: &mut Card<'_>, (plate, group): (&Plate, &PracticalGroup)) {
    part(ui, &group.name);
    let id = plate.id;
    let of = group.name.as_str();
    let set = move |group: PracticalGroup| Edit::Plate(id, PlateEdit::SetGroup(group));
    ui.push_id(group.id.0, |ui| {
        ui.horizontal(|ui| {
            let on = words::group_on(of);
            if (Switch {
                on: group.on,
                name: &on,
                hover: words::GROUP_ON_HOVER,
            })
            .ui(ui)
            {
                let mut switched = group.clone();
                switched.on = !group.on;
                card.edit(set(switched));
            }
            let called = words::name_of_group(group.id.0);
            card.name(ui, (&called, of), |name| {
                set(PracticalGroup {
                    name,
                    ..group.clone()
                })
            });
            let button = ui.small_button(words::REMOVE);
            if button.clicked() {
                card.plate_edit(id, PlateEdit::RemoveGroup(group.id));
            }
            let _named = button.accessible_name(words::remove(of));
        });
        card.knobs(ui, (&KNOBS, of), group, set);
        lamp_colour::ui(ui, card, (plate, group));
        let all = [LayOver::AddedLight, LayOver::Covering]
            .map(|way| (way, words::lay_over(way).to_owned()));
        ui.horizontal(|ui| {
            let now = group.lay_over;
            if let Some(lay_over) = choice(ui, (&words::LAY_OVER, of), now, &all) {
                card.edit(set(PracticalGroup {
                    lay_over,
                    ..group.clone()
                }));
            }
        });
        card.knobs(ui, (&GLOW, of), group, set);
        if let Some(size) = plate.size {
            let on_plate = OnPlate {
                group: group.clone(),
                width: f64::from(size.width),
            };
            card.knobs(ui, (&GLOW_OF_PLATE, of), &on_plate, |on| set(on.group));
        }
        lamps::ui(ui, card, (plate, group));
        masked(ui, card, (plate, group));
    });
}

/// The mask a group acts through, and a button that proposes one.
fn masked(ui: &mut Ui, card: &mut Card<'_>, (plate, group): (&Plate, &PracticalGroup)) {
    let (id, of) = (plate.id, group.name.as_str());
    mask::choose(ui, card, (plate, of), group.mask, |mask| {
        PlateEdit::SetGroup(PracticalGroup {
            mask,
            ..group.clone()
        })
    });
    let propose = ui
        .button(words::PROPOSE_MASK)
        .on_hover_text(words::PROPOSE_MASK_HOVER);
    if propose.clicked() {
        let work = Work::SuggestMask(id, group.id);
        card.queue.ask(Ask::Start(work));
    }
    let _named = propose.accessible_name(words::propose_mask_for(of));
    if let Some(mask) = group.mask {
        lamps::outside(ui, card, (plate, group));
        open_mask(ui, card, (plate, group), mask);
    }
}

fn open_mask(
    ui: &mut Ui,
    card: &mut Card<'_>,
    (plate, group): (&Plate, &PracticalGroup),
    mask: crate::project::MaskId,
) {
    let open = card.state.group == Some(group.id);
    let word = words::draw_mask_of(&group.name);
    if ui
        .selectable_label(open, word)
        .on_hover_text(words::DRAW_MASK_HOVER)
        .clicked()
    {
        card.state.group = (!open).then_some(group.id);
    }
    if open {
        ui.indent("mask", |ui| mask::ui(ui, card, plate, mask));
    }
}
