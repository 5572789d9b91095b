//! Spotting, paint-out, mattes and warps as recorded steps: tile by tile, at every zoom level, the same bits however tiles are cut.
#![expect(
    clippy::cast_possible_truncation,
    reason = "places of small test pictures"
)]

#[path = "common/disc_blur.rs"]
mod disc_blur;
#[path = "common/hand_set.rs"]
mod hand_set;
#[path = "common/layered_scene.rs"]
mod layered_scene;
#[path = "common/matte_scene.rs"]
mod matte_scene;

use hand_set::HandSet;
use layered_scene::{HEIGHT, WIDTH, coloured, frame_rect, texture};
use matte_scene::{photo, ramp, scene};
use platebench::engine::plate_tiles::Stage;
use platebench::geometry::{Point, Rect};
use platebench::imaging::basics::pyramid::halve;
use platebench::pixels::{Image, Plane, Planes};
use platebench::project::{
    GroupId, Mask, MaskId, MaskPart, Matte, MatteMethod, Node, PaintOut, PartId, PassRole, Patch,
    PatchFrom, PatchShape, Placing, PlateEdit, PracticalGroup, Shape, Sign, Spotting, Step, StepId,
    StepKind, Verdict, Warp, WarpKind,
};
use std::sync::Arc;

const SPOTS: [(f64, f64); 3] = [(300.5, 200.5), (254.0, 258.0), (700.0, 500.0)];

fn dab(at: (f64, f64), radius_px: f32) -> Patch {
    Patch {
        shape: PatchShape::Dab {
            at: Point::new(at.0, at.1),
            radius_px,
        },
        from: PatchFrom::Surroundings,
        feather_px: 1.0,
        confidence: None,
        verdict: Verdict::Undecided,
    }
}

/// Painted plating, and the same with three dark grains.
fn dusty() -> (Planes, Planes) {
    let clean = photo(&coloured(&texture(5, 0.5), [0.3, 0.31, 0.33]), 3);
    let mut hurt = clean.clone();
    for y in 0..HEIGHT {
        for x in 0..WIDTH {
            let near = SPOTS.iter().any(|(cx, cy)| {
                let (dx, dy) = (f64::from(x) + 0.5 - cx, f64::from(y) + 0.5 - cy);
                dx * dx + dy * dy < 9.0
            });
            if near {
                let at = frame_rect().index(x, y);
                let light = hurt.pixel(at).map(|light| light * 0.4);
                hurt.set_pixel(at, light);
            }
        }
    }
    (clean, hurt)
}

fn with_spots(tile_side: u32) -> HandSet {
    let (_, hurt) = dusty();
    let mut set = HandSet::new(&hurt, &[], tile_side);
    set.step(StepKind::Spotting(Spotting {
        patches: SPOTS.iter().map(|at| dab(*at, 4.0)).collect(),
        ..Spotting::default()
    }));
    set
}

fn off(picture: &Image, truth: &Planes, area: Rect) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0);
    for y in area.y0..area.y1 {
        for x in area.x0..area.x1 {
            let truth = truth.pixel(truth.rect().index(x, y));
            for (found, truth) in picture.at(x, y).iter().zip(truth) {
                sum += f64::from(found - truth) * f64::from(found - truth);
                count += 1.0;
            }
        }
    }
    (sum / count).sqrt()
}

fn about(at: (f64, f64), half: i32) -> Rect {
    let (x, y) = (at.0 as i32, at.1 as i32);
    Rect::new(x - half, y - half, x + half, y + half)
}

#[test]
fn grains_go_and_nothing_else_changes() {
    let (clean, hurt) = dusty();
    let set = with_spots(256);
    let (before, after) = (set.picture(Stage::Fused, 0), set.picture(Stage::Done, 0));
    for at in SPOTS {
        let area = about(at, 4);
        let (was, is) = (off(&before, &clean, area), off(&after, &clean, area));
        assert!(is < 0.6 * was, "{at:?}: {is} of {was}");
    }
    let mut changed = 0;
    for y in 0..HEIGHT {
        for x in 0..WIDTH {
            let far = SPOTS.iter().all(|at| !about(*at, 8).contains(x, y));
            if far {
                assert_eq!(before.at(x, y), after.at(x, y), "({x}, {y})");
            }
            changed += i32::from(before.at(x, y) != after.at(x, y));
        }
    }
    assert!(changed > 100, "{changed}");
    drop(hurt);
}

