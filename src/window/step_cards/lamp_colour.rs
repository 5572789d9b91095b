//! The colour of a practical group: as a lamp of some temperature, as a picked colour, or as factors.

use crate::pixels::convert::narrow;
use crate::project::{Edit, Plate, PlateEdit, PracticalGroup};
use crate::session::light_colour;
use crate::window::step_cards::Card;
use crate::window::step_cards::field::{Knob, Reach};
use crate::window::theme::card_size;
use crate::window::words::card as words;
use egui::Ui;
use egui::ecolor::{hsv_from_rgb, rgb_from_hsv};

const FACTORS: [Knob<PracticalGroup>; 3] = [
    Knob {
        text: words::RED,
        reach: Reach::new(0.0, 4.0, 1.0, 2),
        get: |group| f64::from(group.tint_rgb[0]),
        set: |group, value| group.tint_rgb[0] = narrow(value),
    },
    Knob {
        text: words::GREEN,
        reach: Reach::new(0.0, 4.0, 1.0, 2),
        get: |group| f64::from(group.tint_rgb[1]),
        set: |group, value| group.tint_rgb[1] = narrow(value),
    },
    Knob {
        text: words::BLUE,
        reach: Reach::new(0.0, 4.0, 1.0, 2),
        get: |group| f64::from(group.tint_rgb[2]),
        set: |group, value| group.tint_rgb[2] = narrow(value),
    },
];

/// Colour of a lamp.
#[derive(Debug, Clone, Copy)]
struct Lamp {
    kelvin: f64,
    tint: f64,
}

/// Temperature and tint of the light that leaves colours as shot.
fn as_shot() -> Lamp {
    let (kelvin, tint) = light_colour::kelvin_and_tint([1.0; 3]);
    Lamp { kelvin, tint }
}

fn lamp_knobs() -> [Knob<Lamp>; 2] {
    let usual = as_shot();
    [
        Knob {
            text: words::LAMP_KELVIN,
            reach: Reach::new(1667.0, 25_000.0, usual.kelvin, 0),
            get: |lamp| lamp.kelvin,
            set: |lamp, value| lamp.kelvin = value,
        },
        Knob {
            text: words::TINT,
            reach: Reach::new(-100.0, 100.0, usual.tint, 1),
            get: |lamp| lamp.tint,
            set: |lamp, value| lamp.tint = value,
        },
    ]
}

/// The factors of a lamp; exactly 1 where it comes back to the light as shot.
fn factors(lamp: Lamp) -> [f32; 3] {
    let usual = as_shot();
    let back = (lamp.kelvin - usual.kelvin).abs() < 5.0 && (lamp.tint - usual.tint).abs() < 0.1;
    if back {
        [1.0; 3]
    } else {
        light_colour::factors(lamp.kelvin, lamp.tint)
    }
}

/// Shows the colour of a group: as a lamp's, as one that is picked, or as three factors.
pub(super) fn ui(ui: &mut Ui, card: &mut Card<'_>, (plate, group): (&Plate, &PracticalGroup)) {
    let (id, of) = (plate.id, group.name.as_str());
    let (kelvin, tint) = light_colour::kelvin_and_tint(group.tint_rgb);
    let lamp = Lamp { kelvin, tint };
    card.knobs(ui, (&lamp_knobs(), of), &lamp, |lamp| {
        let tint_rgb = factors(lamp);
        Edit::Plate(
            id,
            PlateEdit::SetGroup(PracticalGroup {
                tint_rgb,
                ..group.clone()
            }),
        )
    });
    picked(ui, card, (plate, group));
    card.knobs(ui, (&FACTORS, of), group, |group| {
        Edit::Plate(id, PlateEdit::SetGroup(group))
    });
    let neutral = group.tint_rgb == [1.0; 3];
    let button = ui.add_enabled(!neutral, egui::Button::new(words::NEUTRAL).small());
    if button.clicked() {
        card.plate_edit(
            id,
            PlateEdit::SetGroup(PracticalGroup {
                tint_rgb: [1.0; 3],
                ..group.clone()
            }),
        );
    }
    let _named = button
        .on_hover_text(words::NEUTRAL_HOVER)
        .accessible_name(words::neutral_colour_of(of));
}

/// A colour picked by eye.
#[derive(Debug, Clone, Copy)]
struct Picked {
    /// Hue in degrees: red 0, green 120, blue 240.
    hue_deg: f32,
    /// 0 (white)..=1 (no white in it).
    purity: f32,
}

impl Picked {
    fn of(tint_rgb: [f32; 3]) -> Self {
        let (hue, purity, _value) = hsv_from_rgb(light_colour::shown(tint_rgb));
        Self {
            hue_deg: hue * 360.0,
            purity,
        }
    }

    /// Linear sRGB, as bright as it can be shown.
    fn rgb(self) -> [f32; 3] {
        rgb_from_hsv((self.hue_deg / 360.0, self.purity, 1.0))
    }
}

const PICKED: [Knob<Picked>; 2] = [
    Knob {
        text: words::HUE,
        reach: Reach::new(0.0, 360.0, 0.0, 0),
        get: |picked| f64::from(picked.hue_deg),
        set: |picked, value| picked.hue_deg = narrow(value),
    },
    Knob {
        text: words::PURITY,
        reach: Reach::new(0.0, 100.0, 0.0, 0),
        get: |picked| f64::from(picked.purity) * 100.0,
        set: |picked, value| picked.purity = narrow(value / 100.0),
    },
];

/// A colour picked by eye, with a sample of it; the light keeps its luminance.
fn picked(ui: &mut Ui, card: &mut Card<'_>, (plate, group): (&Plate, &PracticalGroup)) {
    let now = Picked::of(group.tint_rgb);
    let id = plate.id;
    card.knobs(ui, (&PICKED, &group.name), &now, |picked| {
        Edit::Plate(
            id,
            PlateEdit::SetGroup(PracticalGroup {
                tint_rgb: light_colour::picked(picked.rgb()),
                ..group.clone()
            }),
        )
    });
    let beside = card_size::NAME + ui.spacing().item_spacing.x;
    let size = egui::vec2(beside + card_size::SLIDER, card_size::SAMPLE);
    let (sample, _space) = ui.allocate_exact_size(size, egui::Sense::HOVER);
    let [r, g, b] = now.rgb();
    let colour = egui::Color32::from(egui::Rgba::from_rgb(r, g, b));
    let line = ui.visuals().widgets.inactive.bg_stroke;
    let sample = sample.with_min_x(sample.left() + beside);
    ui.painter()
        .rect(sample, 0.0, colour, line, egui::StrokeKind::Inside);
}
