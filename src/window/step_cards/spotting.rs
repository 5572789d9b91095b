//! The card of spotting: dust and hair, found and decided about or set by hand; stands, rods and wires painted out.

use crate::pixels::convert::narrow;
use crate::project::{
    Edit, FrameId, PaintOut, PassRole, Patch, PatchFrom, Plate, PlateEdit, Project, Spotting, Step,
    StepKind, Variant, VariantId, Verdict,
};
use crate::session::jobs::Work;
use crate::session::spotting::middle_of;
use crate::window::queue::{Adding, Ask, HandTool, Heals, ShownPlace};
use crate::window::step_cards::field::{self, Knob, Reach};
use crate::window::step_cards::{Card, Switch, choice, part};
use crate::window::words::{card as words, picture::frame_named};
use egui::Ui;

/// How sure the finder must be.
const SURE: [Knob<Spotting>; 1] = [Knob {
    text: words::LEAST_CONFIDENCE,
    reach: Reach::new(0.0, 1.0, 0.5, 2),
    get: |spotting| f64::from(spotting.least_confidence),
    set: |spotting, value| spotting.least_confidence = narrow(value),
}];

/// Radius of dabs, px.
const RADIUS: Reach = Reach::new(1.0, 200.0, 8.0, 1);

/// Places that are listed with a button each, at most.
const LISTED: usize = 40;

/// Shows the card.
pub(in crate::window) fn ui(ui: &mut Ui, card: &mut Card<'_>, plate: &Plate) {
    let cleaned = compared(ui, card, plate);
    let find = ui.button(words::FIND_SPOTS);
    if find.on_hover_text(words::FIND_SPOTS_HOVER).clicked() {
        card.queue
            .ask(Ask::Start(Work::FindSpots(plate.id, cleaned)));
    }
    part(ui, words::HEAL);
    let tools = [
        HandTool::Dab,
        HandTool::Copy,
        HandTool::Line,
        HandTool::Outline,
    ];
    let radius_px = radius(ui, card);
    let from = filled_from(ui, card, plate, Heals::Spotting);
    let adding = |tool| Adding {
        plate: plate.id,
        tool,
        to: Heals::Spotting,
        from,
        radius_px,
    };
    card.tools(ui, tools.map(adding));
    let steps = |card: &mut Card<'_>, ui: &mut Ui, painted_out: bool| {
        for step in &plate.steps {
            match &step.kind {
                StepKind::Spotting(spotting) if !painted_out => {
                    spotted(ui, card, (plate, step, spotting));
                }
                StepKind::PaintOut(paint_out) if painted_out => {
                    paint_out_ui(ui, card, (plate, step, paint_out));
                }
                _other => {}
            }
        }
    };
    steps(card, ui, false);
    part(ui, words::PAINT_OUT_HEAD);
    let from = filled_from(ui, card, plate, Heals::PaintOut);
    let adding = |tool| Adding {
        plate: plate.id,
        tool,
        to: Heals::PaintOut,
        from,
        radius_px,
    };
    card.tools(ui, [HandTool::Outline, HandTool::Line].map(adding));
    steps(card, ui, true);
}

/// The take that a plate is compared with when dust and hair are looked for; none unless people chose one.
fn compared(ui: &mut Ui, card: &mut Card<'_>, plate: &Plate) -> Option<VariantId> {
    let mut all = vec![(None, words::COMPARED_WITH_NOTHING.to_owned())];
    let takes = other_takes(plate).map(|take| (Some(take.id), words::from_take(&take.name)));
    all.extend(takes);
    if all.len() == 1 {
        return None;
    }
    let known = all.iter().map(|(take, _word)| *take);
    let now = known.into_iter().find(|take| *take == card.state.cleaned);
    let mut now = now.flatten();
    ui.horizontal(|ui| {
        if let Some(chosen) = choice(ui, (&words::COMPARED_WITH, ""), now, &all) {
            now = chosen;
            card.state.cleaned = chosen;
        }
    });
    let is_bent = |id: VariantId| {
        plate
            .variant_by_id(id)
            .is_some_and(|of| of.mesh().is_some())
    };
    if now.is_some_and(|take| is_bent(take) || is_bent(plate.current)) {
        card.finding(ui, words::OTHER_ANGLE, None);
    }
    now
}

/// The sources of a plate that are stacks and not in use.
fn other_takes(plate: &Plate) -> impl Iterator<Item = &Variant> {
    let variants = plate.variants.iter().map(|variant| &**variant);
    variants.filter(|variant| variant.id != plate.current && variant.stack().is_some())
}

/// The radius of the next dab; the tool in hand follows.
fn radius(ui: &mut Ui, card: &mut Card<'_>) -> f32 {
    let in_hand = card.look.adding.map(|adding| adding.radius_px);
    let now = in_hand
        .or(card.state.dab_px)
        .unwrap_or(narrow(RADIUS.usual));
    card.state.dab_px = Some(now);
    let Some(turned) = field::number(ui, (&words::DAB_RADIUS, ""), &RADIUS, f64::from(now)) else {
        return now;
    };
    let radius_px = narrow(turned.value);
    card.state.dab_px = Some(radius_px);
    if let Some(adding) = card.look.adding {
        card.add(Some(Adding {
            radius_px,
            ..adding
        }));
    }
    radius_px
}

