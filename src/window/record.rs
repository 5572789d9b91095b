//! The bar over the sheet: the scene's name and whether it is saved, undo and redo, the list of edits, save, open, looks.

use crate::project::{Edit, NamedState, RevisionId};
use crate::session::preferences::{Preferences, Surround};
use crate::session::{Command, Session};
use crate::window::queue::{Ask, Dialogue, Next, Queue};
use crate::window::{theme, words};
use egui::containers::menu::{MenuButton, MenuConfig};

/// A name of the scene that is being typed.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct NameDraft(Option<String>);

/// A name for a state that is being typed.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct StateDraft(String);

/// Shows the bar's left part.
pub fn ui(
    ui: &mut egui::Ui,
    session: &Session,
    (preferences, name, state): (&Preferences, &mut NameDraft, &mut StateDraft),
    queue: &mut Queue,
) {
    name_ui(ui, session, name, queue);
    ui.label(if session.is_saved() {
        words::SAVED
    } else {
        words::UNSAVED
    });
    let history = session.history();
    let undo = ui.add_enabled(history.can_undo(), egui::Button::new(words::UNDO));
    if undo.on_hover_text(words::UNDO_HELP).clicked() {
        queue.ask(Ask::Command(Command::Undo));
    }
    let redo = ui.add_enabled(history.can_redo(), egui::Button::new(words::REDO));
    if redo.on_hover_text(words::REDO_HELP).clicked() {
        queue.ask(Ask::Command(Command::Redo));
    }
    ui.menu_button(words::EDITS, |ui| edits_ui(ui, session, queue));
    states_menu(ui, session, state, queue);
    ui.menu_button(words::SCENE, |ui| scene_ui(ui, queue));
    ui.menu_button(words::LOOKS, |ui| looks_ui(ui, preferences, queue));
}

fn name_ui(ui: &mut egui::Ui, session: &Session, draft: &mut NameDraft, queue: &mut Queue) {
    let now = &session.project().name;
    let mut text = draft.0.clone().unwrap_or_else(|| now.clone());
    let field = ui
        .add(egui::TextEdit::singleline(&mut text).desired_width(140.0))
        .accessible_name(words::SCENE_NAME)
        .on_hover_text(words::SCENE_NAME);
    if field.has_focus() {
        draft.0 = Some(text.clone());
    }
    if field.lost_focus() {
        let given_up = ui.input(|input| input.key_pressed(egui::Key::Escape));
        if !given_up && text != *now && !text.trim().is_empty() {
            queue.ask(Ask::Command(Command::Edit(Edit::NameScene(text))));
        }
        draft.0 = None;
    }
}

fn edits_ui(ui: &mut egui::Ui, session: &Session, queue: &mut Queue) {
    let history = session.history();
    let path: Vec<RevisionId> = history.path().into_iter().map(|(id, _label)| id).collect();
    let now = history.now();
    egui::ScrollArea::vertical()
        .max_height(theme::place::EDITS)
        .stick_to_bottom(true)
        .show(ui, |ui| {
            let first = ui.selectable_label(now.is_none(), words::BEGINNING);
            if first.clicked() {
                queue.ask(Ask::Command(Command::GoTo(None)));
            }
            for revision in history.revisions() {
                let label = history.label(revision.id);
                let number = revision.id.0 + 1;
                let label = if path.contains(&revision.id) {
                    words::edit(number, label)
                } else {
                    words::edit_set_aside(number, label)
                };
                let line = ui.selectable_label(now == Some(revision.id), label);
                let line = match &revision.at {
                    Some(at) => line.on_hover_text(at),
                    None => line,
                };
                if line.clicked() {
                    queue.ask(Ask::Command(Command::GoTo(Some(revision.id))));
                }
            }
        });
}

/// The menu of named states; typing into it leaves it open.
fn states_menu(ui: &mut egui::Ui, session: &Session, draft: &mut StateDraft, queue: &mut Queue) {
    let stays = MenuConfig::new().close_behavior(egui::PopupCloseBehavior::CloseOnClickOutside);
    let (button, _open) = MenuButton::new(words::record::STATES)
        .config(stays)
        .ui(ui, |ui| states_ui(ui, session, &mut draft.0, queue));
    let _hover = button.on_hover_text(words::record::STATES_HOVER);
}

fn states_ui(ui: &mut egui::Ui, session: &Session, name: &mut String, queue: &mut Queue) {
    let history = session.history();
    ui.horizontal(|ui| {
        let field = ui
            .add(egui::TextEdit::singleline(name).desired_width(theme::approval::NAME_FIELD))
            .accessible_name(words::record::STATE_NAME);
        let entered = field.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter));
        let given = name.trim().to_owned();
        let button = ui.add_enabled(
            !given.is_empty(),
            egui::Button::new(words::record::NAME_STATE),
        );
        if (button.clicked() || entered) && !given.is_empty() {
            queue.ask(Ask::Command(Command::NameState(NamedState {
                name: given,
                revision: history.now(),
            })));
            name.clear();
        }
    });
    if history.named().is_empty() {
        ui.weak(words::record::NO_STATES);
    }
    for state in history.named() {
        ui.horizontal(|ui| {
            let here = history.now() == state.revision;
            let line = ui.selectable_label(here, &state.name);
            if line.clicked() {
                queue.ask(Ask::Command(Command::GoTo(state.revision)));
            }
            let _named = line.accessible_name(words::record::go_to_state(&state.name));
            let forget = ui.small_button(words::record::FORGET);
            if forget.clicked() {
                queue.ask(Ask::Command(Command::ForgetName(state.name.clone())));
            }
            let _named = forget.accessible_name(words::record::forget_state(&state.name));
        });
    }
}

fn scene_ui(ui: &mut egui::Ui, queue: &mut Queue) {
    if ui.button(words::SAVE).clicked() {
        queue.ask(Ask::Save);
    }
    if ui.button(words::SAVE_AS).clicked() {
        queue.ask(Ask::OpenDialogue(Dialogue::SaveAs));
    }
    if ui.button(words::OPEN).clicked() {
        queue.ask(Ask::OpenDialogue(Dialogue::Open));
    }
    if ui.button(words::ADD_PHOTOS).clicked() {
        queue.ask(Ask::OpenDialogue(Dialogue::AddPhotos));
    }
    if ui.button(words::record::PHOTOS_ON_DISC).clicked() {
        queue.ask(Ask::OpenDialogue(Dialogue::Photos));
    }
    let sky = ui.button(words::MAKE_SKY);
    if sky.on_hover_text(words::MAKE_SKY_HELP).clicked() {
        queue.ask(Ask::MakeSky);
    }
    if ui.button(words::TO_START).clicked() {
        queue.ask(Ask::Leave(Next::Start));
    }
    if ui.button(words::CLOSE).clicked() {
        queue.ask(Ask::Leave(Next::Close));
    }
}

/// The looks of the window: surround and size of text.
pub fn looks_ui(ui: &mut egui::Ui, preferences: &Preferences, queue: &mut Queue) {
    let (surround, scale) = (preferences.surround, preferences.text_scale);
    for (other, name) in [
        (Surround::Dark, words::DARK),
        (Surround::Light, words::LIGHT),
    ] {
        if ui.radio(surround == other, name).clicked() {
            queue.ask(Ask::Looks(other, scale));
        }
    }
    ui.separator();
    for (other, name) in words::TEXT_SCALES {
        let chosen = (scale - other).abs() < 0.01;
        if ui.radio(chosen, name).clicked() {
            queue.ask(Ask::Looks(surround, other));
        }
    }
}
