//! The card of a made plate: its recipe.

use crate::geometry::{Point, Size};
use crate::pixels::convert::{low_u32, narrow};
use crate::project::made::{DustLane, Planet, Stars};
use crate::project::{Edit, Made, Plate, PlateEdit, Source};
use crate::window::step_cards::field::{Knob, Reach};
use crate::window::step_cards::{Card, Switch, part, whole_number};
use crate::window::words::card as words;
use egui::Ui;

const BACKGROUND: [Knob<Made>; 3] = [
    Knob {
        text: words::RED,
        reach: Reach::new(0.0, 0.2, 0.0, 4),
        get: |made| f64::from(made.background_rgb[0]),
        set: |made, value| made.background_rgb[0] = narrow(value),
    },
    Knob {
        text: words::GREEN,
        reach: Reach::new(0.0, 0.2, 0.0, 4),
        get: |made| f64::from(made.background_rgb[1]),
        set: |made, value| made.background_rgb[1] = narrow(value),
    },
    Knob {
        text: words::BLUE,
        reach: Reach::new(0.0, 0.2, 0.0, 4),
        get: |made| f64::from(made.background_rgb[2]),
        set: |made, value| made.background_rgb[2] = narrow(value),
    },
];

const STARS: [Knob<Stars>; 6] = [
    Knob {
        text: words::SEED,
        reach: Reach::new(0.0, 9999.0, 1.0, 0),
        get: |stars| f64::from(low_u32(stars.seed)),
        set: |stars, value| stars.seed = whole_number(value),
    },
    Knob {
        text: words::VIEW,
        reach: Reach::new(1.0, 120.0, 40.0, 1),
        get: |stars| stars.view_deg,
        set: |stars, value| stars.view_deg = value,
    },
    Knob {
        text: words::FAINTEST,
        reach: Reach::new(0.0, 10.0, 8.0, 1),
        get: |stars| stars.faintest,
        set: |stars, value| stars.faintest = value,
    },
    Knob {
        text: words::MADE_LIGHT,
        reach: Reach::new(0.0, 100.0, 60.0, 2),
        get: |stars| f64::from(stars.light),
        set: |stars, value| stars.light = narrow(value),
    },
    Knob {
        text: words::STAR_SIZE,
        reach: Reach::new(0.5, 4.0, 0.8, 2),
        get: |stars| f64::from(stars.sigma_px),
        set: |stars, value| stars.sigma_px = narrow(value),
    },
    Knob {
        text: words::CLUMPING,
        reach: Reach::new(0.0, 1.0, 0.3, 2),
        get: |stars| f64::from(stars.clumping),
        set: |stars, value| stars.clumping = narrow(value),
    },
];

const DUST: [Knob<DustLane>; 4] = [
    Knob {
        text: words::SEED,
        reach: Reach::new(0.0, 9999.0, 1.0, 0),
        get: |dust| f64::from(low_u32(dust.seed)),
        set: |dust, value| dust.seed = whole_number(value),
    },
    Knob {
        text: words::DIRECTION,
        reach: Reach::new(-180.0, 180.0, 0.0, 1),
        get: |dust| dust.direction_deg,
        set: |dust, value| dust.direction_deg = value,
    },
    Knob {
        text: words::WIDTH,
        reach: Reach::new(1.0, 4000.0, 200.0, 0),
        get: |dust| f64::from(dust.width_px),
        set: |dust, value| dust.width_px = narrow(value),
    },
    Knob {
        text: words::MADE_LIGHT,
        reach: Reach::new(0.0, 1.0, 0.01, 4),
        get: |dust| f64::from(dust.light),
        set: |dust, value| dust.light = narrow(value),
    },
];

const PLANET: [Knob<Planet>; 10] = [
    Knob {
        text: words::SEED,
        reach: Reach::new(0.0, 9999.0, 1.0, 0),
        get: |planet| f64::from(low_u32(planet.seed)),
        set: |planet, value| planet.seed = whole_number(value),
    },
    Knob {
        text: words::POSITION_X,
        reach: Reach::new(-4000.0, 12_000.0, 0.0, 0),
        get: |planet| planet.centre.x,
        set: |planet, value| planet.centre.x = value,
    },
    Knob {
        text: words::POSITION_Y,
        reach: Reach::new(-4000.0, 12_000.0, 0.0, 0),
        get: |planet| planet.centre.y,
        set: |planet, value| planet.centre.y = value,
    },
    Knob {
        text: words::PLANET_RADIUS,
        reach: Reach::new(1.0, 8000.0, 300.0, 0),
        get: |planet| f64::from(planet.radius_px),
        set: |planet, value| planet.radius_px = narrow(value),
    },
    Knob {
        text: words::KEY_AZIMUTH,
        reach: Reach::new(-180.0, 180.0, 0.0, 1),
        get: |planet| planet.key_azimuth_deg,
        set: |planet, value| planet.key_azimuth_deg = value,
    },
    Knob {
        text: words::KEY_ELEVATION,
        reach: Reach::new(-90.0, 90.0, 0.0, 1),
        get: |planet| planet.key_elevation_deg,
        set: |planet, value| planet.key_elevation_deg = value,
    },
    Knob {
        text: words::MADE_LIGHT,
        reach: Reach::new(0.0, 10.0, 0.5, 3),
        get: |planet| f64::from(planet.light),
        set: |planet, value| planet.light = narrow(value),
    },
    Knob {
        text: words::AIR,
        reach: Reach::new(0.0, 0.2, 0.01, 4),
        get: |planet| f64::from(planet.air_height),
        set: |planet, value| planet.air_height = narrow(value),
    },
    Knob {
        text: words::POLE_TURN,
        reach: Reach::new(-180.0, 180.0, 0.0, 1),
        get: |planet| planet.pole_turn_deg,
        set: |planet, value| planet.pole_turn_deg = value,
    },
    Knob {
        text: words::POLE_TILT,
        reach: Reach::new(-90.0, 90.0, 0.0, 1),
        get: |planet| planet.pole_tilt_deg,
        set: |planet, value| planet.pole_tilt_deg = value,
    },
];

