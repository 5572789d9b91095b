//! One cell: thumbnail, telling number, state as shape and word. It is chosen by click or arrow keys.

use crate::geometry::Size;
use crate::window::build_sheet::facts::CellFacts;
use crate::window::build_sheet::{marks, thumbs};
use crate::window::{theme, words};
use egui::{Align2, Id, Rect, Response, Sense, Stroke, StrokeKind, TextStyle, TextureId, Ui};

/// What a cell is drawn from.
#[derive(Debug, Clone, Copy)]
pub struct Cell<'a> {
    /// What it says.
    pub facts: &'a CellFacts,
    /// The row's name.
    pub row: &'a str,
    /// Whether it is chosen.
    pub chosen: bool,
    /// Whether cells of its column have thumbnails, so that room is kept for one.
    pub room_for_thumb: bool,
    /// Its thumbnail and that one's size in pixels, once there.
    pub thumb: Option<(TextureId, [usize; 2])>,
}

/// Draws the cell into `rect` and says what happened to it.
pub fn ui(ui: &Ui, rect: Rect, id: Id, cell: Cell<'_>) -> Response {
    let response = ui.interact(rect, id, Sense::click());
    let name = words::cell(
        cell.row,
        cell.facts.column,
        &cell.facts.number,
        cell.facts.state,
    );
    response
        .widget_info(|| egui::WidgetInfo::selected(egui::Role::Button, true, cell.chosen, &name));
    let painter = ui.painter().with_clip_rect(rect.intersect(ui.clip_rect()));
    let visuals = ui.visuals();
    if cell.chosen {
        painter.rect_filled(rect.shrink(1.0), 0.0, visuals.selection.bg_fill);
        let edge = Stroke::new(1.5, theme::chosen(ui));
        painter.rect_stroke(rect.shrink(2.0), 0.0, edge, StrokeKind::Inside);
    } else if response.hovered() {
        painter.rect_filled(rect.shrink(1.0), 0.0, visuals.widgets.hovered.bg_fill);
    }
    if response.has_focus() {
        let edge = Stroke::new(1.0, visuals.text_color());
        painter.rect_stroke(rect.shrink(1.0), 0.0, edge, StrokeKind::Inside);
    }
    let mut left = rect.left() + theme::sheet::MARGIN;
    if cell.room_for_thumb {
        let room = egui::vec2(theme::sheet::THUMB_WIDTH, theme::sheet::THUMB_HEIGHT);
        let room = Rect::from_center_size(egui::pos2(left + room.x * 0.5, rect.center().y), room);
        if cell.facts.thumb.is_some() {
            thumb_ui(&painter, room, cell.thumb);
        } else {
            let edge = visuals.widgets.noninteractive.bg_stroke;
            painter.rect_stroke(room.shrink(1.0), 0.0, edge, StrokeKind::Inside);
        }
        left = room.right() + theme::sheet::MARGIN;
    }
    text_ui(ui, &painter, (rect, left), cell.facts);
    response.on_hover_text(name)
}

fn thumb_ui(painter: &egui::Painter, room: Rect, thumb: Option<(TextureId, [usize; 2])>) {
    match thumb {
        Some((texture, [width, height])) => {
            let pixels = |side: usize| u32::try_from(side).unwrap_or(1);
            let size = thumbs::fitted(Size::new(pixels(width), pixels(height)), room.size());
            let rect = Rect::from_center_size(room.center(), size);
            let whole = Rect::from_min_max(egui::Pos2::ZERO, egui::pos2(1.0, 1.0));
            painter.rect_filled(rect, 0.0, theme::picture::CLEAR);
            painter.image(texture, rect, whole, egui::Color32::WHITE);
        }
        None => {
            painter.rect_filled(room, 0.0, theme::picture::COMING);
        }
    }
}

fn text_ui(ui: &Ui, painter: &egui::Painter, (rect, left): (Rect, f32), facts: &CellFacts) {
    let visuals = ui.visuals();
    let above = egui::pos2(left, rect.center().y - 1.0);
    let body = TextStyle::Body.resolve(ui.style());
    painter.text(
        above,
        Align2::LEFT_BOTTOM,
        &facts.number,
        body,
        visuals.text_color(),
    );
    let half = theme::sheet::MARK * 0.5;
    let middle = egui::pos2(left + half + 1.0, rect.center().y + 9.0);
    marks::draw(painter, middle, theme::sheet::MARK, facts.state);
    let small = TextStyle::Small.resolve(ui.style());
    painter.text(
        egui::pos2(middle.x + half + theme::sheet::GAP, middle.y),
        Align2::LEFT_CENTER,
        words::state(facts.state),
        small,
        visuals.weak_text_color(),
    );
}
