//! How long a frame of the window takes the processor: layout, tessellation and handing textures over, without a screen.
//!
//! `cargo bench --bench window_frames [-- MEGAPIXELS…]` makes ten plates of photos of that size (24, 1 and 60 if nothing is said),
//! pans, zooms and paints, and prints the median, the 99th percentile and the longest frame; then it steps frames while a stack
//! of 24-megapixel frames is fused. Both the time on the processor and the time by the clock are printed: on a busy machine only
//! the first is the window's own. Minutes; outside the gate.
#![expect(
    clippy::disallowed_methods,
    clippy::fn_params_excessive_bools,
    clippy::print_stdout,
    clippy::unwrap_used,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss,
    reason = "a measuring program outside the product reads files and the clock, prints, and may stop at once"
)]

use egui::{Modifiers, MouseWheelUnit, PointerButton, Pos2, TouchPhase, pos2, vec2};
use egui_kittest::kittest::Queryable as _;
use egui_kittest::{Harness, TestRenderer};
use platebench::geometry::Size;
use platebench::project::Project;
use platebench::session::grouping::{self, Group};
use platebench::session::{Session, Settings, photos_at};
use platebench::window::app::Workbench;
use std::path::Path;
use std::time::{Duration, Instant};

type Window = Harness<'static, Workbench>;

/// Frames of the window in each measurement.
const FRAMES: usize = 300;

/// Takes textures as a graphics driver does: copies them, and draws nothing.
#[derive(Debug, Default)]
struct Uploads {
    copied: Vec<egui::Color32>,
}

impl TestRenderer for Uploads {
    fn handle_delta(&mut self, delta: &mut egui::TexturesDelta) {
        #[expect(
            clippy::iter_over_hash_type,
            reason = "each texture is copied by itself"
        )]
        for (_id, changes) in delta.set.drain() {
            for change in changes {
                let egui::ImageData::Color(image) = &change.image;
                self.copied.clear();
                self.copied.extend_from_slice(&image.pixels);
                std::hint::black_box(&self.copied);
            }
        }
        delta.free.clear();
    }

    fn render(
        &mut self,
        _ctx: &egui::Context,
        _output: &egui::FullOutput,
    ) -> Result<image::RgbaImage, String> {
        Err("nothing is drawn".to_owned())
    }
}

fn main() {
    let asked: Vec<f64> = std::env::args()
        .filter_map(|word| word.parse().ok())
        .collect();
    let sizes = if asked.is_empty() {
        vec![24.0, 1.0, 60.0]
    } else {
        asked
    };
    println!(
        "{:<34}{:>28}{:>28}",
        "", "on the processor, ms", "by the clock, ms"
    );
    println!(
        "{:<34}{:>10}{:>9}{:>9}{:>10}{:>9}{:>9}",
        "", "median", "p99", "longest", "median", "p99", "longest"
    );
    for megapixels in sizes {
        ten_plates(megapixels);
    }
    during_a_fusion();
}

/// Width and height of a 3:2 picture.
fn size_of(megapixels: f64) -> Size {
    let height = libm::sqrt(megapixels * 1e6 / 1.5);
    Size::new((height * 1.5) as u32, height as u32)
}

/// A photo with detail everywhere; the same `seed` gives the same places, `bright` another exposure.
fn write_photo(path: &Path, size: Size, seed: u32, bright: u32) {
    let pixel = |x: u32, y: u32| {
        let mixed = (x / 3).wrapping_mul(374_761_393) ^ (y / 3).wrapping_mul(668_265_263) ^ seed;
        let mixed = (mixed ^ (mixed >> 13)).wrapping_mul(1_274_126_177);
        let value = (40 + (mixed >> 16) % 160 + bright) as u8;
        image::Rgb([value, value / 2 + 40, 200 - value / 2])
    };
    image::RgbImage::from_fn(size.width, size.height, pixel)
        .save(path)
        .unwrap();
}

