//! Words of what is kept: named states, photos on the disc, what a swap leaves to look at. The window calls them `words::record`.

use crate::session::sources::SourceState;

/// Menu: named states of the scene.
pub const STATES: &str = "States";
/// Hover.
pub const STATES_HOVER: &str =
    "States of the scene that have a name: to come back to, and to compare with.";
/// Field: a name for the state the scene is in.
pub const STATE_NAME: &str = "Name of this state";
/// Button.
pub const NAME_STATE: &str = "Name this state";
/// Shown where no state has a name.
pub const NO_STATES: &str = "No state has a name yet.";

/// A line of the list of states.
#[must_use]
pub fn go_to_state(name: &str) -> String {
    format!("Go to {name}")
}

/// Accessible name of the button that takes a state's name away.
#[must_use]
pub fn forget_state(name: &str) -> String {
    format!("Forget the name {name}")
}

/// Button.
pub const FORGET: &str = "Forget";

/// How many places show light twice.
#[must_use]
pub fn doubled(places: usize) -> String {
    match places {
        0 => "No lit detail doubles.".to_owned(),
        1 => "Lit detail doubles at 1 place; the card shows where.".to_owned(),
        many => format!("Lit detail doubles at {many} places; the card shows where."),
    }
}

/// Menu entry and head of the dialogue.
pub const PHOTOS_ON_DISC: &str = "Photos on disc…";
/// Head of the dialogue.
pub const PHOTOS_HEAD: &str = "Photos on disc";
/// What the dialogue is for.
pub const PHOTOS_HELP: &str =
    "Every photo is read, and compared with the one this scene was made from.";
/// Shown while photos are read.
pub const CHECKING: &str = "Reading the photos…";
/// Button.
pub const CHECK_AGAIN: &str = "Check again";
/// Button.
pub const CLOSE: &str = "Close";
/// Field: a folder to look in.
pub const LOOK_IN: &str = "Look in folder";
/// Button.
pub const FIND: &str = "Find missing photos there";
/// Hover.
pub const FIND_HOVER: &str =
    "By content, in this folder and those below it: renamed and moved photos are found, too.";
/// Button.
pub const TAKE_CHANGED: &str = "Take changed photos as they are";
/// Hover.
pub const TAKE_CHANGED_HOVER: &str =
    "The scene is measured and built anew from them; the receipt says so. One undo goes back.";

/// State of a photo.
#[must_use]
pub const fn state_word(state: SourceState) -> &'static str {
    match state {
        SourceState::Same => "same",
        SourceState::Changed => "changed",
        SourceState::Missing => "missing",
    }
}

/// How many photos are in which state.
#[must_use]
pub fn photos_checked(same: usize, changed: usize, missing: usize) -> String {
    if changed + missing == 0 {
        return format!("All {same} photos are the ones this scene was made from.");
    }
    format!("{same} the same, {changed} changed, {missing} missing.")
}

/// How many photos were found again.
#[must_use]
pub fn photos_found(found: usize, missing: &[String]) -> String {
    if missing.is_empty() {
        return format!("{found} photos found; none is missing.");
    }
    format!(
        "{found} photos found; still missing: {}",
        missing.join(", ")
    )
}

/// Which changed photos were taken as they are.
#[must_use]
pub fn photos_taken(taken: &[String]) -> String {
    if taken.is_empty() {
        return "No photo was changed.".to_owned();
    }
    format!("Taken as they are now: {}", taken.join(", "))
}

/// Head of the list after a swap.
pub const AFTER_SWAP: &str = "After the swap";
/// Accessible name of the list of what follows the new source.
pub const CARRIED: &str = "carried over";
/// Button.
pub const KEEP_SOURCE: &str = "Keep the new source";
/// Hover.
pub const KEEP_SOURCE_HOVER: &str = "Puts this list away. Both sources stay in the record.";
/// Button.
pub const BACK_TO_OLD: &str = "Back to the old source";
/// Hover.
pub const BACK_TO_OLD_HOVER: &str = "Undoes the swap.";
/// Hover where more was done since the swap.
pub const BACK_TO_OLD_LATER: &str = "More was done since the swap: undo that first, or choose the old source on the card of frames.";
/// How to see both sources.
pub const COMPARE_OLD: &str =
    "Line-up, Split and Blink over the picture show the old source with the new one.";

/// What came out of a swap, in one line.
#[must_use]
pub fn swapped(plate: &str, residual: &str, (carried, looks): (usize, usize)) -> String {
    let carried = match carried {
        1 => "1 step carried over".to_owned(),
        many => format!("{many} steps carried over"),
    };
    let looks = match looks {
        0 => "nothing wants a look".to_owned(),
        1 => "1 place wants a look".to_owned(),
        many => format!("{many} places want a look"),
    };
    format!("{plate} has its new source, residual {residual}; {carried}, {looks}.")
}

/// A place that wants a look, by its number.
#[must_use]
pub fn place(number: usize) -> String {
    format!("{number}")
}

/// Accessible name of the button that shows such a place.
#[must_use]
pub fn show_place(step: &str, number: usize) -> String {
    format!("Show place {number} of {step}")
}
