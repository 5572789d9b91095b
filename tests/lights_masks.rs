//! Practical groups through masks: rules, what covers and what is added, nothing and everything, and what a stroke renews.
#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a failed step is a failed test, and the measured numbers are worth reading with --nocapture"
)]

mod common;

use common::layered_scene::{Backdrop, LayeredScene, STEP_PX};
use common::lit_set::{LitSet, PASS, PLATE, Shoot, Shot};
use platebench::engine::patching::MaskChange;
use platebench::engine::plate_tiles::{PlatePlan, Stage};
use platebench::engine::{Engine, Options, World};
use platebench::geometry::{Point, TileIndex};
use platebench::imaging::lights::OFF;
use platebench::pixels::Image;
use platebench::pixels::convert::narrow;
use platebench::project::{
    Flicker, GroupId, KeyLight, LayOver, Mask, MaskId, MaskPart, Node, PartId, PlateEdit,
    PracticalGroup, Project, RangeOf, Rule, Shape, Sign, Spikes,
};
use std::sync::{Arc, OnceLock};

const STILL: Shot = Shot {
    key: 1.0,
    exposure: 1.0,
    shift: (0.4, 0.3),
    turn_deg: 0.01,
    seed: 7,
};
const GROUP: GroupId = GroupId(110);
const MASK: MaskId = MaskId(120);
const OTHER: MaskId = MaskId(121);

fn set() -> &'static LitSet {
    static SET: OnceLock<LitSet> = OnceLock::new();
    SET.get_or_init(|| LitSet::on(LayeredScene::new(6, Backdrop::Black).render(7.0, STEP_PX)))
}

fn shoot(key_light: KeyLight) -> Shoot {
    let lit = (set().lit_photo(&[0, 1, 2], &STILL), Some(1.0));
    Shoot::new(&set().unlit_photo(1), &[lit], key_light)
}

fn group() -> PracticalGroup {
    PracticalGroup::new(GROUP, "all", PASS)
}

fn part(id: u32, sign: Sign, shape: Shape) -> Arc<MaskPart> {
    Arc::new(MaskPart {
        id: PartId(id),
        sign,
        strength: 1.0,
        on: true,
        shape,
    })
}

fn dab(x: f64, y: f64, radius_px: f32) -> Shape {
    Shape::Stroke {
        points: vec![Point::new(x, y)],
        radius_px,
        softness: 0.0,
        pressure: Vec::new(),
    }
}

fn square(x: f64, y: f64, side: f64) -> Shape {
    let corner = |dx: f64, dy: f64| Node::corner(Point::new(x + dx, y + dy));
    Shape::Outline {
        nodes: vec![
            corner(0.0, 0.0),
            corner(side, 0.0),
            corner(side, side),
            corner(0.0, side),
        ],
        feather_px: 0.0,
    }
}

/// The plate at `stage` as one picture.
fn picture(shoot: &Shoot, stage: Stage) -> Image {
    let world = shoot.world();
    let plate = world.project.plate(PLATE).unwrap();
    let plan = PlatePlan::new(&world.project, plate).unwrap();
    shoot.engine.prepare_plate(&world, &plan).unwrap();
    let mut whole = Image::empty(plan.size.rect());
    for index in platebench::engine::view::grid(&shoot.engine, plan.size, 0).tiles() {
        whole.paste(
            &shoot
                .engine
                .plate_tile(&world, &plan, stage, 0, index)
                .unwrap(),
        );
    }
    whole
}

fn bits(image: &Image) -> Vec<[u32; 4]> {
    image
        .data
        .iter()
        .map(|pixel| pixel.map(f32::to_bits))
        .collect()
}

/// A shoot with the group acting through a mask of these parts.
fn masked(shoot: &mut Shoot, mask: Mask) -> Image {
    shoot.edit(PlateEdit::AddMask(Arc::new(mask)));
    let group = PracticalGroup {
        mask: Some(MASK),
        ..group()
    };
    shoot.edit(PlateEdit::AddGroup(group));
    picture(shoot, Stage::Lit)
}

fn mask(parts: Vec<Arc<MaskPart>>) -> Mask {
    Mask {
        parts: parts.into(),
        ..Mask::new(MASK, "mask".to_owned())
    }
}

