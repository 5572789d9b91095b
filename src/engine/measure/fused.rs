//! A fused stack with everything that is reported about it.

use crate::engine::fusing::{LastDepth, fuse_stack, unveil};
use crate::engine::{Engine, EngineError, World, adapt, frames};
use crate::geometry::{Rect, Size};
use crate::imaging::match_colour::steadiness;
use crate::pixels::convert::{count_f32, index, unit_to_u16};
use crate::pixels::{Image, Plane, Planes};
use crate::project::{FrameMeasured, PlateId, Project, SensorDust, StackMeasured, VariantId};
use std::sync::Arc;

/// A fused stack, for writing to files.
#[derive(Debug)]
pub struct FusedPlate {
    /// Width and height.
    pub size: Size,
    /// Its light.
    pub light: Planes,
    /// Frame number in focus order, fractional.
    pub depth: Plane,
    /// The frame each pixel mostly came from.
    pub frame_map: Plane,
    /// Number of frames.
    pub frames: usize,
    /// Share of the textured picture that is sharp in no frame.
    pub never_sharp_share: f32,
    /// What people should know, one sentence each.
    pub warnings: Vec<String>,
}

impl FusedPlate {
    /// The light of the rows from `top` to before `bottom`, solid.
    #[must_use]
    pub fn rows(&self, top: i32, bottom: i32) -> Image {
        let whole = self.size.rect();
        let rect = Rect::new(whole.x0, top, whole.x1, bottom).intersect(whole);
        adapt::image_of(&self.light.crop(rect), &Plane::filled(rect, 1.0))
    }

    /// The depth map as 16-bit codes: 0 the first frame, 65535 the last.
    #[must_use]
    pub fn depth_codes(&self) -> Vec<u16> {
        let last = count_f32(self.frames.saturating_sub(1).max(1));
        self.depth
            .data
            .iter()
            .map(|depth| unit_to_u16(depth / last))
            .collect()
    }

    /// The frame map as 8-bit codes: the frame's number in focus order.
    #[must_use]
    pub fn frame_codes(&self) -> Vec<u8> {
        self.frame_map
            .data
            .iter()
            .map(|frame| u8::try_from(index(*frame, 255)).unwrap_or(u8::MAX))
            .collect()
    }
}

/// Neighbour residual in px above which a stack's registration is said to be doubtful (algorithm notes: 0.2 px warns).
const RESIDUAL_WARNS_PX: f32 = 0.35;

impl Engine {
    /// Fuses a measured source with everything that `fuse` reports.
    ///
    /// # Errors
    /// When a frame cannot be read; or the work was stopped.
    pub fn fuse_plate(
        &self,
        world: &World<'_>,
        plate: PlateId,
        variant: VariantId,
    ) -> Result<FusedPlate, EngineError> {
        let project = &world.project;
        let not_prepared = || EngineError::NotPrepared(plate);
        let plate_of = project.plate(plate).ok_or_else(not_prepared)?;
        let variant = plate_of.variant_by_id(variant).ok_or_else(not_prepared)?;
        let size = plate_of.size.ok_or_else(not_prepared)?;
        let plan = frames::stack_plan(project, plate_of, variant)?;
        let mut fused = fuse_stack(world, size, &plan, &LastDepth::default())?;
        if plan.fuse.unveil {
            unveil(world, &plan, &fused.map, &mut fused.planes)?;
        }
        let measured = variant.stack().and_then(|stack| stack.measured.as_ref());
        let warnings = measured
            .map(|measured| warnings(project, measured))
            .unwrap_or_default();
        Ok(FusedPlate {
            size,
            light: fused.planes,
            never_sharp_share: fused.map.never_sharp_share,
            depth: Arc::unwrap_or_clone(fused.map).depth,
            frame_map: fused.frame_map,
            frames: plan.frames.len(),
            warnings,
        })
    }
}

