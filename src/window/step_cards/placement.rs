//! The card of placement: where a plate lies in the scene and how it goes over what is behind it.

use crate::geometry::{Point, Size};
use crate::pixels::convert::narrow;
use crate::project::{Blend, Edit, Placement, PlacementId, Placing, Plate};
use crate::window::gestures::placement::within_a_turn;
use crate::window::step_cards::field::{Knob, Reach};
use crate::window::step_cards::{Card, Switch, field, part};
use crate::window::viewport::compare::size_of;
use crate::window::words::card as words;
use egui::Ui;
use std::sync::Arc;

/// Where a plate lies, as size and turn.
#[derive(Debug, Clone, Copy)]
struct Upright {
    centre: Point,
    scale: f64,
    turn_deg: f64,
    mirrored: bool,
}

impl From<Upright> for Placing {
    fn from(upright: Upright) -> Self {
        Self::Upright {
            centre: upright.centre,
            scale: upright.scale,
            turn_deg: upright.turn_deg,
            mirrored: upright.mirrored,
        }
    }
}

const COMMON: [Knob<Placement>; 2] = [
    Knob {
        text: words::PLACED_STRENGTH,
        reach: Reach::new(0.0, 100.0, 100.0, 0),
        get: |placement| f64::from(placement.strength) * 100.0,
        set: |placement, value| placement.strength = narrow(value / 100.0),
    },
    Knob {
        text: words::DISTANCE,
        reach: Reach::new(0.0, 10_000.0, 0.0, 1),
        get: |placement| placement.distance_m.unwrap_or(0.0),
        set: |placement, value| placement.distance_m = (value > 0.0).then_some(value),
    },
];

/// Shows the card.
pub(in crate::window) fn ui(ui: &mut Ui, card: &mut Card<'_>, plate: &Plate) {
    let project = Arc::clone(&card.project);
    let canvas = project.canvas.size;
    // Front to back, as the build sheet has them.
    let placed = project.placements.iter().rev();
    for placement in placed.filter(|placement| placement.plate == plate.id) {
        ui.push_id(placement.id.0, |ui| {
            one(ui, card, (plate, placement), canvas);
        });
    }
    part(ui, words::MORE_PLACEMENTS);
    if ui
        .button(words::PLACE_AGAIN)
        .on_hover_text(words::PLACE_AGAIN_HOVER)
        .clicked()
    {
        let placement = Placement {
            id: PlacementId(card.look.session.next_id()),
            name: words::placed_again(&plate.name, &project),
            plate: plate.id,
            placing: Placing::Upright {
                centre: middle(canvas),
                scale: 1.0,
                turn_deg: 0.0,
                mirrored: false,
            },
            blend: Blend::SourceOver,
            strength: 1.0,
            visible: true,
            distance_m: None,
        };
        card.edit(Edit::AddPlacement {
            placement: Arc::new(placement),
            at: project.placements.len(),
        });
    }
}

fn middle(size: Size) -> Point {
    Point::new(f64::from(size.width) * 0.5, f64::from(size.height) * 0.5)
}

fn set(placement: Placement) -> Edit {
    Edit::SetPlacement(Arc::new(placement))
}

fn one(ui: &mut Ui, card: &mut Card<'_>, (plate, placement): (&Plate, &Placement), canvas: Size) {
    part(ui, &placement.name);
    let of = placement.name.as_str();
    ui.horizontal(|ui| {
        let seen = words::seen(of);
        if (Switch {
            on: placement.visible,
            name: &seen,
            hover: words::SEEN_HOVER,
        })
        .ui(ui)
        {
            card.edit(set(Placement {
                visible: !placement.visible,
                ..placement.clone()
            }));
        }
        let called = words::name_of_placement(placement.id.0);
        card.name(ui, (&called, of), |name| {
            set(Placement {
                name,
                ..placement.clone()
            })
        });
        let button = ui.small_button(words::REMOVE);
        if button.clicked() {
            card.edit(Edit::RemovePlacement(placement.id));
        }
        let _named = button
            .on_hover_text(words::TAKE_OUT_HOVER)
            .accessible_name(words::remove(of));
    });
    corners_switch(ui, card, (plate, placement));
    match placement.placing {
        Placing::Upright {
            centre,
            scale,
            turn_deg,
            mirrored,
        } => {
            let upright = Upright {
                centre,
                scale,
                turn_deg,
                mirrored,
            };
            upright_values(ui, card, (placement, upright), canvas);
        }
        Placing::Corners(corners) => corner_values(ui, card, (placement, corners), canvas),
    }
    blend(ui, card, placement);
    card.knobs(ui, (&COMMON, of), placement, set);
}

