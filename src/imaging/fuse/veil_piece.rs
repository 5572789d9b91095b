//! One piece of a plate in which near parts stand before something: what they hide, and whether the frames bear it out.
//!
//! The coverage of near parts is found to the pixel in their own frame, where what is behind is smooth and can be foretold
//! ([`super::veil_cover`]); then what they spread over the frames behind is taken off. What comes out is used only as far as it is borne out: blurred
//! as the near part's own frame sees it, it must explain that frame better than the plate does, of which it was not made; and it must differ by
//! more than noise and more than the near part's light is uncertain.

use super::disc::{FARTHEST_PX, disc_of_radii};
use super::look::half;
use super::pieces::{Coloured, Pieces};
use super::veil_cover::{Limits, coverage, darkest, rooted, rooted_distance};
use super::veil_depth::Depths;
use super::veil_spread::{Parts, doubled};
use super::{DepthMap, NoiseModel};
use crate::geometry::Rect;
use crate::imaging::basics::blur::gaussian;
use crate::pixels::convert::{coordinate, count_f32};
use crate::pixels::{Plane, Planes};

/// The margin that a piece is looked at with.
const MARGIN: i32 = 48;
/// How often what is behind and the coverage of what is before it are found from each other.
const ROUNDS: usize = 2;
/// The lens hidden by near parts: from which share on it is worth the work, and up to which what is behind can be seen.
const WORTH: (f32, f32) = (0.02, 0.08);
const HIDDEN: (f32, f32) = (0.5, 0.65);
/// Above this share hidden, what is behind is carried in from around.
const LOST: f32 = 0.75;
/// Least share of the lens that is divided by.
const LEAST_SEEN: f32 = 0.15;
/// Difference of rooted colours up to which a near part's frame shows what was carried in from around, and what was foretold.
const LEAST_UNLIKE: (f32, f32) = (0.03, 0.02);
/// Coverage up to which a near part's light fades out.
const FADING: f32 = 0.1;
/// Sigma in pixels over which the frames are asked.
const ASKED_PX: f32 = 2.0;
/// What is left unexplained of what the plate leaves unexplained: full trust up to the first, none from the second on.
const LEFT: (f32, f32) = (0.8, 1.0);
/// Difference of rooted colours, beside noise, up to which plate and near part's frame show the same, and from which on they do not.
const SAME: (f32, f32) = (0.03, 0.06);
/// How many deviations of noise that may be.
const NOISES: f32 = 2.0;
/// Squared change over what is uncertain: none is made up to the first, all of it from the second on.
const CHANGE: (f32, f32) = (1.0, 3.0);

/// A piece of the plate in which near parts stand before something. All planes but what comes out lie at (0, 0).
pub(super) struct Piece {
    inner: Rect,
    outer: Rect,
    /// The same at half size.
    depths: Depths,
    step_px: f32,
    /// What the near parts' own frames show, and the best frames of what is behind them; nothing where nothing is veiled.
    own: Planes,
    far: Planes,
    /// Whether each pixel lies on all frames that were added.
    whole: Vec<bool>,
}

/// What is behind as seen past near parts, and how much of the lens they hid.
struct Behind {
    light: Planes,
    hidden: Plane,
}

impl Piece {
    /// The piece, if anything can be hidden there.
    pub(super) fn new(plate: &Planes, map: &DepthMap, inner: Rect, step_px: f32) -> Option<Self> {
        let whole = plate.rect();
        let outer = inner.grow(MARGIN).intersect(whole);
        // What is worked on is no larger than what is veiled, and what that needs around it.
        let inner = Depths::of(map, (inner, outer), step_px)?
            .bounds(outer)
            .intersect(inner);
        let outer = inner.grow(MARGIN).intersect(whole);
        let depths = Depths::of(map, (inner, outer), step_px)?;
        let local = Rect::new(0, 0, coordinate(outer.width()), coordinate(outer.height()));
        Some(Self {
            inner,
            outer,
            depths,
            step_px,
            own: Planes::zero(local),
            far: Planes::zero(local),
            whole: vec![true; local.area()],
        })
    }

    /// Whether frame `number` shows anything veiled, or what veils it.
    pub(super) fn wants(&self, number: usize) -> bool {
        !self.depths.wanted(number).is_empty()
    }

    /// Adds frame `number`.
    ///
    /// # Errors
    /// When it cannot be read.
    pub(super) fn add<F: Pieces<Coloured>>(
        &mut self,
        number: usize,
        frame: &F,
    ) -> Result<(), F::Error> {
        let local = self.own.rect();
        let wanted = self.depths.wanted(number).intersect(local);
        if wanted.is_empty() {
            return Ok(());
        }
        let place = wanted.shift(self.outer.x0, self.outer.y0);
        let seen = frame.piece(place)?.pixels;
        let presence = frame.presence(place);
        for y in wanted.y0..wanted.y1 {
            let (first, from) = (local.index(wanted.x0, y), wanted.index(wanted.x0, y));
            for x in 0..wanted.width() {
                let (to, from) = (first + x, from + x);
                if let Some(presence) = &presence {
                    self.whole[to] &= presence.data[from] >= 1.0;
                }
                let half = self.half_of(to);
                if self.depths.veiled[half] {
                    let seen = seen.pixel(from);
                    let near = share(self.depths.near.data[half], number);
                    let far = share(self.depths.far.data[half], number);
                    add_share(&mut self.own, to, (near, seen));
                    add_share(&mut self.far, to, (far, seen));
                }
            }
        }
        Ok(())
    }

