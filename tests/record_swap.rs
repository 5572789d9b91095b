//! The demo's barge is shot again from another angle and swapped in; held against what the simulation knows of both poses.
#![expect(
    clippy::too_many_lines,
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::disallowed_methods,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at once, reads its pictures and says what it measured"
)]

#[path = "common/small_scene.rs"]
mod small_scene;

use platebench::engine::measure::carried::{self, Carried};
use platebench::files::Limits;
use platebench::files::photo;
use platebench::geometry::{Point, Rect};
use platebench::pixels::{Numbers, Plane};
use platebench::project::{Edit, Plate, PlateEdit, Variant};
use platebench::session::build::BuildRequest;
use platebench::session::swap::SwapReport;
use platebench::session::{Command, NoWatch, Session, Settings};
use std::path::{Path, PathBuf};
use std::sync::Arc;

fn demo() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("demo_scenes/ice_shift")
}

fn settings() -> Settings {
    Settings {
        scratch_bytes: 0,
        ..Settings::for_memory(9 << 30)
    }
}

fn open() -> Session {
    Session::open(&demo().join("scene/ice_shift.platebench"), &settings()).unwrap()
}

fn again(pass: &str, count: u32) -> impl Iterator<Item = PathBuf> {
    let folder = demo().join("scene/photos/barge_again");
    (1..=count).map(move |number| folder.join(format!("barge_again_{pass}_{number:02}.jpg")))
}

/// All frames of the re-shoot: unlit, both light passes, silhouette.
fn all_again() -> Vec<PathBuf> {
    again("unlit", 10)
        .chain(again("furnace", 5))
        .chain(again("running", 5))
        .chain(again("silhouette", 5))
        .collect()
}

fn barge(session: &Session) -> Arc<Plate> {
    Arc::clone(session.project().plate_by_name("barge").unwrap())
}

type Vector = [f64; 3];

fn plus(a: Vector, b: Vector, times: f64) -> Vector {
    [0, 1, 2].map(|axis| a[axis] + b[axis] * times)
}

fn dot(a: Vector, b: Vector) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn cross(a: Vector, b: Vector) -> Vector {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}

fn unit(a: Vector) -> Vector {
    a.map(|value| value / dot(a, a).sqrt())
}

/// A camera of the simulation (`demo_scenes/photographer`: `barge_camera` in `scene.rs`, `Camera` in `lens.rs`).
struct Camera {
    eye: Vector,
    ahead: Vector,
    right: Vector,
    down: Vector,
    /// Distance that its reference frame is focused at, mm.
    focus: f64,
}

const FOCAL_MM: f64 = 35.0;
const PITCH_MM: f64 = 0.015;
const MIDDLE: Point = Point::new(1200.0, 800.0);

impl Camera {
    fn barge(turn_deg: f64, nearer: f64, focus: f64) -> Self {
        let (azimuth, elevation) = ((41.0 + turn_deg).to_radians(), 21.0_f64.to_radians());
        let aim = [33.0, -10.0, 34.0];
        let away = [
            azimuth.cos() * elevation.cos(),
            -azimuth.sin() * elevation.cos(),
            elevation.sin(),
        ];
        let eye = plus(aim, away, 735.0 * nearer);
        let ahead = unit(plus(aim, eye, -1.0));
        let level = unit(cross(ahead, [0.0, 0.0, 1.0]));
        let up = cross(level, ahead);
        let roll: f64 = -0.06;
        let upright = (1.0 - roll * roll).sqrt();
        let right = plus(level.map(|value| value * upright), up, roll);
        let up = plus(up.map(|value| value * upright), level, -roll);
        Self {
            eye,
            ahead,
            right,
            down: up.map(|value| -value),
            focus,
        }
    }

    /// Pixels per unit of slope.
    fn scale(&self) -> f64 {
        self.focus * FOCAL_MM / (self.focus - FOCAL_MM) / PITCH_MM
    }

    fn point(&self, at: Point, distance: f64) -> Vector {
        let (x, y) = (
            (at.x - MIDDLE.x) / self.scale(),
            (at.y - MIDDLE.y) / self.scale(),
        );
        let slope = plus(plus(self.ahead, self.right, x), self.down, y);
        plus(self.eye, slope, distance)
    }

