//! The photographer of the demo scene "Ice shift": builds the miniatures, lights them and takes the photographs.
//!
//! `photographer OUT_DIR [barge|barge_again|tug|buoy|ice ...] [--quick] [--truth] [--views=N]`
//!
//! `--quick` takes a few small frames for looking, `--truth` writes only the truth, `--views` sets the number of
//! lens views.

#![expect(
    clippy::fn_params_excessive_bools,
    clippy::too_many_arguments,
    clippy::excessive_nesting,
    clippy::disallowed_methods,
    clippy::let_underscore_must_use,
    reason = "a renderer on its own, outside the rooms: it writes its files and times itself"
)]

mod barge;
mod buoy;
mod cutting;
mod field;
mod files;
mod fittings;
mod furnace;
mod ice;
mod kit;
mod lens;
mod light;
mod paint;
mod part;
mod plating;
mod scene;
mod sensor;
mod session;
mod spot;
mod tree;
mod truth;
mod tug;
mod upper;
mod vec3;

use field::{Depth, Px, View, lay, trace};
use files::{Fail, Note, jpeg};
use lens::jitter;
use scene::Pose;
use sensor::{Exposure, develop};
use session::{Shot, Source};
use std::path::Path;

/// Radiance of the evenly lit card.
const CARD: f32 = 0.70;

/// Adds one lens view to all frames.
fn expose(
    sums: &mut [Vec<Px>],
    shots: &[Shot],
    pose: &Pose,
    view: &View,
    i: u32,
    lens: (f32, f32),
    weight: f32,
) {
    let mut mixed: Option<(f32, Vec<Px>)> = None;
    for (sum, shot) in sums.iter_mut().zip(shots) {
        let src: &[Px] = match shot.source {
            Source::Key | Source::Card => &view.key,
            Source::Furnace => &view.furnace,
            Source::Running(k) => {
                if mixed.as_ref().is_none_or(|m| (m.0 - k).abs() > 1e-6) {
                    let add = |(r, q): (&Px, &Px)| [0, 1, 2, 3].map(|c| r[c] + k * q[c]);
                    mixed = Some((k, view.running.iter().zip(&view.key).map(add).collect()));
                }
                mixed.as_ref().map_or(&view.running, |m| &m.1)
            }
            Source::Clean => continue,
        };
        let at = (pose.cam.landing(lens, shot.focus), shot.nudge, jitter(i));
        lay(sum, (src, view.size), &pose.cam, at, weight);
    }
}

/// Replaces a sum by what the silhouette or clean light gives.
#[expect(clippy::cast_precision_loss, reason = "picture sizes")]
fn settle(sum: &mut [Px], shot: &Shot, pose: &Pose) {
    let (w, h) = pose.cam.size;
    for (i, px) in sum.iter_mut().enumerate() {
        match shot.source {
            Source::Card => {
                let k = px[3] * CARD + (1.0 - px[3]) * 0.0035;
                *px = [k, k * 1.005, k * 1.01, 0.0];
            }
            Source::Clean => {
                let (x, y) = ((i % w) as f32 + 0.5, (i / w) as f32 + 0.5);
                let b = pose.back.at(
                    (x - 0.5 * w as f32) / w as f32,
                    (y - 0.5 * h as f32) / w as f32,
                );
                *px = [b.x, b.y, b.z, 0.0];
            }
            Source::Key | Source::Furnace | Source::Running(_) => {}
        }
    }
}

#[expect(clippy::cast_precision_loss, reason = "view counts")]
fn photograph(out: &Path, pose: &Pose, shots: &[Shot], views: u32) -> Result<(), Fail> {
    let size = pose.cam.size;
    let mut sums: Vec<Vec<Px>> = shots
        .iter()
        .map(|_| vec![[0.0; 4]; size.0 * size.1])
        .collect();
    for i in 0..views {
        let lens = pose.cam.lens_point(i, views);
        let view = trace(&pose.stage, &pose.cam, &pose.back, i, lens, Depth::Light);
        expose(&mut sums, shots, pose, &view, i, lens, 1.0 / views as f32);
    }
    for (sum, shot) in sums.iter_mut().zip(shots) {
        deliver(out, pose, sum, shot)?;
        sum.clear();
        sum.shrink_to_fit();
    }
    Ok(())
}

/// Develops one frame and writes it.
fn deliver(out: &Path, pose: &Pose, sum: &mut [Px], shot: &Shot) -> Result<(), Fail> {
    let size = pose.cam.size;
    settle(sum, shot, pose);
    let seed = shot
        .name
        .bytes()
        .fold(17, |h, b| vec3::hash2(h, u32::from(b)));
    let e = Exposure {
        gain: shot.gain * shot.flicker,
        balance: shot.balance,
        iso: shot.iso,
        seed,
    };
    let glare = if shot.source == Source::Card {
        0.0
    } else {
        0.012
    };
    let rgb = develop(sum, size, &e, glare);
    let note = Note {
        milliseconds: shot.milliseconds,
        stop: pose.cam.stop,
        iso: shot.iso,
        focal: pose.cam.focal,
        focus: shot.focus,
        clock: shot.clock,
        lens: if pose.cam.focal < 50.0 {
            "HW wide 35 mm f/2.8"
        } else {
            "HW close 90 mm f/4"
        },
    };
    let path = out
        .join("photos")
        .join(shot.folder)
        .join(format!("{}.jpg", shot.name));
    jpeg(&path, &rgb, size, 92, Some(&note))?;
    if std::env::args().any(|a| a == "--png") {
        files::png(
            &path.with_extension("png"),
            &rgb,
            size,
            (png::ColorType::Rgb, png::BitDepth::Eight),
        )?;
    }
    Ok(())
}

