//! Every text of the window, in one place.

use crate::session::grouping::{Group, GroupRole};
use crate::session::jobs::{Report, Work};
use crate::window::build_sheet::facts::State;
use crate::window::queue::{Column, Wish};
use std::path::{Path, PathBuf};

macro_rules! words {
    ($($(#[$doc:meta])* $name:ident = $text:expr;)*) => {$(
        $(#[$doc])*
        #[doc = concat!("\"", $text, "\"")]
        pub const $name: &str = $text;
    )*};
}

// The window
words! {
    TITLE = "platebench";
    APP_ID = "platebench";
    UNNAMED = "new scene";
    CANCEL = "Cancel";
    BACK = "Back";
    DISMISS = "Dismiss";
    NO_DISPLAY = "No window can be opened: there is no display. Every command works without one; see --help";
    NO_DISPLAY_LIBRARY = "No window can be opened: install libx11-6, libx11-xcb1, libxcursor1, libxi6 and libxkbcommon-x11-0, or use the commands, see --help";
    NO_KEYBOARD_LIBRARY = "No window can be opened: install libxkbcommon-x11-0 if the line above names it, or use the commands, see --help";
    NO_GRAPHICS = "No window can be opened: install libgl1 and libgl1-mesa-dri, or use the commands, see --help";
    NO_WINDOW = "No window can be opened; use the commands, see --help";
}

// Start page, new scene
words! {
    WHAT_IT_IS = "Frames of models at several focus distances become plates, plates become one scene.";
    NEW_SCENE = "New scene from photos";
    NEW_SCENE_HELP = "Photos are grouped into stacks and passes by name, time and exposure, and shown for approval. They are never written to.";
    OPEN_SCENE = "Open a scene";
    DEMO_SCENE = "The demo scene";
    DEMO_SCENE_HELP = "A small finished scene with its photos, to try everything on.";
    OPEN_DEMO = "Open the demo scene";
    RECENT = "Opened lately";
    FOLDER_OR_PHOTOS = "Folder or photos";
    FOLDER_OR_PHOTOS_HELP = "A folder, a photo or a pattern such as shoot/barge_*.tif";
    ADD = "Add";
    CHOOSE_PHOTOS = "Choose photos…";
    CHOOSE_FOLDER = "Choose a folder…";
    OR_DROP = "or drop files or folders on the window";
    TAKE_AWAY = "Take away";
    LOOK_AT_PHOTOS = "Look at these photos";
    PROJECT_FILE = "Project file";
    OPEN = "Open";
    OPEN_THIS = "Open this scene";
    CHOOSE_PROJECT = "Choose a project…";
    PROJECT_FILES = "platebench projects";
    LEFT_BEHIND = "Unsaved work was found";
    LEFT_BEHIND_HELP = "The program ended before this work was saved. Nothing of it is lost.";
    TAKE_UP = "Take up";
    GIVE_UP = "Give up for good";
    DIALOGUE_IS_OPEN = "A dialogue is open already";
    LOOKING_AT_PHOTOS = "Looking at the photos…";
    OPENING = "Opening the scene…";
    LAYING_OUT_DEMO = "Laying out the demo scene…";
    TAKING_IN = "Reading the photos…";
    PHOTOS_TAKEN_IN = "photos taken into the scene";
    APPROVE = "Stacks and passes";
    APPROVE_HELP = "Each group is one stack or pass. Change what is wrong, then take the groups.";
    TAKE_GROUPS = "Take these groups";
    GROUP = "group";
    IS = "is";
    OF_PLATE = "of plate";
    MOVE_TO = "Move…";
    GROUP_OF_ITS_OWN = "a group of its own";
    LEAVE_OUT = "leave out";
    NO_GROUPS = "No photos are left.";
    PLATE_WITHOUT_NAME = "Every group needs the name of its plate.";
}

// Record
words! {
    SCENE_NAME = "Scene name";
    UNDO = "Undo";
    UNDO_HELP = "Back by one edit (Ctrl Z)";
    REDO = "Redo";
    REDO_HELP = "Forward by one edit (Ctrl Shift Z)";
    EDITS = "Edits";
    BEGINNING = "the beginning";
    SCENE = "Scene";
    SAVE = "Save";
    SAVE_AS = "Save as…";
    SAVE_AS_HELP = "The file ends in .platebench; photos stay where they are.";
    SAVE_HERE = "Save under this name";
    CHOOSE_NAME = "Choose a name…";
    ADD_PHOTOS = "Add photos…";
    TO_START = "To the start page";
    CLOSE = "Close";
    LOOKS = "Looks";
    DARK = "Dark surround";
    LIGHT = "Light surround";
    NOT_SAVED = "This scene is not saved";
    NOT_SAVED_HELP = "What was done since it was saved last would be lost.";
    SAVE_AND_LEAVE = "Save";
    DISCARD = "Discard";
}

/// Sizes of text that are offered.
pub const TEXT_SCALES: [(f32, &str); 4] = [
    (1.0, "Text as usual"),
    (1.25, "Text larger by a quarter"),
    (1.5, "Text larger by half"),
    (2.0, "Text twice as large"),
];

// Jobs and delivery
words! {
    CANCEL_WORK = "Stop the work";
    PROGRESS = "Progress";
    STOPPED = "Stopped; nothing was changed.";
    BUILD = "Build…";
    BUILD_HEAD = "Build the finished picture";
    BUILD_HELP = "The ending chooses the format: .tif, .png, .jpg or .exr. A receipt is written beside it.";
    PICTURE_FILE = "Picture file";
    BITS = "Bits per channel";
    SIZE = "Size";
    BUILD_NOW = "Build now";
    SWAP = "Swap the source…";
    SWAP_HELP = "The new photos are registered to the plate; masks, lights, matte and placement stay. The old source stays in the record.";
    SWAP_NOW = "Swap now";
}

// Build sheet
words! {
    BUILD_SHEET = "build sheet";
    EMPTY_SHEET = "No plates yet: drop photos or folders on the window, or choose Scene, Add photos.";
    FINISH = "finish";
    MADE = "made";
    NOTHING = "none";
    NOT_YET = "not yet";
    ONE_PHOTO = "one photo";
    FUSED = "fused";
    WHOLE_PICTURE = "whole picture";
    DRAWN = "drawn";
    SILHOUETTE = "silhouette";
    NOT_PLACED = "not placed";
    HIDDEN = "hidden";
    TONE = "tone";
    COLOUR = "colour";
    VIGNETTE = "vignette";
    GRAIN = "grain";
    AS_IT_IS = "as it is";
    GRIP = "=";
    GRIP_HELP = "Drag to another row, or Alt with an arrow up or down";
    SEEN_HELP = "Seen in the scene";
    STRENGTH_HELP = "How strongly it goes over what is behind it";
    MORE = "More";
    FUSE_PLATE = "Measure and fuse";
    FORWARD = "One row forward";
    BACKWARD = "One row back";
    REMOVE_PLATE = "Remove the plate";
}

/// Title of a native dialogue.
#[must_use]
pub const fn wish(wish: Wish) -> &'static str {
    match wish {
        Wish::Photos => "Photos",
        Wish::Folder => "Folder of photos",
        Wish::Project => "Project to open",
        Wish::SaveName => "Save the project as",
        Wish::PictureName => "Finished picture",
    }
}

/// A small number of things, with the word for one and for several.
fn count(number: usize, one: &str, several: &str) -> String {
    match number {
        1 => format!("1 {one}"),
        _ => format!("{number} {several}"),
    }
}

/// Name of the button that takes `name` off a list.
#[must_use]
pub fn take_away(name: &str) -> String {
    format!("Take away {name}")
}

/// A line about work left behind.
#[must_use]
pub fn left_behind(name: &str, unsaved: usize) -> String {
    format!(
        "{name}: {}",
        count(unsaved, "unsaved edit", "unsaved edits")
    )
}

/// Name of the button that takes work up.
#[must_use]
pub fn take_up(name: &str) -> String {
    format!("{TAKE_UP} {name}")
}

/// Name of the button that gives work up.
#[must_use]
pub fn give_up(name: &str) -> String {
    format!("{GIVE_UP}: {name}")
}

/// Name of a group's name field.
#[must_use]
pub fn group_name(number: usize) -> String {
    format!("Name of group {number}")
}

/// Name of a group's role field.
#[must_use]
pub fn group_role(number: usize) -> String {
    format!("Role of group {number}")
}

/// Name of a group's plate field.
#[must_use]
pub fn group_plate(number: usize) -> String {
    format!("Plate of group {number}")
}

/// Name of the field that moves a photo.
#[must_use]
pub fn move_photo(name: &str) -> String {
    format!("Move {name}")
}

/// How many photos.
#[must_use]
pub fn photos(number: usize) -> String {
    count(number, "photo", "photos")
}

/// A group's role.
#[must_use]
pub const fn role(role: GroupRole) -> &'static str {
    match role {
        GroupRole::Unlit => "the unlit pass",
        GroupRole::Light => "a light pass",
        GroupRole::Silhouette => "a silhouette pass",
        GroupRole::CleanPlate => "a clean plate",
    }
}

