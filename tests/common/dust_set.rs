//! Dust and hair strewn over a ground, with where they lie; and a hull with much on it that looks alike: rivets, panel lines,
//! antennas, weathering.
#![allow(
    dead_code,
    unreachable_pub,
    clippy::allow_attributes,
    clippy::too_many_lines,
    clippy::cast_sign_loss,
    reason = "shared by several test binaries"
)]

use super::layered_scene::{Dice, HEIGHT, WIDTH, draw_line, frame_rect, noisy};
use platebench::geometry::{Point, Rect};
use platebench::imaging::basics::blur::gaussian;
use platebench::imaging::spotting::{Found, Kind};
use platebench::pixels::convert::{floor_f64, narrow};
use platebench::pixels::{Plane, Planes};

/// One grain or hair.
#[derive(Debug, Clone)]
pub struct Strewn {
    /// What it is.
    pub kind: Kind,
    /// Its middle, or its course.
    pub points: Vec<Point>,
    /// Its width, px.
    pub width_px: f64,
}

/// A ground and what was strewn over it.
#[derive(Debug, Clone)]
pub struct DustSet {
    /// The photo.
    pub seen: Planes,
    /// The same photo without dust and hair.
    pub clean: Planes,
    /// What lies where.
    pub strewn: Vec<Strewn>,
    /// Middles of rivets, and points along panel lines and antennas.
    pub built: Vec<Point>,
    /// Number of rivets.
    pub rivets: usize,
}

/// A backdrop that runs from dark to light.
pub fn backdrop() -> Plane {
    Plane::from_fn(frame_rect(), |x, y| {
        0.18 + 0.14 * x as f32 / WIDTH as f32 + 0.03 * libm::sinf(y as f32 / 150.0)
    })
}

/// A plated hull: light, middles of rivets and points along lines.
pub fn hull(seed: u64) -> (Plane, Vec<Point>, usize) {
    let rect = frame_rect();
    let mut dice = Dice::new(seed);
    let mut light = Plane::from_fn(rect, |x, y| {
        0.32 + 0.06 * libm::sinf(x as f32 / 310.0) - 0.05 * y as f32 / HEIGHT as f32
    });
    let mut built = Vec::new();
    let mut rivets = 0;
    // Plates of a little different paint, rows of rivets along their edges.
    let (columns, rows) = (
        [0, 150, 330, 460, 640, 800, 940, 1080],
        [0, 130, 240, 390, 520, 640, 720],
    );
    for pair_y in rows.windows(2) {
        for pair_x in columns.windows(2) {
            let paint = 1.0 + 0.05 * (narrow(dice.unit()) - 0.5) * 2.0;
            for y in pair_y[0]..pair_y[1] {
                for value in &mut light.row_mut(y)[pair_x[0] as usize..pair_x[1] as usize] {
                    *value *= paint;
                }
            }
            let (step, radius) = (9.0 + 5.0 * dice.unit(), 1.2 + 0.8 * dice.unit());
            let depth =
                narrow(if dice.unit() < 0.7 { -1.0 } else { 1.0 } * (0.10 + 0.15 * dice.unit()));
            let row = |from: Point, to: Point, light: &mut Plane, built: &mut Vec<Point>| {
                let count = floor_f64(from.distance(to) / step).max(1);
                for number in 0..=count {
                    let at = from.towards(to, f64::from(number) * step / from.distance(to));
                    spot(light, at, radius, depth);
                    built.push(at);
                }
                usize::try_from(count).unwrap_or(0) + 1
            };
            let point = |x: i32, y: i32| Point::new(f64::from(x), f64::from(y));
            rivets += row(
                point(pair_x[0] + 7, pair_y[0] + 7),
                point(pair_x[1] - 7, pair_y[0] + 7),
                &mut light,
                &mut built,
            );
            rivets += row(
                point(pair_x[0] + 7, pair_y[0] + 22),
                point(pair_x[0] + 7, pair_y[1] - 8),
                &mut light,
                &mut built,
            );
        }
    }
    let mut lines = Plane::zero(rect);
    let line =
        |from: (i32, i32), to: (i32, i32), wide: f64, lines: &mut Plane, built: &mut Vec<Point>| {
            draw_line(lines, from, to, wide);
            let (a, b) = (
                Point::new(f64::from(from.0), f64::from(from.1)),
                Point::new(f64::from(to.0), f64::from(to.1)),
            );
            let count = floor_f64(a.distance(b) / 4.0);
            built.extend((0..=count).map(|at| a.towards(b, f64::from(at) / f64::from(count))));
        };
    for x in &columns[1..7] {
        line((*x, 0), (*x, HEIGHT - 1), 1.5, &mut lines, &mut built);
    }
    for y in &rows[1..6] {
        line((0, *y), (WIDTH - 1, *y), 1.5, &mut lines, &mut built);
    }
    let mut antennas = Plane::zero(rect);
    line((90, 700), (240, 60), 2.0, &mut antennas, &mut built);
    line((700, 30), (760, 690), 2.0, &mut antennas, &mut built);
    line((500, 650), (1000, 560), 1.5, &mut antennas, &mut built);
    // Weathering: streaks, blotches and the grain of the paint.
    let noise = |dice: &mut Dice, sigma: f32, strength: f32| {
        let raw = Plane::from_fn(rect, |_, _| narrow(dice.normal()));
        let smooth = gaussian(&raw, sigma);
        let size = 2.0 * std::f32::consts::PI.sqrt() * sigma;
        smooth.map(|value| value * size * strength)
    };
    let (blotches, grain) = (noise(&mut dice, 7.0, 0.03), noise(&mut dice, 1.4, 0.008));
    for at in 0..light.data.len() {
        let weather = 1.0 + blotches.data[at] + grain.data[at];
        let line = lines.data[at];
        let plate = light.data[at] * weather * (1.0 - 0.22 * line);
        let antenna = antennas.data[at];
        light.data[at] = plate * (1.0 - antenna) + 0.55 * antenna;
    }
    (light, built, rivets)
}

