//! Starts the window or the command line; nothing else.

use platebench::command_line::{self, Next};
use platebench::pixels::kept_memory::keep_memory;
use std::process::ExitCode;

fn main() -> ExitCode {
    keep_memory();
    match command_line::run() {
        Next::End(code) => code,
        Next::Window(project) => open_window(project),
    }
}

#[cfg(feature = "window")]
fn open_window(project: Option<std::path::PathBuf>) -> ExitCode {
    match platebench::window::run(project) {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => command_line::cannot_open(&why),
    }
}

#[cfg(not(feature = "window"))]
fn open_window(_project: Option<std::path::PathBuf>) -> ExitCode {
    command_line::no_window()
}
