//! An unlit and a lit photo (or stack) to the light that the practicals added. What `light` does.

use crate::engine::{SeparatedLight, Watch, export};
use crate::files::{self, output};
use crate::geometry::{Size, Transform};
use crate::project::{
    Edit, KeyLight, Pass, PassId, PassRole, Plate, PlateId, Project, Source, Stack, Take,
    TakeFrame, Variant, VariantId,
};
use crate::session::build;
use crate::session::fuse_files::refuse_source;
use crate::session::one_plate;
use crate::session::{Session, SessionError, Settings};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What is asked of a separation.
#[derive(Debug, Clone, PartialEq)]
pub struct LightRequest {
    /// The photos with the practicals off.
    pub unlit: Vec<PathBuf>,
    /// The photos with them on.
    pub lit: Vec<PathBuf>,
    /// What the stage's key light did in the lit photos.
    pub key_light: KeyLight,
    /// Where the added light goes; its ending chooses the format.
    pub output: PathBuf,
    /// Bits per channel, where the format has a choice.
    pub bits: Option<u8>,
    /// Where the unlit plate with the light laid over goes.
    pub output_lit: Option<PathBuf>,
}

/// What came out of a separation.
#[derive(Debug, Clone, PartialEq)]
pub struct LightReport {
    /// Size of the plate.
    pub size: Size,
    /// Lit position to position on the unlit reference; of the middle lit photo.
    pub to_unlit: Transform,
    /// Stops that the lit photo was exposed more than the unlit one.
    pub exposure_stops: f64,
    /// What the key light did, as measured or said.
    pub key_light: KeyLight,
    /// How much of the unlit plate's light the lit photos hold, per channel.
    pub key_rgb: [f32; 3],
    /// What registration could not explain, in px.
    pub residual_px: f32,
    /// Share of the picture where the added light stands out of its noise.
    pub added_share: f32,
    /// What light was multiplied by before it was written as whole numbers; 1 for float formats.
    pub scale: f32,
    /// What people should know, one sentence each.
    pub warnings: Vec<String>,
}

const PLATE: PlateId = PlateId(1);
const VARIANT: VariantId = VariantId(2);
const PASS: PassId = PassId(3);
/// Residual in px from which on registration is said to be doubtful: lit edges double from there on.
const RESIDUAL_WARNS_PX: f32 = 0.35;
/// Share of the picture from which on saturated light is worth a word.
const SATURATED_WARNS: f32 = 1e-4;
/// Shares of the key light between which it counts as dimmed.
const DIMMED: (f32, f32) = (0.02, 0.9);

/// Separates the light of photo files and writes it.
///
/// # Errors
/// When photos cannot be read or differ in size, or a file cannot be written.
pub fn light_files(
    request: &LightRequest,
    settings: &Settings,
    watch: &dyn Watch,
) -> Result<LightReport, SessionError> {
    let outputs = [Some(&request.output), request.output_lit.as_ref()];
    for path in outputs.into_iter().flatten() {
        output::OutputFormat::of_path(path)?;
        files::places::check_writable(path)?;
        refuse_source(path, &request.unlit)?;
        refuse_source(path, &request.lit)?;
    }
    let mut session = one_pass(request, settings)?;
    session.measure_all(watch)?;
    let measured = measured(&session)?;
    let light = session
        .engine()
        .separated_light(&session.world(watch), PLATE, PASS)?;
    let middle = measured[measured.len() / 2].clone();
    let scale = write_light(request, &light)?;
    if let Some(path) = &request.output_lit {
        one_plate::write_light(path, &light.laid_over(), request.bits)?;
    }
    let residual_px = measured
        .iter()
        .map(|frame| frame.residual_px)
        .fold(0.0, f32::max);
    let mut report = LightReport {
        size: light.size,
        to_unlit: middle.to_reference,
        exposure_stops: -libm::log2(f64::from(middle.exposure_gain.max(1e-9))),
        key_light: key_word(light.key_rgb),
        key_rgb: light.key_rgb,
        residual_px,
        added_share: light.added_share(),
        scale,
        warnings: Vec::new(),
    };
    report.warnings = flexed_warnings(&measured);
    report.warnings.extend(warnings(&report, &light));
    Ok(report)
}

/// A project with one plate made of the unlit photos, and the lit ones as its pass.
fn one_pass(request: &LightRequest, settings: &Settings) -> Result<Session, SessionError> {
    let settings = Settings {
        scratch_bytes: 0,
        ..*settings
    };
    let here = files::places::absolute(Path::new("."));
    let mut project = Project::new("light", Size::new(1, 1));
    project.next_id = PASS.0 + 1;
    let mut session = Session::new(project, &here, &settings);
    let unlit = session.add_photos(&request.unlit)?;
    let lit = session.add_photos(&request.lit)?;
    if let Some(both) = lit.iter().position(|frame| unlit.contains(frame)) {
        return Err(SessionError::Refused(format!(
            "{} is among the unlit photos too: give the photo with the practicals on",
            request.lit[both].display()
        )));
    }
    let variant = Variant {
        id: VARIANT,
        name: "stack".to_owned(),
        source: Source::Stack(Stack::of(unlit)),
        takes: vec![Take {
            pass: PASS,
            frames: lit,
            measured: None,
        }],
        lies: None,
    };
    let mut plate = Plate::new(PLATE, "plate", variant);
    plate.passes.push(Pass {
        id: PASS,
        name: "lights".to_owned(),
        role: PassRole::Light,
        key_light: request.key_light,
    });
    session.record(Edit::AddPlate(Arc::new(plate)))?;
    Ok(session)
}