/// Multiplies the light inside a round spot by `1 + depth`.
pub fn spot(light: &mut Plane, at: Point, radius: f64, depth: f32) {
    let rect = Rect::around(&[at])
        .grow(floor_f64(radius) + 3)
        .intersect(light.rect);
    for y in rect.y0..rect.y1 {
        for x in rect.x0..rect.x1 {
            let away = at.distance(Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5));
            let cover = narrow((radius + 0.5 - away).clamp(0.0, 1.0) * (radius * 2.0).min(1.0));
            let index = light.rect.index(x, y);
            light.data[index] *= 1.0 + depth * cover;
        }
    }
}

/// Strews `grains` and `hairs` over a ground; photo noise of 20 000 electrons at white.
pub fn strew(ground: &Plane, counts: (usize, usize), seed: u64) -> (Planes, Planes, Vec<Strewn>) {
    let (cover, strewn) = strewn_where(ground.rect, counts, seed, &|_at| true);
    let photo = |plane: &Plane, seed: u64| {
        let soft = gaussian(plane, 0.5);
        let planes = Planes {
            rgb: [1.0, 0.98, 0.94].map(|part| soft.map(|light| light * part)),
        };
        noisy(&planes, seed, 20_000.0, 4.0)
    };
    let mut hurt = ground.clone();
    for (light, cover) in hurt.data.iter_mut().zip(&cover.data) {
        *light *= cover;
    }
    (photo(&hurt, seed + 1), photo(ground, seed + 1), strewn)
}

