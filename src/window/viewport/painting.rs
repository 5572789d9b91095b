//! Painting the picture: alone, or with the one it is compared with.

use crate::geometry::{Point, Size};
use crate::project::PlateId;
use crate::session::Stage;
use crate::session::viewing::Shown;
use crate::window::gestures::{self, Acts};
use crate::window::theme::picture;
use crate::window::viewport::compare::{self, Way, plate_from_frame};
use crate::window::viewport::difference::Pair;
use crate::window::viewport::eyes::Eyes;
use crate::window::viewport::layer::{Easel, Layer, Reach};
use crate::window::viewport::overlay;
use crate::window::viewport::readout::Readout;
use crate::window::viewport::tile_textures::Eye;
use crate::window::viewport::{CUT_AWAY, FADE_STEP, Frame, Picture};
use egui::{Align2, Ui, vec2};

impl Picture {
    /// Paints the picture, and the one it is compared with.
    pub(super) fn paint(&mut self, ui: &Ui, frame: &Frame<'_>, eyes: &mut Eyes) {
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
            (&mut eyes.now, &mut self.textures),
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
        let with = self
            .compare
            .with(&compare::offered(frame.look, frame.shown));
        if other.eye == Eye::Other
            && let Some(state) = with.and_then(|with| with.state(frame.look.selection.row))
        {
            eyes.show_other(ui.ctx(), frame.look, state);
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
}

fn far_corner(size: Size) -> Point {
    Point::new(f64::from(size.width), f64::from(size.height))
}
