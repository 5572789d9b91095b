//! Three-component vectors in millimetres and the seeded hashes that stand in for chance.

use std::ops::{Add, AddAssign, Mul, Neg, Sub};

/// A point or direction; millimetres where it is a point.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct V3 {
    /// First axis (for ships: forward).
    pub(crate) x: f32,
    /// Second axis (for ships: port).
    pub(crate) y: f32,
    /// Third axis (up).
    pub(crate) z: f32,
}

/// Short constructor.
#[inline]
pub(crate) const fn v3(x: f32, y: f32, z: f32) -> V3 {
    V3 { x, y, z }
}

impl Add for V3 {
    type Output = Self;
    #[inline]
    fn add(self, o: Self) -> Self {
        v3(self.x + o.x, self.y + o.y, self.z + o.z)
    }
}
impl AddAssign for V3 {
    #[inline]
    fn add_assign(&mut self, o: Self) {
        *self = *self + o;
    }
}
impl Sub for V3 {
    type Output = Self;
    #[inline]
    fn sub(self, o: Self) -> Self {
        v3(self.x - o.x, self.y - o.y, self.z - o.z)
    }
}
impl Neg for V3 {
    type Output = Self;
    #[inline]
    fn neg(self) -> Self {
        v3(-self.x, -self.y, -self.z)
    }
}
impl Mul<f32> for V3 {
    type Output = Self;
    #[inline]
    fn mul(self, k: f32) -> Self {
        v3(self.x * k, self.y * k, self.z * k)
    }
}
impl Mul for V3 {
    type Output = Self;
    #[inline]
    fn mul(self, o: Self) -> Self {
        v3(self.x * o.x, self.y * o.y, self.z * o.z)
    }
}

impl V3 {
    /// Scalar product.
    #[inline]
    pub(crate) fn dot(self, o: Self) -> f32 {
        self.x * o.x + self.y * o.y + self.z * o.z
    }
    /// Vector product.
    #[inline]
    pub(crate) fn cross(self, o: Self) -> Self {
        v3(
            self.y * o.z - self.z * o.y,
            self.z * o.x - self.x * o.z,
            self.x * o.y - self.y * o.x,
        )
    }
    /// Length.
    #[inline]
    pub(crate) fn len(self) -> f32 {
        self.dot(self).sqrt()
    }
    /// Unit vector of the same direction (the zero vector stays zero).
    #[inline]
    pub(crate) fn unit(self) -> Self {
        let l = self.len();
        if l > 1e-12 { self * (1.0 / l) } else { self }
    }
    /// Component by index 0..=2.
    #[inline]
    pub(crate) fn at(self, i: usize) -> f32 {
        match i {
            0 => self.x,
            1 => self.y,
            _ => self.z,
        }
    }
    /// Componentwise minimum.
    #[inline]
    pub(crate) fn min(self, o: Self) -> Self {
        v3(self.x.min(o.x), self.y.min(o.y), self.z.min(o.z))
    }
    /// Componentwise maximum.
    #[inline]
    pub(crate) fn max(self, o: Self) -> Self {
        v3(self.x.max(o.x), self.y.max(o.y), self.z.max(o.z))
    }
    /// Mix towards `o` by `t`.
    #[inline]
    pub(crate) fn mix(self, o: Self, t: f32) -> Self {
        self + (o - self) * t
    }
}

/// Two unit vectors that complete `n` to a right-handed frame.
pub(crate) fn frame_of(n: V3) -> (V3, V3) {
    let a = if n.z.abs() < 0.9 {
        v3(0.0, 0.0, 1.0)
    } else {
        v3(1.0, 0.0, 0.0)
    };
    let u = a.cross(n).unit();
    (u, n.cross(u))
}

/// Mixes two words into one (integer hash; multiply and shift rounds).
#[inline]
pub(crate) fn hash2(a: u32, b: u32) -> u32 {
    let mut h = a.wrapping_mul(0x9E37_79B1) ^ b.wrapping_mul(0x85EB_CA77).rotate_left(13);
    h ^= h >> 16;
    h = h.wrapping_mul(0x7FEB_352D);
    h ^= h >> 15;
    h = h.wrapping_mul(0x846C_A68B);
    h ^ (h >> 16)
}

/// A word as a number in 0..1.
#[inline]
#[expect(clippy::cast_precision_loss, reason = "24 bits fit an f32")]
pub(crate) fn unit_of(h: u32) -> f32 {
    (h >> 8) as f32 * (1.0 / 16_777_216.0)
}

/// Whole part of a number as a lattice index (wraps far outside any model).
#[inline]
#[expect(clippy::cast_possible_truncation, reason = "lattice indices are small")]
pub(crate) fn floor_i(x: f32) -> i32 {
    x.floor() as i32
}

#[inline]
fn corner(ix: i32, iy: i32, seed: u32) -> f32 {
    unit_of(hash2(hash2(ix.cast_unsigned(), seed), iy.cast_unsigned()))
}

/// Smooth value noise in 0..1 over a plane, one lattice cell per unit.
#[inline]
pub(crate) fn noise2(x: f32, y: f32, seed: u32) -> f32 {
    let (ix, iy) = (floor_i(x), floor_i(y));
    let (fx, fy) = (x - x.floor(), y - y.floor());
    let (sx, sy) = (fx * fx * (3.0 - 2.0 * fx), fy * fy * (3.0 - 2.0 * fy));
    let a = corner(ix, iy, seed);
    let b = corner(ix + 1, iy, seed);
    let c = corner(ix, iy + 1, seed);
    let d = corner(ix + 1, iy + 1, seed);
    let top = a + (b - a) * sx;
    let low = c + (d - c) * sx;
    top + (low - top) * sy
}

/// Smooth value noise in space.
pub(crate) fn noise3(p: V3, seed: u32) -> f32 {
    let iz = floor_i(p.z);
    let fz = p.z - p.z.floor();
    let sz = fz * fz * (3.0 - 2.0 * fz);
    let a = noise2(p.x, p.y, hash2(seed, iz.cast_unsigned()));
    let b = noise2(p.x, p.y, hash2(seed, (iz + 1).cast_unsigned()));
    a + (b - a) * sz
}

/// Three octaves of [`noise3`], in 0..1.
pub(crate) fn cloud3(p: V3, seed: u32) -> f32 {
    0.55 * noise3(p, seed) + 0.29 * noise3(p * 2.13, seed ^ 1) + 0.16 * noise3(p * 4.31, seed ^ 2)
}

/// Smooth step from 0 at `a` to 1 at `b`.
#[inline]
pub(crate) fn ease(a: f32, b: f32, x: f32) -> f32 {
    let t = ((x - a) / (b - a)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// A small seeded source of numbers for building models.
#[derive(Clone, Debug)]
pub(crate) struct Dice {
    state: u32,
}

impl Dice {
    /// Starts from a seed.
    pub(crate) fn new(seed: u32) -> Self {
        Self {
            state: hash2(seed, 0x51ED),
        }
    }
    /// Next word.
    pub(crate) fn word(&mut self) -> u32 {
        self.state = self.state.wrapping_add(0x6D2B_79F5);
        hash2(self.state, 0xA511)
    }
    /// Number in `a..b`.
    pub(crate) fn span(&mut self, a: f32, b: f32) -> f32 {
        a + (b - a) * unit_of(self.word())
    }
    /// True with probability `p`.
    pub(crate) fn chance(&mut self, p: f32) -> bool {
        unit_of(self.word()) < p
    }
    /// Whole number in `0..n`.
    pub(crate) fn below(&mut self, n: u32) -> u32 {
        self.word() % n.max(1)
    }
}
