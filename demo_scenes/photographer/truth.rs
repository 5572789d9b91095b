//! What really was before the lens: the tests' measure.

use crate::field::{Depth, Px, lay, trace};
use crate::files::{Fail, jpeg, png};
use crate::lens::{Nudge, jitter};
use crate::scene::Pose;
use crate::sensor::{HOT_PIXELS, SENSOR_DUST, byte, hot_place, plain};
use crate::session::{Shot, Source};
use std::fmt::Write as _;
use std::path::Path;

/// Factors on the linear light of the truth's group pictures.
pub(crate) const GROUP_FACTOR: (f32, f32) = (4.0, 2.0);

/// Writes the truth of a pose; `views` pinhole views are averaged.
pub(crate) fn write(dir: &Path, pose: &Pose, shots: &[Shot], views: u32) -> Result<(), Fail> {
    std::fs::create_dir_all(dir)?;
    let full = dir.file_name().is_some_and(|n| n == "barge");
    let size = pose.cam.size;
    let mut cover = vec![[0.0_f32; 4]; size.0 * size.1];
    let mut light = [cover.clone(), cover.clone(), cover.clone()];
    let zero = (0.0, 0.0);
    let still = |i| {
        (
            pose.cam.landing(zero, pose.cam.reference),
            Nudge::STILL,
            jitter(i),
        )
    };
    #[expect(clippy::cast_precision_loss, reason = "a few views")]
    let weight = 1.0 / views as f32;
    let mut depth: Vec<f32> = Vec::new();
    for i in 0..views {
        let v = trace(&pose.stage, &pose.cam, &pose.back, i, zero, Depth::Cover);
        lay(&mut cover, (&v.key, v.size), &pose.cam, still(i), weight);
        if i == 0 {
            depth = crop(&v.depth, v.size, size);
        }
        if full {
            let v = trace(&pose.stage, &pose.cam, &pose.back, i, zero, Depth::Light);
            for (sum, src) in light.iter_mut().zip([&v.key, &v.furnace, &v.running]) {
                lay(sum, (src, v.size), &pose.cam, still(i), weight);
            }
        }
    }
    pictures(dir, pose, (&cover, &light, &depth), full)?;
    std::fs::write(dir.join("truth.json"), record(pose, shots, full))?;
    Ok(())
}

/// Writes the pictures of the truth: coverage, light by group, distances.
fn pictures(
    dir: &Path,
    pose: &Pose,
    sums: (&[Px], &[Vec<Px>], &[f32]),
    full: bool,
) -> Result<(), Fail> {
    let (cover, light, depth) = sums;
    let size = pose.cam.size;
    let grey: Vec<u8> = cover
        .iter()
        .map(|c: &Px| byte((1.0 - c[3]) * 255.0 + 0.5))
        .collect();
    png(
        &dir.join("coverage.png"),
        &grey,
        size,
        (png::ColorType::Grayscale, png::BitDepth::Eight),
    )?;
    if full {
        write_depth(&dir.join("depth.png"), depth, pose)?;
        jpeg(
            &dir.join("all_in_focus.jpg"),
            &plain(&light[0], 1.0),
            size,
            96,
            None,
        )?;
        jpeg(
            &dir.join("furnace.jpg"),
            &plain(&light[1], GROUP_FACTOR.0),
            size,
            93,
            None,
        )?;
        jpeg(
            &dir.join("running.jpg"),
            &plain(&light[2], GROUP_FACTOR.1),
            size,
            93,
            None,
        )?;
    }
    Ok(())
}

fn crop(depth: &[f32], from: (usize, usize), size: (usize, usize)) -> Vec<f32> {
    let m = (from.0 - size.0) / 2;
    (0..size.1)
        .flat_map(|y| depth[(y + m) * from.0 + m..][..size.0].iter().copied())
        .collect()
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped"
)]
fn write_depth(path: &Path, depth: &[f32], pose: &Pose) -> Result<(), Fail> {
    let (near, far) = pose.extent;
    let bytes: Vec<u8> = depth
        .iter()
        .flat_map(|z| {
            let t = ((z - near) / (far - near)).clamp(0.0, 1.0);
            // The lowest bits would only be noise of the machine's numbers and cost space: 4096 steps.
            let step = (t * 4095.0).round() as u16;
            ((step << 4) | (step >> 8)).to_be_bytes()
        })
        .collect();
    png(
        path,
        &bytes,
        pose.cam.size,
        (png::ColorType::Grayscale, png::BitDepth::Sixteen),
    )
}

fn pair(p: (f32, f32)) -> String {
    format!("[{:.3}, {:.3}]", p.0, p.1)
}

fn list(items: Vec<String>) -> String {
    format!("[{}]", items.join(", "))
}

