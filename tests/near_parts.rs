//! Near parts whose coverage is given: what is behind them comes out better, and an outline that is off by a pixel does no harm.
#![expect(clippy::unwrap_used, reason = "a test may stop at once")]

#[path = "common/disc_blur.rs"]
mod disc_blur;
#[path = "common/fusion_score.rs"]
mod fusion_score;
#[path = "common/layered_scene.rs"]
mod layered_scene;
#[path = "common/metrics.rs"]
mod metrics;

use fusion_score::{Score, Stack, Zones, fuse, score};
use layered_scene::{Backdrop, FRAMES, LayeredScene, STEP_PX, noisy};
use platebench::geometry::Rect;
use platebench::imaging::fuse::{DepthMap, FuseSettings, NearParts};
use platebench::pixels::{Plane, Planes};
use std::convert::Infallible;

/// The part of the scene where struts and lamps cross the wing's corner before the hull.
const PART: Rect = Rect::new(180, 230, 560, 560);

fn cut(plane: &Plane) -> Plane {
    let mut out = plane.crop(PART);
    out.rect = PART.shift(-PART.x0, -PART.y0);
    out
}

/// A part of the made scene: its stack, and the coverage of what stands before the hull.
fn stack() -> (Stack, [Plane; 2]) {
    let mut scene = LayeredScene::new(3, Backdrop::Grey);
    for layer in &mut scene.layers {
        layer.coverage = cut(&layer.coverage);
        layer.depth = cut(&layer.depth);
        layer.colour.rgb = layer.colour.rgb.each_ref().map(cut);
    }
    let (truth, depth) = scene.truth();
    let frames = (0_u16..).take(usize::try_from(FRAMES).unwrap());
    let frames = frames.map(|k| {
        let frame = scene.render(f32::from(k), STEP_PX);
        noisy(&frame, 900 + u64::from(k), 20_000.0, 4.0)
    });
    let mut before = scene.layers[3].coverage.clone();
    for (value, other) in before.data.iter_mut().zip(&scene.layers[4].coverage.data) {
        *value = value.max(*other);
    }
    let stack = Stack {
        frames: frames.collect(),
        truth,
        depth,
    };
    (stack, [before, scene.layers[2].coverage.clone()])
}

fn without_blur(stack: &Stack, fused: &(Planes, DepthMap), coverages: &[Plane]) -> Planes {
    let near = NearParts {
        coverages,
        light: &fused.0,
        map: &fused.1,
    };
    let frame = |number: usize, rect| Ok::<Planes, Infallible>(stack.frames[number].crop(rect));
    let Ok(found) = near.taken_off(frame);
    let (place, part) = found.unwrap();
    let mut out = fused.0.clone();
    for y in place.y0..place.y1 {
        for x in place.x0..place.x1 {
            let at = out.rect().index(x, y);
            out.set_pixel(at, part.pixel(place.index(x, y)));
        }
    }
    out
}

fn around(plane: &Plane, pick: fn(f32, f32) -> f32) -> Plane {
    Plane::from_fn(plane.rect, |x, y| {
        let near = (-1..=1).flat_map(|dy| (-1..=1).map(move |dx| (x + dx, y + dy)));
        near.map(|(x, y)| plane.nearest(x, y))
            .reduce(pick)
            .unwrap_or(0.0)
    })
}

#[test]
fn a_given_coverage_frees_what_is_behind_and_an_outline_off_by_a_pixel_does_no_harm() {
    let (stack, coverages) = stack();
    let zones = Zones::of(&stack);
    let (fused, map) = fuse(&stack.frames, FuseSettings::default());
    let fused = (fused.planes, map);
    let before: Score = score(&fused.0, &stack, &zones);
    let edge = |coverages: [Plane; 2]| {
        let after = score(&without_blur(&stack, &fused, &coverages), &stack, &zones);
        after.edge - before.edge
    };
    let gain = edge(coverages.clone());
    assert!(gain >= 5.0, "{gain} dB beside edges");
    let moved = |dx: i32, dy: i32| {
        let one = |plane: &Plane| Plane::from_fn(plane.rect, |x, y| plane.nearest(x - dx, y - dy));
        coverages.each_ref().map(one)
    };
    for (name, off) in [
        (
            "too wide",
            coverages.each_ref().map(|p| around(p, f32::max)),
        ),
        (
            "too narrow",
            coverages.each_ref().map(|p| around(p, f32::min)),
        ),
        ("moved across", moved(1, 0)),
        ("moved down", moved(0, 1)),
    ] {
        let gain = edge(off);
        assert!(gain >= 0.0, "{name}: {gain} dB beside edges");
    }
}
