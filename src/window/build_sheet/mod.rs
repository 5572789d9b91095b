//! The build sheet: rows are plates front to back, columns the stages of their making; what leads the window.

mod by_hand;
pub mod cell;
pub mod facts;
pub mod marks;
pub mod order;
pub mod row_head;
pub mod thumbs;

use crate::project::{PlateId, Project};
use crate::session::Command;
use crate::session::jobs::Work;
use crate::window::queue::{Ask, Column, Look, Queue, Row, Selection};
use crate::window::{theme, words};
use egui::{EventFilter, Id, Key, Modifiers, Rect, Ui};
use facts::{Before, COLUMNS, RowFacts};
use order::Way;
use row_head::Drafts;
use std::sync::Arc;
use thumbs::Thumbs;

/// The sheet's own state.
#[derive(Debug, Default)]
pub struct Sheet {
    thumbs: Thumbs,
    rows: Vec<RowFacts>,
    /// What the rows were read from.
    of: Option<ReadFrom>,
    before: Before,
    drafts: Drafts,
    /// The plate whose row is being dragged.
    dragged: Option<PlateId>,
    /// The cell that shall have the keyboard's focus next.
    focus_next: Option<Selection>,
}

/// What the rows were read from.
#[derive(Debug)]
struct ReadFrom {
    project: Arc<Project>,
    busy: Option<Work>,
    /// Whether a swap waits to be decided about.
    swapped: bool,
}

impl Sheet {
    /// Reads everything anew: a job ended, or files may have come or gone.
    pub fn look_again(&mut self) {
        self.of = None;
        self.thumbs.look_again();
    }

    /// The rows as they were shown last.
    #[must_use]
    pub fn rows(&self) -> &[RowFacts] {
        &self.rows
    }

    /// Shows the sheet.
    pub fn ui(&mut self, ui: &mut Ui, look: &Look<'_>, busy: Option<&Work>, queue: &mut Queue) {
        self.read(ui, look, busy);
        self.thumbs.begin_frame();
        let bar = ui.spacing().scroll.floating_allocated_width;
        let width = (ui.available_width() - bar).max(least_width());
        egui::ScrollArea::both().auto_shrink(false).show(ui, |ui| {
            ui.spacing_mut().item_spacing.y = 0.0;
            head_ui(ui, width);
            let rows = std::mem::take(&mut self.rows);
            let mut places = Vec::new();
            for row in &rows {
                let rect = self.row_ui(ui, look, (row, width), queue);
                places.push((row.row, rect));
            }
            if look.session.project().plates.is_empty() {
                ui.add_space(theme::place::PART);
                ui.label(words::EMPTY_SHEET);
            }
            self.drop_row(ui, look, &places, queue);
            self.rows = rows;
        });
        self.keys(ui, look, queue);
    }

    /// Reads the rows again where what they show has changed.
    fn read(&mut self, ui: &Ui, look: &Look<'_>, busy: Option<&Work>) {
        let project = look.session.project();
        let back = ui.input(|input| {
            let back = |event: &egui::Event| matches!(event, egui::Event::WindowFocused(true));
            input.raw.events.iter().any(back)
        });
        let swapped = look.swapped.map(|swapped| &swapped.report);
        let same = |read: &ReadFrom| {
            Arc::ptr_eq(&read.project, project)
                && read.busy.as_ref() == busy
                && read.swapped == swapped.is_some()
        };
        let viewer = self.thumbs.viewer(look.session, ui.ctx());
        if back || !self.of.as_ref().is_some_and(same) {
            self.rows = facts::read(look.session, viewer, (busy, swapped), &mut self.before);
            self.of = Some(ReadFrom {
                project: Arc::clone(project),
                busy: busy.cloned(),
                swapped: swapped.is_some(),
            });
            let rows = &self.rows;
            let mut cells = rows.iter().flat_map(|row| &row.cells);
            let wanted: Vec<_> = cells.by_ref().filter_map(|cell| cell.thumb).collect();
            self.thumbs.keep_only(|shown| wanted.contains(&shown));
        }
    }

