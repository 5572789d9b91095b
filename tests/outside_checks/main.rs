//! Checks against values from outside: published tables, standards and papers. Each file in `tests/checks` names its source in its
//! first lines; the tolerance stands beside each check.

mod blending;
mod colour;
mod lens;
mod light;
mod properties;
mod sky;
mod table;