/// Why a plate's groups cannot be taken.
#[must_use]
pub fn unlit_groups(plate: &str, number: usize) -> String {
    match number {
        0 => format!("Plate '{plate}' has no unlit pass."),
        _ => format!("Plate '{plate}' has {number} unlit passes; it needs exactly one."),
    }
}

/// A name for a group made of another.
#[must_use]
pub fn another(name: &str) -> String {
    format!("{name} apart")
}

/// The last part of a path.
#[must_use]
pub fn file_name(path: &Path) -> String {
    path.file_name().map_or_else(
        || path.display().to_string(),
        |name| name.to_string_lossy().into_owned(),
    )
}

/// A picture's size.
#[must_use]
pub fn pixels(width: u32, height: u32) -> String {
    format!("{width} × {height} px")
}

/// An exposure time, as photographers read it.
#[must_use]
pub fn exposure_time(seconds: f64) -> String {
    if seconds > 0.0 && seconds < 0.4 {
        format!("1/{:.0} s", 1.0 / seconds)
    } else {
        format!("{seconds:.1} s")
    }
}

/// A scene's name to begin with: the folder of its first photo.
#[must_use]
pub fn scene_name(groups: &[Group]) -> String {
    let first = groups.iter().flat_map(|group| &group.photos).next();
    let folder = first
        .and_then(|photo| photo.path.parent())
        .and_then(Path::file_name);
    folder.map_or_else(
        || UNNAMED.to_owned(),
        |name| name.to_string_lossy().into_owned(),
    )
}