/// Strews `grains` and `hairs` where a ground `takes` them: what they leave of its light, and where they lie.
pub fn strewn_where(
    rect: Rect,
    (grains, hairs): (usize, usize),
    seed: u64,
    takes: &dyn Fn(Point) -> bool,
) -> (Plane, Vec<Strewn>) {
    let mut dice = Dice::new(seed);
    let mut cover = Plane::filled(rect, 1.0);
    let mut strewn: Vec<Strewn> = Vec::new();
    let (width, height) = (f64::from(rect.x1), f64::from(rect.y1));
    let depth = |dice: &mut Dice| {
        let sign = if dice.unit() < 0.5 { -1.0 } else { 1.0 };
        narrow(sign * (0.05 + 0.15 * dice.unit()))
    };
    while strewn.len() < hairs {
        let mut at = Point::new(
            60.0 + (width - 120.0) * dice.unit(),
            60.0 + (height - 120.0) * dice.unit(),
        );
        let length = 40.0 + 110.0 * dice.unit();
        let wide = 1.2 + 1.3 * dice.unit();
        let deep = narrow(if dice.unit() < 0.5 { -1.0 } else { 1.0 } * (0.10 + 0.10 * dice.unit()));
        let mut angle = std::f64::consts::TAU * dice.unit();
        let mut turn = (0.012 + 0.02 * dice.unit()) * if dice.unit() < 0.5 { -1.0 } else { 1.0 };
        let mut points = vec![at];
        let mut gone = 0.0;
        while gone < length {
            at = Point::new(at.x + libm::cos(angle), at.y + libm::sin(angle));
            angle += turn;
            turn += 0.002 * dice.normal();
            gone += 1.0;
            points.push(at);
        }
        points.retain(|at| rect.contains(floor_f64(at.x), floor_f64(at.y)));
        if points.iter().all(|at| takes(*at)) {
            strewn.push(lay(&mut cover, points, (wide, deep)));
        }
    }
    while strewn.len() < grains + hairs {
        let at = Point::new(
            12.0 + (width - 24.0) * dice.unit(),
            12.0 + (height - 24.0) * dice.unit(),
        );
        let clear = strewn
            .iter()
            .all(|other| other.points.iter().all(|point| point.distance(at) > 16.0));
        if !clear || !takes(at) {
            continue;
        }
        let width_px = 1.0 + 7.0 * dice.unit();
        let deep = depth(&mut dice);
        spot(&mut cover, at, width_px * 0.5, deep);
        strewn.push(Strewn {
            kind: Kind::Dust,
            points: vec![at],
            width_px,
        });
    }
    (cover, strewn)
}

/// Straight fibres where a ground `takes` them, 10 to 20 % lighter or darker: what they leave of its light, and where they lie.
pub fn fibres(
    rect: Rect,
    count: usize,
    seed: u64,
    takes: &dyn Fn(Point) -> bool,
) -> (Plane, Vec<Strewn>) {
    let mut dice = Dice::new(seed);
    let mut cover = Plane::filled(rect, 1.0);
    let mut strewn: Vec<Strewn> = Vec::new();
    while strewn.len() < count {
        let mut part = |least: f64, more: f64| least + more * dice.unit();
        let from = Point::new(
            part(60.0, f64::from(rect.x1) - 120.0),
            part(60.0, f64::from(rect.y1) - 120.0),
        );
        let angle = part(0.0, std::f64::consts::TAU);
        let (length, wide) = (floor_f64(part(40.0, 110.0)), part(1.2, 1.3));
        let deep = part(0.10, 0.10).copysign(part(-1.0, 2.0));
        let points: Vec<Point> = (0..length)
            .map(|gone| {
                let away = f64::from(gone);
                Point::new(
                    from.x + away * libm::cos(angle),
                    from.y + away * libm::sin(angle),
                )
            })
            .collect();
        let on_it = |at: &Point| {
            let others = strewn.iter();
            rect.contains(floor_f64(at.x), floor_f64(at.y))
                && takes(*at)
                && others.clone().all(|other| !near(&other.points, *at, 16.0))
        };
        if points.iter().all(on_it) {
            strewn.push(lay(&mut cover, points, (wide, narrow(deep))));
        }
    }
    (cover, strewn)
}

/// Lays a hair along `points` over what is left of a ground's light.
fn lay(cover: &mut Plane, points: Vec<Point>, (wide, deep): (f64, f32)) -> Strewn {
    let rect = cover.rect;
    let mut drawn = Plane::zero(rect);
    for at in &points {
        let near = Rect::around(&[*at]).grow(4).intersect(rect);
        for y in near.y0..near.y1 {
            for x in near.x0..near.x1 {
                let away = at.distance(Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5));
                let part = narrow((wide * 0.5 + 0.5 - away).clamp(0.0, 1.0));
                let index = rect.index(x, y);
                drawn.data[index] = drawn.data[index].max(part);
            }
        }
    }
    for (cover, drawn) in cover.data.iter_mut().zip(&drawn.data) {
        *cover *= 1.0 + deep * drawn;
    }
    Strewn {
        kind: Kind::Hair,
        points,
        width_px: wide,
    }
}

