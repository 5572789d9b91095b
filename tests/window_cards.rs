//! Every control of the step cards and the picture, driven by the names that screen readers read.
#![cfg(feature = "window")]
#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::type_complexity,
    reason = "a failed step is a failed test"
)]

mod window_bench;

use egui::{Event, Key, Modifiers, Pos2, vec2};
use egui_kittest::kittest::Queryable;
use platebench::geometry::{Point, Size};
use platebench::project::{
    Blend, Finish, FrameId, LayOver, Mask, MatteMethod, Placement, Placing, Plate, PlateEdit,
    Shape, Sign, StepKind, WhiteBalance,
};
use platebench::session::jobs::Work;
use platebench::window::queue::{Column, Row, Tool};
use platebench::window::viewport::compare::Way;
use std::sync::Arc;
use window_bench::{
    SKY, SKY_PLACED, TUG, Window, choose, click, double_click, drag, over, press_and_move, set,
    settle, tug_edit, window,
};

const CANVAS: Size = Size::new(400, 300);

fn tug(window: &Window) -> &Plate {
    window.state().project().plate(TUG).unwrap()
}

fn sky_placed(window: &Window) -> &Placement {
    window.state().project().placement(SKY_PLACED).unwrap()
}

#[test]
fn finish_values_are_set_and_reset_one_edit_each() {
    let mut window = window(Row::Finish, Column::Placement);
    let before = window.state().edits();
    let values: [(&str, f64, fn(&Finish) -> f32); 5] = [
        ("Exposure", 1.5, |finish| finish.exposure_stops),
        ("Contrast", 1.25, |finish| finish.contrast),
        ("Shoulder", 0.5, |finish| finish.shoulder),
        ("Saturation", 0.5, |finish| finish.saturation),
        ("Vignette", 1.0, |finish| finish.vignette_stops),
    ];
    for (index, (name, value, get)) in values.into_iter().enumerate() {
        let usual = get(&window.state().project().finish);
        set(&mut window, name, value);
        let now = f64::from(get(&window.state().project().finish));
        assert!((now - value).abs() < 1e-6, "{name}: {now}");
        click(&mut window, &format!("Reset {name}"));
        let now = get(&window.state().project().finish);
        assert!((now - usual).abs() < 1e-6, "{name} after reset: {now}");
        assert_eq!(window.state().edits(), before + 2 * (index + 1), "{name}");
    }
}

#[test]
fn grain_is_laid_on_changed_and_taken_off() {
    let mut window = window(Row::Finish, Column::Placement);
    click(&mut window, "Lay grain over the scene");
    set(&mut window, "Grain strength", 3.0);
    set(&mut window, "Grain size", 2.0);
    set(&mut window, "Seed", 42.0);
    let grain = window.state().project().finish.grain.unwrap();
    assert_eq!(grain.seed, 42);
    assert!((grain.strength - 0.03).abs() < 1e-6 && (grain.size_px - 2.0).abs() < 1e-6);
    click(&mut window, "Lay grain over the scene");
    assert!(window.state().project().finish.grain.is_none());
}

#[test]
fn a_dragged_slider_drafts_and_records_once() {
    let mut window = window(Row::Finish, Column::Placement);
    let before = window.state().edits();
    let rail = window.get_by_label("Exposure").rect();
    let path: Vec<Pos2> = (0_u8..6)
        .map(|step| rail.center() + vec2(f32::from(step) * 5.0, 0.0))
        .collect();
    press_and_move(&mut window, &path);
    assert_eq!(window.state().edits(), before, "nothing is recorded yet");
    assert!(window.state().drafts > 2, "{}", window.state().drafts);
    window.drop_at(path[5]);
    window.run();
    assert_eq!(window.state().edits(), before + 1);
    assert!(window.state().project().finish.exposure_stops > 0.5);
    assert!(window.state().draft.is_none());
}

#[test]
fn escape_gives_a_dragged_slider_up() {
    let mut window = window(Row::Finish, Column::Placement);
    let before = window.state().edits();
    let rail = window.get_by_label("Exposure").rect();
    let path = [rail.center(), rail.center() + vec2(12.0, 0.0)];
    press_and_move(&mut window, &path);
    window.key_press(Key::Escape);
    window.run();
    window.drop_at(path[1]);
    window.run();
    assert_eq!(window.state().edits(), before);
}

