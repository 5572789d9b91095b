//! The dialogue about the scene's photos: are they the ones it was made from, where are those that are missing.

use crate::session::jobs::Work;
use crate::session::sources::{SourceReport, SourceState};
use crate::window::build_sheet::facts::State;
use crate::window::build_sheet::marks;
use crate::window::dialogues::Said;
use crate::window::queue::{Ask, Queue, Wish};
use crate::window::words::record as words;
use crate::window::{theme, words as all_words};
use egui::{RichText, Sense, Ui, vec2};
use std::path::PathBuf;

/// The dialogue, with what was typed into it.
#[derive(Debug, Clone, Default)]
pub struct PhotosOnDisc {
    /// The folder to look in.
    pub folder: String,
}

impl PhotosOnDisc {
    /// Shows the dialogue; `checked` is what the last look found, nothing while photos are read.
    pub fn ui(&mut self, ui: &mut Ui, checked: Option<&[SourceReport]>, queue: &mut Queue) -> Said {
        ui.heading(words::PHOTOS_HEAD);
        ui.label(words::PHOTOS_HELP);
        ui.add_space(theme::sheet::GAP);
        match checked {
            None => {
                ui.label(words::CHECKING);
            }
            Some(reports) => self.found_ui(ui, reports, queue),
        }
        ui.add_space(theme::sheet::GAP);
        let mut said = Said::Open;
        ui.horizontal(|ui| {
            let again = egui::Button::new(words::CHECK_AGAIN);
            if ui.add_enabled(checked.is_some(), again).clicked() {
                queue.ask(Ask::Start(Work::CheckPhotos));
            }
            if ui.button(words::CLOSE).clicked() {
                said = Said::Done;
            }
        });
        said
    }

    fn found_ui(&mut self, ui: &mut Ui, reports: &[SourceReport], queue: &mut Queue) {
        let count = |state| reports.iter().filter(|one| one.state == state).count();
        let (changed, missing) = (count(SourceState::Changed), count(SourceState::Missing));
        ui.label(words::photos_checked(
            count(SourceState::Same),
            changed,
            missing,
        ));
        egui::ScrollArea::vertical()
            .max_height(theme::place::EDITS)
            .show(ui, |ui| {
                let bad = |one: &&SourceReport| one.state != SourceState::Same;
                for report in reports.iter().filter(bad) {
                    report_ui(ui, report);
                }
            });
        if changed > 0 {
            let take = ui.button(words::TAKE_CHANGED);
            if take.on_hover_text(words::TAKE_CHANGED_HOVER).clicked() {
                queue.ask(Ask::Start(Work::TakeChanged));
            }
        }
        if missing > 0 {
            self.find_ui(ui, queue);
        }
    }

    fn find_ui(&mut self, ui: &mut Ui, queue: &mut Queue) {
        ui.horizontal_wrapped(|ui| {
            let label = ui.label(words::LOOK_IN);
            let field =
                egui::TextEdit::singleline(&mut self.folder).desired_width(theme::place::PATH);
            let _named = ui.add(field).labelled_by(label.id);
            if ui.button(all_words::CHOOSE_FOLDER).clicked() {
                queue.ask(Ask::Choose(Wish::Folder));
            }
        });
        let given = self.folder.trim();
        let find = ui.add_enabled(!given.is_empty(), egui::Button::new(words::FIND));
        if find.on_hover_text(words::FIND_HOVER).clicked() {
            queue.ask(Ask::Start(Work::FindPhotos(PathBuf::from(given))));
        }
    }
}

fn report_ui(ui: &mut Ui, report: &SourceReport) {
    let state = match report.state {
        SourceState::Same => State::Done,
        SourceState::Changed => State::Stale,
        SourceState::Missing => State::Missing,
    };
    ui.horizontal_wrapped(|ui| {
        let side = theme::sheet::MARK;
        let (mark, _space) = ui.allocate_exact_size(vec2(2.0 * side, 2.0 * side), Sense::HOVER);
        marks::draw(ui.painter(), mark.center(), side, state);
        let word = words::state_word(report.state);
        ui.label(RichText::new(format!("{}: {word}", report.file)).strong());
        if let Some(why) = &report.why {
            ui.weak(why);
        }
    });
}
