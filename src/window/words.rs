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
    WHAT_IT_IS = "A workbench for photographers of scale models: from frames at several focus distances to plates, from plates to one scene.";
    HOW = "How a scene is made";
    HOW_NOTE = "Every step can be changed later: the scene is built anew from your photos and the list of what was done.";
    NO_PHOTOS_YET = "Give a folder or photos first.";
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
    NO_EXPOSURE = "exposure not written";
    TAKE_GROUPS = "Take these groups";
    GROUP = "group";
    IS = "is";
    OF_PLATE = "of plate";
    MOVE_TO = "Move…";
    GROUP_OF_ITS_OWN = "A group of its own";
    LEAVE_OUT = "Leave out";
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
    MAKE_SKY = "Add a made sky";
    MAKE_SKY_HELP = "Stars computed from a seed, behind everything; a dust lane and a planet on its card.";
    SKY = "sky";
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

/// The order of the work: word and what happens.
pub const HOW_STEPS: [(&str, &str); 7] = [
    (
        "Frames",
        "Photos of one pose are a stack. The same pose with the model's own lights on is a light pass, before a lit backdrop a silhouette pass.",
    ),
    (
        "Register",
        "Each frame is laid exactly on its reference frame and brought to the same light.",
    ),
    (
        "Fuse",
        "What is sharp in each frame becomes one sharp plate.",
    ),
    (
        "Matte",
        "The plate is cut out, by its silhouette or along a mask you draw.",
    ),
    (
        "Lights",
        "The model's lights are laid over with a fader each, where you paint them.",
    ),
    (
        "Placement",
        "Plates are set one before the other, the sky behind them.",
    ),
    (
        "Build",
        "The finished picture is written, with a receipt of what it was made from.",
    ),
];

/// A step in the order of the work.
#[must_use]
pub fn how_step(number: u32, word: &str) -> String {
    format!("{number}  {word}")
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
    SWAP_HELP = "Give the photos of the unlit pass: a folder that holds nothing else, or a pattern such as shoot/barge_unlit_*.tif. They are registered to the plate; masks, lights, matte and placement stay. The old source stays in the record.";
    SWAP_NOW = "Swap now";
}

// Build sheet
words! {
    BUILD_SHEET = "Build sheet";
    EMPTY_SHEET = "No plates yet: drop photos or folders on the window, or choose Scene, Add photos.";
    FINISH = "Finish";
    MADE = "made";
    NOTHING = "none";
    NOT_YET = "not yet";
    ONE_PHOTO = "one photo";
    FUSED = "fused";
    WHOLE_PICTURE = "whole picture";
    DRAWN = "drawn";
    SILHOUETTE = "silhouette";
    PLAIN_BACKDROP = "plain backdrop";
    TWO_LEVELS = "two levels";
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

/// What the groups come to.
#[must_use]
pub fn groups_make(plates: usize, passes: usize) -> String {
    format!(
        "{}, {}",
        count(plates, "plate", "plates"),
        count(passes, "further pass", "further passes")
    )
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

/// Why an unlit group cannot go to a plate that is in the scene.
#[must_use]
pub fn plate_is_there(plate: &str) -> String {
    format!(
        "Plate '{plate}' is in the scene already: give it a new source by its menu, or this group another plate."
    )
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

/// What the finish does to the whole scene.
#[must_use]
pub fn of_whole_scene(done: &str) -> String {
    format!("whole scene: {done}")
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

/// A name for a sky that no plate has yet.
#[must_use]
pub fn name_for_sky(taken: impl Fn(&str) -> bool) -> String {
    if !taken(SKY) {
        return SKY.to_owned();
    }
    (2_u32..)
        .map(|number| format!("{SKY} {number}"))
        .find(|name| !taken(name))
        .unwrap_or_else(|| SKY.to_owned())
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

/// How far something is.
#[must_use]
pub fn percent(share: f32) -> String {
    format!("{:.0} %", share * 100.0)
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
        Work::MeasureAgain(_) => "Measuring again",
        Work::Build(_) => "Building",
        Work::Swap { .. } => "Swapping",
        Work::AddPhotos(_) => "Adding photos",
        Work::SuggestMask(..) => "Proposing a mask",
        Work::FindDoubled(..) => "Looking for doubled light",
        Work::CheckPhotos | Work::FindPhotos(_) | Work::TakeChanged => "Reading photos",
        Work::FindSpots(..) => "Looking for dust and hair",
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
        Report::Swapped(swapped) => record::swapped(
            &swapped.plate,
            &residual(swapped.residual_px),
            (swapped.carried.len(), swapped.needs_a_look.len()),
        ),
        Report::Added(frames) => format!("{} added.", photos(frames.len())),
        Report::Spots(0) => "No dust or hair was found.".to_owned(),
        Report::Spots(places) => {
            format!(
                "{places} places are in the spotting step: look through them before you rely on it."
            )
        }
        Report::Suggested(_) => "A mask is proposed, and the group acts through it.".to_owned(),
        Report::Doubled(_, _, places) => record::doubled(places.len()),
        Report::Checked(_) => "Photos read.".to_owned(),
        Report::FoundPhotos(found, missing) => record::photos_found(*found, missing),
        Report::TookChanged(taken) => record::photos_taken(taken),
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
        Column::Spotting => "Spotting",
        Column::Warp => "Warp",
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

/// Places that spotting and paint-out fill.
#[must_use]
pub fn spots(number: usize) -> String {
    count(number, "spot", "spots")
}

/// Warps, all of them strakes.
#[must_use]
pub fn strakes(number: usize) -> String {
    count(number, "strake", "strakes")
}

/// Warps.
#[must_use]
pub fn warps(number: usize) -> String {
    count(number, "warp", "warps")
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
pub use crate::window::card_words as card;
pub use crate::window::picture_words as picture;
pub use crate::window::record_words as record;
