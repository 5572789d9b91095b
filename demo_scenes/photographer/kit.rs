//! The model builder's bench: placing parts, profiles and pipes.

use crate::part::{Paint, Part, Plane, Shape};
use crate::vec3::{Dice, V3, frame_of, hash2, v3};

/// Light group of a practical.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Group {
    /// Furnace glow.
    Furnace,
    /// Running lights and cabin windows.
    Running,
}

/// A practical: a small lamp (no `across`) or a glowing rectangle.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Lamp {
    /// Centre, mm.
    pub(crate) at: V3,
    /// Facing (unit), or zero for all round.
    pub(crate) facing: V3,
    /// Half edges of the glowing rectangle.
    pub(crate) across: (V3, V3),
    /// Linear colour times strength (irradiance at 10 mm).
    pub(crate) power: V3,
    /// No light beyond this distance, mm.
    pub(crate) reach: f32,
    /// Group.
    pub(crate) group: Group,
}

/// A working plane on a model: origin, two edges and the outward normal.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Pad {
    /// Origin.
    pub(crate) o: V3,
    /// First edge direction.
    pub(crate) u: V3,
    /// Second edge direction.
    pub(crate) v: V3,
    /// Outward.
    pub(crate) n: V3,
}

impl Pad {
    /// A pad from an origin and two edges; outward is `u x v`.
    pub(crate) fn new(o: V3, u: V3, v: V3) -> Self {
        Self {
            o,
            u: u.unit(),
            v: v.unit(),
            n: u.cross(v).unit(),
        }
    }
    /// A point on (`h` above) the pad.
    pub(crate) fn at(&self, u: f32, v: f32, h: f32) -> V3 {
        self.o + self.u * u + self.v * v + self.n * h
    }
}

/// Parts and lamps under construction.
#[derive(Debug)]
pub(crate) struct Kit {
    /// Parts.
    pub(crate) parts: Vec<Part>,
    /// Planes of convex parts.
    pub(crate) planes: Vec<Plane>,
    /// Practicals.
    pub(crate) lamps: Vec<Lamp>,
    /// Source of chance.
    pub(crate) dice: Dice,
    /// Size of detail against the barge's: less for models that are photographed nearer.
    pub(crate) fine: f32,
    seed: u32,
}

const X: V3 = v3(1.0, 0.0, 0.0);
const Y: V3 = v3(0.0, 1.0, 0.0);
const Z: V3 = v3(0.0, 0.0, 1.0);

impl Kit {
    /// An empty bench.
    pub(crate) fn new(seed: u32) -> Self {
        Self {
            parts: Vec::new(),
            planes: Vec::new(),
            lamps: Vec::new(),
            dice: Dice::new(seed),
            fine: 1.0,
            seed,
        }
    }

    /// Adds a part.
    pub(crate) fn put(&mut self, centre: V3, axes: [V3; 3], half: V3, what: (Shape, Paint)) {
        let seed = hash2(self.seed, u32::try_from(self.parts.len()).unwrap_or(0));
        self.parts.push(Part {
            centre,
            axes,
            half,
            shape: what.0,
            paint: what.1,
            seed,
            fine: self.fine,
        });
    }

    /// Box between two corners.
    pub(crate) fn slab(&mut self, lo: [f32; 3], hi: [f32; 3], paint: Paint) {
        let (a, b) = (v3(lo[0], lo[1], lo[2]), v3(hi[0], hi[1], hi[2]));
        let (a, b) = (a.min(b), a.max(b));
        self.put(
            (a + b) * 0.5,
            [X, Y, Z],
            (b - a) * 0.5,
            (Shape::Brick, paint),
        );
    }

    /// Box on a pad: `r` = u0, v0, u1, v1; `h` = low and high.
    pub(crate) fn block(&mut self, p: &Pad, r: [f32; 4], h: (f32, f32), paint: Paint) {
        let c = p.at(0.5 * (r[0] + r[2]), 0.5 * (r[1] + r[3]), 0.5 * (h.0 + h.1));
        let half = v3(
            0.5 * (r[2] - r[0]).abs(),
            0.5 * (r[3] - r[1]).abs(),
            0.5 * (h.1 - h.0).abs(),
        );
        self.put(c, [p.u, p.v, p.n], half, (Shape::Brick, paint));
    }

    /// Board with a painted name (see the paint room's list) on a pad.
    pub(crate) fn board(&mut self, p: &Pad, r: [f32; 4], h: (f32, f32), name: u32) {
        self.block(p, r, h, Paint::Named);
        if let Some(q) = self.parts.last_mut() {
            // Lettering lies on the face whose outward axis is the second one.
            q.seed = name;
            q.axes = [p.u, -p.n, p.v];
            q.half = v3(q.half.x, q.half.z, q.half.y);
        }
    }

    /// Box with any axes.
    pub(crate) fn turned(&mut self, centre: V3, axes: (V3, V3), half: V3, paint: Paint) {
        let (u, v) = (axes.0.unit(), axes.1.unit());
        self.put(
            centre,
            [u, v, u.cross(v).unit()],
            half,
            (Shape::Brick, paint),
        );
    }