fn window(session: Session) -> Window {
    Harness::builder()
        .with_size([1280.0, 800.0])
        .with_max_steps(64)
        .with_step_dt(1.0 / 60.0)
        .renderer(Uploads::default())
        .build_eframe(|context| Workbench::for_test(&context.egui_ctx, Some(session)))
}

/// A scene of the photos in a folder, each group a plate.
fn scene(folder: &Path, groups: &[Group], canvas: Size) -> Session {
    let settings = Settings::default();
    let mut session = Session::new(Project::new("bench", canvas), folder, &settings);
    session.accept_groups(groups).unwrap();
    session
}

fn settle(window: &mut Window) {
    loop {
        window.step();
        let complete = window
            .state()
            .scene()
            .is_none_or(|scene| scene.is_complete());
        if window.state().is_idle() && complete {
            return;
        }
        std::thread::sleep(Duration::from_millis(10));
    }
}

fn click(window: &mut Window, label: &str) {
    window.get_by_label_contains(label).click();
    window.run_steps(3);
}

/// Ten plates, each of one photo; three photos are shared among them, so that the wait before measuring is minutes and not hours.
fn ten_plates(megapixels: f64) {
    let folder = tempfile::tempdir().unwrap();
    let size = size_of(megapixels);
    let mut groups = Vec::new();
    for photo in 0..3 {
        let path = folder.path().join(format!("model{photo}_01.jpg"));
        write_photo(&path, size, photo, 0);
        groups.extend(grouping::propose(&photos_at(&[path]).unwrap()).unwrap());
    }
    let plates: Vec<Group> = (0..10)
        .map(|plate| Group {
            name: format!("plate {plate}"),
            plate: format!("plate {plate}"),
            ..groups[plate % 3].clone()
        })
        .collect();
    let mut window = window(scene(folder.path(), &plates, size));
    window.run_steps(4);
    window.get_by_label_contains("Finish:").click();
    window.run_steps(3);
    // Single photos are shown without being asked for, where they need no work of their own.
    if let Some(ask) = window.query_by_label_contains("Measure and fuse all plates") {
        ask.click();
        window.run_steps(3);
    }
    settle(&mut window);
    let area = window.get_by_label("Picture").rect();
    let middle = area.center();

    // One to one, then to and fro.
    window.hover_at(middle);
    window.get_by_label("Picture").focus();
    window.run_steps(2);
    window.key_press(egui::Key::Num1);
    settle(&mut window);
    window.event(button(middle, PointerButton::Middle, true));
    window.step();
    let pan = measured(&mut window, |window, frame| {
        let turn = frame as f32 / FRAMES as f32 * std::f32::consts::TAU;
        window.event(egui::Event::PointerMoved(
            middle + vec2(turn.sin() * 300.0, (2.0 * turn).sin() * 150.0),
        ));
    });
    window.event(button(middle, PointerButton::Middle, false));
    report(megapixels, "panning", pan);

    let zoom = measured(&mut window, |window, frame| {
        let in_and_out = if (frame / 50) % 2 == 0 { -1.0 } else { 1.0 };
        window.event(egui::Event::MouseWheel {
            unit: MouseWheelUnit::Line,
            delta: vec2(0.0, in_and_out),
            modifiers: Modifiers::NONE,
            phase: TouchPhase::Move,
            source: egui::MouseWheelSource::Wheel,
        });
    });
    report(megapixels, "zooming", zoom);
    let paint = painting(&mut window);
    report(megapixels, "painting a mask", paint);
}

/// One long stroke into the matte of the front plate.
fn painting(window: &mut Window) -> Vec<[f64; 2]> {
    click(window, "plate 9, Matte");
    click(window, "Cut out along a drawn mask");
    click(window, "Draw strokes");
    settle(window);
    let area = window.get_by_label("Picture").rect();
    let place = |frame: usize| -> Pos2 {
        let turn = frame as f32 / FRAMES as f32 * std::f32::consts::TAU;
        area.center()
            + vec2(
                (3.0 * turn).sin() * area.width() * 0.3,
                (2.0 * turn).cos() * area.height() * 0.3,
            )
    };
    window.hover_at(place(0));
    window.run_steps(2);
    window.event(button(place(0), PointerButton::Primary, true));
    window.step();
    let paint = measured(window, |window, frame| {
        window.event(egui::Event::PointerMoved(place(frame)));
    });
    window.event(button(place(FRAMES), PointerButton::Primary, false));
    settle(window);
    paint
}

