//! The poses: which model, where the camera stands, how it is lit.

use crate::field::Backdrop;
use crate::kit::{Kit, Lamp};
use crate::lens::Camera;
use crate::light::{Set, Stage};
use crate::paint::Soot;
use crate::part::Paint;
use crate::session::focus_list;
use crate::tree::Tree;
use crate::vec3::{Dice, V3, v3};

/// A pose ready to be photographed.
#[derive(Debug)]
pub(crate) struct Pose {
    /// Model and lights.
    pub(crate) stage: Stage,
    /// Camera.
    pub(crate) cam: Camera,
    /// Backdrop.
    pub(crate) back: Backdrop,
    /// Focus distances, near to far, mm.
    pub(crate) focus: Vec<f32>,
    /// Nearest and farthest visible distance, mm.
    pub(crate) extent: (f32, f32),
    /// Middle of the seam gap, as points of the model.
    pub(crate) seam: Vec<V3>,
    /// Where the stand enters and ends.
    pub(crate) stand: Option<(V3, V3, f32)>,
    /// Dust and hairs on the model: middle points and what they are.
    pub(crate) lint: Vec<(V3, &'static str)>,
}

/// The key for a camera: from its upper left, a little in front.
fn lights(cam: &Camera, aim: V3, kit: &mut Kit, soot: Vec<Soot>) -> Set {
    let dir = (cam.right * -0.56 - cam.down * 0.74 - cam.ahead * 0.36).unit();
    let key = aim + dir * 1150.0;
    let card = (cam.right * 0.9 - cam.ahead * 0.35 + cam.down * 0.1).unit();
    Set {
        key,
        key_radius: 34.0,
        key_reference: 1150.0 * 1.75,
        card,
        card_radiance: 0.34,
        lamps: std::mem::take(&mut kit.lamps),
        soot,
    }
}

/// The dark velvet behind the ships.
const VELVET: Backdrop = Backdrop {
    radiance: v3(0.0042, 0.0041, 0.0044),
    uneven: 0.75,
};

/// Camera of the barge; `again` is the re-shot pose.
fn barge_camera(again: bool) -> Camera {
    let (turn, near) = if again {
        (1.5_f32, 1.0 / 1.03)
    } else {
        (0.0, 1.0)
    };
    let az = (41.0 + turn).to_radians();
    let el = 21.0_f32.to_radians();
    let aim = v3(33.0, -10.0, 34.0);
    let dist = 735.0 * near;
    let eye = aim
        + v3(
            libm::cosf(az) * libm::cosf(el),
            -libm::sinf(az) * libm::cosf(el),
            libm::sinf(el),
        ) * dist;
    let mut cam = Camera::new(eye, aim, -0.06);
    cam.focal = 35.0;
    cam.stop = 4.0;
    cam.reference = 620.0;
    cam
}

/// Gap in mm at which the slot is `px` wide in the picture, at place `x` of the seam.
fn gap_for(cam: &Camera, x: f32, px: f32) -> f32 {
    let side = crate::barge::SIDE;
    let at = |x: f32, z: f32| cam.project(v3(x, side, z));
    let (a, b) = (at(x - 5.0, 0.0), at(x + 5.0, 0.0));
    let (tx, ty) = (b.0 - a.0, b.1 - a.1);
    let l = (tx * tx + ty * ty).sqrt();
    let o = at(x, 0.0);
    let width = |g: f32| {
        let p = at(x, -g);
        ((p.0 - o.0) * ty - (p.1 - o.1) * tx).abs() / l
    };
    let (mut lo, mut hi) = (0.0, 20.0);
    for _ in 0..40 {
        let m = 0.5 * (lo + hi);
        if width(m) < px { lo = m } else { hi = m }
    }
    0.5 * (lo + hi)
}

/// Barge pose.
pub(crate) fn barge(again: bool, size: (usize, usize)) -> Pose {
    let mut cam = barge_camera(again);
    let full = 8.0;
    let (s0, s1) = crate::barge::SEAM;
    let gap = (gap_for(&cam, s0, full), gap_for(&cam, s1, full));
    set_size(&mut cam, size);
    let mut kit = Kit::new(74);
    crate::barge::barge(&mut kit, gap);
    let foot = v3(-30.0, 0.0, -38.0);
    let floor = foot + cam.down * 420.0;
    kit.rod(foot + cam.down * -4.0, floor, 4.6, Paint::Stand);
    kit.rod(
        foot + cam.down * 1.0,
        foot + cam.down * 7.0,
        8.0,
        Paint::Stand,
    );
    let seam = [0.0_f32, 0.25, 0.5, 0.75, 1.0]
        .iter()
        .map(|t| {
            let x = s0 + (s1 - s0) * t;
            v3(x, crate::barge::SIDE, -0.5 * (gap.0 + (gap.1 - gap.0) * t))
        })
        .collect();
    let pose = finish(kit, cam, (v3(0.0, 0.0, 30.0), crate::barge::soot()), 10);
    let stand = Some((foot, floor, 4.6));
    lint(Pose {
        seam,
        stand,
        ..pose
    })
}

/// Lights and sorts a finished model and sets its focus list: `frames` distances over the model's depth.
fn finish(mut kit: Kit, mut cam: Camera, at: (V3, Vec<Soot>), frames: usize) -> Pose {
    let set = lights(&cam, at.0, &mut kit, at.1);
    let stage = Stage::new(Tree::build(&kit.parts, kit.planes), set);
    let (mut near, mut far) = (f32::INFINITY, 0.0_f32);
    for y in (0..cam.size.1).step_by(8) {
        for x in (0..cam.size.0).step_by(8) {
            if let Some((_, q, _)) = probe(&stage, &cam, x, y) {
                let z = (q - cam.eye).dot(cam.ahead);
                near = near.min(z);
                far = far.max(z);
            }
        }
    }
    let focus = focus_list(near, far, frames);
    cam.reference = focus[frames / 2];
    Pose {
        stage,
        cam,
        back: VELVET,
        focus,
        extent: (near, far),
        seam: Vec::new(),
        stand: None,
        lint: Vec::new(),
    }
}

/// What the camera sees at a pixel, besides the stand: direction, point, plain normal.
#[expect(clippy::cast_precision_loss, reason = "picture sizes")]
fn probe(stage: &Stage, cam: &Camera, x: usize, y: usize) -> Option<(V3, V3, V3)> {
    let (o, d) = cam.ray((x as f32 + 0.5, y as f32 + 0.5), (0.0, 0.0));
    let hit = stage.tree.nearest(o, d, (10.0, 4000.0))?;
    if stage.tree.parts[hit.part as usize].paint == Paint::Stand {
        return None;
    }
    let (q, s) = stage.surface(o, d, &hit);
    Some((d, q, s.plain))
}

/// Sprinkles motes and two hairs on what the camera sees.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss,
    reason = "inside the picture"
)]
fn lint(mut pose: Pose) -> Pose {
    let (w, h) = pose.cam.size;
    let mut dice = Dice::new(1207);
    let mut kit = Kit::new(5);
    kit.parts.clone_from(&pose.stage.tree.parts);
    kit.planes.clone_from(&pose.stage.tree.planes);
    let mut lamps: Vec<Lamp> = pose.stage.set.lamps.clone();
    while pose.lint.len() < 26 {
        let (x, y) = (
            (dice.span(0.05, 0.95) * w as f32) as usize,
            (dice.span(0.1, 0.9) * h as f32) as usize,
        );
        let Some((_, q, n)) = probe(&pose.stage, &pose.cam, x, y) else {
            continue;
        };
        let r = dice.span(0.2, 0.55);
        kit.ball(
            q + n * (0.4 * r),
            v3(r, r * dice.span(0.6, 1.0), r * 0.8),
            Paint::Lint,
        );
        pose.lint.push((q, "mote"));
    }
    for start in [(0.435_f32, 0.398_f32), (0.545, 0.672)] {
        let (mut a, mut curl) = (dice.span(0.0, 6.0), dice.span(0.10, 0.2));
        let (mut px, mut py) = (start.0 * w as f32, start.1 * h as f32);
        let mut last: Option<V3> = None;
        for i in 0..26 {
            if let Some((_, q, n)) = probe(&pose.stage, &pose.cam, px as usize, py as usize) {
                let q = q + n * (0.25 + 0.25 * dice.span(0.0, 1.0));
                if let Some(p) = last
                    && (p - q).len() < 14.0
                {
                    kit.rod(p, q, 0.12, Paint::Lint);
                }
                if i == 13 {
                    pose.lint.push((q, "hair"));
                }
                last = Some(q);
            }
            a += curl;
            curl += dice.span(-0.09, 0.075);
            let step = 5.5 * w as f32 / 2400.0;
            px += step * libm::cosf(a);
            py += step * libm::sinf(a);
        }
    }
    let mut set = pose.stage.set.clone();
    set.lamps.append(&mut Vec::new());
    std::mem::swap(&mut set.lamps, &mut lamps);
    pose.stage = Stage::new(Tree::build(&kit.parts, kit.planes), set);
    pose
}