#[test]
fn a_group_that_gives_nothing_returns_the_unlit_plate_bit_for_bit() {
    let mut shoot = shoot(KeyLight::Auto);
    let plain = bits(&picture(&shoot, Stage::Fused));
    shoot.edit(PlateEdit::AddGroup(group()));
    assert_ne!(
        bits(&picture(&shoot, Stage::Lit)),
        plain,
        "the group lights"
    );
    let off = PracticalGroup {
        on: false,
        ..group()
    };
    let none = PracticalGroup {
        stops: OFF,
        ..group()
    };
    let glowing = PracticalGroup {
        glow_px: 3.0,
        glow_share: 0.4,
        spikes: Some(Spikes::default()),
        ..none.clone()
    };
    for nothing in [off, none, glowing] {
        shoot.edit(PlateEdit::SetGroup(nothing));
        assert_eq!(bits(&picture(&shoot, Stage::Lit)), plain);
    }
}

#[test]
fn everything_as_shot_returns_the_lit_pass_added_or_covering() {
    let lit = set().lit_photo(&[0, 1, 2], &Shot { seed: 99, ..STILL });
    let (there, _) = platebench::imaging::basics::resample::sample_planes(
        &lit,
        lit.rect(),
        &STILL.lit_from_unlit(),
        platebench::imaging::basics::resample::Kernel::Lanczos3,
    );
    let judged = set().judged(&[0, 1, 2], &STILL);
    for lay_over in [LayOver::AddedLight, LayOver::Covering] {
        let mut shoot = shoot(KeyLight::Auto);
        shoot.edit(PlateEdit::AddGroup(PracticalGroup {
            lay_over,
            ..group()
        }));
        let made = picture(&shoot, Stage::Lit);
        let (mut error, mut noise, mut mean) = (0.0, 0.0, (0.0, 0.0));
        for at in (0..judged.len()).filter(|at| judged[*at]) {
            let off = f64::from(made.data[at][1] - there.rgb[1].data[at]);
            error += off * off;
            // Another photo of the same light: its own noise and the made one's.
            noise += 2.0 * 0.76 * f64::from(there.rgb[1].data[at].max(0.0) * 20_000.0 + 16.0) / 4e8;
            mean = (mean.0 + off, mean.1 + 1.0);
        }
        let ratio = (error / noise).sqrt();
        println!(
            "{lay_over:?}: {ratio:.3} times the noise, mean {:.6}",
            mean.0 / mean.1
        );
        assert!(ratio < 1.2, "{lay_over:?}: {ratio}");
        assert!((mean.0 / mean.1).abs() < 1e-3, "{lay_over:?}");
    }
}

#[test]
fn parts_join_without_and_within() {
    let mut shoot = shoot(KeyLight::Auto);
    let plain = picture(&shoot, Stage::Fused);
    let light = shoot.separated().light;
    let parts = vec![
        part(1, Sign::Add, square(300.0, 300.0, 200.0)),
        part(2, Sign::Within, square(350.0, 250.0, 120.0)),
        part(3, Sign::Remove, dab(400.0, 330.0, 15.0)),
        part(4, Sign::Add, dab(600.0, 350.0, 20.0)),
    ];
    let made = masked(&mut shoot, mask(parts));
    for ((x, y), inside) in [
        ((360, 310), true),
        ((320, 320), false),
        ((400, 330), false),
        ((600, 350), true),
        ((430, 365), true),
        ((430, 380), false),
    ] {
        let (from, there) = (plain.at(x, y)[1], made.at(x, y)[1]);
        let wanted = if inside { light.at(x, y)[1] } else { 0.0 };
        assert!((there - from - wanted).abs() < 1e-6, "({x}, {y})");
    }
}

