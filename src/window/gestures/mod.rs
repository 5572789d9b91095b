//! What the pointer and the keys do in the picture: drafts of edits while a gesture lasts, one edit when it ends.

pub mod hand;
pub mod outline;
pub mod placement;
pub mod stroke;

use crate::geometry::Point;
use crate::project::{
    Edit, Mask, MaskId, MaskPart, PartId, Placement, Plate, PlateEdit, PlateId, Project, Shape,
    WhiteBalance,
};
use crate::session::Command;
use crate::session::viewing::Shown;
use crate::window::queue::{Ask, Column, Drawing, Look, Queue, Row, Tool};
use crate::window::viewport::compare::plate_from_frame;
use crate::window::viewport::pan_zoom::Map;
use crate::window::words::picture as words;
use egui::{Event, Key, Painter, PointerButton, Pos2, Response, TouchPhase, Ui};
use std::sync::Arc;

/// One thing the pointer did, in the order of the frame's events.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Moved {
    /// The first button went down on the picture.
    Press(Pos2),
    /// The pointer moved.
    To(Pos2),
    /// The first button went up.
    Release(Pos2),
}

/// What a pen told last.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Pen {
    /// How hard it presses, 0..=1; `None` where nothing tells.
    force: Option<f32>,
}

/// One key that gestures know.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stroked {
    /// Ends what is being set out.
    Close,
    /// Gives up.
    GiveUp,
    /// Takes away what is chosen.
    Remove,
    /// Moves what is chosen by so many pixels across and down.
    Nudge(i32, i32),
    /// Makes strokes wider (positive) or narrower.
    Wider(i32),
}

/// What gestures are given in one frame.
#[derive(Debug)]
pub struct Input<'a> {
    /// What the pointer did.
    pub moves: Vec<Moved>,
    /// How hard a pen pressed at each of these, 0..=1; 1 without a pen that tells.
    pub forces: Vec<f32>,
    /// What the keys did.
    pub keys: Vec<Stroked>,
    /// Where the picture was clicked twice.
    pub double: Option<Pos2>,
    /// How many handles further the chosen one is to be; negative goes back.
    pub next: isize,
    /// Whether a point is to be set in the middle of what is seen.
    pub puts: bool,
    /// Whether the key that pulls curves out of corners is held.
    pub pulls: bool,
    /// Where the picture lies.
    pub map: Map,
    /// What is looked at.
    pub look: &'a Look<'a>,
    /// Which picture is shown.
    pub shown: Shown,
}

/// The gesture under way, and what is chosen for the next.
#[derive(Debug, Default)]
pub struct Gestures {
    stroke: Option<stroke::Drawn>,
    outline: outline::Outlines,
    placement: placement::Placements,
    hand: hand::HandWork,
}

/// What gestures act on in this frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Acts {
    /// Nothing: the pointer looks only.
    Looks,
    /// A mask.
    Draws(Drawing),
    /// The placements of a plate.
    Places(PlateId),
    /// The steps done by hand on a plate.
    Works(PlateId),
    /// The grey of a plate.
    Picks(PlateId),
}

/// What gestures act on, given what is shown.
#[must_use]
pub fn acts(look: &Look<'_>, shown: Shown) -> Acts {
    if let Some(drawing) = look.drawing {
        let of_plate = match shown {
            Shown::Plate(plate, _) => plate == drawing.plate,
            Shown::Frame(_) => drawing.tool == Tool::Grey,
            Shown::Scene => false,
        };
        return match (of_plate, drawing.tool) {
            (false, _) => Acts::Looks,
            (true, Tool::Grey) => Acts::Picks(drawing.plate),
            (true, Tool::Stroke | Tool::Outline | Tool::Move) => Acts::Draws(drawing),
        };
    }
    match (look.selection.row, look.selection.column, shown) {
        (Row::Plate(plate), Column::Placement, Shown::Scene) => Acts::Places(plate),
        (Row::Plate(plate), Column::Spotting | Column::Warp, Shown::Plate(..)) => {
            Acts::Works(plate)
        }
        _other => Acts::Looks,
    }
}

