//! Saving and leaving: a question comes before unsaved work is left.

use crate::session::Command;
use crate::window::app::Workbench;
use crate::window::dialogues::OpenDialogue;
use crate::window::errands::Errand;
use crate::window::open_scene::OpenScene;
use crate::window::queue::{Ask, Dialogue, Next};

impl Workbench {
    /// Saves under the name there is, or asks for one; then leaves, if that was the reason.
    pub(super) fn save(&mut self, then: Option<Next>) {
        let Some(scene) = &self.scene else { return };
        if scene.session.path().is_some() {
            self.queue.ask(Ask::Command(Command::Save(None)));
            if let Some(next) = then {
                self.queue.ask(Ask::Leave(next));
            }
        } else {
            let mut dialogue = OpenDialogue::new(Dialogue::SaveAs, Some(&scene.session));
            if let OpenDialogue::SaveAs(_, after) = &mut dialogue {
                *after = then;
            }
            self.dialogue = Some(dialogue);
        }
    }

    pub(super) fn leave(&mut self, next: Next, ctx: &egui::Context) {
        let unsaved = |scene: &OpenScene| {
            !scene.session.is_saved() && !scene.session.history().revisions().is_empty()
        };
        if self.scene.as_ref().is_some_and(unsaved) {
            self.dialogue = Some(OpenDialogue::Leave(next));
        } else {
            self.go(next, ctx);
        }
    }

    pub(super) fn go(&mut self, next: Next, ctx: &egui::Context) {
        match next {
            Next::Close => {
                self.end_scene();
                self.may_close = true;
                ctx.send_viewport_cmd(egui::ViewportCommand::Close);
            }
            Next::Start => {
                self.end_scene();
                self.approval = None;
            }
            // The scene that is open ends when the other one is there.
            Next::Open(path) => self.send(Errand::Open(path), ctx),
        }
    }
}