#[test]
fn ranges_and_other_masks_are_parts_like_any() {
    let mut shoot = shoot(KeyLight::Auto);
    let plain = picture(&shoot, Stage::Fused);
    let light = shoot.separated().light;
    let bright = Rule::Brightness {
        of: RangeOf::Light(PASS),
        low: 0.5,
        high: 1.0,
        soft: 0.0,
    };
    let mut windows = Mask::new(OTHER, "lamps".to_owned());
    windows.parts = imbl::vector![part(1, Sign::Add, Shape::Rule(bright))];
    shoot.edit(PlateEdit::AddMask(Arc::new(windows)));
    let takes_in = part(2, Sign::Add, Shape::Rule(Rule::Mask { mask: OTHER }));
    let warm = part(
        3,
        Sign::Within,
        Shape::Rule(Rule::Colour {
            of: RangeOf::Light(PASS),
            picked_rgb: [0.55, 0.42, 0.22],
            reach: 0.03,
            soft: 0.0,
        }),
    );
    let made = masked(&mut shoot, mask(vec![takes_in, warm]));
    let changed = |x: i32, y: i32| (made.at(x, y)[0] - plain.at(x, y)[0]).abs() > 1e-6;
    assert!(changed(267, 304), "a window is bright and warm");
    assert!(!changed(880, 250), "the engine is bright but blue");
    assert!(!changed(500, 600), "the hull is neither");
    assert!((made.at(267, 304)[0] - plain.at(267, 304)[0] - light.at(267, 304)[0]).abs() < 1e-5);
    let itself = mask(vec![part(
        9,
        Sign::Add,
        Shape::Rule(Rule::Mask { mask: MASK }),
    )]);
    let refused = shoot.project.edited(&platebench::project::Edit::Plate(
        PLATE,
        PlateEdit::SetMask(Arc::new(itself)),
    ));
    assert!(refused.is_err(), "a mask is never made of itself");
}

#[test]
fn light_thrown_on_the_model_stays_outside_the_mask_as_far_as_the_fader_says() {
    let mut shoot = shoot(KeyLight::Auto);
    let plain = picture(&shoot, Stage::Fused);
    let light = shoot.separated().light;
    shoot.edit(PlateEdit::AddMask(Arc::new(mask(vec![part(
        1,
        Sign::Add,
        dab(880.0, 250.0, 14.0),
    )]))));
    shoot.edit(PlateEdit::AddGroup(PracticalGroup {
        mask: Some(MASK),
        outside_share: 0.3,
        ..group()
    }));
    let made = picture(&shoot, Stage::Lit);
    for ((x, y), share) in [((880, 250), 1.0), ((840, 280), 0.3), ((300, 600), 0.3)] {
        let more = made.at(x, y)[2] - plain.at(x, y)[2];
        assert!(
            (more - share * light.at(x, y)[2]).abs() < 1e-5,
            "({x}, {y})"
        );
    }
}

#[test]
fn flicker_is_the_same_for_the_same_seed() {
    let mut shoot = shoot(KeyLight::Auto);
    shoot.edit(PlateEdit::AddGroup(group()));
    let mut lit = |seed: u32| {
        shoot.edit(PlateEdit::SetGroup(PracticalGroup {
            flicker: Some(Flicker {
                seed,
                hundredths: 50,
            }),
            ..group()
        }));
        picture(&shoot, Stage::Lit).at(880, 250)[2]
    };
    let (first, second, again) = (lit(1), lit(2), lit(1));
    assert_eq!(first.to_bits(), again.to_bits());
    assert!((first - second).abs() > 1e-3, "{first} {second}");
}

#[test]
fn denoised_light_keeps_lamps_and_calms_black() {
    let mut shoot = shoot(KeyLight::Auto);
    let plain = picture(&shoot, Stage::Fused);
    shoot.edit(PlateEdit::AddGroup(group()));
    let noisy = picture(&shoot, Stage::Lit);
    shoot.edit(PlateEdit::SetGroup(PracticalGroup {
        denoise: 2.0,
        ..group()
    }));
    let calm = picture(&shoot, Stage::Lit);
    let spread = |made: &Image| -> f64 {
        let rows = (620..700).flat_map(|y| (60..300).map(move |x| (x, y)));
        let more = rows.map(|(x, y)| f64::from(made.at(x, y)[1] - plain.at(x, y)[1]));
        more.map(|v| v * v).sum::<f64>()
    };
    assert!(
        spread(&calm) < 0.3 * spread(&noisy),
        "{} of {}",
        spread(&calm),
        spread(&noisy)
    );
    let lamp = |made: &Image| made.at(267, 304)[0];
    assert!((lamp(&calm) / lamp(&noisy) - 1.0).abs() < 0.03);
}

