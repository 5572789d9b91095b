//! Taking the veil off: the blur that near parts lay over what stands beside them in its own best frame, where the stack itself tells
//! where near parts end.
//!
//! A frame focused behind a near part shows that part's light and coverage blurred by a disc: frame = (coverage x near) * disc +
//! (1 - coverage * disc) x behind (Asada, Fujiwara and Matsuyama 1998). In pieces of the plate where the depth steps, what is near and
//! what is behind are told apart by depth ([`super::veil_depth`]); the coverage is found to the pixel in the near part's own frame,
//! where what is behind is smooth and can be foretold ([`super::veil_cover`]); then the near part's disc is taken off the frames behind.
//! What comes out is used only where, blurred again, it looks like the near part's frame, and where it differs by more than noise.

use super::depth::half;
use super::disc::{FARTHEST_PX, disc_of_radii};
use super::pieces::{Coloured, Pieces};
use super::veil_blur::blur_per_frame;
use super::veil_cover::{Limits, coverage, rooted_distance, spans};
use super::veil_depth::Depths;
use super::veil_spread::{Parts, doubled};
use super::{DepthMap, NoiseModel};
use crate::geometry::Rect;
use crate::imaging::basics::blur::gaussian;
use crate::pixels::convert::{clamp_index, coordinate, count_f32, floor_i32};
use crate::pixels::{Plane, Planes};
use rayon::prelude::*;

/// Side of the pieces, and the margin that they are looked at with.
const SIDE: i32 = 256;
const MARGIN: i32 = 48;
/// The lens hidden by near parts: from which share on it is worth the work, and up to which what is behind can be seen.
const WORTH: (f32, f32) = (0.02, 0.08);
const HIDDEN: (f32, f32) = (0.5, 0.65);
/// Share of a frame's light that near parts may have spread there: where it is nearly all, what is left over when it is taken off is
/// mostly what it was taken to be wrongly. Light below the least counts as that.
const STRANGE: (f32, f32) = (0.5, 0.7);
const DARKEST: f32 = 1e-4;
/// Above this share hidden, what is behind is carried in from around.
const LOST: f32 = 0.75;
/// Least share of the lens that is divided by.
const LEAST_SEEN: f32 = 0.15;
/// Distance of rooted colours by which the near part's frame may miss what was foretold: full trust and none, beside noise.
const MISSES: (f32, f32) = (0.05, 0.1);
const NOISES: f32 = 2.0;
/// Squared change over the noise: none is made up to the first, all of it from the second on.
const CHANGE: (f32, f32) = (1.0, 3.0);
/// Difference of rooted colours up to which a near part's frame shows what was carried in from around, and what was foretold.
const LEAST_UNLIKE: (f32, f32) = (0.03, 0.02);
/// Coverage from which on a pixel shows the near part alone, and up to which its light fades out.
const SOLID: f32 = 0.98;
const FADING: f32 = 0.1;

/// Takes the veil of near parts off `light`, a plate fused from `frames` by `map`. Nothing changes where the stack does not tell how its
/// blur grows.
///
/// # Errors
/// When a frame cannot be read; `light` is as it was then.
pub fn unveil<F: Pieces<Coloured>>(
    light: &mut Planes,
    map: &DepthMap,
    noise: &NoiseModel,
    frames: &[F],
) -> Result<(), F::Error> {
    let Some(step_px) = blur_per_frame(light, map, frames)? else {
        return Ok(());
    };
    let whole = light.rect();
    let across = (whole.x0..whole.x1).step_by(clamp_index(SIDE));
    let places: Vec<Rect> = (whole.y0..whole.y1)
        .step_by(clamp_index(SIDE))
        .flat_map(|y| {
            across
                .clone()
                .map(move |x| Rect::new(x, y, x + SIDE, y + SIDE).intersect(whole))
        })
        .collect();
    let plate: &Planes = light;
    let changed: Vec<(Rect, Planes)> = places
        .into_par_iter()
        .map(|inner| {
            let outer = inner.grow(MARGIN).intersect(whole);
            let piece = Piece::new(plate, map, noise, step_px, (inner, outer));
            piece.map_or(Ok(None), |piece| piece.unveiled(frames))
        })
        .filter_map(Result::transpose)
        .collect::<Result<_, _>>()?;
    for (place, part) in changed {
        for (plane, part) in light.rgb.iter_mut().zip(&part.rgb) {
            for y in place.y0..place.y1 {
                let start = whole.index(place.x0, y);
                plane.data[start..start + place.width()].copy_from_slice(part.row(y));
            }
        }
    }
    Ok(())
}

