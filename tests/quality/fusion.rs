//! Prints how near fused plates come to the truth of made scenes: `cargo bench --bench fusion_quality`.
//!
//! Sixteen frames of 1080 x 720 pixels that lie exactly where they should; means over three seeds of noise. Decibels are PSNR on
//! root-encoded values clipped to 0..1: over all object pixels, those far from depth edges, those within 14 pixels of one, and backdrop
//! within 20 pixels of one. SSIM is that of object pixels. Halo is the rms of the low-passed error near edges, noise the high-passed
//! error on empty backdrop, both times 1000. Q^AB/F and `Q_W` compare with the frames and know no truth.
#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    clippy::panic,
    clippy::type_complexity,
    clippy::cast_possible_truncation,
    unreachable_pub,
    missing_docs,
    missing_debug_implementations,
    clippy::allow_attributes,
    reason = "this program is a table"
)]

#[path = "../common/disc_blur.rs"]
mod disc_blur;
#[path = "../common/fusion_measures.rs"]
mod fusion_measures;
#[path = "../common/fusion_score.rs"]
mod fusion_score;
#[path = "../common/layered_scene.rs"]
mod layered_scene;
#[path = "../common/metrics.rs"]
mod metrics;

use fusion_measures::{edges_kept, grey_codes, likeness_kept};
use fusion_score::{Score, Stack, Zones, fuse, fuse_parts, score, without_veil};
use layered_scene::{Backdrop, FRAMES, LayeredScene, STEP_PX, luma, noisy, warped};
use platebench::geometry::{Point, Rect, Similarity, Transform};
use platebench::imaging::basics::resample::{Kernel, sample_plane, sample_planes};
use platebench::imaging::fuse::{BlendPass, FuseSettings, NearParts};
use platebench::imaging::lights::glow;
use platebench::pixels::{Plane, Planes};

/// Seeds of the noise; the first frame's, each frame adds one.
const NOISES: [u64; 3] = [5, 105, 205];

fn main() {
    println!(
        "{:38}    all   flat   edge   back    ssim   halo  noise  Q^AB/F    Q_W",
        "scene"
    );
    for (name, seed, backdrop) in [
        ("grey backdrop", 0, Backdrop::Grey),
        ("black backdrop", 40, Backdrop::Black),
    ] {
        let clean = Clean::new(seed, backdrop);
        table(&format!("{name}, 20 000 e-"), &clean, 20_000.0);
        near_parts(&clean);
        if backdrop == Backdrop::Grey {
            table("grey backdrop, 1 500 e-", &clean, 1_500.0);
            if std::env::args().any(|word| word == "speed") {
                speed(&clean.stack(20_000.0, NOISES[0]));
            }
        }
    }
}

/// A scene before the noise; making it takes the longest.
struct Clean {
    frames: Vec<Planes>,
    truth: Planes,
    depth: Plane,
    /// Coverage of the struts and lamps; of the wing behind them.
    near: [Plane; 2],
}

impl Clean {
    fn new(seed: u64, backdrop: Backdrop) -> Self {
        let scene = LayeredScene::new(seed, backdrop);
        let (truth, depth) = scene.truth();
        let frames = (0_u16..)
            .take(usize::try_from(FRAMES).unwrap())
            .map(|k| scene.render(f32::from(k), STEP_PX));
        let [_, _, wing, struts, lamps] = &scene.layers[..] else {
            panic!("five layers");
        };
        let mut before = struts.coverage.clone();
        for (value, other) in before.data.iter_mut().zip(&lamps.coverage.data) {
            *value = value.max(*other);
        }
        Self {
            frames: frames.collect(),
            truth,
            depth,
            near: [before, wing.coverage.clone()],
        }
    }

    fn stack(&self, full_well: f64, noise: u64) -> Stack {
        let noisy = (noise..).zip(&self.frames);
        Stack {
            frames: noisy
                .map(|(seed, frame)| noisy_frame(frame, seed, full_well))
                .collect(),
            truth: self.truth.clone(),
            depth: self.depth.clone(),
        }
    }
}

