//! platebench: from frames of scale models at several focus distances to one finished, rebuildable scene.
//!
//! The rooms below stand in floor order: each may use only those above it in this list (`DEVELOPERS.md` has the table,
//! `tests/house_rules.rs` holds the code to it).

pub mod command_line; // the same commands without a window
pub mod engine; // turns a project into pixels, tile by tile
pub mod files; // the only room that touches the disc
pub mod geometry; // points, rectangles, transforms, tiles
pub mod imaging; // pure functions on pixels
pub mod optics; // lens, light and sky formulas on plain numbers
pub mod pixels; // buffers of numbers
pub mod project; // the record: frames, plates, scene, edits, history
pub mod session; // the open project: runs commands, starts jobs
#[cfg(feature = "window")]
pub mod window; // what is on the screen
