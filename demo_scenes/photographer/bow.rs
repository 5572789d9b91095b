//! The barge's forked bow and its cutting wheel.

use crate::barge::HALF_BREADTH;
use crate::kit::{Kit, Pad};
use crate::num::real;
use crate::part::Paint;
use crate::vec3::{V3, v3};

const X: V3 = v3(1.0, 0.0, 0.0);
const Y: V3 = v3(0.0, 1.0, 0.0);
const Z: V3 = v3(0.0, 0.0, 1.0);

/// The fork of the bow.
pub(crate) fn prongs(k: &mut Kit) {
    for side in [-1.0_f32, 1.0] {
        let (y0, y1) = (side * 23.0, side * HALF_BREADTH);
        let span = (y0.min(y1), y0.max(y1));
        // Root, forearm and nose.
        k.prism(
            1,
            &[
                (57.0, -22.0),
                (57.0, 9.0),
                (92.0, 9.0),
                (100.0, 5.0),
                (98.0, -14.0),
                (74.0, -22.0),
            ],
            span,
            Paint::Hull,
        );
        let arm = (span.0 + 2.0, span.1 - 2.0);
        k.prism(
            1,
            &[
                (97.0, -13.0),
                (97.0, 6.0),
                (128.0, 5.0),
                (150.0, -1.0),
                (153.0, -6.0),
                (140.0, -12.0),
            ],
            arm,
            Paint::Hull,
        );
        k.prism(
            1,
            &[(140.0, -10.5), (146.0, 1.0), (160.0, -5.0), (158.0, -9.0)],
            (arm.0 + 5.0, arm.1 - 5.0),
            Paint::Metal,
        );
        let mid = 0.5 * (span.0 + span.1);
        // Bearing of the wheel's axle.
        k.block(
            &Pad::new(v3(110.0, mid, 5.0), X, Y),
            [0.0, -9.0, 24.0, 9.0],
            (-4.0, 5.0),
            Paint::Dark,
        );
        k.rod(
            v3(122.0, span.0 + 1.0, 6.0),
            v3(122.0, span.1 - 1.0, 6.0),
            9.0,
            Paint::Ochre,
        );
        k.rod(
            v3(122.0, span.0 - 0.2, 6.0),
            v3(122.0, span.1 + 0.2, 6.0),
            6.2,
            Paint::Dark,
        );
        k.rod(
            v3(122.0, span.0 - 1.4, 6.0),
            v3(122.0, span.1 + 1.4, 6.0),
            2.6,
            Paint::Metal,
        );
        for i in 0..8 {
            let a = real(i) * std::f32::consts::FRAC_PI_4;
            let c = v3(122.0 + 7.6 * libm::cosf(a), 0.0, 6.0 + 7.6 * libm::sinf(a));
            k.rod(
                c + Y * (span.0 + 0.5),
                c + Y * (span.1 - 0.5),
                0.5,
                Paint::Metal,
            );
        }
        prong_top(k, span);
    }
    prong_side(k);
}

/// What stands on a prong; `span` its breadth.
fn prong_top(k: &mut Kit, span: (f32, f32)) {
    let mid = 0.5 * (span.0 + span.1);
    // Root top: machinery in a recess, hatches, hazard edge.
    let top = Pad::new(v3(58.0, span.0, 9.0), X, Y);
    k.machinery(&top, [1.0, 2.0, 17.0, 21.0], 5.5, 0.9);
    k.hatch(&top, (26.0, 12.0), 4.2, Paint::Hull);
    k.block(&top, [34.0, 1.0, 37.0, 22.0], (0.0, 0.5), Paint::Hazard);
    let nose = Pad::new(v3(131.0, mid, 4.2), v3(22.0, 0.0, -6.0), Y);
    k.block(&nose, [1.0, -8.5, 12.0, 8.5], (0.0, 0.8), Paint::Hazard);
    k.block(&nose, [13.0, -6.0, 19.0, 6.0], (0.0, 0.7), Paint::Hull);
    // Rams that tilt the arm.
    let r = Pad::new(v3(76.0, mid, 9.0), X, Y);
    for d in [-6.0, 6.0] {
        k.rod(r.at(17.0, d, -1.0), r.at(26.0, d, 3.2), 1.9, Paint::Dark);
        k.rod(r.at(26.0, d, 3.2), r.at(36.0, d, 2.0), 1.0, Paint::Metal);
    }
    k.run(
        &[
            r.at(8.0, 1.0, 0.6),
            r.at(20.0, 1.0, 1.2),
            r.at(24.0, -1.5, 2.4),
            r.at(34.0, -1.5, 2.0),
        ],
        0.6,
        Paint::Dark,
    );
    k.run(
        &[
            r.at(8.0, 3.0, 0.6),
            r.at(20.0, 3.0, 1.2),
            r.at(25.0, 1.0, 2.8),
            r.at(34.0, 1.0, 2.0),
        ],
        0.5,
        Paint::Oxide,
    );
}

