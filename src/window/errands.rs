//! Work on threads beside the window that is over in a moment or waits for people: native dialogues, reading and sorting files.
//!
//! A native dialogue may never answer, and "cancelled" and "there is no such dialogue here" look the same; the window therefore
//! always has typed paths beside it, and one dialogue at a time is enough.

use crate::project::{Edit, Project};
use crate::session::grouping::{self, Group, GroupRole};
use crate::session::{Session, SessionError, Settings, demo, photos_at};
use crate::window::queue::Wish;
use crate::window::words;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{self, Receiver, Sender};

/// What a thread is sent for.
#[derive(Debug, Clone)]
pub enum Errand {
    /// Ask people for files or folders.
    Choose(Wish),
    /// Look at photos and propose groups, beside plates of these names.
    Propose(Vec<PathBuf>, Vec<String>),
    /// Open a project file.
    Open(PathBuf),
    /// Lay out the demo scene and open it.
    Demo,
    /// Take up work that was left behind.
    TakeUp(PathBuf),
    /// Make a new scene of approved groups.
    NewScene(String, Vec<Group>),
    /// Take approved groups into a scene in this state, whose photos are named from this folder.
    TakeIn(Arc<Project>, PathBuf, Vec<Group>),
}

/// What a thread comes back with.
#[derive(Debug)]
pub enum Brought {
    /// The files or folders people chose; none if they chose none.
    Chosen(Wish, Vec<PathBuf>),
    /// Proposed groups.
    Groups(Vec<Group>),
    /// An open scene.
    Scene(Box<Session>),
    /// A scene taken up from this journal.
    TakenUp(PathBuf, Box<Session>),
    /// A change to the scene that is open.
    Change(Box<Edit>),
}

/// The threads under way.
#[derive(Debug)]
pub struct Errands {
    send: Sender<Result<Brought, Failed>>,
    receive: Receiver<Result<Brought, Failed>>,
    dialogue_open: bool,
    /// What is being done besides, in words.
    busy: Option<&'static str>,
}

/// Why an errand came to nothing.
#[derive(Debug)]
struct Failed(String);

impl Default for Errands {
    fn default() -> Self {
        let (send, receive) = mpsc::channel();
        Self {
            send,
            receive,
            dialogue_open: false,
            busy: None,
        }
    }
}

impl Errands {
    /// Sends a thread on its way; says why not where one like it is under way already.
    ///
    /// # Errors
    /// A sentence for people.
    pub fn run(
        &mut self,
        errand: Errand,
        settings: Settings,
        ctx: &egui::Context,
    ) -> Result<(), &'static str> {
        if matches!(errand, Errand::Choose(_)) {
            if self.dialogue_open {
                return Err(words::DIALOGUE_IS_OPEN);
            }
            self.dialogue_open = true;
        } else {
            if let Some(busy) = self.busy {
                return Err(busy);
            }
            self.busy = Some(name_of(&errand));
        }
        let (send, ctx) = (self.send.clone(), ctx.clone());
        #[expect(
            clippy::disallowed_methods,
            reason = "nothing that reads files or waits for people may hold up the window"
        )]
        std::thread::spawn(move || {
            let done = carry_out(errand, &settings).map_err(|error| Failed(error.to_string()));
            // The window may be gone already; then nobody wants the answer.
            drop(send.send(done));
            ctx.request_repaint();
        });
        Ok(())
    }

    /// What came back since, if anything did.
    ///
    /// # Errors
    /// A sentence for people when an errand failed.
    pub fn back(&mut self) -> Option<Result<Brought, String>> {
        let answer = self.receive.try_recv().ok()?;
        if matches!(answer, Ok(Brought::Chosen(..))) {
            self.dialogue_open = false;
        } else {
            self.busy = None;
        }
        Some(answer.map_err(|Failed(why)| why))
    }

    /// What is being done, in words.
    #[must_use]
    pub const fn busy(&self) -> Option<&'static str> {
        self.busy
    }
}

const fn name_of(errand: &Errand) -> &'static str {
    match errand {
        Errand::Choose(_) => words::DIALOGUE_IS_OPEN,
        Errand::Propose(..) => words::LOOKING_AT_PHOTOS,
        Errand::Open(_) | Errand::TakeUp(_) => words::OPENING,
        Errand::Demo => words::LAYING_OUT_DEMO,
        Errand::NewScene(..) | Errand::TakeIn(..) => words::TAKING_IN,
    }
}

fn carry_out(errand: Errand, settings: &Settings) -> Result<Brought, SessionError> {
    Ok(match errand {
        Errand::Choose(wish) => Brought::Chosen(wish, choose(wish)),
        Errand::Propose(names, plates) => {
            Brought::Groups(grouping::propose_beside(&photos_at(&names)?, &plates)?)
        }
        Errand::Open(path) => Brought::Scene(Box::new(Session::open(&path, settings)?)),
        Errand::Demo => {
            let project = demo::lay_out(&demo::usual_folder())?;
            Brought::Scene(Box::new(Session::open(&project, settings)?))
        }
        Errand::TakeUp(journal) => {
            let session = Session::take_up(&journal, settings)?;
            Brought::TakenUp(journal, Box::new(session))
        }
        Errand::NewScene(name, groups) => {
            let folder = folder_of(&groups);
            let mut session =
                Session::new(Project::new(name, canvas_for(&groups)), &folder, settings);
            session.accept_groups(&groups)?;
            Brought::Scene(Box::new(session))
        }
        Errand::TakeIn(project, folder, groups) => {
            let mut worker = Session::new(Project::clone(&project), &folder, settings);
            worker.accept_groups(&groups)?;
            let edits: Vec<Edit> = worker
                .history()
                .revisions()
                .iter()
                .map(|revision| revision.edit.clone())
                .collect();
            Brought::Change(Box::new(Edit::All {
                name: words::PHOTOS_TAKEN_IN.to_owned(),
                edits,
            }))
        }
    })
}

/// The canvas of a new scene: as large as its largest unlit photo.
fn canvas_for(groups: &[Group]) -> crate::geometry::Size {
    groups
        .iter()
        .filter(|group| group.role == GroupRole::Unlit)
        .flat_map(|group| &group.photos)
        .map(|photo| photo.size)
        .max_by_key(|size| size.area())
        .unwrap_or(crate::geometry::Size::new(1920, 1080))
}

/// The folder of the first photo.
fn folder_of(groups: &[Group]) -> PathBuf {
    groups
        .iter()
        .flat_map(|group| &group.photos)
        .find_map(|photo| photo.path.parent())
        .map_or_else(|| PathBuf::from("."), Path::to_owned)
}

fn choose(wish: Wish) -> Vec<PathBuf> {
    let dialogue = rfd::FileDialog::new().set_title(words::wish(wish));
    let one = |path: Option<PathBuf>| path.into_iter().collect();
    match wish {
        Wish::Photos => dialogue.pick_files().unwrap_or_default(),
        Wish::Folder => dialogue.pick_folders().unwrap_or_default(),
        Wish::Project => one(dialogue
            .add_filter(words::PROJECT_FILES, &["platebench"])
            .pick_file()),
        Wish::SaveName => one(dialogue
            .add_filter(words::PROJECT_FILES, &["platebench"])
            .save_file()),
        Wish::PictureName => one(dialogue.save_file()),
    }
}
