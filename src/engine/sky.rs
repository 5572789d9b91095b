//! Made plates: the record's recipe in the terms of `imaging`, and its layers put together.

use crate::geometry::Rect;
use crate::imaging::blend::{Blend, blend_image};
use crate::imaging::made::{Air, Dust, Planet, Ring, Stars, dust, planet, stars};
use crate::pixels::Image;
use crate::project::{Made, made};

/// A recipe ready to be drawn.
#[derive(Debug, Clone)]
pub(super) struct Sky {
    background_rgb: [f32; 3],
    stars: Option<Stars>,
    dust: Option<Dust>,
    planet: Option<Planet>,
}

impl Sky {
    /// The recipe as the record has it.
    #[must_use]
    pub(super) fn new(recipe: &Made) -> Self {
        Self {
            background_rgb: recipe.background_rgb,
            stars: recipe.stars.as_ref().map(|stars| stars_of(stars, recipe)),
            dust: recipe.dust_lane.as_ref().map(dust_of),
            planet: recipe.planet.as_ref().map(planet_of),
        }
    }

    /// The sky inside `rect` at zoom level `level`: background, stars, dust over them, the planet before all.
    #[must_use]
    pub(super) fn render(&self, rect: Rect, level: u32) -> Image {
        let [red, green, blue] = self.background_rgb;
        let mut sky = Image::from_fn(rect, |_x, _y| [red, green, blue, 1.0]);
        if let Some(recipe) = &self.stars {
            blend_image(
                Blend::PlusLighter,
                1.0,
                &mut sky,
                &stars::render(recipe, rect, level),
            );
        }
        if let Some(recipe) = &self.dust {
            blend_image(
                Blend::SourceOver,
                1.0,
                &mut sky,
                &dust::render(recipe, rect, level),
            );
        }
        if let Some(recipe) = &self.planet {
            blend_image(
                Blend::SourceOver,
                1.0,
                &mut sky,
                &planet::render(recipe, rect, level),
            );
        }
        // Light was added to a solid background: coverage stays whole.
        sky.data.iter_mut().for_each(|pixel| pixel[3] = 1.0);
        sky
    }
}

fn stars_of(recipe: &made::Stars, sky: &Made) -> Stars {
    Stars {
        field_deg: recipe.view_deg,
        faintest: recipe.faintest,
        light: recipe.light,
        sigma_px: recipe.sigma_px,
        clumping: recipe.clumping,
        seed: recipe.seed,
        ..Stars::new(sky.size)
    }
}

fn dust_of(recipe: &made::DustLane) -> Dust {
    Dust {
        centre: recipe.through,
        angle_rad: recipe.direction_deg.to_radians(),
        width_px: recipe.width_px,
        cloud_px: recipe.cloud_px,
        light: recipe.light,
        kelvin: recipe.kelvin,
        opacity: recipe.opacity,
        seed: recipe.seed,
        ..Dust::default()
    }
}

fn planet_of(recipe: &made::Planet) -> Planet {
    Planet {
        centre: recipe.centre,
        radius_px: recipe.radius_px,
        key: [
            recipe.key_azimuth_deg.to_radians(),
            recipe.key_elevation_deg.to_radians(),
        ],
        light: recipe.light,
        pole_turn: recipe.pole_turn_deg.to_radians(),
        pole_tilt: recipe.pole_tilt_deg.to_radians(),
        ground: recipe.ground_rgb,
        feature: recipe.feature,
        bands: recipe.bands,
        cracks: recipe.cracks,
        air: Air {
            height: recipe.air_height,
            strength: recipe.air_light,
            colour: recipe.air_rgb,
        },
        ring: recipe.ring.as_ref().map(ring_of),
        seed: recipe.seed,
        ..Planet::default()
    }
}

fn ring_of(recipe: &made::Ring) -> Ring {
    Ring {
        inner: recipe.inner,
        outer: recipe.outer,
        depth: recipe.depth,
        colour: recipe.colour_rgb,
        forward: recipe.forward,
        ..Ring::default()
    }
}