#[test]
fn frames_take_part_or_not_and_one_is_the_reference() {
    let mut window = window(Row::Plate(TUG), Column::Frames);
    click(&mut window, "Use tug_1.png");
    assert!(!tug(&window).stack().unwrap().frames[0].used);
    click(&mut window, "Reference tug_3.png");
    assert_eq!(tug(&window).stack().unwrap().reference, Some(FrameId(3)));
    click(&mut window, "Back to the usual reference frame");
    assert_eq!(tug(&window).stack().unwrap().reference, None);
    click(&mut window, "tug_2.png");
    assert_eq!(window.state().picture.frame(), Some(FrameId(2)));
}

#[test]
fn the_frame_exposed_unlike_the_others_is_pointed_out() {
    let mut window = window(Row::Plate(TUG), Column::Frames);
    let said = "tug_3.png was exposed +2.0 stops from the reference frame";
    window.get_by_label(&format!("needs a look: {said}"));
    click(&mut window, &format!("Show me: {said}"));
    assert_eq!(window.state().shown[0].frame, Some(FrameId(3)));
    assert_eq!(window.state().picture.frame(), Some(FrameId(3)));
}

#[test]
fn photos_are_developed() {
    let mut window = window(Row::Plate(TUG), Column::Frames);
    set(&mut window, "Exposure", -1.0);
    set(&mut window, "Black level", 0.01);
    set(&mut window, "Tone", 1.2);
    choose(&mut window, "White balance", "light of a temperature");
    set(&mut window, "Temperature", 3200.0);
    set(&mut window, "Tint", 4.0);
    let develop = tug(&window).stack().unwrap().develop;
    assert!((develop.exposure_stops + 1.0).abs() < 1e-6);
    assert!((develop.black_level - 0.01).abs() < 1e-6 && (develop.tone - 1.2).abs() < 1e-6);
    let expected = WhiteBalance::Light {
        kelvin: 3200.0,
        tint: 4.0,
    };
    assert_eq!(develop.white_balance, expected);
    choose(&mut window, "White balance", "as shot");
    let develop = tug(&window).stack().unwrap().develop;
    assert_eq!(develop.white_balance, WhiteBalance::AsShot);
    click(&mut window, "Pick grey");
    let drawing = window.state().drawing.unwrap();
    assert_eq!((drawing.tool, drawing.plate), (Tool::Grey, TUG));
    click(&mut window, "Pick grey");
    assert!(window.state().drawing.is_none());
}

#[test]
fn register_match_and_fuse_show_plots_findings_and_start_work() {
    let mut window = window(Row::Plate(TUG), Column::Register);
    window.get_by_label("Plot of shift per frame: Across, Down");
    window.get_by_label("Plot of size change per frame: Size change per frame");
    window.get_by_label("needs a look: tug_1.png lies 1.70 px off after registration");
    click(&mut window, "Measure again");
    assert_eq!(window.state().started, [Work::MeasureAgain(TUG)]);
    window.state_mut().selection.column = Column::Match;
    window.run();
    window.get_by_label("Plot of gain per frame: Red, Green, Blue");
    window.get_by_label("needs a look: tug_3.png had to be changed by -2.00 stops");
    window.state_mut().selection.column = Column::Fuse;
    window.run();
    window.get_by_label("needs a look: tug_3.png is sharpest almost nowhere");
    set(&mut window, "Detail", 0.25);
    set(&mut window, "Depth width", 2.0);
    let fuse = tug(&window).stack().unwrap().fuse;
    assert!((fuse.detail - 0.25).abs() < 1e-6 && (fuse.depth_width - 2.0).abs() < 1e-6);
    click(&mut window, "Take near parts' blur off what is behind them");
    assert!(tug(&window).stack().unwrap().fuse.unveil);
    click(&mut window, "Fuse this plate");
    assert_eq!(window.state().started.len(), 2);
}

#[test]
fn a_plate_that_was_not_fused_says_so_and_offers_to() {
    let mut window = window(Row::Plate(TUG), Column::Fuse);
    click(&mut window, "Measure and fuse this plate");
    assert_eq!(window.state().started, [Work::Fuse(TUG)]);
    window.state_mut().selection.row = Row::Finish;
    window.run();
    click(&mut window, "Measure and fuse all plates");
    assert_eq!(window.state().started[1], Work::FuseAll);
    window.state_mut().selection.row = Row::Plate(TUG);
    window.state_mut().selection.column = Column::Frames;
    window.run();
    window.get_by_label("Measure and fuse this plate");
    let button = window.get_by_label("Measure and fuse this plate").rect();
    let picture = window.get_by_label("Picture").rect();
    assert!(picture.contains_rect(button), "{button:?} {picture:?}");
}

