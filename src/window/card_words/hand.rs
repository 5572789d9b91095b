//! Words of the steps done by hand (spotting, paint-out, warps), and of mattes before backdrops.

use super::text;
use crate::project::Verdict;
use crate::window::queue::{HandTool, Heals};
use crate::window::step_cards::field::Text;

/// Head.
pub const HEAL: &str = "Heal by hand";
/// Head.
pub const PAINT_OUT_HEAD: &str = "Stands, rods, wires";
/// Value.
pub const DAB_RADIUS: Text = text(
    "Dab radius",
    " px",
    "Radius of dabs, and half the width of lines. Comma and period change it over the picture.",
);
/// Choice.
pub const FILLED_FROM: Text = text(
    "Filled from",
    "",
    "What is laid over what was there; its light is brought to that of the rim.",
);
/// Choice.
pub const HEALED_FROM: Text = text(
    "Healed from",
    "",
    "What the next place by dab, line or outline is filled with; its light is brought to that of the rim.",
);
/// What places are filled with.
pub const FROM_SURROUNDINGS: &str = "the best pieces around";
/// What places are filled with.
pub const FROM_PLACE: &str = "a place on this plate";
/// Button.
pub const ACCEPT: &str = "Accept";
/// Button.
pub const ACCEPT_SURE: &str = "Accept all that are sure enough";
/// Hover.
pub const ACCEPT_SURE_HOVER: &str =
    "Accepts every find that nobody decided about and that is at least as sure as set above.";
/// Button.
pub const REFUSE_OTHERS: &str = "Refuse the others";
/// Hover.
pub const REFUSE_OTHERS_HOVER: &str = "Refuses every find that nobody decided about.";
/// Switch.
pub const COVERS: &str = "Closes a gap";
/// Hover.
pub const COVERS_HOVER: &str = "The band lies over what is beyond the moved line, which stays where it is, instead of pushing it on.";
/// Shown where a warp has nothing to move yet.
pub const NO_HANDLES: &str = "Set handles inside the outline: nothing moves before there is one.";
/// Said.
pub const FOLD_REFUSED: &str = "The picture would fold over itself there: move less, or widen the soft edge. Nothing was changed.";

/// A tool of the pointer: its name, and how it is used.
#[must_use]
pub const fn tool(tool: HandTool, to: Heals) -> (&'static str, &'static str) {
    match (tool, to) {
        (HandTool::Dab, _) => (
            "By dabs",
            "Click what is to go. Comma and period change the radius; by keys: Insert sets a dab in the middle of what is seen.",
        ),
        (HandTool::Copy, _) => (
            "From another place",
            "Press where it is clean and drag to what is to go. By keys: Insert, arrow keys, Enter.",
        ),
        (HandTool::Line, Heals::Spotting) => (
            "Along a line",
            "Click along it; Enter or the last point again ends it, Delete takes a point back. By keys: Insert sets points.",
        ),
        (HandTool::Line, Heals::PaintOut) => (
            "Paint out along a line",
            "Click along the rod or wire; Enter or the last point again ends it, Delete takes a point back. By keys: Insert sets points.",
        ),
        (HandTool::Outline, Heals::Spotting) => (
            "Inside an outline",
            "Click round it; Enter or the first point closes it, Delete takes a point back. By keys: Insert sets points.",
        ),
        (HandTool::Outline, Heals::PaintOut) => (
            "Paint out inside an outline",
            "Click round the stand; Enter or the first point closes it, Delete takes a point back. By keys: Insert sets points.",
        ),
        (HandTool::Strake, _) => (
            "Set out a strake",
            "Click along the line that stays, Enter; then along the line that is to move, Enter; then drag that line. By keys: Insert sets points.",
        ),
        (HandTool::Handle, _) => (
            "Set handles",
            "Click where the model is to be held, then drag handles: it follows as stiffly as it can. By keys: Insert.",
        ),
        (HandTool::Straight, _) => (
            "Keep a line straight",
            "Drag along an edge that is to stay straight between handles. By keys: Insert, arrow keys, Enter.",
        ),
        (HandTool::Lock, _) => (
            "Lock an outline",
            "Click round the part that may move; what lies outside stays. Enter or the first point closes it. By keys: Insert sets points.",
        ),
        (HandTool::Corners, _) => (
            "Pull four corners",
            "Drag a rectangle over the region, then drag its corners. By keys: Insert, arrow keys, Enter.",
        ),
    }
}

/// What places are filled with.
#[must_use]
pub fn from_clean(pass: &str) -> String {
    format!("the clean plate '{pass}'")
}

/// What places are filled with.
#[must_use]
pub fn from_take(source: &str) -> String {
    format!("the take '{source}'")
}

/// What places are filled with.
#[must_use]
pub fn from_frame(frame: &str) -> String {
    format!("the frame {frame} alone")
}

/// Finding.
#[must_use]
pub fn undecided(count: usize) -> String {
    if count == 1 {
        "1 find is filled that nobody looked at: accept or refuse it".to_owned()
    } else {
        format!("{count} finds are filled that nobody looked at: accept or refuse them")
    }
}

/// Places that are not listed.
#[must_use]
pub fn more_places(count: usize) -> String {
    format!("and {count} more, on the picture")
}

/// Finding: places that one picture cannot tell from dust.
#[must_use]
pub fn passed_over(places: usize) -> String {
    format!(
        "{places} more places look like dust, but so does much around them; one picture cannot tell: clean the model, shoot the same pose again and swap it in, or compare with it"
    )
}

/// Accessible name of a button that accepts a find.
#[must_use]
pub fn accept(name: &str) -> String {
    format!("Accept {name}")
}

/// What a warp does at most.
#[must_use]
pub fn stretches(most: f32) -> String {
    format!("Stretches up to {most:.2} times.")
}

/// Button.
pub const FIND_SPOTS: &str = "Look for dust and hair";
/// Hover.
pub const FIND_SPOTS_HOVER: &str =
    "Proposes places on the fused plate; what you do not refuse is filled from its surroundings.";
/// Value.
pub const COMPARED_WITH: Text = text(
    "Compared with",
    "",
    "Another take of this pose, shot after cleaning: what it does not show is dust or hair, and is filled from it.",
);
/// Finding.
pub const OTHER_ANGLE: &str = "this take was shot from another angle: edges that it shows elsewhere will be found too; compare with a take of the same pose";
/// Choice.
pub const COMPARED_WITH_NOTHING: &str = "nothing";
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

/// A place that is painted out, by its number.
#[must_use]
pub fn painted_out(number: usize) -> String {
    format!("painted-out place {number}")
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
pub fn found_with(name: &str, confidence: f32, verdict: Verdict) -> String {
    let decided = match verdict {
        Verdict::Undecided => "",
        Verdict::Accepted => ", accepted",
        Verdict::Refused => ", refused",
    };
    format!("{name}, confidence {confidence:.2}{decided}")
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