fn warnings(project: &Project, measured: &StackMeasured) -> Vec<String> {
    let name = |frame: &FrameMeasured| {
        project
            .frame(frame.frame)
            .map_or("?", |frame| frame.file.as_str())
            .to_owned()
    };
    let badly = measured
        .frames
        .iter()
        .filter(|frame| frame.residual_px > RESIDUAL_WARNS_PX);
    let hot = mended(&measured.hot_pixels);
    let light = light_findings(measured, &name);
    badly
        .map(|frame| {
            format!(
                "{} is registered to {:.2} px only: did the camera or the model move?",
                name(frame),
                frame.residual_px
            )
        })
        .chain(light)
        .chain(hot)
        .chain(lifted(&measured.dust))
        .collect()
}

/// Change of light from which on it is told: a fiftieth of a stop, 1.4 per cent (algorithm notes, section 4).
const UNSTEADY_STOPS: f32 = 0.02;

/// What is said of light that did not stay the same over the stack.
fn light_findings(
    measured: &StackMeasured,
    name: &dyn Fn(&FrameMeasured) -> String,
) -> Vec<String> {
    let stops = |of: fn([f32; 3]) -> f32| -> Vec<f32> {
        let gains = measured.frames.iter().map(|frame| frame.gain_rgb);
        gains.map(|gain| -of(gain.map(libm::log2f))).collect()
    };
    let light = steadiness(&stops(|[red, green, blue]| (red + green + blue) / 3.0));
    let colour = steadiness(&stops(|[red, _, blue]| red - blue));
    let share = |stops: f32| 100.0 * (libm::exp2f(stops.abs()) - 1.0);
    let mut said = Vec::new();
    if light.drift.abs() > UNSTEADY_STOPS {
        said.push(format!(
            "the light {} by {:.1} % from the first frame to the last; that was evened out",
            if light.drift > 0.0 { "rose" } else { "fell" },
            share(light.drift)
        ));
    }
    if colour.drift.abs() > UNSTEADY_STOPS {
        said.push(format!(
            "the light grew {} from the first frame to the last, by {:.1} % of red over blue; that was evened out",
            if colour.drift > 0.0 { "warmer" } else { "cooler" },
            share(colour.drift)
        ));
    }
    let departs = |at: usize| light.departures[at].abs().max(colour.departures[at].abs());
    let mut apart: Vec<usize> = (0..measured.frames.len())
        .filter(|at| departs(*at) > UNSTEADY_STOPS)
        .collect();
    apart.sort_by(|a, b| departs(*b).total_cmp(&departs(*a)));
    if let Some(worst) = apart.first().copied() {
        let (light, colour) = (light.departures[worst], colour.departures[worst]);
        let (by, what) = if light.abs() >= colour.abs() {
            (light, if light > 0.0 { "brighter" } else { "darker" })
        } else {
            (colour, if colour > 0.0 { "warmer" } else { "cooler" })
        };
        let name = name(&measured.frames[worst]);
        let others = match apart.len() - 1 {
            0 => String::new(),
            1 => ", and 1 other frame departs too".to_owned(),
            others => format!(", and {others} other frames depart too"),
        };
        said.push(format!(
            "{name} is {:.1} % {what} than the frames around it{others}; that was evened out: does a lamp flicker?",
            share(by)
        ));
    }
    said
}

/// What is said of dust on the sensor.
fn lifted(dust: &[SensorDust]) -> Option<String> {
    let deepest = dust.iter().max_by(|a, b| a.loss[0].total_cmp(&b.loss[0]))?;
    let (x, y) = (deepest.at.x, deepest.at.y);
    let shadow = format!(
        "at ({x:.0}, {y:.0}), where it takes {:.1} % of the light",
        100.0 * deepest.loss[0]
    );
    Some(if dust.len() == 1 {
        format!("the shadow of 1 grain of dust on the sensor was lifted, {shadow}")
    } else {
        format!(
            "the shadows of {} grains of dust on the sensor were lifted, the deepest {shadow}: clean the sensor before the next stack",
            dust.len()
        )
    })
}

/// What is said of hot pixels.
fn mended(places: &[[u32; 2]]) -> Option<String> {
    let [x, y] = places.first()?;
    Some(if places.len() == 1 {
        format!("1 hot pixel of the sensor was mended, at ({x}, {y})")
    } else {
        format!(
            "{} hot pixels of the sensor were mended, the first at ({x}, {y})",
            places.len()
        )
    })
}
