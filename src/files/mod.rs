//! Floor 4: bytes on the disc and what they mean. The only room that touches the disc.
//!
//! `photo` turns picture files into [`crate::pixels::Samples`], exactly as stored; `output` writes finished pixels,
//! always through `atomic_write`, so that an existing file is replaced only by a whole new one; `project_file` turns the
//! record into text and back. The rest finds files, knows them again by content, keeps scratch tiles and journals, and names
//! the user's folders. Nothing here linearises, scales or mixes pixels: the numbers go out as they came in.
//!
//! Every file is taken for hostile. Sizes are read from headers and held against [`Limits`] before anything is
//! allocated, and a decoder that panics is fenced in and told as a damaged file.
#![expect(clippy::disallowed_methods, reason = "this room is the file boundary")]

pub mod atomic_write; // replace a file whole or not at all
pub mod clock; // the time of day, for notes
pub mod copy; // copies that are read back
pub mod digest; // BLAKE3 of a file's content
mod error; // what can go wrong, by whose fault
pub(crate) mod faults; // where tests make the disc fail
mod fence; // decoders that panic
pub mod folders; // the user's config, state, cache and data folders
pub mod journal_file; // journals in the state folder
pub mod json; // answers and receipts as JSON
pub mod limits; // how large a picture may be
pub mod locate; // names, folders and patterns to lists of photos; moved files by content
pub mod lock_file; // one window on one project
pub mod output; // finished pixels to TIFF, PNG, JPEG, OpenEXR
pub mod photo; // picture files to samples
pub mod places; // names of files in a project
pub mod project_file; // the record as text
pub mod scratch; // a bounded store of tiles on disc
pub mod text; // small text files

pub use error::FileError;
pub use limits::Limits;
