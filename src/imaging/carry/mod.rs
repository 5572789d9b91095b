//! How two pictures of one model lie against each other place by place: for carrying over what was drawn on one of them.
//!
//! The light of both is compared by its square root, mean and contrast taken off in each window, so that another exposure
//! changes nothing. *Source*: normalised cross-correlation with a parabola through the peak (Lewis 1995, "Fast normalized
//! cross-correlation").

mod mesh;

pub use mesh::{Found, mesh, residual_px};

use crate::geometry::{Point, Rect};
use crate::imaging::basics::correlation::best;
use crate::pixels::Plane;
use crate::pixels::convert::{count_f32, floor_f64};
use rayon::prelude::*;

/// Half the side of the window that is compared, pixels at full size.
const WINDOW: i32 = 24;
/// Half the side of the narrow window, which sees a near part alone where the wide one sees mostly what is behind it.
const NARROW: i32 = 11;
/// Farthest that the narrow window's answer may lie from the wide one's, pixels.
const NARROW_FAR: i32 = 6;
/// Contrast from which on the narrow window's answer counts.
const NARROW_CONTRAST: f32 = 2.0 * FLAT;
/// Correlation from which on the narrow window's answer counts.
const NARROW_ALIKE: f32 = 0.8;
/// Farthest shift looked for at half size, pixels of that size.
const FAR: i32 = 9;
/// Farthest shift looked for at full size around the half-size answer.
const NEAR: i32 = 2;
/// Contrast of square-root light in a window below which there is nothing to compare.
const FLAT: f32 = 0.006;

/// A picture ready to be compared place by place.
#[derive(Debug, Clone)]
pub struct Comparable {
    full: Plane,
    half: Plane,
}

/// What two pictures show at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Match {
    /// Neither shows anything there.
    Flat,
    /// One shows something where the other does not, or both show different things.
    Other,
    /// Both show the same, shifted.
    Alike {
        /// What lies at the place in the first picture lies at the place plus this in the second, pixels.
        shift: Point,
        /// Correlation of the two windows, up to 1.
        alike: f32,
    },
}

/// Correlation from which on two windows show the same.
const ALIKE: f32 = 0.6;

impl Comparable {
    /// Prepares linear `luma`, whose rectangle begins at the origin.
    #[must_use]
    pub fn new(luma: &Plane) -> Self {
        let full = luma.map(|light| light.max(0.0).sqrt());
        let rect = full.rect;
        let small = Rect::new(0, 0, rect.x1 / 2, rect.y1 / 2);
        let half = Plane::from_fn(small, |x, y| {
            let (x, y) = (2 * x, 2 * y);
            let above = full.at(x, y) + full.at(x + 1, y);
            let below = full.at(x, y + 1) + full.at(x + 1, y + 1);
            0.25 * (above + below)
        });
        Self { full, half }
    }

    /// What this picture and `other` show at each of `places`; both have one size.
    #[must_use]
    pub fn matches(&self, other: &Self, places: &[Point]) -> Vec<Match> {
        places
            .par_iter()
            .map(|place| self.match_at(other, *place))
            .collect()
    }

    /// Like [`Self::matches`], but where a narrow window sees a larger shift than the wide one, that one: whatever at the place lies
    /// farthest from where it was.
    #[must_use]
    pub fn farthest(&self, other: &Self, places: &[Point]) -> Vec<Match> {
        let farther = |place: &Point| match self.match_at(other, *place) {
            Match::Alike { shift, alike } => {
                let narrow = self.narrow_match(other, *place, shift);
                match narrow {
                    Some((near, sure)) if length(near) > length(shift) => Match::Alike {
                        shift: near,
                        alike: sure,
                    },
                    _no_farther => Match::Alike { shift, alike },
                }
            }
            strange => strange,
        };
        places.par_iter().map(farther).collect()
    }

    /// How far the light (its square root) inside a place stands out from the ground round it, all moved by `by` px. `inside` and `around`
    /// are shares on the same pixels, the first within the second. `None` where too little of either lies in the picture.
    #[must_use]
    pub fn stands_out(&self, (inside, around): (&Plane, &Plane), by: (i32, i32)) -> Option<f32> {
        /// Fewest pixels that a mean is taken of.
        const FEWEST: f32 = 3.0;
        let (mut within, mut ground) = ((0.0, 0.0), (0.0, 0.0));
        let rect = inside.rect;
        for y in rect.y0..rect.y1 {
            for x in rect.x0..rect.x1 {
                let (at_x, at_y) = (x + by.0, y + by.1);
                if !self.full.rect.contains(at_x, at_y) {
                    continue;
                }
                let light = self.full.at(at_x, at_y);
                let share = inside.at(x, y);
                if share > 0.5 {
                    within = (within.0 + light, within.1 + 1.0);
                } else if share <= 0.0 && around.at(x, y) > 0.5 {
                    ground = (ground.0 + light, ground.1 + 1.0);
                }
            }
        }
        let enough = within.1 >= FEWEST && ground.1 >= FEWEST;
        enough.then(|| within.0 / within.1 - ground.0 / ground.1)
    }