fn measured(session: &Session) -> Result<Vec<TakeFrame>, SessionError> {
    let plate = session.project().plate(PLATE);
    plate
        .and_then(|plate| plate.take(PASS))
        .and_then(|(_variant, take)| take.measured.as_ref())
        .map(|measured| measured.frames.clone())
        .filter(|frames| !frames.is_empty())
        .ok_or_else(|| SessionError::Refused("there is no lit photo".to_owned()))
}

/// Writes the light alone; gives what it was multiplied by.
fn write_light(request: &LightRequest, light: &SeparatedLight) -> Result<f32, SessionError> {
    let format = output::OutputFormat::of_path(&request.output)?;
    let bits = request.bits.unwrap_or_else(|| usual_bits(format));
    let linear = build::encoding_for(format, bits) == export::Encoding::Linear;
    let (pixels, scale) = if linear {
        let mut exported = export::Exported::new(light.size, export::Encoding::Linear);
        exported.add(&light.light);
        (build::pixels_of(exported), 1.0)
    } else {
        let (codes, scale) = export::scaled_light(&light.light);
        let pixels = if bits == 8 {
            let data = codes.iter().map(|code| eight(*code)).collect();
            output::Pixels::U8 { channels: 3, data }
        } else {
            output::Pixels::U16 {
                channels: 3,
                data: codes,
            }
        };
        (pixels, scale)
    };
    let picture = output::Picture {
        size: light.size,
        pixels,
    };
    let options = output::WriteOptions::new(u32::from(bits), output::OutputColour::LinearBt709);
    output::write(&request.output, &picture, &options)?;
    Ok(scale)
}

/// A 16-bit code as the nearest 8-bit one.
fn eight(code: u16) -> u8 {
    u8::try_from((u32::from(code) + 128) / 257).unwrap_or(u8::MAX)
}

fn usual_bits(format: output::OutputFormat) -> u8 {
    u8::try_from(format.usual_bits()).unwrap_or(16)
}

fn key_word(key_rgb: [f32; 3]) -> KeyLight {
    let mean = key_rgb.iter().sum::<f32>() / 3.0;
    if mean < DIMMED.0 {
        KeyLight::Off
    } else if mean < DIMMED.1 {
        KeyLight::Dimmed
    } else {
        KeyLight::On
    }
}

fn flexed_warnings(measured: &[TakeFrame]) -> Vec<String> {
    let most = |of: fn(&TakeFrame) -> f64| measured.iter().map(of).fold(0.0, f64::max);
    let (bent_px, off_px) = (most(TakeFrame::bent_px), most(TakeFrame::farthest_off_px));
    let mut warnings = Vec::new();
    if bent_px > 0.0 {
        warnings.push(format!(
            "the model moved by up to {bent_px:.1} px between the passes: its light was bent back to where it belongs; shoot the pass again if that shows"
        ));
    }
    if off_px > TakeFrame::FARTHEST_BENT_PX {
        warnings.push(format!(
            "a part of the model lies {off_px:.0} px off in the lit photo, too far to be bent back: put it where it was and shoot the pass again"
        ));
    }
    warnings
}

fn warnings(report: &LightReport, light: &SeparatedLight) -> Vec<String> {
    let mut warnings = Vec::new();
    if report.residual_px > RESIDUAL_WARNS_PX {
        warnings.push(format!(
            "the lit photo lies within {:.2} px of the unlit one at best: lit edges may double; look at them, or shoot the pass again without touching anything",
            report.residual_px
        ));
    }
    if let Some(worst) = light.ghosts().first() {
        warnings.push(format!(
            "edges show twice beside ({}, {}): the passes do not lie on each other there; a part moved between them, so shoot the pass again or keep the mask off this place",
            worst.rect.x0, worst.rect.y0
        ));
    }
    let saturated = light.saturated_share();
    if saturated > SATURATED_WARNS {
        warnings.push(format!(
            "{:.2} % of the picture is saturated in every lit photo: the light there is at least what was written; add a photo exposed 3 to 6 stops less",
            saturated * 100.0
        ));
    }
    if report.added_share <= 0.0 {
        warnings.push(
            "no added light stands out of the noise: are the practicals on in the lit photo?"
                .to_owned(),
        );
    }
    warnings
}
