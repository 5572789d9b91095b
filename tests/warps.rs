//! Warps: what is fixed stays, what is moved lands, nothing folds.
#![expect(clippy::unwrap_used, reason = "a test may stop at once")]

use platebench::geometry::{Point, Rect};
use platebench::imaging::warp::{
    Beyond, Corners, Field, Handle, Handles, STRETCH_WARNS, Strake, Warp, measured, sample_at,
};

fn point(x: f64, y: f64) -> Point {
    Point::new(x, y)
}

/// Where `was` of the plate as it was lies on the warped plate, by going back from a guess until it fits.
fn now_at(field: &Field, was: Point) -> Point {
    let mut now = was;
    for _round in 0..200 {
        let back = field.was_at(now);
        now = point(
            now.x + 0.7 * (was.x - back.x),
            now.y + 0.7 * (was.y - back.y),
        );
    }
    now
}

fn grid(area: Rect, step: usize) -> impl Iterator<Item = Point> {
    (area.y0..area.y1).step_by(step).flat_map(move |y| {
        (area.x0..area.x1)
            .step_by(step)
            .map(move |x| point(f64::from(x) + 0.37, f64::from(y) + 0.61))
    })
}

const PAGE: Rect = Rect::new(0, 0, 900, 700);

fn handles(pairs: &[(Point, Point)], outline: Vec<Point>, soft: f64) -> Field {
    let handles = pairs.iter().map(|(was, now)| Handle {
        was: *was,
        now: *now,
    });
    Field::new(vec![Warp::Handles(Handles::new(
        handles.collect(),
        outline,
        soft,
    ))])
}

const PLACES: [(f64, f64); 5] = [
    (120.0, 130.0),
    (600.0, 200.0),
    (420.0, 390.0),
    (200.0, 560.0),
    (700.0, 600.0),
];

#[test]
fn handles_that_stay_move_nothing_and_a_shift_shifts_exactly() {
    for (dx, dy) in [(0.0, 0.0), (17.25, -9.5)] {
        let pairs = PLACES.map(|(x, y)| (point(x, y), point(x + dx, y + dy)));
        let field = handles(&pairs, Vec::new(), 1.0);
        let worst = grid(PAGE, 23)
            .map(|at| field.was_at(at).distance(point(at.x - dx, at.y - dy)))
            .fold(0.0, f64::max);
        assert!(worst < 1e-9, "({dx}, {dy}): {worst:e}");
    }
}

#[test]
fn handles_turned_together_turn_everything() {
    let (sin, cos) = (
        libm::sin(10.0_f64.to_radians()),
        libm::cos(10.0_f64.to_radians()),
    );
    let turned = |at: Point, way: f64| {
        let (x, y) = (at.x - 400.0, at.y - 300.0);
        point(
            400.0 + cos * x - way * sin * y,
            300.0 + way * sin * x + cos * y,
        )
    };
    let pairs = PLACES.map(|(x, y)| (point(x, y), turned(point(x, y), 1.0)));
    let field = handles(&pairs, Vec::new(), 1.0);
    let worst = grid(PAGE, 23)
        .map(|at| field.was_at(at).distance(turned(at, -1.0)))
        .fold(0.0, f64::max);
    assert!(worst < 1e-4, "{worst:e}");
}

#[test]
fn handles_land_and_their_outline_stays() {
    let outline = vec![
        point(100.0, 100.0),
        point(800.0, 100.0),
        point(800.0, 600.0),
        point(100.0, 600.0),
    ];
    let pairs = [
        (point(300.0, 300.0), point(318.0, 290.0)),
        (point(600.0, 400.0), point(590.0, 412.0)),
    ];
    let field = handles(&pairs, outline, 120.0);
    for (was, now) in pairs {
        assert!(field.was_at(now).distance(was) < 1e-6, "{was:?}");
    }
    for at in grid(PAGE, 11) {
        let outside = at.x < 100.0 || at.x > 800.0 || at.y < 100.0 || at.y > 600.0;
        if outside {
            assert!(field.was_at(at).distance(at) < 1e-9, "{at:?} moved");
        }
        assert!(sample_at(&field, at).area > 0.0, "folds at {at:?}");
    }
}

#[test]
fn a_line_of_handles_stays_straight() {
    let moved = Handles::of_line(
        [point(200.0, 200.0), point(600.0, 260.0)],
        [point(205.0, 220.0), point(604.0, 250.0)],
    );
    let field = Field::new(vec![Warp::Handles(Handles::new(moved, Vec::new(), 1.0))]);
    let (from, to) = (point(205.0, 220.0), point(604.0, 250.0));
    for step in 0..=100 {
        let t = f64::from(step) / 100.0;
        let back = field.was_at(from.towards(to, t));
        let on_line = point(200.0, 200.0).towards(point(600.0, 260.0), t);
        assert!(back.distance(on_line) < 0.6, "{step}: {back:?}");
    }
}

/// Guide lines that bend, the second one moved mostly across the band.
fn bent(beyond: Beyond) -> (Vec<Point>, Vec<Point>, Vec<Point>, Field) {
    let kept: Vec<Point> = (0..6)
        .map(|at| {
            point(
                150.0 + 100.0 * f64::from(at),
                420.0 + 6.0 * f64::from(at % 3),
            )
        })
        .collect();
    let was: Vec<Point> = (0..6)
        .map(|at| {
            point(
                155.0 + 99.0 * f64::from(at),
                300.0 - 5.0 * f64::from(at % 2),
            )
        })
        .collect();
    let now: Vec<Point> = was
        .iter()
        .enumerate()
        .map(|(at, was)| point(was.x + 1.0, was.y - 18.0 - at as f64))
        .collect();
    let strake = Strake::new(&kept, (&was, &now), beyond, 60.0).unwrap();
    let field = Field::new(vec![Warp::Strake(strake)]);
    (kept, was, now, field)
}

