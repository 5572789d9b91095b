//! The application: keeps what is open, shows the page that fits, and carries out what panels asked for, once per frame.

mod leaving;

use crate::session::jobs::Work;
use crate::session::preferences::Preferences;
use crate::session::{Command, Session, Settings};
use crate::window::approval::{Approval, Decided, Into};
use crate::window::dialogues::{OpenDialogue, Said};
use crate::window::errands::{Brought, Errand, Errands};
use crate::window::open_scene::OpenScene;
use crate::window::path_list::PathList;
use crate::window::queue::{Ask, Dialogue, Next, Queue, Wish};
use crate::window::small_pictures::SmallPictures;
use crate::window::start_page::{Chosen, StartPage};
use crate::window::{record, shortcuts, theme, words};
use std::path::{Path, PathBuf};

/// Whether the window keeps journals and preferences in the user's folders.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Keep {
    /// It does.
    Everything,
    /// It does not: for tests.
    Nothing,
}

/// The whole window.
#[derive(Debug)]
pub struct Workbench {
    settings: Settings,
    preferences: Preferences,
    keep: Keep,
    scene: Option<OpenScene>,
    approval: Option<Approval>,
    small_pictures: SmallPictures,
    start: StartPage,
    dialogue: Option<OpenDialogue>,
    queue: Queue,
    errands: Errands,
    said: Option<String>,
    may_close: bool,
}

impl Workbench {
    /// The window as people open it.
    #[must_use]
    pub fn for_people(ctx: &egui::Context, settings: Settings, project: Option<PathBuf>) -> Self {
        let mut workbench = Self::bare(settings, Preferences::load(), Keep::Everything);
        workbench.start.left_behind = Session::left_behind();
        workbench.dress(ctx);
        if let Some(path) = project {
            workbench.send(Errand::Open(path), ctx);
        }
        workbench
    }

    /// The window as tests drive it: nothing is read from or kept in the user's folders.
    #[must_use]
    pub fn for_test(ctx: &egui::Context, session: Option<Session>) -> Self {
        let settings = Settings {
            scratch_bytes: 0,
            ..Settings::for_memory(256 << 20)
        };
        let mut workbench = Self::bare(settings, Preferences::default(), Keep::Nothing);
        workbench.dress(ctx);
        workbench.scene = session.map(OpenScene::new);
        workbench
    }

    fn bare(settings: Settings, preferences: Preferences, keep: Keep) -> Self {
        Self {
            settings,
            preferences,
            keep,
            scene: None,
            approval: None,
            small_pictures: SmallPictures::default(),
            start: StartPage::default(),
            dialogue: None,
            queue: Queue::default(),
            errands: Errands::default(),
            said: None,
            may_close: false,
        }
    }

    /// The scene that is open.
    #[must_use]
    pub const fn scene(&self) -> Option<&OpenScene> {
        self.scene.as_ref()
    }

    /// The groups that wait for approval.
    #[must_use]
    pub const fn approval(&self) -> Option<&Approval> {
        self.approval.as_ref()
    }

    /// The start page.
    pub const fn start_page(&mut self) -> &mut StartPage {
        &mut self.start
    }

    /// What people were told last.
    #[must_use]
    pub fn said(&self) -> Option<&str> {
        self.said.as_deref()
    }

    /// Whether nothing is being done beside the window.
    #[must_use]
    pub fn is_idle(&self) -> bool {
        self.errands.busy().is_none()
            && self.small_pictures.is_complete()
            && self.scene.as_ref().is_none_or(|scene| scene.jobs.is_idle())
    }

    fn dress(&self, ctx: &egui::Context) {
        theme::apply(ctx, self.preferences.surround, self.preferences.text_scale);
        // Leaving asks first, and the picture has its own keys for zooming.
        ctx.options_mut(|options| {
            options.quit_shortcuts.clear();
            options.zoom_with_keyboard = false;
        });
    }

    fn send(&mut self, errand: Errand, ctx: &egui::Context) {
        if let Err(why) = self.errands.run(errand, self.settings, ctx) {
            self.said = Some(why.to_owned());
        }
    }

