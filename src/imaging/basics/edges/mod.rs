//! Growing, shrinking and softening of coverage, for masks and mattes.

mod grow;
mod soften;

pub use grow::{grow, grow_reach};
pub use soften::{soften, soften_reach};