/// 500 strokes and 40 outlines all over the plate.
fn large() -> Mask {
    let mut parts = Vec::new();
    for number in 0..500_u32 {
        let at = |step: u32, side: u32| f64::from(number * step % side);
        let from = Point::new(at(211, 1080), at(137, 720));
        let shape = Shape::Stroke {
            points: vec![
                from,
                Point::new(from.x + at(7, 60) - 30.0, from.y + at(11, 60) - 30.0),
            ],
            radius_px: 3.0 + narrow(at(3, 14)),
            softness: 0.5,
            pressure: Vec::new(),
        };
        let sign = if number % 5 == 4 {
            Sign::Remove
        } else {
            Sign::Add
        };
        parts.push(part(1000 + number, sign, shape));
    }
    for number in 0..40_u32 {
        let (x, y) = (f64::from(number * 97 % 1000), f64::from(number * 53 % 660));
        let mut shape = square(x, y, 40.0);
        if let Shape::Outline { nodes, feather_px } = &mut shape {
            nodes[1].before = Some(Point::new(-10.0, -12.0));
            *feather_px = 4.0;
        }
        parts.push(part(2000 + number, Sign::Add, shape));
    }
    Mask {
        grow_px: 1.0,
        feather_px: 2.0,
        ..mask(parts)
    }
}

#[test]
fn a_stroke_in_a_large_mask_renews_only_the_tiles_it_touches() {
    let mut shoot = shoot(KeyLight::Auto);
    masked(&mut shoot, large());
    let before = shoot.engine.counts();
    shoot.edit(PlateEdit::AddPart(
        MASK,
        part(5000, Sign::Add, dab(300.0, 300.0, 10.0)),
    ));
    picture(&shoot, Stage::Lit);
    let after = shoot.engine.counts();
    assert_eq!(
        after.wholes_run, before.wholes_run,
        "nothing is separated again"
    );
    let tiles = after.plate_tiles_run - before.plate_tiles_run;
    assert_eq!(tiles, 1, "a small stroke inside one tile renews that tile");
    shoot.edit(PlateEdit::AddPart(
        MASK,
        part(5001, Sign::Add, dab(512.0, 512.0, 10.0)),
    ));
    picture(&shoot, Stage::Lit);
    let tiles = shoot.engine.counts().plate_tiles_run - after.plate_tiles_run;
    assert_eq!(tiles, 4, "a stroke over the corner of four renews four");
}

/// Patches every tile of the plate for what changed since `before`, and holds it to the exact tiles. How many pixels were patched.
fn patched_like_exact(shoot: &Shoot, before: &Project, level: u32) -> usize {
    let change = MaskChange::between(before, &shoot.project).unwrap();
    let worlds = [before, &shoot.project].map(|project| World {
        project: Arc::new(project.clone()),
        ..shoot.world()
    });
    let plan = |project: &Project| PlatePlan::new(project, project.plate(PLATE).unwrap()).unwrap();
    let (old_plan, new_plan) = (plan(before), plan(&shoot.project));
    let grid = platebench::engine::view::grid(&shoot.engine, new_plan.size, level);
    let mut count = 0;
    for index in grid.tiles() {
        let patch = shoot
            .engine
            .patch_plate(
                &shoot.world(),
                (&new_plan, Stage::Lit),
                (level, index),
                &change,
            )
            .unwrap()
            .unwrap();
        let tile = |world: &World<'_>, plan| {
            let made = shoot
                .engine
                .plate_tile(world, plan, Stage::Lit, level, index);
            Image::clone(&made.unwrap())
        };
        let mut shown = tile(&worlds[0], &old_plan);
        shown.paste(&patch);
        let exact = tile(&worlds[1], &new_plan);
        let pairs = shown.data.iter().zip(&exact.data);
        let worst = pairs
            .flat_map(|(a, b)| [0, 1, 2, 3].map(|channel| (a[channel] - b[channel]).abs()))
            .fold(0.0, f32::max);
        assert!(worst < 1e-6, "tile {index:?} at level {level}: {worst}");
        count += patch.data.len();
    }
    count
}

/// A stroke of a pen that pressed differently along it.
fn pressed(points: &[Point], pressure: &[f32]) -> Arc<MaskPart> {
    let shape = Shape::Stroke {
        points: points.to_vec(),
        radius_px: 16.0,
        softness: 0.3,
        pressure: pressure.to_vec(),
    };
    part(5002, Sign::Add, shape)
}

#[test]
fn a_pen_that_presses_less_draws_narrower() {
    let mut shoot = shoot(KeyLight::Auto);
    let ends = [Point::new(200.0, 300.0), Point::new(400.0, 300.0)];
    let wide = masked(&mut shoot, mask(vec![pressed(&ends, &[])]));
    shoot.edit(PlateEdit::SetPart(MASK, pressed(&ends, &[1.0, 0.25])));
    let narrowing = picture(&shoot, Stage::Lit);
    let plain = picture(&shoot, Stage::Fused);
    // Half widths along the stroke: 16 px at its start, 4 px at its end, in between in proportion.
    let is_lit = |made: &Image, x: i32, off: i32| made.at(x, 300 + off) != plain.at(x, 300 + off);
    for (x, half) in [(200, 16), (300, 10), (400, 4)] {
        assert!(is_lit(&narrowing, x, half - 2), "inside at {x}");
        assert!(!is_lit(&narrowing, x, half + 2), "outside at {x}");
        assert!(is_lit(&wide, x, 14), "full width without pressure");
    }
}