    /// Takes what threads brought back and what was dropped on the window.
    fn take_in(&mut self, ctx: &egui::Context) {
        while let Some(answer) = self.errands.back() {
            match answer {
                Ok(brought) => self.take_brought(brought, ctx),
                Err(why) => self.said = Some(why),
            }
        }
        let dropped: Vec<PathBuf> = ctx.input(|input| {
            let files = &input.raw.dropped_files;
            files.iter().map(|file| file.path().to_owned()).collect()
        });
        if !dropped.is_empty() {
            self.take_dropped(dropped, ctx);
        }
        if let Some(scene) = &mut self.scene
            && let Some(outcome) = scene.jobs.step(&mut scene.session, ctx)
        {
            scene.sheet.look_again();
            if let Ok(report) = &outcome {
                scene.take_report(report);
            }
            self.said = Some(match outcome {
                Ok(report) => words::report(&report),
                Err(error) if error.is_cancelled() => words::STOPPED.to_owned(),
                Err(error) => error.to_string(),
            });
        }
    }

    fn take_brought(&mut self, brought: Brought, ctx: &egui::Context) {
        match brought {
            Brought::Chosen(wish, paths) => self.take_chosen(wish, paths),
            Brought::Groups(groups) => {
                let into = match &self.scene {
                    Some(scene) => Into::OpenScene(plate_names(scene)),
                    None => Into::NewScene(words::scene_name(&groups)),
                };
                self.approval = Some(Approval { groups, into });
            }
            Brought::Scene(session) => self.open(*session, ctx),
            Brought::TakenUp(journal, session) => {
                self.open(*session, ctx);
                // The work goes on in a journal of its own now.
                if self.scene_is_journalled() {
                    Session::give_up(&journal);
                }
                self.start
                    .left_behind
                    .retain(|left| left.journal != journal);
            }
            Brought::Change(edit) => self.carry_out(Ask::Command(Command::Edit(*edit)), ctx),
        }
    }

    fn scene_is_journalled(&self) -> bool {
        self.keep == Keep::Everything
            && self
                .scene
                .as_ref()
                .is_some_and(|scene| scene.session.journal_fault().is_none())
    }

    fn take_chosen(&mut self, wish: Wish, paths: Vec<PathBuf>) {
        let Some(first) = paths.first().cloned() else {
            return;
        };
        match (wish, &mut self.dialogue) {
            (Wish::Photos | Wish::Folder, Some(dialogue)) => match dialogue.photos() {
                Some(photos) => photos.add(paths),
                None => dialogue.take_name(&first),
            },
            (Wish::Photos | Wish::Folder, None) => self.start.photos.add(paths),
            (Wish::Project, None) => self.queue.ask(Ask::Leave(Next::Open(first))),
            (_name, Some(dialogue)) => dialogue.take_name(&first),
            (Wish::SaveName | Wish::PictureName, None) => {}
        }
    }

    fn take_dropped(&mut self, dropped: Vec<PathBuf>, ctx: &egui::Context) {
        if let Some(project) = dropped.iter().find(|path| words::is_project(path)) {
            self.queue.ask(Ask::Leave(Next::Open(project.clone())));
        } else if let Some(photos) = self.dialogue.as_mut().and_then(OpenDialogue::photos) {
            photos.add(dropped);
        } else {
            self.propose(dropped, ctx);
        }
    }

    /// Has photos looked at and sorted, beside the plates there are.
    fn propose(&mut self, photos: Vec<PathBuf>, ctx: &egui::Context) {
        let plates = self.scene.as_ref().map(plate_names).unwrap_or_default();
        self.send(Errand::Propose(photos, plates), ctx);
    }

    fn open(&mut self, mut session: Session, ctx: &egui::Context) {
        self.end_scene();
        if self.keep == Keep::Everything
            && let Err(error) = session.begin_journal()
        {
            self.said = Some(words::no_journal(&error.to_string()));
        }
        if let Some(path) = session.path() {
            self.preferences.note(path);
            self.keep_preferences();
        }
        if !session.notes.is_empty() {
            self.said = Some(session.notes.join(" "));
        }
        self.approval = None;
        self.start.photos = PathList::default();
        self.scene = Some(OpenScene::new(session));
        ctx.request_repaint();
    }

    /// Ends the open scene for good: saved, or given up on purpose.
    fn end_scene(&mut self) {
        if let Some(mut scene) = self.scene.take() {
            scene.jobs.cancel();
            scene.session.end_journal();
        }
    }

