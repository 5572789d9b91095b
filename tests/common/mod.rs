//! Scenes and measures that several integration tests share.

pub mod disc_blur;
pub mod layered_scene;
pub mod lit_set;
