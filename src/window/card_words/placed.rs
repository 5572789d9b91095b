//! Words of placements and made plates.

use crate::geometry::Size;
use crate::project::{Blend, Project};
use crate::window::card_words::text;
use crate::window::step_cards::field::Text;

// Placement.

/// Value.
pub const POSITION_X: Text = text(
    "Across",
    " px",
    "Where the middle lies, from the left edge.",
);
/// Value.
pub const POSITION_Y: Text = text("Down", " px", "Where the middle lies, from the top edge.");
/// Value.
pub const PLACED_SIZE: Text = text("Size", " %", "Scene pixels per plate pixel.");
/// Value.
pub const TURN: Text = text("Turn", " °", "Clockwise as seen.");
/// Value.
pub const PLACED_STRENGTH: Text = text(
    "Strength",
    " %",
    "How strongly it goes over what is behind.",
);
/// Value.
pub const DISTANCE: Text = text(
    "Distance",
    " m",
    "From the camera, in the scene's own metres; 0 for unknown. For reading and sorting: order in the scene is what counts.",
);
/// Name of a choice.
pub const BLEND: Text = text("Goes over", "", "How it goes over what is behind it.");
/// Head.
pub const MORE_PLACEMENTS: &str = "More of this plate";
/// Button.
pub const PLACE_AGAIN: &str = "Add another placement";
/// Hover.
pub const PLACE_AGAIN_HOVER: &str = "Puts this plate into the scene once more, in front.";
/// Hover.
pub const SEEN_HOVER: &str = "Whether it is seen in the scene.";
/// Hover.
pub const TAKE_OUT_HOVER: &str = "Takes this placement out of the scene; the plate stays.";
/// Hover.
pub const MIRRORED_HOVER: &str = "Left and right change places.";
/// Hover.
pub const FOUR_CORNERS_HOVER: &str = "Each corner can be pulled by itself, for perspective.";
/// Corners, clockwise.
pub const CORNERS: [&str; 4] = ["top left", "top right", "bottom right", "bottom left"];
/// Hover.
pub const CORNER_HOVER: &str = "Where this corner of the plate lies in the scene.";

/// Name of a further placement.
#[must_use]
pub fn placed_again(plate: &str, project: &Project) -> String {
    let placed = project.placements.len();
    (2..=placed + 2)
        .map(|number| format!("{plate} {number}"))
        .find(|name| project.placements.iter().all(|one| one.name != *name))
        .unwrap_or_else(|| plate.to_owned())
}

/// Switch.
#[must_use]
pub fn seen(name: &str) -> String {
    format!("{name} is seen")
}

/// Accessible name.
#[must_use]
pub fn name_of_placement(number: u32) -> String {
    format!("Name of placement {number}")
}

/// Switch.
#[must_use]
pub fn mirrored(name: &str) -> String {
    format!("{name} mirrored")
}

/// Switch.
#[must_use]
pub fn four_corners(name: &str) -> String {
    format!("{name} by its four corners")
}

/// A blend in plain words.
#[must_use]
pub const fn blend(blend: Blend) -> &'static str {
    match blend {
        Blend::SourceOver => "laid over",
        Blend::SourceAtop => "laid over, only where something is",
        Blend::DestinationOver => "slid under",
        Blend::DestinationOut => "cuts out what is behind",
        Blend::PlusLighter => "light added",
        Blend::Multiply => "multiplied",
        Blend::Screen => "screened",
        Blend::Overlay => "contrast by what is behind",
        Blend::Darken => "the darker of both",
        Blend::Lighten => "the lighter of both",
        Blend::ColorDodge => "brightens what is behind",
        Blend::ColorBurn => "darkens what is behind",
        Blend::HardLight => "contrast, hard",
        Blend::SoftLight => "contrast, soft",
        Blend::Difference => "difference of both",
        Blend::Exclusion => "difference of both, softer",
        Blend::Hue => "its hue",
        Blend::Saturation => "its saturation",
        Blend::Color => "its colour",
        Blend::Luminosity => "its lightness",
    }
}

/// Hover: the recommendation's name.
#[must_use]
pub fn blend_hover(blend: Blend) -> String {
    format!(
        "How it goes over what is behind it. In the record: {} (W3C Compositing and Blending).",
        blend.name()
    )
}

// Made plates.

/// Head of the card and what it says.
pub const RECIPE_HEAD: (&str, &str) = (
    "Recipe",
    "Nothing here was photographed: the plate is computed from these numbers.",
);
/// Head.
pub const EMPTY_SKY: &str = "Empty sky";
/// What values belong to.
pub const EMPTY_SKY_OF: &str = "empty sky";
/// Head.
pub const STARS: &str = "Stars";
/// What values belong to.
pub const STARS_OF: &str = "stars";
/// Head.
pub const DUST: &str = "Dust lane";
/// What values belong to.
pub const DUST_OF: &str = "dust lane";
/// Head.
pub const PLANET: &str = "Planet";
/// What values belong to.
pub const PLANET_OF: &str = "planet";
/// Switch.
pub const STARS_ON: &str = "Scatter stars";
/// Switch.
pub const DUST_ON: &str = "Lay a dust lane across";
/// Switch.
pub const PLANET_ON: &str = "Hang a planet in the sky";
/// Hover.
pub const MADE_PART_HOVER: &str = "Whether the recipe holds this; its values begin anew each time.";
/// Value.
pub const VIEW: Text = text("View", " °", "Horizontal field of view.");
/// Value.
pub const FAINTEST: Text = text("Faintest", " mag", "Faintest magnitude shown.");
/// Value.
pub const MADE_LIGHT: Text = text("Light", "", "Linear light, as the recipe keeps it.");
/// Value.
pub const STAR_SIZE: Text = text("Star size", " px", "Standard deviation of a star's image.");
/// Value.
pub const CLUMPING: Text = text("Clumping", "", "0 is an even field, 1 an uneven one.");
/// Value.
pub const DIRECTION: Text = text("Direction", " °", "Clockwise from the right.");
/// Value.
pub const WIDTH: Text = text("Width", " px", "Standard deviation of its width.");
/// Value.
pub const PLANET_RADIUS: Text = text("Radius", " px", "Radius of the planet.");
/// Value.
pub const KEY_AZIMUTH: Text = text(
    "Key across",
    " °",
    "Direction to the key light, from the camera's axis to the right.",
);
/// Value.
pub const KEY_ELEVATION: Text = text("Key up", " °", "Direction to the key light, upwards.");
/// Value.
pub const AIR: Text = text(
    "Air",
    "",
    "Height over which its air thins to a third, in radii.",
);
/// Value.
pub const POLE_TURN: Text = text("Pole turn", " °", "Clockwise from straight up.");
/// Value.
pub const POLE_TILT: Text = text("Pole tilt", " °", "Towards the camera; opens the ring.");

/// Size of a made plate.
#[must_use]
pub fn made_of_size(size: Size) -> String {
    format!(
        "A made plate of {} x {} px, computed from this recipe.",
        size.width, size.height
    )
}