#[test]
fn only_tiles_with_a_place_get_another_fingerprint_and_tiles_of_any_side_agree() {
    let (large, small) = (with_spots(256), with_spots(64));
    let (done, fused) = (large.stamps(Stage::Done, 0), large.stamps(Stage::Fused, 0));
    for ((rect, done), (_, fused)) in done.iter().zip(&fused) {
        let reached = SPOTS
            .iter()
            .any(|at| !about(*at, 7).intersect(*rect).is_empty());
        assert_eq!(done != fused, reached, "{rect:?}");
    }
    assert_eq!(large.picture(Stage::Done, 0), small.picture(Stage::Done, 0));
    assert_eq!(large.picture(Stage::Done, 2), small.picture(Stage::Done, 2));
}

#[test]
fn smaller_levels_show_the_same_healing() {
    let set = with_spots(256);
    let (full, half) = (set.picture(Stage::Done, 0), set.picture(Stage::Done, 1));
    for (a, b) in halve(&full).data.iter().zip(&half.data) {
        for (a, b) in a.iter().zip(b) {
            assert!((a - b).abs() < 1e-5, "{a} {b}");
        }
    }
}

#[test]
fn a_rod_is_painted_out_from_the_clean_plate_though_its_light_changed() {
    let clean = coloured(&texture(9, 0.6), [0.3, 0.3, 0.3]);
    let mut with_rod = clean.clone();
    let rod = Rect::new(500, 300, 530, 720);
    for y in rod.y0..rod.y1 {
        for x in rod.x0..rod.x1 {
            with_rod.set_pixel(frame_rect().index(x, y), [0.6, 0.58, 0.5]);
        }
    }
    // Later, the set was a tenth darker to one side.
    let later = Planes {
        rgb: clean.rgb.each_ref().map(|plane| {
            let mut plane = plane.clone();
            for (at, light) in plane.data.iter_mut().enumerate() {
                *light *= 0.9 + 0.1 * (at % 1080) as f32 / 1080.0;
            }
            plane
        }),
    };
    let passes = [(PassRole::CleanPlate, photo(&later, 8))];
    let mut set = HandSet::new(&photo(&with_rod, 7), &passes, 256);
    let outline = |rect: Rect| rect.corners().to_vec();
    set.step(StepKind::PaintOut(PaintOut {
        patches: vec![Patch {
            shape: PatchShape::Outline {
                points: outline(Rect::new(496, 296, 534, 720)),
            },
            from: PatchFrom::CleanPlate {
                pass: HandSet::pass(0),
            },
            feather_px: 2.0,
            confidence: None,
            verdict: Verdict::Undecided,
        }],
        shadow_seen_to: false,
    }));
    let found = off(&set.picture(Stage::Done, 0), &clean, rod);
    // Photon noise of one photo is 0.004 there.
    assert!(found < 0.0075, "{found}");
}

#[test]
fn a_matte_from_two_levels_is_as_good_in_tiles_as_on_the_whole() {
    let scene = scene([0.3; 3], 0.0);
    let [bright, dark] = [0.6, 0.004].map(ramp);
    let passes = [
        (PassRole::Backdrop, photo(&scene.before(&bright), 11)),
        (PassRole::CleanPlate, photo(&dark, 14)),
        (PassRole::BackdropCleanPlate, photo(&bright, 13)),
    ];
    let mut set = HandSet::new(&photo(&scene.before(&dark), 12), &passes, 256);
    set.step(StepKind::Matte(Matte::new(MatteMethod::TwoLevels {
        other: HandSet::pass(0),
        clean: HandSet::pass(1),
        other_clean: HandSet::pass(2),
    })));
    let cut = set.picture(Stage::Done, 0);
    let coverage = Plane {
        rect: cut.rect,
        data: cut.data.iter().map(|pixel| pixel[3]).collect(),
    };
    let (square, edge) = scene.errors(&coverage);
    assert!(square < 0.1e-3 && edge < 0.02, "{square:e} {edge}");
    let (mut worst, mut count) = (0.0_f64, 0.0);
    for (at, truth) in scene.coverage.data.iter().enumerate() {
        if (0.02..=0.98).contains(truth) {
            worst += f64::from(cut.data[at][1] - scene.model.pixel(at)[1]);
            count += 1.0;
        }
    }
    assert!((worst / count).abs() < 3e-3, "{}", worst / count);
}

