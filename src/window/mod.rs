//! Floor 6: what is on the screen. Panels read the session and hand their wishes to a queue.

pub mod app;
pub mod approval;
pub mod build_sheet;
pub mod card_words;
pub mod delivery;
pub mod dialogues;
pub mod errands;
pub mod gestures;
pub mod jobs_bar;
pub mod missing_system;
pub mod open_scene;
pub mod path_list;
pub mod photos_on_disc;
pub mod picture_words;
pub mod queue;
pub mod record;
pub mod record_words;
pub mod shortcuts;
pub mod small_pictures;
pub mod start_page;
pub mod step_cards;
pub mod theme;
pub mod viewport;
pub mod words;

use crate::session::Settings;
use std::path::PathBuf;

/// Opens the window, on `project` or on the start page, and stays until it is closed.
///
/// # Errors
/// One sentence for people when no window can be opened: what is missing and how to go on.
pub fn run(project: Option<PathBuf>) -> Result<(), String> {
    let opened = std::panic::catch_unwind(|| open(project));
    opened.unwrap_or_else(|_panic| Err(words::NO_KEYBOARD_LIBRARY.to_owned()))
}

fn open(project: Option<PathBuf>) -> Result<(), String> {
    let options = eframe::NativeOptions {
        viewport: egui::ViewportBuilder::default()
            .with_title(words::TITLE)
            .with_app_id(words::APP_ID)
            .with_inner_size([1280.0, 860.0])
            .with_min_inner_size([640.0, 420.0])
            .with_drag_and_drop(true),
        renderer: eframe::Renderer::Glow,
        ..Default::default()
    };
    let creator: eframe::AppCreator<'_> = Box::new(move |context| {
        Ok(Box::new(app::Workbench::for_people(
            &context.egui_ctx,
            Settings::default(),
            project,
        )))
    });
    eframe::run_native(words::TITLE, options, creator)
        .map_err(|error| missing_system::sentence(&error))
}
