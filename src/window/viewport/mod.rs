//! The picture: what is shown of the chosen cell, and how it is looked at.

pub mod compare;
pub mod difference;
pub mod eyes;
pub mod layer;
pub mod overlay;
pub mod pan_zoom;
pub mod readout;
pub mod tile_textures;

use crate::geometry::{Point, Size};
use crate::project::{FrameId, PlateId};
use crate::session::Stage;
use crate::session::jobs::Work;
use crate::session::viewing::Shown;
use crate::window::gestures::{self, Acts, Gestures, Input, Stroked};
use crate::window::queue::{Ask, Column, Look, Queue, Row};
use crate::window::theme::{picture, picture_size};
use crate::window::viewport::compare::{Compare, Way, plate_from_frame};
use crate::window::viewport::difference::{Differences, Pair};
use crate::window::viewport::eyes::Eyes;
use crate::window::viewport::layer::{Easel, Layer, Reach};
use crate::window::viewport::pan_zoom::{Map, View};
use crate::window::viewport::readout::Readout;
use crate::window::viewport::tile_textures::{Eye, Textures};
use crate::window::words::picture as words;
use egui::{Align2, Key, Painter, PointerButton, Pos2, Response, Sense, Ui, vec2};
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
            steer(ui, view, (response, &frame));
            frame.map = view.map(response.rect, size, ui.pixels_per_point());
            let input = self.gesture(ui, &frame, response, queue);
            eyes.show(look, self.gestures.draft(look.session.project()));
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
        let moves = gestures::moves(ui, response);
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
        );
        let mut keys = gestures::keys(ui);
        if !(response.has_focus() || self.gestures.is_busy()) {
            // Without the focus only those keys count that nothing else in the window uses.
            keys.retain(|key| {
                drawing && response.hovered() && matches!(key, Stroked::Wider(_) | Stroked::GiveUp)
            });
        }
        let input = Input {
            moves,
            keys,
            double: response
                .double_clicked()
                .then(|| response.interact_pointer_pos())
                .flatten(),
            pulls: ui.input(|input| input.modifiers.alt),
            map: frame.map,
            look: frame.look,
            shown: frame.shown,
        };
        self.gestures.follow(&input, queue);
        input
    }

    /// Paints the picture, and the one it is compared with.
    fn paint(&mut self, ui: &Ui, frame: &Frame<'_>, eyes: &mut Eyes) {
        self.textures.begin();
        eyes.begin_frame();
        let corners = [Point::default(), far_corner(frame.size)];
        let [low, high] = corners.map(|corner| frame.map.to_window(corner));
        let bounds = egui::Rect::from_min_max(low, high);
        frame.painter.rect_filled(bounds, 0.0, picture::CLEAR);
        let reach = match self.other(frame) {
            Some(other) if self.compare.is_two() => self.paint_two(ui, frame, eyes, other),
            _alone => self.paint_base(frame, eyes, None),
        };
        frame.painter.rect_stroke(
            bounds,
            0.0,
            egui::Stroke::new(1.0, picture::EDGE),
            egui::StrokeKind::Outside,
        );
        let base = Layer::base(frame.shown);
        self.readout = Readout::new(
            &frame.map,
            frame.pointer,
            (&eyes.now, &mut self.textures),
            &base,
        );
        self.textures.end(ui.ctx());
        self.complete = reach.coming == 0;
        if let Some(why) = reach.failed {
            let at = frame.map.area.left_top() + vec2(12.0, 12.0);
            overlay::sign(&frame.painter, at, Align2::LEFT_TOP, &why);
        }
    }

    fn other(&self, frame: &Frame<'_>) -> Option<Layer> {
        let with = self
            .compare
            .with(&compare::offered(frame.look, frame.shown))?;
        let project = frame.look.session.project();
        compare::other_layer(project, frame.look.selection.row, frame.shown, with)
    }

    fn easel(&mut self, frame: &Frame<'_>, clip: Option<egui::Rect>) -> Easel<'_> {
        let painter = match clip {
            Some(clip) => frame
                .painter
                .with_clip_rect(clip.intersect(frame.painter.clip_rect())),
            None => frame.painter.clone(),
        };
        Easel {
            painter,
            map: frame.map,
            focus: frame.pointer.unwrap_or_else(|| frame.map.area.center()),
            textures: &mut self.textures,
        }
    }

    /// Paints what is looked at; where it needs a job first, what it is made from.
    fn paint_base(
        &mut self,
        frame: &Frame<'_>,
        eyes: &mut Eyes,
        clip: Option<egui::Rect>,
    ) -> Reach {
        if let Shown::Plate(plate, stage) = frame.shown {
            if eyes.now.needs_job(frame.shown) {
                return self.paint_reference(frame, eyes, (plate, clip));
            }
            let drawn = matches!(gestures::acts(frame.look, frame.shown), Acts::Draws(_));
            if stage == Stage::Done && drawn {
                let lit = Layer::base(Shown::Plate(plate, Stage::Lit));
                let _below = self.paint_layer(frame, eyes, &lit, (clip, CUT_AWAY));
            }
        }
        self.paint_layer(frame, eyes, &Layer::base(frame.shown), (clip, 1.0))
    }

    fn paint_reference(
        &mut self,
        frame: &Frame<'_>,
        eyes: &mut Eyes,
        (plate, clip): (PlateId, Option<egui::Rect>),
    ) -> Reach {
        let project = frame.look.session.project();
        let found = project
            .plate(plate)
            .and_then(|plate| Some((plate, plate.stack()?.reference_frame()?)));
        let Some((plate, reference)) = found else {
            return Reach::default();
        };
        let layer = Layer {
            base_from_layer: plate_from_frame(plate, reference),
            ..Layer::base(Shown::Frame(reference))
        };
        self.paint_layer(frame, eyes, &layer, (clip, 1.0))
    }

    fn paint_layer(
        &mut self,
        frame: &Frame<'_>,
        eyes: &mut Eyes,
        layer: &Layer,
        (clip, opacity): (Option<egui::Rect>, f32),
    ) -> Reach {
        let mut easel = self.easel(frame, clip);
        let Some(viewer) = eyes.viewer(layer.eye) else {
            return Reach::default();
        };
        match layer.in_view(viewer, &frame.map, easel.focus) {
            Some(view) => layer.paint(&mut easel, viewer, &view, opacity),
            None => Reach::default(),
        }
    }

    fn paint_two(&mut self, ui: &Ui, frame: &Frame<'_>, eyes: &mut Eyes, other: Layer) -> Reach {
        if other.eye == Eye::OtherSource
            && let Row::Plate(plate) = frame.look.selection.row
            && let Some(compare::With::Source(source)) = self
                .compare
                .with(&compare::offered(frame.look, frame.shown))
        {
            eyes.show_source(ui.ctx(), frame.look, (plate, source));
        }
        match self.compare.way {
            Way::Split => {
                let (mut left, mut right) = (frame.map.area, frame.map.area);
                let at = left.left() + left.width() * self.compare.split;
                left.max.x = at;
                right.min.x = at;
                let reach = self.paint_base(frame, eyes, Some(left));
                let _other = self.paint_layer(frame, eyes, &other, (Some(right), 1.0));
                reach
            }
            Way::Difference => {
                self.paint_difference(frame, eyes, other);
                Reach::default()
            }
            Way::Stage | Way::Finished | Way::LineUp | Way::Blink => {
                let strength = if self.compare.way == Way::Blink {
                    ui.request_repaint_after(FADE_STEP);
                    let time = ui.input(|input| input.time);
                    crate::pixels::convert::narrow(compare::blink_strength(time))
                } else {
                    self.compare.strength
                };
                let reach = self.paint_base(frame, eyes, None);
                let _other = self.paint_layer(frame, eyes, &other, (None, strength));
                reach
            }
        }
    }

    fn paint_difference(&mut self, frame: &Frame<'_>, eyes: &mut Eyes, other: Layer) {
        let base = Layer::base(frame.shown);
        let focus = frame.pointer.unwrap_or_else(|| frame.map.area.center());
        let base_view = base.in_view(&eyes.now, &frame.map, focus);
        let other_view = eyes
            .viewer(other.eye)
            .and_then(|viewer| other.in_view(viewer, &frame.map, focus));
        let (Some(base_view), Some(other_view)) = (base_view, other_view) else {
            return;
        };
        let pair = Pair {
            base: (base, &base_view),
            other: (other, &other_view),
            gain: self.compare.gain,
        };
        let mut differences = std::mem::take(&mut self.differences);
        let mut easel = self.easel(frame, None);
        let viewers = eyes.both(other.eye);
        differences.paint(&mut easel, viewers, &pair);
        self.differences = differences;
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
        self.gestures.paint(&frame.painter, input, frame.pointer);
        if let Some(at) = self.pointed {
            overlay::ring(&frame.painter, frame.map.to_window(at));
        }
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
        let unread = matches!(shown, Shown::Plate(..)) && eyes.now.size(shown).is_none();
        if !(unread || eyes.now.needs_job(shown)) {
            return;
        }
        let (word, work) = match shown {
            Shown::Plate(plate, _) => (words::FUSE_PLATE, Work::Fuse(plate)),
            Shown::Scene | Shown::Frame(_) => (words::FUSE_ALL, Work::FuseAll),
        };
        let area = response.rect;
        let place = egui::Rect::from_center_size(
            area.center_bottom() - vec2(0.0, 34.0),
            vec2(220.0_f32.min(area.width()), 30.0),
        );
        let said = match shown {
            Shown::Plate(..) => words::NEEDS_FUSING,
            Shown::Scene | Shown::Frame(_) => words::SCENE_NEEDS_FUSING,
        };
        let painter = ui.painter_at(area);
        overlay::sign(
            &painter,
            place.center_top() - vec2(0.0, 12.0),
            Align2::CENTER_BOTTOM,
            said,
        );
        if look.session.project().plates.is_empty() {
            return;
        }
        if ui.put(place, egui::Button::new(word)).clicked() {
            queue.ask(Ask::Start(work));
        }
    }
}

