//! Pass 2: adding up the pyramids of all frames with soft weights.

use super::band::Band;
use super::fill::{continued, is_complete};
use super::noise::{NoiseModel, rooted};
use super::{DepthMap, FuseSettings};
use crate::geometry::Rect;
use crate::imaging::basics::blur::gaussian;
use crate::imaging::basics::pyramid::{Pyramid, collapse, reduce};
use crate::pixels::convert::{coordinate, count_f32};
use crate::pixels::{Plane, Planes};
use rayon::prelude::*;

/// Weight of a frame far outside the depth window.
const WINDOW_FLOOR: f32 = 1e-6;
/// Smallest weight of a pixel that lies on its frame at all.
const LEAST_PRESENCE: f32 = 1e-3;
/// Sigma in pixels over which a frame's weight falls towards its border.
const FEATHER_PX: f32 = 8.0;

/// A finished fusion.
#[derive(Debug, Clone, PartialEq)]
pub struct Fused {
    /// The plate in linear light; black where no frame holds data.
    pub planes: Planes,
    /// 0 where no frame holds data, 1 where one does.
    pub coverage: Plane,
    /// The frame that weighs most in the finest band of each pixel.
    pub frame_map: Plane,
}

/// The second pass over a focus stack. Hand in the frames with [`BlendPass::add`] in the order of the first pass.
#[derive(Debug)]
pub struct BlendPass {
    rect: Rect,
    settings: FuseSettings,
    noise: NoiseModel,
    depth: Plane,
    /// 1 / (256 * 2 * sigma squared) of the depth window.
    narrowness: Vec<f32>,
    levels: Vec<Level>,
    range: Vec<Range>,
    best: Vec<(f32, f32)>,
    coverage: Plane,
    first: Option<Frame>,
    added: usize,
}

/// One level of the plate's pyramid while it is added up.
#[derive(Debug)]
pub(super) struct Level {
    rect: Rect,
    pub(super) sums: [Vec<f32>; 3],
    pub(super) weight: Vec<f32>,
}

/// Least and most of red, green and blue over the frames.
#[derive(Debug, Clone, Copy)]
struct Range {
    low: [f32; 3],
    high: [f32; 3],
}

#[derive(Debug)]
struct Frame {
    k: usize,
    guide: Planes,
    pixels: Planes,
    valid: Plane,
}

impl BlendPass {
    /// A pass over the pixels of `rect`, which is that of `map`.
    #[must_use]
    pub fn new(rect: Rect, map: &DepthMap, noise: &NoiseModel, settings: FuseSettings) -> Self {
        let settings = settings.in_range();
        let area = rect.area();
        let narrowness = map.confidence.data.iter().map(|sure| {
            let sigma = settings.depth_width + settings.doubt_width * (1.0 - sure);
            1.0 / (512.0 * sigma * sigma)
        });
        Self {
            rect,
            settings,
            noise: *noise,
            depth: map.depth.clone(),
            narrowness: narrowness.collect(),
            levels: Vec::new(),
            range: Vec::new(),
            best: Vec::new(),
            coverage: Plane {
                rect,
                data: vec![0.0; area],
            },
            first: None,
            added: 0,
        }
    }

    /// Adds frame `k`. The weights come from `guide`; what is blended is `pixels`. For a plate both are the frame. For a light pass the
    /// pixels are the differences lit - unlit and the guide is the unlit frame, so that the light falls on the plate it belongs to.
    /// `valid` says how much of each pixel lies on the frame. All cover the rectangle of the pass.
    pub fn add(&mut self, k: usize, guide: &Planes, pixels: &Planes, valid: &Plane) {
        self.added += 1;
        if self.added == 1 {
            // A stack of one frame must come out bit for bit, so the first frame waits for a second.
            self.first = Some(Frame {
                k,
                guide: guide.clone(),
                pixels: pixels.clone(),
                valid: valid.clone(),
            });
            return;
        }
        if let Some(first) = self.first.take() {
            self.start();
            self.blend(first.k, &first.guide, &first.pixels, &first.valid);
        }
        self.blend(k, guide, pixels, valid);
    }

