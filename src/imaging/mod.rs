//! Floor 3: functions on pixels. No files, no project, no clock, no state; the same input gives the same bits.
//!
//! # Common rules
//! - Pictures are in the one inner state: linear light, BT.2020 primaries, white D65, unclipped; [`Image`](crate::pixels::Image)
//!   is premultiplied, [`Planes`](crate::pixels::Planes) are opaque.
//! - Pixel (x, y) covers the square from (x, y) to (x + 1, y + 1); its centre is (x + 0.5, y + 0.5); y runs down.
//! - Rectangles are half-open; angles are radians; lengths are pixels of the plate at full size unless said.
//! - Outside a picture there is nothing (coverage 0) unless a function says how it continues the edge.
//! - Rows may be shared out over threads (`par_chunks_mut` over rows or bands): each output number is computed by one thread from
//!   inputs alone. Sums over a picture are added up in fixed bands from the top, so no result depends on the number of threads.
//! - Multiply and add are never fused and transcendental functions come from `libm`, so every machine computes the same bits.

pub mod basics;
pub mod blend;
pub mod carry;
pub mod finish;
pub mod fuse;
pub mod grade;
pub mod heal;
pub mod inspect;
pub mod lights;
pub mod made;
pub mod mask;
pub mod match_colour;
pub mod matte;
pub mod register;
pub mod spotting;
pub mod warp;