    fn keep_preferences(&mut self) {
        if self.keep == Keep::Everything
            && let Err(error) = self.preferences.save()
        {
            self.said = Some(error.to_string());
        }
    }

    /// Carries out one wish.
    fn carry_out(&mut self, ask: Ask, ctx: &egui::Context) {
        match ask {
            Ask::Say(text) => self.said = Some(text),
            Ask::OpenDialogue(asked) => {
                if asked == Dialogue::Photos {
                    self.with_scene(OpenScene::check_photos);
                }
                let session = self.scene.as_ref().map(|scene| &scene.session);
                if session.is_some() {
                    self.dialogue = Some(OpenDialogue::new(asked, session));
                }
            }
            Ask::Choose(wish) => self.send(Errand::Choose(wish), ctx),
            Ask::Leave(next) => self.leave(next, ctx),
            Ask::TakeIn(photos) => self.propose(photos, ctx),
            Ask::Looks(surround, text_scale) => {
                self.preferences.surround = surround;
                self.preferences.text_scale = text_scale;
                self.dress(ctx);
                self.keep_preferences();
            }
            Ask::Command(command) => self.run(command),
            Ask::MakeSky => {
                let made = self.scene.as_mut().map(OpenScene::make_sky);
                if let Some(Err(why)) = made {
                    self.said = Some(why);
                }
            }
            Ask::Save => self.save(None),
            Ask::Start(Work::CheckPhotos) => self.with_scene(OpenScene::check_photos),
            Ask::Start(work) => self.with_scene(|scene| scene.jobs.ask(work)),
            Ask::SwapSettled => self.with_scene(|scene| scene.swapped = None),
            Ask::CancelWork => self.with_scene(|scene| scene.jobs.cancel()),
            Ask::Select(selection) => self.with_scene(|scene| scene.select(selection)),
            Ask::Show(place) => self.with_scene(|scene| scene.show = Some(place)),
            Ask::Draw(drawing) => self.with_scene(|scene| scene.drawing = drawing),
            Ask::Add(adding) => self.with_scene(|scene| scene.adding = adding),
            Ask::Unfinished(edit) => {
                let edit = edit.map(|edit| *edit);
                self.with_scene(|scene| scene.session.note_unfinished(edit));
            }
            Ask::Draft(edit) => self.with_scene(|scene| scene.draft = Some(*edit)),
        }
        ctx.request_repaint();
    }

    fn with_scene(&mut self, change: impl FnOnce(&mut OpenScene)) {
        if let Some(scene) = &mut self.scene {
            change(scene);
        }
    }

    fn run(&mut self, command: Command) {
        let Some(scene) = &mut self.scene else { return };
        let saving = matches!(command, Command::Save(_));
        match scene.session.run(command) {
            Ok(()) if saving => {
                let path: Option<PathBuf> = scene.session.path().map(Path::to_owned);
                if let Some(path) = path {
                    self.preferences.note(&path);
                    self.keep_preferences();
                    self.said = Some(words::saved_to(&path));
                }
            }
            Ok(()) => {}
            Err(error) => self.said = Some(error.to_string()),
        }
    }

    fn page_ui(&mut self, ui: &mut egui::Ui) {
        // An open scene keeps the line free, so that no message makes the picture jump under the pointer.
        if self.scene.is_some() || self.said.is_some() || self.errands.busy().is_some() {
            egui::Panel::bottom("said").show(ui, |ui| {
                ui.set_min_height(ui.spacing().interact_size.y);
                self.said_ui(ui);
            });
        }
        if let Some(approval) = &mut self.approval {
            let decided = egui::CentralPanel::default_margins()
                .show(ui, |ui| approval.ui(ui, &mut self.small_pictures))
                .inner;
            self.decide(decided, &ui.ctx().clone());
        } else if let Some(scene) = &mut self.scene {
            scene.ui(ui, &self.preferences, &mut self.queue);
        } else {
            let chosen = egui::CentralPanel::default_margins().show(ui, |ui| {
                let right = egui::Layout::right_to_left(egui::Align::Center);
                let bar = egui::vec2(ui.available_width(), ui.spacing().interact_size.y);
                ui.allocate_ui_with_layout(bar, right, |ui| {
                    ui.menu_button(words::LOOKS, |ui| {
                        record::looks_ui(ui, &self.preferences, &mut self.queue);
                    });
                });
                self.start.ui(ui, &self.preferences, &mut self.queue)
            });
            self.start_chosen(chosen.inner, &ui.ctx().clone());
        }
    }

