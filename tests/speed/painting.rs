//! Times of painting: `cargo bench --bench painting -- [MEGAPIXELS...]` (1, 10, 24 and 60 without any). A scene of ten plates; on a mask of
//! 500 strokes and 40 outlines a dab of 200 px is drawn again and again, at full size and at the level that fits a window of two
//! megapixels, on the plate at the back (everything lies over it). Printed, in milliseconds: median and 99th percentile from the edit until
//! every tile under it shows it, the median of making the touched region alone (several times on end), and the median from the last edit to
//! exact tiles once the pointer rests (0.06 s of it is waiting). Not part of `cargo test`: it reads the clock.
#![expect(
    clippy::too_many_lines,
    clippy::disallowed_methods,
    clippy::print_stdout,
    reason = "a measuring program outside the product reads the clock, and prints"
)]

use platebench::engine::World;
use platebench::engine::patching::MaskChange;
use platebench::engine::ports::NoWatch;
use platebench::engine::scene_tiles::ScenePlan;
use platebench::engine::seen::Seen;
use platebench::geometry::{Point, Rect, Size};
use platebench::pixels::convert::{floor_f64, floor_index, narrow};
use platebench::project::{
    Blend, Canvas, Edit, Grade, Made, Mask, MaskId, MaskPart, Node, PartId, Placement, PlacementId,
    Placing, Plate, PlateEdit, PlateId, Project, Shape, Sign, Source, Step, StepId, StepKind,
    Variant, VariantId,
};
use platebench::session::viewing::{Shown, TileKey, TileState, Viewer};
use platebench::session::{Session, Settings};
use rayon::prelude::*;
use std::error::Error;
use std::path::Path;
use std::sync::Arc;
use std::sync::mpsc::Receiver;
use std::time::Instant;

const PLATES: u32 = 10;
const MASK: MaskId = MaskId(1000);
const DABS: u32 = 60;
const DAB_PX: f32 = 100.0;

fn main() -> Result<(), Box<dyn Error>> {
    let mut sizes = std::env::args()
        .skip(1)
        // Cargo adds words of its own.
        .filter_map(|text| text.parse::<f64>().ok())
        .collect::<Vec<f64>>();
    if sizes.is_empty() {
        sizes = vec![1.0, 10.0, 24.0, 60.0];
    }
    println!("megapixels  level  median ms  99 % ms  region ms  exact at rest  tiles a dab");
    for megapixels in sizes {
        let height = (megapixels * 1e6 / 1.5).sqrt();
        let side = |length: f64| u32::try_from(floor_index(length)).unwrap_or(u32::MAX);
        let size = Size::new(side(height * 1.5), side(height));
        let fits = (0..12).find(|level| size.at_level(*level).area() <= 2_000_000);
        let mut levels = vec![0, fits.unwrap_or(0)];
        levels.dedup();
        for level in levels {
            let times = paint(size, level)?;
            let at = |of: &[f64], share: usize| of[(of.len() - 1) * share / 100];
            println!(
                "{megapixels:10.0}  {level:5}  {:9.1}  {:7.1}  {:9.1}  {:13.1}  {}",
                at(&times.shown, 50),
                at(&times.shown, 99),
                at(&times.region, 50),
                at(&times.exact, 50),
                times.tiles
            );
        }
    }
    Ok(())
}

/// Times in milliseconds until every tile under a dab shows it, and until all are exact once the pointer rests.
struct Times {
    shown: Vec<f64>,
    region: Vec<f64>,
    exact: Vec<f64>,
    tiles: usize,
}

