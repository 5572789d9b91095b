//! Properties of the fusion on small stacks (trade notes B18 and B23).

use super::look::modified_laplacian;
use super::*;
use crate::geometry::Rect;
use crate::imaging::basics::blur::gaussian;
use crate::pixels::convert::{count_f32, narrow};
use crate::pixels::{Plane, Planes};

/// A textured picture.
fn texture(rect: Rect) -> Planes {
    let wave = |x: i32, y: i32, turn: f64| {
        let (x, y) = (f64::from(x), f64::from(y));
        let bumps = libm::sin(0.9 * x + turn) * libm::cos(1.1 * y - 0.3 * x);
        narrow(0.3 + 0.1 * bumps + 0.1 * libm::sin(0.21 * x * turn + 0.4 * y))
    };
    Planes {
        rgb: [1.0, 1.2, 0.8].map(|turn| Plane::from_fn(rect, |x, y| wave(x, y, turn))),
    }
}

/// The left part in focus in the first frame, the right part in the last.
fn stack(rect: Rect, frames: usize) -> Vec<Planes> {
    let sharp = texture(rect);
    let last = count_f32(frames - 1);
    (0..frames)
        .map(|k| {
            let rgb = sharp.rgb.each_ref().map(|plane| {
                let blurred: Vec<Plane> = (0..=8_u8)
                    .map(|step| gaussian(plane, 0.4 * f32::from(step)))
                    .collect();
                Plane::from_fn(rect, |x, y| {
                    let across = narrow(f64::from(x - rect.x0)) / count_f32(rect.width());
                    let off = (across * last - count_f32(k)).abs() * 2.0;
                    let step = crate::pixels::convert::index(off.min(8.0), 8);
                    blurred[step].at(x, y)
                })
            });
            Planes { rgb }
        })
        .collect()
}

fn valid_of(frame: &Planes) -> Plane {
    Plane::filled(frame.rect(), 1.0)
}

fn map_of(frames: &[Planes], valid: &Plane) -> (DepthMap, NoiseModel) {
    let noise = NoiseModel::of_frame(&frames[0]);
    let mut pass = DepthPass::new(valid.rect, frames.len(), &noise);
    for (k, frame) in frames.iter().enumerate() {
        pass.add(k, &plain_luma(frame), valid);
    }
    (pass.finish(), noise)
}

fn fused(frames: &[Planes], valid: &Plane) -> Fused {
    let (map, noise) = map_of(frames, valid);
    let mut pass = BlendPass::new(valid.rect, &map, &noise, FuseSettings::default());
    for (k, frame) in frames.iter().enumerate() {
        pass.add(k, frame, frame, valid);
    }
    pass.finish()
}

fn rms(a: &Planes, b: &Planes) -> f32 {
    let pairs = a.rgb.iter().zip(&b.rgb);
    let squares: f32 = pairs
        .flat_map(|(a, b)| a.data.iter().zip(&b.data))
        .map(|(a, b)| (a - b) * (a - b))
        .sum();
    (squares / count_f32(3 * a.rgb[0].data.len())).sqrt()
}

#[test]
fn the_published_modified_laplacian() {
    let field = Plane::from_fn(Rect::new(0, 0, 5, 5), |x, y| {
        if (x, y) == (2, 2) { 50.0 } else { 10.0 }
    });
    let score = modified_laplacian(&field);
    let inner: Vec<f32> = (1..4).flat_map(|y| score.row(y)[1..4].to_vec()).collect();
    assert_eq!(inner, [0.0, 40.0, 0.0, 40.0, 160.0, 40.0, 0.0, 40.0, 0.0]);
    assert_eq!(inner.iter().sum::<f32>(), 320.0);
}

#[test]
fn one_frame_comes_out_bit_for_bit() {
    let frame = texture(Rect::new(-3, 5, 70, 64));
    let result = fused(std::slice::from_ref(&frame), &valid_of(&frame));
    assert_eq!(result.planes, frame);
    assert_eq!(result.coverage, valid_of(&frame));
}

#[test]
fn excluded_frames_leave_no_trace() {
    let frames = stack(Rect::new(0, 0, 80, 64), 3);
    let valid = valid_of(&frames[0]);
    let (map, noise) = map_of(&frames, &valid);
    let mut pass = BlendPass::new(valid.rect, &map, &noise, FuseSettings::default());
    pass.add(2, &frames[2], &frames[2], &valid);
    assert_eq!(pass.finish().planes, frames[2]);
    let mut first = DepthPass::new(valid.rect, 3, &noise);
    first.add(0, &plain_luma(&frames[0]), &valid);
    first.add(2, &plain_luma(&frames[2]), &valid);
    assert_eq!(first.added(), 2);
    let shares = first.finish().sharp_share;
    assert_eq!(shares.len(), 3);
    assert!(shares[0] > 0.1 && shares[2] > 0.1, "{shares:?}");
}

#[test]
fn equal_frames_give_that_frame() {
    let frame = texture(Rect::new(0, 0, 90, 70));
    let result = fused(
        &[frame.clone(), frame.clone(), frame.clone()],
        &valid_of(&frame),
    );
    assert!(rms(&result.planes, &frame) < 1e-6);
}

