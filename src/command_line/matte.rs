//! The call that cuts a model out of its backdrop.

use super::Ended;
use super::answers::{name, print_json, short};
use super::progress::Progress;
use super::words::{Common, MatteCall};
use crate::session::matte_files::{MatteReport, MatteRequest, matte_files};
use crate::session::{SessionError, Settings, photos_at};
use serde_json::json;
use std::path::PathBuf;

pub(super) fn run(
    call: MatteCall,
    (common, settings): (&Common, &Settings),
) -> Result<Ended, SessionError> {
    let photos = |names: &[PathBuf]| {
        if names.is_empty() {
            Ok(Vec::new())
        } else {
            photos_at(names)
        }
    };
    let other = (!call.other_level.is_empty())
        .then(|| {
            Ok::<_, SessionError>([photos(&call.other_level)?, photos(&call.other_clean_plate)?])
        })
        .transpose()?;
    let request = MatteRequest {
        plate: photos(&call.plate)?,
        clean_plate: photos(&call.clean_plate)?,
        other,
        output: call.output,
        foreground: call.foreground,
        edge_px: call.edge,
    };
    let progress = Progress::new(common);
    let report = matte_files(&request, settings, &progress)?;
    progress.finish();
    answer(&request, &report, common);
    Ok(Ended::Done)
}

fn answer(request: &MatteRequest, report: &MatteReport, common: &Common) {
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
            "backdrop": report.backdrop,
            "covered_share": short(f64::from(report.covered_share)),
            "foreground": request.foreground.as_deref().map(name),
            "warnings": report.warnings,
        }));
    } else if !common.quiet {
        println!(
            "the coverage is {} ({} x {} px, {:.1} % covered)",
            request.output.display(),
            report.size.width,
            report.size.height,
            report.covered_share * 100.0
        );
    }
}
