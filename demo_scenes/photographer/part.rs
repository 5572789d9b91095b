//! The solid parts that models are built of, and where a ray meets one.

use crate::vec3::{V3, v3};

/// What covers a part (see the paint room for what each looks like).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Paint {
    /// Grey-green plating with panel lines.
    Hull,
    /// Warm panel colour.
    Warm,
    /// Dark red primer of the lower hull.
    Oxide,
    /// Deck plating, darker and dirtier.
    Deck,
    /// Dark grey machinery.
    Dark,
    /// Mid grey machinery.
    Grey,
    /// Bare worn metal.
    Metal,
    /// Ochre equipment colour.
    Ochre,
    /// Hazard stripes.
    Hazard,
    /// Soot-black heat shield.
    Soot,
    /// Heat-stained bare metal.
    Heat,
    /// Off-white paint.
    White,
    /// Hull side with the painted name.
    Named,
    /// Glass of a window; lit or not by its seed.
    Glass,
    /// Glowing bed of the furnace.
    Coal,
    /// Glowing slot of the furnace.
    Ember,
    /// White lamp of the running group.
    LampWhite,
    /// Red lamp of the running group.
    LampRed,
    /// Green lamp of the running group.
    LampGreen,
    /// Amber lamp of the running group.
    LampAmber,
    /// Ice casting.
    Ice,
    /// Dark blue glass of a solar cell.
    Cell,
    /// The black stand.
    Stand,
    /// Unpainted dark gap.
    Void,
    /// Dust mote or hair.
    Lint,
}

/// Shape of a part in its own frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Shape {
    /// Box of the half sizes.
    Brick,
    /// Capped cone along the third axis: `half.x`, `half.y` radii at the low and high end, `half.z` half length.
    Rod,
    /// The same without caps, open inside.
    Pipe,
    /// Ellipsoid of the half sizes.
    Ball,
    /// Convex solid: planes `first..first + count` of the scene's list, in the part's frame.
    Facets {
        /// First plane.
        first: u32,
        /// Number of planes.
        count: u32,
    },
}

/// One part.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Part {
    /// Centre, mm.
    pub(crate) centre: V3,
    /// Unit axes.
    pub(crate) axes: [V3; 3],
    /// Half sizes along the axes, mm (see [`Shape`]).
    pub(crate) half: V3,
    /// Shape.
    pub(crate) shape: Shape,
    /// Cover.
    pub(crate) paint: Paint,
    /// Seed of its paint.
    pub(crate) seed: u32,
    /// Size of its painted detail against the barge's.
    pub(crate) fine: f32,
}

/// A half space `n . p <= d` in a part's frame.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Plane {
    /// Outer unit normal.
    pub(crate) n: V3,
    /// Distance from the part's centre.
    pub(crate) d: f32,
}

/// Where a ray met a part.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Hit {
    /// Ray parameter.
    pub(crate) t: f32,
    /// Part index.
    pub(crate) part: u32,
    /// Face of the part (see the shape's own count).
    pub(crate) face: u32,
}

impl Part {
    /// A direction in the part's frame.
    #[inline]
    pub(crate) fn inward(&self, d: V3) -> V3 {
        v3(
            d.dot(self.axes[0]),
            d.dot(self.axes[1]),
            d.dot(self.axes[2]),
        )
    }
    /// A direction of the part's frame in space.
    #[inline]
    pub(crate) fn outward(&self, d: V3) -> V3 {
        self.axes[0] * d.x + self.axes[1] * d.y + self.axes[2] * d.z
    }
    /// Bounding box in space.
    pub(crate) fn bounds(&self) -> (V3, V3) {
        let h = match self.shape {
            Shape::Rod | Shape::Pipe => {
                let r = self.half.x.max(self.half.y);
                v3(r, r, self.half.z)
            }
            Shape::Brick | Shape::Ball | Shape::Facets { .. } => self.half,
        };
        let e = |i: usize| {
            self.axes[0].at(i).abs() * h.x
                + self.axes[1].at(i).abs() * h.y
                + self.axes[2].at(i).abs() * h.z
                + 1e-3
        };
        let r = v3(e(0), e(1), e(2));
        (self.centre - r, self.centre + r)
    }
    /// Nearest meeting with `lo < t < hi`, as parameter and face.
    #[inline]
    pub(crate) fn meet(
        &self,
        origin: V3,
        dir: V3,
        span: (f32, f32),
        planes: &[Plane],
    ) -> Option<(f32, u32)> {
        let o = self.inward(origin - self.centre);
        let d = self.inward(dir);
        match self.shape {
            Shape::Brick => meet_brick(o, d, self.half, span),
            Shape::Rod => meet_rod(o, d, self.half, span, Ends::Capped),
            Shape::Pipe => meet_rod(o, d, self.half, span, Ends::Open),
            Shape::Ball => meet_ball(o, d, self.half, span),
            Shape::Facets { first, count } => {
                let a = first as usize;
                meet_facets(o, d, planes.get(a..a + count as usize)?, span)
            }
        }
    }
}

