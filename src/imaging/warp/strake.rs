//! The strake: a band of the model between two guide lines stretches when one of them is moved.

use super::smoothstep;
use crate::geometry::{Point, Rect};

/// What lies beyond the moved line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Beyond {
    /// It gives way, less and less over the soft edge.
    GivesWay,
    /// It stays where it is and the band lies over it: a gap is closed.
    IsCovered,
}

/// A band between two guide lines, one of which is moved.
#[derive(Debug, Clone, PartialEq)]
pub struct Strake {
    frame: Frame,
    /// The line that stays.
    kept: Graph,
    /// The moved line, where it is now, and how far each of its points was moved along and across.
    moved: Graph,
    along: Graph,
    across: Graph,
    beyond: Beyond,
    soft_px: f64,
}

/// Directions along and across the lines.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Frame {
    origin: Point,
    along: Point,
}

impl Frame {
    fn inward(&self, point: Point) -> (f64, f64) {
        let (x, y) = (point.x - self.origin.x, point.y - self.origin.y);
        (
            x * self.along.x + y * self.along.y,
            y * self.along.x - x * self.along.y,
        )
    }

    fn outward(&self, (u, v): (f64, f64)) -> Point {
        Point::new(
            self.origin.x + u * self.along.x - v * self.along.y,
            self.origin.y + u * self.along.y + v * self.along.x,
        )
    }
}

/// Values over places along the lines, straight between them, held beyond the ends.
#[derive(Debug, Clone, PartialEq)]
struct Graph(Vec<(f64, f64)>);

impl Graph {
    /// `None` unless the places run strictly forwards.
    fn new(points: Vec<(f64, f64)>) -> Option<Self> {
        let forwards = points.windows(2).all(|pair| pair[1].0 - pair[0].0 > 1e-6);
        (points.len() >= 2 && forwards).then_some(Self(points))
    }

    fn at(&self, u: f64) -> f64 {
        let points = &self.0;
        let next = points.partition_point(|point| point.0 < u);
        if next == 0 {
            return points[0].1;
        }
        let Some(after) = points.get(next) else {
            return points[next - 1].1;
        };
        let before = points[next - 1];
        before.1 + (after.1 - before.1) * (u - before.0) / (after.0 - before.0)
    }

    fn ends(&self) -> (f64, f64) {
        (self.0[0].0, self.0[self.0.len() - 1].0)
    }
}

/// Largest share of the band over which the stretch begins softly.
const EASE_SHARE: f64 = 0.25;
/// A soft edge is at least so many times as wide as the largest move: below 1.5 the picture would fold.
const LEAST_SOFT: f64 = 2.0;

impl Strake {
    /// A strake between the line that is `kept` and one that was at `was` and is moved to `now`, point by point.
    ///
    /// `None` when a line has fewer than two points, `was` and `now` differ in number, a line turns back on itself (seen along the band),
    /// or the band would be turned inside out. `soft_px`: how far the move dies away; it is widened to twice the largest move.
    #[must_use]
    pub fn new(
        kept: &[Point],
        (was, now): (&[Point], &[Point]),
        beyond: Beyond,
        soft_px: f64,
    ) -> Option<Self> {
        if kept.len() < 2 || now.len() < 2 || was.len() != now.len() {
            return None;
        }
        let ends = |line: &[Point]| Some((*line.first()?, *line.last()?));
        let (kept_0, kept_1) = ends(kept)?;
        let (mut now_0, mut now_1) = ends(now)?;
        let (mut was, mut now) = (was.to_vec(), now.to_vec());
        let dot = |a: Point, b: Point, c: Point, d: Point| {
            (b.x - a.x) * (d.x - c.x) + (b.y - a.y) * (d.y - c.y)
        };
        if dot(kept_0, kept_1, now_0, now_1) < 0.0 {
            was.reverse();
            now.reverse();
            std::mem::swap(&mut now_0, &mut now_1);
        }
        let (from, to) = (kept_0.towards(now_0, 0.5), kept_1.towards(now_1, 0.5));
        let length = from.distance(to);
        if length < 1.0 {
            return None;
        }
        let frame = Frame {
            origin: from,
            along: Point::new((to.x - from.x) / length, (to.y - from.y) / length),
        };
        let inward = |line: &[Point]| -> Vec<(f64, f64)> {
            line.iter().map(|point| frame.inward(*point)).collect()
        };
        let (kept, was, now) = (inward(kept), inward(&was), inward(&now));
        let largest = was.iter().zip(&now).map(|(was, now)| {
            let (u, v) = (now.0 - was.0, now.1 - was.1);
            (u * u + v * v).sqrt()
        });
        let largest = largest.fold(0.0, f64::max);
        let moves = |part: fn(&(f64, f64)) -> f64| {
            let pairs = was.iter().zip(&now);
            Graph::new(
                pairs
                    .map(|(was, now)| (now.0, part(now) - part(was)))
                    .collect(),
            )
        };
        let found = Self {
            along: moves(|point| point.0)?,
            across: moves(|point| point.1)?,
            kept: Graph::new(kept)?,
            moved: Graph::new(now)?,
            frame,
            beyond,
            soft_px: soft_px.max(LEAST_SOFT * largest).max(1.0),
        };
        found.is_sound().then_some(found)
    }

