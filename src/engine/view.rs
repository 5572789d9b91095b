//! Pictures for the screen.

use crate::engine::frames::decoded;
use crate::engine::plate_tiles::PlatePlan;
use crate::engine::stamp::Stamp;
use crate::engine::wholes::{Product, WholePlan};
use crate::engine::{Engine, EngineError, Scratch, World, adapt};
use crate::geometry::{Point, Rect, Size, TileGrid, TileIndex};
use crate::imaging::basics::colour::{self, Gamut};
use crate::imaging::basics::pyramid;
use crate::imaging::finish;
use crate::pixels::convert::{count_f32, floor_f64};
use crate::pixels::{DisplayImage, Image, Plane, Planes, Samples};
use crate::project::{ContentHash, Fingerprint, FrameId, Plate, PlateId, Source};
use std::sync::Arc;

/// Size of a plate in reference pixels, where it is known.
#[must_use]
pub fn plate_size(plate: &Plate) -> Option<Size> {
    match &plate.variant()?.source {
        Source::Made(made) => Some(made.size),
        Source::Stack(_) => plate.size,
    }
}

/// The tiles of a picture of `size` at zoom level `level`.
#[must_use]
pub fn grid(engine: &Engine, size: Size, level: u32) -> TileGrid {
    engine.grid(size, level)
}

/// The fingerprint of a photo as it was taken.
#[must_use]
pub fn frame_stamp(content: ContentHash) -> Fingerprint {
    Stamp::new("frame").content(content).done()
}

/// A tile as 8-bit sRGB, its coverage kept.
#[must_use]
pub fn display(tile: &Image) -> DisplayImage {
    finish::display(tile, Gamut::KeepHue)
}

impl Engine {
    /// Whether all these whole pictures are there.
    pub fn is_prepared<'a>(
        &self,
        scratch: &dyn Scratch,
        wholes: impl Iterator<Item = &'a WholePlan>,
    ) -> bool {
        let mut wholes = wholes;
        wholes.all(|whole| self.has_whole(scratch, whole))
    }

    /// One tile of a photo as it was taken.
    ///
    /// # Errors
    /// When the photo cannot be read.
    pub fn frame_tile(
        &self,
        world: &World<'_>,
        frame: FrameId,
        level: u32,
        index: TileIndex,
    ) -> Result<DisplayImage, EngineError> {
        let picture = self.frame_picture(world, frame, level)?;
        let size = world.project.frame(frame).and_then(|frame| frame.size);
        let grid = self.grid(size.unwrap_or_default(), level);
        Ok(display(&picture.crop(grid.rect(index))))
    }

    /// A photo as it was taken, halved `level` times.
    ///
    /// # Errors
    /// When the photo cannot be read.
    pub fn frame_picture(
        &self,
        world: &World<'_>,
        frame: FrameId,
        level: u32,
    ) -> Result<Arc<Image>, EngineError> {
        let frame = world
            .project
            .frame(frame)
            .ok_or_else(|| EngineError::Plate {
                plate: "frame".to_owned(),
                why: "it is not in this project".to_owned(),
            })?;
        let stamp = frame.content.map(|content| {
            Stamp::new("frame level")
                .content(content)
                .number(u64::from(level))
                .done()
        });
        if let Some(kept) = stamp.and_then(|stamp| self.store.get(stamp)) {
            return Ok(kept);
        }
        let planes = decoded(world, frame)?;
        let mut picture = adapt::image_of(&planes, &Plane::filled(planes.rect(), 1.0));
        for _halving in 0..level {
            picture = pyramid::halve(&picture);
        }
        let picture = Arc::new(picture);
        if let Some(stamp) = stamp {
            self.store.put(stamp, Arc::clone(&picture));
        }
        Ok(picture)
    }

    /// Which frame of its stack is sharp at a pixel of a fused plate: counted from 0 in focus order, with fractions between
    /// frames. `None` for plates of one frame, made plates, and places outside.
    pub fn sharpest_frame(
        &self,
        world: &World<'_>,
        plan: &PlatePlan,
        (x, y): (i32, i32),
    ) -> Option<f32> {
        let whole = plan.stack_whole()?;
        let grid = self.grid(plan.size, 0);
        let index = *grid.covering(Rect::new(x, y, x + 1, y + 1)).first()?;
        let tile = self
            .whole_tile(world, whole, Product::Depth, (0, index))
            .ok()?;
        tile.rect.contains(x, y).then(|| tile.at(x, y)[0])
    }

    /// The gains that make a place of a plate's reference frame neutral: the mean of 9 x 9 pixels about `at`, reference pixels.
    ///
    /// # Errors
    /// When the plate has no frames, the place lies outside, or the frame cannot be read.
    pub fn grey_gain(
        &self,
        world: &World<'_>,
        plate: PlateId,
        at: Point,
    ) -> Result<[f32; 3], EngineError> {
        let refused = |why: &str| EngineError::Plate {
            plate: world.project.plate_name(plate).to_owned(),
            why: why.to_owned(),
        };
        let stack = world.project.plate(plate).and_then(|plate| plate.stack());
        let frame = stack.and_then(|stack| world.project.frame(stack.reference_frame()?));
        let frame = frame.ok_or_else(|| refused("it has no frames to pick grey from"))?;
        let planes = decoded(world, frame)?;
        let (x, y) = (floor_f64(at.x), floor_f64(at.y));
        let rect = Rect::new(x - 4, y - 4, x + 5, y + 5).intersect(planes.rect());
        if rect.is_empty() {
            return Err(refused("the place lies outside its frame"));
        }
        let patch = planes.crop(rect);
        let count = count_f32(rect.area());
        let mean =
            [0, 1, 2].map(|channel: usize| patch.rgb[channel].data.iter().sum::<f32>() / count);
        Ok(colour::gains_from_grey(mean))
    }
}

