//! Dust and hair against the truth, on a backdrop and on a hull full of rivets, panel lines and antennas; and, with a second picture that
//! was taken after cleaning, on the demo's models too.

#[path = "common/disc_blur.rs"]
mod disc_blur;
#[path = "common/dust_set.rs"]
mod dust_set;
#[path = "common/layered_scene.rs"]
mod layered_scene;
#[path = "common/plate_psnr.rs"]
mod plate_psnr;
#[path = "common/second_set.rs"]
mod second_set;

use dust_set::{Score, backdrop, fibres, hull, spot, strew};
use layered_scene::noisy;
use platebench::geometry::{Point, Rect};
use platebench::imaging::spotting::{Kind, USUAL_CONFIDENCE, find, find_against};
use platebench::pixels::{Plane, Planes};
use second_set::{Both, pair, pair_with};
use std::path::Path;

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
        score.add(&find(&seen, None).found, &strewn, &[]);
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
        score.add(&find(&seen, None).found, &strewn, &built);
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
    let found = find(&seen, None).found;
    let sure: Vec<_> = found
        .iter()
        .filter(|find| find.confidence >= USUAL_CONFIDENCE)
        .collect();
    assert_eq!(sure.len(), 1, "{sure:?}");
    assert!(sure[0].points[0].distance(grain) < 1.0, "{sure:?}");
}

fn grey(plane: &Plane) -> Planes {
    Planes {
        rgb: [1.0, 0.98, 0.94].map(|part| plane.map(|light| light * part)),
    }
}

fn everywhere(ground: &Planes) -> Plane {
    Plane::filled(ground.rect(), 1.0)
}

/// Light of one of the demo's pictures, and how far the model covers it.
fn demo(picture: &str, coverage: &str) -> (Planes, Plane) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo_scenes/ice_shift");
    let covered = plate_psnr::light(&folder.join(coverage));
    let [covered, ..] = covered.rgb;
    (plate_psnr::light(&folder.join(picture)), covered)
}

/// The middle of the barge at full size, all in focus and without noise.
fn barge() -> (Planes, Plane) {
    let (light, covered) = demo("truth/barge/all_in_focus.jpg", "truth/barge/coverage.png");
    let part = |plane: &Plane| {
        let whole = Rect::new(0, 0, 1200, 800);
        Plane::from_fn(whole, |x, y| plane.at(x + 640, y + 420))
    };
    let rgb = light.rgb.each_ref().map(part);
    (Planes { rgb }, part(&covered))
}

/// A photograph of the tug or the buoy at half its size, which takes its noise away.
fn small(name: &str, number: u8) -> (Planes, Plane) {
    let (light, covered) = demo(
        &format!("scene/photos/{name}/{name}_unlit_0{number}.jpg"),
        &format!("truth/{name}/coverage.png"),
    );
    let half = |plane: &Plane| {
        Plane::from_fn(Rect::new(0, 0, 1200, 800), |x, y| {
            let row = |y: i32| plane.at(2 * x, y) + plane.at(2 * x + 1, y);
            0.25 * (row(2 * y) + row(2 * y + 1))
        })
    };
    let rgb = light.rgb.each_ref().map(half);
    (Planes { rgb }, half(&covered))
}

/// Of one picture of a richly detailed model hardly anything is proposed, and it is said how much was passed over: nearly all of it is built.
#[test]
fn detail_of_the_demos_models_is_passed_over() {
    let grounds = [
        ("barge", barge(), 6),
        ("tug", small("tug", 1), 20),
        ("buoy", small("buoy", 2), 20),
    ];
    for (name, (ground, _), most) in grounds {
        let finds = find(&noisy(&ground, 98_901, 20_000.0, 4.0), None);
        let sure = finds.found.iter();
        let sure = sure.filter(|find| find.confidence >= USUAL_CONFIDENCE);
        let (sure, passed_over) = (sure.count(), finds.look_alikes);
        #[expect(clippy::print_stdout, reason = "says what was measured")]
        {
            println!("{name}: {sure} proposed, {passed_over} passed over");
        }
        assert!(sure <= most, "{name}: {sure} proposed");
        assert!(passed_over > 3 * sure, "{name}: {passed_over}, {sure}");
    }
}