    fn project(&self, point: Vector) -> Point {
        let from_eye = plus(point, self.eye, -1.0);
        let scale = self.scale() / dot(from_eye, self.ahead);
        Point::new(
            MIDDLE.x + dot(from_eye, self.right) * scale,
            MIDDLE.y + dot(from_eye, self.down) * scale,
        )
    }
}

/// What the simulation knows of the two poses.
struct Truth {
    old: Camera,
    new: Camera,
    /// 0..=1 from nearest to farthest.
    depth: Plane,
    covered: Plane,
}

fn plane(path: &Path) -> Plane {
    let samples = photo::open(path, &Limits::default()).unwrap().samples;
    let number = |at: usize| match &samples.numbers {
        Numbers::U8(codes) => f32::from(codes[at * samples.channels]) / 255.0,
        Numbers::U16(codes) => f32::from(codes[at * samples.channels]) / 65535.0,
        Numbers::F32(values) => values[at * samples.channels],
    };
    let rect = samples.size.rect();
    Plane {
        rect,
        data: (0..rect.area()).map(number).collect(),
    }
}

impl Truth {
    fn read() -> Self {
        let info = photo::describe(&again("unlit", 6).last().unwrap(), &Limits::default()).unwrap();
        let focus = info.camera.focus_distance_mm.unwrap();
        let folder = demo().join("truth/barge");
        Self {
            old: Camera::barge(0.0, 1.0, 698.8410),
            new: Camera::barge(1.5, 1.0 / 1.03, focus),
            depth: plane(&folder.join("depth.png")),
            covered: plane(&folder.join("coverage.png")),
        }
    }

    /// How far, in px of the plate, the swapped picture shows what the plate has at `at` from there; `None` off the model.
    fn error_px(&self, at: Point, source: &Variant) -> Option<f64> {
        let (x, y) = (at.x as i32, at.y as i32);
        if !self.covered.rect.contains(x, y) || self.covered.at(x, y) < 0.99 {
            return None;
        }
        let distance = 504.1995 + f64::from(self.depth.at(x, y)) * (1021.4755 - 504.1995);
        let seen = self.new.project(self.old.point(at, distance));
        let laid = source.plate_from_variant().apply(seen);
        // The mesh leads from the plate to the perspective's place; its shifts hardly change over their own length.
        let bent = source.mesh().map_or(laid, |mesh| {
            let there = mesh.apply(at);
            Point::new(laid.x + at.x - there.x, laid.y + at.y - there.y)
        });
        Some(bent.distance(at))
    }
}

fn describe(report: &SwapReport) {
    println!(
        "residual {:.2} px, bent: {}",
        report.residual_px, report.bent
    );
    println!("carried: {:?}", report.carried);
    for look in &report.needs_a_look {
        println!("look: {} {:?}: {}", look.step, look.place, look.why);
    }
    println!(
        "{} pictures computed, {} reused",
        report.steps_run, report.steps_reused
    );
}

fn errors_over_model(truth: &Truth, source: &Variant) -> Vec<f64> {
    let mut errors = Vec::new();
    for y in (8..1600).step_by(16) {
        for x in (8..2400).step_by(16) {
            let at = Point::new(f64::from(x), f64::from(y));
            errors.extend(truth.error_px(at, source));
        }
    }
    errors.sort_by(f64::total_cmp);
    errors
}

