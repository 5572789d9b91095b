//! Builds the finished picture, writes it and its receipt.

use crate::engine::plate_tiles::PlatePlan;
use crate::engine::scene_tiles::ScenePlan;
use crate::engine::{Counts, Watch, export};
use crate::files;
use crate::files::output::profile::OutputColour;
use crate::files::output::{self, OutputFormat};
use crate::geometry::Rect;
use crate::session::receipt::{self, Receipt};
use crate::session::{Session, SessionError};
use serde::Serialize;
use std::path::{Path, PathBuf};

/// What is asked of a build.
#[derive(Debug, Clone, PartialEq)]
pub struct BuildRequest {
    /// Where the finished picture goes; its ending chooses the format.
    pub output: PathBuf,
    /// The canvas is halved so many times.
    pub level: u32,
    /// Bits per channel, where the format has a choice.
    pub bits: Option<u8>,
}

/// What came out of a build.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BuildReport {
    /// The finished picture.
    pub output: PathBuf,
    /// Its width in pixels.
    pub width: u32,
    /// Its height in pixels.
    pub height: u32,
    /// What was done for each plate.
    pub plates: Vec<PlateReport>,
    /// BLAKE3 of the finished pixels, as `blake3:...`.
    pub pixels: String,
    /// Where the receipt lies.
    pub receipt: PathBuf,
}

/// What was done for one plate.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PlateReport {
    /// The plate.
    pub name: String,
    /// Steps of which anything had to be computed.
    pub steps_run: usize,
    /// Steps that were there already.
    pub steps_reused: usize,
}

impl Session {
    /// Builds the scene and writes it.
    ///
    /// # Errors
    /// When something cannot be read, measured, computed or written; no half-written file is left.
    pub fn build(
        &mut self,
        request: &BuildRequest,
        watch: &dyn Watch,
    ) -> Result<BuildReport, SessionError> {
        let format = OutputFormat::of_path(&request.output)?;
        files::places::check_writable(&request.output)?;
        self.refuse_sources(&request.output)?;
        self.find_moved()?;
        self.refuse_changed()?;
        self.measure_all(watch)?;
        let before = self.engine().counts();
        let bits = request.bits.unwrap_or_else(|| u8_bits(format.usual_bits()));
        let encoding = encoding_for(format, bits);
        let picture = self.encoded_scene(request.level, encoding, watch)?;
        let pixels = files::digest::label(&files::digest::of_picture(&picture));
        let options = output::WriteOptions {
            pixels_per_inch: f64::from(self.project().canvas.pixels_per_inch),
            description: self.project().name.clone(),
            ..write_options(encoding, bits)
        };
        output::write(&request.output, &picture, &options)?;
        let receipt = receipt::path_for(&request.output);
        let (width, height) = (picture.size.width, picture.size.height);
        self.write_receipt(&receipt, request, (&picture, bits, &pixels))?;
        let plates = self.plate_reports(&ScenePlan::new(self.project())?, &before);
        Ok(BuildReport {
            output: request.output.clone(),
            width,
            height,
            plates,
            pixels,
            receipt,
        })
    }

    /// The whole scene, encoded for a file.
    pub(in crate::session) fn encoded_scene(
        &self,
        level: u32,
        encoding: export::Encoding,
        watch: &dyn Watch,
    ) -> Result<output::Picture, SessionError> {
        let world = self.world(watch);
        let plan = ScenePlan::new(self.project())?;
        self.engine().prepare_scene(&world, &plan)?;
        let size = self.project().canvas.size.at_level(level);
        let mut exported = export::Exported::new(size, encoding);
        let whole = size.rect();
        let rows = i32::try_from(self.engine().tile_side()).unwrap_or(256);
        let bands = usize::try_from((whole.y1 + rows - 1) / rows).unwrap_or(0);
        for (band, y0) in (0..whole.y1)
            .step_by(usize::try_from(rows).unwrap_or(256))
            .enumerate()
        {
            watch.progress("building the scene", band, bands);
            let rect = Rect::new(0, y0, whole.x1, (y0 + rows).min(whole.y1));
            exported.add(&self.engine().render_scene(&world, &plan, (level, rect))?);
        }
        watch.progress("building the scene", bands, bands);
        Ok(output::Picture {
            size,
            pixels: pixels_of(exported),
        })
    }