/// How the finds of one or more sets compare with the truth.
#[derive(Debug, Clone, Default)]
pub struct Score {
    /// Confidence of each find, whether it is one of what was strewn, and whether it is something built.
    pub finds: Vec<(f32, bool, bool)>,
    /// For everything strewn, the confidence of the surest find on it; below 0 for none.
    pub strewn: Vec<(Kind, f32)>,
}

impl Score {
    /// Adds the finds of one set.
    pub fn add(&mut self, finds: &[Found], strewn: &[Strewn], built: &[Point]) {
        let mut best = vec![-1.0_f32; strewn.len()];
        for find in finds {
            let hits: Vec<usize> = (0..strewn.len())
                .filter(|at| is_on(find, &strewn[*at]))
                .collect();
            let is_built = hits.is_empty()
                && find
                    .points
                    .iter()
                    .filter(|at| near(built, **at, 4.0))
                    .count()
                    * 2
                    >= find.points.len();
            // A piece of a hair taken for a grain is no false find, though it does not find the hair.
            let is_piece = strewn
                .iter()
                .any(|other| other.kind == Kind::Hair && near(&other.points, find.points[0], 4.0));
            let is_right = !hits.is_empty() || is_piece;
            self.finds
                .push((find.confidence, is_right, is_built && !is_piece));
            for at in hits {
                best[at] = best[at].max(find.confidence);
            }
        }
        let kinds = strewn.iter().map(|one| one.kind);
        self.strewn.extend(kinds.zip(best));
    }

    /// Adds what another one counted.
    pub fn join(&mut self, other: Self) {
        self.finds.extend(other.finds);
        self.strewn.extend(other.strewn);
    }

    /// Of the finds from `least` on: their number, the share that was strewn, the share that is built, and the share of everything
    /// strewn that is among them.
    pub fn at(&self, least: f32) -> (usize, f64, f64, f64) {
        let finds: Vec<_> = self.finds.iter().filter(|find| find.0 >= least).collect();
        let count = finds.len().max(1) as f64;
        let right = finds.iter().filter(|find| find.1).count() as f64;
        let built = finds.iter().filter(|find| find.2).count() as f64;
        let seen = self.strewn.iter().filter(|one| one.1 >= least).count() as f64;
        (
            finds.len(),
            right / count,
            built / count,
            seen / self.strewn.len().max(1) as f64,
        )
    }

    /// The lowest confidence from which on `precision` of the finds are right, and the recall there.
    pub fn recall_at(&self, precision: f64) -> (f32, f64) {
        let mut steps: Vec<f32> = self.finds.iter().map(|find| find.0).collect();
        steps.sort_by(f32::total_cmp);
        for least in steps {
            let (_, right, _, seen) = self.at(least);
            if right >= precision {
                return (least, seen);
            }
        }
        (1.0, 0.0)
    }
}

fn near(points: &[Point], at: Point, reach: f64) -> bool {
    points.iter().any(|point| point.distance(at) <= reach)
}

fn is_on(find: &Found, strewn: &Strewn) -> bool {
    match (find.kind, strewn.kind) {
        (Kind::Dust, Kind::Dust) => {
            strewn.points[0].distance(find.points[0]) <= (strewn.width_px * 0.5 + 2.0).max(3.0)
        }
        (Kind::Hair, Kind::Hair) => {
            let on = find
                .points
                .iter()
                .filter(|at| near(&strewn.points, **at, 3.0));
            let found = strewn
                .points
                .iter()
                .filter(|at| near(&find.points, **at, 4.0));
            on.count() * 2 >= find.points.len() && found.count() * 5 >= strewn.points.len() * 2
        }
        (Kind::Dust, Kind::Hair) | (Kind::Hair, Kind::Dust) => false,
    }
}