    fn said_ui(&mut self, ui: &mut egui::Ui) {
        ui.horizontal_wrapped(|ui| {
            if let Some(busy) = self.errands.busy() {
                ui.label(busy);
            }
            if let Some(said) = self.said.clone() {
                ui.label(said);
                if ui.small_button(words::DISMISS).clicked() {
                    self.said = None;
                }
            }
        });
    }

    fn start_chosen(&mut self, chosen: Option<Chosen>, ctx: &egui::Context) {
        match chosen {
            None => {}
            Some(Chosen::Look(photos)) => self.propose(photos, ctx),
            Some(Chosen::Demo) => self.send(Errand::Demo, ctx),
            Some(Chosen::TakeUp(journal)) => self.send(Errand::TakeUp(journal), ctx),
            Some(Chosen::GiveUp(journal)) => {
                Session::give_up(&journal);
                self.start
                    .left_behind
                    .retain(|left| left.journal != journal);
            }
        }
    }

    fn decide(&mut self, decided: Option<Decided>, ctx: &egui::Context) {
        let Some(decided) = decided else { return };
        let Some(approval) = self.approval.take() else {
            return;
        };
        self.small_pictures = SmallPictures::default();
        if decided == Decided::Back {
            return;
        }
        let kept = approval.clone();
        let errand = match (approval.into, &self.scene) {
            (Into::OpenScene(_), Some(scene)) => Errand::TakeIn(
                scene.session.project().clone(),
                scene.session.shelf().folder().to_owned(),
                approval.groups,
            ),
            (Into::OpenScene(_), None) => {
                Errand::NewScene(words::UNNAMED.to_owned(), approval.groups)
            }
            (Into::NewScene(name), _) => Errand::NewScene(name, approval.groups),
        };
        if let Err(why) = self.errands.run(errand, self.settings, ctx) {
            self.said = Some(why.to_owned());
            self.approval = Some(kept);
        }
    }

    fn dialogue_ui(&mut self, ctx: &egui::Context) {
        let Some(mut dialogue) = self.dialogue.take() else {
            return;
        };
        match dialogue.ui(ctx, self.scene.as_ref(), &mut self.queue) {
            Said::Open => self.dialogue = Some(dialogue),
            Said::Done => {}
            Said::Discard(next) => self.go(next, ctx),
            Said::SaveThen(next) => self.save(Some(next)),
        }
    }
}

fn plate_names(scene: &OpenScene) -> Vec<String> {
    let plates = &scene.session.project().plates;
    plates.iter().map(|plate| plate.name.clone()).collect()
}

impl eframe::App for Workbench {
    fn logic(&mut self, ctx: &egui::Context, _frame: &mut eframe::Frame) {
        self.take_in(ctx);
        let closing = ctx.input(|input| input.viewport().close_requested());
        if closing && !self.may_close {
            ctx.send_viewport_cmd(egui::ViewportCommand::CancelClose);
            self.queue.ask(Ask::Leave(Next::Close));
        }
    }

    fn ui(&mut self, ui: &mut egui::Ui, _frame: &mut eframe::Frame) {
        let ctx = ui.ctx().clone();
        if self.scene.is_some() && self.dialogue.is_none() && self.approval.is_none() {
            shortcuts::listen(&ctx, &mut self.queue);
        }
        if self.dialogue.is_none() {
            shortcuts::listen_for_close(&ctx, &mut self.queue);
        }
        self.page_ui(ui);
        self.dialogue_ui(&ctx);
        for ask in self.queue.drain() {
            self.carry_out(ask, &ctx);
        }
    }

    fn on_exit(&mut self, _gl: Option<&eframe::glow::Context>) {
        if let Some(scene) = &mut self.scene {
            scene.jobs.cancel();
            // Unsaved work keeps its journal and is offered at the next start.
            if scene.session.is_saved() {
                scene.session.end_journal();
            }
        }
    }
}
