//! Stand-in for the step cards; the real ones are in another branch and replace this file.

use crate::window::queue::{Look, Queue};

/// State of the cards.
#[derive(Debug, Default)]
pub struct CardState {}

/// Shows the card.
pub fn ui(ui: &mut egui::Ui, _look: &Look<'_>, _queue: &mut Queue, _state: &mut CardState) {
    ui.label("Step card");
}
