//! Steps done by hand in the picture: spots, paint-out, strakes, handles, corners, by pointer and by keys.
#![cfg(feature = "window")]
#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a failed step is a failed test"
)]
#![allow(
    dead_code,
    clippy::allow_attributes,
    reason = "some of the bench's ways to draw are used by other tests"
)]

mod window_bench;

use egui::{Key, Modifiers, Pos2};
use egui_kittest::kittest::Queryable;
use platebench::geometry::{Point, Size};
use platebench::project::{
    Edit, FrameId, PaintOut, Patch, PatchFrom, PatchShape, Plate, PlateEdit, Spotting, Step,
    StepId, StepKind, Verdict, Warp, WarpKind,
};
use platebench::session::Command;
use platebench::window::queue::{Column, HandTool, Row};
use window_bench::{TUG, Window, click, drag, over, press_and_move, set, window};

const PLATE: Size = Size::new(320, 240);

fn tug(window: &Window) -> &Plate {
    window.state().project().plate(TUG).unwrap()
}

/// A step on the tug, added as another window would.
fn with_step(column: Column, kind: StepKind) -> Window {
    let mut window = window(Row::Plate(TUG), column);
    let step = Step {
        id: StepId(210),
        on: true,
        mask: None,
        kind,
    };
    let edit = Edit::Plate(TUG, PlateEdit::AddStep { step, at: 0 });
    window.state_mut().session.record(edit).unwrap();
    window.run();
    window
}

fn dab(x: f64, confidence: Option<f32>) -> Patch {
    Patch {
        shape: PatchShape::Dab {
            at: Point::new(x, 200.0),
            radius_px: 4.0,
        },
        from: PatchFrom::Surroundings,
        feather_px: 1.0,
        confidence,
        verdict: Verdict::Undecided,
    }
}

fn finds() -> Window {
    with_step(
        Column::Spotting,
        StepKind::Spotting(Spotting {
            patches: vec![
                dab(100.0, Some(0.9)),
                dab(150.0, Some(0.4)),
                dab(90.0, None),
            ],
            least_confidence: 0.5,
            ..Spotting::default()
        }),
    )
}

fn patches(window: &Window) -> &[Patch] {
    tug(window).steps[0].kind.patches()
}

fn verdicts(window: &Window) -> Vec<Verdict> {
    patches(window).iter().map(|patch| patch.verdict).collect()
}

fn at(window: &Window, place: (f32, f32)) -> Pos2 {
    over(window, PLATE, place)
}

fn press(window: &mut Window, place: (f32, f32)) {
    let at = at(window, place);
    drag(window, &[at]);
}

fn key(window: &mut Window, key: Key) {
    window.key_press(key);
    window.run();
}

fn drag_over(window: &mut Window, places: &[(f32, f32)]) {
    let path: Vec<Pos2> = places.iter().map(|place| at(window, *place)).collect();
    drag(window, &path);
}

fn near(found: Point, wanted: (f64, f64)) {
    let off = found.distance(Point::new(wanted.0, wanted.1));
    assert!(off < 0.7, "{found:?} is not {wanted:?}");
}

/// One undo goes back to `before` edits made.
fn undo(window: &mut Window) {
    window.state_mut().session.run(Command::Undo).unwrap();
    window.run();
}

#[test]
fn finds_are_decided_about_on_the_card_one_by_one_and_all_at_once() {
    let mut window = finds();
    window.get_by_label("2 of 3 places filled");
    click(&mut window, "Refuse place 1");
    assert_eq!(verdicts(&window)[0], Verdict::Refused);
    window.get_by_label("1 of 3 places filled");
    click(&mut window, "Accept place 2");
    assert_eq!(tug(&window).steps[0].kind.acting_patches().len(), 2);
    // The same again takes the decision back.
    click(&mut window, "Refuse place 1");
    assert_eq!(verdicts(&window)[0], Verdict::Undecided);
    window
        .get_by_label("needs a look: 1 find is filled that nobody looked at: accept or refuse it");
    let before = window.state().edits();
    click(&mut window, "Accept all that are sure enough");
    assert_eq!(verdicts(&window)[0], Verdict::Accepted);
    assert_eq!(window.state().edits(), before + 1, "one edit");
    click(&mut window, "Accept place 2");
    click(&mut window, "Refuse the others");
    assert_eq!(verdicts(&window)[1], Verdict::Refused);
    click(&mut window, "Spotting acts");
    assert!(!tug(&window).steps[0].on);
    click(&mut window, "Remove Spotting");
    assert!(tug(&window).steps.is_empty());
}

