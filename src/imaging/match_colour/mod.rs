//! Making frames agree: gain (and offset) per channel from large blocks, and how much of the key light a lit pass holds.
//!
//! Blocks rather than pixels, because a change of focus keeps local means but not single pixels.

mod blocks;
mod gains;
mod key_light;
mod steadiness;

pub use blocks::{BlockMeans, quarter_size};
pub use gains::{Matched, gains};
pub use key_light::{Certainty, KeyLight, key_light};
pub use steadiness::{Steadiness, steadiness};
