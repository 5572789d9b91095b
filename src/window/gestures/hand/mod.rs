//! Steps done by hand in the picture: places that are filled, and warps. What is drawn can be grabbed, moved and taken away; a tool adds to it.

mod adding;
pub mod grips;
mod inset;
mod places;
mod warps;

use crate::geometry::Point;
use crate::project::{Edit, Plate, PlateEdit, PlateId, Project, Step, StepId, StepKind, Verdict};
use crate::session::Command;
use crate::session::jobs::Work;
use crate::session::spotting::{moves, stretch_map, stretch_of};
use crate::window::gestures::{Input, Moved, Stroked};
use crate::window::queue::{Ask, Column, HandTool, Queue, ShownPlace};
use crate::window::theme::{picture, picture_size, state_colour};
use crate::window::viewport::overlay::{cased, handle};
use crate::window::viewport::pan_zoom::Map;
use crate::window::words::card as words;
use adding::Building;
use egui::{Color32, Painter, Pos2, Stroke, vec2};
use grips::Grip;

/// A handle that is held.
#[derive(Debug, Clone, PartialEq)]
struct Held {
    plate: PlateId,
    start: Step,
    now: Step,
    grip: Grip,
    from: Point,
    /// Whether where the model was is moved along.
    whole: bool,
}

/// The handle held, what is being set out, and what keys act on.
#[derive(Debug, Default)]
pub struct HandWork {
    held: Option<Held>,
    building: Option<Building>,
    chosen: Option<(StepId, Grip)>,
}

/// The steps of a plate that a column of the build sheet is about.
pub fn steps_of(plate: &Plate, column: Column) -> impl Iterator<Item = &Step> {
    plate.steps.iter().filter(move |step| match &step.kind {
        StepKind::Spotting(_) | StepKind::PaintOut(_) => column == Column::Spotting,
        StepKind::Warp(_) => column == Column::Warp,
        StepKind::Matte(_) | StepKind::Grade(_) => false,
    })
}

fn set_step(plate: PlateId, step: Step) -> Edit {
    Edit::Plate(plate, PlateEdit::SetStep(step))
}

impl HandWork {
    /// Follows one frame of pointer and keys.
    pub fn follow(&mut self, input: &Input<'_>, id: PlateId, queue: &mut Queue) {
        let Some(plate) = input.look.session.project().plate(id) else {
            self.give_up();
            return;
        };
        if input.look.adding.map(|adding| adding.tool) != self.building.as_ref().map(Building::tool)
        {
            self.building = None;
        }
        self.keys(input, plate, queue);
        for moved in &input.moves {
            match moved {
                Moved::Press(at) => self.press(input, plate, *at, queue),
                Moved::To(at) => self.moved(input, *at),
                Moved::Release(at) => {
                    self.moved(input, *at);
                    self.released(input, plate, *at, queue);
                }
            }
        }
    }

    fn keys(&mut self, input: &Input<'_>, plate: &Plate, queue: &mut Queue) {
        for key in &input.keys {
            match key {
                Stroked::GiveUp if self.is_busy() => self.give_up(),
                Stroked::GiveUp => {
                    self.chosen = None;
                    queue.ask(Ask::Add(None));
                }
                Stroked::Close if self.building.is_some() => self.close(input, plate, queue),
                Stroked::Close => self.decide((input, plate), Verdict::Accepted, queue),
                Stroked::Remove => self.remove(input, plate, queue),
                Stroked::Nudge(x, y) => {
                    let by = Point::new(f64::from(*x), f64::from(*y));
                    self.nudge(input, plate, by, queue);
                }
                Stroked::Wider(by) => {
                    if let Some(adding) = input.look.adding {
                        queue.ask(Ask::Add(Some(adding::wider(adding, *by))));
                    }
                }
            }
        }
        if input.next != 0 {
            self.choose_next(input, plate, queue);
        }
        if input.puts {
            self.put(input, plate, queue);
        }
    }

