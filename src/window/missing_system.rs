//! Turns "no window can be opened" into one sentence: what is missing, and how to go on.

use crate::window::words;

/// One sentence for people about why no window could be opened.
#[must_use]
pub fn sentence(error: &eframe::Error) -> String {
    let detail = error.to_string();
    let advice = match error {
        eframe::Error::NoGlutinConfigs(..)
        | eframe::Error::Glutin(_)
        | eframe::Error::OpenGL(_) => words::NO_GRAPHICS,
        eframe::Error::Winit(_) | eframe::Error::WinitEventLoop(_) => {
            if detail.contains("XNotSupported") || detail.contains("LibraryOpenError") {
                words::NO_DISPLAY_LIBRARY
            } else {
                words::NO_DISPLAY
            }
        }
        eframe::Error::AppCreation(_) => words::NO_WINDOW,
    };
    format!("{advice} ({detail})")
}