fn paint(size: Size, level: u32) -> Result<Times, Box<dyn Error>> {
    let settings = Settings {
        scratch_bytes: 0,
        ..Settings::for_memory(6 << 30)
    };
    let session = Session::new(scene(size)?, Path::new("."), &settings);
    let (wake, woken) = std::sync::mpsc::channel();
    let mut viewer = session.viewer(move || {
        let _nobody_left = wake.send(());
    });
    let mut project = Arc::clone(session.project());
    viewer.show(&project);
    let middle = Point::new(f64::from(size.width) * 0.5, f64::from(size.height) * 0.5);
    let mut times = Times {
        shown: Vec::new(),
        region: Vec::new(),
        exact: Vec::new(),
        tiles: 0,
    };
    for dab in 0..DABS {
        // Back and forth over the middle of the picture, a few pixels each time.
        let step = f64::from(dab % 20) * 9.0 - 90.0;
        let at = Point::new(middle.x + step, middle.y + f64::from(dab / 20) * 7.0);
        let keys = under(&viewer, size, (level, around(at)));
        if dab % 20 == 0 {
            // The pointer was elsewhere: the tiles are exact before it comes down.
            until(&mut viewer, &woken, &keys, |state| {
                matches!(state, TileState::Ready(..))
            })?;
        }
        let before: Vec<Option<u64>> = keys.iter().map(|key| number(&viewer.tile(*key))).collect();
        let start = Instant::now();
        let last = Arc::clone(&project);
        let edit = PlateEdit::AddPart(MASK, stroke(10_000 + dab, vec![at], DAB_PX));
        project = Arc::new(project.edited(&Edit::Plate(PlateId(1), edit))?);
        viewer.show(&project);
        viewer.begin_frame();
        // As the window does: everything in view is asked for in each frame.
        for key in &keys {
            let _older = viewer.tile(*key);
        }
        for (key, before) in keys.iter().zip(before) {
            until(&mut viewer, &woken, &[*key], |state| {
                number(state) != before
            })?;
        }
        times.shown.push(start.elapsed().as_secs_f64() * 1e3);
        times.tiles = times.tiles.max(keys.len());
        times
            .region
            .push(region(&session, [&last, &project], &keys)?);
        if dab % 10 == 9 {
            until(&mut viewer, &woken, &keys, |state| {
                matches!(state, TileState::Ready(..))
            })?;
            times.exact.push(start.elapsed().as_secs_f64() * 1e3);
        }
    }
    times.shown.sort_by(f64::total_cmp);
    times.region.sort_by(f64::total_cmp);
    times.exact.sort_by(f64::total_cmp);
    Ok(times)
}

/// Milliseconds that the region between two states takes to be made, all else being there.
fn region(
    session: &Session,
    [before, after]: [&Arc<Project>; 2],
    keys: &[TileKey],
) -> Result<f64, Box<dyn Error>> {
    let change = MaskChange::between(before, after).ok_or("more than a mask changed")?;
    let seen = Seen::Scene(Arc::new(ScenePlan::new(after)?));
    let world = World {
        project: Arc::clone(after),
        ..session.world(&NoWatch)
    };
    let engine = session.engine();
    engine.prepare_seen(&world, &seen, keys[0].level)?;
    let mut times = Vec::new();
    for _again in 0..5 {
        let start = Instant::now();
        let patches = keys.par_iter().map(|key| {
            let at = (key.level, key.index);
            engine.seen_patch(&world, &seen, (at, &change))
        });
        let made: Vec<_> = patches.collect::<Result<_, _>>()?;
        times.push(start.elapsed().as_secs_f64() * 1e3);
        if !made.iter().all(Option::is_some) {
            return Err("no patch".into());
        }
    }
    times.sort_by(f64::total_cmp);
    Ok(times[times.len() / 2])
}

fn number(state: &TileState) -> Option<u64> {
    match state {
        TileState::Ready(number, _) | TileState::Old(number, _) => Some(*number),
        TileState::Coming | TileState::NeedsJob | TileState::Failed(_) => None,
    }
}

/// Asks for tiles until all of them are as wanted.
fn until(
    viewer: &mut Viewer,
    woken: &Receiver<()>,
    keys: &[TileKey],
    wanted: impl Fn(&TileState) -> bool,
) -> Result<(), Box<dyn Error>> {
    loop {
        let mut all = true;
        for key in keys {
            all &= wanted(&viewer.tile(*key));
        }
        if all {
            return Ok(());
        }
        woken.recv()?;
    }
}

/// The scene's tiles that `rect` (at full size) meets.
fn under(viewer: &Viewer, size: Size, (level, rect): (u32, Rect)) -> Vec<TileKey> {
    let shrink = |at: i32| floor_f64(f64::from(at) / f64::from(1_u32 << level));
    let here = Rect::new(
        shrink(rect.x0),
        shrink(rect.y0),
        shrink(rect.x1) + 1,
        shrink(rect.y1) + 1,
    );
    let tiles = viewer.covering(size, level, here);
    let key = |index| TileKey {
        shown: Shown::Scene,
        level,
        index,
    };
    tiles.into_iter().map(key).collect()
}

