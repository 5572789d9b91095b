//! Dialogues over the window: save as, open, build, swap, more photos, and the question before unsaved work is left.

use crate::project::PlateId;
use crate::session::jobs::Work;
use crate::session::{Command, Session, photos_at};
use crate::window::delivery::Delivery;
use crate::window::open_scene::OpenScene;
use crate::window::path_list::PathList;
use crate::window::photos_on_disc::PhotosOnDisc;
use crate::window::queue::{Ask, Dialogue, Next, Queue, Wish};
use crate::window::{theme, words};
use std::path::{Path, PathBuf};

/// The dialogue that is open, with what was typed into it.
#[derive(Debug)]
pub enum OpenDialogue {
    /// Under which name to save; what to do then.
    SaveAs(String, Option<Next>),
    /// Which project to open.
    Open(String),
    /// Where the finished picture goes.
    Build(Delivery),
    /// A new source for a plate.
    Swap(PlateId, PathList),
    /// Photos for the scene that is open.
    AddPhotos(PathList),
    /// Whether the scene's photos are the ones it was made from.
    Photos(PhotosOnDisc),
    /// Whether unsaved work may be left.
    Leave(Next),
}

/// What a dialogue says after a frame.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Said {
    /// It stays open.
    Open,
    /// It is done with.
    Done,
    /// Leave, whether saved or not.
    Discard(Next),
    /// Save, then leave.
    SaveThen(Next),
}

impl OpenDialogue {
    /// Opens a dialogue about this project.
    #[must_use]
    pub fn new(asked: Dialogue, session: Option<&Session>) -> Self {
        let beside =
            |ending: &str| session.map_or_else(String::new, |session| beside(session, ending));
        match asked {
            Dialogue::SaveAs => Self::SaveAs(beside(".platebench"), None),
            Dialogue::Open => Self::Open(String::new()),
            Dialogue::Build => Self::Build(Delivery {
                path: beside(".tif"),
                ..Delivery::default()
            }),
            Dialogue::Swap(plate) => Self::Swap(plate, PathList::default()),
            Dialogue::AddPhotos => Self::AddPhotos(PathList::default()),
            Dialogue::Photos => Self::Photos(PhotosOnDisc::default()),
        }
    }

    /// The list that chosen and dropped photos belong into, if it has one.
    pub const fn photos(&mut self) -> Option<&mut PathList> {
        match self {
            Self::Swap(_, photos) | Self::AddPhotos(photos) => Some(photos),
            Self::SaveAs(..)
            | Self::Open(_)
            | Self::Build(_)
            | Self::Photos(_)
            | Self::Leave(_) => None,
        }
    }

    /// Takes a file name that people chose in the system's dialogue.
    pub fn take_name(&mut self, path: &Path) {
        let name = path.display().to_string();
        match self {
            Self::SaveAs(typed, _) | Self::Open(typed) => *typed = name,
            Self::Build(delivery) => delivery.path = name,
            Self::Photos(photos) => photos.folder = name,
            Self::Swap(..) | Self::AddPhotos(_) | Self::Leave(_) => {}
        }
    }

    /// Shows the dialogue.
    pub fn ui(
        &mut self,
        ctx: &egui::Context,
        scene: Option<&OpenScene>,
        queue: &mut Queue,
    ) -> Said {
        let session = scene.map(|scene| &scene.session);
        let id = egui::Id::unique("dialogue");
        let shown = egui::Modal::new(id).show(ctx, |ui| {
            ui.set_max_width(theme::place::PAGE);
            match self {
                Self::SaveAs(typed, then) => save_as_ui(ui, typed, then.as_ref(), queue),
                Self::Open(typed) => open_ui(ui, typed, queue),
                Self::Build(delivery) => session.map_or(Said::Done, |session| {
                    delivery.ui(ui, session.project().canvas.size, queue)
                }),
                Self::Swap(plate, photos) => {
                    let name =
                        session.map(|session| session.project().plate_name(*plate).to_owned());
                    swap_ui(ui, &name.unwrap_or_default(), photos, queue)
                }
                Self::AddPhotos(photos) => add_photos_ui(ui, photos, queue),
                Self::Photos(photos) => {
                    let checked = scene.and_then(|scene| scene.checked.as_deref());
                    photos.ui(ui, checked, queue)
                }
                Self::Leave(next) => leave_ui(ui, next),
            }
        });
        if shown.inner == Said::Open && shown.should_close() {
            return Said::Done;
        }
        shown.inner
    }
}

/// A name beside the project file, with another ending.
fn beside(session: &Session, ending: &str) -> String {
    let name = format!("{}{ending}", words::file_stem(&session.project().name));
    let path = match session.path() {
        Some(path) => path.with_extension(ending.trim_start_matches('.')),
        None => session.shelf().folder().join(name),
    };
    path.display().to_string()
}

