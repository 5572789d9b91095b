//! Every version of the project file that ever landed opens, and is written back in the newest.
#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "a test may stop at once and reads its samples"
)]

use platebench::files::project_file::{VERSION, from_text, to_text};
use platebench::project::{FrameId, PatchFrom, Shape, StepKind, Verdict};
use platebench::session::describe::{Described, describe};
use platebench::session::step_list::step_list;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

fn sample(version: u32) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/record_samples")
        .join(format!("version_{version}.platebench"))
}

fn described(version: u32) -> Value {
    let found = describe(&sample(version)).unwrap();
    assert!(matches!(found, Described::Project { .. }), "{found:?}");
    serde_json::to_value(found).unwrap()
}

/// What version 1 could hold: frames, passes, masks, groups, steps, measurements, made plates, placements, finish, a branch.
#[test]
fn version_1_opens_as_what_it_was() {
    let found = described(1);
    let want = json!({
        "kind": "project", "name": "Ice shift", "width": 3600, "height": 2250, "frames": 47,
        "placements": [
            "sky", "ice far 1", "ice far 2", "ice far 3", "ice far 4", "ice far 5", "ice towed", "tug", "ice middle 1",
            "ice middle 2", "barge", "ice near 1", "ice near 2", "ice near 3", "buoy",
        ],
    });
    for (key, value) in want.as_object().unwrap() {
        assert_eq!(&found[key], value, "{key}");
    }
    assert_eq!(
        found["notes"],
        json!([]),
        "its history leads to its project"
    );
    assert_eq!(found["plates"][0]["name"], "barge");
    assert_eq!(
        found["plates"][0]["masks"],
        json!(["without the stand", "furnace doors"])
    );
    assert_eq!(found["plates"][0]["steps"], json!(["matte"]));
    assert_eq!(found["edits"].as_array().unwrap().len(), 41);
}

#[test]
fn version_2_opens_with_its_named_states() {
    let found = described(2);
    assert_eq!(found["name"], "third");
    assert_eq!(found["named"], json!(["for print", "as it began"]));
    let text = std::fs::read_to_string(sample(2)).unwrap();
    let opened = from_text(&text).unwrap();
    let lines = step_list(&opened.history);
    assert_eq!(lines.len(), 3);
    assert!(!lines[1].in_use, "the second branch was set aside");
    assert_eq!(lines[0].named, ["for print"]);
}

/// What version 3 brought: spotting, paint-out, warps, mattes by two backdrop levels, and the passes for them.
#[test]
fn version_3_opens_with_its_steps_done_by_hand() {
    let found = described(3);
    assert_eq!(
        found["notes"],
        json!([]),
        "its history leads to its project"
    );
    assert_eq!(
        found["plates"][0]["steps"],
        json!(["spotting", "paint-out", "matte", "warp"])
    );
}

/// What version 4 brought: how hard a pen pressed, passes that are bent where the model moved, and what people decided about finds.
#[test]
fn version_4_opens_with_pressed_strokes_bent_passes_and_what_was_decided() {
    assert_eq!(
        described(4)["notes"],
        json!([]),
        "its history leads to its project"
    );
    let text = std::fs::read_to_string(sample(4)).unwrap();
    let opened = from_text(&text).unwrap();
    let plate = &opened.history.project().plates[0];
    let Shape::Stroke { pressure, .. } = &plate.masks[0].parts[0].shape else {
        panic!("{:?}", plate.masks[0]);
    };
    assert_eq!(*pressure, [0.25, 0.8, 1.0]);
    let takes = &plate.variants[0].takes;
    let measured = takes.iter().find_map(|take| take.measured.as_ref());
    let frame = &measured.unwrap().frames[0];
    assert!(
        (frame.bent_px() - libm::hypot(0.4, 1.6)).abs() < 1e-6,
        "bent"
    );
    assert!(
        (frame.farthest_off_px() - libm::hypot(0.1, 0.06)).abs() < 1e-6,
        "left over"
    );
    let spotting = &plate.steps[0].kind;
    let verdicts: Vec<Verdict> = spotting
        .patches()
        .iter()
        .map(|patch| patch.verdict)
        .collect();
    let decided = [Verdict::Accepted, Verdict::Undecided, Verdict::Refused];
    assert_eq!(verdicts, decided);
    assert_eq!(spotting.acting_patches().len(), 2);
}

/// What version 5 brought: places that are filled from one frame of a stack.
#[test]
fn version_5_opens_with_a_place_filled_from_a_frame() {
    assert_eq!(
        described(5)["notes"],
        json!([]),
        "its history leads to its project"
    );
    let text = std::fs::read_to_string(sample(5)).unwrap();
    let opened = from_text(&text).unwrap();
    let plate = &opened.history.project().plates[0];
    let from = PatchFrom::Frame { frame: FrameId(1) };
    assert_eq!(plate.steps[0].kind.patches()[0].from, from);
}

/// What version 6 brought: how many places only looked like dust.
#[test]
fn version_6_opens_with_how_many_places_were_passed_over() {
    assert_eq!(
        described(6)["notes"],
        json!([]),
        "its history leads to its project"
    );
    let text = std::fs::read_to_string(sample(6)).unwrap();
    let opened = from_text(&text).unwrap();
    let StepKind::Spotting(spotting) = &opened.history.project().plates[0].steps[0].kind else {
        panic!("the first step is spotting");
    };
    assert_eq!(spotting.look_alikes, 387);
}

/// What version 7 brought: near parts' blur taken off what is behind them when a stack is joined.
#[test]
fn version_7_opens_with_near_parts_blur_taken_off() {
    assert_eq!(
        described(7)["notes"],
        json!([]),
        "its history leads to its project"
    );
    let fuse = |version: u32| {
        let text = std::fs::read_to_string(sample(version)).unwrap();
        let opened = from_text(&text).unwrap();
        opened.history.project().plates[0].stack().unwrap().fuse
    };
    assert!(fuse(7).unveil);
    assert!(!fuse(6).unveil, "older files say nothing of it");
}

#[test]
fn every_version_is_written_back_in_the_newest_one_edit_a_line() {
    for version in 1..=VERSION {
        let text = std::fs::read_to_string(sample(version)).unwrap();
        let opened = from_text(&text).unwrap();
        let written = to_text(&opened.history, "0.1.0").unwrap();
        assert!(
            written.contains(&format!("\"version\": {VERSION}")),
            "version {version}"
        );
        let again = from_text(&written).unwrap();
        assert_eq!(again.history.project(), opened.history.project());
        assert_eq!(again.history.revisions(), opened.history.revisions());
        let edits = written
            .lines()
            .filter(|line| line.starts_with("{\"id\":"))
            .count();
        assert_eq!(edits, opened.history.revisions().len(), "one edit a line");
        // A further edit changes the lines about it and no others.
        let mut history = again.history;
        history
            .record(
                platebench::project::Edit::NameScene("Other".to_owned()),
                None,
            )
            .unwrap();
        let after = to_text(&history, "0.1.0").unwrap();
        let changed = after
            .lines()
            .filter(|line| !written.lines().any(|old| old == *line))
            .count();
        assert!(changed <= 4, "{changed} lines changed for one edit");
    }
}