#[test]
fn a_plain_backdrop_is_cut_away_and_core_and_holdout_are_kept_to() {
    let scene = scene([0.3; 3], 0.05);
    let passes = [(PassRole::CleanPlate, photo(&scene.backdrop, 5))];
    let mut set = HandSet::new(&photo(&scene.seen, 4), &passes, 256);
    set.step(StepKind::Matte(Matte::new(MatteMethod::plain(Some(
        HandSet::pass(0),
    )))));
    let cut = set.picture(Stage::Done, 0);
    let coverage = Plane {
        rect: cut.rect,
        data: cut.data.iter().map(|pixel| pixel[3]).collect(),
    };
    let (square, edge) = scene.errors(&coverage);
    assert!(square < 1.4e-3 && edge < 0.21, "{square:e} {edge}");
    assert_eq!(cut.at(20, 20), [0.0; 4], "the backdrop is empty");
}

fn strake() -> StepKind {
    let line = |y: f64| vec![Point::new(200.0, y), Point::new(900.0, y)];
    StepKind::Warp(Warp {
        kind: WarpKind::Strake {
            kept: line(500.0),
            was: line(400.0),
            now: line(376.0),
            covers: false,
        },
        soft_px: 60.0,
    })
}

#[test]
fn a_warp_moves_what_it_should_and_leaves_other_tiles_alone() {
    let plate = photo(&coloured(&texture(5, 0.5), [0.3, 0.31, 0.33]), 3);
    let mut set = HandSet::new(&plate, &[], 128);
    set.step(strake());
    let (was, now) = (set.picture(Stage::Done, 0), set.picture(Stage::Warped, 0));
    let stamps = set.stamps(Stage::Done, 0);
    let moved = Rect::new(200 - 62, 376 - 62, 900 + 62, 500 + 62);
    for ((rect, before), (_, after)) in stamps.iter().zip(set.stamps(Stage::Warped, 0)) {
        if rect.intersect(moved.grow(8)).is_empty() {
            assert_eq!(*before, after, "{rect:?}");
        }
    }
    for y in (0..HEIGHT).step_by(7) {
        for x in (0..WIDTH).step_by(7) {
            if !moved.grow(8).contains(x, y) {
                assert_eq!(was.at(x, y), now.at(x, y), "({x}, {y})");
            }
        }
    }
    // The moved line went up by a whole number of pixels, so its row shows the old row.
    let mut off = 0.0_f32;
    for x in 300..800 {
        let (old, new) = (was.at(x, 400), now.at(x, 376));
        off = off.max((old[1] - new[1]).abs());
    }
    assert!(off < 0.12, "{off}");
    let mut small = HandSet::new(&plate, &[], 64);
    small.step(strake());
    assert_eq!(now, small.picture(Stage::Warped, 0));
}

fn upright(centre: Point) -> Placing {
    Placing::Upright {
        centre,
        scale: 1.0,
        turn_deg: 0.0,
        mirrored: false,
    }
}

/// An outline as a mask of its own.
fn mask(id: u32, rect: Rect) -> Arc<Mask> {
    let nodes = rect.corners().into_iter().map(Node::corner).collect();
    let part = MaskPart {
        id: PartId(id + 1),
        sign: Sign::Add,
        strength: 1.0,
        on: true,
        shape: Shape::Outline {
            nodes,
            feather_px: 3.0,
        },
    };
    let mut mask = Mask::new(MaskId(id), "drawn".to_owned());
    mask.parts.push_back(Arc::new(part));
    Arc::new(mask)
}

/// A plate with a lamp behind a mask, cut out by another mask; the lamp off.
fn masked_and_dark() -> HandSet {
    let mut set = masked_and_lit();
    let mut group = lamp_group();
    group.on = false;
    set.edit(PlateEdit::SetGroup(group));
    set
}

fn lamp_group() -> PracticalGroup {
    PracticalGroup {
        mask: Some(MaskId(400)),
        ..PracticalGroup::new(GroupId(420), "lamp", HandSet::pass(0))
    }
}

