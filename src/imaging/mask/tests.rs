//! What masks promise.

use super::*;
use proptest::prelude::*;

fn dab(x: f64, y: f64, radius_px: f32, softness: f32) -> Part {
    Part {
        mode: Mode::Add,
        shape: Shape::Stroke(Stroke {
            points: vec![Point::new(x, y)],
            radius_px,
            softness,
            strength: 1.0,
            ..Stroke::default()
        }),
    }
}

fn outline(points: &[(f64, f64)], feather_px: f32) -> Part {
    Part {
        mode: Mode::Add,
        shape: Shape::Outline(Outline {
            nodes: points
                .iter()
                .map(|(x, y)| Node {
                    at: Point::new(*x, *y),
                    ..Node::default()
                })
                .collect(),
            feather_px,
            strength: 1.0,
        }),
    }
}

fn sum(plane: &Plane) -> f64 {
    plane.data.iter().map(|value| f64::from(*value)).sum()
}

const PAGE: Rect = Rect::new(0, 0, 96, 80);

#[test]
fn a_hard_dab_has_the_area_of_its_disc() {
    let mask = rasterise(&[dab(40.3, 39.6, 20.0, 0.0)], &Adjust::default(), PAGE, 0);
    let want = std::f64::consts::PI * 400.0;
    assert!(
        (sum(&mask) / want - 1.0).abs() < 2e-3,
        "{} of {want}",
        sum(&mask)
    );
    assert!((mask.at(40, 40) - 1.0).abs() < 1e-6);
}

#[test]
fn outlines_cover_exact_areas_whichever_way_they_run() {
    let corners = [(10.25, 8.5), (70.75, 12.125), (64.5, 60.0), (20.0, 71.75)];
    let mut shoelace = 0.0;
    for at in 0..4 {
        let (a, b) = (corners[at], corners[(at + 1) % 4]);
        shoelace += 0.5 * (a.0 * b.1 - b.0 * a.1);
    }
    let forward = rasterise(&[outline(&corners, 0.0)], &Adjust::default(), PAGE, 0);
    assert!(
        (sum(&forward) - shoelace).abs() < 2e-3,
        "{} of {shoelace}",
        sum(&forward)
    );
    let mut back = corners;
    back.reverse();
    let backward = rasterise(&[outline(&back, 0.0)], &Adjust::default(), PAGE, 0);
    assert_eq!(forward, backward);
    let outside = forward.at(5, 5) + forward.at(90, 40);
    assert!(outside <= 0.0, "outside is exactly 0, not {outside}");
}

#[test]
fn a_square_drawn_twice_round_counts_once() {
    let twice = [
        (10.0, 10.0),
        (30.0, 10.0),
        (30.0, 30.0),
        (10.0, 30.0),
        (10.0, 10.0),
        (30.0, 10.0),
        (30.0, 30.0),
        (10.0, 30.0),
    ];
    let mask = rasterise(&[outline(&twice, 0.0)], &Adjust::default(), PAGE, 0);
    assert!((sum(&mask) - 400.0).abs() < 1e-3, "{}", sum(&mask));
}

#[test]
fn four_bends_make_a_circle() {
    let (r, k) = (25.0, 25.0 * 0.552_284_749_8);
    let corner = |dx: f64, dy: f64| {
        let at = Point::new(45.0 + r * dx, 40.0 + r * dy);
        Node {
            at,
            arrive: Some(Point::new(at.x + k * dy, at.y - k * dx)),
            leave: Some(Point::new(at.x - k * dy, at.y + k * dx)),
        }
    };
    let part = Part {
        mode: Mode::Add,
        shape: Shape::Outline(Outline {
            nodes: vec![
                corner(1.0, 0.0),
                corner(0.0, 1.0),
                corner(-1.0, 0.0),
                corner(0.0, -1.0),
            ],
            feather_px: 0.0,
            strength: 1.0,
        }),
    };
    let area = sum(&rasterise(&[part], &Adjust::default(), PAGE, 0));
    let want = std::f64::consts::PI * r * r;
    assert!((area / want - 1.0).abs() < 2e-3, "{area} of {want}");
}

#[test]
fn parts_add_and_remove_in_order() {
    let mut half = dab(30.0, 30.0, 10.0, 0.0);
    if let Shape::Stroke(stroke) = &mut half.shape {
        stroke.strength = 0.5;
    }
    let mut gone = half.clone();
    gone.mode = Mode::Remove;
    let at = |parts: &[Part]| rasterise(parts, &Adjust::default(), PAGE, 0).at(30, 30);
    assert!((at(&[half.clone(), half.clone()]) - 0.75).abs() < 1e-6);
    assert!((at(&[half.clone(), gone.clone()]) - 0.25).abs() < 1e-6);
    assert!((at(&[gone, half]) - 0.5).abs() < 1e-6);
}

