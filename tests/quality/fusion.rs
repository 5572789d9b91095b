//! Prints how near fused plates come to the truth of made scenes: `cargo bench --bench fusion_quality`.
//!
//! Sixteen frames of 1080 x 720 pixels. Decibels are PSNR on root-encoded values clipped to 0..1: over all object pixels, those far
//! from depth edges, those within 14 pixels of one, and backdrop within 20 pixels of one. Halo is the rms of the low-passed error
//! near edges, noise the high-passed error on empty backdrop, both times 1000.
#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
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
#[path = "../common/fusion_score.rs"]
mod fusion_score;
#[path = "../common/layered_scene.rs"]
mod layered_scene;
#[path = "../common/metrics.rs"]
mod metrics;

use fusion_score::{Score, Stack, Zones, fuse, fuse_parts, score};
use layered_scene::{Backdrop, FRAMES, LayeredScene, STEP_PX, luma, noisy, warped};
use platebench::geometry::{Point, Similarity, Transform};
use platebench::imaging::basics::resample::{Kernel, sample_plane, sample_planes};
use platebench::imaging::fuse::{BlendPass, FuseSettings};
use platebench::imaging::lights::glow;
use platebench::pixels::{Plane, Planes};

fn main() {
    println!("scene                            all   flat   edge   back    ssim   halo  noise");
    for (name, seed, backdrop) in [
        ("grey backdrop", 0, Backdrop::Grey),
        ("black backdrop", 40, Backdrop::Black),
    ] {
        let clean = Clean::new(seed, backdrop);
        table(&format!("{name}, 20 000 e-"), &clean.stack(20_000.0));
        if backdrop == Backdrop::Grey {
            table("grey backdrop, 1 500 e-", &clean.stack(1_500.0));
            speed(&clean.stack(20_000.0));
        }
    }
}

/// A scene before the noise; making it takes the longest.
struct Clean {
    frames: Vec<Planes>,
    truth: Planes,
    depth: Plane,
}

impl Clean {
    fn new(seed: u64, backdrop: Backdrop) -> Self {
        let scene = LayeredScene::new(seed, backdrop);
        let (truth, depth) = scene.truth();
        let frames = (0_u16..)
            .take(usize::try_from(FRAMES).unwrap())
            .map(|k| scene.render(f32::from(k), STEP_PX));
        Self {
            frames: frames.collect(),
            truth,
            depth,
        }
    }

    fn stack(&self, full_well: f64) -> Stack {
        let noisy = (5_u64..).zip(&self.frames);
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

fn row(name: &str, score: Score) {
    println!("{name:30} {score}");
}

fn table(name: &str, stack: &Stack) {
    let zones = Zones::of(stack);
    row(
        &format!("{name}: best frame"),
        score(&stack.frames[3], stack, &zones),
    );
    for (kind, detail) in [("detail 1.2", 1.2), ("clean 2.0", 2.0)] {
        let settings = FuseSettings {
            detail,
            ..FuseSettings::default()
        };
        let (fused, _) = fuse(&stack.frames, settings);
        row(
            &format!("  fused, {kind}"),
            score(&fused.planes, stack, &zones),
        );
    }
    let (frames, valid): (Vec<Planes>, Vec<Plane>) =
        stack.frames.iter().enumerate().map(there_and_back).unzip();
    let (fused, _) = fuse_parts(&frames, &valid, FuseSettings::default());
    row(
        "  frames moved and brought back",
        score(&fused.planes, stack, &zones),
    );
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