/// What the next place is filled with; the tool in hand follows.
fn filled_from(ui: &mut Ui, card: &mut Card<'_>, plate: &Plate, to: Heals) -> PatchFrom {
    let heals = to == Heals::Spotting;
    let (text, said, usual) = if heals {
        let usual = PatchFrom::Surroundings;
        (&words::HEALED_FROM, card.state.heal, usual)
    } else {
        (&words::FILLED_FROM, card.state.fill, first_fill(plate))
    };
    let fills = fills(&card.project, plate);
    // What was said on another plate need not be here.
    let known = |from: &PatchFrom| fills.iter().any(|(fill, _word)| fill == from);
    let mut from = said.filter(known).unwrap_or(usual);
    ui.horizontal(|ui| {
        if let Some(chosen) = choice(ui, (text, ""), from, &fills) {
            from = chosen;
            let said = if heals {
                &mut card.state.heal
            } else {
                &mut card.state.fill
            };
            *said = Some(chosen);
            if let Some(adding) = card.look.adding.filter(|one| one.to == to) {
                card.add(Some(Adding { from, ..adding }));
            }
        }
    });
    from
}

/// What a stand is painted out with unless people say otherwise: the clean plate where there is one.
fn first_fill(plate: &Plate) -> PatchFrom {
    let mut clean = plate
        .passes
        .iter()
        .filter(|pass| pass.role == PassRole::CleanPlate);
    clean
        .next()
        .map_or(PatchFrom::Surroundings, |pass| PatchFrom::CleanPlate {
            pass: pass.id,
        })
}

/// What places of a plate can be filled with, wherever they lie.
fn fills(project: &Project, plate: &Plate) -> Vec<(PatchFrom, String)> {
    let mut all = vec![(PatchFrom::Surroundings, words::FROM_SURROUNDINGS.to_owned())];
    for pass in &plate.passes {
        if pass.role == PassRole::CleanPlate {
            let from = PatchFrom::CleanPlate { pass: pass.id };
            all.push((from, words::from_clean(&pass.name)));
        }
    }
    for take in other_takes(plate) {
        let from = PatchFrom::OtherTake { variant: take.id };
        all.push((from, words::from_take(&take.name)));
    }
    let used: Vec<FrameId> = plate
        .stack()
        .map_or(Vec::new(), |stack| stack.used().collect());
    for frame in used.iter().filter(|_frame| used.len() > 1) {
        all.push(from_frame(project, *frame));
    }
    all
}

fn from_frame(project: &Project, frame: FrameId) -> (PatchFrom, String) {
    let word = words::from_frame(&frame_named(project, frame));
    (PatchFrom::Frame { frame }, word)
}

/// What a place that is filled from `now` can be filled with.
fn fills_of(project: &Project, plate: &Plate, now: PatchFrom) -> Vec<(PatchFrom, String)> {
    let mut all = fills(project, plate);
    if all.iter().all(|(fill, _word)| *fill != now) {
        all.extend(match now {
            PatchFrom::Place { .. } => Some((now, words::FROM_PLACE.to_owned())),
            // A frame of a source that was in use before.
            PatchFrom::Frame { frame } => Some(from_frame(project, frame)),
            PatchFrom::Surroundings
            | PatchFrom::CleanPlate { .. }
            | PatchFrom::OtherTake { .. } => None,
        });
    }
    all
}

pub(super) fn set(plate: &Plate, step: &Step, kind: StepKind) -> Edit {
    Edit::Plate(
        plate.id,
        PlateEdit::SetStep(Step {
            kind,
            ..step.clone()
        }),
    )
}

