//! The start page: three ways in, what was opened lately, and work that a crash left behind.

use crate::session::journal::LeftBehind;
use crate::session::preferences::Preferences;
use crate::window::path_list::PathList;
use crate::window::queue::{Ask, Next, Queue, Wish};
use crate::window::{theme, words};
use std::path::PathBuf;

/// What stands on the start page.
#[derive(Debug, Default)]
pub struct StartPage {
    /// Photos for a new scene.
    pub photos: PathList,
    /// The typed path of a project.
    pub project: String,
    /// Work that was left behind.
    pub left_behind: Vec<LeftBehind>,
}

/// What people chose on the start page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Chosen {
    /// Look at these photos for a new scene.
    Look(Vec<PathBuf>),
    /// Open the demo scene.
    Demo,
    /// Take up what was left behind in this journal.
    TakeUp(PathBuf),
    /// Give it up for good.
    GiveUp(PathBuf),
}

impl StartPage {
    /// Shows the page.
    pub fn ui(
        &mut self,
        ui: &mut egui::Ui,
        preferences: &Preferences,
        queue: &mut Queue,
    ) -> Option<Chosen> {
        let mut chosen = None;
        egui::ScrollArea::vertical()
            .auto_shrink(false)
            .show(ui, |ui| {
                let room = theme::start::columns(ui.available_width());
                ui.add_space(theme::place::PART);
                ui.label(egui::RichText::new(words::TITLE).size(theme::start::title(ui)));
                ui.label(words::WHAT_IT_IS);
                let mut columns = |ui: &mut egui::Ui| {
                    column(ui, room.ways, |ui| {
                        chosen = self.ways_ui(ui, preferences, queue);
                    });
                    column(ui, room.how, how_ui);
                };
                if room.below {
                    columns(ui);
                } else {
                    ui.horizontal_top(|ui| {
                        ui.spacing_mut().item_spacing.x = theme::start::BETWEEN;
                        columns(ui);
                    });
                }
            });
        chosen
    }

    /// Work that was left behind, and the three ways in.
    fn ways_ui(
        &mut self,
        ui: &mut egui::Ui,
        preferences: &Preferences,
        queue: &mut Queue,
    ) -> Option<Chosen> {
        let mut chosen = None;
        if !self.left_behind.is_empty() {
            part(ui, words::LEFT_BEHIND);
            chosen = self.left_behind_ui(ui);
        }
        part(ui, words::NEW_SCENE);
        ui.label(words::NEW_SCENE_HELP);
        self.photos.ui(ui, queue);
        let all = self.photos.all();
        let look = egui::Button::new(words::LOOK_AT_PHOTOS);
        let look = ui.add_enabled(!all.is_empty(), look);
        if look.on_disabled_hover_text(words::NO_PHOTOS_YET).clicked() {
            chosen = Some(Chosen::Look(all));
        }
        part(ui, words::DEMO_SCENE);
        ui.label(words::DEMO_SCENE_HELP);
        if ui.button(words::OPEN_DEMO).clicked() {
            chosen = Some(Chosen::Demo);
        }
        part(ui, words::OPEN_SCENE);
        self.open_ui(ui, queue);
        recent_ui(ui, preferences, queue);
        chosen
    }

    fn left_behind_ui(&self, ui: &mut egui::Ui) -> Option<Chosen> {
        let mut chosen = None;
        ui.label(words::LEFT_BEHIND_HELP);
        for left in &self.left_behind {
            ui.horizontal_wrapped(|ui| {
                ui.label(words::left_behind(&left.name, left.unsaved));
                let take = ui.button(words::TAKE_UP);
                if take.accessible_name(words::take_up(&left.name)).clicked() {
                    chosen = Some(Chosen::TakeUp(left.journal.clone()));
                }
                let give = ui.button(words::GIVE_UP);
                if give.accessible_name(words::give_up(&left.name)).clicked() {
                    chosen = Some(Chosen::GiveUp(left.journal.clone()));
                }
            });
        }
        chosen
    }

    fn open_ui(&mut self, ui: &mut egui::Ui, queue: &mut Queue) {
        ui.horizontal_wrapped(|ui| {
            let label = ui.label(words::PROJECT_FILE);
            let field = ui
                .add(
                    egui::TextEdit::singleline(&mut self.project).desired_width(theme::place::PATH),
                )
                .labelled_by(label.id);
            let entered =
                field.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter));
            let given = self.project.trim();
            let open = ui.add_enabled(!given.is_empty(), egui::Button::new(words::OPEN));
            if (open.clicked() || entered) && !given.is_empty() {
                queue.ask(Ask::Leave(Next::Open(PathBuf::from(given))));
            }
            if ui.button(words::CHOOSE_PROJECT).clicked() {
                queue.ask(Ask::Choose(Wish::Project));
            }
        });
    }
}

fn recent_ui(ui: &mut egui::Ui, preferences: &Preferences, queue: &mut Queue) {
    if preferences.recent.is_empty() {
        return;
    }
    ui.add_space(theme::sheet::GAP);
    ui.weak(words::RECENT);
    for path in &preferences.recent {
        if ui.link(path.display().to_string()).clicked() {
            queue.ask(Ask::Leave(Next::Open(path.clone())));
        }
    }
}

/// The order of the work, in the words of the build sheet.
fn how_ui(ui: &mut egui::Ui) {
    part(ui, words::HOW);
    for (number, (word, says)) in (1_u32..).zip(words::HOW_STEPS) {
        ui.horizontal_top(|ui| {
            let size = egui::vec2(theme::start::step(ui), ui.spacing().interact_size.y);
            ui.allocate_ui_with_layout(size, egui::Layout::top_down(egui::Align::Min), |ui| {
                ui.set_min_width(size.x);
                ui.strong(words::how_step(number, word));
            });
            // Beside a name of its own width the rest is for the sentence, which may take several lines.
            let rest = egui::vec2(ui.available_width(), 0.0);
            ui.allocate_ui_with_layout(rest, egui::Layout::top_down(egui::Align::Min), |ui| {
                ui.set_max_width(rest.x);
                ui.add(egui::Label::new(says).wrap());
            });
        });
        ui.add_space(theme::sheet::GAP);
    }
    ui.add_space(theme::sheet::GAP);
    ui.add(egui::Label::new(egui::RichText::new(words::HOW_NOTE).weak()).wrap());
}

fn column(ui: &mut egui::Ui, width: f32, contents: impl FnOnce(&mut egui::Ui)) {
    let size = egui::vec2(width, 0.0);
    ui.allocate_ui_with_layout(size, egui::Layout::top_down(egui::Align::Min), |ui| {
        ui.set_width(width);
        ui.spacing_mut().item_spacing.x = theme::start::GAP;
        contents(ui);
    });
}

fn part(ui: &mut egui::Ui, head: &str) {
    ui.add_space(theme::place::PART);
    ui.separator();
    ui.heading(head);
}
