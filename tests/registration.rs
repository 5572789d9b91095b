//! Registration against exact truth: frames of a layered scene at different focus, and passes in another light.

mod common;

use common::layered_scene::{
    Backdrop, Dice, HEIGHT, LayeredScene, STEP_PX, WIDTH, grid_error, luma, noisy, warped,
};
use platebench::geometry::{Point, Rect, Similarity, Transform};
use platebench::imaging::basics::blur::gaussian;
use platebench::imaging::register::{Found, Light, Prepared, perspective, similarity};
use platebench::pixels::convert::{coordinate, narrow};
use platebench::pixels::{Plane, Planes};

const SATURATION: f32 = 0.98;
const FULL_WELL: f64 = 20_000.0;
const READ: f64 = 4.0;
const STILL: Similarity = Similarity {
    log_scale: 0.0,
    angle_rad: 0.0,
    shift: Point { x: 0.0, y: 0.0 },
};

fn centre() -> Point {
    Point::new(f64::from(WIDTH) * 0.5, f64::from(HEIGHT) * 0.5)
}

fn motion(scale: f64, angle_rad: f64, x: f64, y: f64) -> Transform {
    let values = Similarity {
        log_scale: libm::log(scale),
        angle_rad,
        shift: Point::new(x, y),
    };
    Transform::similarity(values, centre())
}

fn prepared(picture: &Planes, light: Light) -> Prepared {
    Prepared::new(&luma(picture), light, SATURATION)
}

fn found(reference: &Prepared, moved: &Prepared) -> Found {
    similarity(reference, moved, STILL).expect("a motion")
}

#[test]
fn frames_at_other_focus_are_found_to_a_twentieth_of_a_pixel() {
    let scene = LayeredScene::new(0, Backdrop::Grey);
    for (i, j, limit) in [(6_u8, 7_u8, 0.05), (4, 6, 0.09), (2, 6, 0.16)] {
        let gap = f64::from(j - i);
        let frame_from_reference = motion(1.0 + 0.004 * gap, 0.0010, 1.37, -2.21);
        let first = noisy(&scene.render(f32::from(i), STEP_PX), 3, FULL_WELL, READ);
        let second = warped(&scene.render(f32::from(j), STEP_PX), &frame_from_reference);
        let second = noisy(&second, 4, FULL_WELL, READ);
        let found = found(
            &prepared(&first, Light::Same),
            &prepared(&second, Light::Same),
        );
        let truth = frame_from_reference.inverse().unwrap();
        let (rms, worst) = grid_error(&found.reference_from_moved, &truth);
        println!("{i} {j}: rms {rms:.4} worst {worst:.4} {found:?}");
        assert!(rms < limit, "{i} to {j}: {rms} px rms, {worst} worst");
    }
}
