//! The frames of a stack: focus order, registration, gains.

use super::{SATURATION, STILL, size_text, stack_stamp, step, undo};
use crate::engine::ahead::one_ahead;
use crate::engine::frames::{decoded_from, unmixing};
use crate::engine::{Engine, EngineError, World, adapt};
use crate::geometry::{Point, Similarity, Size, Transform};
use crate::imaging::inspect::{self, OnSensor};
use crate::imaging::match_colour::{self, BlockMeans};
use crate::imaging::register::{self, Found, Lens, Light, Link, Prepared, RadialFit};
use crate::pixels::Planes;
use crate::pixels::convert::narrow;
use crate::project::{Frame, FrameMeasured, PlateId, SensorDust, Stack, StackMeasured, VariantId};
use rayon::prelude::*;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Where the frames of a stack lie.
struct Registered {
    /// To the reference.
    similarities: Vec<Similarity>,
    /// What is left unexplained between each frame and its neighbour, px.
    residuals: Vec<f32>,
    /// How far the corners of each lie outside of that, px.
    radials: Vec<f64>,
}

/// A distortion that changes with focus is believed from so many standard deviations over the stack on,
const RADIAL_DEVIATIONS: f64 = 5.0;
/// and if it moves the corners by so much from end to end, px.
const RADIAL_LEAST_PX: f64 = 0.2;
/// and if it leaves at most this share of the squares that were unexplained without it: 0.67 are left of a made stack of such a lens, 0.95 of
/// the demo's barge, whose lens has none.
const RADIAL_LEAVES: f64 = 0.8;

/// One frame of a stack being measured.
struct Seen {
    frame: Arc<Frame>,
    prepared: Prepared,
    detail: inspect::BlockEnergy,
    /// Its light, at quarter size where that is enough for block means; and how many pixels of the frame one of these is wide.
    light: Planes,
    step: f64,
    /// From the working space to the channels of its file.
    unmixing: [[f32; 3]; 3],
}

/// Frames of more pixels are matched at quarter size.
const QUARTER_SIZE_PIXELS: usize = 1_000_000;

impl Engine {
    /// Registers and matches the frames of a source.
    ///
    /// # Errors
    /// When a frame cannot be read, has another size, or does not register; or the work was stopped.
    pub fn measure_stack(
        &self,
        world: &World<'_>,
        plate: PlateId,
        variant: VariantId,
    ) -> Result<StackMeasured, EngineError> {
        let project = &world.project;
        let stack = project
            .variant(plate, variant)
            .and_then(|variant| variant.stack());
        let stack = stack.ok_or(EngineError::NotPrepared(plate))?;
        let (mut seen, hot_pixels) = see_frames(world, stack)?;
        let hints: Vec<Option<f64>> = seen
            .iter()
            .map(|one| one.frame.camera.focus_distance_mm)
            .collect();
        let found = inspect::focus_order(&details(&seen), &hints);
        seen = near_first(in_order(seen, &found.order));
        let mut registered = register_stack(world, &seen, place_of_reference(stack, &seen))?;
        if let Some(order) = by_breathing(&registered.similarities) {
            seen = near_first(in_order(seen, &order));
            registered = register_stack(world, &seen, place_of_reference(stack, &seen))?;
        }
        let reference = place_of_reference(stack, &seen);
        let frames = measure_frames(world, &seen, (reference, registered))?;
        let dust = dust_of(&seen, &frames);
        Ok(StackMeasured {
            inputs: stack_stamp(project, stack),
            frames,
            hot_pixels,
            dust,
        })
    }
}

/// Where the reference frame stands: the chosen one, else number n/2.
fn place_of_reference(stack: &Stack, seen: &[Seen]) -> usize {
    let chosen = stack
        .reference
        .and_then(|id| seen.iter().position(|one| one.frame.id == id));
    chosen.unwrap_or(seen.len() / 2)
}

/// Least change of size, as a share of the typical one, between neighbours in focus for the sizes to settle the order.
const CLEAR_STEP: f64 = 0.25;
/// Typical change of size between neighbours below which a lens does not breathe enough to tell.
const LEAST_BREATHING: f64 = 2e-4;