    fn start(&mut self) {
        let area = self.rect.area();
        self.range = vec![
            Range {
                low: [f32::INFINITY; 3],
                high: [f32::NEG_INFINITY; 3],
            };
            area
        ];
        self.best = vec![(0.0, 0.0); area];
    }

    fn blend(&mut self, k: usize, guide: &Planes, pixels: &Planes, valid: &Plane) {
        let complete = is_complete(valid);
        let levels = self.settings.levels;
        let whole = |plane: &Plane| {
            if complete {
                plane.clone()
            } else {
                continued(plane, valid)
            }
        };
        let offset = self.noise.offset;
        let mut roots = guide
            .rgb
            .each_ref()
            .map(|plane| rooted(&whole(plane), offset));
        let mut pixels = pixels.rgb.each_ref().map(whole);
        self.widen_range(&pixels, valid);
        let presence = (!complete).then(|| feathered(valid));
        let mut window = self.window(k, presence.as_ref());
        for level in 0..=levels {
            if self.levels.len() == level {
                self.levels.push(Level::new(window.rect));
            }
            if level == levels || pixels[0].rect.area() < 2 {
                self.levels[level].add_rest(&pixels, &window);
                if level == 0 {
                    self.note_best(k, &window);
                }
                return;
            }
            let band = Band {
                smaller: pixels.each_ref().map(reduce),
                smaller_roots: roots.each_ref().map(reduce),
                pixels,
                roots,
                window: &window,
                level,
                frame: count_f32(k),
            };
            let best = (level == 0).then_some(&mut self.best[..]);
            band.add_to(
                &mut self.levels[level],
                best,
                self.settings.detail,
                &self.noise,
            );
            (pixels, roots) = (band.smaller, band.smaller_roots);
            window = reduce(&window);
        }
    }

    /// The depth window of frame `k` times how much of each pixel lies on the frame: 1 at the depth found, falling like a Gaussian
    /// (as the 256th power of a parabola, which needs no exponential).
    fn window(&self, k: usize, presence: Option<&Plane>) -> Plane {
        let at = count_f32(k);
        let mut out = Plane::zero(self.rect);
        let width = self.rect.width().max(1);
        out.data
            .par_chunks_mut(width)
            .zip(self.depth.data.par_chunks(width))
            .zip(self.narrowness.par_chunks(width))
            .for_each(|((out, depth), narrowness)| {
                for ((value, depth), narrowness) in out.iter_mut().zip(depth).zip(narrowness) {
                    let off = depth - at;
                    let mut bell = (1.0 - off * off * narrowness).max(0.0);
                    for _ in 0..8 {
                        bell *= bell;
                    }
                    *value = bell + WINDOW_FLOOR;
                }
            });
        if let Some(presence) = presence {
            let pairs = out.data.iter_mut().zip(&presence.data);
            pairs.for_each(|(value, present)| *value *= present);
        }
        out
    }

    fn widen_range(&mut self, pixels: &[Plane; 3], valid: &Plane) {
        let width = self.rect.width().max(1);
        let [red, green, blue] = pixels;
        let colours = red
            .data
            .par_chunks(width)
            .zip(green.data.par_chunks(width))
            .zip(blue.data.par_chunks(width));
        self.range
            .par_chunks_mut(width)
            .zip(colours)
            .zip(valid.data.par_chunks(width))
            .for_each(|((range, ((red, green), blue)), valid)| {
                let colours = red.iter().zip(green).zip(blue);
                for ((range, ((r, g), b)), present) in range.iter_mut().zip(colours).zip(valid) {
                    if *present > 0.5 {
                        range.include([*r, *g, *b]);
                    }
                }
            });
        for (covered, present) in self.coverage.data.iter_mut().zip(&valid.data) {
            *covered = covered.max(*present);
        }
    }

    fn note_best(&mut self, k: usize, window: &Plane) {
        let frame = count_f32(k);
        for (best, weight) in self.best.iter_mut().zip(&window.data) {
            if *weight > best.0 {
                *best = (*weight, frame);
            }
        }
    }

