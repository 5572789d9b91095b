//! Properties of sampling (trade notes B17 and B23).

use super::*;
use crate::geometry::Similarity;
use crate::pixels::convert::narrow;

const KERNELS: [Kernel; 3] = [Kernel::Linear, Kernel::Cubic, Kernel::Lanczos3];

/// A fixed, noise-like value in 0..1 for a pixel.
fn speckle(x: i32, y: i32, salt: i32) -> f32 {
    let mut bits = (x * 73_856_093) ^ (y * 19_349_663) ^ (salt * 83_492_791);
    for _ in 0..3 {
        bits = (bits ^ (bits >> 15)).wrapping_mul(0x2c1b_3c6d);
    }
    narrow(f64::from(bits & 0xffff) / 65536.0)
}

fn speckled(rect: Rect) -> Planes {
    Planes {
        rgb: [0, 1, 2].map(|salt| Plane::from_fn(rect, |x, y| 0.6 * speckle(x, y, salt))),
    }
}

fn small_turn() -> Transform {
    let similarity = Similarity {
        log_scale: 0.012,
        angle_rad: 0.004,
        shift: Point::new(3.3, -2.7),
    };
    Transform::similarity(similarity, Point::new(110.0, 80.0))
}

fn perspective() -> Transform {
    Transform::from_corners(
        Rect::new(0, 0, 200, 150).corners(),
        [
            Point::new(8.0, 3.0),
            Point::new(190.0, 12.0),
            Point::new(205.0, 140.0),
            Point::new(-4.0, 155.0),
        ],
    )
    .unwrap()
}

#[test]
fn whole_shifts_copy_the_bits_and_the_outside_is_nothing() {
    let source = speckled(Rect::new(0, 0, 50, 40));
    for kernel in KERNELS {
        let (same, valid) = sample_planes(&source, source.rect(), &Transform::IDENTITY, kernel);
        assert_eq!(same, source, "{kernel:?}");
        assert!(valid.data.iter().all(|v| *v >= 1.0), "{kernel:?}");
        let target = Rect::new(-5, 0, 20, 45);
        let (moved, valid) =
            sample_planes(&source, target, &Transform::translation(3.0, -2.0), kernel);
        for (x, y) in [(-4, 3), (-3, 2), (0, 1), (19, 41), (19, 44)] {
            let inside = source.rect().contains(x + 3, y - 2);
            assert_eq!(valid.at(x, y) > 0.5, inside, "({x}, {y})");
            let expected = if inside {
                source.rgb[1].at(x + 3, y - 2)
            } else {
                0.0
            };
            assert_eq!(
                moved.rgb[1].at(x, y).to_bits(),
                expected.to_bits(),
                "({x}, {y})"
            );
        }
    }
}

#[test]
fn a_map_that_moves_nothing_copies_a_picture() {
    let rect = Rect::new(2, -3, 90, 70);
    let picture = Image::from_fn(rect, |x, y| [0, 1, 2, 3].map(|salt| speckle(x, y, salt)));
    for kernel in KERNELS {
        let still = sample_image_mapped(&picture, rect, &Some, kernel);
        assert_eq!(still, picture, "{kernel:?}");
        let placed = sample_image_scaled(&picture, rect, &Transform::IDENTITY, kernel);
        assert_eq!(placed, picture, "{kernel:?}");
    }
}

#[test]
fn ramps_show_that_positions_are_exact() {
    let rect = Rect::new(0, 0, 220, 170);
    let ramp = |x: f64, y: f64| 0.001 * x + 0.002 * y;
    let plane = Plane::from_fn(rect, |x, y| {
        narrow(ramp(f64::from(x) + 0.5, f64::from(y) + 0.5))
    });
    for transform in [
        small_turn(),
        perspective(),
        Transform::translation(0.37, 0.81),
    ] {
        for kernel in KERNELS {
            let (out, valid) = sample_plane(&plane, rect, &transform, kernel);
            for y in (6..160).step_by(7) {
                for x in (6..200).step_by(5) {
                    let at = transform.apply(Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5));
                    let clear = rect.grow(-5).contains(whole(at.x), whole(at.y));
                    if clear {
                        let off = f64::from(out.at(x, y)) - ramp(at.x, at.y);
                        assert!(off.abs() < 0.002 * 0.005, "{kernel:?} ({x}, {y}): {off}");
                        assert!(valid.at(x, y) >= 1.0);
                    }
                }
            }
        }
    }
}

