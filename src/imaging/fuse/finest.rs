//! The finest level of a frame: added piece by piece, with what the smaller levels start from.

use super::band::{Band, Rows, Weighing};
use super::fill::continued;
use super::noise::root;
use super::pieces::{Coloured, Pieces, ROWS, even_margin};
use super::range::RangeRows;
use super::window::{FEATHER_REACH, Window, feathered};
use crate::geometry::Rect;
use crate::imaging::basics::pyramid::reduce;
use crate::imaging::basics::wide::wide;
use crate::pixels::Plane;
use crate::pixels::convert::clamp_index;

/// What expanding, reducing and mirroring at a piece's border may spoil, in pixels.
const SPOILT: usize = 6;

/// How pieces are added at the finest level.
pub(super) struct Finest<'a> {
    pub(super) picture: Rect,
    pub(super) origin: Rect,
    pub(super) window: Window<'a>,
    pub(super) how: Weighing<'a>,
    /// Whether the picture is too small for bands.
    pub(super) only_level: bool,
}

/// The rows of a band that pieces are added to.
pub(super) struct BandRows<'a> {
    pub(super) range: RangeRows<'a>,
    pub(super) rows: Rows<'a>,
    pub(super) coverage: &'a mut [f32],
    pub(super) below: Below<'a>,
}

/// The same rows at the first smaller level.
pub(super) struct Below<'a> {
    pub(super) pixels: Vec<&'a mut [f32]>,
    pub(super) roots: Vec<&'a mut [f32]>,
    pub(super) window: &'a mut [f32],
    pub(super) stride: usize,
}

impl Finest<'_> {
    /// Adds the piece `inner` to the rows of its band.
    #[expect(
        clippy::too_many_lines,
        reason = "the stages that a piece goes through, one after the other"
    )]
    pub(super) fn add<E>(
        &self,
        inner: Rect,
        frame: &impl Pieces<Coloured, Error = E>,
        band: &mut BandRows<'_>,
    ) -> Result<(), E> {
        let margin = even_margin(self.how.taps.len() + SPOILT);
        let outer = inner.grow(margin).intersect(self.picture);
        let asked = outer.shift(self.origin.x0, self.origin.y0);
        let mut piece = frame.piece(asked)?;
        let presence = self.presence(inner, frame);
        let mut present = frame.presence(asked);
        if let Some(present) = &mut present {
            let whole = |plane: &mut Plane| *plane = continued(plane, present);
            piece.pixels.rgb.iter_mut().for_each(whole);
            piece
                .guide
                .iter_mut()
                .flat_map(|guide| &mut guide.rgb)
                .for_each(whole);
            present.rect = outer;
        }
        let offset = self.how.noise.offset;
        let roots = piece
            .guide
            .as_ref()
            .unwrap_or(&piece.pixels)
            .rgb
            .each_ref()
            .map(|plane| {
                let mut roots = Plane::unwritten(outer);
                wide(
                    #[inline(always)]
                    || {
                        let pairs = roots.data.iter_mut().zip(&plane.data);
                        pairs.for_each(|(out, light)| *out = root(*light, offset));
                    },
                );
                roots
            });
        piece
            .pixels
            .rgb
            .iter_mut()
            .for_each(|plane| plane.rect = outer);
        let (left, top) = (clamp_index(inner.x0), clamp_index(inner.y0) % ROWS);
        let first = top * band.rows.stride + left;
        let stride = band.rows.stride;
        wide(
            #[inline(always)]
            || {
                band.range
                    .widen((first, stride), &piece.pixels, present.as_ref(), inner);
            },
        );
        cover(band.coverage, (first, stride), present.as_ref(), inner);
        let window = self
            .window
            .of(inner.grow(4).intersect(self.picture), presence.as_ref());
        let smaller = piece.pixels.rgb.each_ref().map(reduce);
        let smaller_roots = roots.each_ref().map(reduce);
        band.rows.first = first;
        if self.only_level {
            let pixels = piece.pixels.rgb.each_ref();
            band.rows.add_rest(inner, pixels, &window);
            return Ok(());
        }
        let one = Band {
            pixels: piece.pixels.rgb.each_ref(),
            smaller: smaller.each_ref(),
            roots: roots.each_ref(),
            smaller_roots: smaller_roots.each_ref(),
            window: &window,
            level: 0,
        };
        wide(
            #[inline(always)]
            || one.add(inner, &mut band.rows, self.how),
        );
        let below = &mut band.below;
        for (out, plane) in below.pixels.iter_mut().zip(&smaller) {
            put_below(out, below.stride, plane, (inner, outer));
        }
        for (out, plane) in below.roots.iter_mut().zip(&smaller_roots) {
            put_below(out, below.stride, plane, (inner, outer));
        }
        let small = reduce(&window);
        put_below(below.window, below.stride, &small, (inner, window.rect));
        let planes = smaller.into_iter().chain(smaller_roots).chain(roots);
        planes.chain([window, small]).for_each(Plane::give_back);
        piece.pixels.give_back();
        Ok(())
    }

    /// How much the frame counts around `inner` by lying there; `None` where it counts fully.
    fn presence<E>(&self, inner: Rect, frame: &impl Pieces<Coloured, Error = E>) -> Option<Plane> {
        let wanted = inner.grow(4).intersect(self.picture);
        let around = wanted.grow(FEATHER_REACH).intersect(self.picture);
        let mut present = frame.presence(around.shift(self.origin.x0, self.origin.y0))?;
        present.rect = around;
        Some(feathered(&present).crop(wanted))
    }
}

/// Raises the coverage of the pixels of `inner`.
fn cover(
    coverage: &mut [f32],
    (first, stride): (usize, usize),
    present: Option<&Plane>,
    inner: Rect,
) {
    for (row, y) in (inner.y0..inner.y1).enumerate() {
        let place = first + row * stride;
        let out = &mut coverage[place..place + inner.width()];
        match present {
            None => out.fill(1.0),
            Some(plane) => {
                let from = clamp_index(inner.x0 - plane.rect.x0);
                let pairs = out.iter_mut().zip(&plane.row(y)[from..]);
                pairs.for_each(|(covered, present)| *covered = covered.max(*present));
            }
        }
    }
}

/// Puts the part of a reduced piece that belongs to `inner` into the rows of its band. The piece was reduced from `outer`.
fn put_below(out: &mut [f32], stride: usize, piece: &Plane, (inner, outer): (Rect, Rect)) {
    let half = |length: i32| clamp_index(length).div_ceil(2);
    let (left, top) = (half(inner.x0 - outer.x0), half(inner.y0 - outer.y0));
    let (width, height) = (inner.width().div_ceil(2), inner.height().div_ceil(2));
    let first = (clamp_index(inner.y0) % ROWS) / 2 * stride + clamp_index(inner.x0) / 2;
    for row in 0..height {
        let from = &piece.data[(top + row) * piece.rect.width() + left..][..width];
        out[first + row * stride..][..width].copy_from_slice(from);
    }
}