#[test]
fn a_grade_is_added_set_and_removed() {
    let mut window = window(Row::Plate(TUG), Column::Match);
    click(&mut window, "Add a grade");
    set(&mut window, "Exposure", 0.5);
    set(&mut window, "Green", 1.1);
    set(&mut window, "Saturation", 0.8);
    click(&mut window, "Grade acts");
    let step = &tug(&window).steps[0];
    assert!(!step.on);
    let StepKind::Grade(grade) = step.kind else {
        panic!("{step:?}");
    };
    assert!((grade.exposure_stops - 0.5).abs() < 1e-6 && (grade.colour_rgb[1] - 1.1).abs() < 1e-6);
    click(&mut window, "Remove the grade");
    assert!(tug(&window).steps.is_empty());
}

#[test]
fn practicals_are_set_on_the_lights_desk() {
    let mut window = window(Row::Plate(TUG), Column::Lights);
    click(&mut window, "Add a group from lit");
    set(&mut window, "Lit by of lights 1", 2.0);
    set(&mut window, "Red of lights 1", 1.5);
    set(&mut window, "Glow size of lights 1", 30.0);
    set(&mut window, "Glow share of lights 1", 20.0);
    choose(&mut window, "Laid over of lights 1", "covering");
    choose(&mut window, "Key light of lit", "off");
    click(&mut window, "lights 1 lit");
    let plate = tug(&window);
    let group = &plate.groups[0];
    assert!(!group.on && group.lay_over == LayOver::Covering);
    assert!((group.stops - 2.0).abs() < 1e-6 && (group.tint_rgb[0] - 1.5).abs() < 1e-6);
    assert!((group.glow_px - 30.0).abs() < 1e-6 && (group.glow_share - 0.2).abs() < 1e-6);
    assert_eq!(
        plate.passes[0].key_light,
        platebench::project::KeyLight::Off
    );
    set(&mut window, "Lamp of lights 1", 2800.0);
    let tint = tug(&window).groups[0].tint_rgb;
    assert!(tint[0] > 1.2 && tint[2] < 0.8, "{tint:?}");
    click(&mut window, "Reset Tint of lights 1");
    click(&mut window, "Reset Lamp of lights 1");
    assert_eq!(tug(&window).groups[0].tint_rgb, [1.0; 3]);
    set(&mut window, "Green of lights 1", 2.0);
    click(&mut window, "Colour of lights 1 as shot");
    assert_eq!(tug(&window).groups[0].tint_rgb, [1.0; 3]);
    click(&mut window, "Remove lights 1");
    assert!(tug(&window).groups.is_empty());
}

#[test]
fn a_groups_mask_is_made_and_opened_as_one_edit_each() {
    let mut window = window(Row::Plate(TUG), Column::Lights);
    click(&mut window, "Add a group from lit");
    let before = window.state().edits();
    click(&mut window, "New mask for lights 1");
    assert_eq!(window.state().edits(), before + 1);
    let mask = tug(&window).masks[0].id;
    assert_eq!(tug(&window).groups[0].mask, Some(mask));
    click(&mut window, "Draw the mask of lights 1");
    click(&mut window, "Draw strokes");
    assert_eq!(window.state().drawing.unwrap().mask, Some(mask));
    set(&mut window, "Radius", 9.0);
    assert!((window.state().drawing.unwrap().radius_px - 9.0).abs() < 1e-6);
    click(&mut window, "takes away (-)");
    assert_eq!(window.state().drawing.unwrap().sign, Sign::Remove);
    choose(&mut window, "Mask of lights 1", "everywhere");
    assert_eq!(tug(&window).groups[0].mask, None);
    assert!(
        window.state().drawing.is_none(),
        "drawing ends with the mask"
    );
}

/// A window with the sky's matte mask ready to be drawn into.
fn matte_window(tool: &str) -> Window {
    let mut window = window(Row::Plate(SKY), Column::Matte);
    click(&mut window, "Cut out along a drawn mask");
    click(&mut window, tool);
    settle(&mut window);
    window
}

fn sky_mask(window: &Window) -> Arc<Mask> {
    Arc::clone(&window.state().project().plate(SKY).unwrap().masks[0])
}

const SKY_SIZE: Size = Size::new(200, 150);