fn around(at: Point) -> Rect {
    let reach = f64::from(DAB_PX) + 8.0;
    let corner = |sign: f64| Point::new(at.x + sign * reach, at.y + sign * reach);
    Rect::around(&[corner(-1.0), corner(1.0)])
}

/// Ten plates over each other; the one at the back has a large mask.
fn scene(size: Size) -> Result<Project, Box<dyn Error>> {
    let mut project = Project::new("painting", size);
    project.canvas = Canvas {
        size,
        ..project.canvas
    };
    for number in 1..=PLATES {
        let share = f32::from(u16::try_from(number)?) / 20.0;
        let variant = Variant {
            id: VariantId(100 + number),
            name: "made".to_owned(),
            source: Source::Made(Made {
                size,
                background_rgb: [share, 0.5 - share, 0.2],
                stars: None,
                dust_lane: None,
                planet: None,
            }),
            takes: Vec::new(),
            lies: None,
        };
        let mut plate = Plate::new(PlateId(number), format!("plate {number}"), variant);
        if number == 1 {
            plate.masks.push(Arc::new(large(size)));
            plate.steps.push(Step {
                id: StepId(2000),
                on: true,
                mask: Some(MASK),
                kind: StepKind::Grade(Grade {
                    exposure_stops: 1.0,
                    ..Grade::default()
                }),
            });
        }
        project = project.edited(&Edit::AddPlate(Arc::new(plate)))?;
        let placement = Placement {
            id: PlacementId(3000 + number),
            name: format!("plate {number}"),
            plate: PlateId(number),
            placing: Placing::Upright {
                centre: Point::new(
                    f64::from(size.width) * 0.5 + 0.3,
                    f64::from(size.height) * 0.5,
                ),
                scale: 1.0,
                turn_deg: 0.1 * f64::from(number - 1),
                mirrored: false,
            },
            blend: if number % 3 == 0 {
                Blend::PlusLighter
            } else {
                Blend::default()
            },
            strength: 0.6,
            visible: true,
            distance_m: None,
        };
        let at = usize::try_from(number)?;
        project = project.edited(&Edit::AddPlacement {
            placement: Arc::new(placement),
            at,
        })?;
    }
    Ok(project)
}

fn stroke(id: u32, points: Vec<Point>, radius_px: f32) -> Arc<MaskPart> {
    let shape = Shape::Stroke {
        points,
        radius_px,
        softness: 0.5,
        pressure: Vec::new(),
    };
    part(id, shape)
}

fn part(id: u32, shape: Shape) -> Arc<MaskPart> {
    Arc::new(MaskPart {
        id: PartId(id),
        sign: Sign::Add,
        strength: 1.0,
        on: true,
        shape,
    })
}

/// 500 strokes and 40 outlines all over a plate.
fn large(size: Size) -> Mask {
    let mut mask = Mask::new(MASK, "large".to_owned());
    let (width, height) = (size.width, size.height);
    let at = |number: u32, step: u32, side: u32| f64::from(number * step % side);
    for number in 0..500 {
        let from = Point::new(at(number, 211, width), at(number, 137, height));
        let to = Point::new(
            from.x + at(number, 7, 60) - 30.0,
            from.y + at(number, 11, 60),
        );
        mask.parts.push_back(stroke(
            4000 + number,
            vec![from, to],
            8.0 + narrow(at(number, 3, 20)),
        ));
    }
    for number in 0..40 {
        let (x, y) = (at(number, 97, width), at(number, 53, height));
        let corner = |dx: f64, dy: f64| Node::corner(Point::new(x + dx, y + dy));
        let nodes = vec![
            corner(0.0, 0.0),
            corner(60.0, 0.0),
            corner(50.0, 45.0),
            corner(0.0, 60.0),
        ];
        let shape = Shape::Outline {
            nodes,
            feather_px: 4.0,
        };
        mask.parts.push_back(part(5000 + number, shape));
    }
    mask
}
