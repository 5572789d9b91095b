//! Photos and folders by typing, by the system's dialogue or by dropping; the typed way always works.

use crate::window::queue::{Ask, Queue, Wish};
use crate::window::{theme, words};
use std::path::PathBuf;

/// Paths that people gave so far.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct PathList {
    /// What stands in the typed field.
    pub typed: String,
    /// The paths added already.
    pub paths: Vec<PathBuf>,
}

impl PathList {
    /// Adds what was chosen or dropped, each once.
    pub fn add(&mut self, paths: impl IntoIterator<Item = PathBuf>) {
        for path in paths {
            if !self.paths.contains(&path) {
                self.paths.push(path);
            }
        }
    }

    /// Everything given, with what stands in the typed field.
    #[must_use]
    pub fn all(&self) -> Vec<PathBuf> {
        let mut all = self.clone();
        all.add_typed();
        all.paths
    }

    fn add_typed(&mut self) {
        let typed = std::mem::take(&mut self.typed);
        let typed = typed.trim().trim_matches('"');
        if !typed.is_empty() {
            self.add([PathBuf::from(typed)]);
        }
    }

    /// Shows the field, the buttons and the list.
    pub fn ui(&mut self, ui: &mut egui::Ui, queue: &mut Queue) {
        ui.horizontal_wrapped(|ui| {
            let label = ui.label(words::FOLDER_OR_PHOTOS);
            let field = ui
                .add(egui::TextEdit::singleline(&mut self.typed).desired_width(theme::place::PATH))
                .labelled_by(label.id)
                .on_hover_text(words::FOLDER_OR_PHOTOS_HELP);
            let entered =
                field.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter));
            if ui.button(words::ADD).clicked() || entered {
                self.add_typed();
            }
        });
        ui.horizontal_wrapped(|ui| {
            if ui.button(words::CHOOSE_PHOTOS).clicked() {
                queue.ask(Ask::Choose(Wish::Photos));
            }
            if ui.button(words::CHOOSE_FOLDER).clicked() {
                queue.ask(Ask::Choose(Wish::Folder));
            }
            ui.weak(words::OR_DROP);
        });
        let mut gone = None;
        for (at, path) in self.paths.iter().enumerate() {
            ui.horizontal(|ui| {
                let name = path.display().to_string();
                if ui
                    .small_button(words::TAKE_AWAY)
                    .accessible_name(words::take_away(&name))
                    .clicked()
                {
                    gone = Some(at);
                }
                ui.label(name);
            });
        }
        if let Some(at) = gone {
            self.paths.remove(at);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_are_taken_once_and_the_typed_one_counts() {
        let mut list = PathList::default();
        list.add([PathBuf::from("a"), PathBuf::from("a")]);
        list.typed = " \"b c\" ".to_owned();
        assert_eq!(list.all(), [PathBuf::from("a"), PathBuf::from("b c")]);
        assert_eq!(list.paths.len(), 1, "asking changes nothing");
    }
}