    /// Chooses the next handle, or the one before, and brings it into view.
    fn choose_next(&mut self, input: &Input<'_>, plate: &Plate, queue: &mut Queue) {
        let all: Vec<(StepId, Grip, Point)> = steps_of(plate, input.look.selection.column)
            .flat_map(|step| {
                let points = grips::points(&step.kind);
                points.into_iter().map(|(grip, at)| (step.id, grip, at))
            })
            .collect();
        let now = self.chosen.and_then(|chosen| {
            let same = |(step, grip, _): &(StepId, Grip, Point)| (*step, *grip) == chosen;
            all.iter().position(same)
        });
        let count = isize::try_from(all.len()).unwrap_or(0);
        let next = match now.and_then(|now| isize::try_from(now).ok()) {
            Some(now) => now + input.next,
            None if input.next > 0 => 0,
            None => -1,
        };
        let next = usize::try_from(next.rem_euclid(count.max(1))).unwrap_or(0);
        if let Some((step, grip, at)) = all.get(next) {
            self.chosen = Some((*step, *grip));
            if !input.map.area.contains(input.map.to_window(*at)) {
                let place = ShownPlace {
                    frame: None,
                    at: Some(*at),
                };
                queue.ask(Ask::Show(place));
            }
        }
    }

    /// Sets a point in the middle of what is seen, for those who work by keys.
    fn put(&mut self, input: &Input<'_>, plate: &Plate, queue: &mut Queue) {
        let Some(adding) = input.look.adding else {
            return;
        };
        let at = input.map.to_picture(input.map.area.center());
        match &mut self.building {
            Some(building) => building.push(at),
            None => self.building = Some(Building::new(adding, at)),
        }
        if let Some(building) = &mut self.building {
            if building.is_one_point() {
                self.close(input, plate, queue);
            } else if building.is_dragged() {
                let seen = input
                    .map
                    .to_picture(input.map.area.center() + vec2(60.0, 40.0));
                building.drag_to(seen);
            }
        }
    }

    fn press(&mut self, input: &Input<'_>, plate: &Plate, at: Pos2, queue: &mut Queue) {
        let place = input.map.to_picture(at);
        if let Some(building) = &mut self.building {
            if building.ends_at(&input.map, at) {
                self.close(input, plate, queue);
            } else {
                building.push(place);
            }
            return;
        }
        let tool = input.look.adding.map(|adding| adding.tool);
        let found = steps_of(plate, input.look.selection.column)
            .filter_map(|step| Some((step, grips::under(&step.kind, &input.map, at)?)))
            .filter(|(_, (far, grip))| match (tool, grip) {
                // With a tool in hand, a place is meant only where a dab would lie in it.
                (Some(tool), Grip::Place(_)) => tool == HandTool::Dab && *far <= 0.0,
                _handle => true,
            })
            .min_by(|(_, (a, _)), (_, (b, _))| a.total_cmp(b));
        if let Some((step, (_far, grip))) = found {
            self.chosen = Some((step.id, grip));
            self.held = Some(Held {
                plate: plate.id,
                start: step.clone(),
                now: step.clone(),
                grip,
                from: place,
                whole: input.pulls,
            });
        } else if let Some(adding) = input.look.adding {
            self.chosen = None;
            self.building = Some(Building::new(adding, place));
        } else {
            self.chosen = None;
        }
    }

    fn moved(&mut self, input: &Input<'_>, at: Pos2) {
        let place = input.map.to_picture(at);
        if let Some(building) = &mut self.building
            && building.is_down()
        {
            building.drag_to(place);
        }
        if let Some(held) = &mut self.held {
            let from = input.map.to_window(held.from);
            // A hand that trembles does not move a place that it wants to accept.
            if held.now == held.start && from.distance(at) < picture_size::PULL {
                return;
            }
            let by = Point::new(place.x - held.from.x, place.y - held.from.y);
            held.now.kind = grips::moved(&held.start.kind, (held.grip, held.whole), by);
        }
    }

