//! Floor 6: the same commands without a window. Words in, answers out; no logic of its own.

#![expect(
    clippy::print_stdout,
    clippy::print_stderr,
    reason = "answers go to standard output, messages to standard error"
)]

mod answers;
mod matte;
mod progress;
mod record;
mod spotting;
mod words;

use crate::project::KeyLight;
use crate::session::build::BuildRequest;
use crate::session::fuse_files::{BadFrames, FuseRequest, fuse_files};
use crate::session::light_files::{LightRequest, light_files};
use crate::session::{Session, SessionError, Settings, demo, describe, system};
use clap::Parser as _;
use progress::Progress;
use std::path::PathBuf;
use std::process::ExitCode;
use words::{Call, Common, KeyWord, Words};

/// What the process that calls this should do next.
#[derive(Debug)]
pub enum Next {
    /// End with this code.
    End(ExitCode),
    /// Open the window on this project, or on the start page.
    Window(Option<PathBuf>),
}

/// How a call ended.
enum Ended {
    Done,
    WithFindings,
    Window(Option<PathBuf>),
}

const FAILED: u8 = 1;
const WRONG_WORDS: u8 = 2;
const FINDINGS: u8 = 3;
const STOPPED: u8 = 130;

/// Reads the words of the call and carries it out.
#[must_use]
pub fn run() -> Next {
    let words = match Words::try_parse() {
        Ok(words) => words,
        Err(error) => {
            let code = if error.use_stderr() { WRONG_WORDS } else { 0 };
            drop(error.print());
            return Next::End(ExitCode::from(code));
        }
    };
    let common = words.common.clone();
    if let Some(threads) = common.threads {
        system::use_threads(threads);
    }
    match carry_out(words) {
        Ok(Ended::Done) => Next::End(ExitCode::SUCCESS),
        Ok(Ended::WithFindings) => Next::End(ExitCode::from(FINDINGS)),
        Ok(Ended::Window(project)) => Next::Window(project),
        Err(error) if error.is_cancelled() => {
            eprintln!("stopped; nothing half-written is left");
            Next::End(ExitCode::from(STOPPED))
        }
        Err(error) => {
            eprintln!("platebench: {error}");
            Next::End(ExitCode::from(FAILED))
        }
    }
}

fn carry_out(words: Words) -> Result<Ended, SessionError> {
    let settings = settings(&words.common);
    match words.call {
        None => Ok(Ended::Window(None)),
        Some(Call::Open { project }) => Ok(Ended::Window(Some(project))),
        Some(Call::Demo(call)) => run_demo(call, &words.common, &settings),
        Some(Call::Fuse(call)) => run_fuse(call, &words.common, &settings),
        Some(Call::Build(call)) => run_build(call, &words.common, settings),
        Some(Call::Verify { project, receipt }) => {
            record::verify(&project, receipt.as_deref(), (&words.common, &settings))
        }
        Some(Call::Light(call)) => light(call, (&words.common, &settings)),
        Some(Call::Matte(call)) => matte::run(call, (&words.common, &settings)),
        Some(Call::Spotting(call)) => spotting::run(&call, (&words.common, &settings)),
        Some(Call::Pack { project, output }) => {
            record::pack(&project, &output, (&words.common, &settings))
        }
        Some(Call::Steps {
            project,
            name,
            at,
            forget,
        }) => record::steps(&project, (name, at), forget, (&words.common, &settings)),
        Some(Call::Relink { project, folder }) => {
            record::relink(&project, &folder, (&words.common, &settings))
        }
        Some(Call::Swap {
            project,
            plate,
            frames,
            copy_in,
            second,
        }) => {
            let copies = copy_in.then_some(second);
            record::swap(
                &project,
                (&plate, &frames),
                copies,
                (&words.common, &settings),
            )
        }
        Some(Call::Describe { file }) => {
            answers::described(&describe::describe(&file)?, &words.common);
            Ok(Ended::Done)
        }
    }
}