/// A scene's name as a file name.
#[must_use]
pub fn file_stem(name: &str) -> String {
    let plain = |letter: char| {
        if letter.is_alphanumeric() {
            letter
        } else {
            '_'
        }
    };
    name.trim().to_lowercase().chars().map(plain).collect()
}

/// Whether a file is a project, by its ending.
#[must_use]
pub fn is_project(path: &Path) -> bool {
    path.extension()
        .is_some_and(|ending| ending == "platebench")
}

/// A project's path with its ending, which people may leave out.
#[must_use]
pub fn with_ending(typed: &str) -> PathBuf {
    let path = PathBuf::from(typed);
    if is_project(&path) {
        return path;
    }
    PathBuf::from(format!("{typed}.platebench"))
}

/// Mark of a scene that is saved.
pub const SAVED: &str = "saved";
/// Mark of a scene that is not.
pub const UNSAVED: &str = "not saved";

/// Where the scene was saved.
#[must_use]
pub fn saved_to(path: &Path) -> String {
    format!("Saved to {}.", path.display())
}

/// Why edits are not journalled.
#[must_use]
pub fn no_journal(why: &str) -> String {
    format!("Edits cannot be journalled; save often. {why}")
}

/// A line in the list of edits.
#[must_use]
pub fn edit(number: u32, label: &str) -> String {
    format!("{number}  {label}")
}

/// A line in the list of edits that does not lead to the project as it is now.
#[must_use]
pub fn edit_set_aside(number: u32, label: &str) -> String {
    format!("{number}  {label} (set aside)")
}

/// Bits per channel.
#[must_use]
pub fn bits(bits: Option<u8>) -> String {
    match bits {
        None => "as usual for the format".to_owned(),
        Some(32) => "32 bits, linear light".to_owned(),
        Some(bits) => format!("{bits} bits"),
    }
}

