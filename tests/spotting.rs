//! Nothing yet.