    fn row_ui(
        &mut self,
        ui: &mut Ui,
        look: &Look<'_>,
        (row, width): (&RowFacts, f32),
        queue: &mut Queue,
    ) -> Rect {
        let size = egui::vec2(width, theme::sheet::ROW);
        let (rect, _space) = ui.allocate_exact_size(size, egui::Sense::HOVER);
        let line = egui::Stroke::new(1.0, ui.visuals().widgets.noninteractive.bg_stroke.color);
        ui.painter().hline(rect.x_range(), rect.bottom(), line);
        let head = Rect::from_min_size(rect.min, egui::vec2(theme::sheet::NAME, rect.height()));
        let builder = egui::UiBuilder::new()
            .id_salt(("row", row.name.as_str()))
            .max_rect(head.shrink2(egui::vec2(theme::sheet::GAP, 2.0)))
            .layout(egui::Layout::left_to_right(egui::Align::Center));
        ui.scope_builder(builder, |ui| {
            ui.spacing_mut().item_spacing.x = theme::sheet::GAP;
            match row.row {
                Row::Plate(plate) => {
                    let project = look.session.project();
                    let grip = row_head::ui(ui, (project, plate), &mut self.drafts, queue);
                    if grip.drag_started() {
                        self.dragged = Some(plate);
                    }
                }
                Row::Finish => {
                    ui.label(&row.name);
                }
            }
        });
        for facts in &row.cells {
            self.cell_ui(
                ui,
                look,
                (row, facts),
                (cell_rect(rect, row, facts.column), queue),
            );
        }
        rect
    }

    fn cell_ui(
        &mut self,
        ui: &Ui,
        look: &Look<'_>,
        (row, facts): (&RowFacts, &facts::CellFacts),
        (rect, queue): (Rect, &mut Queue),
    ) {
        let here = Selection {
            row: row.row,
            column: facts.column,
        };
        let visible = ui.clip_rect().intersects(rect);
        let thumb = facts.thumb.filter(|_shown| visible);
        let cell = cell::Cell {
            facts,
            row: &row.name,
            chosen: look.selection == here,
            room_for_thumb: row.row == Row::Finish || has_thumbs(facts.column),
            thumb: thumb
                .and_then(|shown| self.thumbs.get(shown, ui.ctx()))
                .map(|texture| (texture.id(), texture.size())),
        };
        let id = cell_id(here);
        let response = cell::ui(ui, rect, id, cell);
        if self.focus_next == Some(here) {
            self.focus_next = None;
            response.request_focus();
            response.scroll_to_me(None);
        }
        ui.memory_mut(|memory| {
            let arrows = EventFilter {
                horizontal_arrows: true,
                vertical_arrows: true,
                ..EventFilter::default()
            };
            memory.set_focus_lock_filter(id, arrows);
        });
        if response.clicked() {
            response.request_focus();
            queue.ask(Ask::Select(here));
        }
    }

    /// Where a dragged row is let go, it goes; Escape gives the drag up.
    fn drop_row(&mut self, ui: &Ui, look: &Look<'_>, places: &[(Row, Rect)], queue: &mut Queue) {
        let Some(plate) = self.dragged else { return };
        if ui.input(|input| input.key_pressed(Key::Escape)) {
            self.dragged = None;
            return;
        }
        let Some(at) = ui.input(|input| input.pointer.interact_pos()) else {
            return;
        };
        let over = places
            .iter()
            .find(|(_row, rect)| rect.y_range().contains(at.y));
        if let Some((_row, rect)) = over {
            let line = egui::Stroke::new(2.0, theme::chosen(ui));
            let outline = rect.shrink(1.0);
            ui.painter()
                .rect_stroke(outline, 0.0, line, egui::StrokeKind::Inside);
        }
        if ui.input(|input| !input.pointer.any_down()) {
            self.dragged = None;
            if let Some((Row::Plate(target), _rect)) = over
                && let Some(edit) = order::to_row(look.session.project(), plate, *target)
            {
                queue.ask(Ask::Command(Command::Edit(edit)));
            }
        }
    }