/// Head of the swap dialogue.
#[must_use]
pub fn swap_head(plate: &str) -> String {
    format!("Swap the source of {plate}")
}

/// Time still to go.
#[must_use]
pub fn time_left(seconds: Option<f64>) -> String {
    match seconds {
        None => String::new(),
        Some(seconds) if seconds < 90.0 => format!(", about {seconds:.0} s left"),
        Some(seconds) => format!(", about {:.0} min left", seconds / 60.0),
    }
}

/// What is being done.
#[must_use]
pub fn work(work: &Work, stage: &str, left: &str) -> String {
    let what = match work {
        Work::Fuse(_) | Work::FuseAll => "Fusing",
        Work::Build(_) => "Building",
        Work::Swap { .. } => "Swapping",
        Work::AddPhotos(_) => "Adding photos",
    };
    if stage.is_empty() {
        return format!("{what}{left}");
    }
    format!("{what}: {stage}{left}")
}

/// How much work waits.
#[must_use]
pub fn waiting(number: usize) -> String {
    format!("{number} more to do")
}

/// What came out of a job.
#[must_use]
pub fn report(report: &Report) -> String {
    match report {
        Report::Fused => "Measured and fused.".to_owned(),
        Report::Built(built) => format!(
            "Built {} ({}), with a receipt beside it.",
            built.output.display(),
            pixels(built.width, built.height)
        ),
        Report::Swapped(swapped) => {
            let wants: Vec<String> = swapped
                .needs_a_look
                .iter()
                .map(|look| format!("{}: {}", look.step, look.why))
                .collect();
            let carried = count(swapped.carried.len(), "step", "steps");
            let mut text = format!(
                "{} has its new source, residual {}; {carried} carried over.",
                swapped.plate,
                residual(swapped.residual_px)
            );
            if !wants.is_empty() {
                text.push_str(" Needs a look: ");
                text.push_str(&wants.join("; "));
            }
            text
        }
        Report::Added(frames) => format!("{} added.", photos(frames.len())),
    }
}

/// A column's head.
#[must_use]
pub const fn column(column: Column) -> &'static str {
    match column {
        Column::Frames => "Frames",
        Column::Register => "Register",
        Column::Match => "Match",
        Column::Fuse => "Fuse",
        Column::Matte => "Matte",
        Column::Lights => "Lights",
        Column::Placement => "Placement",
    }
}

/// A state's word.
#[must_use]
pub const fn state(state: State) -> &'static str {
    match state {
        State::Done => "done",
        State::Stale => "stale",
        State::NeedsALook => "needs a look",
        State::Empty => "empty",
        State::Missing => "missing",
        State::Working => "working",
    }
}

/// A cell's accessible name: `barge, Fuse: fused, done`.
#[must_use]
pub fn cell(row: &str, of: Column, number: &str, is: State) -> String {
    if row == FINISH {
        return format!("{row}: {number}, {}", state(is));
    }
    format!("{row}, {}: {number}, {}", column(of), state(is))
}

/// How many frames take part.
#[must_use]
pub fn frames(used: usize, all: usize) -> String {
    if used == all {
        format!("{all}")
    } else {
        format!("{used} of {all}")
    }
}

/// What registration could not explain.
#[must_use]
pub fn residual(px: f32) -> String {
    format!("{px:.2} px")
}

/// A change of exposure.
#[must_use]
pub fn stops(stops: f32) -> String {
    format!("{stops:.2} st")
}

/// Light passes that no group uses yet.
#[must_use]
pub fn passes(number: usize) -> String {
    count(number, "pass", "passes")
}

/// Practical groups that are lit.
#[must_use]
pub fn groups(lit: usize, all: usize) -> String {
    if lit == all {
        count(all, "group", "groups")
    } else {
        format!("{lit} of {all} lit")
    }
}

/// Place in the order of the scene.
#[must_use]
pub fn depth(from_front: usize, from_back: usize) -> String {
    match (from_front, from_back) {
        (0, 0) => "alone".to_owned(),
        (0, _) => "front".to_owned(),
        (_, 0) => "back".to_owned(),
        (place, _) => format!("place {}", place + 1),
    }
}

