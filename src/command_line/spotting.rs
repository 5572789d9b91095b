//! The call that finds dust and hair.

use super::Ended;
use super::answers::{name, print_json, short};
use super::progress::Progress;
use super::words::{Common, SpottingCall};
use crate::session::spotting_files::{SpottingReport, SpottingRequest, spotting_files};
use crate::session::{SessionError, Settings, photos_at};
use serde_json::{Value, json};

pub(super) fn run(
    call: &SpottingCall,
    (common, settings): (&Common, &Settings),
) -> Result<Ended, SessionError> {
    let request = SpottingRequest {
        plate: photos_at(&call.plate)?,
        cleaned: match call.cleaned.as_slice() {
            [] => Vec::new(),
            names => photos_at(names)?,
        },
        output: call.output.clone(),
        spotted: call.spotted.clone(),
        confidence: call.confidence,
    };
    let progress = Progress::new(common);
    let report = spotting_files(&request, settings, &progress)?;
    progress.finish();
    answer(&request, &report, common);
    Ok(Ended::Done)
}

fn answer(request: &SpottingRequest, report: &SpottingReport, common: &Common) {
    let hairs = report.found.iter().filter(|spot| spot.is_hair).count();
    if common.json {
        let found: Vec<Value> = report
            .found
            .iter()
            .map(|spot| {
                let place = spot.bounds;
                json!({
                    "kind": if spot.is_hair { "hair" } else { "dust" },
                    "box": [place.x0, place.y0, place.x1, place.y1],
                    "confidence": short(f64::from(spot.confidence)),
                })
            })
            .collect();
        print_json(&json!({
            "output": name(&request.output),
            "width": report.size.width,
            "height": report.size.height,
            "found": found,
            "spotted": request.spotted.as_deref().map(name),
        }));
    } else if !common.quiet {
        println!(
            "{} grains and {hairs} hairs found; their mask is {}",
            report.found.len() - hairs,
            request.output.display()
        );
        if report.look_alikes > 0 {
            println!("{}", passed_over(report.look_alikes));
        }
    }
}

fn passed_over(places: usize) -> String {
    format!(
        "{places} more places look like dust, but so does much around them: photos of the same pose after cleaning (--cleaned) tell them apart"
    )
}