#[test]
fn a_stroke_is_one_edit_in_plate_pixels() {
    let mut window = matte_window("Draw strokes");
    let before = window.state().edits();
    let path: Vec<Pos2> = [(60.0, 50.0), (80.0, 60.0), (120.0, 70.0)]
        .map(|at| over(&window, SKY_SIZE, at))
        .to_vec();
    press_and_move(&mut window, &path);
    assert_eq!(window.state().edits(), before, "a draft records nothing");
    assert!(window.state().picture.is_busy());
    window.drop_at(path[2]);
    window.run();
    assert_eq!(window.state().edits(), before + 1);
    let mask = sky_mask(&window);
    let Shape::Stroke { points, .. } = &mask.parts[0].shape else {
        panic!("{:?}", mask.parts[0]);
    };
    let far = |at: Point, x: f64, y: f64| at.distance(Point::new(x, y));
    assert!(far(points[0], 60.0, 50.0) < 0.5, "{points:?}");
    assert!(
        far(points[points.len() - 1], 120.0, 70.0) < 0.5,
        "{points:?}"
    );
}

#[test]
fn a_pen_that_tells_how_hard_it_presses_is_recorded_so() {
    let mut window = matte_window("Draw strokes");
    let path = [(60.0, 50.0), (90.0, 60.0), (120.0, 70.0)].map(|at| over(&window, SKY_SIZE, at));
    let phases = [
        egui::TouchPhase::Start,
        egui::TouchPhase::Move,
        egui::TouchPhase::Move,
    ];
    for ((pos, phase), force) in path.into_iter().zip(phases).zip([0.25, 0.5, 0.75]) {
        window.event(Event::Touch {
            device_id: egui::TouchDeviceId(1),
            id: egui::TouchId(1),
            phase,
            pos,
            force: Some(force),
        });
        window.event(Event::PointerMoved(pos));
        if phase == egui::TouchPhase::Start {
            window.drag_at(pos);
        }
        window.step();
    }
    window.drop_at(path[2]);
    window.run();
    let mask = sky_mask(&window);
    let Shape::Stroke {
        points, pressure, ..
    } = &mask.parts[0].shape
    else {
        panic!("{:?}", mask.parts[0]);
    };
    assert_eq!(pressure.len(), points.len());
    assert!((pressure[0] - 0.25).abs() < 1e-3, "{pressure:?}");
    assert!(
        (pressure[pressure.len() - 1] - 0.75).abs() < 1e-3,
        "{pressure:?}"
    );
}

#[test]
fn escape_gives_a_stroke_up_then_ends_drawing() {
    let mut window = matte_window("Draw strokes");
    let before = window.state().edits();
    let path = [(60.0, 50.0), (90.0, 60.0)].map(|at| over(&window, SKY_SIZE, at));
    press_and_move(&mut window, &path);
    window.key_press(Key::Escape);
    window.run();
    window.drop_at(path[1]);
    window.run();
    assert_eq!(window.state().edits(), before);
    assert!(window.state().drawing.is_some());
    window.key_press(Key::Escape);
    window.run();
    assert!(window.state().drawing.is_none());
}

#[test]
fn a_stroke_under_way_is_noted_and_given_up_with_it() {
    let mut window = matte_window("Draw strokes");
    let path = [(60.0, 50.0), (90.0, 60.0), (120.0, 70.0)].map(|at| over(&window, SKY_SIZE, at));
    press_and_move(&mut window, &path);
    window.run_steps(12);
    let noted = window.state().unfinished.last().cloned().flatten();
    let noted = noted.expect("noted while the button is down");
    let project = window.state().project().edited(&noted).unwrap();
    let mask = &project.plate(SKY).unwrap().masks[0];
    let Shape::Stroke { points, .. } = &mask.parts[0].shape else {
        panic!("{:?}", mask.parts[0]);
    };
    let end = points[points.len() - 1];
    assert!(end.distance(Point::new(120.0, 70.0)) < 0.5, "{points:?}");
    assert!(sky_mask(&window).parts.is_empty(), "nothing is recorded");
    window.key_press(Key::Escape);
    window.run();
    assert_eq!(window.state().unfinished.last(), Some(&None), "given up");
}

#[test]
fn parts_of_a_made_sky_come_and_go() {
    let mut window = window(Row::Plate(SKY), Column::Fuse);
    let made = |window: &Window| {
        let plate = window.state().project().plate(SKY).unwrap();
        match &plate.variant().unwrap().source {
            platebench::project::Source::Made(made) => made.clone(),
            platebench::project::Source::Stack(_) => panic!("the sky is made"),
        }
    };
    assert!(made(&window).stars.is_some() && made(&window).planet.is_none());
    click(&mut window, "Hang a planet in the sky");
    click(&mut window, "Lay a dust lane across");
    assert!(made(&window).planet.is_some() && made(&window).dust_lane.is_some());
    click(&mut window, "Scatter stars");
    assert!(made(&window).stars.is_none());
    click(&mut window, "Hang a planet in the sky");
    assert!(made(&window).planet.is_none());
}