/// Name of a row's grip.
#[must_use]
pub fn grip(plate: &str) -> String {
    format!("Move {plate} to another row")
}

/// Name of a row's check box.
#[must_use]
pub fn seen(plate: &str) -> String {
    format!("{plate} is seen")
}

/// Name of a plate's name field.
#[must_use]
pub fn plate_name(plate: &str) -> String {
    format!("Name of {plate}")
}

/// Name of a row's blend field.
#[must_use]
pub fn blend_of(plate: &str) -> String {
    format!("Blend of {plate}")
}

/// Name of a row's strength field.
#[must_use]
pub fn strength_of(plate: &str) -> String {
    format!("Strength of {plate}")
}

/// Name of a row's menu.
#[must_use]
pub fn more(plate: &str) -> String {
    format!("More for {plate}")
}

// Picture and step cards

/// Words of the picture.
pub mod picture {
    use crate::project::{FrameId, Project};
    use crate::window::viewport::compare::Way;

    /// Accessible name of the picture.
    pub const PICTURE: &str = "Picture";
    /// Accessible name of the split line.
    pub const SPLIT: &str = "Split line";
    /// Shown where nothing can be shown.
    pub const NOTHING_CHOSEN: &str = "Choose a cell of the build sheet to see its picture.";
    /// Shown while a plate's photos were not read.
    pub const SIZE_UNKNOWN: &str = "These photos were not read yet, so their size is not known.";
    /// Shown over the reference frame of a plate that was not fused.
    pub const NEEDS_FUSING: &str = "Not fused yet: its reference frame stands in.";
    /// Shown where plates of the scene were not fused.
    pub const SCENE_NEEDS_FUSING: &str = "Some plates of the scene are not fused yet.";
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
    pub const ZOOM_HOVER: &str = "Screen pixels for each pixel of the picture. Wheel: zoom at the pointer. Home or a double click: whole picture. 1: pixel for pixel. Middle drag, or space and drag: move.";
    /// Accessible name of the choice what to compare with.
    pub const COMPARE_WITH: &str = "Compare with";
    /// What to compare with.
    pub const STAGE_BEFORE: &str = "the stage before";
    /// What to compare with.
    pub const FINISHED_SCENE: &str = "the finished scene";
    /// What to compare with.
    pub const SOURCE: &str = "source";
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
}

/// Words of the step cards.
pub mod card {
    use crate::geometry::{Point, Size};
    use crate::project::{Blend, KeyLight, LayOver, MaskPart, Project, Sign};
    use crate::window::queue::{Column, Tool};
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
    pub const RESET: &str = "reset";
    /// Hover.
    pub const RESET_HOVER: &str = "Back to the usual value.";
    /// State before a finding.
    pub const NEEDS_A_LOOK: &str = "needs a look";
    /// Button of a finding.
    pub const SHOW_ME: &str = "Show me";
    /// Accessible names of buttons that show something.
    pub const SHOW: &str = "Show";
    /// Button.
    pub const REMOVE: &str = "remove";
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
    pub const GRAIN_ON_HOVER: &str =
        "Grain over everything makes plates of many cameras one picture.";
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

    /// Button.
    pub const MEASURE: &str = "Measure again";
    /// Hover.
    pub const MEASURE_HOVER: &str =
        "Registers and matches the frames where anything changed since the last time, then fuses.";
    /// Head.
    pub const SHIFT: &str = "Shift per frame";
    /// Plot.
    pub const SHIFT_PLOT: &str = "Plot of shift per frame";
    /// Line.
    pub const ACROSS: &str = "across";
    /// Line.
    pub const DOWN: &str = "down";
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
    pub fn matched_far(name: &str, stops: f64) -> String {
        format!("{name} had to be changed by {stops:+.2} stops")
    }

    /// Finding.
    #[must_use]
    pub fn adds_nothing(name: &str) -> String {
        format!("{name} is sharpest almost nowhere")
    }

    // Masks.

