//! Moving, sizing, turning a plate in the scene, and pulling its four corners.

use crate::geometry::{Point, Size};
use crate::project::{Edit, Placement, PlacementId, Placing, PlateId};
use crate::session::Command;
use crate::window::gestures::{Input, Moved, Stroked, set_placement};
use crate::window::queue::{Ask, Queue};
use crate::window::theme::{picture, picture_size};
use crate::window::viewport::compare::size_of;
use crate::window::viewport::overlay::{cased, handle, polygon};
use crate::window::viewport::pan_zoom::Map;
use egui::{Color32, Painter, Pos2, Stroke};

/// What of a placement is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Grip {
    Body,
    Corner(usize),
    Turn,
}

#[derive(Debug, Clone, PartialEq)]
struct Held {
    start: Placement,
    now: Placement,
    grip: Grip,
    from: Point,
}

/// The placement held, and the one that keys move.
#[derive(Debug, Default)]
pub struct Placements {
    held: Option<Held>,
    chosen: Option<PlacementId>,
}

impl Placements {
    /// Follows one frame of pointer and keys.
    pub fn follow(&mut self, input: &Input<'_>, plate: PlateId, queue: &mut Queue) {
        for key in &input.keys {
            match key {
                Stroked::GiveUp => self.give_up(),
                Stroked::Nudge(x, y) if self.held.is_none() => {
                    self.nudge(input, plate, (*x, *y), queue);
                }
                Stroked::Nudge(..) | Stroked::Close | Stroked::Remove | Stroked::Wider(_) => {}
            }
        }
        for moved in &input.moves {
            match moved {
                Moved::Press(at) => {
                    self.held = find(input, plate, *at);
                    if let Some(held) = &self.held {
                        self.chosen = Some(held.start.id);
                    }
                }
                Moved::To(at) => {
                    if let Some(held) = &mut self.held {
                        held.to(input.map.to_picture(*at));
                    }
                }
                Moved::Release(at) => {
                    if let Some(mut held) = self.held.take() {
                        held.to(input.map.to_picture(*at));
                        if held.now != held.start {
                            let edit = set_placement(&held.now);
                            queue.ask(Ask::Command(Command::Edit(edit)));
                        }
                    }
                }
            }
        }
    }

    fn nudge(&self, input: &Input<'_>, plate: PlateId, (x, y): (i32, i32), queue: &mut Queue) {
        let placements = &input.look.session.project().placements;
        let mut of_plate = placements.iter().rev().filter(|one| one.plate == plate);
        let chosen = self
            .chosen
            .and_then(|chosen| of_plate.clone().find(|one| one.id == chosen))
            .or_else(|| of_plate.next());
        if let Some(placement) = chosen {
            let by = Point::new(f64::from(x), f64::from(y));
            let mut moved = Placement::clone(placement);
            moved.placing = shifted(&moved.placing, by);
            queue.ask(Ask::Command(Command::Edit(set_placement(&moved))));
        }
    }

    /// Ends the gesture with nothing recorded.
    pub fn give_up(&mut self) {
        self.held = None;
    }

    /// Whether a gesture is under way.
    #[must_use]
    pub const fn is_busy(&self) -> bool {
        self.held.is_some()
    }

    /// The edit it would be.
    #[must_use]
    pub fn draft(&self) -> Option<Edit> {
        let held = self.held.as_ref().filter(|held| held.now != held.start)?;
        Some(set_placement(&held.now))
    }

    /// Paints outlines and handles of the plate's placements.
    pub fn paint(&self, painter: &Painter, input: &Input<'_>, plate: PlateId) {
        let project = input.look.session.project();
        let Some(size) = project.plate(plate).and_then(|plate| size_of(plate)) else {
            return;
        };
        for placement in project.placements.iter().filter(|one| one.plate == plate) {
            let held = self
                .held
                .as_ref()
                .filter(|held| held.start.id == placement.id);
            let placing = held.map_or(&placement.placing, |held| &held.now.placing);
            let Some(handles) = Handles::new(placing, size, &input.map) else {
                continue;
            };
            let colour = if self.chosen == Some(placement.id) {
                picture::CHOSEN
            } else {
                picture::LINE
            };
            handles.paint(painter, colour);
        }
    }
}

