//! Drives every control of the window's pages, sheet, record and dialogues by its accessible name.
#![cfg(feature = "window")]
#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::disallowed_methods,
    clippy::panic,
    clippy::too_many_lines,
    reason = "a test may stop at once, and follows one way through the window"
)]

#[path = "common/cpu_renderer.rs"]
mod cpu_renderer;

use cpu_renderer::CpuRenderer;
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use platebench::project::{Blend, PlateId};
use platebench::session::grouping::{self, GroupRole};
use platebench::session::{Session, Settings, photos_at};
use platebench::window::app::Workbench;
use platebench::window::queue::{Column, Row};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

type Window = Harness<'static, Workbench>;

fn window(session: Option<Session>) -> Window {
    Harness::builder()
        .with_size([1280.0, 800.0])
        .with_max_steps(64)
        .renderer(CpuRenderer::default())
        .build_eframe(|context| Workbench::for_test(&context.egui_ctx, session))
}

/// Waits until nothing is done beside the window any more, then lets it settle.
fn settle(window: &mut Window) {
    for _round in 0..6000 {
        window.step();
        if window.state().is_idle() {
            window.run_steps(3);
            if window.state().is_idle() {
                return;
            }
        }
        std::thread::sleep(Duration::from_millis(5));
    }
    panic!("the work beside the window never ended");
}

fn click(window: &mut Window, label: &str) {
    window.get_by_label(label).click();
    window.run_steps(3);
}

fn click_cell(window: &mut Window, label: &str) {
    window.get_by_label_contains(label).click();
    window.run_steps(3);
}

/// Puts `text` in the place of what stands in a field.
fn type_into(window: &mut Window, label: &str, text: &str) {
    window.get_by_label(label).focus();
    window.run_steps(2);
    window.key_press_modifiers(Modifiers::COMMAND, Key::A);
    window.run_steps(2);
    window.get_by_label(label).type_text(text);
    window.run_steps(2);
}

/// A picture with detail everywhere, different for each `seed`; the same place is the same in every frame of a stack.
fn write_photo(path: &Path, seed: u32, bright: u32) {
    let pixel = |x: u32, y: u32| {
        let mixed = (x / 3).wrapping_mul(374_761_393) ^ (y / 3).wrapping_mul(668_265_263) ^ seed;
        let mixed = (mixed ^ (mixed >> 13)).wrapping_mul(1_274_126_177);
        let value = u8::try_from(40 + (mixed >> 16) % 160 + bright).unwrap_or(255);
        image::Rgb([value, value / 2 + 40, 200 - value / 2])
    };
    image::RgbImage::from_fn(192, 128, pixel)
        .save(path)
        .unwrap();
}

/// A folder with a stack of three and a single photo.
fn shoot() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for (at, bright) in [(1, 0), (2, 6), (3, 12)] {
        let name = format!("barge_0{at}.png");
        write_photo(&folder.path().join(name), 7, bright);
    }
    write_photo(&folder.path().join("tug_01.png"), 99, 0);
    folder
}

/// A scene of the two plates of [`shoot`].
fn scene(folder: &Path) -> Session {
    let settings = Settings {
        scratch_bytes: 0,
        ..Settings::for_memory(256 << 20)
    };
    let project =
        platebench::project::Project::new("shoot", platebench::geometry::Size::new(192, 128));
    let mut session = Session::new(project, folder, &settings);
    let photos = photos_at(&[folder.to_owned()]).unwrap();
    session
        .accept_groups(&grouping::propose(&photos).unwrap())
        .unwrap();
    session
}

fn open(window: &Window) -> &platebench::window::open_scene::OpenScene {
    window.state().scene().expect("a scene is open")
}

fn plate(window: &Window, name: &str) -> PlateId {
    open(window)
        .session
        .project()
        .plate_by_name(name)
        .expect("the plate")
        .id
}

