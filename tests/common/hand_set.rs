//! A plate with passes whose photos lie in memory, for steps done by hand.
#![allow(
    dead_code,
    unreachable_pub,
    clippy::unwrap_used,
    clippy::too_many_lines,
    clippy::allow_attributes,
    reason = "shared by several test binaries"
)]

use platebench::engine::plate_tiles::{PlatePlan, Stage};
use platebench::engine::ports::{NoScratch, NoWatch};
use platebench::engine::scene_tiles::ScenePlan;
use platebench::engine::{Engine, Options, SourceError, Sources, World};
use platebench::geometry::{Rect, Size, TileGrid};
use platebench::pixels::{ColourEncoding, Curve, Image, Numbers, Planes, Samples};
use platebench::project::{
    Blend, Camera, ContentHash, Edit, Fingerprint, Frame, FrameId, KeyLight, Pass, PassId,
    PassRole, Placement, PlacementId, Placing, Plate, PlateEdit, PlateId, Project, Source, Stack,
    Step, StepId, StepKind, Take, Variant, VariantId,
};
use std::collections::BTreeMap;
use std::sync::Arc;

/// The plate.
pub const PLATE: PlateId = PlateId(100);
const VARIANT: VariantId = VariantId(101);

/// Photos kept in memory.
#[derive(Debug, Default)]
struct Photos(BTreeMap<FrameId, Arc<Samples>>);

impl Sources for Photos {
    fn samples(&self, frame: &Frame) -> Result<Arc<Samples>, SourceError> {
        Ok(Arc::clone(&self.0[&frame.id]))
    }
}

/// A plate of one photo with its passes.
#[derive(Debug)]
pub struct HandSet {
    /// The record.
    pub project: Project,
    photos: Photos,
    engine: Engine,
    next: u32,
}

fn samples(planes: &Planes) -> Samples {
    let rect = planes.rect();
    let side = |length: usize| u32::try_from(length).unwrap();
    let numbers = (0..rect.area()).flat_map(|at| planes.pixel(at)).collect();
    Samples {
        size: Size::new(side(rect.width()), side(rect.height())),
        channels: 3,
        numbers: Numbers::F32(numbers),
        encoding: ColourEncoding::Primaries {
            curves: [Curve::Linear, Curve::Linear, Curve::Linear],
            xy: ColourEncoding::BT2020_XY,
        },
    }
}

impl HandSet {
    /// One photo and the photos of passes by their roles.
    pub fn new(unlit: &Planes, passes: &[(PassRole, Planes)], tile_side: u32) -> Self {
        let mut photos = Photos::default();
        let mut frames = Vec::new();
        let all = [unlit]
            .into_iter()
            .chain(passes.iter().map(|(_, photo)| photo));
        for (number, planes) in (1_u32..).zip(all) {
            let photo = samples(planes);
            let mut content = [0; 32];
            content[..4].copy_from_slice(&number.to_le_bytes());
            frames.push(Arc::new(Frame {
                id: FrameId(number),
                file: format!("photo {number}"),
                content: Some(ContentHash(content)),
                size: Some(photo.size),
                bytes: Some(1),
                camera: Camera::default(),
            }));
            photos.0.insert(FrameId(number), Arc::new(photo));
        }
        let takes = (2_u32..).zip(passes).map(|(number, _)| Take {
            pass: PassId(200 + number),
            frames: vec![FrameId(number)],
            measured: None,
        });
        let variant = Variant {
            id: VARIANT,
            name: "photo".to_owned(),
            source: Source::Stack(Stack::of(vec![FrameId(1)])),
            takes: takes.collect(),
            lies: None,
        };
        let mut plate = Plate::new(PLATE, "plate", variant);
        plate.size = frames[0].size;
        for (number, (role, _)) in (2_u32..).zip(passes) {
            plate.passes.push(Pass {
                id: PassId(200 + number),
                name: format!("pass {number}"),
                role: *role,
                key_light: KeyLight::Auto,
            });
        }
        let project = Project::new("set", Size::new(1, 1));
        let project = project.edited(&Edit::AddFrames(frames)).unwrap();
        let project = project.edited(&Edit::AddPlate(Arc::new(plate))).unwrap();
        let engine = Engine::new(Options {
            tile_side,
            ..Options::default()
        });
        let mut set = Self {
            project,
            photos,
            engine,
            next: 300,
        };
        let stack = set.engine.measure_stack(&set.world(), PLATE, VARIANT);
        set.edit(PlateEdit::RecordStack(VARIANT, stack.unwrap()));
        for (number, _) in (2_u32..).zip(passes) {
            let pass = PassId(200 + number);
            let take = set.engine.measure_take(&set.world(), PLATE, VARIANT, pass);
            set.edit(PlateEdit::RecordTake(VARIANT, pass, take.unwrap()));
        }
        set
    }