    /// The inner part with the veil taken off; `None` where nothing changes.
    pub(super) fn unveiled(mut self, plate: &Planes, noise: &NoiseModel) -> Option<(Rect, Planes)> {
        let mut light = plate.crop(self.outer);
        light
            .rgb
            .iter_mut()
            .for_each(|plane| plane.rect = self.own.rect());
        for at in 0..self.whole.len() {
            let small = self.half_of(at);
            if !self.depths.veiled[small] {
                self.own.set_pixel(at, light.pixel(at));
                self.far.set_pixel(at, light.pixel(at));
            }
        }
        let mut smooth = self.grown(&self.depths.carried_in(&light));
        let mut limits = Limits {
            covered: &self.depths.covered,
            least: LEAST_UNLIKE.0,
        };
        let mut cover = coverage(&rooted_distance(&self.own, &smooth), &limits);
        limits.least = LEAST_UNLIKE.1;
        let mut behind = self.behind(&light, (&smooth, &cover));
        for _ in 1..ROUNDS {
            smooth = self.as_near_part_sees(&behind.light, &behind.hidden);
            let missed = rooted_distance(&self.own, &smooth);
            cover = coverage(&gaussian(&missed, 0.6), &limits);
            behind = self.behind(&light, (&smooth, &cover));
        }
        smooth = self.as_near_part_sees(&behind.light, &behind.hidden);
        let (made, trust) = self.made(&light, &behind, (&smooth, &cover), noise);
        self.joined(light, &made, &trust)
    }

    /// The place at half size of the pixel at `at`.
    fn half_of(&self, at: usize) -> usize {
        let width = self.own.rect().width();
        at / width / 2 * self.depths.rect.width() + at % width / 2
    }