#[inline]
fn meet_brick(o: V3, d: V3, h: V3, span: (f32, f32)) -> Option<(f32, u32)> {
    let (mut near, mut far) = (f32::NEG_INFINITY, f32::INFINITY);
    let (mut fn_, mut ff) = (0, 0);
    for i in 0..3 {
        let (oi, di, hi) = (o.at(i), d.at(i), h.at(i));
        let inv = 1.0 / if di.abs() < 1e-9 { 1e-9 } else { di };
        let (a, b) = ((-hi - oi) * inv, (hi - oi) * inv);
        let (lo, up, s) = if a < b { (a, b, 0) } else { (b, a, 1) };
        let axis = u32::try_from(i).unwrap_or(0) * 2;
        if lo > near {
            near = lo;
            fn_ = axis + s;
        }
        if up < far {
            far = up;
            ff = axis + 1 - s;
        }
    }
    choose(near, far, (fn_, ff), span)
}

#[inline]
fn choose(near: f32, far: f32, faces: (u32, u32), span: (f32, f32)) -> Option<(f32, u32)> {
    if near > far {
        return None;
    }
    if near > span.0 {
        return (near < span.1).then_some((near, faces.0));
    }
    (far > span.0 && far < span.1).then_some((far, faces.1))
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Ends {
    Capped,
    Open,
}

#[inline]
fn meet_rod(o: V3, d: V3, half: V3, span: (f32, f32), ends: Ends) -> Option<(f32, u32)> {
    let h = half.z;
    let mid = 0.5 * (half.x + half.y);
    let k = (half.y - half.x) / (2.0 * h);
    let w = mid + k * o.z;
    let a = d.x * d.x + d.y * d.y - k * k * d.z * d.z;
    let b = o.x * d.x + o.y * d.y - k * d.z * w;
    let c = o.x * o.x + o.y * o.y - w * w;
    let mut best: Option<(f32, u32)> = None;
    let mut take = |t: f32, f: u32| {
        if t > span.0 && t < span.1 && best.is_none_or(|x| t < x.0) {
            best = Some((t, f));
        }
    };
    let disc = b * b - a * c;
    if disc > 0.0 && a.abs() > 1e-9 {
        let s = disc.sqrt();
        for t in [(-b - s) / a, (-b + s) / a] {
            let z = o.z + t * d.z;
            if z.abs() <= h && mid + k * z >= 0.0 {
                take(t, 0);
            }
        }
    }
    if ends == Ends::Capped && d.z.abs() > 1e-9 {
        for (zc, r, f) in [(-h, half.x, 1), (h, half.y, 2)] {
            let t = (zc - o.z) / d.z;
            let (x, y) = (o.x + t * d.x, o.y + t * d.y);
            if x * x + y * y <= r * r {
                take(t, f);
            }
        }
    }
    best
}

#[inline]
fn meet_ball(o: V3, d: V3, h: V3, span: (f32, f32)) -> Option<(f32, u32)> {
    let inv = v3(1.0 / h.x, 1.0 / h.y, 1.0 / h.z);
    let (o, d) = (o * inv, d * inv);
    let a = d.dot(d);
    let b = o.dot(d);
    let c = o.dot(o) - 1.0;
    let disc = b * b - a * c;
    if disc <= 0.0 {
        return None;
    }
    let s = disc.sqrt();
    choose((-b - s) / a, (-b + s) / a, (0, 0), span)
}

#[inline]
fn meet_facets(o: V3, d: V3, planes: &[Plane], span: (f32, f32)) -> Option<(f32, u32)> {
    let (mut near, mut far) = (f32::NEG_INFINITY, f32::INFINITY);
    let (mut fa, mut fb) = (0_u32, 0_u32);
    for (i, p) in (0_u32..).zip(planes) {
        let den = p.n.dot(d);
        let num = p.d - p.n.dot(o);
        if den.abs() < 1e-9 {
            if num < 0.0 {
                return None;
            }
        } else {
            let t = num / den;
            if den < 0.0 {
                if t > near {
                    near = t;
                    fa = i;
                }
            } else if t < far {
                far = t;
                fb = i;
            }
            if near > far {
                return None;
            }
        }
    }
    choose(near, far, (fa, fb), span)
}