#[test]
fn growing_and_shrinking_move_the_edge() {
    let square = [(30.0, 20.0), (60.0, 20.0), (60.0, 50.0), (30.0, 50.0)];
    let row = |grow_px: f32| -> f64 {
        let adjust = Adjust {
            grow_px,
            ..Adjust::default()
        };
        let mask = rasterise(&[outline(&square, 0.0)], &adjust, PAGE, 0);
        mask.row(35).iter().map(|value| f64::from(*value)).sum()
    };
    for (grow_px, want) in [(0.0, 30.0), (4.0, 38.0), (2.5, 35.0), (-3.0, 24.0)] {
        assert!(
            (row(grow_px) - want).abs() < 1e-3,
            "{grow_px}: {} for {want}",
            row(grow_px)
        );
    }
}

#[test]
fn a_feather_is_as_wide_as_asked_and_keeps_the_area() {
    let square = [
        (-400.0, -400.0),
        (300.0, -400.0),
        (300.0, 400.0),
        (-400.0, 400.0),
    ];
    for width in [6.0_f32, 40.0] {
        let mask = rasterise(
            &[outline(&square, width)],
            &Adjust::default(),
            Rect::new(200, 0, 400, 1),
            0,
        );
        let within = mask
            .data
            .iter()
            .filter(|value| (0.1..=0.9).contains(*value))
            .count();
        let within = convert::count_f32(within);
        assert!((within - width).abs() <= 1.5, "{within} of {width}");
        let covered = sum(&mask);
        assert!((covered - 100.0).abs() < 0.05, "{covered}");
    }
}

#[test]
fn inverted_masks_are_solid_outside() {
    let adjust = Adjust {
        invert: true,
        ..Adjust::default()
    };
    let mask = rasterise(&[dab(30.0, 30.0, 8.0, 0.5)], &adjust, PAGE, 0);
    assert!(mask.at(30, 30) < 1e-6 && (mask.at(80, 70) - 1.0).abs() < 1e-6);
}

#[test]
fn levels_agree_with_the_shrunken_picture() {
    let parts = [
        dab(40.0, 39.0, 21.0, 0.4),
        outline(&[(11.0, 9.0), (70.0, 13.0), (64.0, 61.0)], 5.0),
    ];
    let full = rasterise(&parts, &Adjust::default(), Rect::new(0, 0, 96, 80), 0);
    let small = rasterise(&parts, &Adjust::default(), Rect::new(0, 0, 24, 20), 2);
    for y in 0..20 {
        for x in 0..24 {
            let mut mean = 0.0;
            for dy in 0..4 {
                for dx in 0..4 {
                    mean += full.at(4 * x + dx, 4 * y + dy) / 16.0;
                }
            }
            assert!(
                (mean - small.at(x, y)).abs() < 0.12,
                "({x}, {y}): {mean} {}",
                small.at(x, y)
            );
        }
    }
}

fn any_part() -> impl Strategy<Value = Part> {
    let place = || (-20.0..120.0_f64, -20.0..100.0_f64);
    let brush = (
        proptest::collection::vec((place(), 0.1..1.0_f32), 1..6),
        0.2..25.0_f32,
        0.0..1.0_f32,
        proptest::bool::ANY,
    )
        .prop_map(|(points, radius_px, softness, adds)| Part {
            mode: if adds { Mode::Add } else { Mode::Remove },
            shape: Shape::Stroke(Stroke {
                points: points
                    .iter()
                    .map(|((x, y), _)| Point::new(*x, *y))
                    .collect(),
                pressure: points.iter().map(|(_, pressure)| *pressure).collect(),
                radius_px,
                softness,
                strength: 0.7,
            }),
        });
    let closed = (proptest::collection::vec(place(), 3..7), 0.0..30.0_f32)
        .prop_map(|(points, feather_px)| outline(&points, feather_px));
    prop_oneof![brush, closed]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn tiles_agree_bit_for_bit_and_parts_keep_to_their_bounds(
        parts in proptest::collection::vec(any_part(), 1..4),
        grow_px in -4.0..4.0_f32,
        feather_px in 0.0..20.0_f32,
        level in 0..3_u32,
    ) {
        let adjust = Adjust { grow_px, feather_px, invert: false };
        let whole = rasterise(&parts, &adjust, Rect::new(-10, -10, 110, 90), level);
        for tile in [Rect::new(-10, -10, 37, 41), Rect::new(37, 5, 38, 90), Rect::new(38, 41, 110, 90)] {
            let cut = rasterise(&parts, &adjust, tile, level);
            prop_assert_eq!(&cut, &whole.crop(tile));
        }
        for part in &parts {
            let mut part = part.clone();
            part.mode = Mode::Add;
            let page = Rect::new(-200, -200, 300, 300);
            let alone = rasterise(std::slice::from_ref(&part), &Adjust::default(), page, level);
            let touched = bounds_at(&part, level);
            for y in page.y0..page.y1 {
                for x in page.x0..page.x1 {
                    prop_assert!(touched.contains(x, y) || alone.at(x, y) <= 0.0);
                }
            }
        }
    }
}