#[test]
fn the_start_page_has_three_ways_in() {
    let mut window = window(None);
    window.run();
    for label in [
        "Folder or photos",
        "Project file",
        "Open the demo scene",
        "Choose photos…",
        "Choose a folder…",
    ] {
        assert!(window.query_by_label(label).is_some(), "{label}");
    }
    let look = window.get_by_label("Look at these photos");
    assert!(
        look.accesskit_node().is_disabled(),
        "nothing to look at yet"
    );
    click(&mut window, "Looks");
    click(&mut window, "Light surround");
    window.run_steps(2);
    assert!(!window.ctx.global_style().visuals.dark_mode, "light now");
    type_into(&mut window, "Project file", "/no/such/scene.platebench");
    window.key_press(Key::Enter);
    settle(&mut window);
    let said = window.state().said().expect("a message").to_owned();
    assert!(said.contains("scene.platebench"), "{said}");
    click(&mut window, "Dismiss");
    assert_eq!(window.state().said(), None);
}

#[test]
fn a_new_scene_is_made_of_approved_groups() {
    let folder = shoot();
    let mut window = window(None);
    window.run();
    let path = folder.path().display().to_string();
    type_into(&mut window, "Folder or photos", &path);
    click(&mut window, "Add");
    assert_eq!(
        window.state_mut().start_page().photos.paths,
        [folder.path()]
    );
    click(&mut window, "Look at these photos");
    settle(&mut window);
    let groups = &window.state().approval().expect("groups to approve").groups;
    assert_eq!(
        groups
            .iter()
            .map(|group| group.photos.len())
            .collect::<Vec<_>>(),
        [3, 1]
    );
    type_into(&mut window, "Plate of group 2", "buoy");
    type_into(&mut window, "Scene name", "harbour");
    click(&mut window, "Move barge_03.png");
    click(&mut window, "Leave out");
    let groups = &window.state().approval().expect("still there").groups;
    assert_eq!(groups[0].photos.len(), 2);
    click(&mut window, "Role of group 2");
    click(&mut window, "a light pass");
    assert_eq!(
        window.state().approval().unwrap().groups[1].role,
        GroupRole::Light
    );
    assert!(
        window
            .get_by_label("Take these groups")
            .accesskit_node()
            .is_disabled(),
        "buoy has no unlit pass"
    );
    click(&mut window, "Role of group 2");
    click(&mut window, "the unlit pass");
    click(&mut window, "Take these groups");
    settle(&mut window);
    let project = open(&window).session.project();
    assert_eq!(project.name, "harbour");
    let names: Vec<&str> = project
        .plates
        .iter()
        .map(|plate| plate.name.as_str())
        .collect();
    assert_eq!(names, ["barge", "buoy"]);
    assert!(
        window
            .query_by_label_contains("barge, Frames: 2, done")
            .is_some(),
        "its cell"
    );
}

#[test]
fn photos_are_shown_for_approval() {
    let folder = shoot();
    let mut window = window(None);
    window.run();
    let path = folder.path().display().to_string();
    type_into(&mut window, "Folder or photos", &path);
    click(&mut window, "Look at these photos");
    settle(&mut window);
    assert!(
        window
            .query_by_label("2 plates, 0 further passes")
            .is_some(),
        "what the groups come to"
    );
    click(&mut window, "Move barge_02.png");
    click(&mut window, "A group of its own");
    type_into(&mut window, "Scene name", "ice field");
    settle(&mut window);
    window.remove_cursor();
    wait_for_thumbnails(&mut window);
    window.snapshot("approval");
    // One frame of the window: what it asks of the system is gone in the next.
    let events = &mut window.input_mut().events;
    events.push(egui::Event::ModifiersChanged(Modifiers::COMMAND));
    events.push(egui::Event::Key {
        key: Key::Q,
        physical_key: None,
        pressed: true,
        repeat: false,
        modifiers: Modifiers::COMMAND,
    });
    window.step();
    let viewports = window.output().viewport_output.values();
    let mut commands = viewports.flat_map(|viewport| &viewport.commands);
    let closed = commands.any(|command| matches!(command, egui::ViewportCommand::Close));
    assert!(closed, "the key closes from every page");
}