#[test]
fn a_strake_meets_its_guide_lines() {
    for beyond in [Beyond::GivesWay, Beyond::IsCovered] {
        let (kept, was, now, field) = bent(beyond);
        for pair in 0..was.len() - 1 {
            for step in 0..=20 {
                let t = f64::from(step) / 20.0;
                let at_now = now[pair].towards(now[pair + 1], t);
                let at_was = was[pair].towards(was[pair + 1], t);
                // The last point inside the band: a covered gap begins at the line itself.
                let inside = point(at_now.x, at_now.y + 1e-6);
                let off = field.was_at(inside).distance(at_was);
                assert!(off < 0.05, "{beyond:?} moved line, {pair} {step}: {off}");
                let on_kept = kept[pair].towards(kept[pair + 1], t);
                let off = field.was_at(on_kept).distance(on_kept);
                assert!(off < 0.05, "kept line, {pair} {step}: {off}");
            }
        }
    }
}

#[test]
fn outside_its_soft_edge_a_strake_moves_nothing_and_it_never_folds() {
    for beyond in [Beyond::GivesWay, Beyond::IsCovered] {
        let (.., field) = bent(beyond);
        for at in grid(PAGE, 3) {
            let below = at.y > 440.0;
            let above = at.y < 270.0 - 62.0;
            let beside = at.x < 155.0 - 62.0 || at.x > 651.0 + 62.0;
            if below || above || beside {
                assert!(field.was_at(at).distance(at) < 0.01, "{at:?} moved");
            }
            assert!(sample_at(&field, at).area > 0.0, "folds at {at:?}");
        }
    }
}

#[test]
fn a_strake_brings_points_where_its_line_went() {
    let (_, was, now, field) = bent(Beyond::GivesWay);
    for (was, now) in was.iter().zip(&now).skip(1).take(4) {
        let found = now_at(&field, *was);
        assert!(found.distance(*now) < 0.05, "{found:?} for {now:?}");
    }
}

#[test]
fn a_strake_that_would_turn_inside_out_is_refused() {
    let kept = [point(0.0, 100.0), point(200.0, 100.0)];
    let was = [point(0.0, 50.0), point(200.0, 50.0)];
    let through = [point(0.0, 130.0), point(200.0, 130.0)];
    assert!(Strake::new(&kept, (&was, &through), Beyond::GivesWay, 30.0).is_none());
    let back = [point(0.0, 50.0), point(150.0, 50.0), point(100.0, 50.0)];
    assert!(Strake::new(&kept, (&back, &back), Beyond::GivesWay, 30.0).is_none());
}

#[test]
fn strong_stretch_is_said_with_its_place() {
    let kept = [point(100.0, 400.0), point(700.0, 400.0)];
    let was = [point(100.0, 300.0), point(700.0, 300.0)];
    let stretched = |by: f64| {
        let now = was.map(|was| point(was.x, was.y - by));
        let strake = Strake::new(&kept, (&was, &now), Beyond::GivesWay, 80.0).unwrap();
        measured(&Field::new(vec![Warp::Strake(strake)]), PAGE)
    };
    let mild = stretched(10.0);
    assert!(
        mild.most < STRETCH_WARNS && mild.beyond.is_empty(),
        "{mild:?}"
    );
    let strong = stretched(40.0);
    assert!(
        strong.most > 1.35 && !strong.beyond.is_empty(),
        "{strong:?}"
    );
    assert!(strong.least_area > 0.0, "{strong:?}");
    assert!(
        strong.beyond.y1 <= 404 && strong.beyond.y0 >= 250,
        "{strong:?}"
    );
}

#[test]
fn corners_land_and_far_places_stay() {
    let was = [
        point(200.0, 200.0),
        point(600.0, 200.0),
        point(600.0, 500.0),
        point(200.0, 500.0),
    ];
    let now = [
        point(210.0, 190.0),
        point(590.0, 215.0),
        point(612.0, 505.0),
        point(195.0, 490.0),
    ];
    let corners = Corners::new(was, now, 90.0).unwrap();
    let field = Field::new(vec![Warp::Corners(corners)]);
    for (was, now) in was.iter().zip(&now) {
        let inside = now.towards(point(400.0, 350.0), 1e-9);
        assert!(field.was_at(inside).distance(*was) < 1e-4, "{was:?}");
    }
    for at in grid(PAGE, 7) {
        assert!(sample_at(&field, at).area > 0.0, "folds at {at:?}");
        if at.x < 100.0 || at.x > 705.0 || at.y < 95.0 || at.y > 600.0 {
            assert!(field.was_at(at).distance(at) < 1e-9, "{at:?} moved");
        }
    }
    let turned_over = [was[1], was[0], was[3], was[2]];
    assert!(Corners::new(was, turned_over, 90.0).is_none());
}

#[test]
fn what_a_field_reads_is_told() {
    let (.., field) = bent(Beyond::GivesWay);
    assert!(
        field.needed(Rect::new(0, 600, 50, 650)).is_none(),
        "nothing moves there"
    );
    let area = Rect::new(200, 250, 260, 300);
    let needed = field.needed(area).unwrap();
    for at in grid(area, 5) {
        let was = field.was_at(at);
        assert!(
            needed.covers(Rect::around(&[was])),
            "{was:?} outside {needed:?}"
        );
    }
}