/// Whether a step acts, and the button that takes it away.
pub(super) fn head(ui: &mut Ui, card: &mut Card<'_>, (plate, step): (&Plate, &Step), name: &str) {
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

fn spotted(ui: &mut Ui, card: &mut Card<'_>, (plate, step, spotting): (&Plate, &Step, &Spotting)) {
    head(ui, card, (plate, step), words::SPOTTING);
    card.knobs(ui, (&SURE, ""), spotting, |spotting| {
        set(plate, step, StepKind::Spotting(spotting))
    });
    let filled = spotting.patches.iter();
    let filled = filled.filter(|patch| spotting.takes(patch)).count();
    ui.label(words::places_of(filled, spotting.patches.len()));
    if spotting.look_alikes > 0 {
        card.finding(ui, &words::passed_over(spotting.look_alikes), None);
    }
    decide_all(ui, card, (plate, step, spotting));
    list(ui, card, (plate, step));
}

/// Decides about every find that nobody decided about, in one edit.
fn decide_all(
    ui: &mut Ui,
    card: &mut Card<'_>,
    (plate, step, spotting): (&Plate, &Step, &Spotting),
) {
    let open = |patch: &Patch| patch.confidence.is_some() && patch.verdict == Verdict::Undecided;
    let undecided = || spotting.patches.iter().filter(|patch| open(patch));
    let sure: Vec<&Patch> = spotting.undecided().collect();
    if !sure.is_empty() {
        let said = words::undecided(sure.len());
        let first = sure.first().map(|patch| middle_of(patch));
        card.finding(
            ui,
            &said,
            Some(ShownPlace {
                frame: None,
                at: first,
            }),
        );
    }
    let mut verdict = None;
    ui.horizontal_wrapped(|ui| {
        for (open, name, hover, is) in [
            (
                sure.len(),
                words::ACCEPT_SURE,
                words::ACCEPT_SURE_HOVER,
                Verdict::Accepted,
            ),
            (
                undecided().count(),
                words::REFUSE_OTHERS,
                words::REFUSE_OTHERS_HOVER,
                Verdict::Refused,
            ),
        ] {
            let button = ui.add_enabled(open > 0, egui::Button::new(name));
            if button.on_hover_text(hover).clicked() {
                verdict = Some(is);
            }
        }
    });
    if let Some(verdict) = verdict {
        let mut decided = spotting.clone();
        for patch in &mut decided.patches {
            if open(patch) && (spotting.takes(patch) || verdict == Verdict::Refused) {
                patch.verdict = verdict;
            }
        }
        card.edit(set(plate, step, StepKind::Spotting(decided)));
    }
}

/// The places of a step, the surest first: each can be looked at, decided about or taken away.
fn list(ui: &mut Ui, card: &mut Card<'_>, (plate, step): (&Plate, &Step)) {
    for (number, patch) in step.kind.patches().iter().enumerate().take(LISTED) {
        let mut changed = patch.clone();
        let mut stays = true;
        let name = match &step.kind {
            StepKind::PaintOut(_) => words::painted_out(number + 1),
            _spotting => words::spot(number + 1),
        };
        ui.horizontal_wrapped(|ui| {
            ui.label(said(&name, patch));
            let show = ui.small_button(words::SHOW);
            if show.clicked() {
                card.show(ShownPlace {
                    frame: None,
                    at: Some(middle_of(patch)),
                });
            }
            let _named = show.accessible_name(format!("{} {name}", words::SHOW));
            if patch.confidence.is_some() {
                decide(ui, &name, &mut changed);
            } else {
                let remove = ui.small_button(words::REMOVE);
                stays = !remove.clicked();
                let _named = remove.accessible_name(words::remove(&name));
            }
        });
        if patch.confidence.is_none() {
            let fills = fills_of(&card.project, plate, patch.from);
            ui.horizontal(|ui| {
                if let Some(from) = choice(ui, (&words::FILLED_FROM, &name), patch.from, &fills) {
                    changed.from = from;
                    card.follow_up(plate);
                }
            });
        }
        if !stays || changed != *patch {
            let mut kind = step.kind.clone();
            if let StepKind::Spotting(Spotting { patches, .. })
            | StepKind::PaintOut(PaintOut { patches, .. }) = &mut kind
            {
                if stays {
                    patches[number] = changed;
                } else {
                    patches.remove(number);
                }
            }
            card.edit(set(plate, step, kind));
        }
    }
    let more = step.kind.patches().len().saturating_sub(LISTED);
    if more > 0 {
        ui.weak(words::more_places(more));
    }
}

fn decide(ui: &mut Ui, name: &str, patch: &mut Patch) {
    for (verdict, word, called) in [
        (Verdict::Accepted, words::ACCEPT, words::accept(name)),
        (Verdict::Refused, words::REFUSE, words::refuse(name)),
    ] {
        let chosen = patch.verdict == verdict;
        let button = ui.add(egui::Button::selectable(chosen, word).small());
        if button.clicked() {
            patch.verdict = if chosen { Verdict::Undecided } else { verdict };
        }
        let _named = button.accessible_name(called);
    }
}

fn said(name: &str, patch: &Patch) -> String {
    patch.confidence.map_or_else(
        || words::set_by_hand(name),
        |confidence| words::found_with(name, confidence, patch.verdict),
    )
}

fn paint_out_ui(
    ui: &mut Ui,
    card: &mut Card<'_>,
    (plate, step, paint_out): (&Plate, &Step, &PaintOut),
) {
    head(ui, card, (plate, step), words::PAINT_OUT);
    ui.label(words::places(paint_out.patches.len()));
    if !paint_out.shadow_seen_to && !paint_out.patches.is_empty() {
        let at = paint_out.patches.first().map(middle_of);
        card.finding(
            ui,
            words::LOOK_FOR_SHADOW,
            Some(ShownPlace { frame: None, at }),
        );
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
    list(ui, card, (plate, step));
}
