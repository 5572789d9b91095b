//! The line under the picture: where the pointer is, what is there, how large it is shown.

use crate::geometry::{Point, Size};
use crate::pixels::convert::floor_f64;
use crate::session::viewing::{TileKey, Values, Viewer};
use crate::window::theme::picture_size;
use crate::window::viewport::layer::Layer;
use crate::window::viewport::pan_zoom::Map;
use crate::window::viewport::tile_textures::Textures;
use crate::window::words::picture as words;
use egui::{Pos2, RichText, Ui};

/// Coarsest level that values are read from.
const DEEPEST: u32 = 10;

/// What the line says.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Readout {
    /// Position under the pointer, in pixels of what is shown.
    pub at: Option<Point>,
    /// Values there as shown, 0..=255, with coverage; `None` while the tile is not there.
    pub values: Option<[u8; 4]>,
    /// Light there, and which frame is sharp there; `None` until it was read.
    pub light: Option<Values>,
    /// Screen pixels per picture pixel.
    pub zoom: f64,
}

impl Readout {
    /// Reads what is under the pointer.
    #[must_use]
    pub fn new(
        map: &Map,
        pointer: Option<Pos2>,
        (viewer, textures): (&mut Viewer, &mut Textures),
        layer: &Layer,
    ) -> Self {
        let at = pointer.map(|pointer| map.to_picture(pointer));
        let found = at
            .zip(viewer.size(layer.shown))
            .and_then(|(at, size)| tile_at(at, size, (viewer, textures), layer));
        Self {
            at,
            values: found.map(|(values, _place)| values),
            light: found.and_then(|(_values, (key, pixel))| viewer.values(key, pixel)),
            zoom: map.zoom * f64::from(map.pixels_per_point),
        }
    }

    /// Shows the line: what comes first is left out last where there is little room.
    pub fn ui(&self, ui: &mut Ui, size: Option<Size>) {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = picture_size::READOUT_GAP;
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                ui.add_space(picture_size::READOUT_END);
                let zoom = format!("{:.0} %", self.zoom * 100.0);
                ui.label(RichText::new(zoom).monospace())
                    .on_hover_text(words::ZOOM_HOVER);
                if let Some(size) = size {
                    let size = format!("{} x {} px", size.width, size.height);
                    ui.label(RichText::new(size).monospace().weak());
                }
                ui.with_layout(egui::Layout::left_to_right(egui::Align::Center), |ui| {
                    self.parts_ui(ui);
                });
            });
        });
    }

    /// As many parts of the line as there is room for.
    fn parts_ui(&self, ui: &mut Ui) {
        for (text, hover) in self.parts() {
            let text = RichText::new(text).monospace();
            let galley = egui::WidgetText::from(text.clone()).into_galley(
                ui,
                Some(egui::TextWrapMode::Extend),
                f32::INFINITY,
                egui::TextStyle::Monospace,
            );
            if galley.size().x > ui.available_width() {
                return;
            }
            ui.label(text).on_hover_text(hover);
        }
    }

    /// The parts of the line, and what they say on hover.
    fn parts(&self) -> Vec<(String, &'static str)> {
        let at = self.at.map_or_else(
            || words::NO_POINTER.to_owned(),
            |at| words::position(at.x.floor(), at.y.floor()),
        );
        let mut parts = vec![(at, words::POSITION_HOVER)];
        if let Some(values) = self.values {
            parts.push((words::values(values), words::VALUES_HOVER));
        }
        if let Some(read) = self.light {
            parts.push((words::light(read.light), words::LIGHT_HOVER));
            if let Some(frame) = read.sharpest_frame {
                parts.push((words::sharpest_frame(frame), words::SHARPEST_HOVER));
            }
        }
        parts
    }
}

/// A pixel of a tile.
type PixelOfTile = (TileKey, (i32, i32));

/// The values at a position from the finest tile that is there, and the pixel of the tile they are from.
fn tile_at(
    at: Point,
    size: Size,
    (viewer, textures): (&Viewer, &mut Textures),
    layer: &Layer,
) -> Option<([u8; 4], PixelOfTile)> {
    if !size.rect().contains(floor_f64(at.x), floor_f64(at.y)) {
        return None;
    }
    for level in 0..=DEEPEST {
        let shrink = 1.0 / f64::from(1_u32 << level);
        let (x, y) = (floor_f64(at.x * shrink), floor_f64(at.y * shrink));
        let pixel = crate::geometry::Rect::new(x, y, x + 1, y + 1);
        let Some(index) = viewer.covering(size, level, pixel).first().copied() else {
            continue;
        };
        let key = TileKey {
            shown: layer.shown,
            level,
            index,
        };
        if !textures.has(layer.eye, key) {
            continue;
        }
        let rect = viewer.tile_rect(size, level, index);
        let painted = textures.peek(layer.eye, key)?;
        let start = rect.index(x, y) * 4;
        let values = painted.image.rgba.get(start..start + 4)?.try_into().ok()?;
        return Some((values, (key, (x, y))));
    }
    None
}
