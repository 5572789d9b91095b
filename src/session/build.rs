//! Builds the finished picture, writes it and its receipt.

use crate::engine::scene_tiles::ScenePlan;
use crate::engine::{Counts, Watch, export};
use crate::files::{self, output};
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
    pub fn build(&mut self, request: &BuildRequest, watch: &dyn Watch) -> Result<BuildReport, SessionError> {
        let format = output::format_of(&request.output)?;
        files::check_writable(&request.output)?;
        self.refuse_sources(&request.output)?;
        self.measure_all(watch)?;
        let before = self.engine().counts();
        let encoding = export::Encoding::for_output(format.is_float(), request.bits.unwrap_or(format.usual_bits()));
        let picture = self.encoded_scene(request.level, encoding, watch)?;
        let pixels = files::digest::label(&files::digest::of_picture(&picture));
        let options = output::WriteOptions {
            pixels_per_inch: self.project().canvas.pixels_per_inch,
            description: self.project().name.clone(),
            ..output::WriteOptions::for_colour(if format.is_float() {
                output::OutputColour::LinearBt709
            } else {
                output::OutputColour::Srgb
            })
        };
        output::write(&request.output, &picture, &options)?;
        let receipt = receipt::path_for(&request.output);
        let (width, height) = (picture.size.width, picture.size.height);
        self.write_receipt(&receipt, request, (&picture, &pixels))?;
        let plates = self.plate_reports(&before);
        Ok(BuildReport { output: request.output.clone(), width, height, plates, pixels, receipt })
    }

    /// The whole scene, encoded for a file.
    fn encoded_scene(
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
        for (band, y0) in (0..whole.y1).step_by(usize::try_from(rows).unwrap_or(256)).enumerate() {
            watch.progress("building the scene", band, bands);
            let rect = Rect::new(0, y0, whole.x1, (y0 + rows).min(whole.y1));
            exported.add(&self.engine().render_scene(&world, &plan, (level, rect))?);
        }
        watch.progress("building the scene", bands, bands);
        Ok(output::Picture { size, pixels: exported.into() })
    }

    fn write_receipt(
        &self,
        path: &Path,
        request: &BuildRequest,
        (picture, pixels): (&output::Picture, &str),
    ) -> Result<(), SessionError> {
        let name = request.output.file_name().map(|name| name.to_string_lossy().into_owned());
        let receipt = Receipt {
            format: "platebench receipt".to_owned(),
            version: 1,
            program: env!("CARGO_PKG_VERSION").to_owned(),
            output: name.unwrap_or_default(),
            width: picture.size.width,
            height: picture.size.height,
            level: request.level,
            bits: picture.pixels.bits(),
            project: self.project_fingerprint()?,
            sources: self.source_entries(),
            steps: self.step_entries(),
            pixels: pixels.to_owned(),
        };
        Ok(files::write_json(path, &receipt)?)
    }

    /// A source is never overwritten.
    fn refuse_sources(&self, output: &Path) -> Result<(), SessionError> {
        let output = files::absolute(output);
        let is_source = |frame: &std::sync::Arc<crate::project::Frame>| {
            files::absolute(&self.shelf().path_of(frame)) == output
        };
        if self.project().frames.iter().any(is_source) || self.path().is_some_and(|path| files::absolute(path) == output) {
            return Err(SessionError::Refused(format!(
                "{} is a source of this scene and is never overwritten: choose another name",
                output.display()
            )));
        }
        Ok(())
    }

    fn plate_reports(&self, before: &Counts) -> Vec<PlateReport> {
        let after = self.engine().counts();
        let report = |plate: &std::sync::Arc<crate::project::Plate>| {
            let total = crate::engine::plate_tiles::step_count(plate);
            let run = after.steps_run_since(before, plate.id).min(total);
            PlateReport { name: plate.name.clone(), steps_run: run, steps_reused: total - run }
        };
        self.project().plates.iter().map(report).collect()
    }
}