    /// Value.
    pub const RADIUS: Text = text(
        "Radius",
        " px",
        "Half the width of a stroke. In the picture: comma is narrower, period wider.",
    );
    /// Value.
    pub const SOFTNESS: Text = text(
        "Softness",
        "",
        "0 has a hard edge, 1 is soft from the middle.",
    );
    /// Value.
    pub const DRAWN_STRENGTH: Text = text("Strength", "", "How strongly the next part counts.");
    /// Value.
    pub const PART_STRENGTH: Text = text("Strength", "", "How strongly this part counts.");
    /// Value.
    pub const GROW: Text = text(
        "Grow",
        " px",
        "Grows the mask, or shrinks it where negative.",
    );
    /// Value.
    pub const MASK_FEATHER: Text = text("Feather", " px", "Softens the whole mask.");
    /// Switch.
    pub const INVERTED: &str = "Inside out";
    /// Hover.
    pub const INVERTED_HOVER: &str = "Inside and outside of the mask change places.";
    /// Name of a choice.
    pub const ACTS_THROUGH: Text = text("Mask", "", "Where it acts.");
    /// Choice.
    pub const EVERYWHERE: &str = "everywhere";
    /// Button.
    pub const NEW_MASK: &str = "new mask";
    /// Accessible name.
    pub const NEW_MASK_FOR: &str = "New mask for";
    /// Accessible name.
    pub const NAME_OF_MASK: &str = "Name of the mask";
    /// Shown in an empty mask.
    pub const NOTHING_DRAWN: &str = "Nothing drawn yet: choose a tool and draw in the picture.";
    /// Hover.
    pub const PART_ON_HOVER: &str = "Whether this part counts.";
    /// The tools: word and hover.
    pub const TOOLS: [(Tool, &str, &str); 3] = [
        (Tool::Stroke, "Draw strokes", "Brush over the place."),
        (
            Tool::Outline,
            "Set out an outline",
            "Click from point to point round the place.",
        ),
        (Tool::Move, "Move points", "Move what was drawn."),
    ];
    /// What is drawn: adds or takes away.
    pub const SIGNS: [(Sign, &str); 2] =
        [(Sign::Add, "adds (+)"), (Sign::Remove, "takes away (-)")];