fn noisy_frame(frame: &Planes, seed: u64, full_well: f64) -> Planes {
    noisy(frame, seed, full_well, 4.0)
}

/// A row of the table: means of scores, and of both measures without truth.
#[derive(Default)]
struct Row {
    scores: Vec<Score>,
    kept: Vec<(f64, f64)>,
}

impl Row {
    fn add(&mut self, result: &Planes, stack: &Stack, zones: &Zones) {
        self.scores.push(score(result, stack, zones));
        let sources: Vec<Plane> = stack.frames.iter().map(grey_codes).collect();
        let made = grey_codes(result);
        self.kept
            .push((edges_kept(&sources, &made), likeness_kept(&sources, &made)));
    }

    fn print(&self, name: &str) {
        let count = self.kept.len() as f64;
        let mean = |of: fn(&(f64, f64)) -> f64| self.kept.iter().map(of).sum::<f64>() / count;
        println!(
            "{name:38} {} {:7.4} {:6.4}",
            Score::mean(&self.scores),
            mean(|kept| kept.0),
            mean(|kept| kept.1)
        );
    }
}

fn table(name: &str, clean: &Clean, full_well: f64) {
    let [mut best, mut detail, mut unveiled, mut cleaner, mut moved] =
        [(); 5].map(|()| Row::default());
    for noise in NOISES {
        let stack = clean.stack(full_well, noise);
        let zones = Zones::of(&stack);
        best.add(&stack.frames[3], &stack, &zones);
        let fused = fuse(&stack.frames, FuseSettings::default());
        detail.add(&fused.0.planes, &stack, &zones);
        unveiled.add(&without_veil(&stack.frames, fused), &stack, &zones);
        let clean = FuseSettings {
            detail: 2.0,
            ..FuseSettings::default()
        };
        cleaner.add(&fuse(&stack.frames, clean).0.planes, &stack, &zones);
        let (frames, valid): (Vec<Planes>, Vec<Plane>) =
            stack.frames.iter().enumerate().map(there_and_back).unzip();
        let (fused, _) = fuse_parts(&frames, &valid, FuseSettings::default());
        moved.add(&fused.planes, &stack, &zones);
    }
    best.print(&format!("{name}: best frame"));
    detail.print("  fused, detail 1.2");
    unveiled.print("  and near parts' blur taken off");
    cleaner.print("  fused, clean 2.0");
    moved.print("  frames moved and brought back");
}

/// The wing's coverage given, and that of what lies before it: exactly, grown or shrunk by a pixel, and moved by one.
fn near_parts(clean: &Clean) {
    let around = |plane: &Plane, pick: fn(f32, f32) -> f32| {
        Plane::from_fn(plane.rect, |x, y| {
            let near = (-1..=1).flat_map(|dy| (-1..=1).map(move |dx| (x + dx, y + dy)));
            near.map(|(x, y)| plane.nearest(x, y))
                .reduce(pick)
                .unwrap_or(0.0)
        })
    };
    let changes: [(&str, &dyn Fn(&Plane) -> Plane); 4] = [
        ("  near parts given", &Plane::clone),
        ("  near parts 1 px too wide", &|plane| {
            around(plane, f32::max)
        }),
        ("  near parts 1 px too narrow", &|plane| {
            around(plane, f32::min)
        }),
        ("  near parts moved by 1 px", &|plane| {
            Plane::from_fn(plane.rect, |x, y| plane.nearest(x - 1, y))
        }),
    ];
    for (name, change) in changes {
        let coverages = clean.near.each_ref().map(change);
        let mut row = Row::default();
        for noise in NOISES {
            let stack = clean.stack(20_000.0, noise);
            let (fused, map) = fuse(&stack.frames, FuseSettings::default());
            let mut light = fused.planes;
            let near = NearParts {
                coverages: &coverages,
                light: &light,
                map: &map,
            };
            let frame = |number: usize, rect| {
                Ok::<Planes, std::convert::Infallible>(stack.frames[number].crop(rect))
            };
            let Ok(behind) = near.taken_off(frame);
            if let Some((place, behind)) = behind {
                put(&mut light, place, &behind);
            }
            row.add(&light, &stack, &Zones::of(&stack));
        }
        row.print(name);
    }
}

