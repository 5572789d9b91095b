//! The frames of a pass: each less its partner's key light, brackets joined, all fused by the depth of the unlit stack; and how noisy
//! the light is that comes out.

use crate::engine::frames::{self, FramePlan, LitPlan, StackPlan, TakePlan};
use crate::engine::fusing::{noise_of, step};
use crate::engine::{EngineError, World, adapt};
use crate::geometry::{Rect, Size};
use crate::imaging::fuse;
use crate::imaging::lights::{self, Exposed};
use crate::pixels::convert::count_f32;
use crate::pixels::{Image, Plane, Planes};
use std::collections::BTreeMap;

/// A pass just computed.
pub(super) struct Pass {
    /// Its light and coverage.
    pub(super) picture: Image,
    /// Variance of red, green, blue, and share of saturation; passes without key light in them have none worth keeping.
    pub(super) noise: Option<Image>,
}

/// Frames away from a pixel's depth at which a frame's noise counts half.
const NOISE_DEPTH: f32 = 0.7;

/// The frames of a pass, fused by the depth of the unlit stack.
pub(super) fn compute(
    world: &World<'_>,
    size: Size,
    stack: &StackPlan,
    (take, depth): (&TakePlan, &Image),
) -> Result<Pass, EngineError> {
    let rect = size.rect();
    let map = fuse::DepthMap {
        depth: adapt::channel(depth, 0),
        confidence: adapt::channel(depth, 1),
        sharp_share: Vec::new(),
        never_sharp_share: 0.0,
        frames: stack.frames.len(),
    };
    let noise = noise_of(world, rect, stack)?;
    let mut blend = fuse::BlendPass::new(rect, &map, &noise, adapt::fuse_settings(&stack.fuse));
    let mut sum = NoiseSum::new(rect);
    let brackets = brackets(take);
    let mut done = 0;
    for (place, lit) in &brackets {
        step(world, "separating light", done, take.frames.len())?;
        done += lit.len();
        if !take.separates {
            for lit in lit {
                let (unlit, _) = on_plate(world, (stack, *place), rect)?;
                let (light, valid) = frames::on_plate(world, &lit.frame, &stack.develop, rect)?;
                blend.add(*place, &unlit, &light, &valid);
            }
            continue;
        }
        let (light, unlit) = separated(world, (stack, *place), lit, rect)?;
        if brackets.len() > 1 {
            sum.add(&map.depth, *place, &light);
        } else {
            sum = NoiseSum::only(&light);
        }
        blend.add(*place, &unlit, &light.light, &light.valid);
    }
    let fused = blend.finish();
    Ok(Pass {
        picture: adapt::image_of(&fused.planes, &fused.coverage),
        noise: take.separates.then(|| sum.finish()),
    })
}

/// Frames with the same partner, from the longest exposure to the shortest.
fn brackets(take: &TakePlan) -> BTreeMap<usize, Vec<&LitPlan>> {
    let mut brackets: BTreeMap<usize, Vec<&LitPlan>> = BTreeMap::new();
    for lit in &take.frames {
        brackets.entry(lit.partner).or_default().push(lit);
    }
    for lit in brackets.values_mut() {
        lit.sort_by(|a, b| a.frame.gain_rgb[1].total_cmp(&b.frame.gain_rgb[1]));
    }
    brackets
}

fn partner(stack: &StackPlan, place: usize) -> &FramePlan {
    &stack.frames[place.min(stack.frames.len() - 1)]
}

fn on_plate(
    world: &World<'_>,
    (stack, place): (&StackPlan, usize),
    rect: Rect,
) -> Result<(Planes, Plane), EngineError> {
    frames::on_plate(world, partner(stack, place), &stack.develop, rect)
}

/// The light that one bracket holds over its partner, and the partner's own.
fn separated(
    world: &World<'_>,
    (stack, place): (&StackPlan, usize),
    lit: &[&LitPlan],
    rect: Rect,
) -> Result<(Exposed, Planes), EngineError> {
    let partner = partner(stack, place);
    let unlit = frames::on_plate_with_noise(world, partner, &stack.develop, rect)?;
    let mut exposed = Vec::new();
    for lit in lit {
        let mut on = frames::on_plate_with_noise(world, &lit.frame, &stack.develop, rect)?;
        on.light = lights::difference(&on.light, &unlit.light, 1.0, lit.key_rgb);
        on.valid = adapt::least(&on.valid, &unlit.valid);
        for (channel, key) in lit.key_rgb.into_iter().enumerate() {
            let pairs = on.variance.rgb[channel].data.iter_mut();
            pairs
                .zip(&unlit.variance.rgb[channel].data)
                .for_each(|(on, off)| *on += key * key * off);
        }
        if lit.key_rgb.iter().any(|key| *key > 0.0) {
            // Where the unlit frame is saturated, what is left of the key light is not known.
            let marks = on.saturated.data.iter_mut().zip(&unlit.saturated.data);
            marks.for_each(|(mark, other)| *mark = mark.max(*other));
        }
        exposed.push(on);
    }
    let merged = lights::merged(exposed).ok_or_else(|| EngineError::Plate {
        plate: partner.frame.file.clone(),
        why: "a pass has no frames: add its photos, or take what is made of it away".to_owned(),
    })?;
    Ok((merged, unlit.light))
}

/// Adds up the noise of brackets, each where its partner is sharp.
struct NoiseSum {
    sum: Image,
    weight: Vec<f32>,
}

impl NoiseSum {
    fn new(rect: Rect) -> Self {
        Self {
            sum: Image::empty(rect),
            weight: vec![0.0; rect.area()],
        }
    }

    fn only(light: &Exposed) -> Self {
        let mut one = Self::new(light.light.rect());
        one.weight.fill(1.0);
        for (at, sum) in one.sum.data.iter_mut().enumerate() {
            *sum = noise_at(light, at);
        }
        one
    }

    fn add(&mut self, depth: &Plane, place: usize, light: &Exposed) {
        let pixels = self.sum.data.iter_mut().zip(&mut self.weight);
        for (at, (sum, total)) in pixels.enumerate() {
            let off = (depth.data[at] - count_f32(place)) / NOISE_DEPTH;
            let near = off * off;
            let weight = light.valid.data[at] / (1.0 + near * near) + 1e-6;
            for (sum, value) in sum.iter_mut().zip(noise_at(light, at)) {
                *sum += weight * value;
            }
            *total += weight;
        }
    }

    fn finish(mut self) -> Image {
        for (sum, weight) in self.sum.data.iter_mut().zip(&self.weight) {
            *sum = sum.map(|value| value / weight.max(1e-6));
        }
        self.sum
    }
}

fn noise_at(light: &Exposed, at: usize) -> [f32; 4] {
    let [red, green, blue] = light.variance.pixel(at);
    [red, green, blue, light.saturated.data[at]]
}

/// Light with its noise shrunk; coverage stays.
pub(super) fn quietened((light, noise): (&Image, &Image), guide: &Image, strength: f32) -> Image {
    let guide = adapt::luma(&adapt::planes_of(guide));
    let planes: Planes = lights::shrink(
        &adapt::planes_of(light),
        &adapt::planes_of(noise),
        &guide,
        strength,
    );
    let data = light.data.iter().enumerate().map(|(at, pixel)| {
        let [red, green, blue] = planes.pixel(at);
        [red, green, blue, pixel[3]]
    });
    Image {
        rect: light.rect,
        data: data.collect(),
    }
}
