//! What lies on a model when it is photographed: dust motes and hairs, dropped where the camera sees them.

use crate::camera::Camera;
use crate::kit::Kit;
use crate::num::real;
use crate::part::Paint;
use crate::tree::Tree;
use crate::vec3::{Dice, V3, v3};

/// Motes and hairs of a model, in space.
#[derive(Clone, Debug, Default)]
pub(crate) struct Litter {
    /// Centre and radius of motes, mm.
    pub(crate) motes: Vec<(V3, f32)>,
    /// Points along hairs, mm.
    pub(crate) hairs: Vec<Vec<V3>>,
}

fn drop_at(tree: &Tree, camera: &Camera, at: (f32, f32)) -> Option<V3> {
    let (o, d) = camera.ray(at, (0.0, 0.0));
    let hit = tree.nearest(o, d, (1.0, 3000.0))?;
    let part = tree.parts.get(hit.part as usize)?;
    let fixed = !matches!(
        part.paint,
        Paint::Stand | Paint::Coal | Paint::Glass | Paint::Soot
    );
    fixed.then(|| o + d * (hit.t - 0.12))
}

fn is_level(tree: &Tree, p: V3) -> bool {
    // Dust stays where a fall from above ends: nothing over the place, something right under it.
    !tree.blocked(p + v3(0.0, 0.0, 0.4), v3(0.0, 0.0, 1.0), (0.01, 300.0))
        && tree.blocked(p + v3(0.0, 0.0, 0.4), v3(0.0, 0.0, -1.0), (0.01, 1.2))
}

/// Drops `motes` motes and a hair at each start (shares of the picture's width, direction in degrees, length in px of a
/// 2400 px picture) onto the kit.
pub(crate) fn scatter(
    kit: &mut Kit,
    camera: &Camera,
    motes: usize,
    hairs: &[(f32, f32, f32, f32)],
    seed: u32,
) -> Litter {
    let tree = Tree::build(&kit.parts, kit.planes.clone());
    let mut dice = Dice::new(seed);
    let mut out = Litter::default();
    let w = real(camera.size.0);
    let h = real(camera.size.1);
    let mut tries = 0;
    while out.motes.len() < motes && tries < 60_000 {
        tries += 1;
        let at = (dice.span(0.0, w), dice.span(0.0, h));
        if let Some(p) = drop_at(&tree, camera, at)
            && is_level(&tree, p)
        {
            let r = dice.span(0.16, 0.36);
            kit.ball(p, v3(r, r * 0.8, r * 0.9), Paint::Lint);
            out.motes.push((p, r));
        }
    }
    for (x, y, turn, length) in hairs {
        let mut at = (x * w, y * w);
        let step = length * w / 2400.0 / 26.0;
        let mut turn = turn.to_radians();
        let bend = dice.span(0.03, 0.07);
        let mut pts: Vec<V3> = Vec::new();
        for _ in 0..26 {
            let (_, d) = camera.ray(at, (0.0, 0.0));
            let found =
                drop_at(&tree, camera, at).map(|p| (p - camera.eye).dot(camera.ahead) - 0.1);
            let last = pts.last().map(|p| (*p - camera.eye).dot(camera.ahead));
            let z = match (found, last) {
                (Some(z), Some(l)) => z.clamp(l - 0.5, l + 0.5).min(z),
                (Some(z), None) | (None, Some(z)) => z,
                (None, None) => break,
            };
            pts.push(camera.eye + d * (z / d.dot(camera.ahead)));
            at = (
                at.0 + step * libm::cosf(turn),
                at.1 + step * libm::sinf(turn),
            );
            turn += bend + dice.span(-0.06, 0.06);
        }
        kit.run(&pts, 0.095, Paint::Lint);
        out.hairs.push(pts);
    }
    out
}