#[test]
fn a_made_sky_goes_behind_everything() {
    let folder = shoot();
    let mut window = window(Some(scene(folder.path())));
    window.run_steps(3);
    for name in ["sky", "sky 2"] {
        click(&mut window, "Scene");
        click(&mut window, "Add a made sky");
        let sky = plate(&window, name);
        let project = open(&window).session.project();
        assert_eq!(project.placements[0].plate, sky, "{name} is the hindmost");
        let selection = open(&window).selection;
        assert_eq!(
            (selection.row, selection.column),
            (Row::Plate(sky), Column::Fuse),
            "its recipe is shown"
        );
    }
    click(&mut window, "Undo");
    let project = open(&window).session.project();
    assert!(project.plate_by_name("sky 2").is_none(), "one edit");
}

#[test]
fn cells_are_chosen_by_click_and_by_arrow_keys() {
    let folder = shoot();
    let mut window = window(Some(scene(folder.path())));
    window.run_steps(3);
    let (barge, tug) = (plate(&window, "barge"), plate(&window, "tug"));
    click_cell(&mut window, "tug, Register");
    let chosen = |window: &Window| (open(window).selection.row, open(window).selection.column);
    assert_eq!(chosen(&window), (Row::Plate(tug), Column::Register));
    for (key, expected) in [
        (Key::ArrowRight, (Row::Plate(tug), Column::Match)),
        (Key::ArrowDown, (Row::Plate(barge), Column::Match)),
        (Key::ArrowLeft, (Row::Plate(barge), Column::Register)),
        (Key::ArrowDown, (Row::Finish, Column::Placement)),
        (Key::ArrowUp, (Row::Plate(barge), Column::Placement)),
    ] {
        window.key_press(key);
        window.run_steps(3);
        assert_eq!(chosen(&window), expected, "after {key:?}");
    }
}

#[test]
fn order_and_row_heads_make_one_edit_each() {
    let folder = shoot();
    let mut window = window(Some(scene(folder.path())));
    window.run_steps(3);
    let edits = |window: &Window| open(window).session.history().revisions().len();
    let front = |window: &Window| {
        let project = open(window).session.project();
        project
            .plate_name(project.placements.last().unwrap().plate)
            .to_owned()
    };
    let before = edits(&window);
    assert_eq!(front(&window), "tug");
    click_cell(&mut window, "barge, Frames");
    window.key_press_modifiers(Modifiers::ALT, Key::ArrowUp);
    window.run_steps(3);
    assert_eq!(
        (front(&window), edits(&window)),
        ("barge".to_owned(), before + 1)
    );
    let from = window
        .get_by_label("Move barge to another row")
        .rect()
        .center();
    let to = window
        .get_by_label("Move tug to another row")
        .rect()
        .center();
    window.hover_at(from);
    window.drag_at(from);
    window.hover_at(from + (to - from) * 0.5);
    window.hover_at(to);
    window.drop_at(to);
    window.run_steps(4);
    assert_eq!(
        (front(&window), edits(&window)),
        ("tug".to_owned(), before + 2)
    );
    click(&mut window, "barge is seen");
    let placed = |window: &Window| {
        let project = Arc::clone(open(window).session.project());
        let barge = plate(window, "barge");
        project
            .placements
            .iter()
            .find(|placed| placed.plate == barge)
            .unwrap()
            .clone()
    };
    assert!(!placed(&window).visible, "hidden");
    click(&mut window, "Blend of barge");
    click(&mut window, "light added");
    assert_eq!(placed(&window).blend, Blend::PlusLighter);
    type_into(&mut window, "Name of barge", "hulk");
    window.key_press(Key::Enter);
    window.run_steps(3);
    assert!(
        open(&window)
            .session
            .project()
            .plate_by_name("hulk")
            .is_some(),
        "named"
    );
    assert_eq!(edits(&window), before + 5, "one edit each");
}