/// The order of focus by size, where a lens that breathes makes every frame a step larger than the one before, and where that
/// order is not the one the frames stand in already.
///
/// Frames at both ends of a deep stack are sharp almost nowhere and look alike, so likeness alone may join the ends; size tells
/// them apart.
fn by_breathing(similarities: &[Similarity]) -> Option<Vec<usize>> {
    let mut order: Vec<usize> = (0..similarities.len()).collect();
    order.sort_by(|a, b| {
        similarities[*a]
            .log_scale
            .total_cmp(&similarities[*b].log_scale)
    });
    let steps: Vec<f64> = order
        .windows(2)
        .map(|pair| similarities[pair[1]].log_scale - similarities[pair[0]].log_scale)
        .collect();
    let mut sorted = steps.clone();
    sorted.sort_by(f64::total_cmp);
    let typical = *sorted.get(sorted.len() / 2)?;
    if typical < LEAST_BREATHING || *sorted.first()? < CLEAR_STEP * typical {
        return None;
    }
    let rising = order.windows(2).all(|pair| pair[0] < pair[1]);
    let falling = order.windows(2).all(|pair| pair[0] > pair[1]);
    if rising || falling {
        return None;
    }
    Some(order)
}

fn measure_frames(
    world: &World<'_>,
    seen: &[Seen],
    (reference, registered): (usize, Registered),
) -> Result<Vec<FrameMeasured>, EngineError> {
    let shares = inspect::sharp_share(&details(seen));
    let blocks = |one: &Seen, map: &Transform| {
        let map = in_small_pixels(map, one.step);
        let rect = seen[reference].light.rect();
        let size = Size::new(rect.x1.cast_unsigned(), rect.y1.cast_unsigned());
        BlockMeans::new(&one.light, &map, size, SATURATION)
    };
    let of_reference = blocks(&seen[reference], &Transform::IDENTITY);
    let begun = AtomicUsize::new(0);
    let frames = seen.par_iter().enumerate().map(|(at, one)| {
        let before = begun.fetch_add(1, Ordering::Relaxed);
        step(world, "matching the frames", before, seen.len())?;
        let mut entry = FrameMeasured {
            frame: one.frame.id,
            to_reference: Transform::IDENTITY,
            gain_rgb: [1.0; 3],
            offset_rgb: [0.0; 3],
            radial_px: registered.radials[at],
            residual_px: registered.residuals[at],
            sharp_share: shares[at],
        };
        if at != reference {
            let map = Transform::similarity(registered.similarities[at], one.prepared.centre());
            entry.to_reference = register::rounded(map);
            // In the channels of the frame's own file, where exposure and white balance were set.
            let own = &one.unmixing;
            let theirs = blocks(one, &entry.to_reference).turned(own);
            let matched = match_colour::gains(&of_reference.turned(own), &theirs);
            (entry.gain_rgb, entry.offset_rgb) = undo(&matched);
        }
        Ok(entry)
    });
    frames.collect()
}

/// The dust on the sensor that all frames show, in full-size pixels, written to what is recorded.
fn dust_of(seen: &[Seen], frames: &[FrameMeasured]) -> Vec<SensorDust> {
    let on_sensor: Vec<OnSensor<'_>> = seen
        .iter()
        .zip(frames)
        .map(|(one, entry)| OnSensor {
            light: &one.light.rgb[1],
            reference_from_frame: in_small_pixels(&entry.to_reference, one.step),
        })
        .collect();
    let step = seen.first().map_or(1.0, |one| one.step);
    let written = |value: f64, steps: f64| (value * steps).round() / steps;
    let loss = |share: f32| narrow(written(f64::from(share), 1e4));
    inspect::sensor_dust(&on_sensor)
        .into_iter()
        .map(|dust| SensorDust {
            at: Point::new(
                written(dust.at.x * step, 10.0),
                written(dust.at.y * step, 10.0),
            ),
            radius_px: narrow(written(f64::from(dust.radius_px) * step, 10.0)),
            loss: dust.loss.map(loss),
        })
        .collect()
}

/// A map between frames told in pixels that are `step` pixels wide.
fn in_small_pixels(map: &Transform, step: f64) -> Transform {
    Transform::scaling(1.0 / step, 1.0 / step)
        .after(map)
        .after(&Transform::scaling(step, step))
}