#[test]
#[ignore = "minutes, at full size; run by hand"]
fn the_barge_shot_again_is_carried_and_judged() {
    let truth = Truth::read();
    let mut session = open();
    let old = barge(&session);
    let edits = session.history().revisions().len();
    let report = session.swap("barge", &all_again(), &NoWatch).unwrap();
    describe(&report);
    let new = barge(&session);
    let source = Arc::clone(new.variant().unwrap());

    // Carried over as they were; both sources kept; one edit.
    assert_eq!(
        (&new.masks, &new.groups, &new.steps),
        (&old.masks, &old.groups, &old.steps)
    );
    assert_eq!(
        (new.variants.len(), &new.variants[0]),
        (2, &old.variants[0])
    );
    assert_eq!(
        session.history().revisions().len(),
        edits + 1,
        "one recorded edit"
    );
    assert_eq!(
        source.takes.len(),
        3,
        "both light passes and the silhouette were shot again"
    );

    let errors = errors_over_model(&truth, &source);
    let share = |share: f64| errors[((errors.len() - 1) as f64 * share) as usize];
    println!(
        "true error over the model: median {:.2} px, 90 % {:.2} px, worst {:.2} px",
        share(0.5),
        share(0.9),
        share(1.0)
    );
    check_judgement(&session, &truth, &report);
    check_lit_details(&new, &report);
}

#[test]
fn a_swap_computes_that_plate_and_what_lies_over_it_and_goes_back_with_one_undo() {
    let folder = tempfile::tempdir().unwrap();
    let project = small_scene::lay_out(folder.path());
    let photos: Vec<PathBuf> = all_again()
        .iter()
        .map(|photo| {
            let small = folder.path().join("again").join(photo.file_name().unwrap());
            small_scene::shrink_photo(photo, &small);
            small
        })
        .collect();
    let settings = small_scene::settings().with_tile_side(32);
    let mut session = Session::open(&project, &settings).unwrap();
    let request = BuildRequest {
        output: folder.path().join("scene.png"),
        level: 0,
        bits: Some(8),
    };
    let first = session.build(&request, &NoWatch).unwrap();
    let (old, now) = (barge(&session), session.history().now());
    let report = session.swap("barge", &photos, &NoWatch).unwrap();
    describe(&report);
    check_economy(&mut session, &request, old.id);

    // Sources switch, and one undo goes back to the same pixels.
    let back = Edit::Plate(old.id, PlateEdit::UseVariant(old.current));
    session.run(Command::Edit(back)).unwrap();
    let switched = session.build(&request, &NoWatch).unwrap();
    assert_eq!(
        switched.pixels, first.pixels,
        "the old source is in use again"
    );
    session.run(Command::Undo).unwrap();
    session.run(Command::Undo).unwrap();
    assert_eq!(session.history().now(), now);
    assert_eq!(
        session.build(&request, &NoWatch).unwrap().pixels,
        first.pixels
    );
}

/// How exactly the comparison of two pictures can tell a shift, px.
const ACCURACY_PX: f64 = 0.5;

/// The places at which what was carried is judged: those that really lie elsewhere, and those that the report lists.
fn check_judgement(session: &Session, truth: &Truth, report: &SwapReport) {
    let plate = barge(session);
    let source = plate.variant().unwrap();
    let (mut judged, mut close, mut wrong, mut found, mut listed) = (0, 0, 0, 0, 0);
    for what in carried::everything(&plate) {
        let name = match what {
            Carried::Mask(number) => format!("mask '{}'", plate.masks[number].name),
            Carried::Step(number) => format!("{} {}", plate.steps[number].kind.word(), number + 1),
            Carried::Group(number) => format!("practical group '{}'", plate.groups[number].name),
        };
        let boxes: Vec<Rect> = report
            .needs_a_look
            .iter()
            .filter(|look| look.step == name)
            .filter_map(|look| look.place)
            .map(|[x0, y0, x1, y1]| Rect::new(x0, y0, x1, y1))
            .collect();
        let places = session
            .judged_places((plate.id, source.id), what, &NoWatch)
            .unwrap();
        let mut of_this = 0;
        for place in &places {
            let Some(error) = truth.error_px(*place, source) else {
                continue;
            };
            of_this += 1;
            let is_listed = boxes
                .iter()
                .any(|area| area.contains(place.x as i32, place.y as i32));
            // Places within the comparison's own accuracy of the tolerance are right either way.
            let over = error - f64::from(carried::tolerance_px(what));
            if over.abs() <= ACCURACY_PX {
                close += 1;
                continue;
            }
            let is_wrong = over > 0.0;
            wrong += usize::from(is_wrong);
            listed += usize::from(is_listed);
            found += usize::from(is_wrong && is_listed);
            if is_wrong != is_listed {
                println!(
                    "  {name} at {:.0}, {:.0}: {error:.2} px, listed: {is_listed}",
                    place.x, place.y
                );
            }
        }
        println!(
            "{name}: {of_this} places on the model of {} judged",
            places.len()
        );
        judged += of_this;
    }
    println!(
        "{judged} judged, {close} too close to call, {wrong} really wrong, {found} of them listed; {listed} listed"
    );
    assert!(
        found * 10 >= wrong * 9,
        "{found} of {wrong} wrong places were listed"
    );
    assert!(
        (listed - found) * 5 <= listed,
        "{found} of {listed} were listed rightly"
    );
}

