//! Holds `src/` to the floor plan: who may import whom, who may name which outside crate, how long a file may be.
#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "a test reads the tree and may stop at once"
)]

use std::fs;
use std::path::{Path, PathBuf};

/// One room of `src/`.
struct Room {
    name: &'static str,
    may_import: &'static [&'static str],
    owns: &'static [&'static str],
}

const fn room(
    name: &'static str,
    may_import: &'static [&'static str],
    owns: &'static [&'static str],
) -> Room {
    Room {
        name,
        may_import,
        owns,
    }
}

/// The floor plan, lowest first. `DEVELOPERS.md` shows the same table. `owns` lists the outside crates that only this room (and
/// those that list them too) may name; crates for all rooms are not listed.
const ROOMS: &[Room] = &[
    room("geometry", &[], &[]),
    room("pixels", &["geometry"], &["half"]),
    room("optics", &["geometry"], &[]),
    room(
        "imaging",
        &["geometry", "pixels", "optics"],
        &["nalgebra", "rustfft", "moxcms"],
    ),
    room("project", &["geometry"], &["imbl"]),
    room(
        "engine",
        &["geometry", "pixels", "optics", "imaging", "project"],
        &["blake3", "serde_json"],
    ),
    room(
        "files",
        &["geometry", "pixels", "project"],
        &[
            "tiff",
            "png",
            "exr",
            "zune_jpeg",
            "jpeg_decoder",
            "jpeg_encoder",
            "flate2",
            "moxcms",
            "tempfile",
            "etcetera",
            "blake3",
            "serde_json",
            "half",
            "exif",
        ],
    ),
    room(
        "session",
        &["geometry", "pixels", "optics", "project", "engine", "files"],
        &["include_dir"],
    ),
    room(
        "window",
        &["geometry", "pixels", "optics", "project", "session"],
        &["eframe", "egui", "egui_extras", "egui_plot", "rfd"],
    ),
    room(
        "command_line",
        &["geometry", "optics", "project", "session"],
        &["clap", "indicatif", "ctrlc", "serde_json"],
    ),
];
const LONGEST_FILE: usize = 500;
/// All visible text stands in one file, which may be as long as it is.
const ALL_TEXT: &str = "window/words.rs";

#[test]
fn src_follows_the_floor_plan() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let faults: Vec<String> = ROOMS
        .iter()
        .flat_map(|room| {
            files_below(&src.join(room.name))
                .into_iter()
                .flat_map(|file| faults_in(room, &file))
        })
        .collect();
    assert!(
        faults.is_empty(),
        "house rules broken:\n{}",
        faults.join("\n")
    );
}

#[test]
fn every_folder_of_src_is_a_room() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    for entry in fs::read_dir(src).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let known =
            ROOMS.iter().any(|room| room.name == name) || name == "lib.rs" || name == "main.rs";
        assert!(known, "{name} is no room of the floor plan");
    }
}

fn faults_in(room: &Room, file: &Path) -> Vec<String> {
    let text = fs::read_to_string(file).unwrap();
    let code: String = text
        .lines()
        .map(|line| line.split("//").next().unwrap_or("").to_owned() + "\n")
        .collect();
    let mut faults = Vec::new();
    if !text.starts_with("//!") {
        faults.push("the first line must say what the file is for (//!)".to_owned());
    }
    if LONGEST_FILE < text.lines().count() && !file.ends_with(ALL_TEXT) {
        faults.push(format!("longer than {LONGEST_FILE} lines"));
    }
    if code.contains("crate::{") {
        faults.push("write one `use crate::room::...` per room".to_owned());
    }
    let mut wide = code.split("wide(").skip(1).map(str::trim_start);
    if wide.any(|work| work.starts_with("||")) {
        faults.push("write wide(#[inline(always)] || ...), or it stays narrow".to_owned());
    }
    let stage = stage_of(file);
    for path in paths_after(&code, "crate::") {
        let (first, second) = path.split_once("::").unwrap_or((&path, ""));
        let is_room = ROOMS.iter().any(|other| other.name == first);
        if is_room && first != room.name && !room.may_import.contains(&first) {
            faults.push(format!("{} may not import {first}", room.name));
        }
        if first == "imaging"
            && room.name == "imaging"
            && second != "basics"
            && second != stage
            && stage != "grade"
        {
            faults.push(format!("stage {stage} may not import stage {second}"));
        }
    }
    for other in ROOMS.iter().filter(|other| other.name != room.name) {
        for owned in other
            .owns
            .iter()
            .filter(|owned| names_crate(&code, owned) && !room.owns.contains(owned))
        {
            faults.push(format!("only {} may name {owned}", other.name));
        }
    }
    faults.sort();
    faults.dedup();
    faults
        .into_iter()
        .map(|fault| format!("{}: {fault}", file.display()))
        .collect()
}

/// Whether `code` names the crate: `name::` that no longer name or path leads up to.
fn names_crate(code: &str, name: &str) -> bool {
    code.match_indices(&format!("{name}::")).any(|(at, _)| {
        let before = code[..at].chars().next_back().unwrap_or(' ');
        !(before.is_alphanumeric() || before == '_' || before == ':')
    })
}

/// Name of the folder under `imaging` that holds `file`.
fn stage_of(file: &Path) -> String {
    let mut parts = file
        .components()
        .map(|part| part.as_os_str().to_string_lossy().into_owned());
    parts.by_ref().find(|part| part == "imaging");
    parts.next().unwrap_or_default()
}

/// Paths of one or two names that follow `start` in `code`.
fn paths_after(code: &str, start: &str) -> Vec<String> {
    code.match_indices(start)
        .map(|(at, _)| {
            code[at + start.len()..]
                .chars()
                .take_while(|c| c.is_alphanumeric() || *c == '_' || *c == ':')
                .collect::<String>()
        })
        .map(|path| path.split("::").take(2).collect::<Vec<_>>().join("::"))
        .filter(|path| !path.is_empty())
        .collect()
}

fn files_below(dir: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(dir).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(files_below(&path));
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            found.push(path);
        }
    }
    found.sort();
    found
}
