//! The step card: what the chosen cell's step does, its values, its findings.

pub mod field;
pub mod finish;
pub mod frames;
pub mod fuse;
mod lamp_colour;
mod lamps;
pub mod lights;
pub mod made;
pub mod mask;
mod mask_rules;
pub mod match_light;
pub mod matte;
pub mod placement;
pub mod plots;
pub mod register;
pub mod spotting;
mod swapped;
pub mod warp;

use crate::project::{
    Edit, FrameId, GroupId, PatchFrom, Plate, PlateEdit, PlateId, Project, Step, VariantId,
};
use crate::session::Command;
use crate::session::jobs::Work;
use crate::session::spotting::WarpStretch;
use crate::window::queue::{Adding, Ask, Column, Drawing, Look, Queue, Row, ShownPlace};
use crate::window::step_cards::field::{Knob, Turned};
use crate::window::theme::{card_size, state_colour};
use crate::window::words::card as words;
use egui::{Key, RichText, Sense, Ui, vec2};
use std::sync::Arc;

/// What cards remember between frames of the window.
#[derive(Debug, Default)]
pub struct CardState {
    /// What a control being moved would do.
    held: Option<Edit>,
    /// Whether that was given up; until the button is let go nothing is drafted.
    given_up: bool,
    /// Which photo is shown.
    frame: Option<FrameId>,
    /// Which practical group has its mask open.
    group: Option<GroupId>,
    /// A name that is being written: what it belongs to, and how far it is.
    writing: Option<(String, String)>,
    /// How the next stroke is drawn.
    brush: mask::Brush,
    /// Radius of the next dab, in px; the usual one while nobody set another.
    dab_px: Option<f32>,
    /// What the next place that is healed is filled with, where people said so.
    heal: Option<PatchFrom>,
    /// The same for the next place that is painted out.
    fill: Option<PatchFrom>,
    /// The take without dust that plates are compared with, where people chose one.
    cleaned: Option<VariantId>,
    /// What warps do at worst, as they were looked at last.
    stretches: Vec<(Step, Option<WarpStretch>)>,
}

/// What a card is given: the project with the draft of a moved control, and where its wishes go.
pub(in crate::window) struct Card<'a> {
    look: &'a Look<'a>,
    project: Arc<Project>,
    queue: &'a mut Queue,
    state: &'a mut CardState,
}

/// Shows the card of the chosen cell.
pub fn ui(ui: &mut Ui, look: &Look<'_>, queue: &mut Queue, state: &mut CardState) {
    if let Some(frame) = look.show.and_then(|place| place.frame) {
        state.frame = Some(frame);
    }
    if ui.input(|input| input.key_pressed(Key::Escape)) && state.held.take().is_some() {
        state.given_up = true;
    }
    let now = look.session.project();
    let drafted = state.held.as_ref().and_then(|edit| now.edited(edit).ok());
    let mut card = Card {
        look,
        project: drafted.map_or_else(|| Arc::clone(now), Arc::new),
        queue,
        state,
    };
    card.ui(ui);
    let down = ui.input(|input| input.pointer.any_down());
    if !down {
        // What was held has been asked for by now, or its control is gone.
        state.held = None;
        state.given_up = false;
    }
    if let Some(edit) = &state.held {
        queue.ask(Ask::Draft(Box::new(edit.clone())));
    }
}

