//! Pass 2: adding up the pyramids of all frames with soft weights.

use super::band::{Band, Rows, Weighing};
use super::finest::{BandRows, Below, Finest};
use super::noise::NoiseModel;
use super::pieces::{Coloured, Pieces, ROWS, Whole, pieces_of};
use super::range::Range;
use super::room::filled;
use super::window::Window;
use super::{DepthMap, FuseSettings};
use crate::geometry::Rect;
use crate::imaging::basics::blur::gaussian_taps;
use crate::imaging::basics::pyramid::{Pyramid, collapse, reduce, smaller};
use crate::imaging::basics::wide::wide;
use crate::pixels::convert::{coordinate, count_f32};
use crate::pixels::{Plane, Planes};
use rayon::prelude::*;

/// Rows of the smaller levels that one thread works on at a time; no value depends on it.
const LEVEL_ROWS: usize = 32;

/// Pixels that one thread finishes at a time; no value depends on it.
const RUN: usize = 1 << 14;

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
pub struct BlendPass<'a> {
    rect: Rect,
    settings: FuseSettings,
    noise: NoiseModel,
    map: &'a DepthMap,
    levels: Vec<Level>,
    range: Range,
    best: Vec<f32>,
    best_frame: Vec<u16>,
    coverage: Plane,
    next: Next,
    first: Option<Frame>,
    added: usize,
}

/// One level of the plate's pyramid while it is added up.
#[derive(Debug)]
struct Level {
    rect: Rect,
    sums: [Vec<f32>; 3],
    weight: Vec<f32>,
}

/// The frame at hand at the first smaller level.
#[derive(Debug, Default)]
struct Next {
    pixels: Vec<Plane>,
    roots: Vec<Plane>,
    window: Option<Plane>,
}

#[derive(Debug)]
struct Frame {
    k: usize,
    pixels: Planes,
    valid: Plane,
}

impl<'a> BlendPass<'a> {
    /// A pass over the pixels of `rect`, which is that of `map`.
    #[must_use]
    pub fn new(rect: Rect, map: &'a DepthMap, noise: &NoiseModel, settings: FuseSettings) -> Self {
        Self {
            rect,
            settings: settings.in_range(),
            noise: *noise,
            map,
            levels: Vec::new(),
            range: Range::default(),
            best: Vec::new(),
            best_frame: Vec::new(),
            coverage: Plane::zero(rect),
            next: Next::default(),
            first: None,
            added: 0,
        }
    }

    /// Adds frame `k`. The weights come from `guide`; what is blended is `pixels`. For a plate both are the frame. For a light pass the
    /// pixels are the differences lit - unlit and the guide is the unlit frame, so that the light falls on the plate it belongs to.
    /// `valid` says how much of each pixel lies on the frame. All cover the rectangle of the pass.
    pub fn add(&mut self, k: usize, guide: &Planes, pixels: &Planes, valid: &Plane) {
        // A stack of one frame must come out bit for bit, so the first frame is kept until a second comes.
        self.first = (self.added == 0).then(|| Frame {
            k,
            pixels: pixels.clone(),
            valid: valid.clone(),
        });
        let whole = Whole {
            guide,
            pixels,
            valid,
        };
        let Ok(()) = self.add_pieces(k, &whole);
    }

    /// The same with frame `k` asked for piece by piece. A single frame added this way comes out within rounding.
    ///
    /// # Errors
    /// When a piece cannot be had; the pass is of no use then.
    pub fn add_pieces<E: Send>(
        &mut self,
        k: usize,
        frame: &impl Pieces<Coloured, Error = E>,
    ) -> Result<(), E> {
        self.added += 1;
        if self.rect.is_empty() {
            return Ok(());
        }
        let taps = gaussian_taps(self.settings.detail);
        let levels = self.settings.levels;
        if self.levels.is_empty() {
            self.start(levels);
        }
        self.finest(k, frame, &taps)?;
        let mut pixels = std::mem::take(&mut self.next.pixels);
        let mut roots = std::mem::take(&mut self.next.roots);
        let mut window = self
            .next
            .window
            .take()
            .unwrap_or_else(|| Plane::zero(Rect::default()));
        let how = Weighing {
            taps: &taps,
            noise: &self.noise,
        };
        let last = self.levels.len() - 1;
        for (level, sums) in self.levels.iter_mut().enumerate().skip(1) {
            if level == last {
                sums.add_rest(&pixels, &window);
                break;
            }
            let smaller: Vec<Plane> = pixels.iter().map(reduce).collect();
            let smaller_roots: Vec<Plane> = roots.iter().map(reduce).collect();
            let band = Band {
                pixels: three(&pixels),
                smaller: three(&smaller),
                roots: three(&roots),
                smaller_roots: three(&smaller_roots),
                window: &window,
                level,
            };
            sums.add(&band, how);
            let next = reduce(&window);
            if level == 1 {
                self.next.pixels = std::mem::replace(&mut pixels, smaller);
                self.next.roots = std::mem::replace(&mut roots, smaller_roots);
                self.next.window = Some(std::mem::replace(&mut window, next));
            } else {
                (pixels, roots, window) = (smaller, smaller_roots, next);
            }
        }
        Ok(())
    }

