//! The veil of near parts, taken off without being told where they are: what stands beside them comes out better, and nothing else changes.

#[path = "common/disc_blur.rs"]
mod disc_blur;
#[path = "common/fusion_score.rs"]
mod fusion_score;
#[path = "common/layered_scene.rs"]
mod layered_scene;
#[path = "common/metrics.rs"]
mod metrics;

use fusion_score::{Stack, Zones, fuse, score, without_veil};
use layered_scene::{Backdrop, FRAMES, LayeredScene, STEP_PX, noisy};
use platebench::geometry::Rect;
use platebench::imaging::fuse::FuseSettings;
use platebench::pixels::{Plane, Planes};

/// The part of the scene where struts and lamps cross the wing's corner before the hull, and the backdrop below.
const PART: Rect = Rect::new(180, 200, 620, 640);

fn cut(plane: &Plane) -> Plane {
    let mut out = plane.crop(PART);
    out.rect = PART.shift(-PART.x0, -PART.y0);
    out
}

/// The first `layers` of a part of the made scene.
fn stack(backdrop: Backdrop, layers: usize, full_well: f64) -> Stack {
    let mut scene = LayeredScene::new(3, backdrop);
    scene.layers.truncate(layers);
    for layer in &mut scene.layers {
        layer.coverage = cut(&layer.coverage);
        layer.depth = cut(&layer.depth);
        layer.colour.rgb = layer.colour.rgb.each_ref().map(cut);
    }
    let (truth, depth) = scene.truth();
    let frames = (0_u16..).take(usize::try_from(FRAMES).unwrap_or(0));
    let frames = frames.map(|k| {
        let frame = scene.render(f32::from(k), STEP_PX);
        noisy(&frame, 900 + u64::from(k), full_well, 4.0)
    });
    Stack {
        frames: frames.collect(),
        truth,
        depth,
    }
}

#[test]
fn what_stands_beside_near_parts_comes_out_better() {
    for (backdrop, full_well, least) in [
        (Backdrop::Grey, 20_000.0, 1.0),
        (Backdrop::Black, 20_000.0, 1.0),
        (Backdrop::Grey, 1_500.0, 0.2),
    ] {
        let stack = stack(backdrop, 5, full_well);
        let zones = Zones::of(&stack);
        let fused = fuse(&stack.frames, FuseSettings::default());
        let before = score(&fused.0.planes, &stack, &zones);
        let after = score(&without_veil(&stack.frames, fused), &stack, &zones);
        assert!(
            after.edge >= before.edge + least,
            "{backdrop:?}: {before} {after}"
        );
        assert!(
            after.object >= before.object && after.halo <= before.halo,
            "{backdrop:?}: {before} {after}"
        );
        assert!(after.noise <= before.noise + 0.02, "{before} {after}");
    }
}

#[test]
fn a_plate_without_near_parts_stays_as_it_is() {
    let mut stack = stack(Backdrop::Grey, 2, 20_000.0);
    let part = Rect::new(20, 20, 400, 320);
    for frame in &mut stack.frames {
        *frame = frame.crop(part);
    }
    let fused = fuse(&stack.frames, FuseSettings::default());
    let before: Planes = fused.0.planes.clone();
    let after = without_veil(&stack.frames, fused);
    assert!(after == before, "a slanted hull alone hides nothing");
}

#[test]
fn the_number_of_threads_changes_no_bit() {
    let stack = stack(Backdrop::Grey, 5, 20_000.0);
    let made = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        pool.map(|pool| {
            pool.install(|| {
                let fused = fuse(&stack.frames, FuseSettings::default());
                without_veil(&stack.frames, fused)
            })
        })
    };
    let (one, three) = (made(1), made(3));
    assert!(one.is_ok_and(|one| three.is_ok_and(|three| one == three)));
}