    /// The pass of number `number` counted from 0.
    pub fn pass(number: u32) -> PassId {
        PassId(202 + number)
    }

    /// Changes the plate.
    pub fn edit(&mut self, edit: PlateEdit) {
        self.project = self.project.edited(&Edit::Plate(PLATE, edit)).unwrap();
    }

    /// Adds a step after the others.
    pub fn step(&mut self, kind: StepKind) {
        let at = self.plate().steps.len();
        self.next += 1;
        let step = Step {
            id: StepId(self.next),
            on: true,
            mask: None,
            kind,
        };
        self.edit(PlateEdit::AddStep { step, at });
    }

    /// The plate.
    pub fn plate(&self) -> &Arc<Plate> {
        self.project.plate(PLATE).unwrap()
    }

    fn world(&self) -> World<'_> {
        World {
            project: Arc::new(self.project.clone()),
            sources: &self.photos,
            scratch: &NoScratch,
            watch: &NoWatch,
        }
    }

    /// The scene with the plate placed once, at full size.
    pub fn scene(&self, placing: Placing) -> Image {
        let size = self.plate().size.unwrap();
        let mut project = self.project.clone();
        project.canvas.size = size;
        let placement = Placement {
            id: PlacementId(900),
            name: "plate".to_owned(),
            plate: PLATE,
            placing,
            blend: Blend::SourceOver,
            strength: 1.0,
            visible: true,
            distance_m: None,
        };
        let placement = Arc::new(placement);
        let project = Arc::new(
            project
                .edited(&Edit::AddPlacement { placement, at: 0 })
                .unwrap(),
        );
        let world = World {
            project: Arc::clone(&project),
            ..self.world()
        };
        let plan = ScenePlan::new(&project).unwrap();
        self.engine.prepare_scene(&world, &plan).unwrap();
        let grid = TileGrid::new(size, self.engine.tile_side());
        let mut out = Image::empty(size.rect());
        for index in grid.tiles() {
            out.paste(&self.engine.scene_tile(&world, &plan, 0, index).unwrap());
        }
        out
    }

    /// All of the plate at `level`.
    pub fn picture(&self, stage: Stage, level: u32) -> Image {
        let world = self.world();
        let plan = PlatePlan::new(&self.project, self.plate()).unwrap();
        self.engine.prepare_plate(&world, &plan).unwrap();
        let grid = TileGrid::new(plan.size.at_level(level), self.engine.tile_side());
        let mut out = Image::empty(grid.size.rect());
        for index in grid.tiles() {
            let tile = self.engine.plate_tile(&world, &plan, stage, level, index);
            out.paste(&tile.unwrap());
        }
        out
    }

    /// The fingerprints of the tiles at `level`, with their rectangles.
    pub fn stamps(&self, stage: Stage, level: u32) -> Vec<(Rect, Fingerprint)> {
        let plan = PlatePlan::new(&self.project, self.plate()).unwrap();
        let grid = TileGrid::new(plan.size.at_level(level), self.engine.tile_side());
        grid.tiles()
            .map(|index| {
                let stamp = self.engine.plate_tile_stamp(&plan, stage, level, index);
                (grid.rect(index), stamp)
            })
            .collect()
    }
}
