//! Standard kit parts: ladders, rails, gratings, girders, hatches, windows and grown machinery.

use crate::kit::{Kit, Pad};
use crate::part::Paint;
use crate::vec3::{V3, frame_of, v3};

/// Standard kit parts.
impl Kit {
    /// Ladder on a pad from `(u, v0)` to `(u, v1)`.
    pub(crate) fn ladder(&mut self, p: &Pad, u: f32, v: (f32, f32), paint: Paint) {
        for du in [-1.6, 1.6] {
            self.rod(p.at(u + du, v.0, 1.2), p.at(u + du, v.1, 1.2), 0.28, paint);
        }
        let mut y = v.0 + 1.0;
        while y < v.1 {
            self.rod(p.at(u - 1.6, y, 1.2), p.at(u + 1.6, y, 1.2), 0.2, paint);
            y += 2.0;
        }
    }

    /// Handrail through points at a height along `up`.
    pub(crate) fn rail(&mut self, pts: &[V3], up: V3, paint: Paint) {
        for w in pts.windows(2) {
            for h in [2.6, 5.0] {
                self.rod(w[0] + up * h, w[1] + up * h, 0.2, paint);
            }
            let l = (w[1] - w[0]).len();
            let mut s = 0.0;
            while s <= l + 0.01 {
                let a = w[0].mix(w[1], s / l);
                self.rod(a, a + up * 5.0, 0.24, paint);
                s += l / (l / 7.0).round().max(1.0);
            }
        }
    }

    /// Open grating: bars along v, bearers along u.
    pub(crate) fn grating(&mut self, p: &Pad, r: [f32; 4], paint: Paint) {
        let mut u = r[0];
        while u <= r[2] {
            self.block(p, [u - 0.2, r[1], u + 0.2, r[3]], (0.0, 0.8), paint);
            u += 1.5;
        }
        let mut v = r[1];
        while v <= r[3] + 0.01 {
            self.block(p, [r[0], v - 0.3, r[2], v + 0.3], (-0.6, 0.6), paint);
            v += ((r[3] - r[1]) / 3.0).max(1.0);
        }
    }

    /// Lattice girder between two points, square of side `s`.
    pub(crate) fn truss(&mut self, a: V3, b: V3, s: f32, paint: Paint) {
        let n = (b - a).unit();
        let (u, v) = frame_of(n);
        let h = s * 0.5;
        let corners = [u * h + v * h, u * h - v * h, -u * h - v * h, -u * h + v * h];
        for c in corners {
            self.rod(a + c, b + c, s * 0.09, paint);
        }
        let l = (b - a).len();
        let bays = (l / s).round().max(1.0);
        let mut i = 0.0;
        while i < bays {
            let (p, q) = (a.mix(b, i / bays), a.mix(b, (i + 1.0) / bays));
            for k in 0..4 {
                let (c, d) = (corners[k], corners[(k + 1) % 4]);
                self.rod(p + c, p + d, s * 0.05, paint);
                self.rod(p + c, q + d, s * 0.05, paint);
            }
            i += 1.0;
        }
    }

    /// Hatch with rim, hinges and a hand wheel.
    pub(crate) fn hatch(&mut self, p: &Pad, c: (f32, f32), s: f32, paint: Paint) {
        self.block(p, [c.0 - s, c.1 - s, c.0 + s, c.1 + s], (0.0, 0.7), paint);
        self.block(
            p,
            [c.0 - s * 0.8, c.1 - s * 0.8, c.0 + s * 0.8, c.1 + s * 0.8],
            (0.0, 1.2),
            paint,
        );
        self.rod(
            p.at(c.0, c.1, 0.5),
            p.at(c.0, c.1, 2.0),
            s * 0.12,
            Paint::Metal,
        );
        self.tube(
            p.at(c.0, c.1, 1.8),
            p.at(c.0, c.1, 2.2),
            (s * 0.35, s * 0.35),
            Paint::Dark,
        );
        for k in [-0.5, 0.5] {
            self.block(
                p,
                [
                    c.0 + k * s - 0.5,
                    c.1 + s * 0.75,
                    c.0 + k * s + 0.5,
                    c.1 + s * 1.15,
                ],
                (0.0, 1.7),
                Paint::Dark,
            );
        }
    }

