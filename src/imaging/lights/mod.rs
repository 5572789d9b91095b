//! Light passes: what the practicals added, and laying it over the unlit plate.

pub mod lay;
