//! A shooting session of one pose: the frames of every pass, their exposure, and the files that come out of it.

use crate::camera::Nudge;
use crate::develop::{Bath, develop, to_bytes};
use crate::field::{Backdrop, Mix, Plate, Sitting, backdrop};
use crate::num::real;
use crate::poses::Pose;
use crate::record::{Note, jpeg};
use crate::vec3::{Dice, hash2};
use std::io;
use std::path::Path;

/// One photograph to take.
#[derive(Clone, Debug)]
pub(crate) struct Shot {
    /// File name without its ending.
    pub(crate) file: String,
    /// Folder under `photos`.
    pub(crate) folder: &'static str,
    /// Pass.
    pub(crate) pass: &'static str,
    /// Focus distance, mm.
    pub(crate) focus: f32,
    /// Tripod and body, against the reference.
    pub(crate) nudge: Nudge,
    /// Lights.
    pub(crate) mix: Mix,
    /// Exposure against the unlit pass of the first barge.
    pub(crate) gain: f32,
    /// Exposure time, s, as a fraction.
    pub(crate) time: (u32, u32),
    /// Sensitivity.
    pub(crate) iso: u16,
    /// White-balance factors.
    pub(crate) balance: [f32; 3],
    /// Seconds since the day began, with hundredths apart.
    pub(crate) clock: (u32, u32),
    /// Day of the month.
    pub(crate) day: u32,
}

/// Lights of a pass.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Pass {
    /// Name.
    pub(crate) name: &'static str,
    /// Word in the file name.
    pub(crate) word: &'static str,
    /// Lights.
    pub(crate) mix: Mix,
    /// Exposure against the unlit pass.
    pub(crate) gain: f32,
    /// Exposure time, s, as a fraction.
    pub(crate) time: (u32, u32),
    /// How the camera has moved since the unlit pass.
    pub(crate) nudge: Nudge,
    /// Start, seconds of the day.
    pub(crate) start: u32,
    /// Day of the month.
    pub(crate) day: u32,
}

const fn mix(key: f32, furnace: f32, running: f32, even: f32) -> Mix {
    Mix {
        key,
        furnace,
        running,
        even,
    }
}

const fn nudge(dx: f32, dy: f32, turn: f32) -> Nudge {
    Nudge { dx, dy, turn }
}

/// Unlit pass that starts at a second of a day.
pub(crate) const fn unlit(start: u32, day: u32) -> Pass {
    Pass {
        name: "unlit",
        word: "unlit",
        mix: mix(1.0, 0.0, 0.0, 0.0),
        gain: 1.45,
        time: (1, 4),
        nudge: nudge(0.0, 0.0, 0.0),
        start,
        day,
    }
}

/// Furnace pass: key off, two stops longer.
pub(crate) const fn furnace(start: u32, day: u32) -> Pass {
    let u = unlit(start, day);
    let (mix, nudge) = (mix(0.0, 1.0, 0.0, 0.0), nudge(2.3, -1.6, 0.02));
    Pass {
        name: "furnace",
        word: "furnace",
        mix,
        gain: u.gain * 4.0,
        time: (1, 1),
        nudge,
        start,
        day,
    }
}

/// Running lights: key dimmed to 15 %, one stop longer.
pub(crate) const fn running(start: u32, day: u32) -> Pass {
    let u = unlit(start, day);
    let (mix, nudge) = (mix(0.15, 0.0, 1.0, 0.0), nudge(-1.2, 0.8, -0.008));
    Pass {
        name: "running",
        word: "running",
        mix,
        gain: u.gain * 2.0,
        time: (1, 2),
        nudge,
        start,
        day,
    }
}

/// Lamp pass of the small craft: key off, one stop longer.
pub(crate) const fn lamps(word: &'static str, start: u32, day: u32) -> Pass {
    let u = unlit(start, day);
    let (mix, nudge) = (mix(0.0, 0.0, 1.0, 0.0), nudge(0.9, 0.6, 0.006));
    Pass {
        name: "running",
        word,
        mix,
        gain: u.gain * 2.0,
        time: (1, 2),
        nudge,
        start,
        day,
    }
}

/// Silhouette pass: only the backdrop is lit.
pub(crate) const fn silhouette(start: u32, day: u32) -> Pass {
    let u = unlit(start, day);
    let (mix, nudge) = (mix(0.0, 0.0, 0.0, 0.7 / u.gain), nudge(0.22, -0.17, 0.002));
    Pass {
        name: "silhouette",
        word: "silhouette",
        mix,
        gain: u.gain,
        time: (1, 60),
        nudge,
        start,
        day,
    }
}