#[test]
fn strength_is_recorded_once_when_let_go() {
    let folder = shoot();
    let mut window = window(Some(scene(folder.path())));
    window.run_steps(3);
    let edits = |window: &Window| open(window).session.history().revisions().len();
    let before = edits(&window);
    let at = window.get_by_label("Strength of tug").rect().center();
    window.hover_at(at);
    window.drag_at(at);
    for step in 1..=8_u8 {
        window.hover_at(at - egui::vec2(f32::from(step) * 10.0, 0.0));
    }
    window.run_steps(10);
    assert_eq!(
        edits(&window),
        before,
        "nothing is recorded while it is dragged"
    );
    window.drop_at(at - egui::vec2(80.0, 0.0));
    window.run_steps(4);
    assert_eq!(edits(&window), before + 1);
    let strength = open(&window)
        .session
        .project()
        .placements
        .last()
        .unwrap()
        .strength;
    assert!(strength < 0.9, "{strength}");
}

#[test]
fn undo_redo_and_the_list_of_edits() {
    let folder = shoot();
    let mut window = window(Some(scene(folder.path())));
    window.run_steps(3);
    type_into(&mut window, "Scene name", "harbour");
    window.key_press(Key::Enter);
    window.run_steps(3);
    let name = |window: &Window| open(window).session.project().name.clone();
    assert_eq!(name(&window), "harbour");
    click(&mut window, "Undo");
    assert_eq!(name(&window), "shoot");
    click(&mut window, "Redo");
    assert_eq!(name(&window), "harbour");
    window.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    window.run_steps(2);
    assert_eq!(name(&window), "shoot");
    window.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::Z);
    window.run_steps(2);
    assert_eq!(name(&window), "harbour");
    click(&mut window, "Edits");
    click(&mut window, "the beginning");
    assert!(
        open(&window).session.project().plates.is_empty(),
        "at the beginning"
    );
    click(&mut window, "Edits");
    window
        .get_by_label_contains("scene named 'harbour'")
        .click();
    window.run_steps(3);
    assert_eq!(name(&window), "harbour");
}

#[test]
fn save_as_open_and_leave_ask_by_name() {
    let folder = shoot();
    let file = folder.path().join("kept.platebench");
    let mut window = window(Some(scene(folder.path())));
    window.run_steps(3);
    assert!(window.query_by_label("not saved").is_some(), "marked");
    window.key_press_modifiers(Modifiers::COMMAND, Key::S);
    window.run_steps(3);
    let without_ending = file.with_extension("").display().to_string();
    type_into(&mut window, "Project file", &without_ending);
    click(&mut window, "Save under this name");
    assert!(file.exists(), "written, with its ending");
    assert!(window.query_by_label("saved").is_some(), "marked");
    type_into(&mut window, "Scene name", "other");
    window.key_press(Key::Enter);
    window.run_steps(3);
    click(&mut window, "Scene");
    click(&mut window, "To the start page");
    assert!(
        window.query_by_label("This scene is not saved").is_some(),
        "asks first"
    );
    click(&mut window, "Cancel");
    assert!(window.state().scene().is_some(), "stays");
    click(&mut window, "Scene");
    click(&mut window, "To the start page");
    click(&mut window, "Discard");
    assert!(window.state().scene().is_none(), "left");
    type_into(&mut window, "Project file", &file.display().to_string());
    click(&mut window, "Open");
    settle(&mut window);
    assert_eq!(
        open(&window).session.project().name,
        "shoot",
        "the change was given up"
    );
}

#[test]
fn closing_asks_and_can_save() {
    let folder = shoot();
    let file = folder.path().join("kept.platebench");
    let mut session = scene(folder.path());
    session.save(Some(&file)).unwrap();
    let mut window = window(Some(session));
    window.run_steps(3);
    type_into(&mut window, "Scene name", "harbour");
    window.key_press(Key::Enter);
    window.run_steps(3);
    window.key_press_modifiers(Modifiers::COMMAND, Key::Q);
    window.run_steps(3);
    assert!(
        window.query_by_label("This scene is not saved").is_some(),
        "asks first"
    );
    click(&mut window, "Save");
    window.run_steps(3);
    assert!(window.state().scene().is_none(), "closed");
    let again = Session::open(&file, &Settings::for_memory(64 << 20)).unwrap();
    assert_eq!(again.project().name, "harbour");
}