fn light(
    call: words::LightCall,
    (common, settings): (&Common, &Settings),
) -> Result<Ended, SessionError> {
    let request = LightRequest {
        unlit: crate::session::photos_at(&call.unlit)?,
        lit: crate::session::photos_at(&call.lit)?,
        key_light: match call.key_light {
            KeyWord::On => KeyLight::On,
            KeyWord::Dimmed => KeyLight::Dimmed,
            KeyWord::Off => KeyLight::Off,
            KeyWord::Auto => KeyLight::Auto,
        },
        output: call.output,
        bits: call.bits,
        output_lit: call.out_lit,
    };
    let progress = Progress::new(common);
    let report = light_files(&request, settings, &progress)?;
    progress.finish();
    answers::light(&request, &report, common);
    Ok(Ended::Done)
}

fn settings(common: &Common) -> Settings {
    common.memory.map_or_else(Settings::default, |memory| {
        Settings::for_memory(memory.bytes())
    })
}

fn run_fuse(
    call: words::FuseCall,
    common: &Common,
    settings: &Settings,
) -> Result<Ended, SessionError> {
    let request = FuseRequest {
        frames: crate::session::photos_at(&call.frames)?,
        output: call.output,
        bits: call.bits,
        depth_map: call.depth_map,
        frame_map: call.frame_map,
        reference: call.reference,
        unveil: call.unveil,
        bad_frames: if call.skip_bad {
            BadFrames::LeaveOut
        } else {
            BadFrames::Refuse
        },
    };
    let progress = Progress::new(common);
    let report = fuse_files(&request, settings, &progress)?;
    progress.finish();
    answers::fused(&request, &report, common);
    Ok(Ended::Done)
}

fn run_build(
    call: words::BuildCall,
    common: &Common,
    settings: Settings,
) -> Result<Ended, SessionError> {
    let settings = call
        .tile_side
        .map_or(settings, |side| settings.with_tile_side(side));
    let mut session = Session::open(&call.project, &settings)?;
    if let Some(name) = &call.state {
        record::go_to_state(&mut session, name)?;
    }
    if call.allow_changed {
        record::allow_changed(&mut session)?;
    }
    let request = BuildRequest {
        output: call.output,
        level: call.scale.level(),
        bits: call.bits,
    };
    build(&mut session, &request, common)?;
    Ok(Ended::Done)
}

fn build(
    session: &mut Session,
    request: &BuildRequest,
    common: &Common,
) -> Result<(), SessionError> {
    let progress = Progress::new(common);
    let report = session.build(request, &progress)?;
    progress.finish();
    for note in &session.notes {
        eprintln!("note: {note}");
    }
    answers::built(&report, &progress, common);
    Ok(())
}

fn run_demo(
    call: words::DemoCall,
    common: &Common,
    settings: &Settings,
) -> Result<Ended, SessionError> {
    let folder = call.folder.unwrap_or_else(demo::usual_folder);
    let project = demo::lay_out(&folder)?;
    if !common.quiet {
        eprintln!("the demo scene lies in {}", folder.display());
    }
    let mut session = Session::open(&project, settings)?;
    let request = BuildRequest {
        output: folder.join("ice_shift.tif"),
        level: 0,
        bits: None,
    };
    build(&mut session, &request, common)?;
    session.save(None)?;
    if call.no_window || common.json || !system::has_display() {
        return Ok(Ended::Done);
    }
    Ok(Ended::Window(Some(project)))
}

/// Says why the window could not be opened.
#[must_use]
pub fn cannot_open(why: &str) -> ExitCode {
    eprintln!("platebench: {why}");
    ExitCode::from(FAILED)
}

/// Says how to go on without a window, for a program built without one.
#[must_use]
pub fn no_window() -> ExitCode {
    eprintln!(
        "platebench: this build has no window; use `platebench build PROJECT -o OUT` and the other calls (`platebench --help`)"
    );
    ExitCode::from(FAILED)
}

/// Says why the window could not be opened.
#[must_use]
pub fn failed(why: &str) -> ExitCode {
    eprintln!("platebench: {why}");
    ExitCode::from(FAILED)
}