/// The same with the lamp on.
fn masked_and_lit() -> HandSet {
    let clean = coloured(&texture(5, 0.5), [0.3, 0.31, 0.33]);
    let lamp = Planes {
        rgb: clean.rgb.each_ref().map(|plane| {
            Plane::from_fn(plane.rect, |x, y| {
                let (dx, dy) = ((x - 550) as f32, (y - 400) as f32);
                plane.at(x, y) + 0.4 * libm::expf(-(dx * dx + dy * dy) / 9000.0)
            })
        }),
    };
    let passes = [(PassRole::Light, photo(&lamp, 4))];
    let mut set = HandSet::new(&photo(&clean, 3), &passes, 128);
    set.edit(PlateEdit::AddMask(mask(400, Rect::new(420, 300, 700, 450))));
    set.edit(PlateEdit::AddMask(mask(410, Rect::new(150, 240, 950, 620))));
    set.edit(PlateEdit::AddGroup(lamp_group()));
    set.edit(PlateEdit::AddStep {
        step: Step {
            id: StepId(430),
            on: true,
            mask: Some(MaskId(410)),
            kind: StepKind::Matte(Matte::new(MatteMethod::Drawn)),
        },
        at: 0,
    });
    set
}

#[test]
fn light_and_mattes_follow_the_same_field_into_the_scene() {
    let (mut lit, mut dark) = (masked_and_lit(), masked_and_dark());
    let still = [&lit, &dark].map(|set| set.picture(Stage::Done, 0));
    lit.step(strake());
    dark.step(strake());
    let moved = [&lit, &dark].map(|set| set.picture(Stage::Warped, 0));
    let middle = Point::new(f64::from(WIDTH) * 0.5, f64::from(HEIGHT) * 0.5);
    let scene = lit.scene(upright(middle));
    // The lamp's light and the coverage, on the moved line and where it was.
    let (mut off_light, mut off_cover, mut brightest) = (0.0_f32, 0.0_f32, 0.0_f32);
    for x in 300..800 {
        let light = |pair: &[Image; 2], y: i32| pair[0].at(x, y)[1] - pair[1].at(x, y)[1];
        let (was, is) = (light(&still, 400), light(&moved, 376));
        brightest = brightest.max(was);
        off_light = off_light.max((was - is).abs());
        let cover = |picture: &Image, y: i32| picture.at(x, y)[3];
        off_cover = off_cover.max((cover(&still[0], 400) - cover(&moved[0], 376)).abs());
    }
    assert!(brightest > 0.2, "the lamp shines there: {brightest}");
    assert!(off_light < 0.03, "{off_light}");
    assert!(off_cover < 1e-4, "{off_cover}");
    // The scene shows the very picture that the warped plate is.
    let mut off_scene = 0.0_f32;
    for (scene, plate) in scene.data.iter().zip(&moved[0].data) {
        for channel in 0..3 {
            off_scene = off_scene.max((scene[channel] - plate[channel]).abs());
        }
    }
    assert!(off_scene < 1e-5, "{off_scene}");
}

#[test]
fn warp_and_placement_are_one_resample() {
    let plate = photo(&coloured(&texture(5, 0.5), [0.3, 0.31, 0.33]), 3);
    let mut set = HandSet::new(&plate, &[], 128);
    let middle = Point::new(f64::from(WIDTH) * 0.5, f64::from(HEIGHT) * 0.5);
    let was = set.scene(upright(middle));
    let by = |at: Point, off: f64| Point::new(at.x + off, at.y - off);
    let handles = [(200.0, 200.0), (800.0, 300.0), (500.0, 600.0)];
    let handles = handles.map(|(x, y)| Point::new(x, y));
    set.step(StepKind::Warp(Warp {
        kind: WarpKind::Handles {
            handles: handles.iter().map(|at| [*at, by(*at, 0.5)]).collect(),
            lines: Vec::new(),
            outline: Vec::new(),
        },
        soft_px: 60.0,
    }));
    // Half a pixel by the warp and half a pixel back by the placement: sampled once, every pixel is what it was. Sampled twice, the
    // finest detail would be gone.
    let is = set.scene(upright(by(middle, -0.5)));
    let (mut off, mut blurred) = (0.0_f32, 0.0_f32);
    let once = set.scene(upright(middle));
    for y in 20..HEIGHT - 20 {
        for x in 20..WIDTH - 20 {
            off = off.max((was.at(x, y)[1] - is.at(x, y)[1]).abs());
            blurred = blurred.max((was.at(x, y)[1] - once.at(x, y)[1]).abs());
        }
    }
    assert!(off < 1e-4, "{off}");
    assert!(blurred > 0.01, "half a pixel shows: {blurred}");
}