#[test]
fn comma_and_period_change_the_radius() {
    let mut window = matte_window("Draw strokes");
    let at = over(&window, SKY_SIZE, (60.0, 50.0));
    window.hover_at(at);
    window.run();
    let before = window.state().drawing.unwrap().radius_px;
    window.key_press(Key::Period);
    window.run();
    let wider = window.state().drawing.unwrap().radius_px;
    assert!((wider / before - 1.125).abs() < 1e-4, "{before} {wider}");
    window.key_press(Key::Comma);
    window.run();
    let back = window.state().drawing.unwrap().radius_px;
    assert!((back / before - 1.0).abs() < 1e-4, "{before} {back}");
}

/// Clicks at plate positions of the sky.
fn clicks(window: &mut Window, places: &[(f32, f32)]) {
    for at in places {
        let at = over(window, SKY_SIZE, *at);
        drag(window, &[at]);
        // A pause, so that two points are not taken for a double click.
        window.run_steps(8);
    }
}

fn nodes(window: &Window, part: usize) -> Vec<platebench::project::Node> {
    match &sky_mask(window).parts[part].shape {
        Shape::Outline { nodes, .. } => nodes.clone(),
        Shape::Stroke { .. } | Shape::Rule(_) => panic!("no outline"),
    }
}

#[test]
fn an_outline_is_set_out_by_clicks_and_closed_by_enter() {
    let mut window = matte_window("Set out an outline");
    let before = window.state().edits();
    clicks(
        &mut window,
        &[(30.0, 30.0), (150.0, 30.0), (90.0, 120.0), (40.0, 100.0)],
    );
    window.key_press(Key::Delete);
    window.run();
    assert_eq!(window.state().edits(), before);
    window.key_press(Key::Enter);
    window.run();
    assert_eq!(window.state().edits(), before + 1);
    let nodes = nodes(&window, 0);
    assert_eq!(nodes.len(), 3, "Delete took the last point back");
    assert!(
        nodes[1].at.distance(Point::new(150.0, 30.0)) < 0.5,
        "{nodes:?}"
    );
}

#[test]
fn an_outline_is_given_up_by_escape_and_closed_by_its_first_point() {
    let mut window = matte_window("Set out an outline");
    clicks(&mut window, &[(30.0, 30.0), (150.0, 30.0)]);
    window.key_press(Key::Escape);
    window.run();
    assert!(!window.state().picture.is_busy() && sky_mask(&window).parts.is_empty());
    clicks(
        &mut window,
        &[(30.0, 30.0), (150.0, 30.0), (90.0, 120.0), (30.0, 30.0)],
    );
    assert_eq!(nodes(&window, 0).len(), 3);
}

#[test]
fn dragging_a_new_point_curves_it() {
    let mut window = matte_window("Set out an outline");
    clicks(&mut window, &[(30.0, 30.0)]);
    let pull = [(150.0, 30.0), (170.0, 60.0)].map(|at| over(&window, SKY_SIZE, at));
    drag(&mut window, &pull);
    clicks(&mut window, &[(90.0, 120.0)]);
    window.key_press(Key::Enter);
    window.run();
    let node = nodes(&window, 0)[1];
    let after = node.after.unwrap();
    assert!(after.distance(Point::new(20.0, 30.0)) < 0.7, "{after:?}");
    assert!(node.before.unwrap().distance(Point::new(-20.0, -30.0)) < 0.7);
}

#[test]
fn points_are_moved_put_in_nudged_and_removed() {
    let mut window = matte_window("Set out an outline");
    clicks(&mut window, &[(30.0, 30.0), (150.0, 30.0), (90.0, 120.0)]);
    window.key_press(Key::Enter);
    window.run();
    click(&mut window, "Move points");
    let before = window.state().edits();
    let moved = [(150.0, 30.0), (160.0, 40.0), (170.0, 50.0)].map(|at| over(&window, SKY_SIZE, at));
    drag(&mut window, &moved);
    assert_eq!(window.state().edits(), before + 1);
    assert!(nodes(&window, 0)[1].at.distance(Point::new(170.0, 50.0)) < 0.7);
    window.key_press(Key::ArrowRight);
    window.run();
    window.key_press_modifiers(Modifiers::SHIFT, Key::ArrowDown);
    window.run();
    assert!(nodes(&window, 0)[1].at.distance(Point::new(171.0, 60.0)) < 0.7);
    // The middle of the side from the first to the third point.
    let side = over(&window, SKY_SIZE, (60.0, 75.0));
    window.run_steps(8);
    double_click(&mut window, side);
    assert_eq!(nodes(&window, 0).len(), 4, "a double click puts a point in");
    window.key_press(Key::Delete);
    window.run();
    assert_eq!(nodes(&window, 0).len(), 3, "Delete takes it out");
}

