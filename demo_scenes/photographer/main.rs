//! Photographs the invented miniatures of the demo scene "Ice shift": `photographer OUT_DIR [pose…] [--quick]`.
//!
//! Each pose is traced once as a light field (pinhole views through stratified points of the lens), and every frame of
//! every pass is the landing of those rays at its own focus, breathing, tripod drift, exposure and lights.

mod answers;
mod barge;
mod barge_works;
mod bow;
mod camera;
mod develop;
mod drift;
mod field;
mod furnace;
mod kit;
mod kit_parts;
mod light;
mod litter;
mod num;
mod paint;
mod part;
mod plates;
mod poses;
mod record;
mod session;
mod tree;
mod truth;
mod tug;
mod vec3;
mod weather;

use crate::poses::Pose;
use crate::session::{Shot, shots};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// How finely to work.
#[derive(Clone, Copy, Debug)]
struct Fine {
    /// Divisor of the picture size.
    smaller: usize,
    /// Lens views along each side.
    lens: usize,
    /// Truth samples along each side of a pixel.
    pixel: usize,
}

fn barge_shots(pose: &Pose, day: u32) -> Vec<Shot> {
    let all: Vec<usize> = (0..10).collect();
    let odd = [0, 2, 4, 6, 8];
    let start = if day == 8 { 50_531 } else { 34_207 };
    let mut list = shots(pose, &session::unlit(start, day), &all);
    list.extend(shots(pose, &session::furnace(start + 540, day), &odd));
    list.extend(shots(pose, &session::running(start + 1_130, day), &odd));
    list.extend(shots(pose, &session::silhouette(start + 1_610, day), &odd));
    list
}

/// The set with faults: a skipped step, a nudge, a flicker.
fn faulty_shots(pose: &Pose) -> Vec<Shot> {
    let mut list = shots(
        pose,
        &session::unlit(61_874, 8),
        &[0, 1, 2, 3, 4, 6, 7, 8, 9],
    );
    for (i, s) in list.iter_mut().enumerate() {
        s.folder = "barge_faulty";
        s.pass = "faulty";
        s.file = format!("barge_faulty_{:02}", i + 1);
        if i >= 7 {
            s.nudge.dx += 2.2;
            s.nudge.dy += 1.2;
        }
        if i == 2 {
            s.gain *= libm::exp2f(0.12);
        }
    }
    list
}

fn do_barge(out: &Path, fine: Fine, again: bool) -> io::Result<()> {
    let mut pose = poses::barge(again);
    pose.camera = truth::smaller(pose.camera, fine.smaller);
    let mut list = barge_shots(&pose, if again { 15 } else { 8 });
    if again {
        for s in &mut list {
            if s.pass != "silhouette" {
                s.gain *= libm::exp2f(1.0 / 3.0);
            }
            s.time = match s.time {
                (1, 4) => (5, 16),
                (1, 1) => (5, 4),
                (1, 2) => (5, 8),
                t => t,
            };
        }
    } else {
        if let Some(s) = list.get_mut(6) {
            s.balance = [1.06, 1.0, 0.95];
        }
        list.extend(faulty_shots(&pose));
    }
    answers::write(out, &pose, &list, &["furnace", "running"], fine.pixel)?;
    session::take(out, &pose, &list, fine.lens)
}

fn do_tug(out: &Path, fine: Fine) -> io::Result<()> {
    let mut pose = poses::tug();
    pose.camera = truth::smaller(pose.camera, fine.smaller);
    let mut list = shots(&pose, &session::unlit(38_090, 9), &[0, 1]);
    list.extend(shots(&pose, &session::lamps("lights", 38_410, 9), &[0, 1]));
    list.extend(shots(&pose, &session::silhouette(38_790, 9), &[0, 1]));
    answers::write(out, &pose, &list, &[], fine.pixel)?;
    session::take(out, &pose, &list, fine.lens)
}

fn do_buoy(out: &Path, fine: Fine) -> io::Result<()> {
    let mut pose = poses::buoy();
    pose.camera = truth::smaller(pose.camera, fine.smaller);
    let all = [0, 1, 2];
    let mut list = shots(&pose, &session::unlit(41_660, 9), &all);
    list.extend(shots(&pose, &session::lamps("lamp", 41_980, 9), &all));
    list.extend(shots(&pose, &session::silhouette(42_350, 9), &all));
    answers::write(out, &pose, &list, &[], fine.pixel)?;
    session::take(out, &pose, &list, fine.lens)?;
    let mut bare = shots(&pose, &session::unlit(42_700, 9), &[1]);
    for s in &mut bare {
        s.file = "buoy_clean".to_owned();
        session::clean_plate(out, &pose, s)?;
    }
    Ok(())
}

fn do_ice(out: &Path, fine: Fine) -> io::Result<()> {
    for (which, start) in [(1_u32, 52_100), (2, 52_460), (3, 52_810)] {
        let mut pose = poses::ice(which);
        pose.camera = truth::smaller(pose.camera, fine.smaller);
        let mut list = shots(&pose, &session::unlit(start, 9), &[0]);
        list.extend(shots(&pose, &session::silhouette(start + 90, 9), &[0]));
        for s in &mut list {
            s.file = if s.pass == "unlit" {
                format!("ice_{which}")
            } else {
                format!("ice_{which}_silhouette")
            };
        }
        pose.name = ["ice/ice_1", "ice/ice_2", "ice/ice_3"][(which as usize + 2) % 3];
        answers::write(out, &pose, &list, &[], fine.pixel)?;
        session::take(out, &pose, &list, fine.lens)?;
    }
    Ok(())
}

fn work(args: &[String]) -> io::Result<()> {
    let quick = args.iter().any(|a| a == "--quick");
    let mut plain = args.iter().filter(|a| !a.starts_with("--"));
    let out: PathBuf = plain
        .next()
        .map_or_else(|| PathBuf::from("out"), PathBuf::from);
    let wanted: Vec<&String> = plain.collect();
    let fine = if quick {
        Fine {
            smaller: 2,
            lens: 4,
            pixel: 2,
        }
    } else {
        Fine {
            smaller: 1,
            lens: 7,
            pixel: 6,
        }
    };
    let has = |name: &str| wanted.is_empty() || wanted.iter().any(|w| *w == name);
    if has("ice") {
        do_ice(&out, fine)?;
    }
    if has("tug") {
        do_tug(&out, fine)?;
    }
    if has("buoy") {
        do_buoy(&out, fine)?;
    }
    if has("barge") {
        do_barge(&out, fine, false)?;
    }
    if has("barge_again") {
        do_barge(&out, fine, true)?;
    }
    Ok(())
}

fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().skip(1).collect();
    match work(&args) {
        Ok(()) => ExitCode::SUCCESS,
        Err(e) => {
            let said = writeln!(io::stderr(), "photographer: {e}");
            ExitCode::from(if said.is_ok() { 1 } else { 2 })
        }
    }
}