/// Reads the used frames of a stack in the order of their content, so that the order they are given in does not matter; and looks
/// for the sensor's hot pixels on the way.
fn see_frames(world: &World<'_>, stack: &Stack) -> Result<(Vec<Seen>, Vec<[u32; 2]>), EngineError> {
    let mut frames: Vec<Arc<Frame>> = stack
        .used()
        .filter_map(|id| world.project.frame(id).cloned())
        .collect();
    frames.sort_by_key(|frame| frame.content);
    let wanted = frames.first().and_then(|frame| frame.size);
    let mut seen = Vec::new();
    let mut hot = inspect::HotPixels::default();
    let photos = frames.iter().map(|frame| &**frame);
    one_ahead(world, "reading the frames", photos, |number, samples| {
        let frame = &frames[number];
        if frame.size != wanted {
            return Err(EngineError::OtherSize {
                file: frame.file.clone(),
                found: size_text(frame.size),
                wanted: size_text(wanted),
            });
        }
        let planes = decoded_from(&samples, frame)?;
        let luma = adapt::luma(&planes);
        let is_large = luma.data.len() > QUARTER_SIZE_PIXELS;
        // Side by side: parts of each are work for one thread alone.
        let (small, (prepared, detail)) = rayon::join(
            || {
                hot.add(&planes);
                is_large.then(|| match_colour::quarter_size(&planes, SATURATION))
            },
            || {
                let prepared = Prepared::new(&luma, Light::Same, SATURATION);
                (prepared, inspect::block_energy(&luma))
            },
        );
        seen.push(Seen {
            prepared,
            detail,
            light: small.unwrap_or(planes),
            step: if is_large { 4.0 } else { 1.0 },
            unmixing: unmixing(&samples, frame)?,
            frame: Arc::clone(frame),
        });
        Ok(())
    })?;
    Ok((seen, hot.finish()))
}

/// Turns a stack round that stands far end first: by the focus distances of its ends; else by when they were taken, or by their
/// names, since stacks are shot and numbered from near to far.
fn near_first(mut seen: Vec<Seen>) -> Vec<Seen> {
    if let (Some(first), Some(last)) = (seen.first(), seen.last()) {
        let distance = |one: &Seen| one.frame.camera.focus_distance_mm;
        let wrong = match (distance(first), distance(last)) {
            (Some(first), Some(last)) if first < last => false,
            (Some(first), Some(last)) if first > last => true,
            _unknown => {
                let key = |one: &Seen| (one.frame.camera.taken.clone(), one.frame.file.clone());
                key(first) > key(last)
            }
        };
        if wrong {
            seen.reverse();
        }
    }
    seen
}

fn in_order(seen: Vec<Seen>, order: &[usize]) -> Vec<Seen> {
    let mut slots: Vec<Option<Seen>> = seen.into_iter().map(Some).collect();
    order.iter().filter_map(|at| slots[*at].take()).collect()
}

/// Similarities to the reference from links between neighbours and next neighbours; the residual of each frame's own link.
fn register_stack(
    world: &World<'_>,
    seen: &[Seen],
    reference: usize,
) -> Result<Registered, EngineError> {
    let count = seen.len();
    let begun = AtomicUsize::new(0);
    let neighbours = (1..count).into_par_iter().map(|to| {
        let before = begun.fetch_add(1, Ordering::Relaxed);
        step(world, "registering the frames", before, count)?;
        let found =
            link(&seen[to - 1], &seen[to], STILL).ok_or_else(|| EngineError::NotRegistered {
                file: seen[to].frame.file.clone(),
                reference: seen[to - 1].frame.file.clone(),
            })?;
        let skip = to
            .checked_sub(2)
            .and_then(|from| link(&seen[from], &seen[to], twice(found.similarity)));
        Ok::<_, EngineError>((found, skip))
    });
    let neighbours: Vec<_> = neighbours.collect::<Result<_, _>>()?;
    let first: Vec<Found> = neighbours.iter().map(|(found, _)| *found).collect();
    let lenses: Vec<Option<Lens>> = if distorts(&first) {
        let told = neighbours.par_iter().enumerate().map(|(at, (found, _))| {
            step(world, "registering the lens", at, count)?;
            Ok(register::lens(
                &seen[at].prepared,
                &seen[at + 1].prepared,
                found,
            ))
        });
        let told = told.collect::<Result<Vec<_>, EngineError>>()?;
        if explains(&first, &told) {
            told
        } else {
            vec![None; first.len()]
        }
    } else {
        vec![None; first.len()]
    };
    let mut links = Vec::new();
    let mut residuals = vec![0.0_f32; count];
    for ((to, (found, skip)), lens) in (1..).zip(neighbours).zip(&lenses) {
        let outer = if to > reference { to } else { to - 1 };
        residuals[outer] = lens.map_or(found.residual_px, |lens| lens.residual_px);
        let to_neighbour = |back: usize, similarity: Similarity, weight: f64| Link {
            from: to,
            to: to - back,
            similarity,
            weight,
        };
        let similarity = lens.map_or(found.similarity, |lens| lens.similarity);
        links.push(to_neighbour(1, similarity, 1.0));
        // A similarity over two steps holds part of what the lens does.
        let skip = skip.filter(|_| lens.is_none());
        links.extend(skip.map(|skip| to_neighbour(2, skip.similarity, 0.25)));
    }
    Ok(Registered {
        similarities: register::solve_links(count, reference, &links),
        residuals,
        radials: radials(&lenses, reference),
    })
}