/// Share of a photo's pixels whose light is above a fifth of white; 0 for a photo that cannot be read as colour.
#[must_use]
pub fn bright_share(samples: &Samples) -> f32 {
    let planes = colour::Decoder::for_samples(samples)
        .and_then(|decoder| decoder.decode_planes(samples, samples.size.rect()));
    planes.map_or(0.0, |planes| {
        let luma = adapt::luma(&planes);
        adapt::share(
            luma.data.iter().filter(|light| **light > 0.2).count(),
            luma.data.len(),
        )
    })
}

/// A photo as a small picture, neither side longer than `longest` pixels; `None` for one that cannot be read as colour.
///
/// A pixel is the mean of the middle row of the block it stands for: enough to know a photo by, and quick.
#[must_use]
pub fn small(samples: &Samples, longest: u32) -> Option<DisplayImage> {
    let decoder = colour::Decoder::for_samples(samples).ok()?;
    let size = samples.size;
    let step = size.width.max(size.height).div_ceil(longest.max(1)).max(1);
    let small = Size::new((size.width / step).max(1), (size.height / step).max(1));
    let mut rgb = [0, 1, 2].map(|_channel: usize| Plane::filled(small.rect(), 0.0));
    for row in 0..small.height {
        let middle = (row * step + step / 2).min(size.height.saturating_sub(1));
        let top = i32::try_from(middle).ok()?;
        let line = Rect::new(0, top, size.rect().x1, top + 1);
        let planes = decoder.decode_planes(samples, line).ok()?;
        let width = usize::try_from(small.width).ok()?;
        let block = usize::try_from(step).ok()?;
        let start = usize::try_from(row).ok()? * width;
        for (to, from) in rgb.iter_mut().zip(&planes.rgb) {
            for (at, values) in from.data.chunks(block).take(width).enumerate() {
                to.data[start + at] = values.iter().sum::<f32>() / count_f32(values.len());
            }
        }
    }
    let planes = Planes { rgb };
    Some(display(&adapt::image_of(
        &planes,
        &Plane::filled(small.rect(), 1.0),
    )))
}