/// Tug (`true`) or buoy pose.
pub(crate) fn small(tug: bool, size: (usize, usize)) -> Pose {
    let mut kit = Kit::new(if tug { 29 } else { 31 });
    let (az, el, dist, aim) = if tug {
        (
            40.0_f32.to_radians(),
            17.0_f32.to_radians(),
            830.0,
            v3(-6.0, 0.0, 12.0),
        )
    } else {
        (
            -30.0_f32.to_radians(),
            9.0_f32.to_radians(),
            1000.0,
            v3(0.0, 0.0, 2.0),
        )
    };
    let (az, roll) = if tug { (az, -0.05) } else { (1.05, 0.07) };
    let eye = aim
        + v3(
            libm::cosf(az) * libm::cosf(el),
            -libm::sinf(az) * libm::cosf(el),
            libm::sinf(el),
        ) * dist;
    let mut cam = Camera::new(eye, aim, roll);
    cam.focal = 90.0;
    cam.stop = if tug { 22.0 } else { 11.0 };
    cam.reference = dist;
    set_size(&mut cam, size);
    let foot;
    let soot;
    if tug {
        kit.fine = 0.55;
        crate::tug::tug(&mut kit);
        foot = v3(-6.0, 0.0, -23.0);
        soot = crate::tug::soot();
    } else {
        kit.fine = 0.6;
        crate::buoy::buoy(&mut kit);
        foot = v3(0.0, 0.0, -104.0);
        soot = Vec::new();
    }
    let floor = foot + cam.down * 260.0;
    kit.rod(foot - cam.down * 3.0, floor, 2.2, Paint::Stand);
    let mut pose = finish(kit, cam, (aim, soot), if tug { 2 } else { 3 });
    pose.stand = Some((foot, floor, 2.2));
    if !tug {
        pose.back = Backdrop {
            radiance: v3(0.205, 0.203, 0.198),
            uneven: 0.3,
        };
    }
    pose
}

