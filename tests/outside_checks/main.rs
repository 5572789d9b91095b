//! Checks against values from outside: published tables, standards and papers. Each file in `tests/checks` names its source in its
//! first lines; the tolerance stands beside each check.

#[path = "../common/fusion_measures.rs"]
mod fusion_measures;
#[path = "../common/metrics.rs"]
mod metrics;

mod blending;
mod colour;
mod lens;
mod light;
mod likeness;
mod properties;
mod sky;
mod table;
