//! Scenes and measures that several integration tests share.

pub mod disc_blur;
pub mod dust_set;
pub mod layered_scene;
pub mod lit_judged;
pub mod lit_set;
pub mod second_set;