/// How far each frame's corners lie outside, against the reference, from what they do from frame to frame; written to what is recorded.
fn radials(lenses: &[Option<Lens>], reference: usize) -> Vec<f64> {
    let steps: Vec<f64> = lenses
        .iter()
        .map(|lens| lens.map_or(0.0, |lens| lens.corner_px))
        .collect();
    let rounded = |px: f64| (px * 1e4).round() / 1e4;
    let radial = |frame: usize| {
        if frame < reference {
            -steps[frame..reference].iter().sum::<f64>()
        } else {
            steps[reference..frame].iter().sum()
        }
    };
    (0..=steps.len())
        .map(|frame| rounded(radial(frame)))
        .collect()
}

/// Whether distortions leave much less unexplained than was `first`. Blur and depth move tiles too, some of them outwards: a term that fits
/// a little of that is no lens.
fn explains(first: &[Found], lenses: &[Option<Lens>]) -> bool {
    let square = |px: f32| f64::from(px) * f64::from(px);
    let before: f64 = first.iter().map(|found| square(found.residual_px)).sum();
    let Some(lenses) = lenses.iter().copied().collect::<Option<Vec<Lens>>>() else {
        return false;
    };
    let after: f64 = lenses.iter().map(|lens| square(lens.residual_px)).sum();
    after <= RADIAL_LEAVES * before
}

/// Whether the links from frame to frame tell of a distortion that changes with focus, and of more than the noise of their tiles.
fn distorts(links: &[Found]) -> bool {
    let fits: Option<Vec<RadialFit>> = links.iter().map(|link| link.radial).collect();
    let Some(fits) = fits else {
        return false;
    };
    let whole: f64 = fits.iter().map(|fit| fit.corner_px).sum();
    let variance: f64 = fits
        .iter()
        .map(|fit| fit.deviation_px * fit.deviation_px)
        .sum();
    whole.abs() > RADIAL_LEAST_PX && whole.abs() > RADIAL_DEVIATIONS * variance.sqrt()
}

/// The same motion once more.
fn twice(motion: Similarity) -> Similarity {
    let shift = Point::new(2.0 * motion.shift.x, 2.0 * motion.shift.y);
    Similarity {
        log_scale: 2.0 * motion.log_scale,
        angle_rad: 2.0 * motion.angle_rad,
        shift,
    }
}

fn link(reference: &Seen, moved: &Seen, start: Similarity) -> Option<Found> {
    register::similarity(&reference.prepared, &moved.prepared, start)
}

fn details(seen: &[Seen]) -> Vec<inspect::BlockEnergy> {
    seen.iter().map(|one| one.detail.clone()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn size_settles_an_order_whose_ends_were_joined() {
        let sized = |step: f64| Similarity {
            log_scale: 0.003 * step,
            ..STILL
        };
        let stood = [5.0, 6.0, 7.0, 0.0, 1.0, 2.0, 3.0, 4.0].map(sized);
        let order = by_breathing(&stood).unwrap();
        let steps: Vec<f64> = order
            .iter()
            .map(|at| (stood[*at].log_scale / 0.003).round())
            .collect();
        assert!(
            steps.is_sorted() || steps.iter().rev().is_sorted(),
            "{steps:?}"
        );
        let right = [0.0, 1.0, 2.0, 3.0].map(sized);
        assert_eq!(by_breathing(&right), None, "nothing to change");
        assert_eq!(
            by_breathing(&[0.0, 0.0, 0.0].map(sized)),
            None,
            "a lens that does not breathe"
        );
    }
}
