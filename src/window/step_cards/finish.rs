//! The card of the whole scene: tone, colour, corners, grain.

use crate::pixels::convert::{low_u32, narrow};
use crate::project::{Edit, Finish, Grain};
use crate::window::step_cards::field::{Knob, Reach};
use crate::window::step_cards::{Card, Switch, part};
use crate::window::words::card as words;
use egui::{RichText, Ui};

const KNOBS: [Knob<Finish>; 5] = [
    Knob {
        text: words::EXPOSURE,
        reach: Reach::new(-10.0, 10.0, 0.0, 2),
        get: |finish| f64::from(finish.exposure_stops),
        set: |finish, value| finish.exposure_stops = narrow(value),
    },
    Knob {
        text: words::CONTRAST,
        reach: Reach::new(0.5, 2.0, 1.0, 2),
        get: |finish| f64::from(finish.contrast),
        set: |finish, value| finish.contrast = narrow(value),
    },
    Knob {
        text: words::SHOULDER,
        reach: Reach::new(0.0, 1.0, 0.0, 2),
        get: |finish| f64::from(finish.shoulder),
        set: |finish, value| finish.shoulder = narrow(value),
    },
    Knob {
        text: words::SATURATION,
        reach: Reach::new(0.0, 2.0, 1.0, 2),
        get: |finish| f64::from(finish.saturation),
        set: |finish, value| finish.saturation = narrow(value),
    },
    Knob {
        text: words::VIGNETTE,
        reach: Reach::new(0.0, 3.0, 0.0, 2),
        get: |finish| f64::from(finish.vignette_stops),
        set: |finish, value| finish.vignette_stops = narrow(value),
    },
];

const GRAIN: [Knob<Grain>; 3] = [
    Knob {
        text: words::GRAIN_STRENGTH,
        reach: Reach::new(0.0, 10.0, 1.5, 2),
        get: |grain| f64::from(grain.strength) * 100.0,
        set: |grain, value| grain.strength = narrow(value / 100.0),
    },
    Knob {
        text: words::GRAIN_SIZE,
        reach: Reach::new(0.5, 4.0, 1.0, 2),
        get: |grain| f64::from(grain.size_px),
        set: |grain, value| grain.size_px = narrow(value),
    },
    Knob {
        text: words::SEED,
        reach: Reach::new(0.0, 9999.0, 1.0, 0),
        get: |grain| f64::from(low_u32(grain.seed)),
        set: |grain, value| grain.seed = super::whole_number(value),
    },
];

/// Grain as it is first laid on.
const FIRST_GRAIN: Grain = Grain {
    seed: 1,
    strength: 0.015,
    size_px: 1.0,
};

/// Shows the card.
pub(in crate::window) fn ui(ui: &mut Ui, card: &mut Card<'_>, finish: &Finish) {
    ui.add(egui::Label::new(RichText::new(words::FINISH).heading()));
    ui.label(RichText::new(words::FINISH_SAYS).weak());
    card.knobs(ui, (&KNOBS, ""), finish, Edit::SetFinish);
    part(ui, words::GRAIN);
    if (Switch {
        on: finish.grain.is_some(),
        name: words::GRAIN_ON,
        hover: words::GRAIN_ON_HOVER,
    })
    .ui(ui)
    {
        let grain = match finish.grain {
            Some(_) => None,
            None => Some(FIRST_GRAIN),
        };
        card.edit(Edit::SetFinish(Finish { grain, ..*finish }));
    }
    if let Some(grain) = &finish.grain {
        card.knobs(ui, (&GRAIN, ""), grain, |grain| {
            Edit::SetFinish(Finish {
                grain: Some(grain),
                ..*finish
            })
        });
    }
}