impl Card<'_> {
    fn ui(&mut self, ui: &mut Ui) {
        let project = Arc::clone(&self.project);
        match self.look.selection.row {
            Row::Finish => finish::ui(ui, self, &project.finish),
            Row::Plate(id) => match project.plate(id) {
                Some(plate) => self.plate(ui, plate),
                None => {
                    ui.label(words::NO_PLATE);
                }
            },
        }
    }

    fn plate(&mut self, ui: &mut Ui, plate: &Plate) {
        let column = self.look.selection.column;
        let of_photos = matches!(
            column,
            Column::Frames | Column::Register | Column::Match | Column::Fuse
        );
        let is_recipe = of_photos && plate.stack().is_none();
        let (head, says) = if is_recipe {
            words::RECIPE_HEAD
        } else {
            words::head(column)
        };
        ui.add(egui::Label::new(
            RichText::new(format!("{} · {head}", plate.name)).heading(),
        ));
        ui.label(RichText::new(says).weak());
        ui.add_space(card_size::GAP);
        if is_recipe {
            made::ui(ui, self, plate);
            return;
        }
        swapped::ui(ui, self, plate);
        match column {
            Column::Frames => frames::ui(ui, self, plate),
            Column::Register => register::ui(ui, self, plate),
            Column::Match => match_light::ui(ui, self, plate),
            Column::Fuse => fuse::ui(ui, self, plate),
            Column::Spotting => spotting::ui(ui, self, plate),
            Column::Warp => warp::ui(ui, self, plate),
            Column::Matte => matte::ui(ui, self, plate),
            Column::Lights => lights::ui(ui, self, plate),
            Column::Placement => placement::ui(ui, self, plate),
        }
    }

    /// Records an edit.
    fn edit(&mut self, edit: Edit) {
        self.queue.ask(Ask::Command(Command::Edit(edit)));
    }

    /// Records an edit of a plate.
    fn plate_edit(&mut self, plate: PlateId, edit: PlateEdit) {
        self.edit(Edit::Plate(plate, edit));
    }

    /// Asks for the pictures that the edit just asked for needs, where the plate could be seen before: nobody who adds lights or a
    /// matte wants to look at a plate without them first.
    fn follow_up(&mut self, plate: &Plate) {
        if plate.stack().is_some_and(|stack| stack.measured.is_some()) {
            self.queue.ask(Ask::Start(Work::Fuse(plate.id)));
        }
    }

    /// Drafts an edit while a control is moved, and records it once when the control is let go.
    fn turn(&mut self, turned: Turned, edit: Edit) {
        if self.state.given_up {
            return;
        }
        if !turned.done {
            self.state.held = Some(edit);
            return;
        }
        self.state.held = None;
        let now = self.look.session.project();
        // A control let go where it began leaves nothing to record.
        if now.edited(&edit).is_ok_and(|edited| edited == **now) {
            return;
        }
        self.edit(edit);
    }

    /// Shows the values of something that is set as a whole.
    fn knobs<T: Clone>(
        &mut self,
        ui: &mut Ui,
        (knobs, of): (&[Knob<T>], &str),
        value: &T,
        edit: impl Fn(T) -> Edit,
    ) {
        for knob in knobs {
            let now = (knob.get)(value);
            if let Some(turned) = field::number(ui, (&knob.text, of), &knob.reach, now) {
                let mut set = value.clone();
                (knob.set)(&mut set, turned.value);
                self.turn(turned, edit(set));
            }
        }
    }

    /// Shows a place in the picture.
    fn show(&mut self, place: ShownPlace) {
        if place.frame.is_some() {
            self.state.frame = place.frame;
        }
        self.queue.ask(Ask::Show(place));
    }

    /// Lets the pointer draw, or look only.
    fn draw(&mut self, drawing: Option<Drawing>) {
        self.queue.ask(Ask::Draw(drawing));
    }

    /// Lets the pointer add to the steps done by hand, or look only.
    fn add(&mut self, adding: Option<Adding>) {
        self.queue.ask(Ask::Add(adding));
    }

    /// Tools of the pointer; the one in hand says how it is used.
    fn tools<const COUNT: usize>(&mut self, ui: &mut Ui, tools: [Adding; COUNT]) {
        let mut how = None;
        ui.horizontal_wrapped(|ui| {
            for adding in tools {
                let (name, hover) = words::tool(adding.tool, adding.to);
                let in_hand = self.look.adding;
                let chosen =
                    in_hand.is_some_and(|one| (one.tool, one.to) == (adding.tool, adding.to));
                how = chosen.then_some(hover).or(how);
                let button = ui.add(egui::Button::selectable(chosen, name));
                if button.on_hover_text(hover).clicked() {
                    self.draw(None);
                    self.add((!chosen).then_some(adding));
                }
            }
        });
        if let Some(how) = how {
            ui.weak(how);
        }
    }

    /// A name that can be changed; recorded when it is left.
    fn name(
        &mut self,
        ui: &mut Ui,
        (called, name): (&str, &str),
        edit: impl FnOnce(String) -> Edit,
    ) {
        let mut text = match &self.state.writing {
            Some((of, text)) if of == called => text.clone(),
            _other => name.to_owned(),
        };
        let written = ui.add(egui::TextEdit::singleline(&mut text).desired_width(140.0));
        if written.changed() {
            self.state.writing = Some((called.to_owned(), text.clone()));
        }
        if written.lost_focus() {
            self.state.writing = None;
            let text = text.trim();
            if !text.is_empty() && text != name {
                self.edit(edit(text.to_owned()));
            }
        }
        let _named = written.accessible_name(called);
    }

    /// A finding with a button that shows its place.
    fn finding(&mut self, ui: &mut Ui, said: &str, place: Option<ShownPlace>) {
        ui.horizontal_wrapped(|ui| {
            let (mark, _response) = ui.allocate_exact_size(vec2(14.0, 14.0), Sense::hover());
            let points = vec![mark.center_top(), mark.right_bottom(), mark.left_bottom()];
            ui.painter().add(egui::Shape::convex_polygon(
                points,
                state_colour::DOUBT,
                egui::Stroke::NONE,
            ));
            ui.label(format!("{}: {said}", words::NEEDS_A_LOOK));
            if let Some(place) = place {
                let button = ui.small_button(words::SHOW_ME);
                if button.clicked() {
                    self.show(place);
                }
                let _named = button.accessible_name(format!("{}: {said}", words::SHOW_ME));
            }
        });
    }
}