/// A frame moved by 8-tap Lanczos and brought back by the library's six taps, as registration would.
fn there_and_back((k, frame): (usize, &Planes)) -> (Planes, Plane) {
    let similarity = Similarity {
        log_scale: 0.001 * (k as f64 - 8.0),
        angle_rad: 0.0002,
        shift: Point::new(0.5, 0.5),
    };
    let moved = Transform::similarity(similarity, Point::new(540.0, 360.0));
    let frame = warped(frame, &moved);
    sample_planes(&frame, frame.rect(), &moved, Kernel::Lanczos3)
}

fn speed(stack: &Stack) {
    let seconds = |work: &mut dyn FnMut()| {
        let mut least = f64::MAX;
        for _ in 0..3 {
            let start = now();
            work();
            least = least.min(start.elapsed().as_secs_f64());
        }
        least
    };
    let (frame, rect) = (&stack.frames[8], stack.frames[8].rect());
    let megapixels = rect.area() as f64 / 1e6;
    let similarity = Similarity {
        log_scale: 0.01,
        angle_rad: 0.002,
        shift: Point::new(0.3, 0.4),
    };
    let moved = Transform::similarity(similarity, Point::new(540.0, 360.0));
    let turned = Transform::similarity(
        Similarity {
            angle_rad: 0.5,
            ..similarity
        },
        Point::new(540.0, 360.0),
    );
    println!(
        "\nmilliseconds per megapixel, {} threads",
        rayon::current_num_threads()
    );
    let line = |name: &str, work: &mut dyn FnMut()| {
        println!("{name:44} {:7.1}", 1000.0 * seconds(work) / megapixels);
    };
    line("colour frame, six taps, small turn", &mut || {
        keep(&sample_planes(frame, rect, &moved, Kernel::Lanczos3));
    });
    line("colour frame, six taps, large turn", &mut || {
        keep(&sample_planes(frame, rect, &turned, Kernel::Lanczos3));
    });
    let light = luma(frame);
    line("luma, four taps, small turn", &mut || {
        keep(&sample_plane(&light, rect, &moved, Kernel::Cubic));
    });
    let noise = fusion_score::noise_of(&stack.frames);
    let valid = Plane::filled(rect, 1.0);
    let mut pass = fusion_score::first_pass(&stack.frames, &noise);
    line("first pass, one frame", &mut || {
        pass.add(20, &light, &valid);
    });
    let map = fusion_score::first_pass(&stack.frames, &noise).finish();
    line("end of the first pass", &mut || {
        keep(&fusion_score::first_pass(&stack.frames[..1], &noise).finish());
    });
    let mut pass = BlendPass::new(rect, &map, &noise, FuseSettings::default());
    pass.add(0, frame, frame, &valid);
    pass.add(1, frame, frame, &valid);
    line("second pass, one frame", &mut || {
        pass.add(8, frame, frame, &valid);
    });
    line("glow", &mut || keep(&glow(frame, 4.0, 0.5)));
}

fn keep<T>(value: &T) {
    let _ = std::hint::black_box(value);
}

#[allow(
    clippy::disallowed_methods,
    clippy::allow_attributes,
    reason = "this program measures speed; no result depends on it"
)]
fn now() -> std::time::Instant {
    std::time::Instant::now()
}

/// Puts the pixels of `part`, which lie at `place`, into `light`.
fn put(light: &mut Planes, place: Rect, part: &Planes) {
    for y in place.y0..place.y1 {
        for x in place.x0..place.x1 {
            let at = light.rect().index(x, y);
            light.set_pixel(at, part.pixel(place.index(x, y)));
        }
    }
}