    /// Rod from `a` to `b`.
    pub(crate) fn rod(&mut self, a: V3, b: V3, r: f32, paint: Paint) {
        self.cone(a, b, (r, r), paint);
    }

    /// Cone from `a` (first radius) to `b`.
    pub(crate) fn cone(&mut self, a: V3, b: V3, r: (f32, f32), paint: Paint) {
        let n = (b - a).unit();
        let (u, v) = frame_of(n);
        let half = v3(r.0, r.1, 0.5 * (b - a).len());
        self.put((a + b) * 0.5, [u, v, n], half, (Shape::Rod, paint));
    }

    /// Open cone (a nozzle or a tube).
    pub(crate) fn tube(&mut self, a: V3, b: V3, r: (f32, f32), paint: Paint) {
        self.cone(a, b, r, paint);
        if let Some(p) = self.parts.last_mut() {
            p.shape = Shape::Pipe;
        }
    }

    /// Ellipsoid along the axes of space.
    pub(crate) fn ball(&mut self, c: V3, r: V3, paint: Paint) {
        self.put(c, [X, Y, Z], r, (Shape::Ball, paint));
    }

    /// Pipe through points, with ball joints.
    pub(crate) fn run(&mut self, pts: &[V3], r: f32, paint: Paint) {
        for w in pts.windows(2) {
            self.rod(w[0], w[1], r, paint);
        }
        for p in pts.iter().skip(1).take(pts.len().saturating_sub(2)) {
            self.ball(*p, v3(r, r, r), paint);
        }
    }

    /// Convex solid from planes in space (`n . p <= d`), with its bounds.
    pub(crate) fn solid(&mut self, planes: &[Plane], bounds: (V3, V3), paint: Paint) {
        let c = (bounds.0 + bounds.1) * 0.5;
        let first = u32::try_from(self.planes.len()).unwrap_or(0);
        self.planes.extend(planes.iter().map(|p| Plane {
            n: p.n,
            d: p.d - p.n.dot(c),
        }));
        let count = u32::try_from(planes.len()).unwrap_or(0);
        let half = (bounds.1 - bounds.0) * 0.5;
        self.put(c, [X, Y, Z], half, (Shape::Facets { first, count }, paint));
    }

    /// Convex outline (either turning sense) pushed along `along` (0, 1 or 2) between two values; outline
    /// coordinates are the two remaining axes in order.
    pub(crate) fn prism(
        &mut self,
        along: usize,
        outline: &[(f32, f32)],
        span: (f32, f32),
        paint: Paint,
    ) {
        let lift = |a: f32, b: f32, w: f32| match along {
            0 => v3(w, a, b),
            1 => v3(a, w, b),
            _ => v3(a, b, w),
        };
        #[expect(clippy::cast_precision_loss, reason = "a handful of corners")]
        let k = 1.0 / outline.len() as f32;
        let mid = outline
            .iter()
            .fold((0.0, 0.0), |m, p| (m.0 + p.0 * k, m.1 + p.1 * k));
        let (lo, hi) = (span.0.min(span.1), span.0.max(span.1));
        let mut planes = vec![
            Plane {
                n: lift(0.0, 0.0, 1.0),
                d: hi,
            },
            Plane {
                n: lift(0.0, 0.0, -1.0),
                d: -lo,
            },
        ];
        let mut box_lo = lift(mid.0, mid.1, lo);
        let mut box_hi = lift(mid.0, mid.1, hi);
        for (i, p) in outline.iter().enumerate() {
            let q = outline[(i + 1) % outline.len()];
            let mut n = (q.1 - p.1, p.0 - q.0);
            let l = (n.0 * n.0 + n.1 * n.1).sqrt();
            n = (n.0 / l, n.1 / l);
            if n.0 * (mid.0 - p.0) + n.1 * (mid.1 - p.1) > 0.0 {
                n = (-n.0, -n.1);
            }
            planes.push(Plane {
                n: lift(n.0, n.1, 0.0),
                d: n.0 * p.0 + n.1 * p.1,
            });
            box_lo = box_lo.min(lift(p.0, p.1, lo));
            box_hi = box_hi.max(lift(p.0, p.1, hi));
        }
        self.solid(&planes, (box_lo, box_hi), paint);
    }

    /// A small lamp: a bead and its light.
    pub(crate) fn lamp(&mut self, at: V3, facing: V3, strength: f32, paint: Paint) {
        self.ball(at, v3(0.8, 0.8, 0.8), paint);
        let power = if paint == Paint::LampRed {
            v3(1.0, 0.06, 0.03)
        } else if paint == Paint::LampGreen {
            v3(0.06, 0.9, 0.35)
        } else if paint == Paint::LampAmber {
            v3(1.0, 0.45, 0.08)
        } else {
            v3(1.0, 0.86, 0.62)
        };
        self.glow(at + facing * 1.2, facing, power * strength, 90.0);
    }

    /// Light of the running group without a visible bead.
    pub(crate) fn glow(&mut self, at: V3, facing: V3, power: V3, reach: f32) {
        let across = (V3::default(), V3::default());
        self.lamps.push(Lamp {
            at,
            facing,
            across,
            power,
            reach,
            group: Group::Running,
        });
    }
}