#[test]
fn a_click_accepts_a_find_and_the_next_refuses_it() {
    let mut window = finds();
    let before = window.state().edits();
    press(&mut window, (150.0, 200.0));
    assert_eq!(verdicts(&window)[1], Verdict::Accepted);
    press(&mut window, (150.0, 200.0));
    assert_eq!(verdicts(&window)[1], Verdict::Refused);
    assert_eq!(window.state().edits(), before + 2, "one edit each");
    undo(&mut window);
    assert_eq!(verdicts(&window)[1], Verdict::Accepted);
    // A place set by hand is chosen by a click, dragged, nudged and taken away.
    press(&mut window, (90.0, 200.0));
    assert_eq!(
        window.state().edits(),
        before + 2,
        "choosing records nothing"
    );
    drag_over(&mut window, &[(90.0, 200.0), (70.0, 180.0), (60.0, 150.0)]);
    near(patches(&window)[2].shape.points()[0], (60.0, 150.0));
    window.key_press_modifiers(Modifiers::SHIFT, Key::ArrowRight);
    window.run();
    near(patches(&window)[2].shape.points()[0], (70.0, 150.0));
    key(&mut window, Key::Delete);
    assert_eq!(patches(&window).len(), 2);
}

#[test]
fn keys_alone_go_through_finds_and_decide() {
    let mut window = finds();
    window.get_by_label("Picture").focus();
    window.run();
    key(&mut window, Key::PageDown);
    key(&mut window, Key::Enter);
    assert_eq!(verdicts(&window)[0], Verdict::Accepted);
    key(&mut window, Key::PageDown);
    key(&mut window, Key::Delete);
    assert_eq!(verdicts(&window)[1], Verdict::Refused);
    key(&mut window, Key::PageUp);
    key(&mut window, Key::Delete);
    assert_eq!(verdicts(&window)[0], Verdict::Refused);
}

#[test]
fn dabs_are_set_by_click_and_by_key_one_edit_each() {
    let mut window = window(Row::Plate(TUG), Column::Spotting);
    let before = window.state().edits();
    set(&mut window, "Dab radius", 5.0);
    click(&mut window, "By dabs");
    assert_eq!(window.state().adding.unwrap().tool, HandTool::Dab);
    press(&mut window, (100.0, 60.0));
    press(&mut window, (200.0, 60.0));
    assert_eq!(window.state().edits(), before + 2);
    let PatchShape::Dab { at, radius_px } = &patches(&window)[1].shape else {
        panic!("no dab");
    };
    near(*at, (200.0, 60.0));
    assert!((radius_px - 5.0).abs() < 1e-6);
    key(&mut window, Key::Period);
    let wider = window.state().adding.unwrap().radius_px;
    assert!((wider - 6.25).abs() < 1e-4, "{wider}");
    key(&mut window, Key::Insert);
    near(patches(&window)[2].shape.points()[0], (160.0, 120.0));
    key(&mut window, Key::Escape);
    assert!(window.state().adding.is_none(), "Escape puts the tool away");
    undo(&mut window);
    undo(&mut window);
    undo(&mut window);
    assert!(
        tug(&window).steps.is_empty(),
        "the step came with its first place"
    );
}

#[test]
fn a_place_is_copied_from_where_the_drag_began() {
    let mut window = window(Row::Plate(TUG), Column::Spotting);
    click(&mut window, "From another place");
    drag_over(&mut window, &[(60.0, 60.0), (90.0, 70.0), (120.0, 90.0)]);
    let patch = &patches(&window)[0];
    near(patch.shape.points()[0], (120.0, 90.0));
    let PatchFrom::Place { offset } = patch.from else {
        panic!("{:?}", patch.from);
    };
    near(offset, (-60.0, -30.0));
    click(&mut window, "From another place");
    // Where it is copied from can be dragged elsewhere.
    drag_over(&mut window, &[(60.0, 60.0), (60.0, 90.0), (60.0, 110.0)]);
    let PatchFrom::Place { offset } = patches(&window)[0].from else {
        panic!("no place");
    };
    near(offset, (-60.0, 20.0));
}

#[test]
fn dabs_are_healed_from_the_frame_that_was_chosen() {
    let mut window = window(Row::Plate(TUG), Column::Spotting);
    click(&mut window, "By dabs");
    window_bench::choose(&mut window, "Healed from", "the frame tug_2.png alone");
    let from = PatchFrom::Frame { frame: FrameId(2) };
    assert_eq!(window.state().adding.unwrap().from, from, "in hand");
    press(&mut window, (100.0, 60.0));
    assert_eq!(patches(&window)[0].from, from);
    window_bench::choose(
        &mut window,
        "Filled from of place 1",
        "the frame tug_3.png alone",
    );
    let from = PatchFrom::Frame { frame: FrameId(3) };
    assert_eq!(patches(&window)[0].from, from);
    // Stands are painted out from what was chosen for stands.
    key(&mut window, Key::Escape);
    click(&mut window, "Paint out along a line");
    let adding = window.state().adding.unwrap();
    assert_eq!(adding.from, PatchFrom::Surroundings);
}

