//! The measures of the fusion table: how near a fused plate comes to a scene's truth.
#![allow(
    dead_code,
    unreachable_pub,
    missing_docs,
    missing_debug_implementations,
    clippy::allow_attributes,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::unwrap_used,
    reason = "each test file uses a part"
)]

use super::metrics::{distance_from, psnr, ssim_map};
use platebench::geometry::Rect;
use platebench::imaging::basics::blur::gaussian;
use platebench::imaging::fuse::{
    BlendPass, Coloured, DepthMap, DepthPass, FuseSettings, Fused, NoiseModel, Pieces, plain_luma,
    unveil,
};
use platebench::pixels::{Plane, Planes};

/// Frames of a focus stack with what they should give.
pub struct Stack {
    pub frames: Vec<Planes>,
    pub truth: Planes,
    /// Frame index at which each pixel is in focus; beyond the last frame is backdrop.
    pub depth: Plane,
}

/// One row of the table. Decibels on root-encoded values clipped to 0..1.
#[derive(Debug, Clone, Copy)]
pub struct Score {
    pub object: f64,
    pub flat: f64,
    pub edge: f64,
    pub backdrop: f64,
    pub ssim: f64,
    /// rms of the error low-passed by 3 px near edges, times 1000.
    pub halo: f64,
    /// Standard deviation of the high-passed error on empty backdrop, times 1000.
    pub noise: f64,
}

impl Score {
    /// The mean of several; not-a-numbers for none.
    pub fn mean(scores: &[Self]) -> Self {
        let mean = |of: fn(&Self) -> f64| scores.iter().map(of).sum::<f64>() / scores.len() as f64;
        Self {
            object: mean(|s| s.object),
            flat: mean(|s| s.flat),
            edge: mean(|s| s.edge),
            backdrop: mean(|s| s.backdrop),
            ssim: mean(|s| s.ssim),
            halo: mean(|s| s.halo),
            noise: mean(|s| s.noise),
        }
    }
}

/// The noise of a stack, from its first, middle and last frame.
pub fn noise_of(frames: &[Planes]) -> NoiseModel {
    let samples = [0, frames.len() / 2, frames.len() - 1].map(|k| NoiseModel::of_frame(&frames[k]));
    NoiseModel::quietest(&samples).unwrap()
}

/// The first pass with all frames added, which hold data everywhere.
pub fn first_pass(frames: &[Planes], noise: &NoiseModel) -> DepthPass {
    let valid = Plane::filled(frames[0].rect(), 1.0);
    let mut pass = DepthPass::new(valid.rect, frames.len(), noise);
    for (k, frame) in frames.iter().enumerate() {
        pass.add(k, &plain_luma(frame), &valid);
    }
    pass
}

/// Fuses `frames`, which hold data everywhere, with the library's two passes.
pub fn fuse(frames: &[Planes], settings: FuseSettings) -> (Fused, DepthMap) {
    let whole = vec![Plane::filled(frames[0].rect(), 1.0); frames.len()];
    fuse_parts(frames, &whole, settings)
}

/// Fuses `frames` that hold data where `valid` says.
pub fn fuse_parts(frames: &[Planes], valid: &[Plane], settings: FuseSettings) -> (Fused, DepthMap) {
    let noise = noise_of(frames);
    let rect = frames[0].rect();
    let mut pass = DepthPass::new(rect, frames.len(), &noise);
    for (k, (frame, valid)) in frames.iter().zip(valid).enumerate() {
        pass.add(k, &plain_luma(frame), valid);
    }
    let map = pass.finish();
    let mut pass = BlendPass::new(rect, &map, &noise, settings);
    for (k, (frame, valid)) in frames.iter().zip(valid).enumerate() {
        pass.add(k, frame, frame, valid);
    }
    (pass.finish(), map)
}

/// A frame that holds data everywhere.
struct Held<'a>(&'a Planes);

impl Pieces<Coloured> for Held<'_> {
    type Error = std::convert::Infallible;

    fn piece(&self, rect: Rect) -> Result<Coloured, Self::Error> {
        Ok(Coloured {
            guide: None,
            pixels: self.0.crop(rect),
        })
    }

    fn presence(&self, _rect: Rect) -> Option<Plane> {
        None
    }
}

/// The plate that was fused from `frames` with the veil of near parts taken off, as the program makes it.
pub fn without_veil(frames: &[Planes], (fused, map): (Fused, DepthMap)) -> Planes {
    let mut light = fused.planes;
    let open = |number: usize| Ok(Held(&frames[number]));
    let Ok(()) = unveil(&mut light, &map, &noise_of(frames), open);
    light
}

