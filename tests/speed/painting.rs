//! Times of painting: `painting [MEGAPIXELS...]` (1, 10, 24 and 60 without any). A scene of ten plates; on a mask of 500 strokes and 40
//! outlines a dab of 200 px is drawn again and again, and each time the scene's tiles under it are computed exactly, at full size and
//! at the level that fits a window of two megapixels. Printed: median and 99th percentile from the edit to the last tile in
//! milliseconds, for the plate at the back (everything lies over it) with nothing but that to do. Not part of `cargo test`: it reads
//! the clock.
#![expect(
    clippy::too_many_lines,
    clippy::disallowed_methods,
    clippy::print_stdout,
    reason = "a measuring program outside the product reads the clock, and prints"
)]

use platebench::engine::ports::{NoScratch, NoWatch};
use platebench::engine::scene_tiles::ScenePlan;
use platebench::engine::{Engine, Options, SourceError, Sources, World, view};
use platebench::geometry::{Point, Rect, Size};
use platebench::pixels::Samples;
use platebench::pixels::convert::{floor_f64, floor_index, narrow};
use platebench::project::{
    Blend, Canvas, Edit, Frame, Grade, Made, Mask, MaskId, MaskPart, Node, PartId, Placement,
    PlacementId, Placing, Plate, PlateEdit, PlateId, Project, Shape, Sign, Source, Step, StepId,
    StepKind, Variant, VariantId,
};
use std::error::Error;
use std::sync::Arc;
use std::time::Instant;

const PLATES: u32 = 10;
const MASK: MaskId = MaskId(1000);
const DABS: u32 = 60;
const DAB_PX: f32 = 100.0;

/// Plates are made, so there are no photos.
struct NoPhotos;

impl Sources for NoPhotos {
    fn samples(&self, frame: &Frame) -> Result<Arc<Samples>, SourceError> {
        Err(SourceError {
            message: format!("{} is not there", frame.file),
        })
    }
}

fn main() -> Result<(), Box<dyn Error>> {
    let mut sizes = std::env::args()
        .skip(1)
        .map(|text| text.parse::<f64>())
        .collect::<Result<Vec<f64>, _>>()?;
    if sizes.is_empty() {
        sizes = vec![1.0, 10.0, 24.0, 60.0];
    }
    println!("megapixels  level  median ms  99 % ms  tiles a dab");
    for megapixels in sizes {
        let height = (megapixels * 1e6 / 1.5).sqrt();
        let side = |length: f64| u32::try_from(floor_index(length)).unwrap_or(u32::MAX);
        let size = Size::new(side(height * 1.5), side(height));
        let fits = (0..12).find(|level| size.at_level(*level).area() <= 2_000_000);
        let mut levels = vec![0, fits.unwrap_or(0)];
        levels.dedup();
        for level in levels {
            let (times, tiles) = paint(size, level)?;
            let at = |share: usize| times[(times.len() - 1) * share / 100];
            println!(
                "{megapixels:10.0}  {level:5}  {:9.1}  {:7.1}  {tiles}",
                at(50),
                at(99)
            );
        }
    }
    Ok(())
}

fn paint(size: Size, level: u32) -> Result<(Vec<f64>, usize), Box<dyn Error>> {
    let engine = Engine::new(Options {
        memory_bytes: 6 << 30,
        ..Options::default()
    });
    let mut project = scene(size)?;
    let middle = Point::new(f64::from(size.width) * 0.5, f64::from(size.height) * 0.5);
    let mut times = Vec::new();
    let mut tiles = 0;
    for dab in 0..DABS {
        // Back and forth over the middle of the picture, a few pixels each time.
        let step = f64::from(dab % 20) * 9.0 - 90.0;
        let at = Point::new(middle.x + step, middle.y + f64::from(dab / 20) * 7.0);
        let start = Instant::now();
        let edit = PlateEdit::AddPart(MASK, stroke(10_000 + dab, vec![at], DAB_PX));
        project = Arc::new(project.edited(&Edit::Plate(PlateId(1), edit))?);
        let count = render(&engine, &project, (level, around(at)))?;
        // The first one also computes what stays from then on.
        if dab > 0 {
            times.push(start.elapsed().as_secs_f64() * 1e3);
            tiles = tiles.max(count);
        }
    }
    times.sort_by(f64::total_cmp);
    Ok((times, tiles))
}

fn around(at: Point) -> Rect {
    let reach = f64::from(DAB_PX) + 8.0;
    let corner = |sign: f64| Point::new(at.x + sign * reach, at.y + sign * reach);
    Rect::around(&[corner(-1.0), corner(1.0)])
}

/// Computes the scene's tiles that `rect` (at full size) meets; how many they are.
fn render(
    engine: &Engine,
    project: &Arc<Project>,
    (level, rect): (u32, Rect),
) -> Result<usize, Box<dyn Error>> {
    let world = World {
        project: Arc::clone(project),
        sources: &NoPhotos,
        scratch: &NoScratch,
        watch: &NoWatch,
    };
    let plan = ScenePlan::new(project)?;
    engine.prepare_scene(&world, &plan)?;
    let shrink = |at: i32| floor_f64(f64::from(at) / f64::from(1_u32 << level));
    let here = Rect::new(
        shrink(rect.x0),
        shrink(rect.y0),
        shrink(rect.x1) + 1,
        shrink(rect.y1) + 1,
    );
    let grid = view::grid(engine, project.canvas.size, level);
    let mut count = 0;
    for index in grid.covering(here) {
        std::hint::black_box(view::display(
            &*engine.scene_tile(&world, &plan, level, index)?,
        ));
        count += 1;
    }
    Ok(count)
}

/// Ten plates over each other; the one at the back has a large mask.
fn scene(size: Size) -> Result<Arc<Project>, Box<dyn Error>> {
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
    Ok(Arc::new(project))
}

fn stroke(id: u32, points: Vec<Point>, radius_px: f32) -> Arc<MaskPart> {
    let shape = Shape::Stroke {
        points,
        radius_px,
        softness: 0.5,
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
