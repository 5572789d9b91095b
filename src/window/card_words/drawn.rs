//! Words of what is drawn and lit: masks, the lights desk, the matte.

use crate::project::{KeyLight, LayOver, MaskPart, Sign};
use crate::window::card_words::text;
use crate::window::queue::Tool;
use crate::window::step_cards::field::Text;

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
pub const NEW_MASK: &str = "New mask";
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
pub const SIGNS: [(Sign, &str); 2] = [(Sign::Add, "adds (+)"), (Sign::Remove, "takes away (-)")];

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
        Sign::Within => "within",
    };
    format!("{sign} {} {number}", part.shape.word())
}

/// Button.
pub const ADD_BRIGHTNESS: &str = "Add a brightness range";
/// Button.
pub const ADD_COLOUR: &str = "Add a colour range";
/// Button.
pub const ADD_DEPTH: &str = "Add a depth range";
/// Value.
pub const RANGE_FROM: Text = text("From", "", "Where the range begins.");
/// Value.
pub const RANGE_TO: Text = text(
    "Up to",
    "",
    "Where the range ends; brightness of 1 goes on without end.",
);
/// Value.
pub const RANGE_SOFT: Text = text("Fades over", "", "How softly the range ends.");
/// Value.
pub const COLOUR_REACH: Text = text(
    "Reach",
    "",
    "How far from the picked colour others still count.",
);
/// Name of a choice.
pub const RANGE_OF: Text = text("Looks at", "", "The picture that the range is taken from.");
/// Choice.
pub const OF_PLATE: &str = "the unlit plate";
/// Name of a choice.
pub const JOINS_BY: Text = text("Joins", "", "How this part joins the parts before it.");
/// How a part joins the others.
pub const JOINS: [(Sign, &str); 3] = [
    (Sign::Add, "adds"),
    (Sign::Remove, "takes away"),
    (Sign::Within, "keeps only what is within"),
];

/// Button.
#[must_use]
pub fn add_mask(name: &str) -> String {
    format!("add mask '{name}'")
}

/// Choice.
#[must_use]
pub fn of_light(pass: &str) -> String {
    format!("the light of '{pass}'")
}

// Lights desk.

/// Value.
pub const DENOISE: Text = text(
    "Calmed by",
    "",
    "How strongly noise is taken off the light; 0 not at all, 2 suits most. The plate keeps its own.",
);
/// Value.
pub const KEEP_COLOUR: Text = text(
    "Colour of cores",
    " %",
    "Holds light beyond white back, so that lamps keep their colour.",
);
/// Value.
pub const OUTSIDE_SHARE: Text = text(
    "Outside the mask",
    " %",
    "How much of the light stays outside the mask: what the lamps throw on the model.",
);
/// Value.
pub const BLADES: Text = text(
    "Blades",
    "",
    "Straight blades of the lens: an even number gives as many spikes, an odd one twice as many.",
);
/// Value.
pub const SPIKE_TURN: Text = text("Turn", " \u{b0}", "Turns the spikes.");
/// Value.
pub const SPIKE_F_NUMBER: Text = text("f-number", "", "Spikes grow with it.");
/// Value.
pub const SPIKE_LENGTH: Text = text(
    "Length",
    "",
    "1 is what a camera with pixels of 4 um gives.",
);
/// Value.
pub const SPIKE_SHARE: Text = text(
    "Spike share",
    " %",
    "How much of the lamps' light goes into the spikes.",
);
/// Value.
pub const SPIKE_SPREAD: Text = text(
    "Colour spread",
    "",
    "0: all colours alike; 1: red spikes longer than blue ones, as wavelengths are.",
);
/// Hover.
pub const SPIKES_HOVER: &str = "Spikes round the lamps, as straight blades make them.";
/// Value.
pub const FLICKER_BY: Text = text("Flickers by", " stops", "Typical change of strength.");
/// Value.
pub const FLICKER_SEED: Text = text(
    "Flicker seed",
    "",
    "Another number, another picture; the same number, the same.",
);
/// Hover.
pub const FLICKER_HOVER: &str = "Chance changes of strength, for variants of a picture.";
/// Button.
pub const PROPOSE_MASK: &str = "Propose a mask";
/// Hover.
pub const PROPOSE_MASK_HOVER: &str = "Outlines round what this pass shows significantly brighter; they can be changed like drawn ones.";

/// Switch.
#[must_use]
pub fn spikes_of(group: &str) -> String {
    format!("Spikes of {group}")
}

/// Switch.
#[must_use]
pub fn flicker_of(group: &str) -> String {
    format!("Flicker of {group}")
}

/// Accessible name.
#[must_use]
pub fn propose_mask_for(group: &str) -> String {
    format!("Propose a mask for {group}")
}

/// Shown without light passes.
pub const NO_LIGHT_PASS: &str = "No light pass yet: photograph the same pose with the model's own lights on, and drop those photos on the window.";
/// Name of a choice.
pub const KEY_LIGHT: Text = text(
    "Key light",
    "",
    "What the stage's key light did during this pass.",
);
/// Finding.
#[must_use]
pub fn bent(pass: &str, by_px: f64) -> String {
    format!(
        "the model moved by up to {by_px:.1} px between the unlit photos and '{pass}': its light is bent back to where it belongs; shoot the pass again if that shows"
    )
}

/// Finding.
#[must_use]
pub fn moved_far(pass: &str, by_px: f64) -> String {
    format!(
        "a part of the model lies {by_px:.0} px off in '{pass}', too far to be bent back: put it where it was and shoot the pass again"
    )
}

/// Button.
pub const FIND_DOUBLED: &str = "Look for doubled light";
/// Hover.
pub const FIND_DOUBLED_HOVER: &str = "Where the pass does not lie on the unlit photos, edges show twice once its light is laid over.";

/// Accessible name.
#[must_use]
pub fn find_doubled_in(pass: &str) -> String {
    format!("Look for doubled light in {pass}")
}

/// Finding.
#[must_use]
pub fn doubled(pass: &str, number: usize) -> String {
    format!(
        "light of '{pass}' doubles, place {number}: a part moved; shoot the pass again, or keep the mask off"
    )
}

/// Button.
pub const ADD_GROUP: &str = "Add a group";
/// Hover.
pub const GROUP_ON_HOVER: &str = "Whether these lights are lit.";
/// Value.
pub const GROUP_STRENGTH: Text = text("Lit by", " stops", "0 is as shot; each stop doubles it.");
/// Value.
pub const GLOW_SIZE: Text = text("Glow size", " px", "How far light spreads; 0 for none.");
/// Value.
pub const GLOW_OF_PLATE: Text = text(
    "Glow of plate",
    " %",
    "The glow's size as a share of the plate's width.",
);
/// Value.
pub const HUE: Text = text(
    "Hue",
    "°",
    "Colour picked by eye: red 0, green 120, blue 240. The lights keep their brightness.",
);
/// Value.
pub const PURITY: Text = text("Purity", " %", "0 is white; 100 has no white in it.");
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
    "Colours the lights as a lamp of this temperature; daylight (about 6500 K) leaves them as shot.",
);
/// Name of a choice.
pub const LAY_OVER: Text = text("Laid over", "", "How the lights go over the unlit plate.");
/// Hover.
pub const DRAW_MASK_HOVER: &str = "Opens the mask's tools; the picture shows what is drawn.";
/// Button.
pub const NEUTRAL: &str = "Colour as shot";
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
