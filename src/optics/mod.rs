//! Floor 2: lens, light and sky formulas on plain numbers. Every function names its units and its source.
//!
//! Lengths are millimetres unless said, angles degrees where a name says so and radians otherwise.

pub mod lens;
pub mod light;
pub mod paper;
pub mod sky;