fn path_ui(ui: &mut egui::Ui, label: &str, typed: &mut String) -> bool {
    let label = ui.label(label);
    let field = ui
        .add(egui::TextEdit::singleline(typed).desired_width(theme::place::PATH))
        .labelled_by(label.id);
    let entered = field.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter));
    // What the dialogue asks for can be typed at once.
    if !entered && ui.memory(|memory| memory.focused().is_none()) {
        field.request_focus();
    }
    entered
}

/// What people decided at the foot of a dialogue.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Foot {
    /// Nothing yet.
    Open,
    /// Go ahead.
    Yes,
    /// Give the dialogue up.
    Cancel,
}

/// The buttons at the foot of a dialogue. `given`: how much was given to go ahead with; nothing, and it cannot go ahead.
pub(super) fn foot(ui: &mut egui::Ui, yes: &str, given: usize) -> Foot {
    let mut foot = Foot::Open;
    ui.add_space(theme::sheet::GAP);
    ui.horizontal(|ui| {
        if ui.add_enabled(given > 0, egui::Button::new(yes)).clicked() {
            foot = Foot::Yes;
        }
        if ui.button(words::CANCEL).clicked() {
            foot = Foot::Cancel;
        }
    });
    foot
}

fn save_as_ui(
    ui: &mut egui::Ui,
    typed: &mut String,
    then: Option<&Next>,
    queue: &mut Queue,
) -> Said {
    ui.heading(words::SAVE_AS);
    let mut entered = false;
    ui.horizontal(|ui| {
        entered = path_ui(ui, words::PROJECT_FILE, typed);
        if ui.button(words::CHOOSE_NAME).clicked() {
            queue.ask(Ask::Choose(Wish::SaveName));
        }
    });
    ui.weak(words::SAVE_AS_HELP);
    let given = typed.trim();
    let foot = foot(ui, words::SAVE_HERE, given.len());
    if foot == Foot::Cancel {
        return Said::Done;
    }
    if (foot == Foot::Yes || entered) && !given.is_empty() {
        let path = words::with_ending(given);
        queue.ask(Ask::Command(Command::Save(Some(path))));
        if let Some(then) = then {
            queue.ask(Ask::Leave(then.clone()));
        }
        return Said::Done;
    }
    Said::Open
}

fn open_ui(ui: &mut egui::Ui, typed: &mut String, queue: &mut Queue) -> Said {
    ui.heading(words::OPEN_SCENE);
    let mut entered = false;
    ui.horizontal(|ui| {
        entered = path_ui(ui, words::PROJECT_FILE, typed);
        if ui.button(words::CHOOSE_PROJECT).clicked() {
            queue.ask(Ask::Choose(Wish::Project));
        }
    });
    let given = typed.trim();
    let foot = foot(ui, words::OPEN_THIS, given.len());
    if foot == Foot::Cancel {
        return Said::Done;
    }
    if (foot == Foot::Yes || entered) && !given.is_empty() {
        queue.ask(Ask::Leave(Next::Open(PathBuf::from(given))));
        return Said::Done;
    }
    Said::Open
}

fn swap_ui(ui: &mut egui::Ui, plate: &str, photos: &mut PathList, queue: &mut Queue) -> Said {
    ui.heading(words::swap_head(plate));
    ui.label(words::SWAP_HELP);
    photos.ui(ui, queue);
    let all = photos.all();
    match foot(ui, words::SWAP_NOW, all.len()) {
        Foot::Open => Said::Open,
        Foot::Cancel => Said::Done,
        Foot::Yes => match photos_at(&all) {
            Ok(found) => {
                queue.ask(Ask::Start(Work::Swap {
                    plate: plate.to_owned(),
                    photos: found,
                }));
                Said::Done
            }
            Err(error) => {
                queue.ask(Ask::Say(error.to_string()));
                Said::Open
            }
        },
    }
}

fn add_photos_ui(ui: &mut egui::Ui, photos: &mut PathList, queue: &mut Queue) -> Said {
    ui.heading(words::ADD_PHOTOS);
    ui.label(words::NEW_SCENE_HELP);
    photos.ui(ui, queue);
    let all = photos.all();
    match foot(ui, words::LOOK_AT_PHOTOS, all.len()) {
        Foot::Open => Said::Open,
        Foot::Cancel => Said::Done,
        Foot::Yes => {
            queue.ask(Ask::TakeIn(all));
            Said::Done
        }
    }
}

fn leave_ui(ui: &mut egui::Ui, next: &Next) -> Said {
    ui.heading(words::NOT_SAVED);
    ui.label(words::NOT_SAVED_HELP);
    let mut said = Said::Open;
    ui.horizontal(|ui| {
        if ui.button(words::SAVE_AND_LEAVE).clicked() {
            said = Said::SaveThen(next.clone());
        }
        if ui.button(words::DISCARD).clicked() {
            said = Said::Discard(next.clone());
        }
        if ui.button(words::CANCEL).clicked() {
            said = Said::Done;
        }
    });
    said
}
