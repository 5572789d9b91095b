//! Placeholder until the module lands on this branch.