/// A piece of the plate in which near parts stand before something. All planes lie at (0, 0).
struct Piece<'a> {
    inner: Rect,
    outer: Rect,
    light: Planes,
    /// The same at half size.
    depths: Depths,
    noise: &'a NoiseModel,
    step_px: f32,
    last: usize,
}

/// What is behind as seen past near parts, how much of the lens they hid, and which share of the light there was theirs.
struct Behind {
    light: Planes,
    hidden: Plane,
    strange: Plane,
}

/// The frames of a piece that are needed.
struct Needed {
    frames: Vec<Option<Planes>>,
    /// Whether each pixel lies on all of them.
    whole: Vec<bool>,
}

impl<'a> Piece<'a> {
    /// The piece, if anything can be hidden there.
    fn new(
        plate: &Planes,
        map: &DepthMap,
        noise: &'a NoiseModel,
        step_px: f32,
        (inner, outer): (Rect, Rect),
    ) -> Option<Self> {
        // What is worked on is no larger than what is veiled, and what that needs around it.
        let inner = Depths::of(map, (inner, outer), step_px)?
            .bounds(outer)
            .intersect(inner);
        let outer = inner.grow(MARGIN).intersect(plate.rect());
        let depths = Depths::of(map, (inner, outer), step_px)?;
        let local = Rect::new(0, 0, coordinate(outer.width()), coordinate(outer.height()));
        let mut light = plate.crop(outer);
        light.rgb.iter_mut().for_each(|plane| plane.rect = local);
        Some(Self {
            inner,
            outer,
            light,
            depths,
            noise,
            step_px,
            last: map.frames.saturating_sub(1),
        })
    }

    fn unveiled<F: Pieces<Coloured>>(
        &self,
        frames: &[F],
    ) -> Result<Option<(Rect, Planes)>, F::Error> {
        let needed = self.needed(frames)?;
        let own = self.picked(&needed, &self.depths.near, &self.depths.veiled);
        let limits = Limits {
            covered: &self.depths.covered,
            least: LEAST_UNLIKE.0,
        };
        let foretold = self.depths.carried_in(&self.light);
        let mut smooth = self.grown(&foretold);
        let mut missed = rooted_distance(&own, &smooth);
        let mut cover = coverage(&missed, &limits);
        let limits = Limits {
            least: LEAST_UNLIKE.1,
            ..limits
        };
        let mut behind = self.behind(&needed, (&own, &smooth, &cover));
        for last in [false, true] {
            smooth = self.as_near_part_sees(&behind);
            missed = rooted_distance(&own, &smooth);
            cover = coverage(&gaussian(&missed, 0.6), &limits);
            if !last {
                behind = self.behind(&needed, (&own, &smooth, &cover));
            }
        }
        let (made, trust) = self.made(&needed, &behind, (&own, &smooth, &cover), &missed);
        Ok(self.joined(&needed, &made, trust))
    }

    /// The frames that show anything veiled, or what veils it.
    fn needed<F: Pieces<Coloured>>(&self, frames: &[F]) -> Result<Needed, F::Error> {
        let wanted = self.depths.frames_wanted(self.last);
        let mut whole = vec![true; self.outer.area()];
        let mut found = Vec::with_capacity(frames.len());
        for (frame, wanted) in frames.iter().zip(wanted) {
            if !wanted {
                found.push(None);
                continue;
            }
            let mut pixels = frame.piece(self.outer)?.pixels;
            for plane in &mut pixels.rgb {
                plane.rect = self.light.rect();
            }
            if let Some(presence) = frame.presence(self.outer) {
                let pairs = whole.iter_mut().zip(&presence.data);
                pairs.for_each(|(whole, present)| *whole &= *present >= 1.0);
            }
            found.push(Some(pixels));
        }
        Ok(Needed {
            frames: found,
            whole,
        })
    }

    /// The light at `depth` where `wanted` says (both at half size), the plate's elsewhere.
    fn picked(&self, needed: &Needed, depth: &Plane, wanted: &[bool]) -> Planes {
        let mut out = self.light.clone();
        self.each_pixel(|at, small| {
            if !wanted[small] {
                return;
            }
            let mut colour = [0.0_f32; 3];
            let mut sum = 0.0;
            for (number, share) in shares(depth.data[small], self.last) {
                if let Some(frame) = needed.frames.get(number).and_then(Option::as_ref) {
                    let seen = frame.pixel(at);
                    colour = [0, 1, 2].map(|c| colour[c] + share * seen[c]);
                    sum += share;
                }
            }
            if sum > 0.99 {
                out.set_pixel(at, colour);
            }
        });
        out
    }