#[test]
fn fusing_building_and_swapping_through_typed_paths() {
    let folder = shoot();
    let fresh = tempfile::tempdir().unwrap();
    write_photo(&fresh.path().join("again_01.png"), 99, 3);
    let output = fresh.path().join("out.png");
    let mut window = window(Some(scene(folder.path())));
    window.run_steps(3);
    assert!(
        window
            .query_by_label_contains("barge, Fuse: not yet, empty")
            .is_some()
    );
    click(&mut window, "More for barge");
    click(&mut window, "Measure and fuse");
    settle(&mut window);
    assert_eq!(window.state().said(), Some("Measured and fused."));
    assert!(
        window
            .query_by_label_contains("barge, Fuse: fused, done")
            .is_some()
    );
    assert!(
        window
            .query_by_label_contains("barge, Register: 0.")
            .is_some(),
        "a residual"
    );
    window.key_press_modifiers(Modifiers::COMMAND, Key::B);
    window.run_steps(3);
    type_into(&mut window, "Picture file", &output.display().to_string());
    click(&mut window, "Bits per channel");
    click(&mut window, "8 bits");
    click(&mut window, "Build now");
    settle(&mut window);
    let said = window.state().said().unwrap_or_default().to_owned();
    assert!(said.starts_with("Built"), "{said}");
    assert_eq!(image::open(&output).unwrap().width(), 192);
    click(&mut window, "More for tug");
    click(&mut window, "Swap the source…");
    type_into(
        &mut window,
        "Folder or photos",
        &fresh.path().join("again_01.png").display().to_string(),
    );
    click(&mut window, "Swap now");
    settle(&mut window);
    let said = window.state().said().unwrap_or_default().to_owned();
    assert!(said.starts_with("tug has its new source"), "{said}");
    let tug = open(&window)
        .session
        .project()
        .plate_by_name("tug")
        .unwrap()
        .variants
        .len();
    assert_eq!(tug, 2);
    assert!(
        window.query_by_label("After the swap").is_some(),
        "the list is on the card"
    );
    click(&mut window, "Back to the old source");
    let tug = plate(&window, "tug");
    let tug = open(&window).session.project().plate(tug).unwrap().clone();
    assert_eq!(tug.variants.len(), 1, "one undo");
    assert!(window.query_by_label("After the swap").is_none());
}

#[test]
fn states_get_names_and_can_be_gone_back_to() {
    let folder = shoot();
    let mut window = window(Some(scene(folder.path())));
    window.run_steps(3);
    let name = |window: &Window| open(window).session.project().name.clone();
    click(&mut window, "States");
    type_into(&mut window, "Name of this state", "before the storm");
    click(&mut window, "Name this state");
    assert!(
        window
            .query_by_label("Forget the name before the storm")
            .is_some()
    );
    window.key_press(Key::Escape);
    window.run_steps(3);
    type_into(&mut window, "Scene name", "harbour");
    window.key_press(Key::Enter);
    window.run_steps(3);
    assert_eq!(name(&window), "harbour");
    // The finished scene can be compared with it.
    window.get_by_label_contains("Finish:").click();
    window.run_steps(3);
    click(&mut window, "Split");
    click(&mut window, "Compare with");
    window
        .get_by_label_contains("state 'before the storm'")
        .click();
    window.run_steps(3);
    click(&mut window, "States");
    click(&mut window, "Go to before the storm");
    assert_eq!(name(&window), "shoot");
    click(&mut window, "Forget the name before the storm");
    assert!(
        window
            .query_by_label("Forget the name before the storm")
            .is_none()
    );
}