    /// Whether the band keeps its side: the moved line is on the same side of the kept one before and after, everywhere.
    fn is_sound(&self) -> bool {
        let (from, to) = self.moved.ends();
        let places = self.moved.0.iter().chain(&self.kept.0);
        let heights = places
            .map(|point| point.0.clamp(from, to))
            .map(|u| {
                let now = self.moved.at(u) - self.kept.at(u);
                (now, now - self.across.at(u))
            })
            .collect::<Vec<_>>();
        let side = heights.first().map_or(1.0, |first| first.0.signum());
        heights
            .iter()
            .all(|(now, was)| now * side >= 1.0 && was * side >= 1.0)
    }

    /// Where `point` of the warped plate was.
    #[must_use]
    pub fn was_at(&self, point: Point) -> Point {
        let (u, v) = self.frame.inward(point);
        let share = self.share(u, v);
        if share <= 0.0 {
            return point;
        }
        self.frame
            .outward((u - share * self.along.at(u), v - share * self.across.at(u)))
    }

    /// How much of the line's move a place makes, 0..=1.
    fn share(&self, u: f64, v: f64) -> f64 {
        let (from, to) = self.moved.ends();
        let past = (from - u).max(u - to).max(0.0);
        let taper = 1.0 - smoothstep(past / self.soft_px);
        if taper <= 0.0 {
            return 0.0;
        }
        let (kept, moved) = (self.kept.at(u), self.moved.at(u));
        let height = moved - kept;
        let t = (v - kept) / height;
        let within = if t <= 0.0 {
            0.0
        } else if t <= 1.0 {
            eased(t, (self.soft_px / height.abs()).min(EASE_SHARE))
        } else {
            match self.beyond {
                Beyond::IsCovered => 0.0,
                Beyond::GivesWay => 1.0 - smoothstep((t - 1.0) * height.abs() / self.soft_px),
            }
        };
        within * taper
    }

    /// Pixels that it changes.
    #[must_use]
    pub fn bounds(&self) -> Rect {
        let lines = [&self.kept, &self.moved];
        let points: Vec<Point> = lines
            .iter()
            .flat_map(|line| line.0.iter().map(|point| self.frame.outward(*point)))
            .collect();
        let margin = crate::geometry::rect::whole(self.soft_px.ceil()) + 2;
        Rect::around(&points).grow(margin)
    }
}

/// From 0 to 1 at an even pace but for a gentle start over the first `ease` of the way.
fn eased(t: f64, ease: f64) -> f64 {
    let pace = 1.0 / (1.0 - 0.5 * ease);
    if t < ease {
        pace * t * t / (2.0 * ease)
    } else {
        pace * (t - 0.5 * ease)
    }
}
