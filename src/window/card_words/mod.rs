//! Words of the step cards; the window calls them `words::card`.

mod drawn;
mod hand;
mod placed;

pub use drawn::*;
pub use hand::*;
pub use placed::*;

use crate::geometry::Point;
use crate::window::queue::Column;
use crate::window::step_cards::field::Text;

const fn text(name: &'static str, unit: &'static str, hover: &'static str) -> Text {
    Text { name, unit, hover }
}

/// Head of a card and what its step does.
#[must_use]
pub const fn head(column: Column) -> (&'static str, &'static str) {
    match column {
        Column::Frames => (
            "Frames",
            "The photos of this plate, and how the reference frame is read.",
        ),
        Column::Register => ("Register", "Where each frame lies on the reference frame."),
        Column::Match => (
            "Match",
            "Brings the frames to one exposure and white balance, and the plate to the scene's light.",
        ),
        Column::Fuse => ("Fuse", "Joins the registered frames into one sharp plate."),
        Column::Spotting => (
            "Spotting",
            "Takes off dust and hair, paints out stands. Click a find to accept it, again to refuse it; drag places and points, Delete takes them away.",
        ),
        Column::Warp => (
            "Warp",
            "Changes the model's shape. Drag lines and handles; with Alt they are set out anew, Delete takes them away. Slanted marks: stretched beyond 1.3.",
        ),
        Column::Matte => (
            "Matte",
            "Cuts the plate out: what covers and what is clear.",
        ),
        Column::Lights => (
            "Lights desk",
            "Lays the model's own lights over the unlit plate.",
        ),
        Column::Placement => (
            "Placement",
            "Where the plate lies in the scene. Drag it in the picture; squares resize, the ring turns, arrow keys move by 1 px, with Shift by 10.",
        ),
    }
}

/// Shown where a plate is gone.
pub const NO_PLATE: &str = "This plate is not in the scene any more.";
/// Button.
pub const RESET: &str = "Reset";
/// Hover.
pub const RESET_HOVER: &str = "Back to the usual value.";
/// State before a finding.
pub const NEEDS_A_LOOK: &str = "needs a look";
/// Button of a finding.
pub const SHOW_ME: &str = "Show me";
/// Accessible names of buttons that show something.
pub const SHOW: &str = "Show";
/// Button.
pub const REMOVE: &str = "Remove";
/// Shown while nothing was measured.
pub const NOT_MEASURED: &str = "Not measured yet.";
/// Unit.
pub const STOPS: &str = "stops";
/// Channels.
pub const RGB: [&str; 3] = ["Red", "Green", "Blue"];

/// Accessible name of a button that takes something away.
#[must_use]
pub fn remove(name: &str) -> String {
    format!("Remove {name}")
}

// Light.

/// Value.
pub const EXPOSURE: Text = text(
    "Exposure",
    " stops",
    "Twice the light for each stop; negative is darker.",
);
/// Value.
pub const CONTRAST: Text = text("Contrast", "", "About middle grey; 1 leaves it as it is.");
/// Value.
pub const SHOULDER: Text = text(
    "Shoulder",
    "",
    "How gently light near white is rolled off; 0 clips it.",
);
/// Value.
pub const SATURATION: Text = text("Saturation", "", "0 is grey, 1 leaves colour as it is.");
/// Value.
pub const VIGNETTE: Text = text("Vignette", " stops", "How much darker the corners become.");
/// Value.
pub const BLACK_LEVEL: Text = text(
    "Black level",
    "",
    "Linear light that counts as black, as a share of full scale; taken off before exposure.",
);
/// Value.
pub const TONE: Text = text(
    "Tone",
    "",
    "Contrast about middle grey; 1 leaves light as it is. Anything else bends light, so that passes no longer add up exactly.",
);
/// Value.
pub const KELVIN: Text = text(
    "Temperature",
    " K",
    "Light of this temperature is shown as neutral.",
);
/// Value.
pub const TINT: Text = text("Tint", "", "Negative is greener, positive more magenta.");
/// Value.
pub const RED: Text = text("Red", "", "Factor for red; 1 leaves it as it is.");
/// Value.
pub const GREEN: Text = text("Green", "", "Factor for green; 1 leaves it as it is.");
/// Value.
pub const BLUE: Text = text("Blue", "", "Factor for blue; 1 leaves it as it is.");
/// Value.
pub const SEED: Text = text("Seed", "", "The same seed gives the same pattern.");