#[test]
fn photos_that_went_or_changed_are_named_found_and_taken() {
    let folder = shoot();
    let elsewhere = tempfile::tempdir().unwrap();
    let mut window = window(Some(scene(folder.path())));
    window.run_steps(3);
    // What the photos hold is known once they were read.
    click(&mut window, "More for tug");
    click(&mut window, "Measure and fuse");
    settle(&mut window);
    let gone = folder.path().join("barge_02.png");
    std::fs::rename(&gone, elsewhere.path().join("renamed.png")).unwrap();
    write_photo(&folder.path().join("tug_01.png"), 3, 0);
    click(&mut window, "Scene");
    click(&mut window, "Photos on disc…");
    settle(&mut window);
    for said in [
        "2 the same, 1 changed, 1 missing.",
        "barge_02.png: missing",
        "tug_01.png: changed",
    ] {
        assert!(window.query_by_label_contains(said).is_some(), "{said}");
    }
    let place = elsewhere.path().display().to_string();
    type_into(&mut window, "Look in folder", &place);
    click(&mut window, "Find missing photos there");
    settle(&mut window);
    assert!(
        window
            .query_by_label_contains("3 the same, 1 changed, 0 missing.")
            .is_some()
    );
    click(&mut window, "Take changed photos as they are");
    settle(&mut window);
    assert!(
        window
            .query_by_label_contains("All 4 photos are the ones")
            .is_some()
    );
    click(&mut window, "Close");
    assert!(
        window
            .query_by_label_contains("barge, Frames: 3, done")
            .is_some()
    );
}

#[derive(Debug)]
struct Dropped(PathBuf);

impl egui::DroppedFile for Dropped {
    fn path(&self) -> &Path {
        &self.0
    }

    fn bytes(&self) -> Result<Vec<u8>, String> {
        Err("photos are never read through the window".to_owned())
    }
}

#[test]
fn dropped_photos_are_taken_into_the_open_scene() {
    let folder = shoot();
    let fresh = tempfile::tempdir().unwrap();
    let photo = fresh.path().join("crane_01.png");
    write_photo(&photo, 5, 0);
    let mut window = window(Some(scene(folder.path())));
    window.run_steps(3);
    window
        .input_mut()
        .dropped_files
        .push(Arc::new(Dropped(photo)));
    settle(&mut window);
    assert!(
        window.state().approval().is_some(),
        "grouping is shown first"
    );
    click(&mut window, "Take these groups");
    settle(&mut window);
    assert!(
        open(&window)
            .session
            .project()
            .plate_by_name("crane")
            .is_some(),
        "taken in"
    );
    click(&mut window, "Undo");
    assert!(
        open(&window)
            .session
            .project()
            .plate_by_name("crane")
            .is_none(),
        "one edit"
    );
}

#[test]
fn photos_of_a_plate_that_is_there_become_a_pass_of_it() {
    let folder = shoot();
    let fresh = tempfile::tempdir().unwrap();
    write_photo(&fresh.path().join("barge_furnace_01.png"), 7, 0);
    let mut window = window(Some(scene(folder.path())));
    window.run_steps(3);
    window
        .input_mut()
        .dropped_files
        .push(Arc::new(Dropped(fresh.path().to_owned())));
    settle(&mut window);
    let groups = &window.state().approval().unwrap().groups;
    assert_eq!(groups[0].role, GroupRole::Light);
    click(&mut window, "Take these groups");
    settle(&mut window);
    let barge = plate(&window, "barge");
    let barge = open(&window).session.project().plate(barge).unwrap();
    assert_eq!(barge.passes[0].name, "furnace");
    assert_eq!(barge.take(barge.passes[0].id).unwrap().1.frames.len(), 1);
    click(&mut window, "Undo");
    let barge = plate(&window, "barge");
    let barge = open(&window).session.project().plate(barge).unwrap();
    assert!(barge.passes.is_empty(), "one edit");
}

#[test]
fn a_missing_photo_is_said_in_its_cell() {
    let folder = shoot();
    let session = scene(folder.path());
    std::fs::remove_file(folder.path().join("tug_01.png")).unwrap();
    let mut window = window(Some(session));
    window.run_steps(3);
    assert!(
        window
            .query_by_label_contains("tug, Frames: 1, missing")
            .is_some()
    );
    assert!(
        window
            .query_by_label_contains("barge, Frames: 3, done")
            .is_some()
    );
}

