//! Known motions are found again.

use super::*;
use crate::geometry::Rect;
use crate::imaging::basics::blur::gaussian;
use crate::imaging::basics::random;
use crate::pixels::Plane;
use crate::pixels::convert::narrow;

/// A smooth texture that can be evaluated anywhere: many seeded waves.
fn texture(at: Point) -> f32 {
    let mut value = 0.0;
    for wave in 0..60 {
        let unit = |salt: i32| f64::from(random::uniform(11, wave, salt));
        let (fx, fy) = (unit(0) * 0.8 - 0.4, unit(1) * 0.8 - 0.4);
        value += libm::sin(fx * at.x + fy * at.y + unit(2) * 6.3) * (0.3 + unit(3));
    }
    narrow(0.3 + value * 0.01)
}

fn picture(map: &Transform) -> Plane {
    Plane::from_fn(Rect::new(0, 0, 360, 260), |x, y| {
        texture(map.apply(Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5)))
    })
}

fn corner_error(found: &Transform, wanted: &Transform) -> f64 {
    Rect::new(0, 0, 360, 260)
        .corners()
        .iter()
        .map(|at| found.apply(*at).distance(wanted.apply(*at)))
        .fold(0.0, f64::max)
}

#[test]
fn the_same_frame_lies_on_itself() {
    let frame = Prepared::new(&picture(&Transform::IDENTITY), Light::Same);
    let found = similarity(&frame, &frame, &Transform::IDENTITY).unwrap();
    assert!(
        corner_error(&found.reference_from_moved, &Transform::IDENTITY) < 1e-3,
        "{found:?}"
    );
    assert!(found.residual_px < 1e-3, "{found:?}");
}

#[test]
fn a_known_similarity_is_found_though_one_frame_is_defocused() {
    let middle = Point::new(180.0, 130.0);
    let motion = Similarity {
        log_scale: 0.012,
        angle_rad: 0.004,
        shift: Point::new(2.3, -1.7),
    };
    let reference_from_moved = Transform::similarity(motion, middle);
    let reference = Prepared::new(&picture(&Transform::IDENTITY), Light::Same);
    let moved = Prepared::new(&gaussian(&picture(&reference_from_moved), 1.5), Light::Same);
    let found = similarity(&reference, &moved, &Transform::IDENTITY).unwrap();
    let error = corner_error(&found.reference_from_moved, &reference_from_moved);
    assert!(error < 0.05, "corner error {error} px");
}

#[test]
fn the_published_shift_is_found() {
    // tests/checks/registration.csv: a picture shifted by (-22.4, 13.32) in (y, x); the method there is an upsampled phase
    // correlation with tolerance 0.01 px. The published picture is not shipped; this is a texture of our own under that shift.
    let shift = Transform::translation(-13.32, 22.4);
    let reference = Prepared::new(&picture(&Transform::IDENTITY), Light::Same);
    let moved = Prepared::new(&picture(&shift), Light::Same);
    let found = search(&reference, &moved).unwrap();
    let error = corner_error(&found.reference_from_moved, &shift);
    assert!(error < 0.02, "corner error {error} px");
}

#[test]
fn links_around_a_ring_agree() {
    let motion = |x: f64| Similarity {
        log_scale: 0.001 * x,
        angle_rad: 0.0,
        shift: Point::new(x, 2.0 * x),
    };
    let links = [(0, 1, 1.0), (1, 2, 1.0), (0, 2, 2.0)].map(|(from, to, x)| Link {
        from,
        to,
        from_to: motion(x),
        weight: 1.0,
    });
    let places = solve_links(3, 1, &links);
    assert!((places[0].shift.x + 1.0).abs() < 1e-9, "{places:?}");
    assert!((places[2].log_scale - 0.001).abs() < 1e-12, "{places:?}");
}