#[test]
fn parts_are_switched_weakened_shown_and_removed() {
    let mut window = matte_window("Draw strokes");
    let path = [(60.0, 50.0), (90.0, 60.0)].map(|at| over(&window, SKY_SIZE, at));
    drag(&mut window, &path);
    set(&mut window, "Strength of + stroke 1", 0.5);
    click(&mut window, "+ stroke 1");
    let part = Arc::clone(&sky_mask(&window).parts[0]);
    assert!(!part.on && (part.strength - 0.5).abs() < 1e-6);
    click(&mut window, "Show + stroke 1");
    assert!(window.state().shown[0].at.is_some());
    set(&mut window, "Grow", 3.0);
    set(&mut window, "Feather", 12.0);
    click(&mut window, "Inside out");
    let mask = sky_mask(&window);
    assert!(mask.inverted && (mask.grow_px - 3.0).abs() < 1e-6);
    assert!((mask.feather_px - 12.0).abs() < 1e-6);
    click(&mut window, "Remove + stroke 1");
    assert!(sky_mask(&window).parts.is_empty());
    click(&mut window, "Remove matte, mask 1");
    assert!(
        window
            .state()
            .project()
            .plate(SKY)
            .unwrap()
            .masks
            .is_empty()
    );
}

#[test]
fn a_matte_by_silhouette_has_levels() {
    let mut window = window(Row::Plate(TUG), Column::Matte);
    click(&mut window, "Cut out by silhouette 'backdrop'");
    set(&mut window, "Solid below", 10.0);
    set(&mut window, "Clear above", 80.0);
    set(&mut window, "Spread", -2.0);
    set(&mut window, "Edge feather", 1.5);
    click(&mut window, "Matte acts");
    let step = &tug(&window).steps[0];
    let StepKind::Matte(matte) = &step.kind else {
        panic!("{step:?}");
    };
    assert!(!step.on && (matte.spread_px + 2.0).abs() < 1e-6);
    assert!((matte.feather_px - 1.5).abs() < 1e-6);
    let MatteMethod::Silhouette {
        solid_below,
        clear_above,
        ..
    } = matte.method
    else {
        panic!("{matte:?}");
    };
    assert!((solid_below - 0.1).abs() < 1e-6 && (clear_above - 0.8).abs() < 1e-6);
    choose(&mut window, "Coverage", "the drawn mask");
    let StepKind::Matte(matte) = &tug(&window).steps[0].kind else {
        panic!("no matte");
    };
    assert_eq!(matte.method, MatteMethod::Drawn);
    click(&mut window, "Remove the matte");
    assert!(tug(&window).steps.is_empty());
}

#[test]
fn a_matte_before_a_plain_backdrop_has_its_values_and_drawn_mattes() {
    let mut window = window(Row::Plate(TUG), Column::Matte);
    click(&mut window, "before a plain backdrop");
    set(&mut window, "Edge width", 1.2);
    set(&mut window, "Largest hole closed", 0.5);
    click(&mut window, "Clean the edge");
    let Some(matte) = tug(&window).steps[0].kind.matte() else {
        panic!("no matte");
    };
    assert!(!matte.clean_edge, "it was on");
    let MatteMethod::Plain {
        clean,
        edge_px,
        hole_share,
        ..
    } = matte.method
    else {
        panic!("{matte:?}");
    };
    assert!(clean.is_none() && (edge_px - 1.2).abs() < 1e-6);
    assert!((hole_share - 0.005).abs() < 1e-6, "{hole_share}");
}

/// Middle, size and turn of the sky in the scene.
fn upright(window: &Window) -> (Point, f64, f64) {
    match sky_placed(window).placing {
        Placing::Upright {
            centre,
            scale,
            turn_deg,
            ..
        } => (centre, scale, turn_deg),
        Placing::Corners(_) => panic!("four corners"),
    }
}

