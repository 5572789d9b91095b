//! The picture: what is shown of the chosen cell, and how it is looked at.

pub mod compare;
pub mod difference;
pub mod eyes;
pub mod layer;
pub mod overlay;
mod painting;
pub mod pan_zoom;
pub mod readout;
mod steering;
pub mod tile_textures;
mod unfinished;

use crate::geometry::{Point, Size};
use crate::project::{FrameId, PlateId};
use crate::session::Stage;
use crate::session::jobs::Work;
use crate::session::viewing::Shown;
use crate::window::gestures::{self, Acts, Gestures, Input, Stroked};
use crate::window::queue::{Ask, Column, Look, Queue, Row};
use crate::window::theme::{picture, picture_size};
use crate::window::viewport::compare::{Compare, Way};
use crate::window::viewport::difference::Differences;
use crate::window::viewport::eyes::Eyes;
use crate::window::viewport::pan_zoom::{Map, View};
use crate::window::viewport::readout::Readout;
use crate::window::viewport::tile_textures::Textures;
use crate::window::viewport::unfinished::Unfinished;
use crate::window::words::picture as words;
use egui::{Align2, Painter, Pos2, Response, Sense, Ui, vec2};
use std::collections::BTreeMap;
use std::time::Duration;

/// How strongly what a matte cuts away is shown while it is being drawn.
const CUT_AWAY: f32 = 0.35;

/// Time between the pictures of a cross-fade.
const FADE_STEP: Duration = Duration::from_millis(33);

/// Which pictures share a view: a plate's stages and photos do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Space {
    Scene,
    Plate(PlateId),
}

/// The picture and how it is looked at.
#[derive(Debug, Default)]
pub struct Picture {
    eyes: Option<Eyes>,
    views: BTreeMap<Space, View>,
    textures: Textures,
    differences: Differences,
    gestures: Gestures,
    pen: gestures::Pen,
    unfinished: Unfinished,
    compare: Compare,
    frame: Option<FrameId>,
    pointed: Option<Point>,
    readout: Readout,
    complete: bool,
}

/// One frame of the window, as the parts of the picture need it.
struct Frame<'a> {
    look: &'a Look<'a>,
    shown: Shown,
    size: Size,
    map: Map,
    painter: Painter,
    pointer: Option<Pos2>,
}

impl Picture {
    /// Shows the picture of the chosen cell and follows the pointer in it.
    pub fn ui(&mut self, ui: &mut Ui, look: &Look<'_>, queue: &mut Queue) {
        let margin = picture_size::MARGIN;
        egui::Frame::new()
            .fill(ui.visuals().panel_fill)
            .inner_margin(egui::Margin::same(margin))
            .show(ui, |ui| {
                ui.set_min_size(ui.available_size());
                self.contents(ui, look, queue);
            });
    }

    fn contents(&mut self, ui: &mut Ui, look: &Look<'_>, queue: &mut Queue) {
        if Eyes::follow(&mut self.eyes, ui.ctx(), look) {
            self.textures.clear();
            self.differences.clear();
        }
        self.heed(look);
        let stage = stage_shown(look, self.frame);
        let offered = stage.map_or_else(Vec::new, |shown| compare::offered(look, shown));
        self.compare.bar(ui, look, &offered);
        let shown = match self.compare.way {
            Way::Finished => Some(Shown::Scene),
            Way::Stage | Way::LineUp | Way::Split | Way::Difference | Way::Blink => stage,
        };
        let mut room = ui.available_size();
        room.y = (room.y - picture_size::READOUT - ui.spacing().item_spacing.y).max(40.0);
        let (area, response) = ui.allocate_exact_size(room, Sense::click_and_drag());
        response
            .widget_info(|| egui::WidgetInfo::labeled(egui::Role::Canvas, true, words::PICTURE));
        let painter = ui.painter_at(area);
        painter.rect_filled(area, 0.0, picture::SURROUND);
        let size = match shown {
            Some(shown) => self.canvas(ui, (look, shown), &response, queue),
            None => {
                let said = words::NOTHING_CHOSEN;
                overlay::sign(&painter, area.center(), Align2::CENTER_CENTER, said);
                None
            }
        };
        self.readout.ui(ui, size);
    }

    /// Which photo is shown where photos are shown.
    #[must_use]
    pub const fn frame(&self) -> Option<FrameId> {
        self.frame
    }

    /// How pictures are compared.
    #[must_use]
    pub const fn compare(&self) -> &Compare {
        &self.compare
    }

    /// What the line under the picture says.
    #[must_use]
    pub const fn readout(&self) -> &Readout {
        &self.readout
    }

    /// Whether everything in view was painted as it is now.
    #[must_use]
    pub const fn is_complete(&self) -> bool {
        self.complete
    }

    /// Whether a gesture is under way; Escape belongs to it then.
    #[must_use]
    pub const fn is_busy(&self) -> bool {
        self.gestures.is_busy()
    }

