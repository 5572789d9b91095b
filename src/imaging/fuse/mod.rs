//! Placeholder until the stage lands on this branch.