#[test]
fn a_placement_is_moved_sized_and_turned_in_the_picture() {
    let mut window = window(Row::Plate(SKY), Column::Placement);
    let before = window.state().edits();
    let path = [(200.0, 150.0), (210.0, 155.0), (240.0, 170.0)];
    let path = path.map(|at| over(&window, CANVAS, at));
    drag(&mut window, &path);
    let (centre, ..) = upright(&window);
    assert!(
        centre.distance(Point::new(240.0, 170.0)) < 0.7,
        "{centre:?}"
    );
    // The lower right corner, drawn out to one and a half times its distance from the middle.
    let path = [(340.0, 245.0), (360.0, 260.0), (390.0, 282.5)];
    let path = path.map(|at| over(&window, CANVAS, at));
    drag(&mut window, &path);
    let (_, scale, _) = upright(&window);
    assert!((scale - 1.5).abs() < 0.02, "{scale}");
    assert_eq!(window.state().edits(), before + 2);
    set(&mut window, "Size of sky", 50.0);
    // The ring above the upper edge, brought to the right of the middle: a quarter turn.
    let (middle, scale) = (over(&window, CANVAS, (240.0, 170.0)), 37.5);
    let reach = scale * window_bench::fitted(&window, CANVAS).1 + 28.0;
    let ring = [
        middle - vec2(0.0, reach),
        middle + vec2(reach, -reach),
        middle + vec2(reach, 0.0),
    ];
    drag(&mut window, &ring);
    let (_, _, turn) = upright(&window);
    assert!((turn - 90.0).abs() < 1.0, "{turn}");
    assert_eq!(window.state().edits(), before + 4);
}

#[test]
fn arrow_keys_nudge_a_placement() {
    let mut window = window(Row::Plate(SKY), Column::Placement);
    let at = over(&window, CANVAS, (200.0, 150.0));
    drag(&mut window, &[at]);
    let before = window.state().edits();
    window.key_press(Key::ArrowRight);
    window.run();
    window.key_press_modifiers(Modifiers::SHIFT, Key::ArrowUp);
    window.run();
    let (centre, ..) = upright(&window);
    assert_eq!((centre.x, centre.y), (201.0, 140.0));
    assert_eq!(window.state().edits(), before + 2);
}

#[test]
fn a_placement_is_pulled_by_its_corners() {
    let mut window = window(Row::Plate(SKY), Column::Placement);
    click(&mut window, "sky by its four corners");
    let path = [(100.0, 75.0), (90.0, 60.0), (80.0, 50.0)];
    let path = path.map(|at| over(&window, CANVAS, at));
    drag(&mut window, &path);
    let Placing::Corners(corners) = sky_placed(&window).placing else {
        panic!("no corners");
    };
    assert!(
        corners[0].distance(Point::new(80.0, 50.0)) < 0.7,
        "{corners:?}"
    );
    assert_eq!(corners[2], Point::new(300.0, 225.0));
    window.get_by_label("x of top left of sky");
    click(&mut window, "sky by its four corners");
    assert!(matches!(
        sky_placed(&window).placing,
        Placing::Upright { .. }
    ));
}

#[test]
fn placement_values_are_set_by_name() {
    let mut window = window(Row::Plate(SKY), Column::Placement);
    set(&mut window, "Across of sky", 120.0);
    set(&mut window, "Down of sky", 90.0);
    set(&mut window, "Turn of sky", 15.0);
    set(&mut window, "Strength of sky", 40.0);
    set(&mut window, "Distance of sky", 25.0);
    click(&mut window, "sky mirrored");
    click(&mut window, "sky is seen");
    choose(&mut window, "Goes over of sky", "light added");
    let placed = sky_placed(&window);
    assert_eq!(placed.blend, Blend::PlusLighter);
    assert!(!placed.visible && (placed.strength - 0.4).abs() < 1e-6);
    assert_eq!(placed.distance_m, Some(25.0));
    let (centre, _, turn) = upright(&window);
    assert!(centre.distance(Point::new(120.0, 90.0)) < 1e-6 && (turn - 15.0).abs() < 1e-6);
    click(&mut window, "Add another placement");
    let count = |window: &Window| {
        let placements = &window.state().project().placements;
        placements.iter().filter(|one| one.plate == SKY).count()
    };
    assert_eq!(count(&window), 2);
    click(&mut window, "Remove sky 2");
    assert_eq!(count(&window), 1);
}

#[test]
fn made_plates_show_their_recipe() {
    let mut window = window(Row::Plate(SKY), Column::Fuse);
    set(&mut window, "Seed of stars", 7.0);
    set(&mut window, "Faintest of stars", 5.0);
    set(&mut window, "Blue of empty sky", 0.1);
    let plate = window.state().project().plate(SKY).unwrap();
    let platebench::project::Source::Made(made) = &plate.variant().unwrap().source else {
        panic!("not made");
    };
    let stars = made.stars.as_ref().unwrap();
    assert_eq!((stars.seed, stars.faintest), (7, 5.0));
    assert!((made.background_rgb[2] - 0.1).abs() < 1e-6);
}

