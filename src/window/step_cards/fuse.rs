//! The card of fusing: how registered frames are joined.

use crate::pixels::convert::narrow;
use crate::project::{Edit, FuseSettings, Guidance, Guide, Plate, PlateEdit, Stack};
use crate::session::jobs::Work;
use crate::window::queue::{Ask, ShownPlace};
use crate::window::step_cards::field::{Knob, Reach};
use crate::window::step_cards::{Card, Switch, choice, part, plots};
use crate::window::words::{card as words, picture::frame_named};
use egui::Ui;

const KNOBS: [Knob<FuseSettings>; 2] = [
    Knob {
        text: words::DETAIL,
        reach: Reach::new(0.0, 1.0, 1.0, 2),
        get: |fuse| f64::from(fuse.detail),
        set: |fuse, value| fuse.detail = narrow(value),
    },
    Knob {
        text: words::DEPTH_WIDTH,
        reach: Reach::new(0.6, 4.0, 1.2, 1),
        get: |fuse| f64::from(fuse.depth_width),
        set: |fuse, value| fuse.depth_width = narrow(value),
    },
];

/// Share of the picture below which a frame adds next to nothing.
const NEXT_TO_NOTHING: f32 = 0.005;

/// Shows the card.
pub(in crate::window) fn ui(ui: &mut Ui, card: &mut Card<'_>, plate: &Plate) {
    let Some(stack) = plate.stack() else {
        return;
    };
    let (id, variant) = (plate.id, plate.current);
    card.knobs(ui, (&KNOBS, ""), &stack.fuse, |fuse| {
        Edit::Plate(id, PlateEdit::SetFuse(variant, fuse))
    });
    let switch = Switch {
        on: stack.fuse.unveil,
        name: words::UNVEIL,
        hover: words::UNVEIL_HOVER,
    };
    if switch.ui(ui) {
        let unveil = !stack.fuse.unveil;
        let fuse = FuseSettings {
            unveil,
            ..stack.fuse
        };
        card.plate_edit(id, PlateEdit::SetFuse(variant, fuse));
    }
    guides(ui, card, (plate, stack));
    if ui
        .button(words::FUSE_THIS)
        .on_hover_text(words::FUSE_THIS_HOVER)
        .clicked()
    {
        card.queue.ask(Ask::Start(Work::Fuse(id)));
    }
    let Some(measured) = &stack.measured else {
        ui.label(words::NOT_MEASURED);
        return;
    };
    part(ui, words::SHARP_SHARE);
    let shares: Vec<f64> = measured
        .frames
        .iter()
        .map(|frame| f64::from(frame.sharp_share) * 100.0)
        .collect();
    plots::bars(ui, (words::SHARP_SHARE_PLOT, "%"), &shares);
    let project = std::sync::Arc::clone(&card.project);
    // Without any texture no frame is sharpest anywhere, which says nothing about a single one.
    let textured = shares.iter().any(|share| *share > 0.0);
    for frame in &measured.frames {
        if textured && measured.frames.len() > 1 && frame.sharp_share < NEXT_TO_NOTHING {
            let said = words::adds_nothing(&frame_named(&project, frame.frame));
            let place = ShownPlace {
                frame: Some(frame.frame),
                at: None,
            };
            card.finding(ui, &said, Some(place));
        }
    }
}

/// What is done inside each mask of the plate.
fn guides(ui: &mut Ui, card: &mut Card<'_>, (plate, stack): (&Plate, &Stack)) {
    if plate.masks.is_empty() || stack.frames.len() < 2 {
        return;
    }
    part(ui, words::GUIDES);
    ui.weak(words::GUIDES_SAYS);
    let mut all = vec![
        (None, words::GUIDE_NONE.to_owned()),
        (Some(Guidance::Prefer(-1.0)), words::GUIDE_NEARER.to_owned()),
        (Some(Guidance::Prefer(1.0)), words::GUIDE_FARTHER.to_owned()),
        (Some(Guidance::NearPart), words::GUIDE_NEAR_PART.to_owned()),
    ];
    for entry in stack.frames.iter().filter(|entry| entry.used) {
        let name = frame_named(&card.project, entry.frame);
        let does = Guidance::TakeFrom(entry.frame);
        all.push((Some(does), words::guide_take_from(&name)));
    }
    for mask in &plate.masks {
        let said = stack.guides.iter().find(|guide| guide.mask == mask.id);
        let now = said.map(|guide| guide.does);
        let name = (&words::GUIDE, mask.name.as_str());
        if let Some(does) = choice(ui, name, now, &all) {
            let others = stack.guides.iter().filter(|guide| guide.mask != mask.id);
            let own = does.map(|does| Guide {
                mask: mask.id,
                does,
            });
            let guides = others.copied().chain(own).collect();
            card.plate_edit(plate.id, PlateEdit::SetGuides(plate.current, guides));
        }
    }
}
