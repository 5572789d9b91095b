//! Writes what is true of a pose: pictures, maps and `truth.json`.

use crate::develop::{HOT, MOTES, vignette};
use crate::field::Sitting;
use crate::num::{byte, real, short};
use crate::poses::Pose;
use crate::record::{grey_png, jpeg};
use crate::session::{Shot, plain_bytes};
use crate::truth::{Pixel, pinhole};
use crate::vec3::V3;
use serde_json::{Value, json};
use std::io;
use std::path::Path;

/// Factor that the group pictures carry before their sRGB curve.
const GROUP_FACTOR: f32 = 4.0;

fn px(p: V3, pose: &Pose) -> Value {
    let q = pose.camera.project(p);
    json!([q.0, q.1])
}

fn frames(pose: &Pose, list: &[Shot], unlit_gain: f32) -> Vec<Value> {
    list.iter()
        .map(|s| {
            let l = pose.camera.landing(s.focus, s.nudge);
            json!({
                "file": format!("{}/{}.jpg", s.folder, s.file),
                "pass": s.pass,
                "focus_mm": s.focus,
                "to_reference": l.to_reference(),
                "breathing_scale": l.scale,
                "shift_px": [s.nudge.dx, s.nudge.dy],
                "turn_deg": s.nudge.turn,
                "exposure_gain": s.gain / unlit_gain,
                "exposure_s": f64::from(s.time.0) / f64::from(s.time.1),
                "iso": s.iso,
                "white_balance": s.balance,
                "lights": { "key": s.mix.key, "furnace": s.mix.furnace, "running": s.mix.running, "even_backdrop": s.mix.even * s.gain },
            })
        })
        .collect()
}

fn seam(pose: &Pose) -> Value {
    if pose.seam.is_empty() {
        return Value::Null;
    }
    let pts: Vec<Value> = pose.seam.iter().map(|p| px(*p, pose)).collect();
    json!({ "middle_px": pts, "width_px": 8.0, "note": "width in the first shooting; the barge shot again is 3 % larger" })
}

fn describe(pose: &Pose, list: &[Shot], unlit_gain: f32) -> Value {
    let c = &pose.camera;
    let w = real(c.size.0);
    let motes: Vec<Value> = pose
        .litter
        .motes
        .iter()
        .map(|(p, r)| {
            let q = c.project(*p);
            json!({ "at_px": [q.0, q.1], "radius_px": r * c.scale() / q.2 })
        })
        .collect();
    let hairs: Vec<Value> = pose
        .litter
        .hairs
        .iter()
        .map(|h| json!(h.iter().map(|p| px(*p, pose)).collect::<Vec<_>>()))
        .collect();
    let sensor: Vec<Value> = MOTES
        .iter()
        .map(
            |m| json!({ "at_px": [m.x * w, m.y * w], "radius_px": m.radius * w, "depth": m.depth }),
        )
        .collect();
    let hot: Vec<Value> = HOT
        .iter()
        .map(|h| json!({ "pixel": [(h.0 * w).floor(), (h.1 * w).floor()], "added": h.2 }))
        .collect();
    json!({
        "pose": pose.name,
        "conventions": "positions in px, centre of the first pixel at (0.5, 0.5); matrices row by row, they map frame positions to reference positions; exposure gains are linear factors against the unlit pass",
        "size_px": [c.size.0, c.size.1],
        "reference_focus_mm": c.focus,
        "focal_mm": c.focal,
        "f_number": c.f_number,
        "pixels_per_tangent": c.scale(),
        "depth_mm": { "nearest": pose.reach.0, "farthest": pose.reach.1 },
        "unlit_focus_mm": pose.focus,
        "blur_step_px": blur_step(pose),
        "group_picture_factor": GROUP_FACTOR,
        "all_in_focus_gain": unlit_gain,
        "vignetting": "all pictures, the true ones too, carry 1 - 0.13 r^2 - 0.06 r^4, r = distance from the middle over half the diagonal",
        "frames": frames(pose, list, unlit_gain),
        "dust_on_model": motes,
        "hairs_on_model": hairs,
        "sensor_dust": sensor,
        "hot_pixels": hot,
        "seam_gap": seam(pose),
        "stand_polygon_px": pose.stand.outline(c).iter().map(|p| json!([p.0, p.1])).collect::<Vec<_>>(),
    })
}

/// Blur radius (px) in one frame at the focus distance of its neighbour.
fn blur_step(pose: &Pose) -> f32 {
    let n = real(pose.focus.len());
    pose.camera.opening() * pose.camera.scale() * (1.0 / pose.reach.0 - 1.0 / pose.reach.1) / n
}

/// Writes the truth of a pose; `groups` says which light groups get a picture of their own.
pub(crate) fn write(
    out: &Path,
    pose: &Pose,
    list: &[Shot],
    groups: &[&str],
    side: usize,
) -> io::Result<()> {
    let folder = out.join("truth").join(pose.name);
    std::fs::create_dir_all(&folder)?;
    let gain = list.first().map_or(1.0, |s| s.gain);
    let text =
        serde_json::to_string_pretty(&describe(pose, list, gain)).map_err(io::Error::other)?;
    std::fs::write(folder.join("truth.json"), text + "\n")?;
    let sitting = Sitting {
        stage: &pose.stage,
        camera: pose.camera,
        backdrop: pose.backdrop,
    };
    let map = pinhole(&sitting, side);
    let size = pose.camera.size;
    let kept = |x: usize, y: usize| vignette(real(x) + 0.5, real(y) + 0.5, size);
    if !groups.is_empty() {
        let rgb = plain_bytes(size, |x, y| map[y * size.0 + x].key * (gain * kept(x, y)));
        jpeg(&folder.join("all_in_focus.jpg"), size, &rgb, 96, None)?;
        depth_png(&folder.join("depth.png"), pose, &map)?;
    }
    for g in groups {
        let pick = |p: &Pixel| {
            if *g == "furnace" {
                p.furnace
            } else {
                p.running
            }
        };
        let rgb = plain_bytes(size, |x, y| {
            pick(&map[y * size.0 + x]) * (gain * GROUP_FACTOR * kept(x, y))
        });
        jpeg(&folder.join(format!("{g}.jpg")), size, &rgb, 92, None)?;
    }
    coverage_png(&folder.join("coverage.png"), size, &map)
}

/// Writes the coverage alone.
pub(crate) fn coverage_png(path: &Path, size: (usize, usize), map: &[Pixel]) -> io::Result<()> {
    let bytes: Vec<u8> = map.iter().map(|p| byte(p.cover * 255.0 + 0.5)).collect();
    grey_png(path, size, &bytes, png::BitDepth::Eight)
}

fn depth_png(path: &Path, pose: &Pose, map: &[Pixel]) -> io::Result<()> {
    let (a, b) = pose.reach;
    let bytes: Vec<u8> = map
        .iter()
        .flat_map(|p| {
            let d = if p.cover > 0.0 {
                ((p.depth - a) / (b - a)).clamp(0.0, 1.0) * 65534.0
            } else {
                65535.0
            };
            short(d + 0.5).to_be_bytes()
        })
        .collect();
    grey_png(path, pose.camera.size, &bytes, png::BitDepth::Sixteen)
}