#[test]
fn a_stand_is_outlined_and_its_source_chosen() {
    let mut window = window(Row::Plate(TUG), Column::Spotting);
    click(&mut window, "Paint out inside an outline");
    let corners = [
        (100.0, 100.0),
        (140.0, 100.0),
        (140.0, 220.0),
        (100.0, 220.0),
    ];
    for place in corners {
        press(&mut window, place);
    }
    assert!(tug(&window).steps.is_empty(), "nothing is recorded yet");
    key(&mut window, Key::Enter);
    let StepKind::PaintOut(PaintOut { patches, .. }) = &tug(&window).steps[0].kind else {
        panic!("no paint-out");
    };
    assert_eq!(patches[0].shape.points().len(), 4);
    let reminder = "needs a look: what was painted out threw a shadow and a reflection: look for them on the model and paint them out too";
    window.get_by_label(reminder);
    click(&mut window, "Shadow and reflection seen to");
    assert!(window.query_by_label(reminder).is_none());
    window_bench::choose(
        &mut window,
        "Filled from of painted-out place 1",
        "the best pieces around",
    );
    // A corner is dragged with the tool put away, another taken out.
    key(&mut window, Key::Escape);
    drag_over(
        &mut window,
        &[(140.0, 220.0), (150.0, 225.0), (160.0, 230.0)],
    );
    near(self::patches(&window)[0].shape.points()[2], (160.0, 230.0));
    key(&mut window, Key::Delete);
    assert_eq!(self::patches(&window)[0].shape.points().len(), 3);
    // An outline given up leaves nothing.
    let before = window.state().edits();
    click(&mut window, "Paint out inside an outline");
    press(&mut window, (20.0, 20.0));
    press(&mut window, (40.0, 20.0));
    key(&mut window, Key::Escape);
    assert_eq!(window.state().edits(), before);
}

fn strake(window: &Window) -> (Vec<Point>, Vec<Point>, Vec<Point>) {
    let StepKind::Warp(Warp {
        kind: WarpKind::Strake { kept, was, now, .. },
        ..
    }) = &tug(window).steps[0].kind
    else {
        panic!("no strake");
    };
    (kept.clone(), was.clone(), now.clone())
}

fn strake_set_out() -> Window {
    let mut window = window(Row::Plate(TUG), Column::Warp);
    click(&mut window, "Set out a strake");
    press(&mut window, (60.0, 200.0));
    press(&mut window, (260.0, 200.0));
    key(&mut window, Key::Enter);
    press(&mut window, (60.0, 140.0));
    press(&mut window, (160.0, 138.0));
    press(&mut window, (260.0, 140.0));
    // The last point again ends the line.
    press(&mut window, (260.0, 140.0));
    click(&mut window, "Set out a strake");
    window
}

#[test]
fn a_strake_is_set_out_by_two_lines_and_its_line_is_dragged() {
    let mut window = strake_set_out();
    let edits = window.state().edits();
    let (kept, was, now) = strake(&window);
    assert_eq!((kept.len(), was.len()), (2, 3));
    assert_eq!(was, now, "nothing moved yet");
    near(kept[1], (260.0, 200.0));
    // The whole line, taken between two of its points, then one of its ends.
    drag_over(
        &mut window,
        &[(110.0, 139.0), (110.0, 130.0), (110.0, 119.0)],
    );
    let (_, was, now) = strake(&window);
    near(was[0], (60.0, 140.0));
    near(now[0], (60.0, 120.0));
    near(now[2], (260.0, 120.0));
    drag_over(
        &mut window,
        &[(260.0, 120.0), (262.0, 126.0), (262.0, 130.0)],
    );
    let (_, _, now) = strake(&window);
    near(now[2], (262.0, 130.0));
    near(now[0], (60.0, 120.0));
    assert_eq!(window.state().edits(), edits + 2, "one gesture, one edit");
    // The stretch is said and stands on the picture.
    assert!(
        window
            .query_all_by_label_contains("the plate is stretched up to 1.")
            .next()
            .is_some(),
        "beyond 1.3 is said"
    );
    set(&mut window, "Soft edge of Warp by strake", 90.0);
    click(&mut window, "Closes a gap");
    let StepKind::Warp(warp) = &tug(&window).steps[0].kind else {
        panic!("no warp");
    };
    assert!((warp.soft_px - 90.0).abs() < 1e-6);
    assert!(matches!(warp.kind, WarpKind::Strake { covers: true, .. }));
}