/// Outer side of the starboard prong, and the lamps of the fork.
fn prong_side(k: &mut Kit) {
    let s = Pad::new(v3(57.0, -HALF_BREADTH, -14.0), X, Z);
    k.block(&s, [3.0, 2.0, 20.0, 20.0], (0.0, 0.7), Paint::Hull);
    k.machinery(&s, [4.0, 3.0, 19.0, 12.0], 2.2, 0.85);
    k.block(&s, [23.0, -4.0, 39.0, 18.0], (0.0, 0.6), Paint::Hull);
    k.block(&s, [26.0, 8.0, 36.0, 16.0], (0.0, 1.0), Paint::Named);
    if let Some(p) = k.parts.last_mut() {
        p.seed = 3;
    }
    k.louvre(&s, [26.0, -2.0, 37.0, 5.5], Paint::Dark);
    let arm = Pad::new(v3(99.0, -HALF_BREADTH + 2.0, -11.0), X, Z);
    k.block(&arm, [1.0, 2.0, 12.0, 14.0], (0.0, 0.6), Paint::Hull);
    k.block(&arm, [31.0, 2.0, 44.0, 9.0], (0.0, 0.5), Paint::Hazard);
    k.machinery(&arm, [14.0, 0.5, 30.0, 3.5], 1.6, 0.9);
    k.ladder(&s, 21.4, (-4.0, 22.0), Paint::Ochre);
    k.lamp(v3(148.0, -35.0, 3.6), Z, 0.9, Paint::LampGreen);
    k.lamp(v3(148.0, 35.0, 3.6), Z, 0.9, Paint::LampRed);
    k.lamp(v3(97.0, -46.8, -8.0), -Y, 0.7, Paint::LampAmber);
    k.lamp(v3(30.0, -47.4, 3.4), -Y, 0.7, Paint::LampWhite);
    k.lamp(v3(-36.0, -47.4, 3.4), -Y, 0.7, Paint::LampWhite);
    k.lamp(v3(-104.0, -56.2, 3.4), -Y, 0.7, Paint::LampWhite);
}

/// The toothed cutting wheel with its guard; `c` its middle, `r` its radius.
pub(crate) fn wheel(k: &mut Kit, c: V3, r: f32) {
    let along = |a: f32, d: f32| c + v3(libm::cosf(a) * d, 0.0, libm::sinf(a) * d);
    // Web of two thin plates with a thicker rim and a hub.
    k.rod(c - Y * 1.0, c + Y * 1.0, r - 6.0, Paint::Metal);
    k.tube(c - Y * 2.6, c + Y * 2.6, (r - 3.0, r - 3.0), Paint::Dark);
    k.rod(c - Y * 2.2, c + Y * 2.2, r - 3.1, Paint::Heat);
    k.rod(c - Y * 2.5, c + Y * 2.5, r - 7.0, Paint::Grey);
    k.rod(c - Y * 2.9, c + Y * 2.9, 17.0, Paint::Ochre);
    k.rod(c - Y * 3.6, c + Y * 3.6, 12.5, Paint::Dark);
    k.rod(c - Y * 24.0, c + Y * 24.0, 5.0, Paint::Metal);
    k.rod(c - Y * 9.0, c + Y * 9.0, 8.0, Paint::Dark);
    for i in 0..44 {
        let a = real(i) * std::f32::consts::TAU / 44.0;
        let out = along(a, 1.0) - c;
        let lean = (out + out.cross(Y) * 0.55).unit();
        k.turned(
            along(a, r - 1.0),
            (lean, Y),
            v3(3.1, 2.4, 1.25),
            Paint::Metal,
        );
        k.turned(
            along(a + 0.03, r + 1.6),
            (lean, Y),
            v3(1.2, 3.1, 0.7),
            Paint::White,
        );
    }
    for i in 0..12 {
        let a = real(i) * std::f32::consts::TAU / 12.0 + 0.1;
        let b = along(a, 23.5);
        k.rod(b - Y * 2.7, b + Y * 2.7, 2.9, Paint::Void);
        k.tube(b - Y * 3.0, b + Y * 3.0, (3.2, 3.2), Paint::Dark);
        let d = along(a + 0.26, 14.8);
        k.rod(d - Y * 4.0, d + Y * 4.0, 1.0, Paint::Metal);
        let rim = along(a + 0.26, 28.0);
        k.rod(rim - Y * 3.0, rim + Y * 3.0, 0.6, Paint::Metal);
    }
    // Guard over the after half, carried by the fork.
    for i in 0..11 {
        let a = 2.0 + real(i) * 0.155;
        let p = along(a, r + 6.6);
        let out = (p - c).unit();
        k.turned(
            p,
            (out.cross(Y), Y),
            v3(3.5, 7.0, 0.8),
            if i % 4 == 1 {
                Paint::Hazard
            } else {
                Paint::Hull
            },
        );
        for s in [-6.4, 6.4] {
            k.turned(
                along(a, r + 4.2) + Y * s,
                (out.cross(Y), out),
                v3(3.5, 2.6, 0.6),
                Paint::Hull,
            );
        }
    }
    for s in [-1.0, 1.0] {
        k.rod(
            along(2.2, r + 5.0) + Y * (6.0 * s),
            v3(96.0, 25.0 * s, 9.0),
            1.2,
            Paint::Dark,
        );
        k.rod(
            along(3.0, r + 5.0) + Y * (6.0 * s),
            v3(84.0, 25.0 * s, 6.0),
            1.2,
            Paint::Dark,
        );
        k.run(
            &[
                along(2.6, r + 8.0) + Y * (3.0 * s),
                v3(80.0, 12.0 * s, 24.0),
                v3(70.0, 20.0 * s, 10.0),
            ],
            0.7,
            Paint::Oxide,
        );
    }
}