impl Gestures {
    /// Follows one frame's pointer and keys; what ends is asked for as one edit.
    pub fn follow(&mut self, input: &Input<'_>, queue: &mut Queue) {
        match acts(input.look, input.shown) {
            Acts::Looks => self.give_up(),
            Acts::Draws(drawing) => self.draw(input, drawing, queue),
            Acts::Places(plate) => self.placement.follow(input, plate, queue),
            Acts::Works(plate) => self.hand.follow(input, plate, queue),
            Acts::Picks(plate) => pick(input, plate, queue),
        }
    }

    fn draw(&mut self, input: &Input<'_>, drawing: Drawing, queue: &mut Queue) {
        for key in &input.keys {
            match key {
                Stroked::Wider(by) => {
                    let drawing = stroke::wider(drawing, *by);
                    queue.ask(Ask::Draw(Some(drawing)));
                }
                Stroked::GiveUp if self.stroke.is_none() && !self.outline.is_busy() => {
                    queue.ask(Ask::Draw(None));
                }
                Stroked::GiveUp => self.give_up(),
                Stroked::Close | Stroked::Remove | Stroked::Nudge(..) => {}
            }
        }
        if drawing.tool == Tool::Stroke {
            self.outline.give_up();
            stroke::follow(&mut self.stroke, input, drawing, queue);
        } else {
            self.stroke = None;
            self.outline.follow(input, drawing, queue);
        }
    }

    /// Ends the gesture with nothing recorded.
    pub fn give_up(&mut self) {
        self.stroke = None;
        self.outline.give_up();
        self.placement.give_up();
        self.hand.give_up();
    }

    /// Whether a gesture is under way.
    #[must_use]
    pub const fn is_busy(&self) -> bool {
        self.stroke.is_some()
            || self.outline.is_busy()
            || self.placement.is_busy()
            || self.hand.is_busy()
    }

    /// The project as the gesture would leave it; `None` while there is none.
    #[must_use]
    pub fn draft(&self, project: &Project) -> Option<Edit> {
        self.stroke
            .as_ref()
            .map(|stroke| stroke.edit(project))
            .or_else(|| self.outline.draft(project))
            .or_else(|| self.placement.draft())
            .or_else(|| self.hand.draft(project))
    }

    /// Paints what the gesture is about, at once and before any tile follows.
    pub fn paint(&self, painter: &Painter, input: &Input<'_>, pointer: Option<Pos2>) {
        match acts(input.look, input.shown) {
            Acts::Looks | Acts::Picks(_) => {}
            Acts::Draws(drawing) => {
                self.outline.paint(painter, input, drawing);
                stroke::paint(self.stroke.as_ref(), painter, (input, drawing), pointer);
            }
            Acts::Places(plate) => self.placement.paint(painter, input, plate),
            Acts::Works(plate) => self.hand.paint(painter, input, plate, pointer),
        }
    }
}

fn pick(input: &Input<'_>, plate: PlateId, queue: &mut Queue) {
    if input.keys.contains(&Stroked::GiveUp) {
        queue.ask(Ask::Draw(None));
        return;
    }
    let pressed = input.moves.iter().find_map(|moved| match moved {
        Moved::Press(at) => Some(*at),
        Moved::To(_) | Moved::Release(_) => None,
    });
    let (Some(at), Some(of)) = (pressed, input.look.session.project().plate(plate)) else {
        return;
    };
    let on_plate = match input.shown {
        Shown::Frame(frame) => plate_from_frame(of, frame).apply(input.map.to_picture(at)),
        Shown::Plate(..) | Shown::Scene => input.map.to_picture(at),
    };
    // Grey belongs to the reference frame of the source in use, which a later source does not share with the plate.
    let reference_from_plate = of
        .variant()
        .and_then(|variant| variant.plate_from_variant().inverse());
    let at = reference_from_plate.map_or(on_plate, |map| map.apply(on_plate));
    queue.ask(Ask::Draw(None));
    match grey_edit(input.look, of, at) {
        Ok(edit) => queue.ask(Ask::Command(Command::Edit(edit))),
        Err(why) => queue.ask(Ask::Say(why)),
    }
}

fn grey_edit(look: &Look<'_>, plate: &Plate, at: Point) -> Result<Edit, String> {
    let stack = plate.stack().ok_or(words::NO_GREY)?;
    let gain_rgb = grey_gain(look, plate.id, at)?;
    let develop = crate::project::Develop {
        white_balance: WhiteBalance::Grey { at, gain_rgb },
        ..stack.develop
    };
    Ok(Edit::Plate(
        plate.id,
        PlateEdit::SetDevelop(plate.current, develop),
    ))
}

