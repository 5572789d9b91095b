//! A photo (or stack) of a model before a plain backdrop to its coverage. What `matte` does.

use crate::engine::Watch;
use crate::geometry::Size;
use crate::pixels::convert::unit_to_u16;
use crate::project::{Matte, MatteMethod, PassRole, StepKind};
use crate::session::one_plate::{self, one_plate, pass};
use crate::session::{SessionError, Settings};
use std::path::PathBuf;

/// What is asked of a matte.
#[derive(Debug, Clone, PartialEq)]
pub struct MatteRequest {
    /// The photos of the model.
    pub plate: Vec<PathBuf>,
    /// Photos of the bare backdrop.
    pub clean_plate: Vec<PathBuf>,
    /// The model before another level of the backdrop, and that level bare: both or neither.
    pub other: Option<[Vec<PathBuf>; 2]>,
    /// Where the coverage goes, as 16-bit grey.
    pub output: PathBuf,
    /// Where the colour freed of the backdrop goes.
    pub foreground: Option<PathBuf>,
    /// Softness of the model's edge in px.
    pub edge_px: Option<f32>,
}

/// What came out of a matte.
#[derive(Debug, Clone, PartialEq)]
pub struct MatteReport {
    /// Size of the plate.
    pub size: Size,
    /// What the coverage was found by.
    pub backdrop: &'static str,
    /// Share of the picture that is covered at least half, 0..=1.
    pub covered_share: f32,
    /// What people should know, one sentence each.
    pub warnings: Vec<String>,
}

/// Shares of the picture beyond which a matte is hardly what was meant.
const SENSIBLE: (f32, f32) = (0.001, 0.98);
/// Share of pixels that are neither clear nor solid from which on the levels are said to be doubtful.
const MUCH_HALF: f32 = 0.2;

/// Finds the coverage of photo files and writes it.
///
/// # Errors
/// When photos cannot be read or differ in size, or a file cannot be written.
pub fn matte_files(
    request: &MatteRequest,
    settings: &Settings,
    watch: &dyn Watch,
) -> Result<MatteReport, SessionError> {
    let none = Vec::new();
    let [other, other_clean] = request
        .other
        .as_ref()
        .map_or([&none, &none], |both| both.each_ref());
    one_plate::check_outputs(
        &[Some(&request.output), request.foreground.as_ref()],
        &[&request.plate, &request.clean_plate, other, other_clean],
    )?;
    if request.other.is_some() && request.clean_plate.is_empty() {
        return Err(SessionError::Refused(
            "two backdrop levels need the bare backdrop at both: give the clean plate of the first one too".to_owned(),
        ));
    }
    let roles = [
        (PassRole::CleanPlate, &request.clean_plate),
        (PassRole::Backdrop, other),
        (PassRole::BackdropCleanPlate, other_clean),
    ];
    let passes: Vec<_> = roles
        .into_iter()
        .filter(|(_, photos)| !photos.is_empty())
        .map(|(role, photos)| (role, photos.clone()))
        .collect();
    let mut session = one_plate(&request.plate, &passes, settings, watch)?;
    let (method, backdrop) = method(request);
    one_plate::add_step(&mut session, StepKind::Matte(Matte::new(method)))?;
    let cut = one_plate::picture(&session, watch)?;
    let size = one_plate::size_of(&cut);
    let codes = cut.data.iter().map(|pixel| unit_to_u16(pixel[3])).collect();
    one_plate::write_coverage(&request.output, size, codes)?;
    if let Some(path) = &request.foreground {
        one_plate::write_light(path, &cut, None)?;
    }
    let share = |counts: fn(f32) -> bool| {
        let count = cut.data.iter().filter(|pixel| counts(pixel[3])).count();
        crate::pixels::convert::count_f32(count)
            / crate::pixels::convert::count_f32(cut.data.len().max(1))
    };
    let covered_share = share(|cover| cover >= 0.5);
    let half_share = share(|cover| (0.05..0.95).contains(&cover));
    Ok(MatteReport {
        size,
        backdrop,
        covered_share,
        warnings: warnings(covered_share, half_share),
    })
}

fn method(request: &MatteRequest) -> (MatteMethod, &'static str) {
    if request.other.is_some() {
        let method = MatteMethod::TwoLevels {
            clean: pass(0),
            other: pass(1),
            other_clean: pass(2),
        };
        return (method, "two levels");
    }
    let clean = (!request.clean_plate.is_empty()).then_some(pass(0));
    let mut method = MatteMethod::plain(clean);
    if let (MatteMethod::Plain { edge_px, .. }, Some(asked)) = (&mut method, request.edge_px) {
        *edge_px = asked;
    }
    let word = if clean.is_some() {
        "clean plate"
    } else {
        "guessed from the border"
    };
    (method, word)
}

fn warnings(covered_share: f32, half_share: f32) -> Vec<String> {
    let mut warnings = Vec::new();
    if covered_share < SENSIBLE.0 {
        warnings.push(
            "hardly anything is covered: does the model stand out of the backdrop at all?"
                .to_owned(),
        );
    }
    if covered_share > SENSIBLE.1 {
        warnings.push(
            "nearly everything is covered: is the backdrop as in the clean plate, and does it show all round the model?"
                .to_owned(),
        );
    }
    if half_share > MUCH_HALF {
        warnings.push(
            "much of the picture is half covered: the light changed between the photos, or the backdrop's levels are too much alike"
                .to_owned(),
        );
    }
    warnings
}
