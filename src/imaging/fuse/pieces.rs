//! Frames handed over piece by piece, so that no pass has to hold a whole one.

use crate::geometry::Rect;
use crate::pixels::{Plane, Planes};
use std::convert::Infallible;

/// A frame of a stack, on the plate's pixels, that can be asked for any part of it. What a pixel holds must not depend on the
/// rectangle it is asked with.
pub trait Pieces<P>: Sync {
    /// Why a part cannot be had.
    type Error: Send;

    /// The pixels of `rect`. Those that do not lie on the frame may hold anything finite.
    ///
    /// # Errors
    /// When the frame cannot be read.
    fn piece(&self, rect: Rect) -> Result<P, Self::Error>;

    /// How much of each pixel of `rect` lies on the frame, 0 to 1; `None` where all lie on it wholly.
    fn presence(&self, rect: Rect) -> Option<Plane>;
}

/// Part of a frame in colour.
#[derive(Debug, Clone)]
pub struct Coloured {
    /// What the weights come from; `None` where that is `pixels`.
    pub guide: Option<Planes>,
    /// What is blended.
    pub pixels: Planes,
}

/// A frame that is there as a whole.
pub(super) struct Whole<'a> {
    pub(super) guide: &'a Planes,
    pub(super) pixels: &'a Planes,
    pub(super) valid: &'a Plane,
}

/// A frame's luma that is there as a whole.
pub(super) struct WholeLuma<'a> {
    pub(super) luma: &'a Plane,
    pub(super) valid: &'a Plane,
}

impl Pieces<Coloured> for Whole<'_> {
    type Error = Infallible;

    fn piece(&self, rect: Rect) -> Result<Coloured, Infallible> {
        let own = std::ptr::eq(self.guide, self.pixels);
        Ok(Coloured {
            guide: (!own).then(|| self.guide.crop(rect)),
            pixels: self.pixels.crop(rect),
        })
    }

    fn presence(&self, rect: Rect) -> Option<Plane> {
        part(self.valid, rect)
    }
}

impl Pieces<Plane> for WholeLuma<'_> {
    type Error = Infallible;

    fn piece(&self, rect: Rect) -> Result<Plane, Infallible> {
        Ok(self.luma.crop(rect))
    }

    fn presence(&self, rect: Rect) -> Option<Plane> {
        part(self.valid, rect)
    }
}

fn part(valid: &Plane, rect: Rect) -> Option<Plane> {
    let part = valid.crop(rect);
    (!super::fill::is_complete(&part)).then_some(part)
}

/// Sides of the pieces that the passes ask for. They are part of how a plate is computed only at the border of frames without data.
const COLUMNS: usize = 512;
/// Rows of a piece; the work is shared out by bands of that many. Even, so that pieces of the next smaller level fit together.
pub(super) const ROWS: usize = 192;

/// The pieces of a band that starts at row `top` of a picture at (0, 0).
pub(super) fn pieces_of(top: usize, width: usize, height: usize) -> impl Iterator<Item = Rect> {
    use crate::pixels::convert::coordinate;
    let bottom = (top + ROWS).min(height);
    (0..width).step_by(COLUMNS).map(move |left| {
        let right = (left + COLUMNS).min(width);
        Rect::new(
            coordinate(left),
            coordinate(top),
            coordinate(right),
            coordinate(bottom),
        )
    })
}

/// `plane` cut down to `rect`, both told from (0, 0) of one picture.
pub(super) fn even_margin(margin: usize) -> i32 {
    crate::pixels::convert::coordinate(margin + margin % 2)
}