    fn write_receipt(
        &self,
        path: &Path,
        request: &BuildRequest,
        (picture, bits, pixels): (&output::Picture, u8, &str),
    ) -> Result<(), SessionError> {
        let name = request
            .output
            .file_name()
            .map(|name| name.to_string_lossy().into_owned());
        let receipt = Receipt {
            format: receipt::FORMAT.to_owned(),
            version: receipt::VERSION,
            program: env!("CARGO_PKG_VERSION").to_owned(),
            output: name.unwrap_or_default(),
            width: picture.size.width,
            height: picture.size.height,
            level: request.level,
            bits,
            project: self.project_fingerprint()?,
            sources: self.source_entries(),
            steps: self.step_entries(),
            pixels: pixels.to_owned(),
            changed_sources: self.taken_changed.clone(),
        };
        Ok(files::json::write(path, &receipt)?)
    }

    /// A source is never overwritten.
    fn refuse_sources(&self, output: &Path) -> Result<(), SessionError> {
        let output = files::places::absolute(output);
        let is_source = |frame: &std::sync::Arc<crate::project::Frame>| {
            files::places::absolute(&self.shelf().path_of(frame)) == output
        };
        if self.project().frames.iter().any(is_source)
            || self
                .path()
                .is_some_and(|path| files::places::absolute(path) == output)
        {
            return Err(SessionError::Refused(format!(
                "{} is a source of this scene and is never overwritten: choose another name",
                output.display()
            )));
        }
        Ok(())
    }

    fn plate_reports(&self, plan: &ScenePlan, before: &Counts) -> Vec<PlateReport> {
        let after = self.engine().counts();
        let report = |plate: &PlatePlan| {
            let run = plate.steps_run(before, &after);
            PlateReport {
                name: plate.plate.name.clone(),
                steps_run: run,
                steps_reused: plate.step_count().saturating_sub(run),
            }
        };
        plan.plates().map(report).collect()
    }
}

fn u8_bits(bits: u32) -> u8 {
    u8::try_from(bits).unwrap_or(16)
}

/// How light becomes numbers in a file of this format and depth: whole numbers as sRGB, floats as linear light.
#[must_use]
pub(in crate::session) fn encoding_for(format: OutputFormat, bits: u8) -> export::Encoding {
    match (format, bits) {
        (OutputFormat::OpenExr, _) | (_, 32) => export::Encoding::Linear,
        (_, 8) => export::Encoding::Srgb8,
        _sixteen => export::Encoding::Srgb16,
    }
}

/// How light became numbers in the finished file called `output`.
///
/// # Errors
/// When its ending names no format.
pub(in crate::session) fn encoding_for_bits(
    output: &str,
    bits: u8,
) -> Result<export::Encoding, SessionError> {
    Ok(encoding_for(
        OutputFormat::of_path(Path::new(output))?,
        bits,
    ))
}

/// The usual way to write numbers of this encoding.
#[must_use]
pub(in crate::session) fn write_options(
    encoding: export::Encoding,
    bits: u8,
) -> output::WriteOptions {
    let colour = match encoding {
        export::Encoding::Linear => OutputColour::LinearBt709,
        export::Encoding::Srgb8 | export::Encoding::Srgb16 => OutputColour::Srgb,
    };
    output::WriteOptions::new(u32::from(bits), colour)
}

/// The numbers as the files room takes them.
#[must_use]
pub(in crate::session) fn pixels_of(exported: export::Exported) -> output::Pixels {
    match exported {
        export::Exported::U8(data) => output::Pixels::U8 { channels: 3, data },
        export::Exported::U16(data) => output::Pixels::U16 { channels: 3, data },
        export::Exported::F32(data) => output::Pixels::F32 { channels: 3, data },
    }
}
