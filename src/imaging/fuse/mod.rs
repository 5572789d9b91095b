//! Fusing the frames of a focus stack into one plate that is sharp everywhere, in two streaming passes.
//!
//! Pass 1 ([`DepthPass`]) looks at the luma of every registered frame and finds where each pixel is sharpest. Pass 2
//! ([`BlendPass`]) adds the Laplacian pyramids of the frames with soft weights: the energy of each band over its noise, times a
//! window around the depth found. Neither pass keeps the frames: memory does not depend on their number. Frames are handed in in
//! the same canonical order in both passes (rising index); an excluded frame is simply left out.
//!
//! Sources: focus measure and depth from three scores, Nayar and Nakagawa 1994; pyramid, Burt and Adelson 1983; soft salience
//! weights in a window, Burt and Kolczynski 1993; variance-stabilising root, Anscombe 1948.

mod alike;
mod band;
mod behind; // near parts
mod blend;
mod curve; // scores of a pixel over the frames
mod depth;
mod disc; // even blur
mod fill;
mod finest;
mod guided;
mod look; // scores of a piece
mod near_part;
mod noise;
mod pieces;
mod range; // what the stack spans
mod room;
mod unmix;
mod veil; // near parts that the stack tells
mod veil_blur;
mod veil_cover;
mod veil_depth;
mod veil_piece;
mod veil_spread;
mod window;

pub use blend::{BlendPass, Fused};
pub use depth::{DepthMap, DepthPass};
pub use noise::{NoiseModel, plain_luma};
pub use pieces::{Coloured, Pieces};
pub use unmix::NearParts;
pub use veil::unveil;

/// What can be chosen about a fusion. [`Default`] suits a stack with small focus steps.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FuseSettings {
    /// Radius (sigma, pixels) over which the energy of a band is gathered: 1.2 keeps most detail, 2.0 gives the cleanest
    /// backdrop next to edges. Range 0.5 to 4.
    pub detail: f32,
    /// Half width (sigma) in frames of the window around the depth found, where the depth is certain. Range 0.5 to 5.
    pub depth_width: f32,
    /// How many frames the window widens where the depth is quite uncertain. Range 0 to 20.
    pub doubt_width: f32,
    /// Band-pass levels of the pyramid; small pictures get fewer. Range 3 to 10.
    pub levels: usize,
}

impl Default for FuseSettings {
    fn default() -> Self {
        Self {
            detail: 1.2,
            depth_width: 1.2,
            doubt_width: 3.0,
            levels: 7,
        }
    }
}

impl FuseSettings {
    /// These settings with every value brought into its range.
    #[must_use]
    pub fn in_range(self) -> Self {
        Self {
            detail: self.detail.clamp(0.5, 4.0),
            depth_width: self.depth_width.clamp(0.5, 5.0),
            doubt_width: self.doubt_width.clamp(0.0, 20.0),
            levels: self.levels.clamp(3, 10),
        }
    }
}

#[cfg(test)]
mod tests;