/// Shots of one pass over some of the focus distances (indices).
pub(crate) fn shots(pose: &Pose, pass: &Pass, which: &[usize]) -> Vec<Shot> {
    let mut dice = Dice::new(hash2(pass.start, pass.day));
    let mut clock = pass.start;
    which
        .iter()
        .enumerate()
        .map(|(i, f)| {
            clock += 7 + dice.below(5) + pass.time.0 / pass.time.1;
            let mut drift = |x: f32, by: f32| x + dice.span(-by, by);
            let n = pass.nudge;
            let nudge = Nudge {
                dx: drift(n.dx, 0.22),
                dy: drift(n.dy, 0.22),
                turn: drift(n.turn, 0.0015),
            };
            Shot {
                file: format!("{}_{}_{:02}", pose.name, pass.word, i + 1),
                folder: pose.name,
                pass: pass.name,
                focus: pose.focus.get(*f).copied().unwrap_or(pose.camera.focus),
                nudge,
                mix: pass.mix,
                gain: pass.gain,
                time: pass.time,
                iso: 200,
                balance: [1.0; 3],
                clock: (clock, dice.below(100)),
                day: pass.day,
            }
        })
        .collect()
}

/// Electrons at full signal and read noise for a sensitivity.
fn well(iso: u16) -> (f32, f32) {
    (36_000.0 * 200.0 / f32::from(iso), 6.0)
}

/// What a shot's EXIF says.
fn note(pose: &Pose, s: &Shot) -> Note {
    Note {
        exposure: s.time,
        f_number: pose.camera.f_number,
        iso: s.iso,
        focal: pose.camera.focal,
        focus: s.focus,
        clock: s.clock,
        day: s.day,
    }
}

fn bath(s: &Shot) -> Bath {
    let seed = s.file.bytes().fold(17, |h, b| hash2(h, u32::from(b)));
    Bath {
        gain: s.gain,
        balance: s.balance,
        well: well(s.iso),
        seed,
    }
}

/// Takes the shots of a pose with `side * side` lens views and writes them.
pub(crate) fn take(out: &Path, pose: &Pose, list: &[Shot], side: usize) -> io::Result<()> {
    let size = pose.camera.size;
    let mut plates: Vec<Plate> = list
        .iter()
        .map(|s| Plate::new(size, pose.camera.landing(s.focus, s.nudge), s.mix))
        .collect();
    Sitting {
        stage: &pose.stage,
        camera: pose.camera,
        backdrop: pose.backdrop,
    }
    .photograph(&mut plates, side);
    for (s, p) in list.iter().zip(&plates) {
        let folder = out.join("photos").join(s.folder);
        std::fs::create_dir_all(&folder)?;
        let rgb = develop(p, size, &bath(s));
        jpeg(
            &folder.join(format!("{}.jpg", s.file)),
            size,
            &rgb,
            92,
            Some(&note(pose, s)),
        )?;
    }
    Ok(())
}

/// Photographs the bare backdrop as the shot would have seen it.
pub(crate) fn clean_plate(out: &Path, pose: &Pose, like: &Shot) -> io::Result<()> {
    let size = pose.camera.size;
    let c = pose.camera.centre();
    let kind: Backdrop = pose.backdrop;
    let mut plate = Plate::new(size, pose.camera.landing(like.focus, like.nudge), like.mix);
    for (i, s) in plate.sums.iter_mut().enumerate() {
        let (x, y) = (real(i % size.0) + 0.5 - c.0, real(i / size.0) + 0.5 - c.1);
        let v = backdrop(kind, x / c.0, y / c.0);
        *s = [v.x, v.y, v.z, 1.0];
    }
    let rgb = develop(&plate, size, &bath(like));
    let folder = out.join("photos").join(like.folder);
    std::fs::create_dir_all(&folder)?;
    jpeg(
        &folder.join(format!("{}.jpg", like.file)),
        size,
        &rgb,
        92,
        Some(&note(pose, like)),
    )
}

/// Bytes of a linear picture without noise (truth).
pub(crate) fn plain_bytes(
    size: (usize, usize),
    pixel: impl Fn(usize, usize) -> crate::vec3::V3 + Sync,
) -> Vec<u8> {
    to_bytes(size, 0x7A17, pixel)
}