/// Passes shot again register to the new unlit frames to half a pixel, or the report says that they do not.
fn check_lit_details(plate: &Plate, report: &SwapReport) {
    let source = plate.variant().unwrap();
    let mut exact = 0;
    for take in &source.takes {
        let frames = &take.measured.as_ref().unwrap().frames;
        let worst = frames
            .iter()
            .map(|frame| frame.residual_px)
            .fold(0.0, f32::max);
        let name = format!("pass '{}'", plate.pass(take.pass).unwrap().name);
        let listed = report.needs_a_look.iter().any(|look| look.step == name);
        println!("{name}: registered to {worst:.2} px, listed: {listed}");
        assert_eq!(listed, worst > 0.5, "{name}: {worst:.2} px");
        exact += usize::from(worst <= 0.5);
    }
    assert!(exact >= 2, "most passes register to half a pixel");
}

/// A build after the swap computes that plate and what lies over it, and nothing else.
fn check_economy(
    session: &mut Session,
    request: &BuildRequest,
    plate: platebench::project::PlateId,
) {
    let before = session.engine().counts();
    let built = session.build(request, &NoWatch).unwrap();
    let after = session.engine().counts();
    for report in &built.plates {
        println!(
            "{}: {} run, {} reused",
            report.name, report.steps_run, report.steps_reused
        );
        assert!(
            report.steps_run == 0 || report.name == "barge",
            "{} was computed again",
            report.name
        );
    }
    for (key, count) in &after.tiles_run_of {
        if before.tiles_run_of.get(key) != Some(count) {
            assert_eq!(key.0, plate, "tiles of another plate were computed");
        }
    }
    // The swap had fused what was shot again; what is left is the glare round the lamps of its groups.
    let glares = barge(session).groups.len();
    assert!(
        after.wholes_run - before.wholes_run <= glares,
        "{} pictures were computed by the build",
        after.wholes_run - before.wholes_run
    );
    let placed = session
        .project()
        .placements
        .iter()
        .find(|placement| placement.plate == plate)
        .unwrap();
    let bounds = placed.placing.bounds(barge(session).size.unwrap()).unwrap();
    let side = session.engine().tile_side().cast_signed() << request.level;
    let tiles = |from: i32, to: i32, most: u32| {
        let (from, to) = (from.max(0), to.min(most.cast_signed()));
        usize::try_from((to + side - 1) / side - from / side).unwrap()
    };
    let canvas = session.project().canvas.size;
    let under =
        tiles(bounds.x0, bounds.x1, canvas.width) * tiles(bounds.y0, bounds.y1, canvas.height);
    let run = after.scene_tiles_run - before.scene_tiles_run;
    println!("{run} scene tiles computed; {under} lie under the plate");
    assert!(
        (1..=under).contains(&run),
        "{run} scene tiles, {under} under the plate"
    );
}

#[test]
#[ignore = "minutes, at full size; run by hand"]
fn passes_that_were_not_shot_again_are_judged_by_where_their_light_falls() {
    let truth = Truth::read();
    let mut session = open();
    let unlit: Vec<PathBuf> = again("unlit", 10).collect();
    let report = session.swap("barge", &unlit, &NoWatch).unwrap();
    describe(&report);
    assert!(
        !report.needs_a_look.is_empty(),
        "old lights over a new source want a look"
    );
    check_judgement(&session, &truth, &report);
}