#[test]
fn what_a_stroke_touches_is_patched_as_the_exact_tiles_show_it() {
    let mut shoot = shoot(KeyLight::Auto);
    masked(&mut shoot, large());
    let stroke = |points: Vec<Point>| {
        let shape = Shape::Stroke {
            points,
            radius_px: 12.0,
            softness: 0.5,
            pressure: Vec::new(),
        };
        part(5000, Sign::Add, shape)
    };
    let ways = [
        (300.0, 300.0),
        (330.0, 310.0),
        (360.0, 330.0),
        (390.0, 320.0),
        (410.0, 300.0),
    ];
    let points: Vec<Point> = ways.iter().map(|(x, y)| Point::new(*x, *y)).collect();
    let edits = [
        PlateEdit::AddPart(MASK, stroke(points[..4].to_vec())),
        PlateEdit::SetPart(MASK, stroke(points.clone())),
        PlateEdit::AddPart(MASK, part(5001, Sign::Remove, dab(512.0, 512.0, 20.0))),
        PlateEdit::RemovePart(MASK, PartId(5000)),
        PlateEdit::AddPart(MASK, pressed(&points[..3], &[0.2, 0.5, 0.9])),
        PlateEdit::SetPart(MASK, pressed(&points, &[0.2, 0.5, 0.9, 0.4, 0.1])),
    ];
    let whole = shoot.project.plate(PLATE).unwrap().size.unwrap().area();
    for edit in edits {
        let before = shoot.project.clone();
        shoot.edit(edit);
        for level in [0, 1, 2] {
            let count = patched_like_exact(&shoot, &before, level);
            println!("level {level}: {count} pixels patched");
            assert!(count > 0 && (count << (2 * level)) < usize::try_from(whole).unwrap() / 4);
        }
    }
}

#[test]
fn strokes_over_strokes_are_the_bits_of_drawing_them_all_anew() {
    let mut shoot = shoot(KeyLight::Auto);
    masked(&mut shoot, large());
    let over = |id, sign, x| part(id, sign, dab(x, 300.0, 40.0));
    let edits = [
        PlateEdit::AddPart(MASK, over(5000, Sign::Add, 240.0)),
        PlateEdit::AddPart(MASK, over(5001, Sign::Remove, 256.0)),
        PlateEdit::SetPart(MASK, over(5001, Sign::Remove, 262.0)),
        PlateEdit::AddPart(MASK, part(5002, Sign::Within, dab(260.0, 290.0, 90.0))),
        PlateEdit::AddPart(MASK, over(5003, Sign::Add, 270.0)),
        PlateEdit::RemovePart(MASK, PartId(5000)),
        PlateEdit::AddPart(MASK, over(5004, Sign::Add, 230.0)),
    ];
    for (count, edit) in edits.into_iter().enumerate() {
        shoot.edit(edit);
        let drawn_on = picture(&shoot, Stage::Lit);
        if [3, 5, 7].contains(&(count + 1)) {
            let used = std::mem::replace(&mut shoot.engine, Engine::new(Options::default()));
            assert_eq!(picture(&shoot, Stage::Lit), drawn_on, "{} edits", count + 1);
            shoot.engine = used;
        }
    }
}

