//! Sizes and colours.

// Picture and step cards

use egui::Color32;

/// Colours of the picture's surround and of what is drawn on it.
pub mod picture {
    use super::Color32;

    /// Surround of the picture: neutral, so that colour is judged fairly (ISO 3664 asks for a neutral surround).
    pub const SURROUND: Color32 = Color32::from_gray(34);
    /// Shown where a picture is clear.
    pub const CLEAR: Color32 = Color32::from_gray(72);
    /// Shown where a picture is still to come.
    pub const COMING: Color32 = Color32::from_gray(48);
    /// Edge of the picture.
    pub const EDGE: Color32 = Color32::from_gray(96);
    /// Lines drawn on the picture: light on a dark casing, to be seen on anything.
    pub const LINE: Color32 = Color32::from_gray(245);
    /// Casing of lines.
    pub const CASING: Color32 = Color32::from_black_alpha(160);
    /// What is chosen or held.
    pub const CHOSEN: Color32 = Color32::from_rgb(0xC9, 0xA1, 0x4A);
    /// What takes away from a mask; drawn dashed as well.
    pub const REMOVING: Color32 = Color32::from_rgb(0x56, 0xB4, 0xE9);
    /// Text on the picture.
    pub const TEXT: Color32 = Color32::from_gray(245);
    /// Ground behind text on the picture.
    pub const TEXT_GROUND: Color32 = Color32::from_black_alpha(190);
}

/// Sizes of the picture and of what is drawn on it, in points.
pub mod picture_size {
    /// Width of lines.
    pub const LINE: f32 = 1.5;
    /// Width of their casing.
    pub const CASING: f32 = 3.5;
    /// Half a side of a handle.
    pub const HANDLE: f32 = 5.0;
    /// How near the pointer must be to take a handle.
    pub const GRAB: f32 = 9.0;
    /// How far the turn handle stands off.
    pub const TURN: f32 = 28.0;
    /// How far the pointer must move to drag a curve handle out of a new point.
    pub const PULL: f32 = 4.0;
    /// Height of the read-out line.
    pub const READOUT: f32 = 22.0;
    /// Points moved by an arrow key.
    pub const KEY_PAN: f32 = 60.0;
    /// Dash and gap of what takes away.
    pub const DASH: f32 = 6.0;
}

/// Sizes of the step card, in points.
pub mod card_size {
    /// Height of a plot.
    pub const PLOT: f32 = 96.0;
    /// Width of a value's name.
    pub const NAME: f32 = 108.0;
    /// Width of a slider.
    pub const SLIDER: f32 = 96.0;
    /// Width of a number.
    pub const NUMBER: f32 = 74.0;
    /// Height of a row.
    pub const ROW: f32 = 22.0;
    /// Space between parts of a card.
    pub const GAP: f32 = 8.0;
}
