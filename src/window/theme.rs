//! Sizes and colours of the window. Surrounds are neutral (red = green = blue), so that colour is judged fairly (ISO 3664).

use crate::session::preferences::Surround;
use egui::{Color32, CornerRadius, FontFamily, FontId, Stroke, TextStyle, Theme, Visuals};

/// What is chosen, and nothing else.
pub const BRASS: Color32 = Color32::from_rgb(0xC9, 0xA1, 0x4A);
/// The same on a light surround, dark enough to be read.
pub const DARK_BRASS: Color32 = Color32::from_rgb(0x7A, 0x5C, 0x14);

/// Colours of states and severities: Okabe and Ito (2008), told apart by colour-blind people too. Never without shape and word.
pub mod state_colour {
    use super::Color32;

    /// Done.
    pub const DONE: Color32 = Color32::from_rgb(0x00, 0x9E, 0x73);
    /// Working.
    pub const WORKING: Color32 = Color32::from_rgb(0x56, 0xB4, 0xE9);
    /// Stale.
    pub const STALE: Color32 = Color32::from_rgb(0x99, 0x99, 0x99);
    /// Needs a look.
    pub const DOUBT: Color32 = Color32::from_rgb(0xE6, 0x9F, 0x00);
    /// Missing.
    pub const MISSING: Color32 = Color32::from_rgb(0xD5, 0x5E, 0x00);
}

/// Sizes of the build sheet, in points.
pub mod sheet {
    /// Height of a row.
    pub const ROW: f32 = 40.0;
    /// Height of the head.
    pub const HEAD: f32 = 22.0;
    /// Width of a thumbnail.
    pub const THUMB_WIDTH: f32 = 40.0;
    /// Height of a thumbnail.
    pub const THUMB_HEIGHT: f32 = 28.0;
    /// Width of the first column, with name and blend.
    pub const NAME: f32 = 336.0;
    /// Least width of a stage's column.
    pub const CELL: f32 = 100.0;
    /// Size of a state's shape.
    pub const MARK: f32 = 9.0;
    /// Gap between things.
    pub const GAP: f32 = 4.0;
    /// From a cell's edge to what stands in it.
    pub const MARGIN: f32 = 7.0;
    /// Usual height of the sheet, in a window of this height.
    #[must_use]
    pub fn height(window: f32) -> f32 {
        (window * 0.32).clamp(LEAST, 260.0)
    }

    /// Least height of the sheet.
    pub const LEAST: f32 = 90.0;
    /// Longer side, in pixels, from which a thumbnail is made.
    pub const THUMB_PIXELS: u32 = 160;
}

/// Sizes of bars, dialogues and pages, in points.
pub mod place {
    /// Usual width of the step card, in a window of this width.
    #[must_use]
    pub fn card(window: f32) -> f32 {
        (window * 0.4).clamp(240.0, 340.0)
    }

    /// Width of typed paths.
    pub const PATH: f32 = 420.0;
    /// Width of the progress bar.
    pub const PROGRESS: f32 = 160.0;
    /// Width of pages that are read.
    pub const PAGE: f32 = 720.0;
    /// Least height of the list of edits.
    pub const EDITS: f32 = 360.0;
    /// Space between parts of a page.
    pub const PART: f32 = 16.0;
}

/// Sizes of the start page, in points.
pub mod start {
    /// Gap between the columns.
    pub const BETWEEN: f32 = 48.0;
    /// Gap between things in a row.
    pub const GAP: f32 = 8.0;
    /// Widest that the ways in become.
    const WAYS: f32 = 600.0;
    /// Widest that the order of the work becomes.
    const HOW: f32 = 460.0;

    /// How wide the two columns are, and whether the second goes below the first.
    #[derive(Debug, Clone, Copy, PartialEq)]
    pub struct Columns {
        /// Width of the ways in.
        pub ways: f32,
        /// Width of the order of the work.
        pub how: f32,
        /// Whether it goes below.
        pub below: bool,
    }

    /// Shares out the width of the page.
    #[must_use]
    pub fn columns(width: f32) -> Columns {
        let beside = width - BETWEEN;
        if beside >= WAYS * 0.8 + HOW * 0.6 {
            let ways = (beside * 0.58).min(WAYS);
            Columns {
                ways,
                how: (beside - ways).min(HOW),
                below: false,
            }
        } else {
            Columns {
                ways: width.min(WAYS),
                how: width.min(WAYS),
                below: true,
            }
        }
    }

    /// Size of the program's name.
    #[must_use]
    pub fn title(ui: &egui::Ui) -> f32 {
        ui.text_style_height(&egui::TextStyle::Heading) * 1.5
    }

    /// Width of a step's name.
    #[must_use]
    pub fn step(ui: &egui::Ui) -> f32 {
        ui.text_style_height(&egui::TextStyle::Body) * 6.5
    }
}

/// Sizes of the page where groups of photos are approved, in points.
pub mod approval {
    /// Width of a photo's place.
    const PHOTO: f32 = 118.0;
    /// Height of its picture.
    pub const PICTURE_HEIGHT: f32 = 76.0;
    /// Width of a group's names.
    pub const NAME_FIELD: f32 = 150.0;
    /// Longer side, in pixels, of the pictures read for it.
    pub const PIXELS: u32 = 240;

    /// Size of a photo's place: its picture, two lines and a button below.
    #[must_use]
    pub fn photo(ui: &egui::Ui) -> egui::Vec2 {
        let line = |style| ui.text_style_height(&style) + 2.0;
        let lines = line(egui::TextStyle::Small) * 2.0;
        let button = ui
            .spacing()
            .interact_size
            .y
            .max(line(egui::TextStyle::Button));
        egui::vec2(PHOTO, PICTURE_HEIGHT + lines + button + 4.0)
    }
}