    fn narrow_match(&self, other: &Self, place: Point, wide: Point) -> Option<(Point, f32)> {
        let (x, y) = (floor_f64(place.x), floor_f64(place.y));
        let window = around(x, y, NARROW).intersect(self.full.rect);
        if contrast(&self.full, window) < NARROW_CONTRAST {
            return None;
        }
        let start = (floor_f64(wide.x + 0.5), floor_f64(wide.y + 0.5));
        let found = best(&self.full, &other.full, window, (start, NARROW_FAR))?;
        (found.1 >= NARROW_ALIKE).then_some(found)
    }

    fn match_at(&self, other: &Self, place: Point) -> Match {
        let (x, y) = (floor_f64(place.x), floor_f64(place.y));
        let window = around(x, y, WINDOW).intersect(self.full.rect);
        let (here, there) = (contrast(&self.full, window), contrast(&other.full, window));
        if here < FLAT && there < FLAT {
            return Match::Flat;
        }
        if here < FLAT || window.width() < 16 || window.height() < 16 {
            return Match::Other;
        }
        let half_window = around(x / 2, y / 2, WINDOW * 3 / 4).intersect(self.half.rect);
        let Some((coarse, _)) = best(&self.half, &other.half, half_window, ((0, 0), FAR)) else {
            return Match::Other;
        };
        let start = (2 * floor_f64(coarse.x + 0.5), 2 * floor_f64(coarse.y + 0.5));
        match best(&self.full, &other.full, window, (start, NEAR)) {
            Some((shift, alike)) if alike >= ALIKE => Match::Alike { shift, alike },
            _strangers => Match::Other,
        }
    }
}

fn length(shift: Point) -> f64 {
    shift.distance(Point::default())
}

fn around(x: i32, y: i32, reach: i32) -> Rect {
    Rect::new(x - reach, y - reach, x + reach + 1, y + reach + 1)
}

/// Standard deviation in `window`.
fn contrast(plane: &Plane, window: Rect) -> f32 {
    let (mut sum, mut squares) = (0.0_f32, 0.0_f32);
    for y in window.y0..window.y1 {
        let first = plane.rect.index(window.x0, y);
        for value in &plane.data[first..first + window.width()] {
            sum += value;
            squares += value * value;
        }
    }
    let count = count_f32(window.area().max(1));
    (squares / count - (sum / count) * (sum / count))
        .max(0.0)
        .sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Smooth waves that repeat nowhere near, moved by (dx, dy).
    fn picture(dx: f32, dy: f32) -> Plane {
        Plane::from_fn(Rect::new(0, 0, 160, 140), |x, y| {
            let (x, y) = (
                count_f32(usize::try_from(x).unwrap()) - dx,
                count_f32(usize::try_from(y).unwrap()) - dy,
            );
            let wave = libm::sinf(x * 0.31 + 0.004 * x * y) + libm::cosf(y * 0.27 - 0.002 * x * x);
            0.3 + 0.1 * wave
        })
    }

    #[test]
    fn shifts_are_found_between_pixels_and_strangers_are_told() {
        let still = Comparable::new(&picture(0.0, 0.0));
        let moved = Comparable::new(&picture(6.4, -3.7).map(|light| light * 1.3));
        let places = [Point::new(80.0, 70.0), Point::new(60.0, 60.0)];
        for found in still.matches(&moved, &places) {
            let Match::Alike { shift, alike } = found else {
                panic!("{found:?}");
            };
            assert!(
                shift.distance(Point::new(6.4, -3.7)) < 0.12,
                "{shift:?} {alike}"
            );
        }
        let dark = Comparable::new(&Plane::filled(Rect::new(0, 0, 160, 140), 0.01));
        assert_eq!(dark.matches(&dark, &places), [Match::Flat; 2]);
        assert_eq!(still.matches(&dark, &places), [Match::Other; 2]);
        assert_eq!(dark.matches(&still, &places), [Match::Other; 2]);
    }

    #[test]
    fn a_grain_stands_out_by_its_own_light_wherever_it_lies() {
        let disc = |reach: i32| {
            Plane::from_fn(Rect::new(40, 40, 61, 61), move |x, y| {
                let (x, y) = (x - 50, y - 50);
                f32::from(u8::from(x * x + y * y <= reach * reach))
            })
        };
        let rect = Rect::new(0, 0, 160, 140);
        let grain = |at: i32| {
            Comparable::new(&Plane::from_fn(rect, move |x, y| {
                let (x, y) = (x - at, y - 50);
                if x * x + y * y <= 9 { 0.16 } else { 0.25 }
            }))
        };
        let (inside, around) = (disc(3), disc(8));
        let both = (&inside, &around);
        let here = grain(50).stands_out(both, (0, 0)).unwrap();
        assert!((here + 0.1).abs() < 1e-5, "{here}");
        let moved = grain(57).stands_out(both, (7, 0)).unwrap();
        assert!((moved + 0.1).abs() < 1e-5, "{moved}");
        let gone = grain(90).stands_out(both, (0, 0)).unwrap();
        assert!(gone.abs() < 1e-5, "{gone}");
        assert_eq!(grain(50).stands_out(both, (500, 0)), None);
    }
}