    /// Calls `work` with the place of every pixel and that of its pixel at half size.
    fn each_pixel(&self, mut work: impl FnMut(usize, usize)) {
        let rect = self.light.rect();
        let (width, small) = (rect.width(), self.depths.rect.width());
        for y in 0..rect.height() {
            for x in 0..width {
                work(y * width + x, y / 2 * small + x / 2);
            }
        }
    }

    /// Planes of half the size brought to the piece's.
    fn grown(&self, small: &Planes) -> Planes {
        Planes {
            rgb: small.rgb.each_ref().map(|plane| self.grown_plane(plane)),
        }
    }

    fn grown_plane(&self, small: &Plane) -> Plane {
        doubled(small, self.light.rect())
    }

    /// What is behind, seen past near parts with the light `own` less what shines past them, `smooth`, and the coverage `cover`.
    fn behind(&self, needed: &Needed, (own, smooth, cover): (&Planes, &Planes, &Plane)) -> Behind {
        let parts = self.parts(own, smooth, cover);
        let mut light = self.light.clone();
        let [mut hidden, mut strange] = [(); 2].map(|()| Plane::zero(light.rect()));
        self.each_pixel(|at, small| {
            if self.depths.veiled[small] {
                light.set_pixel(at, [0.0; 3]);
            }
        });
        for (number, frame) in needed.frames.iter().enumerate() {
            let Some(frame) = frame else { continue };
            let focus = count_f32(number);
            let shares = self
                .depths
                .far
                .map(|depth| (1.0 - (depth - focus).abs()).max(0.0));
            if !shares
                .data
                .iter()
                .zip(&self.depths.veiled)
                .any(|(share, veiled)| *veiled && *share > 0.0)
            {
                continue;
            }
            let spread = parts.spread(focus);
            let [red, green, blue, veil] = spread.each_ref().map(|plane| self.grown_plane(plane));
            let over = [&red, &green, &blue];
            self.each_pixel(|at, small| {
                let share = shares.data[small];
                if share <= 0.0 || !self.depths.veiled[small] {
                    return;
                }
                let seen = (1.0 - veil.data[at]).max(LEAST_SEEN);
                hidden.data[at] += share * veil.data[at];
                let sum =
                    |planes: [&Plane; 3]| planes.map(|plane| plane.data[at]).iter().sum::<f32>();
                strange.data[at] += share * sum(over) / sum(frame.rgb.each_ref()).max(DARKEST);
                for (plane, (frame, over)) in light.rgb.iter_mut().zip(frame.rgb.iter().zip(over)) {
                    plane.data[at] += share * (frame.data[at] - over.data[at]) / seen;
                }
            });
        }
        for plane in &mut light.rgb {
            plane
                .data
                .iter_mut()
                .for_each(|value| *value = value.max(0.0));
        }
        Behind {
            light,
            hidden,
            strange,
        }
    }

    /// The light and coverage of all that is certain.
    fn parts(&self, own: &Planes, smooth: &Planes, cover: &Plane) -> Parts {
        let rect = self.light.rect();
        let mut visible = [(); 4].map(|()| Plane::zero(rect));
        self.each_pixel(|at, small| {
            if !self.depths.sure[small] {
                return;
            }
            let part = cover.data[at];
            let near = self.depths.covered[small];
            let fade = if near { (part / FADING).min(1.0) } else { 1.0 };
            for (channel, plane) in visible[..3].iter_mut().enumerate() {
                let light = if near && part < 1.0 {
                    own.rgb[channel].data[at] - (1.0 - part) * smooth.rgb[channel].data[at]
                } else {
                    self.light.rgb[channel].data[at]
                };
                plane.data[at] = fade * light;
            }
            visible[3].data[at] = if near { part } else { 1.0 };
        });
        let visible = visible.each_ref().map(half);
        let how = (self.step_px, self.depths.gap);
        Parts::new(&visible, &self.depths.visible, how, self.last)
    }