    /// Louvre: slats in a frame.
    pub(crate) fn louvre(&mut self, p: &Pad, r: [f32; 4], paint: Paint) {
        self.block(p, r, (0.0, 0.35), Paint::Void);
        let mut v = r[1] + 0.5;
        let tilt = (p.v * 0.8 + p.n * 0.6).unit();
        while v < r[3] - 0.3 {
            let c = p.at(0.5 * (r[0] + r[2]), v + 0.3, 0.9);
            self.turned(c, (p.u, tilt), v3(0.5 * (r[2] - r[0]), 0.55, 0.14), paint);
            v += 1.3;
        }
        for (a, b) in [(r[0] - 0.4, r[0] + 0.3), (r[2] - 0.3, r[2] + 0.4)] {
            self.block(p, [a, r[1] - 0.3, b, r[3] + 0.3], (0.0, 1.5), paint);
        }
    }

    /// Machinery grown over a rectangle by splitting: `r` = u0, v0, u1, v1; `tall` the greatest height, mm;
    /// `fill` the share of cells that carry something.
    pub(crate) fn machinery(&mut self, p: &Pad, r: [f32; 4], tall: f32, fill: f32) {
        let (w, h) = (r[2] - r[0], r[3] - r[1]);
        let stop = self.dice.span(4.0, 13.0) * self.fine;
        if w.max(h) > stop && w.max(h) > 4.5 * self.fine {
            let t = self.dice.span(0.32, 0.68);
            if w > h {
                let m = r[0] + w * t;
                self.machinery(p, [r[0], r[1], m, r[3]], tall, fill);
                self.machinery(p, [m, r[1], r[2], r[3]], tall, fill);
            } else {
                let m = r[1] + h * t;
                self.machinery(p, [r[0], r[1], r[2], m], tall, fill);
                self.machinery(p, [r[0], m, r[2], r[3]], tall, fill);
            }
            return;
        }
        if !self.dice.chance(fill) || w.min(h) < 0.9 * self.fine {
            return;
        }
        let g = 0.25;
        self.one(p, [r[0] + g, r[1] + g, r[2] - g, r[3] - g], tall);
    }

    fn tone(&mut self) -> Paint {
        match self.dice.below(14) {
            0..=4 => Paint::Hull,
            5 | 6 => Paint::Grey,
            7..=9 => Paint::Dark,
            10 => Paint::Warm,
            11 => Paint::Metal,
            12 => Paint::Ochre,
            _ => Paint::Grey,
        }
    }

    fn one(&mut self, p: &Pad, r: [f32; 4], tall: f32) {
        let (w, h) = (r[2] - r[0], r[3] - r[1]);
        let c = (0.5 * (r[0] + r[2]), 0.5 * (r[1] + r[3]));
        let up = tall * self.dice.span(0.25, 1.0) * (w.min(h) / 5.0).clamp(0.3, 1.0);
        let paint = self.tone();
        let rad = 0.5 * w.min(h);
        match self.dice.below(11) {
            0 | 1 => {
                self.block(p, r, (0.0, up), paint);
                self.block(
                    p,
                    [
                        r[0] + w * 0.2,
                        r[1] + h * 0.2,
                        r[2] - w * 0.3,
                        r[3] - h * 0.2,
                    ],
                    (0.0, up + 0.9),
                    paint,
                );
            }
            2 => {
                self.rod(p.at(c.0, c.1, 0.0), p.at(c.0, c.1, up), rad * 0.85, paint);
                self.rod(p.at(c.0, c.1, 0.0), p.at(c.0, c.1, 0.7), rad, Paint::Dark);
                self.rod(
                    p.at(c.0, c.1, up),
                    p.at(c.0, c.1, up + 0.8),
                    rad * 0.4,
                    Paint::Metal,
                );
            }
            3 => self.drum(p, r, paint),
            4 | 5 => {
                self.block(p, r, (0.0, up * 0.4), Paint::Dark);
                let mut u = r[0] + 0.3;
                while u < r[2] - 0.2 {
                    self.block(p, [u, r[1] + 0.2, u + 0.45, r[3] - 0.2], (0.0, up), paint);
                    u += 1.1;
                }
            }
            6 => {
                self.block(p, r, (0.0, 0.6), paint);
                self.hatch(p, c, rad * 0.8, paint);
            }
            7 => {
                let k = rad * 0.9;
                self.rod(p.at(c.0, c.1, 0.0), p.at(c.0, c.1, up * 0.5), k, paint);
                let dome = p.at(c.0, c.1, up * 0.5);
                self.ball(dome, v3(k, k, k), paint);
            }
            8 => self.louvre(p, r, paint),
            9 => self.hoses(p, r, up, paint),
            _ => self.clutter(p, r, up, paint),
        }
    }