/// Zooms and pans by wheel, drag and keys.
fn steer(ui: &Ui, view: &mut View, (response, frame): (&Response, &Frame<'_>)) {
    let map = &frame.map;
    if response.hovered() {
        let (scroll, zoom) = ui.input(|input| (input.smooth_scroll_delta().y, input.zoom_delta()));
        let factor = libm::exp(f64::from(scroll) * 0.005) * f64::from(zoom);
        if (factor - 1.0).abs() > 1e-9 {
            view.zoom_by(
                map,
                frame.pointer.unwrap_or_else(|| map.area.center()),
                factor,
            );
        }
    }
    let acts = gestures::acts(frame.look, frame.shown);
    let space = ui.input(|input| input.key_down(Key::Space));
    let moves_picture = response.dragged_by(PointerButton::Middle)
        || (response.dragged_by(PointerButton::Primary) && (space || acts == Acts::Looks));
    if moves_picture {
        view.pan(response.drag_delta());
    }
    if response.double_clicked() && acts == Acts::Looks {
        view.fit();
    }
    if response.has_focus() {
        let filter = egui::EventFilter {
            horizontal_arrows: true,
            vertical_arrows: true,
            escape: true,
            tab: false,
        };
        ui.memory_mut(|memory| memory.set_focus_lock_filter(response.id, filter));
        steer_by_keys(ui, view, (frame, acts));
    }
}

fn steer_by_keys(ui: &Ui, view: &mut View, (frame, acts): (&Frame<'_>, Acts)) {
    let map = &frame.map;
    let middle = map.area.center();
    let pressed = |key: Key| ui.input(|input| input.key_pressed(key));
    if pressed(Key::Home) {
        view.fit();
    }
    if pressed(Key::Num1) {
        view.one_to_one(map, frame.pointer.unwrap_or(middle));
    }
    if pressed(Key::Plus) || pressed(Key::Equals) {
        view.zoom_by(map, middle, 1.25);
    }
    if pressed(Key::Minus) {
        view.zoom_by(map, middle, 0.8);
    }
    if acts != Acts::Looks {
        return;
    }
    let step = picture_size::KEY_PAN;
    let arrows = [
        (Key::ArrowLeft, vec2(step, 0.0)),
        (Key::ArrowRight, vec2(-step, 0.0)),
        (Key::ArrowUp, vec2(0.0, step)),
        (Key::ArrowDown, vec2(0.0, -step)),
    ];
    for (key, by) in arrows {
        if pressed(key) {
            view.pan(by);
        }
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

fn far_corner(size: Size) -> Point {
    Point::new(f64::from(size.width), f64::from(size.height))
}