/// Ice block `k` (1..=3).
pub(crate) fn ice(k: u32, size: (usize, usize)) -> Pose {
    let mut kit = Kit::new(60 + 7 * k);
    kit.fine = 0.5;
    crate::ice::ice(&mut kit, k);
    let az = [0.5_f32, 0.9, 0.65][(k as usize - 1).min(2)];
    let el = 0.3_f32;
    let aim = v3(0.0, 0.0, 0.0);
    let eye = aim
        + v3(
            libm::cosf(az) * libm::cosf(el),
            -libm::sinf(az) * libm::cosf(el),
            libm::sinf(el),
        ) * 560.0;
    let mut cam = Camera::new(eye, aim, 0.0);
    cam.focal = 90.0;
    cam.stop = 22.0;
    cam.reference = 550.0;
    set_size(&mut cam, size);
    let foot = v3(0.0, 0.0, -16.0);
    let floor = foot + cam.down * 260.0;
    kit.rod(foot, floor, 1.6, Paint::Stand);
    let mut pose = finish(kit, cam, (aim, Vec::new()), 1);
    pose.stand = Some((foot, floor, 1.6));
    pose
}

/// Keeps the field of view while changing the pixel count (`--quick`).
#[expect(clippy::cast_precision_loss, reason = "picture sizes")]
pub(crate) fn set_size(cam: &mut Camera, size: (usize, usize)) {
    cam.pitch *= cam.size.0 as f32 / size.0 as f32;
    cam.size = size;
}
