//! The head of a row: grip, seen or hidden, name, blend, strength, and what can be done with the plate.

use crate::project::{Blend, Edit, Placement, PlateEdit, PlateId, Project};
use crate::session::Command;
use crate::session::jobs::Work;
use crate::window::build_sheet::facts::front_placement;
use crate::window::build_sheet::order::{self, Way};
use crate::window::queue::{Ask, Dialogue, Queue};
use crate::window::words;
use egui::{Key, Ui};
use std::sync::Arc;

/// What is being typed or dragged in a row's head.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Drafts {
    name: Option<(PlateId, String)>,
    strength: Option<(PlateId, f32)>,
}

/// Shows the head of a plate's row; true while its grip is held.
pub fn ui(
    ui: &mut Ui,
    (project, plate): (&Project, PlateId),
    drafts: &mut Drafts,
    queue: &mut Queue,
) -> egui::Response {
    let name = project.plate_name(plate).to_owned();
    let grip = ui
        .add(
            egui::Button::new(words::GRIP)
                .sense(egui::Sense::drag())
                .frame(false),
        )
        .accessible_name(words::grip(&name))
        .on_hover_cursor(egui::CursorIcon::Grab)
        .on_hover_text(words::GRIP_HELP);
    let placed = front_placement(project, plate).map(|(_at, placed)| placed.clone());
    if let Some(placed) = &placed {
        let mut visible = placed.visible;
        let seen = ui.checkbox(&mut visible, "");
        let seen = seen.accessible_name(words::seen(&name));
        if seen.on_hover_text(words::SEEN_HELP).changed() {
            ask(
                queue,
                Placement {
                    visible,
                    ..placed.clone()
                },
            );
        }
    }
    name_ui(ui, (plate, &name), drafts, queue);
    if let Some(placed) = &placed {
        blend_ui(ui, (placed, &name), queue);
        strength_ui(ui, (plate, &name), placed, drafts, queue);
    }
    more_ui(ui, (project, plate), &name, queue);
    grip
}

fn ask(queue: &mut Queue, placement: Placement) {
    queue.ask(Ask::Command(Command::Edit(Edit::SetPlacement(Arc::new(
        placement,
    )))));
}

fn name_ui(ui: &mut Ui, (plate, now): (PlateId, &str), drafts: &mut Drafts, queue: &mut Queue) {
    let draft = drafts.name.clone().filter(|(of, _text)| *of == plate);
    let mut text = draft.map_or_else(|| now.to_owned(), |(_of, text)| text);
    let field = ui
        .add(egui::TextEdit::singleline(&mut text).desired_width(86.0))
        .accessible_name(words::plate_name(now));
    if field.has_focus() {
        drafts.name = Some((plate, text.clone()));
    }
    if field.lost_focus() {
        let given_up = ui.input(|input| input.key_pressed(Key::Escape));
        let text = text.trim().to_owned();
        if !given_up && !text.is_empty() && text != now {
            let edit = Edit::Plate(plate, PlateEdit::Name(text));
            queue.ask(Ask::Command(Command::Edit(edit)));
        }
        drafts.name = None;
    }
}

fn blend_ui(ui: &mut Ui, (placed, name): (&Placement, &str), queue: &mut Queue) {
    let mut blend = placed.blend;
    egui::ComboBox::from_id_salt("blend")
        .selected_text(words::card::blend(blend))
        .width(92.0)
        .show_ui(ui, |ui| {
            for other in Blend::ALL {
                ui.selectable_value(&mut blend, other, words::card::blend(other))
                    .on_hover_text(other.name());
            }
        })
        .response
        .on_hover_text(placed.blend.name())
        .accessible_name(words::blend_of(name));
    if blend != placed.blend {
        ask(
            queue,
            Placement {
                blend,
                ..placed.clone()
            },
        );
    }
}

/// One edit when the value is let go; while it is moved, a draft.
fn strength_ui(
    ui: &mut Ui,
    (plate, name): (PlateId, &str),
    placed: &Placement,
    drafts: &mut Drafts,
    queue: &mut Queue,
) {
    let draft = drafts.strength.filter(|(of, _value)| *of == plate);
    let mut percent = draft.map_or(placed.strength, |(_of, value)| value) * 100.0;
    let value = egui::DragValue::new(&mut percent)
        .range(0.0..=100.0)
        .speed(0.5)
        .max_decimals(0)
        .suffix(" %");
    let value = ui
        .add_sized([52.0, 20.0], value)
        .accessible_name(words::strength_of(name))
        .on_hover_text(words::STRENGTH_HELP);
    let strength = percent / 100.0;
    let changed = |strength: f32| Placement {
        strength,
        ..placed.clone()
    };
    if value.changed() {
        drafts.strength = Some((plate, strength));
    }
    let Some((_of, strength)) = drafts.strength.filter(|(of, _value)| *of == plate) else {
        return;
    };
    if ui.input(|input| input.key_pressed(Key::Escape)) {
        drafts.strength = None;
    } else if value.dragged() || value.has_focus() {
        let draft = Edit::SetPlacement(Arc::new(changed(strength)));
        queue.ask(Ask::Draft(Box::new(draft)));
    } else {
        drafts.strength = None;
        if strength != placed.strength {
            ask(queue, changed(strength));
        }
    }
}

fn more_ui(ui: &mut Ui, (project, plate): (&Project, PlateId), name: &str, queue: &mut Queue) {
    let menu = ui.menu_button(words::MORE, |ui| {
        if ui.button(words::SWAP).clicked() {
            queue.ask(Ask::OpenDialogue(Dialogue::Swap(plate)));
        }
        if ui.button(words::FUSE_PLATE).clicked() {
            queue.ask(Ask::Start(Work::Fuse(plate)));
        }
        for (way, label) in [(Way::Forward, words::FORWARD), (Way::Back, words::BACKWARD)] {
            let edit = order::step(project, plate, way);
            if ui
                .add_enabled(edit.is_some(), egui::Button::new(label))
                .clicked()
                && let Some(edit) = edit
            {
                queue.ask(Ask::Command(Command::Edit(edit)));
            }
        }
        ui.separator();
        if ui.button(words::REMOVE_PLATE).clicked() {
            queue.ask(Ask::Command(Command::Edit(Edit::RemovePlate(plate))));
        }
    });
    menu.response.accessible_name(words::more(name));
}
