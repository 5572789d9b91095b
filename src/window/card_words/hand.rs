//! Words of the steps done by hand (spotting, paint-out, warps), and of mattes before backdrops.

use super::text;
use crate::window::step_cards::field::Text;

/// Head.
pub const BY_HAND: &str = "By hand";
/// Button.
pub const FIND_SPOTS: &str = "Look for dust and hair";
/// Hover.
pub const FIND_SPOTS_HOVER: &str =
    "Proposes places on the fused plate; what you do not refuse is filled from its surroundings.";
/// A step.
pub const SPOTTING: &str = "Spotting";
/// A step.
pub const PAINT_OUT: &str = "Paint-out";
/// Value.
pub const LEAST_CONFIDENCE: Text = text(
    "Least confidence",
    "",
    "Finds that are less sure are left as they are.",
);
/// Value.
pub const WARP_SOFT: Text = text("Soft edge", " px", "How far the move dies away.");
/// Button.
pub const REFUSE: &str = "Refuse";
/// Finding.
pub const LOOK_FOR_SHADOW: &str = "what was painted out threw a shadow and a reflection: look for them on the model and paint them out too";
/// Switch.
pub const SHADOW_SEEN_TO: &str = "Shadow and reflection seen to";
/// Hover.
pub const SHADOW_SEEN_TO_HOVER: &str = "Say so once you have looked, and the reminder goes.";
/// Finding.
pub const WARP_CANNOT: &str =
    "this warp cannot be carried out: its lines cross or turn back; draw them anew";
/// Finding.
pub const WARP_FOLDS: &str = "the picture folds over itself: widen the soft edge or move less";

/// A warp by its kind.
#[must_use]
pub fn warp(kind: &str) -> String {
    format!("Warp by {kind}")
}

/// Switch of a step.
#[must_use]
pub fn acts(step: &str) -> String {
    format!("{step} acts")
}

/// How many places.
#[must_use]
pub fn places(count: usize) -> String {
    if count == 1 {
        "1 place".to_owned()
    } else {
        format!("{count} places")
    }
}

/// How many places count.
#[must_use]
pub fn places_of(taken: usize, all: usize) -> String {
    format!("{taken} of {} filled", places(all))
}

/// A place by its number.
#[must_use]
pub fn spot(number: usize) -> String {
    format!("place {number}")
}

/// Accessible name of a button that refuses a find.
#[must_use]
pub fn refuse(name: &str) -> String {
    format!("Refuse {name}")
}

/// A place that somebody set.
#[must_use]
pub fn set_by_hand(name: &str) -> String {
    format!("{name}, set by hand")
}

/// A place that was found.
#[must_use]
pub fn found_with(name: &str, confidence: f32) -> String {
    format!("{name}, confidence {confidence:.2}")
}

/// Finding.
#[must_use]
pub fn stretched(most: f32) -> String {
    format!(
        "the plate is stretched up to {most:.2} times: panel lines and weathering show it beyond 1.3"
    )
}

/// Way of cutting out.
pub const CUT_PLAIN: &str = "before a plain backdrop";
/// Way of cutting out.
pub const CUT_CLEAN: &str = "against the clean plate";
/// Way of cutting out.
pub const CUT_TWO_LEVELS: &str = "by two backdrop levels";
/// Value.
pub const EDGE_WIDTH: Text = text(
    "Edge width",
    " px",
    "How soft the model's own edge is in the photo; about 0.7 of its blur's radius.",
);
/// Value.
pub const LARGEST_HOLE: Text = text(
    "Largest hole closed",
    " %",
    "Holes up to this share of the picture, where the model looks like the backdrop, are closed.",
);
/// Value.
pub const LEAST_DIFFERENCE: Text = text(
    "Least difference",
    "",
    "How far light must be from the backdrop's to count as model, in square roots of light.",
);
/// Switch.
pub const CLEAN_EDGE: &str = "Clean the edge";
/// Hover.
pub const CLEAN_EDGE_HOVER: &str = "Takes the backdrop's own light out of the soft edge.";
/// Choice.
pub const CORE_MATTE: Text = text("Core matte", "", "What this mask covers is solid.");
/// Choice.
pub const HOLDOUT_MATTE: Text = text("Holdout matte", "", "What this mask covers is empty.");
/// Choice.
pub const NO_DRAWN_MATTE: &str = "none";
