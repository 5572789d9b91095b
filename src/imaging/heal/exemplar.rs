//! Filling by the best matching pieces of the same picture.

use super::membrane::membrane;
use crate::geometry::Rect;
use crate::imaging::basics::colour::luma;
use crate::pixels::convert::{clamp_index, coordinate, count_f32, floor_i32};
use crate::pixels::{Image, Plane};
use rayon::prelude::*;

/// Sizes of a fill.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reach {
    /// Half the side of a piece, px.
    pub half: i32,
    /// How far away pieces are looked for, px.
    pub window: i32,
}

/// The sizes for a hurt place whose largest inscribed disc has the radius `radius_px`: small places are filled by one piece with a
/// rim round it, wide ones by many.
#[must_use]
pub fn reach_of(radius_px: f32) -> Reach {
    let half = floor_i32(radius_px + 3.5).clamp(4, 9);
    let window = (floor_i32(radius_px * 3.0) + 24).clamp(28, 64);
    Reach { half, window }
}

/// Share of a difference in mean light that counts against a piece: it is taken out anyway.
const MEAN_COUNTS: f32 = 0.1;
/// How much a piece counts worse for each pixel that it lies away, as a share of the noise.
const NEARER: f32 = 1e-3;

struct Fill<'a> {
    rect: Rect,
    width: usize,
    /// Roots of luminance.
    roots: Vec<f32>,
    /// What is there, hurt places filled as far as they are.
    out: Image,
    /// 1 for what was there from the start, less for what was filled, 0 for what is still hurt.
    trust: Vec<f32>,
    /// What can be copied.
    source: Vec<bool>,
    reach: Reach,
    picture: &'a Image,
}

pub(super) fn filled(picture: &Image, marked: &[bool], barred: &[bool], reach: Reach) -> Image {
    let rect = picture.rect;
    let sound = |at: usize| !marked[at] && picture.data[at][3] > 0.5;
    let mut fill = Fill {
        rect,
        width: rect.width(),
        roots: picture.data.iter().map(root).collect(),
        out: picture.clone(),
        trust: marked
            .iter()
            .map(|hurt| f32::from(u8::from(!hurt)))
            .collect(),
        source: (0..marked.len())
            .map(|at| sound(at) && !barred.get(at).copied().unwrap_or(false))
            .collect(),
        reach,
        picture,
    };
    let mut left = marked.iter().filter(|hurt| **hurt).count();
    while left > 0 {
        let Some(at) = fill.next() else { break };
        let Some(from) = fill.best(at) else {
            fill.smooth();
            break;
        };
        left -= fill.copy(at, from);
    }
    fill.out
}

fn root(pixel: &[f32; 4]) -> f32 {
    (luma([pixel[0], pixel[1], pixel[2]]).max(0.0) + 1e-4).sqrt()
}

