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
    /// Horizontal field of view in degrees, 1..=120.
    pub view_deg: f64,
    /// Faintest magnitude shown, up to 10.
    pub faintest: f64,
    /// Linear light of the brightest pixel of a star of magnitude 0.
    pub brightness: f32,
    /// Standard deviation of a star's image in pixels, at least 0.5.
    pub sigma_px: f32,
    /// How strongly stars crowd towards the dust lane, 0..=1.
    #[serde(default)]
    pub crowding: f32,
}

/// A band of faint dust across the sky.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DustLane {
    /// The same seed gives the same dust.
    pub seed: u64,
    /// A point on its middle line.
    pub through: Point,
    /// Direction of its middle line, degrees clockwise from the right.
    pub direction_deg: f64,
    /// Standard deviation of its width in pixels.
    pub width_px: f64,
    /// Linear light at its brightest.
    pub brightness: f32,
    /// Colour: red, green, blue.
    pub colour_rgb: [f32; 3],
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
    pub radius_px: f64,
    /// Direction to the key light: degrees from the camera's axis to the right.
    pub key_azimuth_deg: f64,
    /// Direction to the key light: degrees up.
    pub key_elevation_deg: f64,
    /// Linear light of a white surface facing the key.
    pub brightness: f32,
    /// Two colours its surface mixes.
    pub colours_rgb: [[f32; 3]; 2],
    /// Thickness of its air as a share of the radius, 0..=0.2.
    pub air: f32,
    /// Colour of its air.
    pub air_rgb: [f32; 3],
    /// Its ring.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ring: Option<Ring>,
}

/// A planet's ring.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Ring {
    /// Inner edge in planet radii, above 1.
    pub inner: f64,
    /// Outer edge in planet radii.
    pub outer: f64,
    /// Tilt towards the camera in degrees: 0 edge-on, 90 open.
    pub tilt_deg: f64,
    /// Turn of its long axis in the picture, degrees clockwise.
    pub turn_deg: f64,
    /// Largest coverage, 0..=1.
    pub density: f32,
    /// Colour.
    pub colour_rgb: [f32; 3],
}
