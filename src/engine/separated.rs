//! The separated light of a pass as whole pictures, for writing to files and for proposing masks.

use crate::engine::adapt::{self, share};
use crate::engine::wholes::{self, Product};
use crate::engine::{Engine, EngineError, World};
use crate::geometry::{Point, Size};
use crate::imaging::basics::pyramid::halve;
use crate::imaging::lights::{self, lay};
use crate::pixels::Image;
use crate::project::{PassId, PlateId};

/// What the practicals of one pass added, and what it was found on.
#[derive(Debug, Clone)]
pub struct SeparatedLight {
    /// Width and height of all three pictures.
    pub size: Size,
    /// The light, signed, in the unlit plate's exposure.
    pub light: Image,
    /// Variance of its red, green and blue, and how much of each pixel is saturated in every frame (the light there is "at least").
    pub noise: Image,
    /// The unlit plate.
    pub unlit: Image,
    /// How much of the unlit plate's light the lit photos hold, per channel, in the unlit plate's exposure.
    pub key_rgb: [f32; 3],
}

/// Deviations of noise that light must stand out by, and least light, for it to count as added.
const STANDS_OUT: f32 = 3.0;
const LEAST_LIGHT: f32 = 2e-3;
/// Pixels of the picture that lit areas are looked for in, at most.
const MOST_LOOKED_AT: usize = 3_000_000;

impl SeparatedLight {
    /// The unlit plate with the light laid over as it was shot.
    #[must_use]
    pub fn laid_over(&self) -> Image {
        let mut lit = self.unlit.clone();
        lay::lay_over(&mut lit, &self.light, None, &lay::LaidOver::default());
        lit
    }

    /// Share of the picture, 0..=1, where the light stands out of its noise.
    #[must_use]
    pub fn added_share(&self) -> f32 {
        let pixels = self.light.data.iter().zip(&self.noise.data);
        let added = pixels.filter(|(light, noise)| {
            let light = (light[0] + light[1] + light[2]) / 3.0;
            let deviation = (noise[0] + noise[1] + noise[2]).max(0.0).sqrt() / 3.0;
            light > (STANDS_OUT * deviation).max(LEAST_LIGHT)
        });
        share(added.count(), self.light.data.len())
    }

    /// Closed lines, in the plate's reference pixels, round what the practicals light significantly, brightest first.
    #[must_use]
    pub fn lit_outlines(&self) -> Vec<Vec<Point>> {
        let (mut light, mut noise) = (self.light.clone(), self.noise.clone());
        let mut step = 1.0;
        while light.data.len() > MOST_LOOKED_AT {
            light = halve(&light);
            noise = halve(&noise);
            // The mean of four pixels holds a quarter of their variance.
            for pixel in &mut noise.data {
                *pixel = pixel.map(|value| value * 0.25);
            }
            step *= 2.0;
        }
        let areas = lights::lit_areas(&adapt::planes_of(&light), &adapt::planes_of(&noise));
        let full = |point: &Point| Point::new(point.x * step, point.y * step);
        areas
            .iter()
            .map(|area| area.outline.iter().map(full).collect())
            .collect()
    }

    /// Places where lit detail doubles because the passes do not lie on each other, worst first.
    #[must_use]
    pub fn ghosts(&self) -> Vec<lights::Ghost> {
        let unlit = adapt::luma(&adapt::planes_of(&self.unlit));
        let mut light = adapt::planes_of(&self.light);
        for (at, _) in self.known_least() {
            // What is missing from a clipped lamp is no ghost.
            light.set_pixel(at, [0.0; 3]);
        }
        lights::ghosts(&light, &adapt::planes_of(&self.noise), &unlit)
    }

    /// Share of the picture, 0..=1, that is saturated in every lit photo.
    #[must_use]
    pub fn saturated_share(&self) -> f32 {
        let marked = self.known_least().filter(|(_, mark)| *mark > 0.5);
        share(marked.count(), self.noise.data.len())
    }

    /// Pixels that are saturated in every photo, with how much of each is.
    fn known_least(&self) -> impl Iterator<Item = (usize, f32)> {
        let marks = self.noise.data.iter().map(|pixel| pixel[3]).enumerate();
        marks.filter(|(_, mark)| *mark > 0.0)
    }
}

impl Engine {
    /// The light of a pass, separated but not shrunk.
    ///
    /// # Errors
    /// When the pass was not measured, a photo cannot be read, or the work was stopped.
    pub fn separated_light(
        &self,
        world: &World<'_>,
        plate: PlateId,
        pass: PassId,
    ) -> Result<SeparatedLight, EngineError> {
        let not_prepared = || EngineError::NotPrepared(plate);
        let plate_of = world.project.plate(plate).ok_or_else(not_prepared)?;
        let light = wholes::light(&world.project, plate_of, pass)?;
        let unlit = light.unlit().ok_or_else(not_prepared)?;
        let size = plate_of.size.ok_or_else(not_prepared)?;
        let all = (0, size.rect());
        let prepare = || self.ensure_whole(world, &light);
        let (picture, noise, plain) = self.with_wholes(prepare, || {
            Ok((
                self.whole_area(world, &light, Product::Picture, all)?,
                self.whole_area(world, &light, Product::Noise, all)?,
                self.whole_area(world, unlit, Product::Picture, all)?,
            ))
        })?;
        Ok(SeparatedLight {
            size,
            light: picture,
            noise,
            unlit: plain,
            key_rgb: light.key_rgb(),
        })
    }
}