#[test]
fn pictures_of_the_start_page() {
    let mut window = window(None);
    window.set_size(egui::vec2(640.0, 480.0));
    window.run();
    window.snapshot("start_page");
}

#[test]
fn pictures_of_the_build_sheet() {
    let folder = shoot();
    let mut window = window(Some(scene(folder.path())));
    window.run_steps(3);
    click(&mut window, "More for barge");
    click(&mut window, "Measure and fuse");
    settle(&mut window);
    click(&mut window, "Dismiss");
    click_cell(&mut window, "barge, Fuse");
    window.remove_cursor();
    wait_for_thumbnails(&mut window);
    window.snapshot("build_sheet");
}

/// Thumbnails come from a thread; the picture is compared once nothing new arrived for a while.
fn wait_for_thumbnails(window: &mut Window) {
    let mut before = window.render().unwrap();
    let mut same = 0;
    for _round in 0..200 {
        window.step();
        std::thread::sleep(Duration::from_millis(20));
        let after = window.render().unwrap();
        same = if after == before { same + 1 } else { 0 };
        before = after;
        if same == 10 {
            return;
        }
    }
}

/// Runs one of the tests below in a process of its own, with the user's folders in `folder`.
fn run_apart(test: &str, folder: &Path) -> std::process::Output {
    let mut command = std::process::Command::new(std::env::current_exe().unwrap());
    for what in ["CONFIG", "STATE", "CACHE", "DATA"] {
        command.env(format!("PLATEBENCH_{what}_DIR"), folder.join(what));
    }
    command
        .args(["--ignored", "--exact", test])
        .output()
        .unwrap()
}

#[test]
fn work_left_behind_is_offered_at_the_next_start() {
    let folder = tempfile::tempdir().unwrap();
    let crashed = run_apart("apart_leaves_work_behind", folder.path());
    assert_eq!(crashed.status.code(), Some(17), "it ended without goodbye");
    let taken_up = run_apart("apart_takes_work_up", folder.path());
    let said = String::from_utf8_lossy(&taken_up.stdout).into_owned();
    assert!(
        taken_up.status.success() && said.contains("1 passed"),
        "{said}"
    );
}

#[test]
#[ignore = "run in a process of its own by the test of work left behind"]
fn apart_leaves_work_behind() {
    let project =
        platebench::project::Project::new("before", platebench::geometry::Size::new(8, 8));
    let settings = Settings::for_memory(64 << 20);
    let mut session = Session::new(project, &std::env::current_dir().unwrap(), &settings);
    session.begin_journal().unwrap();
    let named = platebench::project::Edit::NameScene("adrift".to_owned());
    session.record(named).unwrap();
    std::process::exit(17);
}

#[test]
#[ignore = "run in a process of its own by the test of work left behind"]
fn apart_takes_work_up() {
    let start = || -> Window {
        Harness::builder()
            .with_size([1280.0, 800.0])
            .with_max_steps(64)
            .build_eframe(|context| {
                let settings = Settings::for_memory(64 << 20);
                Workbench::for_people(&context.egui_ctx, settings, None)
            })
    };
    let mut window = start();
    window.run();
    assert!(
        window.query_by_label("adrift: 1 unsaved edit").is_some(),
        "offered by name"
    );
    click(&mut window, "Take up adrift");
    settle(&mut window);
    assert_eq!(open(&window).session.project().name, "adrift");
    assert!(!open(&window).session.is_saved(), "still to be saved");
    click(&mut window, "Looks");
    click(&mut window, "Light surround");
    click(&mut window, "Scene");
    click(&mut window, "Close");
    click(&mut window, "Discard");
    let mut again = start();
    again.run();
    assert!(
        again.query_by_label("Unsaved work was found").is_none(),
        "what was discarded is not offered again"
    );
    click(&mut again, "Looks");
    let light = again.get_by_label("Light surround");
    let chosen = light.accesskit_node().toggled();
    assert_eq!(
        chosen,
        Some(egui::accesskit::Toggled::True),
        "looks are kept"
    );
}
