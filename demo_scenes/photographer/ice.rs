//! Cut and broken blocks of ice.

use crate::kit::Kit;
use crate::part::{Paint, Plane};
use crate::vec3::{Dice, V3, v3};

fn direction(dice: &mut Dice) -> V3 {
    loop {
        let p = v3(
            dice.span(-1.0, 1.0),
            dice.span(-1.0, 1.0),
            dice.span(-1.0, 1.0),
        );
        let l = p.len();
        if l > 0.1 && l < 1.0 {
            return p.unit();
        }
    }
}

/// A faceted lump: a box with leaning faces whose corners are broken away by `breaks` planes.
fn lump(kit: &mut Kit, c: V3, half: V3, breaks: u32) {
    let mut planes = Vec::new();
    let turn = kit.dice.span(0.0, 1.5);
    let (co, si) = (libm::cosf(turn), libm::sinf(turn));
    for axis in 0..3 {
        for sign in [-1.0, 1.0] {
            let lean = direction(&mut kit.dice) * 0.09;
            let n = match axis {
                0 => v3(sign * co, sign * si, 0.0),
                1 => v3(-sign * si, sign * co, 0.0),
                _ => v3(0.0, 0.0, sign),
            };
            let n = (n + lean).unit();
            planes.push(Plane {
                n,
                d: n.dot(c) + half.at(axis),
            });
        }
    }
    for _ in 0..breaks {
        let n = direction(&mut kit.dice);
        // Distance of the box's corner in this direction, cut back by a share.
        let l = v3(n.x * co + n.y * si, n.y * co - n.x * si, n.z);
        let reach = l.x.abs() * half.x + l.y.abs() * half.y + l.z.abs() * half.z;
        let k = kit.dice.span(0.66, 0.97);
        planes.push(Plane {
            n,
            d: n.dot(c) + reach * k,
        });
        // A break is seldom one plane: a shallow neighbour or two follow it.
        for _ in 0..kit.dice.below(3) {
            let m = (n + direction(&mut kit.dice) * 0.22).unit();
            let l = v3(m.x * co + m.y * si, m.y * co - m.x * si, m.z);
            let reach = l.x.abs() * half.x + l.y.abs() * half.y + l.z.abs() * half.z;
            planes.push(Plane {
                n: m,
                d: m.dot(c) + reach * (k + kit.dice.span(-0.02, 0.03)),
            });
        }
    }
    let r = half.len() * 1.05;
    kit.solid(&planes, (c - v3(r, r, r), c + v3(r, r, r)), Paint::Ice);
}

/// Builds block `k` (1..=3).
pub(crate) fn ice(kit: &mut Kit, k: u32) {
    let (half, breaks, chips) = match k {
        1 => (v3(44.0, 34.0, 30.0), 34, 22),
        2 => (v3(30.0, 32.0, 46.0), 40, 16),
        _ => (v3(52.0, 30.0, 22.0), 30, 30),
    };
    lump(kit, V3::default(), half, breaks);
    for i in 0..chips {
        let d = direction(&mut kit.dice);
        let reach = 1.0
            / (d.x.abs() / half.x)
                .max(d.y.abs() / half.y)
                .max(d.z.abs() / half.z);
        let big = if i < 3 {
            kit.dice.span(6.0, 10.0)
        } else {
            kit.dice.span(0.7, 2.6)
        };
        let c = d * (reach * kit.dice.span(0.62, 0.8));
        let h = v3(
            big,
            big * kit.dice.span(0.6, 1.0),
            big * kit.dice.span(0.5, 0.9),
        );
        lump(kit, c, h, 9);
    }
}
