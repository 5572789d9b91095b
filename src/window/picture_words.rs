//! Words of the picture; the window calls them `words::picture`.

use crate::project::{FrameId, Project};
use crate::window::viewport::compare::Way;

/// Accessible name of the picture.
pub const PICTURE: &str = "Picture";
/// Accessible name of the split line.
pub const SPLIT: &str = "Split line";
/// Shown where nothing can be shown.
pub const NOTHING_CHOSEN: &str = "Choose a cell of the build sheet to see its picture.";
/// Shown beside the arrows of a pass.
pub const LEFT_OVER: &str =
    "Arrows, 40 times longer than they are: how far the pass still lies off.";
/// Shown while a plate's photos were not read.
pub const SIZE_UNKNOWN: &str = "These photos were not read yet, so their size is not known.";
/// Shown over the reference frame of a plate that was not fused.
pub const NEEDS_FUSING: &str = "Not fused yet: its reference frame stands in.";
/// Shown over a photo that was not read.
pub const PHOTO_UNREAD: &str = "This photo was not read yet.";
/// Shown where plates of the scene were not fused.
pub const SCENE_NEEDS_FUSING: &str = "Some plates of the scene are not fused yet.";
/// Shown while the work that is wanted is under way.
pub const BEING_FUSED: &str = "Being measured and fused; the bar at the top says how far it is.";
/// Button.
pub const FUSE_PLATE: &str = "Measure and fuse this plate";
/// Button.
pub const FUSE_ALL: &str = "Measure and fuse all plates";
/// Said when grey is picked on a made plate.
pub const NO_GREY: &str = "A made plate has no photo to pick grey from.";
/// Read-out without a pointer.
pub const NO_POINTER: &str = "x -  y - px";
/// Hover.
pub const POSITION_HOVER: &str = "Pixel under the pointer, counted from the top left.";
/// Hover.
pub const VALUES_HOVER: &str =
    "Values as shown on the screen, 0 to 255 (sRGB), and how much of the pixel is covered.";
/// Hover.
pub const LIGHT_HOVER: &str = "Linear light as the program works with it: red, green, blue (BT.2020), premultiplied by coverage. White is 1.";
/// Hover.
pub const SHARPEST_HOVER: &str =
    "Depth: which frame of the stack is sharp here, in focus order; fractions lie between frames.";
/// Hover.
pub const ZOOM_HOVER: &str = "Screen pixels for each pixel of the picture. Wheel: zoom at the pointer. Home or a double click: whole picture. 1: pixel for pixel. Middle drag, or space and drag: move.";
/// Accessible name of the choice what to compare with.
pub const COMPARE_WITH: &str = "Compare with";
/// What to compare with.
pub const STAGE_BEFORE: &str = "the stage before";
/// What to compare with.
pub const FINISHED_SCENE: &str = "the finished scene";
/// What to compare with.
pub const SOURCE: &str = "source";

/// A state of the scene that has a name.
#[must_use]
pub fn state(name: &str) -> String {
    format!("state '{name}'")
}
/// Slider.
pub const STRENGTH: &str = "Strength";
/// Slider.
pub const SPLIT_AT: &str = "Split at";
/// Slider.
pub const GAIN: &str = "Made stronger";
/// Caution of the blink view (WCAG 2.3.1).
pub const BLINK_CAUTION: &str = "Caution: blinking pictures can trigger seizures in photosensitive people. This view cross-fades and changes at most twice a second.";

/// The ways to look: word and hover.
pub const WAYS: [(Way, &str, &str); 6] = [
    (Way::Stage, "This stage", "The chosen cell's stage alone."),
    (Way::Finished, "Finished", "The finished scene alone."),
    (
        Way::LineUp,
        "Line-up",
        "The other picture at part strength over this one, to align or compare.",
    ),
    (
        Way::Split,
        "Split",
        "This picture left of a line, the other right of it; drag the line.",
    ),
    (
        Way::Difference,
        "Difference",
        "How much the two pictures differ, made stronger; black where they agree.",
    ),
    (
        Way::Blink,
        "Blink",
        "One picture after the other in the same place, cross-faded.",
    ),
];

/// Read-out of a position, in whole pixels.
#[must_use]
pub fn position(x: f64, y: f64) -> String {
    format!("x {x:.0}  y {y:.0} px")
}

/// Read-out of values as shown, with coverage.
#[must_use]
pub fn values([red, green, blue, coverage]: [u8; 4]) -> String {
    let covered = f32::from(coverage) / 2.55;
    format!("R {red:>3}  G {green:>3}  B {blue:>3}  coverage {covered:.0} %")
}

/// Read-out of light.
#[must_use]
pub fn light([red, green, blue, _coverage]: [f32; 4]) -> String {
    format!("linear {red:.4} {green:.4} {blue:.4}")
}

/// Read-out of depth: frames are counted from 1 for people.
#[must_use]
pub fn sharpest_frame(frame: f32) -> String {
    format!("sharp in frame {:.1}", frame + 1.0)
}

/// A photo by its place in the list and its file.
#[must_use]
pub fn frame_named(project: &Project, frame: FrameId) -> String {
    project.frame(frame).map_or_else(
        || "a missing photo".to_owned(),
        |frame| file_name(&frame.file).to_owned(),
    )
}

/// The last part of a file's place.
#[must_use]
pub fn file_name(file: &str) -> &str {
    file.rsplit('/').next().unwrap_or(file)
}