#[test]
fn what_a_change_of_a_mask_does_elsewhere_is_not_patched() {
    let mut shoot = shoot(KeyLight::Auto);
    masked(&mut shoot, large());
    let before = shoot.project.clone();
    let changed = |shoot: &Shoot| MaskChange::between(&before, &shoot.project);
    assert_eq!(changed(&shoot), None, "nothing changed");
    shoot.edit(PlateEdit::AddPart(
        MASK,
        part(5000, Sign::Within, dab(300.0, 300.0, 10.0)),
    ));
    assert_eq!(changed(&shoot), None, "all outside of the dab goes");
    shoot.project = before.clone();
    shoot.edit(PlateEdit::SetMask(Arc::new(Mask {
        inverted: true,
        ..large()
    })));
    assert_eq!(changed(&shoot), None, "all of it changed");
    shoot.project = before.clone();
    shoot.edit(PlateEdit::SetGroup(PracticalGroup {
        mask: Some(MASK),
        glow_px: 30.0,
        glow_share: 0.5,
        ..group()
    }));
    assert_eq!(changed(&shoot), None, "more than a mask changed");
    let glowing = shoot.project.clone();
    shoot.edit(PlateEdit::AddPart(
        MASK,
        part(5000, Sign::Add, dab(300.0, 300.0, 10.0)),
    ));
    let change = MaskChange::between(&glowing, &shoot.project).unwrap();
    picture(&shoot, Stage::Lit);
    let plan = PlatePlan::new(&shoot.project, shoot.project.plate(PLATE).unwrap()).unwrap();
    let at = (0, TileIndex { x: 0, y: 0 });
    let patch = shoot
        .engine
        .patch_plate(&shoot.world(), (&plan, Stage::Lit), at, &change);
    assert!(patch.unwrap().is_none(), "glow carries it over the plate");
}

#[test]
fn a_large_mask_is_the_same_after_the_record_was_written_and_read() {
    let mut shoot = shoot(KeyLight::Auto);
    let made = bits(&masked(&mut shoot, large()));
    let text = serde_json::to_string(&shoot.project).unwrap();
    shoot.project = serde_json::from_str(&text).unwrap();
    let again = Shoot {
        engine: Engine::new(Options {
            tile_side: 100,
            ..Options::default()
        }),
        ..shoot
    };
    assert_eq!(
        bits(&picture(&again, Stage::Lit)),
        made,
        "on other tiles too"
    );
    let odd = text.replacen("\"feather_px\"", "\"glitter_px\"", 1);
    assert!(
        serde_json::from_str::<Project>(&odd).is_err(),
        "unknown fields are errors"
    );
}

#[test]
fn proposed_outlines_hold_the_lamps_and_not_the_hull() {
    let shoot = shoot(KeyLight::Auto);
    let outlines = shoot.separated().lit_outlines();
    println!(
        "{} areas, {} corners",
        outlines.len(),
        outlines.iter().map(Vec::len).sum::<usize>()
    );
    let inside = |x: f64, y: f64| {
        outlines.iter().any(|outline| {
            let mut winds = false;
            for at in 0..outline.len() {
                let (a, b) = (outline[at], outline[(at + 1) % outline.len()]);
                if (a.y > y) != (b.y > y) && x < a.x + (y - a.y) / (b.y - a.y) * (b.x - a.x) {
                    winds = !winds;
                }
            }
            winds
        })
    };
    assert!(inside(267.5, 304.5), "a window");
    assert!(inside(880.5, 250.5), "the engine");
    assert!(inside(150.5, 520.5), "a running light");
    assert!(
        !inside(100.0, 100.0) && !inside(600.0, 640.0),
        "not the hull"
    );
    assert!(
        shoot.separated().ghosts().is_empty(),
        "the passes lie on each other"
    );
}

#[test]
fn every_level_shows_the_group() {
    let mut shoot = shoot(KeyLight::Auto);
    shoot.edit(PlateEdit::AddGroup(PracticalGroup {
        glow_px: 6.0,
        glow_share: 0.3,
        spikes: Some(Spikes::default()),
        ..group()
    }));
    let world = shoot.world();
    let plate = world.project.plate(PLATE).unwrap();
    let plan = PlatePlan::new(&world.project, plate).unwrap();
    shoot.engine.prepare_plate(&world, &plan).unwrap();
    let sum = |stage: Stage, level: u32| -> f64 {
        let grid = platebench::engine::view::grid(&shoot.engine, plan.size, level);
        let tile = |index: TileIndex| {
            shoot
                .engine
                .plate_tile(&world, &plan, stage, level, index)
                .unwrap()
        };
        let tiles = grid.tiles().map(|index| {
            tile(index)
                .data
                .iter()
                .map(|p| f64::from(p[2]))
                .sum::<f64>()
        });
        tiles.sum::<f64>() * f64::from(1_u32 << (2 * level))
    };
    let added = |level: u32| sum(Stage::Lit, level) - sum(Stage::Fused, level);
    let full = added(0);
    for level in [1, 2] {
        assert!(
            (added(level) / full - 1.0).abs() < 0.01,
            "level {level}: {} for {full}",
            added(level)
        );
    }
}
