//! Floor 2: buffers of pixels and what is stored in a photo. No colour meaning and no filters here; the only room that
//! casts number types.

pub mod convert;
pub mod display_image;
pub mod image;
pub mod kept_memory;
pub mod plane;
pub mod samples;
pub mod spare;

pub use display_image::DisplayImage;
pub use image::Image;
pub use plane::{Plane, Planes};
pub use samples::{ColourEncoding, Curve, Numbers, Samples};
