//! Growing, shrinking and softening of coverage, for masks and mattes.

mod distance;
mod grow;
mod soften;

pub use distance::signed_distance;
pub use grow::{grow, grow_reach};
pub use soften::{soften, soften_reach};
