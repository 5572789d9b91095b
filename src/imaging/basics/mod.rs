//! Filters and formulas that several stages use.

pub mod blur;
pub mod colour;
pub mod correlation;
pub mod edges;
pub mod pixelwise;
pub mod pyramid;
pub mod random;
pub mod regions;
pub mod resample;
pub mod statistics;
pub mod wide;
