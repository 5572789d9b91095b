//! Zooming and panning.

use crate::window::gestures::{self, Acts};
use crate::window::theme::picture_size;
use crate::window::viewport::Frame;
use crate::window::viewport::pan_zoom::View;
use egui::{Key, PointerButton, Response, Ui, vec2};

/// Zooms and pans by wheel, drag and keys.
pub(super) fn steer(ui: &Ui, view: &mut View, (response, frame): (&Response, &Frame<'_>)) {
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