fn upright_values(
    ui: &mut Ui,
    card: &mut Card<'_>,
    (placement, upright): (&Placement, Upright),
    canvas: Size,
) {
    let of = placement.name.as_str();
    let (width, height) = (f64::from(canvas.width), f64::from(canvas.height));
    let knobs = [
        Knob::<Upright> {
            text: words::POSITION_X,
            reach: Reach::new(-width, 2.0 * width, width * 0.5, 1),
            get: |upright| upright.centre.x,
            set: |upright, value| upright.centre.x = value,
        },
        Knob {
            text: words::POSITION_Y,
            reach: Reach::new(-height, 2.0 * height, height * 0.5, 1),
            get: |upright| upright.centre.y,
            set: |upright, value| upright.centre.y = value,
        },
        Knob {
            text: words::PLACED_SIZE,
            reach: Reach::new(1.0, 800.0, 100.0, 2),
            get: |upright| upright.scale * 100.0,
            set: |upright, value| upright.scale = (value / 100.0).max(1e-3),
        },
        Knob {
            text: words::TURN,
            reach: Reach::new(-180.0, 180.0, 0.0, 2),
            get: |upright| within_a_turn(upright.turn_deg),
            set: |upright, value| upright.turn_deg = value,
        },
    ];
    card.knobs(ui, (&knobs, of), &upright, |upright| {
        set(Placement {
            placing: upright.into(),
            ..placement.clone()
        })
    });
    let name = words::mirrored(of);
    if (Switch {
        on: upright.mirrored,
        name: &name,
        hover: words::MIRRORED_HOVER,
    })
    .ui(ui)
    {
        let turned = Upright {
            mirrored: !upright.mirrored,
            ..upright
        };
        card.edit(set(Placement {
            placing: turned.into(),
            ..placement.clone()
        }));
    }
}

fn corner_values(
    ui: &mut Ui,
    card: &mut Card<'_>,
    (placement, corners): (&Placement, [Point; 4]),
    canvas: Size,
) {
    let (width, height) = (f64::from(canvas.width), f64::from(canvas.height));
    for (index, corner) in words::CORNERS.iter().enumerate() {
        let at = corners[index];
        let of = format!("{corner} of {}", placement.name);
        ui.horizontal(|ui| {
            ui.label(*corner);
            for (axis, now, most) in [("x", at.x, width), ("y", at.y, height)] {
                let mut value = now;
                let drag = ui.add(
                    egui::DragValue::new(&mut value)
                        .range(-most..=2.0 * most)
                        .clamp_existing_to_range(false)
                        .speed(1.0)
                        .fixed_decimals(1)
                        .suffix(" px")
                        .update_while_editing(false),
                );
                let done = drag.drag_stopped() || (drag.changed() && !drag.dragged());
                if done || drag.changed() {
                    let mut moved = corners;
                    moved[index] = match axis {
                        "x" => Point::new(value, at.y),
                        _y => Point::new(at.x, value),
                    };
                    let edit = set(Placement {
                        placing: Placing::Corners(moved),
                        ..placement.clone()
                    });
                    card.turn(field::Turned { value, done }, edit);
                }
                let _named = drag
                    .on_hover_text(words::CORNER_HOVER)
                    .accessible_name(format!("{axis} of {of}"));
            }
        });
    }
}

/// Changes between size and turn, and four corners. Corners begin where the plate lies; size and turn as near as they can.
fn corners_switch(ui: &mut Ui, card: &mut Card<'_>, (plate, placement): (&Plate, &Placement)) {
    let Some(size) = size_of(plate) else {
        return;
    };
    let is_corners = matches!(placement.placing, Placing::Corners(_));
    let name = words::four_corners(&placement.name);
    if !(Switch {
        on: is_corners,
        name: &name,
        hover: words::FOUR_CORNERS_HOVER,
    })
    .ui(ui)
    {
        return;
    }
    let placing = match placement.placing {
        Placing::Upright { .. } => placement
            .placing
            .scene_from_plate(size)
            .map(|map| Placing::Corners(size.rect().corners().map(|corner| map.apply(corner)))),
        Placing::Corners(corners) => Some(nearest_upright(corners, size)),
    };
    if let Some(placing) = placing {
        card.edit(set(Placement {
            placing,
            ..placement.clone()
        }));
    }
}

/// Middle, mean width and direction of the upper and lower edges.
fn nearest_upright(corners: [Point; 4], size: Size) -> Placing {
    let [a, b, c, d] = corners;
    let left = a.towards(d, 0.5);
    let right = b.towards(c, 0.5);
    let width = (a.distance(b) + d.distance(c)) * 0.5;
    Placing::Upright {
        centre: left.towards(right, 0.5),
        scale: (width / f64::from(size.width).max(1.0)).max(1e-3),
        turn_deg: libm::atan2(right.y - left.y, right.x - left.x) * 180.0 / std::f64::consts::PI,
        mirrored: false,
    }
}

fn blend(ui: &mut Ui, card: &mut Card<'_>, placement: &Placement) {
    ui.horizontal(|ui| {
        field::name_label(ui, &words::BLEND);
        let now = placement.blend;
        let mut chosen = None;
        let combo = egui::ComboBox::from_id_salt("blend")
            .selected_text(words::blend(now))
            .show_ui(ui, |ui| {
                for blend in Blend::ALL {
                    let option = ui
                        .selectable_label(blend == now, words::blend(blend))
                        .on_hover_text(words::blend_hover(blend));
                    if option.clicked() && blend != now {
                        chosen = Some(blend);
                    }
                }
            });
        let _named = combo
            .response
            .on_hover_text(words::blend_hover(now))
            .accessible_name(format!("{} of {}", words::BLEND.name, placement.name));
        if let Some(blend) = chosen {
            card.edit(set(Placement {
                blend,
                ..placement.clone()
            }));
        }
    });
}