    fn released(&mut self, input: &Input<'_>, plate: &Plate, at: Pos2, queue: &mut Queue) {
        if let Some(building) = &mut self.building {
            building.let_go();
            if building.ends_with_button() {
                self.close(input, plate, queue);
            }
        }
        let Some(held) = self.held.take() else {
            return;
        };
        let from = input.map.to_window(held.from);
        if held.now != held.start {
            ask_for(plate, held.now, queue);
        } else if from.distance(at) < picture_size::PULL && is_find(&held.start, held.grip) {
            let verdict = if places::is_accepted(&held.start.kind, held.grip) {
                Verdict::Refused
            } else {
                Verdict::Accepted
            };
            self.decide((input, plate), verdict, queue);
        }
    }

    /// Records what was set out, once it is complete.
    fn close(&mut self, input: &Input<'_>, plate: &Plate, queue: &mut Queue) {
        let Some(building) = &mut self.building else {
            return;
        };
        if building.next_line() {
            return;
        }
        let project = input.look.session.project();
        if let Some(made) = building.made(project, plate) {
            let other = building.is_from_another();
            self.building = None;
            self.chosen = Some(made.chosen);
            queue.ask(Ask::Command(Command::Edit(made.edit)));
            if other {
                queue.ask(Ask::Start(Work::Fuse(plate.id)));
            }
        } else if building.is_complete() {
            self.building = None;
            queue.ask(Ask::Say(words::WARP_CANNOT.to_owned()));
        } else if building.ends_with_button() {
            self.building = None;
        }
    }

    /// Puts `verdict` on the chosen find.
    fn decide(&self, (input, plate): (&Input<'_>, &Plate), verdict: Verdict, queue: &mut Queue) {
        let Some((step, grip)) = self.chosen_of(input, plate) else {
            return;
        };
        if let Some(kind) = places::decided(&step.kind, grip, verdict) {
            let step = Step {
                kind,
                ..step.clone()
            };
            queue.ask(Ask::Command(Command::Edit(set_step(plate.id, step))));
        }
    }

    fn remove(&mut self, input: &Input<'_>, plate: &Plate, queue: &mut Queue) {
        if let Some(building) = &mut self.building {
            if !building.pop() {
                self.building = None;
            }
            return;
        }
        let Some((step, grip)) = self.chosen_of(input, plate) else {
            return;
        };
        if is_find(step, grip) {
            self.decide((input, plate), Verdict::Refused, queue);
            return;
        }
        let edit = match grips::without(&step.kind, grip) {
            Some(kind) => set_step(
                plate.id,
                Step {
                    kind,
                    ..step.clone()
                },
            ),
            None => Edit::Plate(plate.id, PlateEdit::RemoveStep(step.id)),
        };
        self.chosen = None;
        queue.ask(Ask::Command(Command::Edit(edit)));
    }

    fn nudge(&mut self, input: &Input<'_>, plate: &Plate, by: Point, queue: &mut Queue) {
        if let Some(building) = &mut self.building {
            building.nudge(by);
            return;
        }
        if self.held.is_some() {
            return;
        }
        if let Some((step, grip)) = self.chosen_of(input, plate) {
            let kind = grips::moved(&step.kind, (grip, input.pulls), by);
            let step = Step {
                kind,
                ..step.clone()
            };
            ask_for(plate, step, queue);
        }
    }

    fn chosen_of<'a>(&self, input: &Input<'_>, plate: &'a Plate) -> Option<(&'a Step, Grip)> {
        let (id, grip) = self.chosen?;
        let mut steps = steps_of(plate, input.look.selection.column);
        Some((steps.find(|step| step.id == id)?, grip))
    }

    /// Ends the gesture with nothing recorded.
    pub fn give_up(&mut self) {
        self.held = None;
        self.building = None;
    }

    /// Whether a gesture is under way.
    #[must_use]
    pub const fn is_busy(&self) -> bool {
        self.held.is_some() || self.building.is_some()
    }

    /// The edit it would be.
    #[must_use]
    pub fn draft(&self, project: &Project) -> Option<Edit> {
        if let Some(building) = &self.building {
            let plate = project.plate(building.plate())?;
            return building.made(project, plate).map(|made| made.edit);
        }
        let held = self.held.as_ref().filter(|held| held.now != held.start)?;
        Some(set_step(held.plate, held.now.clone()))
    }