impl Held {
    fn to(&mut self, at: Point) {
        let by = Point::new(at.x - self.from.x, at.y - self.from.y);
        self.now.placing = match (self.grip, self.start.placing) {
            (Grip::Body, placing) => shifted(&placing, by),
            (Grip::Corner(index), Placing::Corners(mut corners)) => {
                corners[index] = Point::new(corners[index].x + by.x, corners[index].y + by.y);
                Placing::Corners(corners)
            }
            (
                Grip::Corner(_),
                Placing::Upright {
                    centre,
                    scale,
                    turn_deg,
                    mirrored,
                },
            ) => {
                let before = centre.distance(self.from).max(1e-6);
                let factor = (centre.distance(at) / before).clamp(1e-3, 1e3);
                Placing::Upright {
                    centre,
                    scale: scale * factor,
                    turn_deg,
                    mirrored,
                }
            }
            (
                Grip::Turn,
                Placing::Upright {
                    centre,
                    scale,
                    turn_deg,
                    mirrored,
                },
            ) => {
                let angle = |point: Point| libm::atan2(point.y - centre.y, point.x - centre.x);
                let turned = (angle(at) - angle(self.from)) * 180.0 / std::f64::consts::PI;
                Placing::Upright {
                    centre,
                    scale,
                    turn_deg: within_a_turn(turn_deg + turned),
                    mirrored,
                }
            }
            (Grip::Turn, corners @ Placing::Corners(_)) => corners,
        };
    }
}

/// The same angle within -180..180 degrees.
#[must_use]
pub fn within_a_turn(deg: f64) -> f64 {
    deg - 360.0 * ((deg + 180.0) / 360.0).floor()
}

/// The same place moved by so many canvas pixels.
#[must_use]
pub fn shifted(placing: &Placing, by: Point) -> Placing {
    let moved = |at: Point| Point::new(at.x + by.x, at.y + by.y);
    match *placing {
        Placing::Upright {
            centre,
            scale,
            turn_deg,
            mirrored,
        } => Placing::Upright {
            centre: moved(centre),
            scale,
            turn_deg,
            mirrored,
        },
        Placing::Corners(corners) => Placing::Corners(corners.map(moved)),
    }
}

struct Handles {
    corners: [Pos2; 4],
    turn: Option<Pos2>,
}

impl Handles {
    fn new(placing: &Placing, size: Size, map: &Map) -> Option<Self> {
        let scene_from_plate = placing.scene_from_plate(size)?;
        let corners = size
            .rect()
            .corners()
            .map(|corner| map.to_window(scene_from_plate.apply(corner)));
        let turn = matches!(placing, Placing::Upright { .. }).then(|| {
            let top = corners[0] + (corners[1] - corners[0]) * 0.5;
            let middle = corners[0] + (corners[2] - corners[0]) * 0.5;
            let up = (top - middle).normalized();
            top + up * picture_size::TURN
        });
        Some(Self { corners, turn })
    }

    fn grip(&self, at: Pos2) -> Option<Grip> {
        let near = |handle: Pos2| handle.distance(at) <= picture_size::GRAB;
        if self.turn.is_some_and(near) {
            return Some(Grip::Turn);
        }
        self.corners
            .iter()
            .position(|corner| near(*corner))
            .map(Grip::Corner)
    }

    fn paint(&self, painter: &Painter, colour: Color32) {
        polygon(
            painter,
            &self.corners,
            Stroke::new(picture_size::LINE, colour),
        );
        for corner in self.corners {
            handle(painter, corner, colour);
        }
        if let Some(turn) = self.turn {
            let top = self.corners[0] + (self.corners[1] - self.corners[0]) * 0.5;
            cased(
                painter,
                &[top, turn],
                Stroke::new(picture_size::LINE, colour),
            );
            painter.circle(
                turn,
                picture_size::HANDLE,
                picture::TEXT_GROUND,
                Stroke::new(picture_size::LINE, colour),
            );
        }
    }
}

/// What lies under a press: handles before bodies, the front placement before those behind it.
fn find(input: &Input<'_>, plate: PlateId, at: Pos2) -> Option<Held> {
    let project = input.look.session.project();
    let size = size_of(project.plate(plate)?)?;
    let from = input.map.to_picture(at);
    let of_plate = || {
        project
            .placements
            .iter()
            .rev()
            .filter(|placement| placement.plate == plate)
    };
    let hold = |placement: &Placement, grip: Grip| Held {
        start: placement.clone(),
        now: placement.clone(),
        grip,
        from,
    };
    for placement in of_plate() {
        let grip =
            Handles::new(&placement.placing, size, &input.map).and_then(|handles| handles.grip(at));
        if let Some(grip) = grip {
            return Some(hold(placement, grip));
        }
    }
    of_plate().find_map(|placement| {
        let plate_from_scene = placement.placing.scene_from_plate(size)?.inverse()?;
        let on_plate = plate_from_scene.apply(from);
        let inside = (0.0..f64::from(size.width)).contains(&on_plate.x)
            && (0.0..f64::from(size.height)).contains(&on_plate.y);
        inside.then(|| hold(placement, Grip::Body))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn angles_stay_within_a_turn() {
        for (given, expected) in [(190.0, -170.0), (-190.0, 170.0), (30.0, 30.0), (720.5, 0.5)] {
            assert!((within_a_turn(given) - expected).abs() < 1e-9, "{given}");
        }
    }
}
