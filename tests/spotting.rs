//! Dust and hair against the truth, on a backdrop and on a hull full of rivets, panel lines and antennas.

#[path = "common/disc_blur.rs"]
mod disc_blur;
#[path = "common/dust_set.rs"]
mod dust_set;
#[path = "common/layered_scene.rs"]
mod layered_scene;

use dust_set::{Score, backdrop, hull, spot, strew};
use platebench::geometry::Point;
use platebench::imaging::spotting::{Kind, USUAL_CONFIDENCE, find};

fn report(what: &str, score: &Score) -> (f64, f64) {
    let (least, recall) = score.recall_at(0.9);
    let (count, right, built, seen) = score.at(USUAL_CONFIDENCE);
    let of = |kind: Kind| {
        let all: Vec<_> = score.strewn.iter().filter(|one| one.0 == kind).collect();
        let seen = all.iter().filter(|one| one.1 >= least).count();
        format!("{seen} of {}", all.len())
    };
    #[expect(clippy::print_stdout, reason = "says what was measured")]
    {
        println!(
            "{what}: recall {recall:.3} at 90 % precision (confidence {least:.2}; dust {}, hair {}); usual: {count} finds, {right:.3} right, {built:.3} built, {seen:.3} seen",
            of(Kind::Dust),
            of(Kind::Hair)
        );
    }
    (recall, built)
}

#[test]
fn dust_and_hair_on_a_backdrop_are_found() {
    let mut score = Score::default();
    for seed in (97_001..97_041).step_by(10) {
        let (seen, _, strewn) = strew(&backdrop(), (70, 8), seed);
        score.add(&find(&seen, None), &strewn, &[]);
    }
    let (recall, _) = report("backdrop", &score);
    assert!(recall >= 0.85, "{recall}");
}

#[test]
fn dust_and_hair_on_a_hull_are_found_among_many_rivets() {
    let mut score = Score::default();
    for seed in (96_001..96_081).step_by(10) {
        let (ground, built, rivets) = hull(seed);
        let hairs = 8;
        assert!(rivets >= 10 * hairs, "{rivets} rivets");
        let (seen, _, strewn) = strew(&ground, (70, hairs), seed);
        score.add(&find(&seen, None), &strewn, &built);
    }
    let (recall, built) = report("hull", &score);
    assert!(recall >= 0.70, "{recall}");
    assert!(
        built <= 0.02,
        "{built} of the finds are rivets, lines or antennas"
    );
}

#[test]
fn bolts_round_a_flange_are_no_grains_and_one_beside_them_is() {
    let mut ground = backdrop();
    let grain = Point::new(600.0, 300.0);
    spot(&mut ground, grain, 2.0, -0.15);
    for bolt in 0..16_u8 {
        let angle = std::f64::consts::TAU * f64::from(bolt) / 16.0;
        let (x, y) = (40.0 * libm::cos(angle), 40.0 * libm::sin(angle));
        spot(&mut ground, Point::new(500.0 + x, 300.0 + y), 1.5, -0.15);
    }
    let (seen, ..) = strew(&ground, (0, 0), 7);
    let found = find(&seen, None);
    let sure: Vec<_> = found
        .iter()
        .filter(|find| find.confidence >= USUAL_CONFIDENCE)
        .collect();
    assert_eq!(sure.len(), 1, "{sure:?}");
    assert!(sure[0].points[0].distance(grain) < 1.0, "{sure:?}");
}