#[test]
fn a_stack_comes_out_sharper_than_any_frame_and_the_depth_follows() {
    let rect = Rect::new(4, -6, 244, 114);
    for count in [2, 3, 6] {
        let frames = stack(rect, count);
        let valid = valid_of(&frames[0]);
        let truth = texture(rect);
        let result = fused(&frames, &valid);
        let error = rms(&result.planes, &truth);
        let best = frames
            .iter()
            .map(|f| rms(f, &truth))
            .fold(f32::MAX, f32::min);
        assert!(error < 0.4 * best, "{count} frames: {error} against {best}");
        let (map, _) = map_of(&frames, &valid);
        let (left, right) = (map.depth.at(24, 50), map.depth.at(224, 50));
        let last = count_f32(count - 1);
        assert!(left < 0.3 * last && right > 0.7 * last, "{left} {right}");
        assert_eq!(result.frame_map.at(14, 50), 0.0);
        assert_eq!(result.frame_map.at(240, 50), last);
    }
}

#[test]
fn the_result_stays_within_the_stack() {
    let rect = Rect::new(0, 0, 96, 64);
    let mut frames = stack(rect, 4);
    for frame in &mut frames {
        for plane in &mut frame.rgb {
            plane.row_mut(30)[40..44].fill(8.0);
        }
    }
    let result = fused(&frames, &valid_of(&frames[0]));
    let all = || {
        frames
            .iter()
            .flat_map(|f| f.rgb.iter().flat_map(|p| &p.data))
    };
    let low = all().copied().fold(f32::MAX, f32::min);
    let high = all().copied().fold(f32::MIN, f32::max);
    for value in result.planes.rgb.iter().flat_map(|p| &p.data) {
        assert!(
            (low..=high).contains(value),
            "{value} outside {low}..{high}"
        );
    }
}

#[test]
fn a_frame_counts_only_where_it_has_data() {
    let rect = Rect::new(0, 0, 120, 80);
    let frame = texture(rect);
    let inner = Rect::new(10, 10, 120, 80);
    let partial = Plane::from_fn(rect, |x, y| if inner.contains(x, y) { 1.0 } else { 0.0 });
    let mut cut = frame.clone();
    for plane in &mut cut.rgb {
        for (value, present) in plane.data.iter_mut().zip(&partial.data) {
            *value *= present;
        }
    }
    let whole = valid_of(&frame);
    let noise = NoiseModel::of_frame(&frame);
    let mut first = DepthPass::new(rect, 2, &noise);
    first.add(0, &plain_luma(&frame), &whole);
    first.add(1, &plain_luma(&cut), &partial);
    let map = first.finish();
    let mut second = BlendPass::new(rect, &map, &noise, FuseSettings::default());
    second.add(0, &frame, &frame, &whole);
    second.add(1, &cut, &cut, &partial);
    let result = second.finish();
    assert!(
        rms(&result.planes, &frame) < 2e-3,
        "{}",
        rms(&result.planes, &frame)
    );
    assert!(result.coverage.data.iter().all(|c| *c >= 1.0));
    // Where no frame has data there is nothing.
    let mut second = BlendPass::new(rect, &map, &noise, FuseSettings::default());
    second.add(0, &cut, &cut, &partial);
    second.add(1, &cut, &cut, &partial);
    let result = second.finish();
    assert_eq!(
        (result.coverage.at(3, 40), result.coverage.at(60, 40)),
        (0.0, 1.0)
    );
    assert_eq!(result.planes.rgb[1].at(3, 40), 0.0);
    assert!((result.planes.rgb[1].at(60, 40) - frame.rgb[1].at(60, 40)).abs() < 1e-5);
}

#[test]
fn light_falls_with_the_plate_weights_and_adds_up() {
    let rect = Rect::new(0, 0, 100, 80);
    let frames = stack(rect, 3);
    let valid = valid_of(&frames[0]);
    let (map, noise) = map_of(&frames, &valid);
    let scaled = |frame: &Planes, by: f32| Planes {
        rgb: frame.rgb.each_ref().map(|plane| plane.map(|v| v * by)),
    };
    let run = |by: f32| {
        let mut pass = BlendPass::new(rect, &map, &noise, FuseSettings::default());
        for (k, frame) in frames.iter().enumerate() {
            pass.add(k, frame, &scaled(frame, by), &valid);
        }
        pass.finish().planes
    };
    // With the guide's weights the blend is linear: minus a half of the frames gives minus a half of the plate.
    assert!(rms(&scaled(&run(1.0), -0.5), &run(-0.5)) < 1e-6);
}

#[test]
fn a_painted_bias_moves_the_depth() {
    let frames = stack(Rect::new(0, 0, 100, 60), 4);
    let (map, _) = map_of(&frames, &valid_of(&frames[0]));
    let bias = Plane::from_fn(map.depth.rect, |x, _| if x < 50 { 0.0 } else { -2.0 });
    let moved = map.biased(&bias);
    assert_eq!(moved.depth.at(20, 30), map.depth.at(20, 30));
    assert_eq!(
        moved.depth.at(80, 30),
        (map.depth.at(80, 30) - 2.0).max(0.0)
    );
    assert_eq!(moved.confidence.at(80, 30), 1.0);
}

#[test]
fn every_thread_count_gives_the_same_bits() {
    let frames = stack(Rect::new(0, 0, 130, 90), 3);
    let valid = valid_of(&frames[0]);
    let run = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        pool.unwrap().install(|| fused(&frames, &valid))
    };
    assert_eq!(run(1), run(3));
}
