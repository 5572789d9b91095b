//! The part of the lights desk about the lamps of one group: noise, colour of cores, spikes, flicker.

use crate::pixels::convert::{floor_index, narrow};
use crate::project::{Edit, Flicker, Plate, PlateEdit, PracticalGroup, Spikes};
use crate::window::step_cards::field::{Knob, Reach};
use crate::window::step_cards::{Card, Switch};
use crate::window::words::card as words;
use egui::Ui;

const LIGHT: [Knob<PracticalGroup>; 2] = [
    Knob {
        text: words::DENOISE,
        reach: Reach::new(0.0, 4.0, 0.0, 1),
        get: |group| f64::from(group.denoise),
        set: |group, value| group.denoise = narrow(value),
    },
    Knob {
        text: words::KEEP_COLOUR,
        reach: Reach::new(0.0, 100.0, 0.0, 0),
        get: |group| f64::from(group.keep_colour) * 100.0,
        set: |group, value| group.keep_colour = narrow(value / 100.0),
    },
];

const OUTSIDE: [Knob<PracticalGroup>; 1] = [Knob {
    text: words::OUTSIDE_SHARE,
    reach: Reach::new(0.0, 100.0, 0.0, 0),
    get: |group| f64::from(group.outside_share) * 100.0,
    set: |group, value| group.outside_share = narrow(value / 100.0),
}];

const SPIKES: [Knob<Spikes>; 6] = [
    Knob {
        text: words::BLADES,
        reach: Reach::new(3.0, 18.0, 7.0, 0),
        get: |spikes| f64::from(spikes.blades),
        set: |spikes, value| spikes.blades = whole(value),
    },
    Knob {
        text: words::SPIKE_TURN,
        reach: Reach::new(-180.0, 180.0, 0.0, 1),
        get: |spikes| f64::from(spikes.turn_deg),
        set: |spikes, value| spikes.turn_deg = narrow(value),
    },
    Knob {
        text: words::SPIKE_F_NUMBER,
        reach: Reach::new(1.0, 64.0, 16.0, 1),
        get: |spikes| f64::from(spikes.f_number),
        set: |spikes, value| spikes.f_number = narrow(value),
    },
    Knob {
        text: words::SPIKE_LENGTH,
        reach: Reach::new(0.1, 20.0, 1.0, 1),
        get: |spikes| f64::from(spikes.length),
        set: |spikes, value| spikes.length = narrow(value),
    },
    Knob {
        text: words::SPIKE_SHARE,
        reach: Reach::new(0.0, 100.0, 10.0, 1),
        get: |spikes| f64::from(spikes.share) * 100.0,
        set: |spikes, value| spikes.share = narrow(value / 100.0),
    },
    Knob {
        text: words::SPIKE_SPREAD,
        reach: Reach::new(0.0, 1.0, 0.0, 2),
        get: |spikes| f64::from(spikes.spread),
        set: |spikes, value| spikes.spread = narrow(value),
    },
];

const FLICKER: [Knob<Flicker>; 2] = [
    Knob {
        text: words::FLICKER_BY,
        reach: Reach::new(0.0, 4.0, 0.5, 2),
        get: |flicker| f64::from(flicker.hundredths) / 100.0,
        set: |flicker, value| {
            flicker.hundredths = u16::try_from(whole(value * 100.0)).unwrap_or(u16::MAX);
        },
    },
    Knob {
        text: words::FLICKER_SEED,
        reach: Reach::new(0.0, 9999.0, 1.0, 0),
        get: |flicker| f64::from(flicker.seed),
        set: |flicker, value| flicker.seed = whole(value),
    },
];

/// Flicker as it begins.
const USUAL_FLICKER: Flicker = Flicker {
    seed: 1,
    hundredths: 50,
};

fn whole(value: f64) -> u32 {
    u32::try_from(floor_index(value + 0.5)).unwrap_or(u32::MAX)
}

/// Shows the values of a group's lamps.
pub(super) fn ui(ui: &mut Ui, card: &mut Card<'_>, (plate, group): (&Plate, &PracticalGroup)) {
    let (id, of) = (plate.id, group.name.as_str());
    let set = move |group: PracticalGroup| Edit::Plate(id, PlateEdit::SetGroup(group));
    card.knobs(ui, (&LIGHT, of), group, set);
    let name = words::spikes_of(of);
    if (Switch {
        on: group.spikes.is_some(),
        name: &name,
        hover: words::SPIKES_HOVER,
    })
    .ui(ui)
    {
        let spikes = group.spikes.is_none().then(Spikes::default);
        card.edit(set(PracticalGroup {
            spikes,
            ..group.clone()
        }));
    }
    if let Some(spikes) = &group.spikes {
        card.knobs(ui, (&SPIKES, of), spikes, |spikes| {
            set(PracticalGroup {
                spikes: Some(spikes),
                ..group.clone()
            })
        });
    }
    flicker(ui, card, (plate, group));
}

fn flicker(ui: &mut Ui, card: &mut Card<'_>, (plate, group): (&Plate, &PracticalGroup)) {
    let (id, of) = (plate.id, group.name.as_str());
    let set = move |flicker: Option<Flicker>| {
        let group = PracticalGroup {
            flicker,
            ..group.clone()
        };
        Edit::Plate(id, PlateEdit::SetGroup(group))
    };
    let name = words::flicker_of(of);
    if (Switch {
        on: group.flicker.is_some(),
        name: &name,
        hover: words::FLICKER_HOVER,
    })
    .ui(ui)
    {
        card.edit(set(group.flicker.is_none().then_some(USUAL_FLICKER)));
    }
    if let Some(flicker) = &group.flicker {
        card.knobs(ui, (&FLICKER, of), flicker, |flicker| set(Some(flicker)));
    }
}

/// How much of a group's light stays outside its mask.
pub(super) fn outside(ui: &mut Ui, card: &mut Card<'_>, (plate, group): (&Plate, &PracticalGroup)) {
    let id = plate.id;
    card.knobs(ui, (&OUTSIDE, group.name.as_str()), group, |group| {
        Edit::Plate(id, PlateEdit::SetGroup(group))
    });
}
