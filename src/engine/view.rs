//! Pictures for the screen.

use crate::engine::frames::decoded;
use crate::engine::stamp::Stamp;
use crate::engine::wholes::WholePlan;
use crate::engine::{Engine, EngineError, Scratch, World, adapt};
use crate::geometry::{Point, Rect, Size, TileGrid, TileIndex};
use crate::imaging::basics::colour::{self, Gamut};
use crate::imaging::basics::pyramid;
use crate::imaging::finish;
use crate::pixels::convert::{count_f32, floor_f64};
use crate::pixels::{DisplayImage, Image, Plane, Samples};
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
        let kept = stamp.and_then(|stamp| self.store.get(stamp));
        let picture = match kept {
            Some(picture) => picture,
            None => {
                let planes = decoded(world, frame)?;
                let mut picture = adapt::image_of(&planes, &Plane::filled(planes.rect(), 1.0));
                for _halving in 0..level {
                    picture = pyramid::halve(&picture);
                }
                let picture = Arc::new(picture);
                if let Some(stamp) = stamp {
                    self.store.put(stamp, Arc::clone(&picture));
                }
                picture
            }
        };
        let size = frame.size.unwrap_or_default();
        Ok(display(&picture.crop(self.grid(size, level).rect(index))))
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
