//! Where the finished picture goes, how large and how fine.

use crate::session::build::BuildRequest;
use crate::session::jobs::Work;
use crate::window::dialogues::{Foot, Said, foot};
use crate::window::queue::{Ask, Queue, Wish};
use crate::window::{theme, words};
use std::path::PathBuf;

/// What was set in the delivery dialogue.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Delivery {
    /// The typed path; its ending chooses the format.
    pub path: String,
    /// Bits per channel; `None` for what is usual for the format.
    pub bits: Option<u8>,
    /// The canvas is halved so many times.
    pub level: u32,
}

/// Bits per channel that can be asked for.
const BITS: [Option<u8>; 4] = [None, Some(8), Some(16), Some(32)];

/// Halvings that can be asked for.
const LEVELS: [u32; 4] = [0, 1, 2, 3];

impl Delivery {
    /// Shows the dialogue's contents.
    pub fn ui(
        &mut self,
        ui: &mut egui::Ui,
        canvas: crate::geometry::Size,
        queue: &mut Queue,
    ) -> Said {
        ui.heading(words::BUILD_HEAD);
        ui.label(words::BUILD_HELP);
        ui.horizontal(|ui| {
            let label = ui.label(words::PICTURE_FILE);
            ui.add(egui::TextEdit::singleline(&mut self.path).desired_width(theme::place::PATH))
                .labelled_by(label.id);
            if ui.button(words::CHOOSE_NAME).clicked() {
                queue.ask(Ask::Choose(Wish::PictureName));
            }
        });
        ui.horizontal(|ui| {
            let label = ui.label(words::BITS);
            egui::ComboBox::from_id_salt("bits")
                .selected_text(words::bits(self.bits))
                .show_ui(ui, |ui| {
                    for bits in BITS {
                        ui.selectable_value(&mut self.bits, bits, words::bits(bits));
                    }
                })
                .response
                .labelled_by(label.id);
            let label = ui.label(words::SIZE);
            let size = |level: u32| {
                let size = canvas.at_level(level);
                words::pixels(size.width, size.height)
            };
            egui::ComboBox::from_id_salt("size")
                .selected_text(size(self.level))
                .show_ui(ui, |ui| {
                    for level in LEVELS {
                        ui.selectable_value(&mut self.level, level, size(level));
                    }
                })
                .response
                .labelled_by(label.id);
        });
        let given = !self.path.trim().is_empty();
        match foot(ui, words::BUILD_NOW, usize::from(given)) {
            Foot::Open => Said::Open,
            Foot::Cancel => Said::Done,
            Foot::Yes => {
                queue.ask(Ask::Start(Work::Build(BuildRequest {
                    output: PathBuf::from(self.path.trim()),
                    level: self.level,
                    bits: self.bits,
                })));
                Said::Done
            }
        }
    }
}
