//! Recipes of made plates: numbers and seeds only.

use crate::geometry::{Point, Size};
use serde::{Deserialize, Serialize};

/// A sky computed from a recipe: stars, a dust lane, a planet with a ring, each optional.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Made {
    /// Size of the plate in pixels.
    pub size: Size,
    /// Light of empty sky: red, green, blue, linear.
    #[serde(default)]
    pub background_rgb: [f32; 3],
    /// Stars.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stars: Option<Stars>,
    /// A band of faint dust.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dust_lane: Option<DustLane>,
    /// A planet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub planet: Option<Planet>,
}

/// A field of stars whose counts follow those of the real sky.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stars {
    /// The same seed gives the same stars.
    pub seed: u64,
    /// Horizontal field of view in degrees, 1..=120: sets how many there are.
    pub view_deg: f64,
    /// Faintest magnitude shown, up to 10.
    pub faintest: f64,
    /// Light of a star of magnitude 0, summed over its pixels.
    pub light: f32,
    /// Standard deviation of a star's image in pixels, at least 0.5.
    pub sigma_px: f32,
    /// Unevenness of the field, 0 (even) ..= 1.
    #[serde(default)]
    pub clumping: f32,
}

/// A band of faint starlight with dust in front of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DustLane {
    /// The same seed gives the same dust.
    pub seed: u64,
    /// A point on its middle line.
    pub through: Point,
    /// Direction of its middle line, degrees clockwise from the right.
    pub direction_deg: f64,
    /// Half width at which its light has fallen to about a third, in pixels.
    pub width_px: f32,
    /// Size of the largest clouds in pixels.
    pub cloud_px: f32,
    /// Linear light at its brightest; 0.01 to 0.03 is a night sky.
    pub light: f32,
    /// Colour temperature where it is clear and where dust reddens it, in kelvin.
    pub kelvin: [f64; 2],
    /// Coverage of the darkest dust, 0..=1.
    pub opacity: f32,
}

/// A planet lit by the scene's key light.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Planet {
    /// The same seed gives the same surface.
    pub seed: u64,
    /// Where its middle lies.
    pub centre: Point,
    /// Radius in pixels.
    pub radius_px: f32,
    /// Direction to the key light: degrees from the camera's axis to the right; 180 is from behind.
    pub key_azimuth_deg: f64,
    /// Direction to the key light: degrees up.
    pub key_elevation_deg: f64,
    /// Linear light of a white surface facing the key.
    pub light: f32,
    /// Turn of its pole in the picture, degrees clockwise from straight up.
    pub pole_turn_deg: f64,
    /// Tilt of its pole towards the camera in degrees; opens the ring.
    pub pole_tilt_deg: f64,
    /// Colours of bright ground, dark ground and cracks: shares of light thrown back.
    pub ground_rgb: [[f32; 3]; 3],
    /// Size of the largest features in radii.
    pub feature: f32,
    /// Banding along latitude, 0..=1.
    pub bands: f32,
    /// Strength of cracks, 0..=1.
    pub cracks: f32,
    /// Height over which its air thins to a third, in radii; 0.01 is thin.
    pub air_height: f32,
    /// Light of the bright rim of air as a share of the key light.
    pub air_light: f32,
    /// Colour of its air.
    pub air_rgb: [f32; 3],
    /// Its ring.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ring: Option<Ring>,
}

/// A planet's ring, in the plane of its equator.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Ring {
    /// Inner edge in planet radii, above 1.
    pub inner: f32,
    /// Outer edge in planet radii.
    pub outer: f32,
    /// Optical depth of its densest parts, seen straight on.
    pub depth: f32,
    /// Colour.
    pub colour_rgb: [f32; 3],
    /// How much of the light goes on forwards, 0..=0.9.
    pub forward: f32,
}