// Finish.

/// Head.
pub const FINISH: &str = "Finish";
/// What it does.
pub const FINISH_SAYS: &str = "What is done to the whole scene, last of all.";
/// Head.
pub const GRAIN: &str = "Grain";
/// Switch.
pub const GRAIN_ON: &str = "Lay grain over the scene";
/// Hover.
pub const GRAIN_ON_HOVER: &str = "Grain over everything makes plates of many cameras one picture.";
/// Value.
pub const GRAIN_STRENGTH: Text = text(
    "Grain strength",
    " %",
    "Standard deviation at middle grey, of full scale.",
);
/// Value.
pub const GRAIN_SIZE: Text = text("Grain size", " px", "Size of a grain in pixels.");

// Frames.

/// Heads of the list.
pub const FRAME_HEADS: [&str; 4] = ["used", "ref.", "photo", "exposure"];
/// Hover.
pub const USED_HOVER: &str = "Whether this frame takes part.";
/// Hover.
pub const REFERENCE_HOVER: &str =
    "The reference frame: the others are matched and registered to it.";
/// Button.
pub const USUAL_REFERENCE: &str = "Back to the usual reference frame";
/// Hover.
pub const USUAL_REFERENCE_HOVER: &str = "The middle of the focus order.";
/// Name of a choice.
pub const SOURCE_IN_USE: Text = text(
    "Source in use",
    "",
    "Which shoot this plate is made from; everything done to the plate stays.",
);
/// Head.
pub const EXPOSURES: &str = "Exposure per frame";
/// Plot.
pub const EXPOSURE_PLOT: &str = "Plot of exposure per frame, in stops from the reference frame";
/// Head.
pub const DEVELOP: &str = "How the photos are read";
/// Name of a choice.
pub const WHITE_BALANCE: Text = text("White balance", "", "What is taken as white.");
/// Choice.
pub const AS_SHOT: &str = "as shot";
/// Choice.
pub const LIGHT_OF: &str = "light of a temperature";
/// Choice.
pub const PICKED_GREY: &str = "picked grey";
/// Button.
pub const PICK_GREY: &str = "Pick grey";
/// Hover.
pub const PICK_GREY_HOVER: &str =
    "Then click a place in the picture that is neutral grey. Escape gives up.";

/// Accessible name.
#[must_use]
pub fn use_frame(name: &str) -> String {
    format!("Use {name}")
}

/// Accessible name.
#[must_use]
pub fn reference_frame(name: &str) -> String {
    format!("Reference {name}")
}

/// Finding.
#[must_use]
pub fn exposed_unlike(name: &str, stops: f64) -> String {
    format!("{name} was exposed {stops:+.1} stops from the reference frame")
}

/// Where grey was picked.
#[must_use]
pub fn grey_at(at: Point, gain: [f32; 3]) -> String {
    let [red, green, blue] = gain;
    format!(
        "grey at {:.0}, {:.0} px: gains {red:.3}, {green:.3}, {blue:.3}",
        at.x, at.y
    )
}

// Register, match, fuse.

/// Head of what is said about joining in some places.
pub const GUIDES: &str = "Joined otherwise in places";
/// What it is for.
pub const GUIDES_SAYS: &str =
    "Draw a mask, then say here what is done inside it. Only its surroundings are joined again.";
