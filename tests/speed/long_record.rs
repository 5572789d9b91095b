//! Time and memory of long records: `cargo bench --bench long_record`. Linear means that the last two columns of each table
//! stay the same from line to line.
#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::disallowed_methods,
    reason = "a measuring program outside the product reads files and the clock, and prints"
)]

use platebench::files::project_file::{from_text, to_text};
use platebench::geometry::Point;
use platebench::project::{
    Edit, Finish, History, MaskId, MaskPart, PartId, PlateEdit, PlateId, Project, Shape, Sign,
};
use std::path::Path;
use std::process::Command;
use std::sync::Arc;
use std::time::Instant;

fn main() {
    let words: Vec<String> = std::env::args().filter(|word| word != "--bench").collect();
    if let [_, what, count] = words.as_slice() {
        one(what, count.parse().unwrap());
        return;
    }
    for (what, about) in [
        (
            "mixed",
            "edits of every plate: strokes, lights, placements, finish",
        ),
        ("one-mask", "every edit a stroke in the same mask"),
    ] {
        println!("{about}");
        println!(
            "  edits   make   save   open   undo   redo  (ms)   file  memory (MiB)   us/edit  KiB/edit"
        );
        for count in ["1250", "2500", "5000", "10000", "20000"] {
            // Each in a process of its own, so that memory is its own too.
            let exe = std::env::current_exe().unwrap();
            let output = Command::new(exe).args([what, count]).output().unwrap();
            print!("{}", String::from_utf8_lossy(&output.stdout));
        }
    }
}

fn one(what: &str, count: u32) {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("demo_scenes/ice_shift/scene/ice_shift.platebench");
    let opened = from_text(&std::fs::read_to_string(demo).unwrap()).unwrap();
    let mut history = History::new(Project::clone(opened.history.project()));
    drop(opened);
    let make = timed(|| {
        for number in 0..count {
            let edit = edit(history.project(), number, what);
            history
                .record(edit, Some("2026-11-27T12:00:00".to_owned()))
                .unwrap();
        }
    });
    let mut text = String::new();
    let save = timed(|| text = to_text(&history, "0").unwrap());
    let made = Arc::clone(history.project());
    drop(history);
    let before = resident_kib();
    let mut again = None;
    let open = timed(|| again = Some(from_text(&text).unwrap().history));
    let mut history = again.unwrap();
    assert_eq!(history.project(), &made);
    let mut moves = 0;
    let undo = timed(|| {
        while history.undo() {
            moves += 1;
        }
    });
    let redo = timed(|| while history.redo() {});
    assert_eq!((moves, history.project()), (count, &made));
    let held = resident_kib().saturating_sub(before);
    let total = make + save + open + undo + redo;
    println!(
        "{count:>7} {make:>6.0} {save:>6.0} {open:>6.0} {undo:>6.0} {redo:>6.0} {:>12.1} {:>7.1} {:>15.1} {:>9.2}",
        mib(text.len() / 1024),
        mib(held),
        total * 1000.0 / f64::from(count),
        mib(held) * 1024.0 / f64::from(count),
    );
}

fn mib(kib: usize) -> f64 {
    f64::from(u32::try_from(kib).unwrap()) / 1024.0
}

fn edit(project: &Project, number: u32, what: &str) -> Edit {
    let masked: Vec<(PlateId, MaskId)> = project
        .plates
        .iter()
        .flat_map(|plate| plate.masks.iter().map(|mask| (plate.id, mask.id)))
        .collect();
    let at = usize::try_from(number).unwrap();
    let stroke = |(plate, mask): (PlateId, MaskId)| {
        let along = f64::from(number % 1000);
        let points = (0_u32..24).map(|step| Point::new(along + f64::from(step) * 2.5, 300.0));
        let part = MaskPart {
            id: PartId(project.next_id),
            sign: Sign::Add,
            strength: 1.0,
            on: true,
            shape: Shape::Stroke {
                points: points.collect(),
                radius_px: 8.0,
                softness: 0.5,
                pressure: Vec::new(),
            },
        };
        Edit::Plate(plate, PlateEdit::AddPart(mask, Arc::new(part)))
    };
    match number % 4 {
        _ if what == "one-mask" => stroke(masked[0]),
        0 => stroke(masked[at / 4 % masked.len()]),
        1 => {
            let lit: Vec<_> = project
                .plates
                .iter()
                .filter(|plate| !plate.groups.is_empty())
                .collect();
            let plate = lit[at / 4 % lit.len()];
            let mut group = plate.groups[0].clone();
            group.stops = f32::from(u16::try_from(number % 5).unwrap()) * 0.25;
            Edit::Plate(plate.id, PlateEdit::SetGroup(group))
        }
        2 => {
            let mut placement = project.placements[at / 4 % project.placements.len()].clone();
            Arc::make_mut(&mut placement).strength =
                f32::from(u16::try_from(number % 10).unwrap()) / 10.0;
            Edit::SetPlacement(placement)
        }
        _ => Edit::SetFinish(Finish {
            exposure_stops: f32::from(u16::try_from(number % 7).unwrap()) * 0.1,
            ..project.finish
        }),
    }
}

/// Milliseconds that `work` takes.
fn timed(work: impl FnOnce()) -> f64 {
    let begun = Instant::now();
    work();
    begun.elapsed().as_secs_f64() * 1000.0
}

/// Memory held now, in KiB; 0 where the system does not say.
fn resident_kib() -> usize {
    let text = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = text.lines().find(|line| line.starts_with("VmRSS:"));
    line.and_then(|line| line.split_whitespace().nth(1)?.parse().ok())
        .unwrap_or(0)
}