    fn heed(&mut self, look: &Look<'_>) {
        let Some(place) = look.show else {
            return;
        };
        if place.frame.is_some() {
            self.frame = place.frame;
        }
        if let Some(at) = place.at {
            self.pointed = Some(at);
            let shown = stage_shown(look, self.frame).unwrap_or(Shown::Scene);
            self.views
                .entry(space(look, shown))
                .or_default()
                .look_at(at);
        }
    }

    fn canvas(
        &mut self,
        ui: &mut Ui,
        (look, shown): (&Look<'_>, Shown),
        response: &Response,
        queue: &mut Queue,
    ) -> Option<Size> {
        let mut eyes = self.eyes.take()?;
        eyes.show(look, self.gestures.draft(look.session.project()));
        let size = eyes.now.size(shown);
        if let Some(size) = size {
            let view = self.views.entry(space(look, shown)).or_default();
            let mut frame = Frame {
                look,
                shown,
                size,
                map: view.map(response.rect, size, ui.pixels_per_point()),
                painter: ui.painter_at(response.rect),
                pointer: response.hover_pos(),
            };
            steering::steer(ui, view, (response, &frame));
            frame.map = view.map(response.rect, size, ui.pixels_per_point());
            let input = self.gesture(ui, &frame, response, queue);
            let draft = self.gestures.draft(look.session.project());
            self.unfinished.follow(ui, draft.clone(), queue);
            eyes.show(look, draft);
            self.paint(ui, &frame, &mut eyes);
            self.paint_over(&frame, &input);
            self.split_line(ui, response);
        } else {
            let at = response.rect.center();
            let painter = ui.painter_at(response.rect);
            overlay::sign(&painter, at, Align2::CENTER_CENTER, words::SIZE_UNKNOWN);
        }
        self.job_button(ui, (look, shown), (response, &mut eyes), queue);
        self.eyes = Some(eyes);
        size
    }

    /// Lets gestures follow the pointer and the keys.
    fn gesture<'a>(
        &mut self,
        ui: &Ui,
        frame: &Frame<'a>,
        response: &Response,
        queue: &mut Queue,
    ) -> Input<'a> {
        let (moves, forces) = gestures::moves(ui, response, &mut self.pen);
        if moves
            .iter()
            .any(|moved| matches!(moved, gestures::Moved::Press(_)))
        {
            response.request_focus();
            self.pointed = None;
        }
        let drawing = matches!(
            gestures::acts(frame.look, frame.shown),
            Acts::Draws(_) | Acts::Picks(_)
        ) || frame.look.adding.is_some();
        let mut keys = gestures::keys(ui);
        let is_meant = response.has_focus() || self.gestures.is_busy();
        let (next, puts) = if is_meant {
            gestures::further(ui)
        } else {
            (0, false)
        };
        if !is_meant {
            // Without the focus only those keys count that nothing else in the window uses.
            keys.retain(|key| {
                drawing && response.hovered() && matches!(key, Stroked::Wider(_) | Stroked::GiveUp)
            });
        }
        let input = Input {
            moves,
            forces,
            keys,
            double: response
                .double_clicked()
                .then(|| response.interact_pointer_pos())
                .flatten(),
            next,
            puts,
            pulls: ui.input(|input| input.modifiers.alt),
            map: frame.map,
            look: frame.look,
            shown: frame.shown,
        };
        self.gestures.follow(&input, queue);
        input
    }

    /// Paints handles, arrows and signs over the picture.
    fn paint_over(&self, frame: &Frame<'_>, input: &Input<'_>) {
        let project = frame.look.session.project();
        if let (Column::Register, Shown::Frame(id), Row::Plate(plate)) = (
            frame.look.selection.column,
            frame.shown,
            frame.look.selection.row,
        ) && let Some(measured) = project
            .plate(plate)
            .and_then(|plate| plate.stack())
            .and_then(|stack| stack.measured_frame(id))
        {
            let to_reference = &measured.to_reference;
            overlay::shift_arrows(&frame.painter, &frame.map, to_reference, frame.size);
        }
        self.left_over(frame);
        self.gestures.paint(&frame.painter, input, frame.pointer);
        if let Some(at) = self.pointed {
            overlay::ring(&frame.painter, frame.map.to_window(at));
        }
    }

    /// What a pass that was looked through for doubled light still asks for, place by place.
    fn left_over(&self, frame: &Frame<'_>) {
        let (Column::Lights, Shown::Plate(plate, _), Some(doubled)) =
            (frame.look.selection.column, frame.shown, frame.look.doubled)
        else {
            return;
        };
        let plate = frame.look.session.project().plate(plate);
        let Some(plate) = plate.filter(|plate| plate.id == doubled.plate) else {
            return;
        };
        let left = compare::left_over(plate, doubled.pass);
        if left.is_empty() {
            return;
        }
        overlay::left_over_arrows(&frame.painter, &frame.map, left.into_iter());
        let corner = frame.map.area.left_bottom() + vec2(12.0, -12.0);
        overlay::sign(
            &frame.painter,
            corner,
            Align2::LEFT_BOTTOM,
            words::LEFT_OVER,
        );
    }

    /// The line between the two halves of the split view.
    fn split_line(&mut self, ui: &Ui, response: &Response) {
        if self.compare.way != Way::Split {
            return;
        }
        let area = response.rect;
        let at = area.left() + area.width() * self.compare.split;
        let line = [egui::pos2(at, area.top()), egui::pos2(at, area.bottom())];
        let grab = egui::Rect::from_two_pos(line[0], line[1])
            .expand2(vec2(picture_size::HANDLE, 0.0))
            .intersect(area);
        let dragged = ui
            .interact(grab, response.id.with("split line"), Sense::drag())
            .on_hover_cursor(egui::CursorIcon::ResizeHorizontal);
        dragged.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Splitter, true, words::SPLIT));
        if dragged.dragged()
            && let Some(pointer) = dragged.interact_pointer_pos()
        {
            let share = (pointer.x - area.left()) / area.width().max(1.0);
            self.compare.split = share.clamp(0.0, 1.0);
        }
        let stroke = egui::Stroke::new(picture_size::LINE, picture::LINE);
        overlay::cased(&ui.painter_at(area), &line, stroke);
    }

    /// Says that a job is wanted, with a button that starts it.
    fn job_button(
        &self,
        ui: &mut Ui,
        (look, shown): (&Look<'_>, Shown),
        (response, eyes): (&Response, &mut Eyes),
        queue: &mut Queue,
    ) {
        let project = look.session.project();
        let unread = match shown {
            Shown::Plate(..) => eyes.now.size(shown).is_none(),
            Shown::Frame(frame) => project
                .frame(frame)
                .is_none_or(|frame| frame.content.is_none()),
            Shown::Scene => false,
        };
        if !(unread || eyes.now.needs_job(shown)) {
            return;
        }
        let (word, work) = match (shown, look.selection.row) {
            (Shown::Plate(plate, _), _) | (Shown::Frame(_), Row::Plate(plate)) => {
                (words::FUSE_PLATE, Work::Fuse(plate))
            }
            (Shown::Scene, _) | (Shown::Frame(_), Row::Finish) => (words::FUSE_ALL, Work::FuseAll),
        };
        let under_way = look.working.iter().any(|other| covers(other, &work));
        let area = response.rect;
        let place = egui::Rect::from_center_size(
            area.center_bottom() - vec2(0.0, 34.0),
            vec2(220.0_f32.min(area.width()), 30.0),
        );
        let said = match shown {
            _being_made if under_way => words::BEING_FUSED,
            Shown::Plate(..) => words::NEEDS_FUSING,
            Shown::Frame(_) => words::PHOTO_UNREAD,
            Shown::Scene => words::SCENE_NEEDS_FUSING,
        };
        let painter = ui.painter_at(area);
        overlay::sign(
            &painter,
            place.center_top() - vec2(0.0, 12.0),
            Align2::CENTER_BOTTOM,
            said,
        );
        if project.plates.is_empty() || under_way {
            return;
        }
        // A child of its own leaves the room of the read-out line as it is.
        let mut child = ui.new_child(egui::UiBuilder::new().max_rect(place));
        if child.put(place, egui::Button::new(word)).clicked() {
            queue.ask(Ask::Start(work));
        }
    }
}