/// What is done inside a mask.
pub const GUIDE: Text = text(
    "Inside the mask",
    "",
    "How the frames are joined where this mask lets it through.",
);
/// Nothing is said.
pub const GUIDE_NONE: &str = "as everywhere";
/// The frames in front are preferred.
pub const GUIDE_NEARER: &str = "prefer a nearer frame";
/// The frames behind are preferred.
pub const GUIDE_FARTHER: &str = "prefer a farther frame";
/// The mask covers a near part.
pub const GUIDE_NEAR_PART: &str = "a near part: take its blur off what is behind";

/// One frame alone.
#[must_use]
pub fn guide_take_from(frame: &str) -> String {
    format!("take from {frame} alone")
}

/// Button.
pub const MEASURE: &str = "Measure again";
/// Hover.
pub const MEASURE_HOVER: &str = "Registers and matches all frames of this plate anew, whether anything changed or not, then fuses.";
/// Head.
pub const SHIFT: &str = "Shift per frame";
/// Plot.
pub const SHIFT_PLOT: &str = "Plot of shift per frame";
/// Line.
pub const ACROSS: &str = "Across";
/// Line.
pub const DOWN: &str = "Down";
/// Head and line.
pub const SCALE_CHANGE: &str = "Size change per frame";
/// Plot.
pub const SCALE_PLOT: &str = "Plot of size change per frame";
/// Head.
pub const RESIDUALS: &str = "What registration could not explain";
/// Heads of the list.
pub const RESIDUAL_HEADS: [&str; 4] = ["photo", "shift", "turn", "residual"];
/// Head.
pub const GAINS: &str = "Gain per frame";
/// Plot.
pub const GAINS_PLOT: &str = "Plot of gain per frame";
/// Head.
pub const GRADE: &str = "Grade";
/// What it does.
pub const GRADE_SAYS: &str = "Brings this plate to the light of the scene.";
/// Button.
pub const ADD_GRADE: &str = "Add a grade";
/// Button.
pub const REMOVE_GRADE: &str = "Remove the grade";
/// Switch.
pub const GRADE_ON: &str = "Grade acts";
/// Hover.
pub const STEP_ON_HOVER: &str = "Whether this step acts; its values are kept.";
/// Value.
pub const DETAIL: Text = text(
    "Detail",
    "",
    "0 is clean (wide window, little noise), 1 is detailed (narrow window).",
);
/// Value.
pub const DEPTH_WIDTH: Text = text(
    "Depth width",
    " frames",
    "How many neighbouring frames may share a place.",
);
/// Switch.
pub const UNVEIL: &str = "Take near parts' blur off what is behind them";
/// Hover.
pub const UNVEIL_HOVER: &str = "Beside near parts, light that their blur laid over what is behind them is taken away, as far as the frames bear it out. Takes longer; the frames are not joined again.";
/// Button.
pub const FUSE_THIS: &str = "Fuse this plate";
/// Hover.
pub const FUSE_THIS_HOVER: &str = "Measures what changed and joins the frames.";
/// Head.
pub const SHARP_SHARE: &str = "Sharp share per frame";
/// Plot.
pub const SHARP_SHARE_PLOT: &str =
    "Plot of the share of the textured picture that is sharpest in each frame";

/// Finding.
#[must_use]
pub fn residual(name: &str, residual_px: f32) -> String {
    format!("{name} lies {residual_px:.2} px off after registration")
}

/// Finding.
#[must_use]
pub fn source_lies_off(residual_px: f32) -> String {
    format!(
        "this source lies {residual_px:.2} px off the first one: another angle or pose? Masks may miss their edges"
    )
}

/// Finding.
#[must_use]
pub fn matched_far(name: &str, stops: f64) -> String {
    format!("{name} had to be changed by {stops:+.2} stops")
}

/// Finding.
#[must_use]
pub fn adds_nothing(name: &str) -> String {
    format!("{name} is sharpest almost nowhere")
}
