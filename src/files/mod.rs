//! Placeholder until the room lands on this branch.

pub mod project_file;
