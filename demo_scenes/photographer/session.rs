//! The shooting plan: which frames are taken of a pose, in which light, at which focus, how disturbed.

use crate::lens::{Camera, Nudge};
use crate::vec3::{hash2, unit_of};

/// What light a frame is taken in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Source {
    /// Key light.
    Key,
    /// Furnace group only.
    Furnace,
    /// Running group over a dimmed key (share).
    Running(f32),
    /// Model dark before the evenly lit card.
    Card,
    /// The backdrop without the model.
    Clean,
}

/// One frame.
#[derive(Clone, Debug)]
pub(crate) struct Shot {
    /// Folder under `photos`.
    pub(crate) folder: &'static str,
    /// File name without ending.
    pub(crate) name: String,
    /// Light.
    pub(crate) source: Source,
    /// Focus, mm.
    pub(crate) focus: f32,
    /// Tripod.
    pub(crate) nudge: Nudge,
    /// Factor on the light by exposure.
    pub(crate) gain: f32,
    /// Factor on the light by a flickering lamp.
    pub(crate) flicker: f32,
    /// White balance.
    pub(crate) balance: [f32; 3],
    /// Sensitivity.
    pub(crate) iso: u16,
    /// Exposure time, ms.
    pub(crate) milliseconds: u32,
    /// Clock, hundredths of a second.
    pub(crate) clock: u64,
}

/// Own small tripod tremor of a frame, px and radians.
fn tremor(seed: u32, size: f32) -> Nudge {
    let f = |k: u32| 2.0 * unit_of(hash2(seed, k)) - 1.0;
    Nudge {
        shift: (size * f(1), size * f(2)),
        turn: size * 4e-5 * f(3),
    }
}

fn joined(a: Nudge, b: Nudge) -> Nudge {
    Nudge {
        shift: (a.shift.0 + b.shift.0, a.shift.1 + b.shift.1),
        turn: a.turn + b.turn,
    }
}

/// `n` focus distances from `near` to `far`, even in reciprocal distance.
#[expect(clippy::cast_precision_loss, reason = "a few frames")]
pub(crate) fn focus_list(near: f32, far: f32, n: usize) -> Vec<f32> {
    (0..n)
        .map(|i| {
            let t = (i as f32 + 0.5) / n as f32;
            1.0 / (1.0 / near + t * (1.0 / far - 1.0 / near))
        })
        .collect()
}

/// How a pass is taken.
#[derive(Clone, Copy, Debug)]
struct Pass {
    folder: &'static str,
    stem: &'static str,
    source: Source,
    nudge: Nudge,
    gain: f32,
    milliseconds: u32,
    clock: u64,
    seed: u32,
}

fn pass(p: Pass, focus: &[f32]) -> Vec<Shot> {
    let mut out = Vec::new();
    for (i, f) in focus.iter().enumerate() {
        let seed = hash2(p.seed, u32::try_from(i).unwrap_or(0));
        let own = if i == 0 && p.nudge == Nudge::STILL {
            Nudge::STILL
        } else {
            tremor(seed, 0.25)
        };
        let step = 700 + u64::from(hash2(seed, 9) % 260);
        out.push(Shot {
            folder: p.folder,
            name: format!("{}_{:02}", p.stem, i + 1),
            source: p.source,
            focus: *f,
            nudge: joined(p.nudge, own),
            gain: p.gain,
            flicker: 1.0 + 0.006 * (2.0 * unit_of(hash2(seed, 11)) - 1.0),
            balance: [1.0; 3],
            iso: 100,
            milliseconds: p.milliseconds,
            clock: p.clock + step * u64::try_from(i).unwrap_or(0),
        });
    }
    out
}

fn nudge(x: f32, y: f32, degrees: f32) -> Nudge {
    Nudge {
        shift: (x, y),
        turn: degrees.to_radians(),
    }
}

const HOUR: u64 = 360_000;
const MINUTE: u64 = 6_000;

/// Frames of the barge: `again` for the swap set, else with the faulty set.
pub(crate) fn barge(again: bool, focus: &[f32], reference: usize) -> Vec<Shot> {
    let odd: Vec<f32> = focus.iter().step_by(2).copied().collect();
    let [unlit, others @ ..] = if again {
        again_passes()
    } else {
        barge_passes()
    };
    let mut out = pass(unlit, focus);
    if let Some(s) = out.get_mut(reference) {
        s.nudge = Nudge::STILL;
    }
    if !again && let Some(s) = out.get_mut(6) {
        s.balance = [1.06, 1.0, 0.95];
    }
    for p in others {
        out.extend(pass(p, &odd));
    }
    if !again {
        out.extend(faulty(focus, unlit));
    }
    out
}

/// A pass `minutes` after another one.
fn later(base: Pass, minutes: u32, stem: &'static str, source: Source) -> Pass {
    Pass {
        stem,
        source,
        clock: base.clock + u64::from(minutes) * MINUTE,
        seed: base.seed + minutes,
        ..base
    }
}