    /// Arrow keys choose a neighbour while a cell has the focus; with Alt they move the row.
    fn keys(&mut self, ui: &Ui, look: &Look<'_>, queue: &mut Queue) {
        let has_focus = ui.memory(|memory| memory.has_focus(cell_id(look.selection)));
        if let Row::Plate(plate) = look.selection.row
            && !ui.text_edit_focused()
        {
            for (key, way) in [(Key::ArrowUp, Way::Forward), (Key::ArrowDown, Way::Back)] {
                if ui.input_mut(|input| input.consume_key(Modifiers::ALT, key))
                    && let Some(edit) = order::step(look.session.project(), plate, way)
                {
                    queue.ask(Ask::Command(Command::Edit(edit)));
                }
            }
        }
        if !has_focus {
            return;
        }
        for (key, right, down) in [
            (Key::ArrowLeft, -1, 0),
            (Key::ArrowRight, 1, 0),
            (Key::ArrowUp, 0, -1),
            (Key::ArrowDown, 0, 1),
        ] {
            if ui.input_mut(|input| input.consume_key(Modifiers::NONE, key))
                && let Some(next) = neighbour(&self.rows, look.selection, (right, down))
            {
                self.focus_next = Some(next);
                queue.ask(Ask::Select(next));
            }
        }
    }
}

/// The cell beside `from`; none over the edge.
fn neighbour(
    rows: &[RowFacts],
    from: Selection,
    (right, down): (isize, isize),
) -> Option<Selection> {
    let row = rows.iter().position(|row| row.row == from.row)?;
    let row = &rows[row.checked_add_signed(down)?..].first()?;
    let column = COLUMNS.iter().position(|column| *column == from.column)?;
    let column = COLUMNS.get(column.checked_add_signed(right)?)?;
    let (row, column) = match row.row {
        Row::Finish => (Row::Finish, Column::Placement),
        Row::Plate(plate) => (Row::Plate(plate), *column),
    };
    let next = Selection { row, column };
    (next != from).then_some(next)
}

fn cell_id(of: Selection) -> Id {
    let row = match of.row {
        Row::Plate(plate) => Some(plate),
        Row::Finish => None,
    };
    let column = COLUMNS.iter().position(|column| *column == of.column);
    Id::unique(("cell of the build sheet", row, column))
}

/// Share of the stages' room that each column has.
const SHARES: [f32; 9] = [
    0.127, 0.089, 0.089, 0.128, 0.089, 0.089, 0.156, 0.146, 0.087,
];

/// Whether the cells of a plate in this column show what the stage leaves.
const fn has_thumbs(column: Column) -> bool {
    match column {
        Column::Frames | Column::Fuse | Column::Matte | Column::Lights => true,
        Column::Register | Column::Match | Column::Spotting | Column::Warp | Column::Placement => {
            false
        }
    }
}

fn least_width() -> f32 {
    theme::sheet::NAME + theme::sheet::CELL * 9.0
}

/// Left and right of a column, within a row.
fn column_range(row: Rect, column: Column) -> egui::Rangef {
    let room = row.width() - theme::sheet::NAME;
    let mut left = row.left() + theme::sheet::NAME;
    for (other, share) in COLUMNS.iter().zip(SHARES) {
        let right = left + room * share;
        if *other == column {
            return egui::Rangef::new(left, right);
        }
        left = right;
    }
    egui::Rangef::new(left, left)
}

/// The finish has one cell, as wide as all stages.
fn cell_rect(row: Rect, facts: &RowFacts, column: Column) -> Rect {
    match facts.row {
        Row::Plate(_) => Rect::from_x_y_ranges(column_range(row, column), row.y_range()),
        Row::Finish => {
            let left = row.left() + theme::sheet::NAME;
            Rect::from_x_y_ranges(left..=row.right(), row.y_range())
        }
    }
}

fn head_ui(ui: &mut Ui, width: f32) {
    let size = egui::vec2(width, theme::sheet::HEAD);
    let (rect, _space) = ui.allocate_exact_size(size, egui::Sense::HOVER);
    let text = |left: f32, text: &str| {
        let small = egui::TextStyle::Small.resolve(ui.style());
        let at = egui::pos2(left, rect.center().y);
        let grey = ui.visuals().weak_text_color();
        ui.painter()
            .text(at, egui::Align2::LEFT_CENTER, text, small, grey);
    };
    text(rect.left() + theme::sheet::GAP, words::BUILD_SHEET);
    for column in COLUMNS {
        let left = column_range(rect, column).min + theme::sheet::MARGIN;
        text(left, words::column(column));
    }
    let line = ui.visuals().widgets.noninteractive.bg_stroke;
    ui.painter().hline(rect.x_range(), rect.bottom(), line);
}