    /// Paints the handles of the plate's steps, and what is being set out.
    pub fn paint(&self, painter: &Painter, input: &Input<'_>, id: PlateId, pointer: Option<Pos2>) {
        let project = input.look.session.project();
        let drafted = self.draft(project);
        let drafted = drafted.and_then(|edit| project.edited(&edit).ok());
        let project = drafted.as_ref().unwrap_or(project);
        let Some(plate) = project.plate(id) else {
            return;
        };
        let column = input.look.selection.column;
        if column == Column::Warp {
            paint_stretch(painter, &input.map, plate);
        }
        for step in steps_of(plate, column) {
            let chosen = self.chosen.filter(|(of, _)| *of == step.id);
            let chosen = chosen.map(|(_, grip)| grip);
            match &step.kind {
                StepKind::Warp(warp) => warps::paint(painter, &input.map, (warp, step.on)),
                kind => places::paint(painter, &input.map, (kind, step.on), chosen),
            }
            paint_points(painter, &input.map, &step.kind, chosen);
        }
        if let Some(building) = &self.building {
            building.paint(painter, &input.map, pointer);
        } else if let (Some(adding), Some(at)) = (input.look.adding, pointer) {
            adding::paint_pointer(painter, &input.map, adding, at);
        }
    }
}

fn is_find(step: &Step, grip: Grip) -> bool {
    matches!(grip, Grip::Place(number) if step
        .kind
        .patches()
        .get(number)
        .is_some_and(|patch| patch.confidence.is_some()))
}

/// Asks for a changed step, unless it is a warp that cannot be or that folds.
fn ask_for(plate: &Plate, step: Step, queue: &mut Queue) {
    let refused = match stretch_of(plate, &step) {
        Some(found) if found.folds => Some(words::FOLD_REFUSED),
        None if moves(&step) => Some(words::WARP_CANNOT),
        _sound => None,
    };
    queue.ask(match refused {
        Some(why) => Ask::Say(why.to_owned()),
        None => Ask::Command(Command::Edit(set_step(plate.id, step))),
    });
}

fn paint_points(painter: &Painter, map: &Map, kind: &StepKind, chosen: Option<Grip>) {
    for (grip, at) in grips::points(kind) {
        let at = map.to_window(at);
        if grips::has_handle(grip) && map.area.expand(picture_size::GRAB).contains(at) {
            let colour = if chosen == Some(grip) {
                picture::CHOSEN
            } else {
                picture::LINE
            };
            handle(painter, at, colour);
        }
    }
}

/// Marks where warps stretch the plate so far that its texture shows it (slanted lines), and where it folds (crosses).
fn paint_stretch(painter: &Painter, map: &Map, plate: &Plate) {
    let step = picture_size::STRETCH;
    let size = crate::window::viewport::compare::size_of(plate).unwrap_or_default();
    let inside = |at: &Point| {
        (0.0..f64::from(size.width)).contains(&at.x)
            && (0.0..f64::from(size.height)).contains(&at.y)
    };
    let mut places = Vec::new();
    let mut down = map.area.top() + step * 0.5;
    while down < map.area.bottom() {
        let mut across = map.area.left() + step * 0.5;
        while across < map.area.right() {
            places.push(map.to_picture(egui::pos2(across, down)));
            across += step;
        }
        down += step;
    }
    places.retain(inside);
    for here in stretch_map(plate, &places) {
        let at = map.to_window(here.at);
        let reach = vec2(step, -step) * 0.35;
        let across = |by: egui::Vec2, colour: Color32| {
            let line = Stroke::new(picture_size::LINE, colour);
            cased(painter, &[at - by, at + by], line);
        };
        if here.folds {
            across(reach, state_colour::MISSING);
            across(vec2(reach.x, -reach.y), state_colour::MISSING);
        } else {
            across(reach, state_colour::DOUBT);
        }
    }
}