    /// What is behind as the near parts' own frames show it: blurred.
    fn as_near_part_sees(&self, behind: &Behind) -> Planes {
        let known = half(
            &behind
                .hidden
                .map(|hidden| if hidden < LOST { 1.0 } else { 0.0 }),
        );
        let light = behind.light.rgb.each_ref().map(half);
        let light = Planes { rgb: light };
        let known = known.map(|share| if share >= 1.0 { 1.0 } else { 0.0 });
        let around = super::behind::filled(&light, &known);
        let mut radius = self.depths.far.clone();
        for (radius, near) in radius.data.iter_mut().zip(&self.depths.near.data) {
            *radius = (0.5 * self.step_px * (*radius - near).max(0.0)).min(FARTHEST_PX);
        }
        let mut small = light;
        for (plane, around) in small.rgb.iter_mut().zip(&around.rgb) {
            for (at, value) in plane.data.iter_mut().enumerate() {
                *value = if known.data[at] > 0.0 {
                    *value
                } else {
                    around.data[at]
                };
            }
            *plane = disc_of_radii(plane, &radius);
        }
        self.grown(&small)
    }

    /// What is behind with the near parts before it, and how far that is to be trusted.
    fn made(
        &self,
        needed: &Needed,
        behind: &Behind,
        (own, smooth, cover): (&Planes, &Planes, &Plane),
        missed: &Plane,
    ) -> (Planes, Plane) {
        let mut made = behind.light.clone();
        let mut trust = Plane::zero(self.light.rect());
        let miss = self.missed_around(missed);
        let beside = NOISES * self.noise.colour_variance.sqrt();
        self.each_pixel(|at, small| {
            if !self.depths.beside[small] || !needed.whole[at] {
                return;
            }
            let part = cover.data[at];
            if self.depths.covered[small] {
                let fade = (part / FADING).min(1.0);
                let (own, past) = (own.pixel(at), smooth.pixel(at));
                let seen = made.pixel(at);
                let colour = [0, 1, 2]
                    .map(|c| (1.0 - part) * seen[c] + fade * (own[c] - (1.0 - part) * past[c]));
                made.set_pixel(at, colour);
            }
            let hidden = behind.hidden.data[at];
            let own = 1.0 - rising(behind.strange.data[at], STRANGE);
            let seen = own * rising(hidden, WORTH) * (1.0 - rising(hidden, HIDDEN));
            if part < SOLID {
                trust.data[at] = seen * (1.0 - rising(miss.data[at] - beside, MISSES));
            }
        });
        (made, trust)
    }

    /// The plate with what was `made`, as far as it is trusted and differs by more than noise, held within what the frames span; `None`
    /// where nothing changes.
    fn joined(&self, needed: &Needed, made: &Planes, mut trust: Plane) -> Option<(Rect, Planes)> {
        let mut change = rooted_distance(made, &self.light);
        for (value, trust) in change.data.iter_mut().zip(&trust.data) {
            *value = *value * *value * trust * trust;
        }
        let scale = 1.0 / self.noise.colour_variance;
        let pairs = trust.data.iter_mut().zip(gaussian(&change, 1.5).data);
        pairs.for_each(|(trust, change)| *trust *= rising(change * scale, CHANGE));
        if trust.data.iter().all(|trust| *trust <= 0.0) {
            return None;
        }
        let (low, high) = spans(&needed.frames, self.light.rect());
        let mut out = self.light.clone();
        for (channel, plane) in out.rgb.iter_mut().enumerate() {
            let bounds = low.rgb[channel].data.iter().zip(&high.rgb[channel].data);
            let values = made.rgb[channel].data.iter().zip(bounds).zip(&trust.data);
            for (value, ((made, (low, high)), trust)) in plane.data.iter_mut().zip(values) {
                *value += trust * (made.max(*low).min(*high) - *value);
            }
            plane.rect = self.outer;
        }
        Some((self.inner, out.crop(self.inner)))
    }

    /// How far what was foretold misses the near part's frame, around every pixel, where no near part is taken to cover it.
    fn missed_around(&self, missed: &Plane) -> Plane {
        let mut square = missed.map(|miss| miss * miss);
        self.each_pixel(|at, small| {
            if self.depths.covered[small] {
                square.data[at] = 0.0;
            }
        });
        gaussian(&square, 1.4).map(|square| square.max(0.0).sqrt())
    }
}

/// 0 up to the first of the two, 1 from the second on.
fn rising(value: f32, (none, full): (f32, f32)) -> f32 {
    ((value - none) / (full - none)).clamp(0.0, 1.0)
}

/// The two frames around `depth`, with their shares.
fn shares(depth: f32, last: usize) -> [(usize, f32); 2] {
    let depth = depth.clamp(0.0, count_f32(last));
    let lower = clamp_index(floor_i32(depth)).min(last);
    let part = depth - count_f32(lower);
    [(lower, 1.0 - part), ((lower + 1).min(last), part)]
}