/// Rounding of everything that has corners, in points.
pub const CORNER: u8 = 2;

/// Body text, in points.
const BODY: f32 = 13.0;
/// Notes, in points.
const NOTE: f32 = 11.0;
/// Heads, in points.
const HEAD: f32 = 16.0;

/// Greys of one surround.
#[derive(Debug, Clone, Copy)]
struct Greys {
    ground: u8,
    card: u8,
    raised: u8,
    line: u8,
    text: u8,
    label: u8,
}

/// 13, 17, 22 and 31 % of code range.
const DARK: Greys = Greys {
    ground: 33,
    card: 43,
    raised: 56,
    line: 79,
    text: 232,
    label: 190,
};

/// 88, 93, 97 and 78 % of code range.
const LIGHT: Greys = Greys {
    ground: 224,
    card: 237,
    raised: 247,
    line: 199,
    text: 20,
    label: 70,
};

/// Dresses the whole window. Everything grows with the text, so that nothing that holds text is ever too small for it; the
/// picture keeps its pixels.
pub fn apply(ctx: &egui::Context, surround: Surround, text_scale: f32) {
    ctx.set_zoom_factor(text_scale);
    ctx.set_theme(match surround {
        Surround::Dark => Theme::Dark,
        Surround::Light => Theme::Light,
    });
    for (theme, greys) in [(Theme::Dark, DARK), (Theme::Light, LIGHT)] {
        ctx.style_mut_of(theme, |style| {
            style.visuals = visuals(theme, greys);
            style.spacing.item_spacing = egui::vec2(8.0, 4.0);
            // What goes on out of sight shows a bar at all times.
            style.spacing.scroll = egui::style::ScrollStyle::thin();
            let font = |size: f32| FontId::new(size, FontFamily::Proportional);
            style.text_styles.insert(TextStyle::Body, font(BODY));
            style.text_styles.insert(TextStyle::Button, font(BODY));
            style.text_styles.insert(TextStyle::Small, font(NOTE));
            style.text_styles.insert(TextStyle::Heading, font(HEAD));
            let numbers = FontId::new(BODY, FontFamily::Monospace);
            style.text_styles.insert(TextStyle::Monospace, numbers);
        });
    }
}

fn visuals(theme: Theme, greys: Greys) -> Visuals {
    let grey = Color32::from_gray;
    let mut visuals = theme.default_visuals();
    let line = Stroke::new(1.0, grey(greys.line));
    let text = Stroke::new(1.0, grey(greys.text));
    visuals.panel_fill = grey(greys.card);
    visuals.window_fill = grey(greys.card);
    visuals.extreme_bg_color = grey(greys.ground);
    visuals.faint_bg_color = grey(greys.ground);
    visuals.window_stroke = line;
    visuals.window_shadow = egui::Shadow::NONE;
    visuals.popup_shadow = egui::Shadow::NONE;
    visuals.window_corner_radius = CornerRadius::same(CORNER);
    visuals.menu_corner_radius = CornerRadius::same(CORNER);
    let chosen = match theme {
        Theme::Dark => BRASS,
        Theme::Light => DARK_BRASS,
    };
    visuals.selection.stroke = Stroke::new(1.5, chosen);
    visuals.selection.bg_fill = chosen.gamma_multiply(0.2);
    visuals.weak_text_color = Some(grey(greys.label));
    let widgets = &mut visuals.widgets;
    for widget in [
        &mut widgets.noninteractive,
        &mut widgets.inactive,
        &mut widgets.hovered,
        &mut widgets.active,
        &mut widgets.open,
    ] {
        widget.fg_stroke = text;
        widget.corner_radius = CornerRadius::same(CORNER);
        widget.weak_bg_fill = grey(greys.raised);
        // Rails of sliders and boxes of checks must stand out of a light card, too.
        widget.bg_fill = grey(greys.line);
        widget.expansion = 0.0;
    }
    widgets.noninteractive.bg_stroke = line;
    widgets.inactive.bg_stroke = line;
    widgets.hovered.bg_stroke = text;
    widgets.active.bg_stroke = Stroke::new(1.5, chosen);
    visuals
}

/// The colour of what is chosen, on the surround in use.
#[must_use]
pub fn chosen(ui: &egui::Ui) -> Color32 {
    ui.visuals().selection.stroke.color
}

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
    /// Widest that a sentence on the picture becomes before it takes another line.
    pub const SIGN: f32 = 360.0;
    /// Ground round a sentence on the picture.
    pub const SIGN_MARGIN: f32 = 6.0;
    /// Height of the read-out line.
    pub const READOUT: f32 = 22.0;
    /// Room between the parts of the read-out line.
    pub const READOUT_GAP: f32 = 14.0;
    /// Room at the right end of the read-out line.
    pub const READOUT_END: f32 = 4.0;
    /// Margin round the picture and its bars.
    pub const MARGIN: i8 = 4;
    /// Points moved by an arrow key.
    pub const KEY_PAN: f32 = 60.0;
    /// Dash and gap of what takes away.
    pub const DASH: f32 = 6.0;
    /// Least radius that a place to be filled is shown with.
    pub const SPOT: f32 = 6.0;
    /// Distance of the marks where a warp stretches.
    pub const STRETCH: f32 = 14.0;
}

/// Sizes of the step card, in points.
pub mod card_size {
    /// Height of a sample of a colour.
    pub const SAMPLE: f32 = 8.0;
    /// Height of a plot.
    pub const PLOT: f32 = 96.0;
    /// Half a side of the marker of a plot's line, beside its name.
    pub const MARKER: f32 = 3.5;
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
