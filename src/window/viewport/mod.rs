//! Stand-in for the picture; the real one is in another branch and replaces this file.

use crate::window::queue::{Look, Queue};

/// The picture.
#[derive(Debug, Default)]
pub struct Picture {}

impl Picture {
    /// Shows the picture.
    pub fn ui(&mut self, ui: &mut egui::Ui, _look: &Look<'_>, _queue: &mut Queue) {
        ui.label("Picture");
    }
}