#[test]
fn the_picture_arrives_and_is_read_out() {
    let mut window = window(Row::Plate(SKY), Column::Fuse);
    settle(&mut window);
    let at = over(&window, SKY_SIZE, (100.5, 75.5));
    window.hover_at(at);
    window.run();
    for _try in 0..400 {
        window.step();
        if window.state().picture.readout().light.is_some() {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    let readout = window.state().picture.readout();
    let under = readout.at.unwrap();
    assert!(under.distance(Point::new(100.5, 75.5)) < 0.6, "{under:?}");
    let values = readout.values.expect("values under the pointer");
    let light = readout.light.expect("light under the pointer").light;
    assert!(light[0] >= 0.019 && light[3] == 1.0, "{light:?}");
    assert!(values[0] > 10 && values[3] == 255, "{values:?}");
}

#[test]
fn keys_zoom_and_fit() {
    let mut window = window(Row::Plate(SKY), Column::Fuse);
    let at = over(&window, SKY_SIZE, (100.0, 75.0));
    drag(&mut window, &[at]);
    let fitted = window.state().picture.readout().zoom;
    window.key_press(Key::Num1);
    window.run();
    window.run();
    let zoom = window.state().picture.readout().zoom;
    assert!((zoom - 1.0).abs() < 1e-9, "{zoom}");
    window.key_press(Key::Plus);
    window.run();
    window.run();
    assert!((window.state().picture.readout().zoom - 1.25).abs() < 1e-6);
    window.key_press(Key::Home);
    window.run();
    window.run();
    assert!((window.state().picture.readout().zoom - fitted).abs() < 1e-9);
}

#[test]
fn the_wheel_zooms_at_the_pointer() {
    let mut window = window(Row::Plate(SKY), Column::Fuse);
    let at = over(&window, SKY_SIZE, (60.0, 50.0));
    window.hover_at(at);
    window.run();
    let before = *window.state().picture.readout();
    window.event(Event::MouseWheel {
        unit: egui::MouseWheelUnit::Line,
        delta: vec2(0.0, 3.0),
        modifiers: Modifiers::NONE,
        phase: egui::TouchPhase::Move,
        source: egui::MouseWheelSource::Wheel,
    });
    window.run();
    window.run_steps(12);
    let after = *window.state().picture.readout();
    assert!(
        after.zoom > before.zoom * 1.2,
        "{} {}",
        before.zoom,
        after.zoom
    );
    let moved = before.at.unwrap().distance(after.at.unwrap());
    assert!(moved < 0.1, "the pixel under the pointer moved by {moved}");
}

#[test]
fn pictures_are_compared_in_every_way() {
    let mut window = window(Row::Plate(SKY), Column::Matte);
    settle(&mut window);
    for (word, way) in [
        ("Finished", Way::Finished),
        ("Line-up", Way::LineUp),
        ("Split", Way::Split),
        ("Difference", Way::Difference),
        ("Blink", Way::Blink),
        ("This stage", Way::Stage),
    ] {
        click(&mut window, word);
        window.run_steps(3);
        assert_eq!(window.state().picture.compare().way, way);
        let two = !matches!(way, Way::Finished | Way::Stage);
        assert_eq!(
            window.query_by_label("Compare with").is_some(),
            two,
            "{word}"
        );
        let caution = window.query_by_label_contains("photosensitive").is_some();
        assert_eq!(caution, way == Way::Blink, "{word}");
    }
    click(&mut window, "Line-up");
    assert!((window.state().picture.compare().strength - 0.35).abs() < 1e-6);
    choose(&mut window, "Compare with", "the stage before");
    click(&mut window, "Split");
    let line = window.get_by_label("Split line").rect().center();
    let path = [line, line + vec2(20.0, 0.0), line + vec2(60.0, 0.0)];
    drag(&mut window, &path);
    assert!(window.state().picture.compare().split > 0.52);
}

#[test]
fn another_source_can_be_put_to_use() {
    let mut window = window(Row::Plate(TUG), Column::Frames);
    let plate = tug(&window);
    let mut variant = platebench::project::Variant::clone(plate.variant().unwrap());
    variant.id = platebench::project::VariantId(900);
    variant.name = "second shoot".to_owned();
    let edit = tug_edit(PlateEdit::AddVariant(Arc::new(variant)));
    window.state_mut().session.record(edit).unwrap();
    window.run();
    choose(&mut window, "Source in use", "second shoot");
    assert_eq!(tug(&window).current.0, 900);
}