    /// A lying drum with bands.
    fn drum(&mut self, p: &Pad, r: [f32; 4], paint: Paint) {
        let (w, h) = (r[2] - r[0], r[3] - r[1]);
        let c = (0.5 * (r[0] + r[2]), 0.5 * (r[1] + r[3]));
        let rad = 0.5 * w.min(h);
        let (a, b) = if w > h {
            (p.at(r[0], c.1, rad), p.at(r[2], c.1, rad))
        } else {
            (p.at(c.0, r[1], rad), p.at(c.0, r[3], rad))
        };
        self.rod(a, b, rad * 0.8, paint);
        for t in [0.12, 0.5, 0.88] {
            let m = a.mix(b, t);
            let d = (b - a).unit() * 0.4;
            self.rod(m - d, m + d, rad * 0.95, Paint::Dark);
        }
    }

    /// Three hoses that arch over.
    fn hoses(&mut self, p: &Pad, r: [f32; 4], up: f32, paint: Paint) {
        let (w, h) = (r[2] - r[0], r[3] - r[1]);
        let rad = 0.5 * w.min(h);
        let q = 0.35_f32.max(rad * 0.18);
        let lift = up.min(3.0) + q;
        for k in [0.2, 0.5, 0.8] {
            let v = r[1] + h * k;
            let (a, b) = (p.at(r[0] - 0.6, v, 0.0), p.at(r[2] + 0.6, v, 0.0));
            self.run(
                &[a, a + p.n * lift, b + p.n * lift, b],
                q,
                if k > 0.6 { Paint::Metal } else { paint },
            );
        }
    }

    /// A base with small boxes strewn over it.
    fn clutter(&mut self, p: &Pad, r: [f32; 4], up: f32, paint: Paint) {
        self.block(p, r, (0.0, up * 0.5), paint);
        let n = 2 + self.dice.below(3);
        for _ in 0..n {
            let (a, b) = (
                self.dice.span(r[0], r[2] - 1.0),
                self.dice.span(r[1], r[3] - 1.0),
            );
            let (s, t) = (self.dice.span(0.6, 1.8), self.dice.span(0.6, 1.8));
            let top = up * 0.5 + self.dice.span(0.4, 1.5);
            let q = self.tone();
            self.block(
                p,
                [a, b, (a + s).min(r[2]), (b + t).min(r[3])],
                (0.0, top),
                q,
            );
        }
    }

    /// A row of windows with frames; `r` on the pad, `n` panes; lit panes shed light.
    pub(crate) fn windows(&mut self, p: &Pad, r: [f32; 4], n: u32) {
        #[expect(clippy::cast_precision_loss, reason = "a few panes")]
        let w = (r[2] - r[0]) / n as f32;
        self.block(
            p,
            [r[0] - 0.6, r[3], r[2] + 0.6, r[3] + 0.8],
            (0.0, 1.3),
            Paint::Hull,
        );
        self.block(
            p,
            [r[0] - 0.6, r[1] - 0.7, r[2] + 0.6, r[1]],
            (0.0, 0.8),
            Paint::Hull,
        );
        let mut u = r[0];
        for _ in 0..n {
            self.block(
                p,
                [u + w * 0.1, r[1], u + w * 0.9, r[3]],
                (0.0, 0.25),
                Paint::Glass,
            );
            let lit = self
                .parts
                .last()
                .is_some_and(|q| crate::paint::pane(q.seed).is_some());
            if lit {
                let power = self
                    .parts
                    .last()
                    .and_then(|q| crate::paint::pane(q.seed))
                    .unwrap_or_default();
                let at = p.at(u + 0.5 * w, 0.5 * (r[1] + r[3]), 0.9);
                self.glow(at, p.n, power * (0.28 * w * (r[3] - r[1]) / 6.0), 45.0);
            }
            self.block(
                p,
                [u - w * 0.1, r[1], u + w * 0.1, r[3]],
                (0.0, 0.8),
                Paint::Hull,
            );
            u += w;
        }
        self.block(
            p,
            [u - w * 0.1, r[1], u + w * 0.1, r[3]],
            (0.0, 0.8),
            Paint::Hull,
        );
    }
}
