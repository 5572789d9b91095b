//! A model that moved in itself between the unlit photo and the light pass: found, bent back, and told where it moved too far; and
//! nothing bent where nothing moved.
#![expect(
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a failed step is a failed test, and the measured numbers are worth reading with --nocapture"
)]

mod common;

use common::layered_scene::{Backdrop, LayeredScene, STEP_PX, luma};
use common::lit_judged::{ALL, SHOTS, shot};
use common::lit_set::{LitSet, PASS, Shoot, Shot, VARIANT, page};
use platebench::geometry::Point;
use platebench::pixels::convert::count_f64;
use platebench::project::{KeyLight, PlateEdit, TakeFrame};

fn set() -> LitSet {
    LitSet::on(LayeredScene::new(4, Backdrop::Grey).render(7.0, STEP_PX))
}

/// A part about (350, 560) sags by `by` px: the middle of it most, 130 px away a tenth of that.
fn sag(by: f64) -> impl Fn(Point) -> Point + Sync {
    move |point| {
        let (dx, dy) = (point.x - 350.0, point.y - 560.0);
        let share = libm::exp(-(dx * dx + dy * dy) / (2.0 * 60.0 * 60.0));
        Point::new(point.x - 0.4 * by * share, point.y - by * share)
    }
}

fn shoot(set: &LitSet, how: (&Shot, KeyLight), by: f64) -> Shoot {
    shoot_where(set, how, &sag(by))
}

fn shoot_where(
    set: &LitSet,
    (shot, key_light): (&Shot, KeyLight),
    was_at: &(impl Fn(Point) -> Point + Sync),
) -> Shoot {
    let lit = set.flexed_photo(&ALL, shot, was_at);
    let lit = (lit, Some(f64::from(shot.exposure)));
    Shoot::new(&set.unlit_photo(1), &[lit], key_light)
}

/// Where the unlit photo's `point` is looked for in the lit one.
fn looked_for(frame: &TakeFrame, point: Point) -> Point {
    let bent = frame
        .flexed
        .as_ref()
        .map_or(point, |mesh| mesh.apply(point));
    frame.to_reference.inverse().unwrap().apply(bent)
}

/// Where it is.
fn is_at(shot: &Shot, by: f64, point: Point) -> Point {
    let was_at = sag(by);
    let mut found = point;
    for _step in 0..30 {
        let was = was_at(found);
        found = Point::new(found.x + point.x - was.x, found.y + point.y - was.y);
    }
    shot.lit_from_unlit().apply(found)
}

/// Root mean square distance between the two where the part moved by more than half a pixel.
fn off_px(frame: &TakeFrame, shot: &Shot, by: f64) -> f64 {
    let (mut sum, mut count) = (0.0, 0_usize);
    for y in (460..660).step_by(8) {
        for x in (250..450).step_by(8) {
            let point = Point::new(f64::from(x), f64::from(y));
            if sag(by)(point).distance(point) > 0.5 {
                let off = looked_for(frame, point).distance(is_at(shot, by, point));
                sum += off * off;
                count += 1;
            }
        }
    }
    (sum / count_f64(count)).sqrt()
}

/// Mean error of the separated light over the part.
fn light_error(set: &LitSet, shoot: &Shoot) -> f64 {
    let (found, truth) = (shoot.separated(), luma(&set.light(&ALL)));
    let (mut sum, mut count) = (0.0, 0_usize);
    for y in 500..620 {
        for x in 290..410 {
            let at = page().index(x, y);
            let [red, green, blue, _] = found.light.data[at];
            let light = 0.2627 * red + 0.6780 * green + 0.0593 * blue;
            sum += f64::from((light - truth.data[at]).abs());
            count += 1;
        }
    }
    sum / count_f64(count)
}

/// The same photos with nothing bent.
fn straight(set: &LitSet, how: (&Shot, KeyLight), by: f64) -> Shoot {
    let mut shoot = shoot(set, how, by);
    let mut measured = shoot.measured();
    measured
        .frames
        .iter_mut()
        .for_each(|frame| frame.flexed = None);
    shoot.edit(PlateEdit::RecordTake(VARIANT, PASS, measured));
    shoot
}

#[test]
fn a_part_that_sagged_is_bent_back() {
    let set = set();
    for (key, key_light) in [(1.0, KeyLight::Auto), (0.15, KeyLight::Dimmed)] {
        let taken = shot(key, 1.0, (0.6, -0.3), 0.01, 51);
        for by in [2.0, 4.0] {
            let how = (&taken, key_light);
            let (bent, straight) = (shoot(&set, how, by), straight(&set, how, by));
            let off = |shoot: &Shoot| off_px(&shoot.measured().frames[0], &taken, by);
            let (before, after) = (off(&straight), off(&bent));
            let light = [&straight, &bent].map(|shoot| light_error(&set, shoot));
            println!(
                "key {key}, sag {by}: {before:.2} px before, {after:.2} px after; light off by {light:.4?}"
            );
            assert!(after < 0.35 * before, "{after} of {before}");
            assert!(light[1] < 0.75 * light[0], "{light:?}");
            let frame = &bent.measured().frames[0];
            assert!(
                frame.farthest_off_px() < TakeFrame::FARTHEST_BENT_PX,
                "near"
            );
        }
    }
}

#[test]
fn nothing_is_bent_where_nothing_moved() {
    let set = set();
    for (name, shot, key_light) in &SHOTS {
        let shoot = shoot(&set, (shot, *key_light), 0.0);
        let frame = &shoot.measured().frames[0];
        println!(
            "{name}: {} places, farthest {:.2} px",
            frame.left.len(),
            frame.farthest_off_px()
        );
        assert!(
            frame.flexed.is_none(),
            "{name}: bent by {} px",
            frame.bent_px()
        );
    }
}

#[test]
fn a_part_that_moved_too_far_is_told_and_not_bent() {
    let set = set();
    let taken = shot(1.0, 1.0, (0.6, -0.3), 0.01, 52);
    // A part that came loose: as a whole, and around it a seam.
    let loose = |point: Point| {
        let far = point.distance(Point::new(350.0, 560.0));
        let share = ((150.0 - far) / 30.0).clamp(0.0, 1.0);
        Point::new(point.x - 3.0 * share, point.y - 10.0 * share)
    };
    let shoot = shoot_where(&set, (&taken, KeyLight::Auto), &loose);
    let frame = &shoot.measured().frames[0];
    let (bent, off) = (frame.bent_px(), frame.farthest_off_px());
    println!("loose by 10.4 px: bent {bent:.1} px, farthest off {off:.1} px");
    assert!(off > TakeFrame::FARTHEST_BENT_PX, "told");
}
