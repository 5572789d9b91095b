//! Has what is being drawn noted every second, so that a crash in the middle of a long stroke loses no more than that.

use crate::project::Edit;
use crate::window::queue::{Ask, Queue};
use egui::Ui;
use std::time::Duration;

/// Longest time, in seconds, that what is drawn is known to the window alone.
const EVERY_S: f64 = 0.8;

/// What was noted last of the gesture under way.
#[derive(Debug, Default)]
pub(super) struct Unfinished {
    noted: Option<Edit>,
    at: f64,
}

impl Unfinished {
    /// Follows one frame: `draft` is what the gesture would leave if it ended now.
    pub(super) fn follow(&mut self, ui: &Ui, draft: Option<Edit>, queue: &mut Queue) {
        if draft == self.noted {
            return;
        }
        let now = ui.input(|input| input.time);
        let since = now - self.at;
        if draft.is_some() && since < EVERY_S {
            ui.request_repaint_after(Duration::from_secs_f64(EVERY_S - since));
            return;
        }
        self.at = now;
        self.noted.clone_from(&draft);
        queue.ask(Ask::Unfinished(draft.map(Box::new)));
    }
}