/// Where the measures are taken.
pub struct Zones {
    distance: Vec<f32>,
    object: Vec<bool>,
}

impl Zones {
    pub fn of(stack: &Stack) -> Self {
        let rect = stack.depth.rect;
        let edge: Vec<bool> = (0..rect.area())
            .map(|i| {
                let (x, y) = ((i % rect.width()) as i32, (i / rect.width()) as i32);
                let (mut low, mut high) = (f32::MAX, f32::MIN);
                for (dx, dy) in (-1..=1).flat_map(|dx| (-1..=1).map(move |dy| (dx, dy))) {
                    let value = stack.depth.nearest(x + dx + rect.x0, y + dy + rect.y0);
                    (low, high) = (low.min(value), high.max(value));
                }
                high - low > 1.0
            })
            .collect();
        let last = (stack.frames.len() - 1) as f32;
        Self {
            distance: distance_from(&edge, rect, 40),
            object: stack.depth.data.iter().map(|d| *d <= last).collect(),
        }
    }
}

fn encoded(planes: &Planes) -> [Plane; 3] {
    planes
        .rgb
        .each_ref()
        .map(|plane| plane.map(|v| v.clamp(0.0, 1.0).sqrt()))
}

/// Compares `result` with the truth of `stack`.
pub fn score(result: &Planes, stack: &Stack, zones: &Zones) -> Score {
    let (made, asked) = (encoded(result), encoded(&stack.truth));
    let rect: Rect = result.rect();
    let object = |i: usize| zones.object[i];
    let edge = |i: usize| zones.object[i] && zones.distance[i] < 14.0;
    let flat = |i: usize| zones.object[i] && zones.distance[i] >= 25.0;
    let beside = |i: usize| !zones.object[i] && zones.distance[i] < 20.0;
    let empty = |i: usize| !zones.object[i] && zones.distance[i] > 30.0;
    let error: Vec<Plane> = made
        .iter()
        .zip(&asked)
        .map(|(m, a)| Plane {
            rect,
            data: m.data.iter().zip(&a.data).map(|(m, a)| m - a).collect(),
        })
        .collect();
    let decibels = |zone: &dyn Fn(usize) -> bool| {
        let (mut sum, mut count) = (0.0, 0.0);
        for i in (0..rect.area()).filter(|i| zone(*i)) {
            sum += error
                .iter()
                .map(|e| f64::from(e.data[i]) * f64::from(e.data[i]))
                .sum::<f64>();
            count += 3.0;
        }
        psnr(1.0, sum / count)
    };
    let maps: Vec<Plane> = made
        .iter()
        .zip(&asked)
        .map(|(m, a)| ssim_map(m, a, 1.0))
        .collect();
    let mean = |zone: &dyn Fn(usize) -> bool, value: &dyn Fn(usize) -> f64| {
        let inside: Vec<usize> = (0..rect.area()).filter(|i| zone(*i)).collect();
        inside.iter().map(|i| value(*i)).sum::<f64>() / inside.len() as f64
    };
    let low: Vec<Plane> = error.iter().map(|e| gaussian(e, 3.0)).collect();
    let third =
        |planes: &[Plane], i: usize| planes.iter().map(|p| f64::from(p.data[i])).sum::<f64>() / 3.0;
    let near = |i: usize| edge(i) || beside(i);
    let halo = mean(&near, &|i| third(&low, i) * third(&low, i)).sqrt();
    let fine = |c: usize, i: usize| f64::from(error[c].data[i] - low[c].data[i]);
    let centre = mean(&empty, &|i| (0..3).map(|c| fine(c, i)).sum::<f64>() / 3.0);
    let spread = mean(&empty, &|i| {
        (0..3)
            .map(|c| (fine(c, i) - centre) * (fine(c, i) - centre))
            .sum::<f64>()
            / 3.0
    });
    Score {
        object: decibels(&object),
        flat: decibels(&flat),
        edge: decibels(&edge),
        backdrop: decibels(&beside),
        ssim: mean(&object, &|i| third(&maps, i)),
        halo: 1000.0 * halo,
        noise: 1000.0 * spread.sqrt(),
    }
}

impl std::fmt::Display for Score {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            out,
            "{:6.2} {:6.2} {:6.2} {:6.2}  {:.4} {:6.2} {:6.2}",
            self.object, self.flat, self.edge, self.backdrop, self.ssim, self.halo, self.noise
        )
    }
}