    /// Makes room: the bands and the rest, fewer for small pictures.
    fn start(&mut self, bands: usize) {
        let area = self.rect.area();
        let mut rect = local(self.rect);
        loop {
            self.levels.push(Level::new(rect));
            if self.levels.len() > bands || rect.area() < 2 {
                break;
            }
            rect = smaller(rect);
        }
        self.range = Range::new(area);
        self.best = filled(0.0, area);
        self.best_frame = filled(0, area);
    }

    /// Adds the finest band of a frame, piece by piece, and leaves its first smaller level in `next`.
    #[expect(
        clippy::too_many_lines,
        reason = "one band's rows of every picture are lent out side by side"
    )]
    fn finest<E: Send>(
        &mut self,
        k: usize,
        frame: &impl Pieces<Coloured, Error = E>,
        taps: &[f32],
    ) -> Result<(), E> {
        let picture = local(self.rect);
        let (width, height) = (picture.width(), picture.height());
        let small = smaller(picture);
        if self.next.pixels.len() < 3 || self.next.window.is_none() {
            self.next.pixels = vec![Plane::zero(small); 3];
            self.next.roots = vec![Plane::zero(small); 3];
            self.next.window = Some(Plane::zero(small));
        }
        let only_level = self.levels.len() == 1;
        let work = Finest {
            picture,
            origin: self.rect,
            window: Window::new(self.map, &self.settings, k),
            how: Weighing {
                taps,
                noise: &self.noise,
            },
            only_level,
        };
        let (level, next) = (&mut self.levels[0], &mut self.next);
        let here = width * ROWS;
        let below = small.width() * ROWS / 2;
        let [red, green, blue] = level.sums.each_mut().map(|sums| sums.chunks_mut(here));
        let mut weight = level.weight.chunks_mut(here);
        let mut best = self.best.chunks_mut(here);
        let mut best_frame = self.best_frame.chunks_mut(here);
        let mut coverage = self.coverage.data.chunks_mut(here);
        let mut windows = next
            .window
            .iter_mut()
            .flat_map(|plane| plane.data.chunks_mut(below));
        let mut pixels: Vec<_> = next
            .pixels
            .iter_mut()
            .map(|p| p.data.chunks_mut(below))
            .collect();
        let mut roots: Vec<_> = next
            .roots
            .iter_mut()
            .map(|p| p.data.chunks_mut(below))
            .collect();
        let mut bands = Vec::new();
        for (range, ((red, green), blue)) in self
            .range
            .parts(here)
            .into_iter()
            .zip(red.zip(green).zip(blue))
        {
            bands.push(BandRows {
                range,
                rows: Rows {
                    sums: [red, green, blue],
                    weight: weight.next().unwrap_or_default(),
                    best: Some((
                        best.next().unwrap_or_default(),
                        best_frame.next().unwrap_or_default(),
                        u16::try_from(k).unwrap_or(u16::MAX),
                    )),
                    first: 0,
                    stride: width,
                },
                coverage: coverage.next().unwrap_or_default(),
                below: Below {
                    pixels: pixels
                        .iter_mut()
                        .map(|rows| rows.next().unwrap_or_default())
                        .collect(),
                    roots: roots
                        .iter_mut()
                        .map(|rows| rows.next().unwrap_or_default())
                        .collect(),
                    window: windows.next().unwrap_or_default(),
                    stride: small.width(),
                },
            });
        }
        bands
            .into_par_iter()
            .enumerate()
            .try_for_each(|(band, mut rows)| {
                for inner in pieces_of(band * ROWS, width, height) {
                    work.add(inner, frame, &mut rows)?;
                }
                Ok(())
            })
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
        let mut planes = Planes::zero(Rect::default());
        let mut range = self.range;
        let mut levels = self.levels;
        for (channel, plane) in planes.rgb.iter_mut().enumerate() {
            if levels.is_empty() {
                *plane = Plane::zero(self.rect);
                continue;
            }
            let means = levels.iter_mut().map(|level| level.mean(channel));
            *plane = collapse(Pyramid {
                levels: means.collect(),
            });
            range.hold(plane, channel);
            plane.rect = self.rect;
            let runs = plane.data.par_chunks_mut(RUN);
            runs.zip(self.coverage.data.par_chunks(RUN))
                .for_each(|(values, covered)| {
                    for (value, covered) in values.iter_mut().zip(covered) {
                        *value = if *covered <= 0.0 { 0.0 } else { *value };
                    }
                });
        }
        let frame_map = Plane {
            rect: self.rect,
            data: if self.best_frame.is_empty() {
                vec![0.0; self.rect.area()]
            } else {
                self.best_frame
                    .par_iter()
                    .map(|frame| f32::from(*frame))
                    .collect()
            },
        };
        Fused {
            planes,
            coverage: self.coverage,
            frame_map,
        }
    }
}