fn barge_passes() -> [Pass; 4] {
    let unlit = Pass {
        folder: "barge",
        stem: "barge_unlit",
        source: Source::Key,
        nudge: Nudge::STILL,
        gain: 1.0,
        milliseconds: 250,
        clock: 10 * HOUR + 21 * MINUTE,
        seed: 411,
    };
    let furnace = later(unlit, 6, "barge_furnace", Source::Furnace);
    let running = later(unlit, 13, "barge_running", Source::Running(0.15));
    let card = later(unlit, 21, "barge_silhouette", Source::Card);
    [
        unlit,
        Pass {
            nudge: nudge(2.3, -1.6, 0.02),
            gain: 4.0,
            milliseconds: 1000,
            ..furnace
        },
        Pass {
            nudge: nudge(-1.2, 0.8, 0.0),
            gain: 2.0,
            milliseconds: 500,
            ..running
        },
        Pass {
            nudge: nudge(0.2, -0.1, 0.0),
            milliseconds: 125,
            ..card
        },
    ]
}

/// The swap set: a day later, a third of a stop brighter.
fn again_passes() -> [Pass; 4] {
    let k = 1.26;
    let unlit = Pass {
        folder: "barge_again",
        stem: "barge_again_unlit",
        source: Source::Key,
        nudge: Nudge::STILL,
        gain: k,
        milliseconds: 315,
        clock: 33 * HOUR + 12 * MINUTE,
        seed: 911,
    };
    let furnace = later(unlit, 6, "barge_again_furnace", Source::Furnace);
    let running = later(unlit, 13, "barge_again_running", Source::Running(0.15));
    let card = later(unlit, 21, "barge_again_silhouette", Source::Card);
    [
        unlit,
        Pass {
            nudge: nudge(-1.4, 2.0, -0.015),
            gain: 4.0 * k,
            milliseconds: 1260,
            ..furnace
        },
        Pass {
            nudge: nudge(1.6, 0.7, 0.01),
            gain: 2.0 * k,
            milliseconds: 630,
            ..running
        },
        Pass {
            nudge: nudge(0.2, -0.1, 0.0),
            gain: 1.0,
            milliseconds: 125,
            ..card
        },
    ]
}

fn faulty(focus: &[f32], base: Pass) -> Vec<Shot> {
    let kept: Vec<f32> = focus
        .iter()
        .enumerate()
        .filter(|f| f.0 != 5)
        .map(|f| *f.1)
        .collect();
    let p = Pass {
        folder: "barge_faulty",
        stem: "barge_faulty",
        clock: 9 * HOUR + 2 * MINUTE,
        seed: 77,
        ..base
    };
    let mut out = pass(p, &kept);
    for (i, s) in out.iter_mut().enumerate() {
        if i >= 7 {
            s.nudge = joined(s.nudge, nudge(2.0, -1.5, 0.0));
        }
        if i == 2 {
            s.flicker = libm::exp2f(0.12);
        }
    }
    out
}

/// Frames of the tug or the buoy.
pub(crate) fn small(tug: bool, cam: &Camera, focus: &[f32]) -> Vec<Shot> {
    let (folder, stems, t0) = if tug {
        (
            "tug",
            ["tug_unlit", "tug_lights", "tug_silhouette"],
            14 * HOUR + 5 * MINUTE,
        )
    } else {
        (
            "buoy",
            ["buoy_unlit", "buoy_lamp", "buoy_silhouette"],
            15 * HOUR + 48 * MINUTE,
        )
    };
    let base = Pass {
        folder,
        stem: stems[0],
        source: Source::Key,
        nudge: Nudge::STILL,
        gain: 1.0,
        milliseconds: 500,
        clock: t0,
        seed: if tug { 31 } else { 32 },
    };
    let mut out = pass(base, focus);
    // The reference frame stands still.
    if let Some(s) = out.get_mut(focus.len() / 2) {
        s.nudge = Nudge::STILL;
    }
    let lit = Pass {
        nudge: nudge(0.9, -0.7, 0.008),
        gain: 2.0,
        milliseconds: 1000,
        ..later(base, 4, stems[1], Source::Running(0.0))
    };
    out.extend(pass(lit, focus));
    let card = Pass {
        nudge: nudge(-0.15, 0.2, 0.0),
        milliseconds: 250,
        ..later(base, 9, stems[2], Source::Card)
    };
    out.extend(pass(card, focus));
    if !tug {
        let mut clean = pass(
            later(base, 12, "buoy_clean", Source::Clean),
            &[cam.reference],
        );
        for s in &mut clean {
            s.name = "buoy_clean".to_owned();
        }
        out.extend(clean);
    }
    out
}

/// Frames of ice block `k` (1..=3).
pub(crate) fn ice(k: u32, focus: f32) -> Vec<Shot> {
    let t0 = 16 * HOUR + u64::from(k) * 5 * MINUTE;
    let base = Pass {
        folder: "ice",
        stem: "ice",
        source: Source::Key,
        nudge: Nudge::STILL,
        gain: 1.0,
        milliseconds: 500,
        clock: t0,
        seed: 50 + k,
    };
    let card = Pass {
        source: Source::Card,
        nudge: nudge(0.1, 0.15, 0.0),
        milliseconds: 250,
        clock: t0 + MINUTE,
        seed: 60 + k,
        ..base
    };
    let mut out = pass(base, &[focus]);
    out.extend(pass(card, &[focus]));
    for (s, end) in out.iter_mut().zip(["", "_silhouette"]) {
        s.name = format!("ice_{k}{end}");
    }
    out
}
