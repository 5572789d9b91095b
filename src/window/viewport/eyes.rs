//! The viewers that the picture looks through: the project as it is or as a gesture would leave it, and another state of it.

use crate::project::{Edit, PlateEdit, PlateId, Project, RevisionId, VariantId};
use crate::session::viewing::Viewer;
use crate::window::queue::Look;
use crate::window::viewport::tile_textures::Eye;
use egui::Context;
use std::sync::Arc;

/// The viewers of one session.
#[derive(Debug)]
pub struct Eyes {
    /// The project as it is, or as the draft of a gesture would leave it.
    pub now: Viewer,
    of: (usize, usize),
    draft: Option<Draft>,
    other: Option<Other>,
}

#[derive(Debug)]
struct Draft {
    of: Arc<Project>,
    edit: Edit,
    project: Arc<Project>,
}

#[derive(Debug)]
struct Other {
    of: Arc<Project>,
    state: OtherState,
    viewer: Viewer,
}

/// Another state of the project that can be looked at beside the one there is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OtherState {
    /// With another source of a plate in use.
    Source(PlateId, VariantId),
    /// As it was after an edit; as it began without one.
    Revision(Option<RevisionId>),
}

impl OtherState {
    fn of(self, look: &Look<'_>) -> Option<Arc<Project>> {
        match self {
            Self::Source(plate, source) => {
                let edit = Edit::Plate(plate, PlateEdit::UseVariant(source));
                look.session.project().edited(&edit).ok().map(Arc::new)
            }
            Self::Revision(revision) => Some(look.session.history().project_at(revision)),
        }
    }
}

/// Tells sessions apart by what their viewers hold on to, so that the numbers are not used again while one does.
fn mark(look: &Look<'_>) -> (usize, usize) {
    let engine = Arc::as_ptr(look.session.engine()).addr();
    let shelf = Arc::as_ptr(look.session.shelf()).addr();
    (engine, shelf)
}

fn viewer(ctx: &Context, look: &Look<'_>) -> Viewer {
    let ctx = ctx.clone();
    look.session.viewer(move || ctx.request_repaint())
}

impl Eyes {
    /// Makes viewers for the session that is looked at; true where it is another than before.
    pub fn follow(eyes: &mut Option<Self>, ctx: &Context, look: &Look<'_>) -> bool {
        let of = mark(look);
        if eyes.as_ref().is_some_and(|eyes| eyes.of == of) {
            return false;
        }
        *eyes = Some(Self {
            now: viewer(ctx, look),
            of,
            draft: None,
            other: None,
        });
        true
    }

    /// Shows the project, as `gesture` or else a control's draft would leave it.
    pub fn show(&mut self, look: &Look<'_>, gesture: Option<Edit>) {
        let project = look.session.project();
        let Some(edit) = gesture.or_else(|| look.draft.cloned()) else {
            self.draft = None;
            self.now.show(project);
            return;
        };
        let known = self
            .draft
            .as_ref()
            .is_some_and(|draft| Arc::ptr_eq(&draft.of, project) && draft.edit == edit);
        if !known {
            self.draft = project.edited(&edit).ok().map(|edited| Draft {
                of: Arc::clone(project),
                edit,
                project: Arc::new(edited),
            });
        }
        // A draft that does not fit is not shown; its edit will say why when it is asked for.
        let shown = self.draft.as_ref().map_or(project, |draft| &draft.project);
        self.now.show(shown);
    }

    /// Makes the other eye see another state of the project.
    pub fn show_other(&mut self, ctx: &Context, look: &Look<'_>, state: OtherState) {
        let project = look.session.project();
        let known = self
            .other
            .as_ref()
            .is_some_and(|other| Arc::ptr_eq(&other.of, project) && other.state == state);
        if known {
            return;
        }
        let old = self.other.take();
        let Some(shown) = state.of(look) else {
            return;
        };
        let mut viewer = old.map_or_else(|| viewer(ctx, look), |other| other.viewer);
        viewer.show(&shown);
        self.other = Some(Other {
            of: Arc::clone(project),
            state,
            viewer,
        });
    }

    /// Begins a frame of the window.
    pub fn begin_frame(&mut self) {
        self.now.begin_frame();
        if let Some(other) = &mut self.other {
            other.viewer.begin_frame();
        }
    }

    /// The viewer of an eye, where it is open.
    pub fn viewer(&mut self, eye: Eye) -> Option<&mut Viewer> {
        match eye {
            Eye::Now => Some(&mut self.now),
            Eye::Other => self.other.as_mut().map(|other| &mut other.viewer),
        }
    }

    /// The viewer of the project, and that of `eye` where it is another.
    pub fn both(&mut self, eye: Eye) -> (&mut Viewer, Option<&mut Viewer>) {
        let other = match eye {
            Eye::Now => None,
            Eye::Other => self.other.as_mut().map(|other| &mut other.viewer),
        };
        (&mut self.now, other)
    }
}