#[test]
fn tiles_agree_bit_for_bit_and_needed_is_enough() {
    let source = speckled(Rect::new(0, 0, 220, 170));
    let picture = Image::from_fn(source.rect(), |x, y| {
        [0, 1, 2, 3].map(|salt| speckle(x, y, salt))
    });
    let whole_target = Rect::new(0, 0, 210, 160);
    let tile = Rect::new(70, 45, 150, 131);
    let shrinking = Transform::scaling(1.37, 1.2);
    for transform in [small_turn(), perspective(), shrinking] {
        for kernel in KERNELS {
            let (all, valid) = sample_planes(&source, whole_target, &transform, kernel);
            let part = source.crop(needed(tile, &transform, kernel).intersect(source.rect()));
            let (one, one_valid) = sample_planes(&part, tile, &transform, kernel);
            assert_eq!(one, all.crop(tile), "{kernel:?} {transform:?}");
            assert_eq!(one_valid, valid.crop(tile), "{kernel:?} {transform:?}");
            let all = sample_image_scaled(&picture, whole_target, &transform, kernel);
            let part = picture.crop(needed(tile, &transform, kernel).intersect(picture.rect));
            let one = sample_image_scaled(&part, tile, &transform, kernel);
            assert_eq!(one, all.crop(tile), "{kernel:?} {transform:?}");
        }
    }
}

#[test]
fn flat_pictures_stay_flat_up_to_the_border() {
    let rect = Rect::new(0, 0, 100, 80);
    let flat = Planes {
        rgb: [0.2, 0.5, 0.7].map(|value| Plane::filled(rect, value)),
    };
    for transform in [
        Transform::translation(-0.4, 0.6),
        small_turn(),
        perspective(),
    ] {
        let (out, valid) = sample_planes(&flat, rect.grow(10), &transform, Kernel::Lanczos3);
        for (value, present) in out.rgb[1].data.iter().zip(&valid.data) {
            let expected = if *present > 0.0 { 0.5 } else { 0.0 };
            assert!((value - expected).abs() < 1e-6, "{value} at {present}");
        }
    }
}

#[test]
fn half_a_pixel_of_linear_halves_white_noise() {
    let rect = Rect::new(0, 0, 400, 400);
    let noise = Plane::from_fn(rect, |x, y| speckle(x, y, 9) - 0.5);
    let spread = |plane: &Plane| {
        let inner: Vec<f64> = (5..395)
            .flat_map(|y| plane.row(y)[5..395].iter().map(|v| f64::from(*v)))
            .collect();
        let mean = inner.iter().sum::<f64>() / count_f64(inner.len());
        (inner.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / count_f64(inner.len())).sqrt()
    };
    let (soft, _) = sample_plane(
        &noise,
        rect,
        &Transform::translation(0.5, 0.5),
        Kernel::Linear,
    );
    let ratio = spread(&soft) / spread(&noise);
    assert!((ratio - 0.5).abs() < 0.005, "sigma ratio {ratio}");
}

#[test]
fn lamps_and_cut_out_edges_draw_no_rim() {
    let rect = Rect::new(0, 0, 60, 40);
    let lamp = Plane::from_fn(rect, |x, y| if x > 30 && y > 20 { 1.0 } else { 0.05 });
    let (out, valid) = sample_plane(&lamp, rect, &small_turn(), Kernel::Lanczos3);
    for (value, present) in out.data.iter().zip(&valid.data) {
        assert!(
            *present < 0.5 || (0.0499..=1.0001).contains(value),
            "{value}"
        );
    }
    let cut = Image::from_fn(rect, |x, _| {
        if x > 30 {
            [0.3, 0.2, 0.1, 1.0]
        } else {
            [0.0; 4]
        }
    });
    let placed = sample_image(
        &cut,
        rect,
        &Transform::translation(0.3, 0.4),
        Kernel::Lanczos3,
    );
    for pixel in &placed.data {
        assert!((pixel[0] - 0.3 * pixel[3]).abs() < 1e-6, "{pixel:?}");
        assert!((0.0..=1.0).contains(&pixel[3]), "{pixel:?}");
    }
}

#[test]
fn shrinking_by_two_keeps_the_mean_and_kills_what_cannot_be_shown() {
    let rect = Rect::new(0, 0, 128, 96);
    let stripes = Image::from_fn(rect, |x, _| {
        let value = if x % 2 == 0 { 0.7 } else { 0.3 };
        [value, value, value, 1.0]
    });
    let half = Rect::new(8, 8, 56, 40);
    let shrunk = sample_image_scaled(
        &stripes,
        half,
        &Transform::scaling(2.0, 2.0),
        Kernel::Lanczos3,
    );
    for pixel in &shrunk.data {
        assert!((pixel[0] - 0.5).abs() < 0.01, "{pixel:?}");
    }
}