    /// Calls `work` with the place of every pixel and that of its pixel at half size.
    fn each_pixel(&self, mut work: impl FnMut(usize, usize)) {
        let rect = self.own.rect();
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
            rgb: small
                .rgb
                .each_ref()
                .map(|plane| doubled(plane, self.own.rect())),
        }
    }

    /// What is behind, seen past near parts with their own light less what shines past them, `smooth`, and the coverage `cover`.
    fn behind(&self, plate: &Planes, (smooth, cover): (&Planes, &Plane)) -> Behind {
        let spread = self
            .parts(plate, smooth, cover)
            .spread_to(&self.depths.far, &self.depths.veiled);
        let [red, green, blue, hidden] = spread
            .each_ref()
            .map(|plane| doubled(plane, self.own.rect()));
        let over = [red, green, blue];
        let mut light = plate.clone();
        self.each_pixel(|at, small| {
            if self.depths.veiled[small] {
                let seen = (1.0 - hidden.data[at]).max(LEAST_SEEN);
                let far = self.far.pixel(at);
                let past = [0, 1, 2].map(|c| ((far[c] - over[c].data[at]) / seen).max(0.0));
                light.set_pixel(at, past);
            }
        });
        Behind { light, hidden }
    }

    /// The light and coverage of all that is certain.
    fn parts(&self, plate: &Planes, smooth: &Planes, cover: &Plane) -> Parts {
        let rect = self.own.rect();
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
                    self.own.rgb[channel].data[at] - (1.0 - part) * smooth.rgb[channel].data[at]
                } else {
                    plate.rgb[channel].data[at]
                };
                plane.data[at] = fade * light;
            }
            visible[3].data[at] = if near { part } else { 1.0 };
        });
        let visible = visible.each_ref().map(half);
        Parts::new(
            &visible,
            &self.depths.visible,
            (self.step_px, self.depths.gap),
        )
    }

    /// What is behind as the near parts' own frames show it: blurred. Where too much is `hidden`, it is carried in from around.
    fn as_near_part_sees(&self, behind: &Planes, hidden: &Plane) -> Planes {
        let known = half(&hidden.map(|hidden| if hidden < LOST { 1.0 } else { 0.0 }));
        let known = known.map(|share| if share >= 1.0 { 1.0 } else { 0.0 });
        let mut small = Planes {
            rgb: behind.rgb.each_ref().map(half),
        };
        let around = super::behind::filled(&small, &known);
        let mut radius = self.depths.far.clone();
        for (radius, near) in radius.data.iter_mut().zip(&self.depths.near.data) {
            *radius = (0.5 * self.step_px * (*radius - near).max(0.0)).min(FARTHEST_PX);
        }
        for (plane, around) in small.rgb.iter_mut().zip(&around.rgb) {
            let pairs = plane.data.iter_mut().zip(&around.data).zip(&known.data);
            for ((value, around), known) in pairs {
                *value = if *known > 0.0 { *value } else { *around };
            }
            *plane = disc_of_radii(plane, &radius);
        }
        self.grown(&small)
    }

    /// What is behind with the near parts before it, and how far that is to be trusted.
    fn made(
        &self,
        plate: &Planes,
        behind: &Behind,
        (smooth, cover): (&Planes, &Plane),
        noise: &NoiseModel,
    ) -> (Planes, Plane) {
        let mut made = behind.light.clone();
        let mut trust = self.borne_out(plate, behind, smooth);
        let beside = NOISES * noise.colour_variance.sqrt();
        let off = rooted_distance(&self.own, plate);
        self.each_pixel(|at, small| {
            if !self.depths.beside[small] || !self.whole[at] {
                trust.data[at] = 0.0;
                return;
            }
            let hidden = behind.hidden.data[at];
            let mut seen = rising(hidden, WORTH) * (1.0 - rising(hidden, HIDDEN));
            if self.depths.covered[small] {
                let free = 1.0 - cover.data[at];
                let (past, plate, now) = (smooth.pixel(at), plate.pixel(at), made.pixel(at));
                made.set_pixel(at, [0, 1, 2].map(|c| plate[c] + free * (now[c] - past[c])));
                seen *= 1.0 - rising(off.data[at] - beside, SAME);
            }
            trust.data[at] *= seen;
        });
        let mut change = rooted_distance(&made, plate);
        for (change, trust) in change.data.iter_mut().zip(&trust.data) {
            *change = *change * *change * trust * trust / noise.colour_variance;
        }
        let pairs = trust.data.iter_mut().zip(gaussian(&change, 1.5).data);
        pairs.for_each(|(trust, change)| *trust *= rising(change, CHANGE));
        (made, trust)
    }

    /// How far the near parts' own frames bear out what is behind rather than the plate.
    fn borne_out(&self, plate: &Planes, behind: &Behind, smooth: &Planes) -> Plane {
        let mut plain = behind.light.clone();
        self.each_pixel(|at, small| {
            if !self.depths.covered[small] {
                plain.set_pixel(at, plate.pixel(at));
            }
        });
        let plain = self.as_near_part_sees(&plain, &behind.hidden);
        // What the plate leaves unexplained, what the change explains of it, and the change.
        let mut sums = [(); 3].map(|()| Plane::zero(self.own.rect()));
        self.each_pixel(|at, small| {
            if self.depths.covered[small] {
                return;
            }
            let seen = self.own.pixel(at);
            for ((seen, plain), made) in seen.into_iter().zip(plain.pixel(at)).zip(smooth.pixel(at))
            {
                let (left, step) = (rooted(seen) - rooted(plain), rooted(made) - rooted(plain));
                sums[0].data[at] += left * left;
                sums[1].data[at] += left * step;
                sums[2].data[at] += step * step;
            }
        });
        let [mut left, both, step] = sums.map(|sum| gaussian(&sum, ASKED_PX));
        for ((value, both), step) in left.data.iter_mut().zip(both.data).zip(step.data) {
            let still = 1.0 - (2.0 * both - step) / value.max(1e-9);
            *value = 1.0 - rising(still, LEFT);
        }
        left
    }

    /// The plate with what was `made`, as far as it is trusted, where that is darker, but no darker than plate and frames are there;
    /// `None` where nothing changes. What a dark near part took away is not given back: that would raise noise as much as light.
    fn joined(&self, mut light: Planes, made: &Planes, trust: &Plane) -> Option<(Rect, Planes)> {
        if trust.data.iter().all(|trust| *trust <= 0.0) {
            return None;
        }
        for (channel, plane) in light.rgb.iter_mut().enumerate() {
            let low = darkest([plane, &self.own.rgb[channel], &self.far.rgb[channel]]);
            let made = made.rgb[channel].data.iter().zip(&low.data);
            for (value, ((made, low), trust)) in plane.data.iter_mut().zip(made.zip(&trust.data)) {
                *value += trust * (made.max(*low) - *value).min(0.0);
            }
            plane.rect = self.outer;
        }
        Some((self.inner, light.crop(self.inner)))
    }
}

/// 0 up to the first of the two, 1 from the second on.
fn rising(value: f32, (none, full): (f32, f32)) -> f32 {
    ((value - none) / (full - none)).clamp(0.0, 1.0)
}

/// Adds a share of a colour to the pixel at `at`.
fn add_share(sum: &mut Planes, at: usize, (share, colour): (f32, [f32; 3])) {
    if share > 0.0 {
        for (sum, colour) in sum.rgb.iter_mut().zip(colour) {
            sum.data[at] += share * colour;
        }
    }
}

/// How much of frame `number` is taken at `depth`: the two frames around it share a pixel.
pub(super) fn share(depth: f32, number: usize) -> f32 {
    (1.0 - (depth - count_f32(number)).abs()).max(0.0)
}