    /// How a tool is used.
    #[must_use]
    pub const fn tool_help(tool: Tool) -> &'static str {
        match tool {
            Tool::Stroke => {
                "Drag in the picture. Comma: narrower. Period: wider. Escape gives a stroke up, then ends drawing."
            }
            Tool::Outline => {
                "Click to set points, drag to curve. Enter, or a click on the first point, closes it; Delete takes the last point back; Escape gives up."
            }
            Tool::Move => {
                "Drag points, handles or lines. Alt and drag curves a corner; a double click on a line adds a point; Delete removes one; arrow keys move it."
            }
            Tool::Grey => "Click a place that is neutral grey. Escape gives up.",
        }
    }

    /// Name of a new mask.
    #[must_use]
    pub fn mask_for(of: &str, masks: usize) -> String {
        format!("{of}, mask {}", masks + 1)
    }

    /// Name of an edit.
    #[must_use]
    pub fn mask_added(of: &str) -> String {
        format!("mask for {of} added")
    }

    /// A part of a mask.
    #[must_use]
    pub fn part_named(number: usize, part: &MaskPart) -> String {
        let sign = match part.sign {
            Sign::Add => "+",
            Sign::Remove => "-",
        };
        format!("{sign} {} {number}", part.shape.word())
    }

    // Lights desk.

    /// Shown without light passes.
    pub const NO_LIGHT_PASS: &str = "No light pass yet: photograph the same pose with the model's own lights on, and drop those photos on the window.";
    /// Name of a choice.
    pub const KEY_LIGHT: Text = text(
        "Key light",
        "",
        "What the stage's key light did during this pass.",
    );
    /// Button.
    pub const ADD_GROUP: &str = "add a group";
    /// Hover.
    pub const GROUP_ON_HOVER: &str = "Whether these lights are lit.";
    /// Value.
    pub const GROUP_STRENGTH: Text =
        text("Lit by", " stops", "0 is as shot; each stop doubles it.");
    /// Value.
    pub const GLOW_SIZE: Text = text("Glow size", " px", "How far light spreads; 0 for none.");
    /// Value.
    pub const GLOW_SHARE: Text = text(
        "Glow share",
        " %",
        "How much of the light goes into the glow.",
    );
    /// Value.
    pub const LAMP_KELVIN: Text = text(
        "Lamp",
        " K",
        "Colours the lights as a lamp of this temperature; 6504 K is neutral.",
    );
    /// Name of a choice.
    pub const LAY_OVER: Text = text("Laid over", "", "How the lights go over the unlit plate.");
    /// Hover.
    pub const DRAW_MASK_HOVER: &str = "Opens the mask's tools; the picture shows what is drawn.";
    /// Button.
    pub const NEUTRAL: &str = "colour as shot";
    /// Hover.
    pub const NEUTRAL_HOVER: &str = "All three factors back to 1.";

    /// A pass.
    #[must_use]
    pub fn pass_named(name: &str) -> String {
        format!("Pass '{name}'")
    }

    /// What the key light did.
    #[must_use]
    pub const fn key_light(light: KeyLight) -> &'static str {
        match light {
            KeyLight::Auto => "to be measured",
            KeyLight::On => "on",
            KeyLight::Dimmed => "dimmed",
            KeyLight::Off => "off",
        }
    }

    /// Accessible name.
    #[must_use]
    pub fn add_group_from(pass: &str) -> String {
        format!("Add a group from {pass}")
    }

    /// Name of a new group.
    #[must_use]
    pub fn group_number(number: usize) -> String {
        format!("lights {number}")
    }

    /// Switch.
    #[must_use]
    pub fn group_on(name: &str) -> String {
        format!("{name} lit")
    }

    /// Accessible name.
    #[must_use]
    pub fn name_of_group(number: u32) -> String {
        format!("Name of group {number}")
    }

    /// How a group is laid over.
    #[must_use]
    pub const fn lay_over(way: LayOver) -> &'static str {
        match way {
            LayOver::AddedLight => "light added",
            LayOver::Covering => "covering",
        }
    }

    /// Button.
    #[must_use]
    pub fn draw_mask_of(group: &str) -> String {
        format!("Draw the mask of {group}")
    }

    /// Accessible name.
    #[must_use]
    pub fn neutral_colour_of(group: &str) -> String {
        format!("Colour of {group} as shot")
    }

    // Matte.

    /// Shown without a matte.
    pub const NO_MATTE: &str = "No matte yet: the whole plate covers what is behind it.";
    /// Button.
    pub const DRAW_MATTE: &str = "Cut out along a drawn mask";
    /// Hover.
    pub const DRAW_MATTE_HOVER: &str = "Adds a mask to draw into; what it covers stays.";
    /// Name of an edit.
    pub const MATTE_BEGUN: &str = "matte begun";
    /// Switch.
    pub const MATTE_ON: &str = "Matte acts";
    /// Button.
    pub const REMOVE_MATTE: &str = "Remove the matte";
    /// Name of a choice.
    pub const METHOD: Text = text("Coverage", "", "Where the coverage comes from.");
    /// Choice.
    pub const DRAWN: &str = "the drawn mask";
    /// Value.
    pub const SPREAD: Text = text(
        "Spread",
        " px",
        "Spreads the edge, or chokes it where negative.",
    );
    /// Value.
    pub const MATTE_FEATHER: Text = text("Edge feather", " px", "Softens the edge.");
    /// Value.
    pub const SOLID_BELOW: Text = text(
        "Solid below",
        " %",
        "Share of the backdrop's light that still counts as solid.",
    );
    /// Value.
    pub const CLEAR_ABOVE: Text = text(
        "Clear above",
        " %",
        "Share of the backdrop's light from which on nothing covers.",
    );
    /// Head.
    pub const MATTE_MASK: &str = "Mask";
    /// What the mask belongs to.
    pub const MATTE_OF: &str = "matte";
    /// What the mask does.
    pub const DRAWN_MASK_SAYS: &str = "What the mask covers stays; the rest becomes clear.";
    /// What the mask does.
    pub const GARBAGE_MASK_SAYS: &str = "A garbage matte: outside the mask the plate is clear.";

    /// Choice and button.
    #[must_use]
    pub fn cut_by(pass: &str) -> String {
        format!("Cut out by silhouette '{pass}'")
    }

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
}
