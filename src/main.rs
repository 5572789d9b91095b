//! Starts the window or the command line; nothing else.
fn main() {}