/// Steps frames while a stack is fused; everything in view is asked for anew by panning.
fn during_a_fusion() {
    let folder = tempfile::tempdir().unwrap();
    for frame in 1..=6 {
        let path = folder.path().join(format!("model_{frame:02}.jpg"));
        write_photo(&path, size_of(24.0), 5, frame * 4);
    }
    let groups = grouping::propose(&photos_at(&[folder.path().to_owned()]).unwrap()).unwrap();
    let mut window = window(scene(folder.path(), &groups, size_of(24.0)));
    window.run_steps(4);
    click(&mut window, "model, Fuse");
    click(&mut window, "Fuse this plate");
    let middle = window.get_by_label("Picture").rect().center();
    window.event(button(middle, PointerButton::Middle, true));
    let mut times = Vec::new();
    let begun = Instant::now();
    while !window.state().is_idle() || times.is_empty() {
        let turn = times.len() as f32 / 100.0;
        let to = pos2(middle.x + turn.sin() * 200.0, middle.y + turn.cos() * 100.0);
        window.event(egui::Event::PointerMoved(to));
        times.push(timed(&mut window));
        std::thread::sleep(Duration::from_millis(12));
    }
    let over = times.iter().filter(|[_own, clock]| *clock > 50.0).count();
    println!(
        "6 frames of 24 megapixels fused in {:.0} s while the window stepped {} frames; longer than 50 ms by the clock: {over}",
        begun.elapsed().as_secs_f64(),
        times.len(),
    );
    report(24.0, "panning while fusing", times);
}

const fn button(pos: Pos2, button: PointerButton, pressed: bool) -> egui::Event {
    egui::Event::PointerButton {
        pos,
        button,
        pressed,
        modifiers: Modifiers::NONE,
    }
}

/// Times frames, about sixty in a second; `before` makes what each of them has to follow.
fn measured(window: &mut Window, mut before: impl FnMut(&mut Window, usize)) -> Vec<[f64; 2]> {
    (0..FRAMES)
        .map(|frame| {
            before(window, frame);
            let time = timed(window);
            std::thread::sleep(Duration::from_millis(12));
            time
        })
        .collect()
}

/// Milliseconds of one frame: on the processor, and by the clock.
fn timed(window: &mut Window) -> [f64; 2] {
    let (own, clock) = (on_processor(), Instant::now());
    window.step();
    let shapes = window.output().shapes.clone();
    std::hint::black_box(window.ctx.tessellate(shapes, 1.0));
    let clock = clock.elapsed().as_secs_f64() * 1e3;
    [on_processor() - own, clock]
}

/// Milliseconds that this thread was on a processor so far, as the system counts them; 0 where it does not tell.
fn on_processor() -> f64 {
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
    let nanoseconds = told
        .split_whitespace()
        .next()
        .and_then(|word| word.parse().ok());
    nanoseconds.unwrap_or(0.0) * 1e-6
}

fn report(megapixels: f64, what: &str, times: Vec<[f64; 2]>) {
    let mut line = format!("{:<34}", format!("{megapixels} megapixels, {what}"));
    for way in [0, 1] {
        let mut of_way: Vec<f64> = times.iter().map(|time| time[way]).collect();
        of_way.sort_by(f64::total_cmp);
        let at = |share: f64| of_way[((of_way.len() - 1) as f64 * share) as usize];
        line += &format!("{:>10.2}{:>9.2}{:>9.2}", at(0.5), at(0.99), at(1.0));
    }
    println!("{line}");
}