/// Something that is on or off.
struct Switch<'a> {
    on: bool,
    name: &'a str,
    hover: &'a str,
}

impl Switch<'_> {
    /// Shows it; true when it was switched.
    fn ui(&self, ui: &mut Ui) -> bool {
        let mut on = self.on;
        let check = ui.checkbox(&mut on, self.name).on_hover_text(self.hover);
        check.changed() && on != self.on
    }
}

/// A choice among a few behind its name; gives the new one when another was chosen. Several of one name on a card are told apart
/// by `of`.
fn choice<T: Copy + PartialEq>(
    ui: &mut Ui,
    (text, of): (&field::Text, &str),
    now: T,
    all: &[(T, String)],
) -> Option<T> {
    let label = field::name_label(ui, text);
    let mut chosen = None;
    let word = all
        .iter()
        .find(|(value, _word)| *value == now)
        .map_or("", |(_value, word)| word.as_str());
    let combo = egui::ComboBox::from_id_salt((text.name, of))
        .selected_text(word)
        .show_ui(ui, |ui| {
            for (value, word) in all {
                if ui.selectable_label(*value == now, word).clicked() && *value != now {
                    chosen = Some(*value);
                }
            }
        });
    let combo = combo.response.on_hover_text(text.hover);
    let _named = if of.is_empty() {
        combo.labelled_by(label.id)
    } else {
        combo.accessible_name(format!("{} of {of}", text.name))
    };
    chosen
}

/// A head within a card.
fn part(ui: &mut Ui, head: &str) {
    ui.add_space(card_size::GAP);
    ui.separator();
    ui.label(RichText::new(head).strong());
}

/// A value of a slider as a whole number.
fn whole_number(value: f64) -> u64 {
    let rounded = crate::pixels::convert::floor_index(value + 0.5);
    u64::try_from(rounded).unwrap_or(u64::MAX)
}