fn on_model(covered: &Plane) -> Plane {
    covered.map(|covered| f32::from(u8::from(covered > 0.9)))
}

fn beside_model(covered: &Plane) -> Plane {
    covered.map(|covered| f32::from(u8::from(covered < 0.01)))
}

/// The grounds and the weights of one picture alone are `dust_set.rs`'s; the demo's buoy stands before a mid-grey backdrop.
#[test]
fn a_second_picture_makes_dust_on_a_backdrop_certain() {
    let mut both = Both::default();
    let ground = grey(&backdrop());
    both.add(&ground, &everywhere(&ground), &[98_001, 98_011]);
    let (buoy, covered) = small("buoy", 2);
    both.add(&buoy, &beside_model(&covered), &[98_021, 98_031]);
    let (recall, wrong) = both.report("backdrops, two pictures");
    assert!(recall >= 0.85, "{recall}");
    assert!(wrong <= 0.02, "{wrong}");
}

#[test]
fn a_second_picture_makes_dust_on_models_certain() {
    let mut all = Both::default();
    let mut add = |name: &str, (ground, covered): &(Planes, Plane), seeds: &[u64]| {
        let mut both = Both::default();
        both.add(ground, &on_model(covered), seeds);
        both.report(name);
        all.against.join(both.against);
        all.alone.join(both.alone);
    };
    add("barge", &barge(), &[98_101, 98_111, 98_121]);
    add("tug", &small("tug", 1), &[98_131, 98_141, 98_151]);
    add("buoy", &small("buoy", 2), &[98_161, 98_171, 98_181]);
    let (ground, ..) = hull(98_191);
    let ground = (grey(&ground), everywhere(&grey(&ground)));
    add("hull", &ground, &[98_191]);
    let (recall, wrong) = all.report("models, two pictures");
    assert!(recall >= 0.70, "{recall}");
    assert!(
        wrong <= 0.02,
        "{wrong} of the finds are neither dust nor hair"
    );
}

/// From one picture alone a straight line is taken for a panel line or an antenna, of which a hull is full.
#[test]
fn straight_fibres_are_found_against_a_second_picture() {
    let (mut against, mut alone) = (Score::default(), Score::default());
    for seed in [98_211, 98_221, 98_231] {
        let (ground, ..) = hull(seed);
        let ground = grey(&ground);
        let laid = fibres(ground.rect(), 12, seed, &|_at| true);
        let pair = pair_with(&ground, laid, seed);
        let found = find_against(&pair.dusty, &pair.cleaned, &pair.shown);
        against.add(&found, &pair.strewn, &[]);
        alone.add(&find(&pair.dusty, None).found, &pair.strewn, &[]);
    }
    report("straight fibres, one picture", &alone);
    report("straight fibres, two pictures", &against);
    let (_, right, _, seen) = against.at(USUAL_CONFIDENCE);
    assert!(seen >= 0.7, "{seen} of the fibres are found");
    assert!(right >= 0.98, "{right} of the finds are fibres");
}

/// What only the second picture shows came after the first: it is no reason to fill anything.
#[test]
fn dust_on_the_second_picture_is_hardly_taken_for_dust_on_the_first() {
    let ground = grey(&backdrop());
    let pair = pair(&ground, &everywhere(&ground), 98_201);
    let sure = |dusty: &Planes, other: &Planes| {
        let found = find_against(dusty, other, &pair.shown);
        let sure = found
            .iter()
            .filter(|find| find.kind == Kind::Dust && find.confidence >= USUAL_CONFIDENCE);
        sure.count()
    };
    let (found, taken) = (
        sure(&pair.dusty, &pair.cleaned),
        sure(&pair.cleaned, &pair.dusty),
    );
    assert!(found > 50, "{found}");
    // The rims of a few large grains are taken for grains of the opposite sign.
    assert!(20 * taken <= found, "{taken} of {found}");
}