fn record(pose: &Pose, shots: &[Shot], full: bool) -> String {
    let cam = &pose.cam;
    let mut s = String::from("{\n");
    let mut line = |key: &str, value: String| {
        let _ = writeln!(s, "  \"{key}\": {value},");
    };
    line("about", "\"positions in px of the reference frame, centre of the first pixel at (0.5, 0.5); matrices map reference positions to frame positions\"".to_owned());
    line("size_px", format!("[{}, {}]", cam.size.0, cam.size.1));
    line("focal_mm", format!("{}", cam.focal));
    line("f_number", format!("{}", cam.stop));
    line("pixel_pitch_mm", format!("{}", cam.pitch));
    line("reference_focus_mm", format!("{:.4}", cam.reference));
    line("nearest_mm", format!("{:.4}", pose.extent.0));
    line("farthest_mm", format!("{:.4}", pose.extent.1));
    if full {
        line("depth_png", "\"0 = nearest_mm, 65535 = farthest_mm or backdrop, linear in mm, 4096 steps, distance along the optical axis\"".to_owned());
        line("furnace_factor", format!("{}", GROUP_FACTOR.0));
        line("running_factor", format!("{}", GROUP_FACTOR.1));
    }
    stand_and_seam(pose, &mut line);
    flaws(pose, &mut line);
    let frames = shots
        .iter()
        .map(|f| frame(pose, f))
        .collect::<Vec<_>>()
        .join(",\n    ");
    let _ = writeln!(s, "  \"frames\": [\n    {frames}\n  ]\n}}");
    s
}

/// Outline of the stand and course of the seam gap.
fn stand_and_seam(pose: &Pose, line: &mut impl FnMut(&str, String)) {
    let cam = &pose.cam;
    let at = |q| {
        let p = cam.project(q);
        (p.0, p.1)
    };
    if let Some((foot, floor, r)) = pose.stand {
        let w = cam.right * (r * 1.75);
        let n = cam.right * r;
        let collar = foot + cam.down * 7.0;
        let top = foot - cam.down * 1.0;
        line(
            "stand_polygon",
            list(
                [
                    top - w,
                    top + w,
                    collar + w,
                    floor + n,
                    floor - n,
                    collar - w,
                ]
                .map(|q| pair(at(q)))
                .to_vec(),
            ),
        );
    }
    if !pose.seam.is_empty() {
        line(
            "seam_gap_width_px",
            format!("{:.3}", 8.0 * cam.middle().0 / 1200.0),
        );
        line(
            "seam_gap_middle",
            list(pose.seam.iter().map(|q| pair(at(*q))).collect()),
        );
    }
}

/// What lies on the model and in the camera.
#[expect(clippy::cast_precision_loss, reason = "picture sizes")]
fn flaws(pose: &Pose, line: &mut impl FnMut(&str, String)) {
    let cam = &pose.cam;
    let at = |q| {
        let p = cam.project(q);
        (p.0, p.1)
    };
    line(
        "lint",
        list(
            pose.lint
                .iter()
                .map(|l| format!("{{\"kind\": \"{}\", \"at\": {}}}", l.1, pair(at(l.0))))
                .collect(),
        ),
    );
    let (w, h) = (cam.size.0 as f32, cam.size.1 as f32);
    line(
        "sensor_dust",
        list(
            SENSOR_DUST
                .iter()
                .map(|d| {
                    format!(
                        "{{\"at\": {}, \"radius\": {:.2}, \"depth\": {}}}",
                        pair((d.0 * w, d.1 * h)),
                        d.2 * w / 2400.0,
                        d.3
                    )
                })
                .collect(),
        ),
    );
    line(
        "hot_pixels",
        list(
            HOT_PIXELS
                .iter()
                .map(|p| {
                    let q = hot_place(p, cam.size);
                    format!("{{\"pixel\": [{}, {}], \"channel\": {}}}", q.0, q.1, p.3)
                })
                .collect(),
        ),
    );
}

fn frame(pose: &Pose, f: &Shot) -> String {
    let cam = &pose.cam;
    let scale =
        f64::from(cam.image_distance(f.focus)) / f64::from(cam.image_distance(cam.reference));
    let m = f.nudge.matrix(scale, cam.middle());
    let row = |r: [f64; 3]| format!("[{:.9}, {:.9}, {:.6}]", r[0], r[1], r[2]);
    let light = match f.source {
        Source::Key => "key",
        Source::Furnace => "furnace",
        Source::Running(_) => "running",
        Source::Card => "silhouette",
        Source::Clean => "clean",
    };
    format!(
        "{{\"file\": \"{}/{}.jpg\", \"light\": \"{light}\", \"focus_mm\": {:.4}, \"gain\": {:.5}, \"balance\": [{}, {}, {}], \"matrix\": [{}, {}, {}]}}",
        f.folder,
        f.name,
        f.focus,
        f.gain * f.flicker,
        f.balance[0],
        f.balance[1],
        f.balance[2],
        row(m[0]),
        row(m[1]),
        row(m[2])
    )
}
