//! Dust and hair of a photo (or stack): a mask of them, and the plate without them. What `spotting` does.

use crate::engine::Watch;
use crate::engine::measure::spots::{Spot, Spots};
use crate::geometry::Size;
use crate::pixels::convert::unit_to_u16;
use crate::project::{Spotting, StepKind};
use crate::session::one_plate::{self, PLATE, one_plate};
use crate::session::{SessionError, Settings};
use std::path::PathBuf;

/// What is asked of spotting.
#[derive(Debug, Clone, PartialEq)]
pub struct SpottingRequest {
    /// The photos.
    pub plate: Vec<PathBuf>,
    /// Photos of the same pose, taken after cleaning; none to look at the plate alone.
    pub cleaned: Vec<PathBuf>,
    /// Where the mask goes, as 16-bit grey.
    pub output: PathBuf,
    /// Where the plate without dust and hair goes.
    pub spotted: Option<PathBuf>,
    /// Confidence from which on finds count, 0..=1.
    pub confidence: f32,
}

/// What came out of spotting.
#[derive(Debug, Clone, PartialEq)]
pub struct SpottingReport {
    /// Size of the plate.
    pub size: Size,
    /// The finds that count, the surest first.
    pub found: Vec<Spot>,
    /// Places passed over because there is too much around them that looks like dust for the plate alone to tell.
    pub look_alikes: usize,
}

/// Finds dust and hair on photo files and writes where they are.
///
/// # Errors
/// When photos cannot be read or differ in size, or a file cannot be written.
pub fn spotting_files(
    request: &SpottingRequest,
    settings: &Settings,
    watch: &dyn Watch,
) -> Result<SpottingReport, SessionError> {
    one_plate::check_outputs(
        &[Some(&request.output), request.spotted.as_ref()],
        &[&request.plate, &request.cleaned],
    )?;
    let mut session = one_plate(&request.plate, &[], settings, watch)?;
    let cleaned = match request.cleaned.as_slice() {
        [] => None,
        photos => Some(one_plate::add_source(&mut session, photos, watch)?),
    };
    let Spots {
        spots: mut found,
        look_alikes,
    } = session.find_spots(PLATE, cleaned, watch)?;
    found.retain(|spot| spot.confidence >= request.confidence);
    let patches: Vec<_> = found.iter().map(|spot| spot.patch.clone()).collect();
    let mask = session
        .engine()
        .patches_mask(&session.world(watch), PLATE, &patches)?;
    let size = Size::new(
        u32::try_from(mask.rect.width()).unwrap_or(0),
        u32::try_from(mask.rect.height()).unwrap_or(0),
    );
    let codes = mask.data.iter().map(|cover| unit_to_u16(*cover)).collect();
    one_plate::write_coverage(&request.output, size, codes)?;
    if let Some(path) = &request.spotted {
        let spotting = Spotting {
            patches,
            ..Spotting::default()
        };
        one_plate::add_step(&mut session, StepKind::Spotting(spotting))?;
        one_plate::write_light(path, &one_plate::picture(&session, watch)?, None)?;
    }
    Ok(SpottingReport {
        size,
        found,
        look_alikes,
    })
}