/// A sky as it begins: stars and nothing else.
pub(in crate::window) const fn first_sky(size: Size) -> Made {
    Made {
        size,
        background_rgb: [0.0; 3],
        stars: Some(FIRST_STARS),
        dust_lane: None,
        planet: None,
    }
}

/// Stars as they are first scattered.
const FIRST_STARS: Stars = Stars {
    seed: 1,
    view_deg: 40.0,
    faintest: 8.0,
    light: 60.0,
    sigma_px: 0.8,
    clumping: 0.3,
};

/// A dust lane as it is first laid: across the middle of the sky.
fn first_dust(size: Size) -> DustLane {
    DustLane {
        seed: 1,
        through: share_of(size, 0.5, 0.5),
        direction_deg: -30.0,
        width_px: narrow(f64::from(size.width) * 0.15),
        cloud_px: narrow(f64::from(size.width) * 0.25),
        light: 0.01,
        kelvin: [8000.0, 4500.0],
        opacity: 0.7,
    }
}

/// A planet as it is first set: in the upper right, lit from the left.
fn first_planet(size: Size) -> Planet {
    Planet {
        seed: 1,
        centre: share_of(size, 0.8, 0.25),
        radius_px: narrow(f64::from(size.height) * 0.2),
        key_azimuth_deg: -70.0,
        key_elevation_deg: 30.0,
        light: 0.5,
        pole_turn_deg: 20.0,
        pole_tilt_deg: 15.0,
        ground_rgb: [[0.6, 0.6, 0.6], [0.25, 0.25, 0.25], [0.2, 0.2, 0.2]],
        feature: 0.7,
        bands: 0.3,
        cracks: 0.3,
        air_height: 0.01,
        air_light: 0.4,
        air_rgb: [0.5, 0.7, 1.0],
        ring: None,
    }
}

fn share_of(size: Size, across: f64, down: f64) -> Point {
    Point::new(
        f64::from(size.width) * across,
        f64::from(size.height) * down,
    )
}

/// A part of the recipe that can be left out.
fn switch<T>(ui: &mut Ui, made: Option<&T>, (head, name): (&str, &str)) -> bool {
    part(ui, head);
    Switch {
        on: made.is_some(),
        name,
        hover: words::MADE_PART_HOVER,
    }
    .ui(ui)
}

/// Shows the card.
pub(in crate::window) fn ui(ui: &mut Ui, card: &mut Card<'_>, plate: &Plate) {
    let Some(Source::Made(made)) = plate.variant().map(|variant| &variant.source) else {
        return;
    };
    let (id, variant) = (plate.id, plate.current);
    let edit = move |made: Made| Edit::Plate(id, PlateEdit::SetMade(variant, made));
    ui.weak(words::made_of_size(made.size));
    part(ui, words::EMPTY_SKY);
    card.knobs(ui, (&BACKGROUND, words::EMPTY_SKY_OF), made, edit);
    if switch(ui, made.stars.as_ref(), (words::STARS, words::STARS_ON)) {
        let stars = made.stars.is_none().then_some(FIRST_STARS);
        card.edit(edit(Made {
            stars,
            ..made.clone()
        }));
    }
    if let Some(stars) = &made.stars {
        card.knobs(ui, (&STARS, words::STARS_OF), stars, |stars| {
            edit(Made {
                stars: Some(stars),
                ..made.clone()
            })
        });
    }
    if switch(ui, made.dust_lane.as_ref(), (words::DUST, words::DUST_ON)) {
        let dust_lane = made.dust_lane.is_none().then(|| first_dust(made.size));
        card.edit(edit(Made {
            dust_lane,
            ..made.clone()
        }));
    }
    if let Some(dust) = &made.dust_lane {
        card.knobs(ui, (&DUST, words::DUST_OF), dust, |dust| {
            edit(Made {
                dust_lane: Some(dust),
                ..made.clone()
            })
        });
    }
    if switch(ui, made.planet.as_ref(), (words::PLANET, words::PLANET_ON)) {
        let planet = made.planet.is_none().then(|| first_planet(made.size));
        card.edit(edit(Made {
            planet,
            ..made.clone()
        }));
    }
    if let Some(planet) = &made.planet {
        card.knobs(ui, (&PLANET, words::PLANET_OF), planet, |planet| {
            edit(Made {
                planet: Some(planet),
                ..made.clone()
            })
        });
    }
}
