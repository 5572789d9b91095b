//! Answers, in words or as JSON.

use super::progress::Progress;
use super::words::Common;
use crate::project::History;
use crate::session::build::BuildReport;
use crate::session::describe::Described;
use crate::session::fuse_files::{FuseReport, FuseRequest, FusedFrame};
use crate::session::light_files::{LightReport, LightRequest};
use crate::session::pack::PackReport;
use crate::session::sources::SourceState;
use crate::session::step_list::step_list;
use crate::session::swap::SwapReport;
use crate::session::verify::{PictureState, Rebuild, VerifyReport};
use serde_json::{Map, Value, json};
use std::path::Path;

pub(super) fn print_json(answer: &Value) {
    println!("{answer}");
}

pub(super) fn name(path: &Path) -> String {
    path.to_string_lossy().into_owned()
}

/// A number rounded to what is worth reading.
pub(super) fn short(value: f64) -> Value {
    json!((value * 1e4).round() / 1e4)
}

pub(super) fn fused(request: &FuseRequest, report: &FuseReport, common: &Common) {
    if !common.quiet {
        for warning in &report.warnings {
            eprintln!("warning: {warning}");
        }
    }
    if common.json {
        print_json(&json!({
            "frames": report.frames.iter().map(fused_frame).collect::<Vec<_>>(),
            "output": {
                "file": name(&request.output),
                "width": report.size.width,
                "height": report.size.height,
                "depth_file": request.depth_map.as_deref().map(name),
            },
            "never_sharp_share": report.never_sharp_share,
            "warnings": report.warnings,
            "seconds": seconds(&report.seconds),
            "peak_memory_bytes": crate::session::system::peak_memory(),
        }));
    } else if !common.quiet {
        let used = report.frames.iter().filter(|frame| frame.used).count();
        println!(
            "{used} frames fused to {} ({} x {} px)",
            request.output.display(),
            report.size.width,
            report.size.height
        );
    }
}

fn fused_frame(frame: &FusedFrame) -> Value {
    let measured = frame.measured.as_ref();
    json!({
        "file": name(&frame.file),
        "role": if frame.is_reference { "reference" } else { "frame" },
        "used": frame.used,
        "gain_rgb": measured.map(|found| found.gain_rgb),
        "offset_rgb": measured.map(|found| found.offset_rgb),
        "to_reference": measured.map(|found| found.to_reference),
        "residual_px": measured.map(|found| found.residual_px),
        "sharp_share": measured.map(|found| found.sharp_share),
        "notes": frame.notes,
    })
}

fn seconds(stages: &[(&'static str, f64)]) -> Value {
    let mut all = Map::new();
    for (stage, time) in stages {
        all.insert((*stage).to_owned(), short(*time));
    }
    all.insert(
        "total".to_owned(),
        short(stages.iter().map(|(_stage, time)| time).sum()),
    );
    Value::Object(all)
}

pub(super) fn light(request: &LightRequest, report: &LightReport, common: &Common) {
    if !common.quiet {
        for warning in &report.warnings {
            eprintln!("warning: {warning}");
        }
    }
    if common.json {
        print_json(&json!({
            "output": name(&request.output),
            "width": report.size.width,
            "height": report.size.height,
            "to_unlit": report.to_unlit,
            "exposure_stops": short(report.exposure_stops),
            "key_light": report.key_light,
            "key_rgb": report.key_rgb,
            "residual_px": report.residual_px,
            "added_share": report.added_share,
            "scale": report.scale,
            "lit_output": request.output_lit.as_deref().map(name),
            "warnings": report.warnings,
        }));
    } else if !common.quiet {
        println!(
            "the added light is {} ({} x {} px, {:.1} % of the picture)",
            request.output.display(),
            report.size.width,
            report.size.height,
            report.added_share * 100.0
        );
    }
}

pub(super) fn built(report: &BuildReport, progress: &Progress, common: &Common) {
    if common.json {
        print_json(&json!({
            "output": name(&report.output),
            "width": report.width,
            "height": report.height,
            "plates": report.plates,
            "seconds": { "total": short(progress.seconds()) },
            "peak_memory_bytes": crate::session::system::peak_memory(),
            "pixels": report.pixels,
            "receipt": name(&report.receipt),
        }));
    } else if !common.quiet {
        println!(
            "built {} ({} x {} px)",
            report.output.display(),
            report.width,
            report.height
        );
        println!("its receipt is {}", report.receipt.display());
    }
}

pub(super) fn swapped(report: &SwapReport, common: &Common) {
    if common.json {
        print_json(&json!(report));
    } else if !common.quiet {
        println!(
            "plate '{}' has its new source (registered to {:.2} px)",
            report.plate, report.residual_px
        );
        println!("carried over: {}", report.carried.join(", "));
        for look in &report.needs_a_look {
            println!("wants a look: {}: {}", look.step, look.why);
        }
    }
}

pub(super) fn verified(report: &VerifyReport, common: &Common) {
    if common.json {
        print_json(&json!(report));
        return;
    }
    let bad = report
        .sources
        .iter()
        .filter(|source| source.state != SourceState::Same);
    let mut findings = 0;
    for source in bad {
        findings += 1;
        println!("{}", source.why.as_deref().unwrap_or(&source.file));
    }
    if common.quiet {
        return;
    }
    if findings == 0 {
        println!("{} photos are there and unchanged", report.sources.len());
    }
    let against = report
        .receipt
        .as_deref()
        .map_or_else(String::new, |receipt| format!(" of {}", receipt.display()));
    match report.rebuild {
        Rebuild::Same => println!("a rebuild gives the very pixels{against}"),
        Rebuild::Differs => println!("a rebuild does not give the pixels{against}"),
        Rebuild::NotRun => println!("no rebuild was run"),
    }
    if let Some(why) = &report.why {
        println!("{why}");
    }
    if report.picture == PictureState::Differs {
        println!("the picture beside the receipt is not the one that was built");
    }
}

pub(super) fn packed(report: &PackReport, common: &Common) {
    if common.json {
        print_json(&json!(report));
    } else if !common.quiet {
        println!(
            "packed {} files ({} bytes) into {}",
            report.files,
            report.bytes,
            report.folder.display()
        );
        for note in &report.notes {
            println!("{note}");
        }
    }
}

pub(super) fn steps(history: &History, common: &Common) {
    let list = step_list(history);
    if common.json {
        print_json(&json!({ "steps": list, "named": history.named() }));
    } else if !common.quiet {
        for line in &list {
            let at = line.at.as_deref().unwrap_or("-");
            let aside = if line.in_use { "" } else { " (set aside)" };
            let named: Vec<String> = line
                .named
                .iter()
                .map(|name| format!(" = '{name}'"))
                .collect();
            println!(
                "{:>5}  {at:19}  {}{aside}{}",
                line.number,
                line.what,
                named.concat()
            );
        }
    }
}

pub(super) fn relinked(found: usize, missing: &[String], common: &Common) {
    if common.json {
        print_json(&json!({ "found": found, "missing": missing }));
    } else if !common.quiet {
        println!("{found} photos found");
        for name in missing {
            println!("still missing: {name}");
        }
    }
}

pub(super) fn described(found: &Described, common: &Common) {
    let value = json!(found);
    if common.json {
        print_json(&value);
    } else {
        let pretty =
            serde_json::to_string_pretty(&value).unwrap_or_else(|_never| value.to_string());
        println!("{pretty}");
    }
}