/// Progress for whoever waits.
fn say(line: &str) {
    use std::io::Write as _;
    // A closed terminal is no reason to stop a long render.
    drop(writeln!(std::io::stderr(), "{line}"));
}

/// Number of lens views from `--views=N`.
fn asked() -> Option<u32> {
    std::env::args().find_map(|a| a.strip_prefix("--views=").and_then(|n| n.parse().ok()))
}

fn worst_blur(pose: &Pose) -> f32 {
    let mut worst: f32 = 0.0;
    let mut z = pose.extent.0;
    while z < pose.extent.1 {
        worst = worst.max(
            pose.focus
                .iter()
                .fold(f32::INFINITY, |a, f| a.min(pose.cam.blur(z, *f))),
        );
        z += 1.0;
    }
    worst
}

/// A pose, its frames and its number of lens views; `small` for looking only.
fn plan(name: &str, small: bool) -> (Pose, Vec<Shot>, u32) {
    let size = if small { (1200, 800) } else { (2400, 1600) };
    let ice_size = if small { (800, 600) } else { (1600, 1200) };
    match name {
        "barge" | "barge_again" => {
            let again = name == "barge_again";
            let pose = scene::barge(again, size);
            let shots = session::barge(again, &pose.focus, 5);
            (pose, shots, 80)
        }
        "tug" | "buoy" => {
            let pose = scene::small(name == "tug", size);
            let shots = session::small(name == "tug", &pose.cam, &pose.focus);
            (pose, shots, 56)
        }
        _ => {
            let k = name
                .bytes()
                .last()
                .map_or(1, |b| u32::from(b.saturating_sub(b'0')).clamp(1, 3));
            let pose = scene::ice(k, ice_size);
            let shots = session::ice(k, pose.focus[0]);
            (pose, shots, 64)
        }
    }
}

/// Whether a frame is among the few of a quick look.
fn sample(s: &Shot) -> bool {
    let end = match s.folder {
        "tug" => "1",
        "buoy" => "2",
        "barge_faulty" => return false,
        "ice" => return true,
        _ if s.source == Source::Key => "6",
        _ => "3",
    };
    s.name.ends_with(end)
}

fn run_pose(out: &Path, name: &str, quick: Option<u32>) -> Result<(), Fail> {
    let start = std::time::Instant::now();
    let (mut pose, mut shots, views) = plan(name, quick.is_some());
    say(&format!(
        "{name}: {} parts, {} practicals, {:.0}..{:.0} mm, end to end blur radius {:.1} px, worst between frames {:.2} px",
        pose.stage.tree.parts.len(),
        pose.stage.set.lamps.len(),
        pose.extent.0,
        pose.extent.1,
        pose.cam.blur(pose.extent.1, pose.extent.0),
        worst_blur(&pose)
    ));
    if let Some(n) = quick {
        shots.retain(sample);
        pose.cam.stop = 200.0;
        photograph(out, &pose, &shots, n)?;
        say(&format!("{name}: {:.0} s", start.elapsed().as_secs_f32()));
        return Ok(());
    }
    let views = asked().unwrap_or(views);
    if !std::env::args().any(|a| a == "--truth") {
        photograph(out, &pose, &shots, views)?;
    }
    let home = out.join("truth");
    let dir = if name.starts_with("ice") {
        home.join("ice")
    } else {
        home
    };
    truth::write(&dir.join(name), &pose, &shots, 36)?;
    say(&format!("{name}: {:.0} s", start.elapsed().as_secs_f32()));
    Ok(())
}

fn main() -> Result<(), Fail> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let quick = args.iter().any(|a| a == "--quick").then_some(10);
    let words: Vec<&String> = args.iter().filter(|a| !a.starts_with("--")).collect();
    let Some((out, poses)) = words.split_first() else {
        return Err("usage: photographer OUT_DIR [barge|barge_again|tug|buoy|ice_1|ice_2|ice_3 ...] [--quick]".into());
    };
    let all = [
        "barge",
        "barge_again",
        "tug",
        "buoy",
        "ice_1",
        "ice_2",
        "ice_3",
    ];
    for name in all {
        if poses.is_empty()
            || poses
                .iter()
                .any(|p| p.as_str() == name || (*p == "ice" && name.starts_with("ice")))
        {
            run_pose(Path::new(out.as_str()), name, quick)?;
        }
    }
    Ok(())
}