#[test]
fn a_drag_is_given_up_by_escape_and_a_fold_is_refused() {
    let mut window = strake_set_out();
    let edits = window.state().edits();
    let path = [(110.0, 139.0), (110.0, 120.0)].map(|place| at(&window, place));
    press_and_move(&mut window, &path);
    key(&mut window, Key::Escape);
    window.drop_at(path[1]);
    window.run();
    assert_eq!(window.state().edits(), edits);
    // Beyond the line that stays, the band would be turned inside out.
    drag_over(
        &mut window,
        &[(110.0, 139.0), (110.0, 180.0), (110.0, 225.0)],
    );
    assert_eq!(window.state().edits(), edits);
    assert_eq!(window.state().said.len(), 1, "{:?}", window.state().said);
}

#[test]
fn a_strake_is_set_out_and_moved_by_keys_alone() {
    let mut window = window(Row::Plate(TUG), Column::Warp);
    click(&mut window, "Set out a strake");
    window.get_by_label("Picture").focus();
    window.run();
    let nudge = |window: &mut Window, to: Key, times: u32| {
        for _time in 0..times {
            window.key_press_modifiers(Modifiers::SHIFT, to);
            window.run();
        }
    };
    for line in [4, 2] {
        key(&mut window, Key::Insert);
        nudge(&mut window, Key::ArrowLeft, 8);
        nudge(&mut window, Key::ArrowDown, line);
        key(&mut window, Key::Insert);
        nudge(&mut window, Key::ArrowRight, 8);
        nudge(&mut window, Key::ArrowDown, line);
        key(&mut window, Key::Enter);
    }
    let (kept, was, _) = strake(&window);
    near(kept[0], (80.0, 160.0));
    near(was[1], (240.0, 140.0));
    // The new warp's first point is chosen.
    key(&mut window, Key::ArrowUp);
    key(&mut window, Key::PageDown);
    key(&mut window, Key::ArrowUp);
    let (_, was, now) = strake(&window);
    near(was[0], (80.0, 140.0));
    near(now[0], (80.0, 139.0));
    near(now[1], (240.0, 139.0));
    key(&mut window, Key::Delete);
    assert!(tug(&window).steps.is_empty(), "a line of one point is none");
}

fn handles(window: &Window) -> (Vec<[Point; 2]>, Vec<[Point; 4]>, Vec<Point>) {
    let StepKind::Warp(Warp {
        kind:
            WarpKind::Handles {
                handles,
                lines,
                outline,
            },
        ..
    }) = &tug(window).steps[0].kind
    else {
        panic!("no handles");
    };
    (handles.clone(), lines.clone(), outline.clone())
}

#[test]
fn handles_are_set_dragged_and_taken_away_inside_a_locked_outline() {
    let mut window = window(Row::Plate(TUG), Column::Warp);
    click(&mut window, "Lock an outline");
    for place in [(40.0, 40.0), (280.0, 40.0), (280.0, 200.0), (40.0, 200.0)] {
        press(&mut window, place);
    }
    press(&mut window, (40.0, 40.0));
    assert_eq!(handles(&window).2.len(), 4);
    window.get_by_label("Set handles inside the outline: nothing moves before there is one.");
    click(&mut window, "Set handles");
    for place in [(100.0, 100.0), (160.0, 120.0), (220.0, 100.0)] {
        press(&mut window, place);
    }
    assert_eq!(tug(&window).steps.len(), 1, "all go into one warp");
    drag_over(
        &mut window,
        &[(160.0, 120.0), (160.0, 130.0), (164.0, 132.0)],
    );
    let (held, ..) = handles(&window);
    near(held[1][0], (160.0, 120.0));
    near(held[1][1], (164.0, 132.0));
    // A handle set now holds the picture as it is.
    press(&mut window, (164.0, 110.0));
    let (held, ..) = handles(&window);
    near(held[3][1], (164.0, 110.0));
    assert!(held[3][0].distance(held[3][1]) > 1.0, "{:?}", held[3]);
    key(&mut window, Key::Delete);
    assert_eq!(handles(&window).0.len(), 3);
    click(&mut window, "Keep a line straight");
    drag_over(
        &mut window,
        &[(80.0, 160.0), (150.0, 165.0), (240.0, 160.0)],
    );
    assert_eq!(handles(&window).1.len(), 1);
    near(handles(&window).1[0][3], (240.0, 160.0));
}

#[test]
fn four_corners_are_pulled() {
    let mut window = window(Row::Plate(TUG), Column::Warp);
    click(&mut window, "Pull four corners");
    drag_over(&mut window, &[(80.0, 60.0), (150.0, 100.0), (240.0, 180.0)]);
    click(&mut window, "Pull four corners");
    drag_over(&mut window, &[(240.0, 60.0), (246.0, 56.0), (250.0, 50.0)]);
    let StepKind::Warp(Warp {
        kind: WarpKind::Corners { was, now },
        ..
    }) = &tug(&window).steps[0].kind
    else {
        panic!("no corners");
    };
    near(was[1], (240.0, 60.0));
    near(now[1], (250.0, 50.0));
    near(now[3], (80.0, 180.0));
}
