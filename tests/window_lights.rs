//! The lights desk and the rules of masks, driven by the names that screen readers read.
#![cfg(feature = "window")]
#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    dead_code,
    reason = "a failed step is a failed test; the bench holds more than these tests use"
)]

mod window_bench;

use egui::{Pos2, vec2};
use egui_kittest::kittest::Queryable;
use platebench::geometry::Rect;
use platebench::project::{Mask, PracticalGroup, RangeOf, Rule, Shape, Sign};
use platebench::session::jobs::Work;
use platebench::window::queue::{Column, Doubled, Row};
use window_bench::{TUG, Window, choose, click, press_and_move, set, window};

fn group(window: &Window) -> &PracticalGroup {
    &window.state().project().plate(TUG).unwrap().groups[0]
}

fn mask(window: &Window) -> &Mask {
    &window.state().project().plate(TUG).unwrap().masks[0]
}

fn desk() -> Window {
    let mut window = window(Row::Plate(TUG), Column::Lights);
    click(&mut window, "Add a group from lit");
    window
}

#[test]
fn lamps_get_spikes_flicker_and_quiet_light() {
    let mut window = desk();
    assert!(
        (group(&window).denoise - 2.0).abs() < 1e-6,
        "new groups are calmed"
    );
    set(&mut window, "Calmed by of lights 1", 3.0);
    set(&mut window, "Colour of cores of lights 1", 80.0);
    click(&mut window, "Spikes of lights 1");
    set(&mut window, "Blades of lights 1", 9.0);
    set(&mut window, "Turn of lights 1", 15.0);
    set(&mut window, "f-number of lights 1", 22.0);
    set(&mut window, "Length of lights 1", 2.0);
    set(&mut window, "Spike share of lights 1", 25.0);
    set(&mut window, "Colour spread of lights 1", 0.5);
    click(&mut window, "Flicker of lights 1");
    set(&mut window, "Flickers by of lights 1", 1.25);
    set(&mut window, "Flicker seed of lights 1", 77.0);
    let group = group(&window);
    assert!((group.denoise - 3.0).abs() < 1e-6 && (group.keep_colour - 0.8).abs() < 1e-6);
    let spikes = group.spikes.unwrap();
    assert_eq!(spikes.blades, 9);
    let numbers = [
        spikes.turn_deg,
        spikes.f_number,
        spikes.length,
        spikes.share,
        spikes.spread,
    ];
    for (found, wanted) in numbers.iter().zip([15.0, 22.0, 2.0, 0.25, 0.5]) {
        assert!((found - wanted).abs() < 1e-5, "{numbers:?}");
    }
    let flicker = group.flicker.unwrap();
    assert_eq!((flicker.seed, flicker.hundredths), (77, 125));
    click(&mut window, "Spikes of lights 1");
    click(&mut window, "Flicker of lights 1");
    let after = &window.state().project().plate(TUG).unwrap().groups[0];
    assert!(after.spikes.is_none() && after.flicker.is_none());
}

#[test]
fn glow_is_sized_by_pixels_or_by_the_plate_and_colours_can_be_picked() {
    let mut window = desk();
    set(&mut window, "Glow of plate of lights 1", 5.0);
    assert!((group(&window).glow_px - 16.0).abs() < 1e-4, "320 px wide");
    set(&mut window, "Glow size of lights 1", 8.0);
    assert!((group(&window).glow_px - 8.0).abs() < 1e-4);
    set(&mut window, "Purity of lights 1", 60.0);
    set(&mut window, "Hue of lights 1", 30.0);
    let [r, g, b] = group(&window).tint_rgb;
    let luma = 0.2627 * r + 0.6780 * g + 0.0593 * b;
    assert!((luma - 1.0).abs() < 1e-3, "{r} {g} {b} keep the brightness");
    assert!(r > 1.05 * g && g > 1.05 * b, "{r} {g} {b} are orange");
}

