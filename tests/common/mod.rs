//! Scenes and measures that several integration tests share.

pub mod layered_scene;
