//! Where a plate lies in the scene and how it goes over what is behind it.

use crate::geometry::{Point, Rect, Similarity, Size, Transform};
use crate::project::stack::{is_yes, yes};
use crate::project::{PlacementId, PlateId};
use serde::{Deserialize, Serialize};

/// One plate in the scene; a plate may be placed several times.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Placement {
    /// Its number in this project.
    pub id: PlacementId,
    /// What people call it.
    pub name: String,
    /// Which plate.
    pub plate: PlateId,
    /// Where.
    pub placing: Placing,
    /// How it goes over what is behind it.
    #[serde(default)]
    pub blend: Blend,
    /// How strongly, 0..=1.
    #[serde(default = "full")]
    pub strength: f32,
    /// Whether it is seen.
    #[serde(default = "yes", skip_serializing_if = "is_yes")]
    pub visible: bool,
    /// Distance from the camera in the scene's own metres, for reading and sorting; order in the scene is what counts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub distance_m: Option<f64>,
}

/// Where a plate lies on the canvas.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Placing {
    /// Size and turn about the plate's middle.
    Upright {
        /// Where the plate's middle lies on the canvas.
        centre: Point,
        /// Canvas pixels per plate pixel, above 0.
        scale: f64,
        /// Clockwise as seen, in degrees.
        turn_deg: f64,
        /// Whether left and right change places.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        mirrored: bool,
    },
    /// The plate's four corners, clockwise from its top left, on the canvas.
    Corners([Point; 4]),
}

impl Placing {
    /// Plate position to canvas position, for a plate of `size`. `None` where the four corners span no proper picture.
    #[must_use]
    pub fn scene_from_plate(&self, size: Size) -> Option<Transform> {
        let middle = Point::new(f64::from(size.width) * 0.5, f64::from(size.height) * 0.5);
        match *self {
            Self::Upright {
                centre,
                scale,
                turn_deg,
                mirrored,
            } => {
                if !(scale.is_finite() && scale > 0.0) {
                    return None;
                }
                let shift = Point::new(centre.x - middle.x, centre.y - middle.y);
                let turned = upright(scale, turn_deg, shift, middle);
                let flip = Transform {
                    rows: [
                        [-1.0, 0.0, 2.0 * middle.x],
                        [0.0, 1.0, 0.0],
                        [0.0, 0.0, 1.0],
                    ],
                };
                Some(if mirrored {
                    turned.after(&flip)
                } else {
                    turned
                })
            }
            Self::Corners(corners) => Transform::from_corners(size.rect().corners(), corners),
        }
    }

    /// The canvas pixels it may touch, for a plate of `size`.
    #[must_use]
    pub fn bounds(&self, size: Size) -> Option<Rect> {
        self.scene_from_plate(size)?.bounds_of(size.rect())
    }
}

/// Exact where nothing is scaled or turned, so that pixels are then copied and not resampled.
fn upright(scale: f64, turn_deg: f64, shift: Point, middle: Point) -> Transform {
    if turn_deg == 0.0 {
        let move_by = |shift: f64, middle: f64| middle + shift - scale * middle;
        return Transform::translation(move_by(shift.x, middle.x), move_by(shift.y, middle.y))
            .after(&Transform::scaling(scale, scale));
    }
    let similarity = Similarity {
        log_scale: libm::log(scale),
        angle_rad: turn_deg * std::f64::consts::PI / 180.0,
        shift,
    };
    Transform::similarity(similarity, middle)
}

/// Porter-Duff and W3C blends (W3C Compositing and Blending Level 1), by the names that recommendation gives them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[expect(missing_docs, reason = "the recommendation defines each name")]
pub enum Blend {
    #[default]
    SourceOver,
    SourceAtop,
    DestinationOver,
    DestinationOut,
    PlusLighter,
    Multiply,
    Screen,
    Overlay,
    Darken,
    Lighten,
    ColorDodge,
    ColorBurn,
    HardLight,
    SoftLight,
    Difference,
    Exclusion,
    Hue,
    Saturation,
    Color,
    Luminosity,
}

impl Blend {
    /// Every blend, in the order they are offered.
    pub const ALL: [Self; 20] = [
        Self::SourceOver,
        Self::PlusLighter,
        Self::Multiply,
        Self::Screen,
        Self::SourceAtop,
        Self::DestinationOver,
        Self::DestinationOut,
        Self::Overlay,
        Self::Darken,
        Self::Lighten,
        Self::ColorDodge,
        Self::ColorBurn,
        Self::HardLight,
        Self::SoftLight,
        Self::Difference,
        Self::Exclusion,
        Self::Hue,
        Self::Saturation,
        Self::Color,
        Self::Luminosity,
    ];

    /// The recommendation's name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::SourceOver => "source-over",
            Self::SourceAtop => "source-atop",
            Self::DestinationOver => "destination-over",
            Self::DestinationOut => "destination-out",
            Self::PlusLighter => "plus-lighter",
            Self::Multiply => "multiply",
            Self::Screen => "screen",
            Self::Overlay => "overlay",
            Self::Darken => "darken",
            Self::Lighten => "lighten",
            Self::ColorDodge => "color-dodge",
            Self::ColorBurn => "color-burn",
            Self::HardLight => "hard-light",
            Self::SoftLight => "soft-light",
            Self::Difference => "difference",
            Self::Exclusion => "exclusion",
            Self::Hue => "hue",
            Self::Saturation => "saturation",
            Self::Color => "color",
            Self::Luminosity => "luminosity",
        }
    }
}

fn full() -> f32 {
    1.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scale_one_without_turn_is_a_pure_shift() {
        let placing = Placing::Upright {
            centre: Point::new(60.0, 45.0),
            scale: 1.0,
            turn_deg: 0.0,
            mirrored: false,
        };
        let map = placing.scene_from_plate(Size::new(100, 50)).unwrap();
        assert_eq!(map, Transform::translation(10.0, 20.0));
    }

    #[test]
    fn mirroring_keeps_the_middle() {
        let placing = Placing::Upright {
            centre: Point::new(60.0, 45.0),
            scale: 2.0,
            turn_deg: 30.0,
            mirrored: true,
        };
        let map = placing.scene_from_plate(Size::new(100, 50)).unwrap();
        assert!(
            map.apply(Point::new(50.0, 25.0))
                .distance(Point::new(60.0, 45.0))
                < 1e-9,
            "middle stays"
        );
    }
}