    /// The plate: the weighted bands added up, held within the range that the frames span in the 3 x 3 pixels around each pixel. A
    /// single frame comes out bit for bit; without frames everything is empty.
    #[must_use]
    pub fn finish(self) -> Fused {
        if let Some(only) = self.first {
            let frame_map = Plane::filled(self.rect, count_f32(only.k));
            return Fused {
                planes: only.pixels,
                coverage: only.valid,
                frame_map,
            };
        }
        let mut planes = Planes::zero(self.rect);
        for (channel, plane) in planes.rgb.iter_mut().enumerate() {
            let levels = self.levels.iter().map(|level| level.mean(channel));
            let pyramid = Pyramid {
                levels: levels.collect(),
            };
            if self.added > 0 {
                let data = collapse(pyramid).data;
                *plane = hold(data, &self.range, channel, self.rect);
            }
        }
        for (index, covered) in self.coverage.data.iter().enumerate() {
            if *covered <= 0.0 {
                planes.set_pixel(index, [0.0; 3]);
            }
        }
        Fused {
            planes,
            coverage: self.coverage,
            frame_map: Plane {
                rect: self.rect,
                data: self.best.iter().map(|best| best.1).collect(),
            },
        }
    }
}

impl Range {
    fn include(&mut self, colour: [f32; 3]) {
        for ((low, high), value) in self.low.iter_mut().zip(&mut self.high).zip(colour) {
            *low = low.min(value);
            *high = high.max(value);
        }
    }
}

impl Level {
    fn new(rect: Rect) -> Self {
        let zero = || vec![0.0; rect.area()];
        Self {
            rect,
            sums: [zero(), zero(), zero()],
            weight: zero(),
        }
    }

    /// Adds the low-pass rest of a frame, which counts by its window alone.
    fn add_rest(&mut self, pixels: &[Plane; 3], window: &Plane) {
        for (at, window) in window.data.iter().enumerate() {
            let weight = window * window;
            for (sums, plane) in self.sums.iter_mut().zip(pixels) {
                sums[at] += weight * plane.data[at];
            }
            self.weight[at] += weight;
        }
    }

    fn mean(&self, channel: usize) -> Plane {
        let pairs = self.sums[channel].iter().zip(&self.weight);
        Plane {
            rect: self.rect,
            data: pairs.map(|(sum, w)| sum / w.max(1e-35)).collect(),
        }
    }
}

/// `data` held within the range of the 3 x 3 pixels around.
fn hold(mut data: Vec<f32>, range: &[Range], channel: usize, rect: Rect) -> Plane {
    let (width, height) = (rect.width(), rect.height());
    data.par_chunks_mut(width.max(1))
        .enumerate()
        .for_each(|(y, row)| {
            let rows = [y.saturating_sub(1), y, (y + 1).min(height - 1)];
            let column = |x: usize| {
                let mut span = (f32::INFINITY, f32::NEG_INFINITY);
                for y in rows {
                    let range = &range[y * width + x];
                    span.0 = span.0.min(range.low[channel]);
                    span.1 = span.1.max(range.high[channel]);
                }
                span
            };
            let columns: Vec<(f32, f32)> = (0..width).map(column).collect();
            for (x, value) in row.iter_mut().enumerate() {
                let (left, right) = (
                    columns[x.saturating_sub(1)],
                    columns[(x + 1).min(width - 1)],
                );
                let low = columns[x].0.min(left.0).min(right.0);
                let high = columns[x].1.max(left.1).max(right.1);
                if low <= high {
                    *value = value.clamp(low, high);
                }
            }
        });
    Plane { rect, data }
}

/// How much a frame counts: falling to nearly nothing towards its border, and nothing outside.
fn feathered(valid: &Plane) -> Plane {
    let (width, height) = (valid.rect.width(), valid.rect.height());
    // The frame ends at the picture's border only if its data do: the border itself is mirrored and so draws no feather.
    let local = Rect::new(0, 0, coordinate(width), coordinate(height));
    let inside = Plane {
        rect: local,
        data: valid
            .data
            .iter()
            .map(|present| if *present >= 1.0 { 1.0 } else { 0.0 })
            .collect(),
    };
    let mut out = gaussian(&inside, FEATHER_PX);
    out.rect = valid.rect;
    for (value, present) in out.data.iter_mut().zip(&valid.data) {
        *value = (2.0 * *value - 1.0).clamp(0.0, 1.0).max(LEAST_PRESENCE) * present;
    }
    out
}