fn grey_gain(look: &Look<'_>, plate: PlateId, at: Point) -> Result<[f32; 3], String> {
    look.session
        .grey_gain(plate, at)
        .map_err(|error| error.to_string())
}

/// Reads what one frame's pointer did, and how hard a pen pressed each time (0..=1; 1 without one that tells). `pen`
/// is kept from frame to frame.
pub fn moves(ui: &Ui, response: &Response, pen: &mut Pen) -> (Vec<Moved>, Vec<f32>) {
    let on_picture = response.contains_pointer() || response.is_pointer_button_down_on();
    ui.input(|input| {
        // Space and drag moves the picture.
        if input.key_down(Key::Space) {
            return (Vec::new(), Vec::new());
        }
        let (mut moves, mut forces) = (Vec::new(), Vec::new());
        for event in &input.events {
            match event {
                // What the pen says of itself comes before what the pointer does by it.
                Event::Touch {
                    phase: TouchPhase::Start | TouchPhase::Move,
                    force: told,
                    ..
                } => pen.force = *told,
                Event::Touch { .. } => pen.force = None,
                Event::PointerMoved(at) => moves.push(Moved::To(*at)),
                Event::PointerButton {
                    pos,
                    button: PointerButton::Primary,
                    pressed: true,
                    ..
                } if on_picture && response.rect.contains(*pos) => moves.push(Moved::Press(*pos)),
                Event::PointerButton {
                    pos,
                    button: PointerButton::Primary,
                    pressed: false,
                    ..
                } => moves.push(Moved::Release(*pos)),
                _other => {}
            }
            forces.resize(moves.len(), pen.force.unwrap_or(1.0).clamp(0.0, 1.0));
        }
        (moves, forces)
    })
}

/// Reads the keys that gestures know; none while a text is being written.
#[must_use]
pub fn keys(ui: &Ui) -> Vec<Stroked> {
    if ui.text_edit_focused() {
        return Vec::new();
    }
    ui.input(|input| {
        let mut keys = Vec::new();
        let step = if input.modifiers.shift { 10 } else { 1 };
        let known = [
            (Key::Enter, Stroked::Close),
            (Key::Escape, Stroked::GiveUp),
            (Key::Delete, Stroked::Remove),
            (Key::Backspace, Stroked::Remove),
            (Key::ArrowLeft, Stroked::Nudge(-step, 0)),
            (Key::ArrowRight, Stroked::Nudge(step, 0)),
            (Key::ArrowUp, Stroked::Nudge(0, -step)),
            (Key::ArrowDown, Stroked::Nudge(0, step)),
            (Key::Comma, Stroked::Wider(-1)),
            (Key::Period, Stroked::Wider(1)),
        ];
        for (key, stroked) in known {
            for _press in 0..input.num_presses(key) {
                keys.push(stroked);
            }
        }
        keys
    })
}

/// Reads the keys that go through handles: how many further, and whether a point is to be set.
#[must_use]
pub fn further(ui: &Ui) -> (isize, bool) {
    ui.input(|input| {
        let times = |key| isize::try_from(input.num_presses(key)).unwrap_or(0);
        let next = times(Key::PageDown) - times(Key::PageUp);
        (next, input.key_pressed(Key::Insert))
    })
}

/// An edit that sets a part of a mask.
fn set_part(plate: PlateId, mask: MaskId, part: &MaskPart) -> Edit {
    Edit::Plate(plate, PlateEdit::SetPart(mask, Arc::new(part.clone())))
}

/// An edit that adds a part to a mask, under the next number.
fn add_part(drawing: Drawing, mask: MaskId, project: &Project, shape: Shape) -> Edit {
    let part = MaskPart {
        id: PartId(project.next_id),
        sign: drawing.sign,
        strength: drawing.strength,
        on: true,
        shape,
    };
    Edit::Plate(drawing.plate, PlateEdit::AddPart(mask, Arc::new(part)))
}

/// The mask that is drawn into.
fn mask_of<'a>(look: &Look<'a>, drawing: Drawing) -> Option<&'a Mask> {
    let plate = look.session.project().plate(drawing.plate)?;
    plate.mask(drawing.mask?).map(AsRef::as_ref)
}

fn set_placement(placement: &Placement) -> Edit {
    Edit::SetPlacement(Arc::new(placement.clone()))
}