/// A rectangle of the same size at (0, 0).
fn local(rect: Rect) -> Rect {
    Rect::new(0, 0, coordinate(rect.width()), coordinate(rect.height()))
}

fn three(planes: &[Plane]) -> [&Plane; 3] {
    [&planes[0], &planes[1], &planes[2]]
}

impl Level {
    fn new(rect: Rect) -> Self {
        let zero = || filled(0.0, rect.area());
        Self {
            rect,
            sums: [zero(), zero(), zero()],
            weight: zero(),
        }
    }

    /// The level's rows in bands.
    fn rows(&mut self, width: usize) -> Vec<Rows<'_>> {
        let count = width.max(1) * LEVEL_ROWS;
        let [red, green, blue] = self.sums.each_mut().map(|sums| sums.chunks_mut(count));
        let sums = red.zip(green).zip(blue);
        sums.zip(self.weight.chunks_mut(count))
            .map(|(((red, green), blue), weight)| Rows {
                sums: [red, green, blue],
                weight,
                best: None,
                first: 0,
                stride: width,
            })
            .collect()
    }

    /// Adds a band of a frame.
    fn add(&mut self, band: &Band<'_>, how: Weighing<'_>) {
        let rect = self.rect;
        let bands = self.rows(rect.width());
        bands
            .into_par_iter()
            .enumerate()
            .for_each(|(index, mut rows)| {
                wide(
                    #[inline(always)]
                    || band.add(rows_of(rect, index), &mut rows, how),
                );
            });
    }

    /// Adds the low-pass rest of a frame, which counts by its window alone.
    fn add_rest(&mut self, pixels: &[Plane], window: &Plane) {
        let rect = self.rect;
        for (index, mut rows) in self.rows(rect.width()).into_iter().enumerate() {
            rows.add_rest(rows_of(rect, index), three(pixels), window);
        }
    }

    /// The weighted mean of a channel, whose sums are given up.
    fn mean(&mut self, channel: usize) -> Plane {
        let mut data = std::mem::take(&mut self.sums[channel]);
        data.par_chunks_mut(1 << 14)
            .zip(self.weight.par_chunks(1 << 14))
            .for_each(|(sums, weights)| {
                wide(
                    #[inline(always)]
                    || {
                        let pairs = sums.iter_mut().zip(weights);
                        pairs.for_each(|(sum, weight)| *sum /= weight.max(1e-35));
                    },
                );
            });
        Plane {
            rect: self.rect,
            data,
        }
    }
}

/// The rows of band `index` of a level.
fn rows_of(rect: Rect, index: usize) -> Rect {
    let top = coordinate(index * LEVEL_ROWS);
    Rect::new(0, top, rect.x1, (top + coordinate(LEVEL_ROWS)).min(rect.y1))
}