/// Whether work that is under way does what is wanted, too.
fn covers(work: &Work, wanted: &Work) -> bool {
    match (work, wanted) {
        (Work::FuseAll | Work::Build(_), _any) => true,
        (Work::Fuse(plate) | Work::MeasureAgain(plate), Work::Fuse(of)) => plate == of,
        _other => work == wanted,
    }
}

/// What the chosen cell shows.
#[must_use]
pub fn stage_shown(look: &Look<'_>, frame: Option<FrameId>) -> Option<Shown> {
    let Row::Plate(id) = look.selection.row else {
        return Some(Shown::Scene);
    };
    let plate = look.session.project().plate(id)?;
    let stage = match look.selection.column {
        Column::Placement => return Some(Shown::Scene),
        Column::Frames | Column::Register | Column::Match => {
            if let Some(stack) = plate.stack() {
                let chosen = frame
                    .filter(|frame| stack.frames.iter().any(|entry| entry.frame == *frame))
                    .or_else(|| stack.reference_frame());
                return chosen.map(Shown::Frame);
            }
            Stage::Fused
        }
        Column::Fuse => Stage::Fused,
        Column::Spotting => Stage::Healed,
        Column::Warp => Stage::Warped,
        Column::Lights => Stage::Lit,
        Column::Matte => Stage::Done,
    };
    Some(Shown::Plate(id, stage))
}

fn space(look: &Look<'_>, shown: Shown) -> Space {
    match (shown, look.selection.row) {
        (Shown::Plate(plate, _), _) | (Shown::Frame(_), Row::Plate(plate)) => Space::Plate(plate),
        (Shown::Scene, _) | (Shown::Frame(_), Row::Finish) => Space::Scene,
    }
}
