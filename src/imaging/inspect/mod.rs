//! The set check's measurements on frames: where each is sharp, and in which order they were focused.

mod focus_order;
mod hot_pixels;
mod sensor_dust;
mod sharpness;

pub use focus_order::{FocusOrder, focus_order};
pub use hot_pixels::{HotPixels, are_hot, mend};
pub use sensor_dust::{Dust, OnSensor, RINGS, lift, sensor_dust};
pub use sharpness::{BlockEnergy, block_energy, sharp_share};
