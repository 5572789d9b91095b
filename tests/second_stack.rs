//! Dust and hair on a fused stack, told by a second stack of the same pose that was shot after cleaning: files, registration, fusion, finds.
#![expect(
    clippy::unwrap_used,
    clippy::cast_possible_truncation,
    reason = "a test may stop at once; places of small test pictures"
)]

#[path = "common/disc_blur.rs"]
mod disc_blur;
#[path = "common/dust_set.rs"]
mod dust_set;
#[path = "common/layered_scene.rs"]
mod layered_scene;
#[path = "common/photo_file.rs"]
mod photo_file;

use dust_set::{Score, Strewn, strewn_where};
use layered_scene::{Backdrop, LayeredScene, STEP_PX, frame_rect, warped};
use photo_file::write_photo;
use platebench::geometry::{Point, Similarity, Size, Transform};
use platebench::imaging::spotting::{Found, Kind, USUAL_CONFIDENCE};
use platebench::pixels::{Plane, Planes};
use platebench::project::{
    Edit, FrameId, Patch, PatchFrom, PatchShape, Plate, PlateEdit, PlateId, Project, Source, Stack,
    Variant, VariantId,
};
use platebench::session::{NoWatch, Session, Settings};
use std::path::Path;
use std::sync::Arc;

const PLATE: PlateId = PlateId(1000);
const DUSTY: VariantId = VariantId(1001);
const CLEANED: VariantId = VariantId(1002);

/// Dust and hairs on the hull and the wing of a scene, away from what stands before them.
fn dusted(scene: &LayeredScene, seed: u64) -> (LayeredScene, Vec<Strewn>) {
    let rect = frame_rect();
    let covered = |layer: usize, at: Point| {
        let (x, y) = (at.x as i32, at.y as i32);
        rect.contains(x, y) && scene.layers[layer].coverage.at(x, y) > 0.99
    };
    let bare = |at: Point| {
        let (x, y) = (at.x as i32, at.y as i32);
        let mut before = scene.layers[3..].iter();
        before.all(|layer| layer.coverage.at(x, y) < 0.01)
    };
    let takes = |at: Point| (covered(1, at) || covered(2, at)) && bare(at);
    let (cover, strewn) = strewn_where(rect, (50, 6), seed, &takes);
    let mut dusty = scene.clone();
    for plane in dusty.layers[1..3]
        .iter_mut()
        .flat_map(|layer| &mut layer.colour.rgb)
    {
        let pixels = plane.data.iter_mut().zip(&cover.data);
        pixels.for_each(|(light, cover)| *light *= cover);
    }
    (dusty, strewn)
}

/// Photographs a stack, focused in steps of two frames of the scene from the nearest on, each photo as `seen` shows it; its noise is of seeds
/// from `noise` on.
fn shoot(
    session: &mut Session,
    (folder, name): (&Path, &str),
    (scene, noise): (&LayeredScene, u64),
    seen: impl Fn(&Planes) -> Planes,
) -> Vec<FrameId> {
    let mut files = Vec::new();
    for (number, seed) in (0_u8..8).zip(noise..) {
        let photo = seen(&scene.render(2.0 * f32::from(number), STEP_PX));
        files.push(folder.join(format!("{name}_{number}.tif")));
        write_photo(&files[files.len() - 1], &photo, seed);
    }
    session.add_photos(&files).unwrap()
}

fn variant(id: VariantId, frames: Vec<FrameId>) -> Variant {
    Variant {
        id,
        name: format!("stack {}", id.0),
        source: Source::Stack(Stack::of(frames)),
        takes: Vec::new(),
        lies: None,
    }
}

fn found(patch: &Patch) -> Found {
    let (kind, width_px) = match &patch.shape {
        PatchShape::Line { width_px, .. } => (Kind::Hair, *width_px),
        PatchShape::Dab { .. } | PatchShape::Outline { .. } => {
            (Kind::Dust, 2.0 * patch.shape.radius_px())
        }
    };
    Found {
        kind,
        points: patch.shape.points().to_vec(),
        width_px,
        confidence: patch.confidence.unwrap(),
    }
}

/// The finds on a stack against a second one, shot a little beside it and in a little other light.
fn score_of(seed: u64, backdrop: Backdrop) -> Score {
    let folder = tempfile::tempdir().unwrap();
    let settings = Settings {
        scratch_bytes: 0,
        ..Settings::for_memory(1 << 30)
    };
    let project = Project::new("two stacks", Size::new(1080, 720));
    let mut session = Session::new(project, folder.path(), &settings);
    let scene = LayeredScene::new(seed, backdrop);
    let (dusty, strewn) = dusted(&scene, seed);
    let beside = Transform::similarity(
        Similarity {
            log_scale: 1.5e-4,
            angle_rad: -1e-4,
            shift: Point::new(1.3, -0.7),
        },
        Point::new(540.0, 360.0),
    );
    let frames = shoot(
        &mut session,
        (folder.path(), "dusty"),
        (&dusty, 1),
        Planes::clone,
    );
    let plate = Plate::new(PLATE, "model", variant(DUSTY, frames));
    session.record(Edit::AddPlate(Arc::new(plate))).unwrap();
    let lighter = |photo: &Planes| {
        let lit = |plane: &Plane| plane.map(|light| light * 1.02);
        let rgb = warped(photo, &beside).rgb.each_ref().map(lit);
        Planes { rgb }
    };
    let frames = shoot(
        &mut session,
        (folder.path(), "cleaned"),
        (&scene, 101),
        lighter,
    );
    let cleaned = PlateEdit::AddVariant(Arc::new(variant(CLEANED, frames)));
    session.record(Edit::Plate(PLATE, cleaned)).unwrap();
    let back = PlateEdit::UseVariant(DUSTY);
    session.record(Edit::Plate(PLATE, back)).unwrap();
    session
        .record_spots(PLATE, Some(CLEANED), &NoWatch)
        .unwrap();
    let plate = session.project().plate(PLATE).unwrap();
    let patches = plate.steps[0].kind.patches();
    let from = PatchFrom::OtherTake { variant: CLEANED };
    assert!(patches.iter().all(|patch| patch.from == from));
    let mut score = Score::default();
    let finds: Vec<Found> = patches.iter().map(found).collect();
    score.add(&finds, &strewn, &[]);
    score
}

#[test]
fn most_of_what_a_second_stack_tells_is_dust_or_hair() {
    let mut score = Score::default();
    for (seed, backdrop) in [(62_001, Backdrop::Grey), (62_011, Backdrop::Black)] {
        score.join(score_of(seed, backdrop));
    }
    let (count, right, _, seen) = score.at(USUAL_CONFIDENCE);
    #[expect(clippy::print_stdout, reason = "says what was measured")]
    {
        println!("two stacks: {count} finds, {right:.3} right, {seen:.3} seen");
    }
    // What is none before grey lies about saturated lamps. Joined each by its own depth, 0.60 of the finds there were right, not 0.86.
    assert!(right >= 0.6, "{right} of {count} finds are dust or hair");
    assert!(seen >= 0.8, "{seen}");
}