impl Fill<'_> {
    fn index(&self, x: i32, y: i32) -> usize {
        clamp_index(y) * self.width + clamp_index(x)
    }

    fn size(&self) -> (i32, i32) {
        (coordinate(self.width), coordinate(self.rect.height()))
    }

    /// The part of a piece about (x, y) that lies in the picture.
    fn piece(&self, (x, y): (i32, i32)) -> Rect {
        let half = self.reach.half;
        let (width, height) = self.size();
        Rect::new(x - half, y - half, x + half + 1, y + half + 1)
            .intersect(Rect::new(0, 0, width, height))
    }

    /// The hurt pixel at the rim round which most is known and structure is strongest.
    fn next(&self) -> Option<(i32, i32)> {
        let (width, height) = self.size();
        let mut best: Option<(f32, (i32, i32))> = None;
        for y in 0..height {
            for x in 0..width {
                if self.trust[self.index(x, y)] > 0.0 || !self.is_rim(x, y) {
                    continue;
                }
                let worth = self.worth((x, y));
                if best.is_none_or(|(most, _)| worth > most) {
                    best = Some((worth, (x, y)));
                }
            }
        }
        best.map(|(_, place)| place)
    }

    fn is_rim(&self, x: i32, y: i32) -> bool {
        let (width, height) = self.size();
        [(-1, 0), (1, 0), (0, -1), (0, 1)].iter().any(|(dx, dy)| {
            let (x, y) = (x + dx, y + dy);
            (0..width).contains(&x)
                && (0..height).contains(&y)
                && self.trust[self.index(x, y)] > 0.0
        })
    }

    fn worth(&self, place: (i32, i32)) -> f32 {
        let piece = self.piece(place);
        let (mut trust, mut slopes, mut known) = (0.0_f32, 0.0_f32, 0.0_f32);
        for y in piece.y0..piece.y1 {
            for x in piece.x0..piece.x1 {
                let at = self.index(x, y);
                trust += self.trust[at];
                let (right, below) = (x + 1 < piece.x1, y + 1 < piece.y1);
                if self.trust[at] > 0.0 && right && below {
                    let (east, south) = (at + 1, at + self.width);
                    if self.trust[east] > 0.0 && self.trust[south] > 0.0 {
                        slopes += (self.roots[east] - self.roots[at]).abs()
                            + (self.roots[south] - self.roots[at]).abs();
                        known += 1.0;
                    }
                }
            }
        }
        let share = trust / count_f32(piece.area().max(1));
        share * share * (0.02 + slopes / known.max(1.0))
    }

    /// Where the piece lies that looks most like what is known about `place`.
    fn best(&self, place: (i32, i32)) -> Option<(i32, i32)> {
        let known: Vec<(i32, i32, f32)> = self.known_about(place);
        let needed: Vec<(i32, i32)> = self.hurt_about(place);
        let (width, height) = self.size();
        let window = self.reach.window;
        let rows: Vec<i32> =
            ((place.1 - window).max(0)..=(place.1 + window).min(height - 1)).collect();
        let best_of_row = |y: &i32| {
            let mut best: Option<(f32, (i32, i32))> = None;
            for x in (place.0 - window).max(0)..=(place.0 + window).min(width - 1) {
                let most = best.map_or(f32::MAX, |(most, _)| most);
                if let Some(off) = self.unlike((x, *y), place, (&known, &needed), most) {
                    best = Some((off, (x, *y)));
                }
            }
            best
        };
        let found: Vec<_> = rows.par_iter().map(best_of_row).collect();
        let mut best: Option<(f32, (i32, i32))> = None;
        for one in found.into_iter().flatten() {
            if best.is_none_or(|(most, _)| one.0 < most) {
                best = Some(one);
            }
        }
        best.map(|(_, at)| at)
    }

    fn known_about(&self, place: (i32, i32)) -> Vec<(i32, i32, f32)> {
        let piece = self.piece(place);
        let mut known = Vec::new();
        for y in piece.y0..piece.y1 {
            for x in piece.x0..piece.x1 {
                let at = self.index(x, y);
                if self.trust[at] > 0.0 {
                    known.push((x - place.0, y - place.1, self.roots[at]));
                }
            }
        }
        known
    }

    fn hurt_about(&self, place: (i32, i32)) -> Vec<(i32, i32)> {
        let piece = self.piece(place);
        let mut hurt = Vec::new();
        for y in piece.y0..piece.y1 {
            for x in piece.x0..piece.x1 {
                if self.trust[self.index(x, y)] <= 0.0 {
                    hurt.push((x - place.0, y - place.1));
                }
            }
        }
        hurt
    }

    #[expect(
        clippy::type_complexity,
        reason = "what is known and what is needed of one place"
    )]
    /// How unlike the piece about `at` is to what is known about the place; `None` where it cannot be copied or is worse than `most`.
    fn unlike(
        &self,
        at: (i32, i32),
        place: (i32, i32),
        (known, needed): (&[(i32, i32, f32)], &[(i32, i32)]),
        most: f32,
    ) -> Option<f32> {
        let (width, height) = self.size();
        let inside = |x: i32, y: i32| (0..width).contains(&x) && (0..height).contains(&y);
        let can = |x: i32, y: i32| inside(x, y) && self.source[self.index(x, y)];
        if !needed.iter().all(|(dx, dy)| can(at.0 + dx, at.1 + dy)) {
            return None;
        }
        let (mut sum, mut square) = (0.0_f32, 0.0_f32);
        for (dx, dy, root) in known {
            let (x, y) = (at.0 + dx, at.1 + dy);
            if !can(x, y) {
                return None;
            }
            let off = self.roots[self.index(x, y)] - root;
            sum += off;
            square += off * off;
        }
        let count = count_f32(known.len().max(1));
        let mean = sum / count;
        let away = (at.0 - place.0).abs().max((at.1 - place.1).abs());
        let near = 1.0 + NEARER * count_f32(clamp_index(away));
        let off = (square / count - (1.0 - MEAN_COUNTS) * mean * mean).max(0.0) * near;
        (off < most).then_some(off)
    }

    /// Fills what is hurt about `place` from about `from`; gives how many pixels that were.
    fn copy(&mut self, place: (i32, i32), from: (i32, i32)) -> usize {
        let known = self.known_about(place);
        let mut lift = [0.0_f32; 3];
        for (dx, dy, _) in &known {
            let here = self.out.data[self.index(place.0 + dx, place.1 + dy)];
            let there = self.out.data[self.index(from.0 + dx, from.1 + dy)];
            for (lift, (here, there)) in lift.iter_mut().zip(here.iter().zip(there)) {
                *lift += here - there;
            }
        }
        let count = count_f32(known.len().max(1));
        let trust = 0.95 * count / count_f32(self.piece(place).area().max(1));
        let hurt = self.hurt_about(place);
        for (dx, dy) in &hurt {
            let source = self.picture.data[self.index(from.0 + dx, from.1 + dy)];
            let to = self.index(place.0 + dx, place.1 + dy);
            let light = [0, 1, 2].map(|c: usize| (source[c] + lift[c] / count).max(0.0));
            self.out.data[to] = [light[0], light[1], light[2], source[3]];
            self.roots[to] = root(&self.out.data[to]);
            self.trust[to] = trust.max(0.05);
        }
        hurt.len()
    }

    /// Where no piece can be copied, the surroundings are drawn together.
    fn smooth(&mut self) {
        let known: Vec<bool> = self.trust.iter().map(|trust| *trust > 0.0).collect();
        for channel in 0..4 {
            let plane = Plane {
                rect: self.rect,
                data: self.out.data.iter().map(|pixel| pixel[channel]).collect(),
            };
            let smooth = membrane(&plane, &known);
            for (pixel, value) in self.out.data.iter_mut().zip(&smooth.data) {
                pixel[channel] = *value;
            }
        }
    }
}