#[test]
fn doubled_light_is_looked_for_and_shown() {
    let mut window = desk();
    let pass = group(&window).pass;
    click(&mut window, "Look for doubled light in lit");
    assert_eq!(
        window.state().started.last(),
        Some(&Work::FindDoubled(TUG, pass))
    );
    window.state_mut().doubled = Some(Doubled {
        plate: TUG,
        pass,
        places: vec![Rect::new(100, 50, 148, 98)],
    });
    window.run();
    let finding = "light of 'lit' doubles, place 1";
    window
        .get_by_label_contains(&format!("Show me: {finding}"))
        .click();
    window.run();
    let shown = window.state().shown.last().unwrap().at.unwrap();
    assert!((shown.x - 124.0).abs() < 1e-9 && (shown.y - 74.0).abs() < 1e-9);
}

#[test]
fn a_dragged_fader_drafts_and_records_once() {
    let mut window = desk();
    let before = window.state().edits();
    let rail = window.get_by_label("Colour of cores of lights 1").rect();
    let path: Vec<Pos2> = (0_u8..6)
        .map(|step| rail.center() + vec2(f32::from(step) * 4.0, 0.0))
        .collect();
    press_and_move(&mut window, &path);
    assert!(window.state().drafts > 2, "live while dragging");
    assert_eq!(window.state().edits(), before, "nothing is recorded yet");
    window.drop_at(path[5]);
    window.run();
    assert_eq!(window.state().edits(), before + 1);
    assert!(group(&window).keep_colour > 0.3);
}

#[test]
fn a_mask_is_asked_for() {
    let mut window = desk();
    click(&mut window, "Propose a mask for lights 1");
    let id = group(&window).id;
    let started = &window.state().started;
    assert!(started.contains(&Work::SuggestMask(TUG, id)), "{started:?}");
}

#[test]
fn light_outside_the_mask_is_faded() {
    let mut window = desk();
    assert!(
        window
            .query_by_label("Outside the mask of lights 1")
            .is_none()
    );
    click(&mut window, "New mask for lights 1");
    set(&mut window, "Outside the mask of lights 1", 40.0);
    assert!((group(&window).outside_share - 0.4).abs() < 1e-6);
}

#[test]
fn ranges_and_masks_become_parts() {
    let mut window = desk();
    click(&mut window, "New mask for lights 1");
    click(&mut window, "Draw the mask of lights 1");
    click(&mut window, "Add a brightness range");
    let name = "+ brightness range 1";
    set(&mut window, &format!("From of {name}"), 0.7);
    set(&mut window, &format!("Fades over of {name}"), 0.05);
    choose(
        &mut window,
        &format!("Looks at of {name}"),
        "the light of 'lit'",
    );
    let part = mask(&window).parts[0].clone();
    let Shape::Rule(Rule::Brightness { of, low, soft, .. }) = part.shape else {
        panic!("{part:?}");
    };
    assert!(matches!(of, RangeOf::Light(_)), "{of:?}");
    assert!((low - 0.7).abs() < 1e-6 && (soft - 0.05).abs() < 1e-6);
    click(&mut window, "Add a depth range");
    choose(
        &mut window,
        "Joins of + depth range 2",
        "keeps only what is within",
    );
    assert_eq!(mask(&window).parts[1].sign, Sign::Within);
    set(&mut window, "Up to of within depth range 2", 0.25);
    let part = mask(&window).parts[1].clone();
    assert!(
        matches!(part.shape, Shape::Rule(Rule::Depth { far, .. }) if (far - 0.25).abs() < 1e-6)
    );
    click(&mut window, "Add a colour range");
    set(&mut window, "Reach of + colour range 3", 0.1);
    assert_eq!(mask(&window).parts.len(), 3);
    click(&mut window, "Remove + colour range 3");
    assert_eq!(mask(&window).parts.len(), 2);
}
