//! Placeholder until the room lands on this branch.
