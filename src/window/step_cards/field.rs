//! One value on a card: name, slider, number with its unit, reset; recorded once when it is let go.

use crate::window::theme::card_size;
use crate::window::words::card as words;
use egui::{Response, Slider, Ui, vec2};

/// What people read about a value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Text {
    /// Its name.
    pub name: &'static str,
    /// Its unit, with a space before it where one belongs.
    pub unit: &'static str,
    /// What it does.
    pub hover: &'static str,
}

/// Limits of a value, its usual value, and how it is written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reach {
    /// Smallest.
    pub least: f64,
    /// Largest.
    pub most: f64,
    /// What "reset" gives.
    pub usual: f64,
    /// Digits after the point.
    pub digits: usize,
}

impl Reach {
    /// Limits, the usual value and the digits after the point.
    #[must_use]
    pub const fn new(least: f64, most: f64, usual: f64, digits: usize) -> Self {
        Self {
            least,
            most,
            usual,
            digits,
        }
    }
}

/// A value that was moved.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turned {
    /// Where to.
    pub value: f64,
    /// Whether it was let go; until then it is a draft.
    pub done: bool,
}

/// A value of a `T`: how it is read and set.
#[derive(Debug, Clone, Copy)]
pub struct Knob<T> {
    /// What people read.
    pub text: Text,
    /// Its limits.
    pub reach: Reach,
    /// Reads it.
    pub get: fn(&T) -> f64,
    /// Sets it.
    pub set: fn(&mut T, f64),
}

/// Shows a value; tells where it was moved to. Several values of one name on a card are told apart by `of`.
pub fn number(ui: &mut Ui, (text, of): (&Text, &str), reach: &Reach, value: f64) -> Option<Turned> {
    let name = if of.is_empty() {
        text.name.to_owned()
    } else {
        format!("{} of {of}", text.name)
    };
    let mut turned = None;
    ui.horizontal(|ui| {
        ui.set_min_height(card_size::ROW);
        let label = name_label(ui, text);
        let mut moved = value;
        let slider = ui
            .scope(|ui| {
                ui.spacing_mut().slider_width = slider_width(ui);
                let slider = Slider::new(&mut moved, reach.least..=reach.most).show_value(false);
                ui.add(slider)
            })
            .inner;
        turned = turned_by(&slider, moved).or(turned);
        let slider = slider.on_hover_text(text.hover);
        let _named = if of.is_empty() {
            slider.labelled_by(label.id)
        } else {
            slider.accessible_name(&name)
        };
        let mut typed = value;
        let drag = egui::DragValue::new(&mut typed)
            .range(reach.least..=reach.most)
            .clamp_existing_to_range(false)
            .speed((reach.most - reach.least) / 400.0)
            .fixed_decimals(reach.digits)
            .suffix(text.unit)
            .update_while_editing(false);
        let drag = ui.add_sized(vec2(card_size::NUMBER, card_size::ROW), drag);
        turned = turned_by(&drag, typed).or(turned);
        let _named = drag
            .on_hover_text(text.hover)
            .accessible_name(format!("{name}, number"));
        let is_usual = (value - reach.usual).abs() < 1e-9_f64.max(reach.usual.abs() * 1e-6);
        let reset = ui.add_enabled(!is_usual, egui::Button::new(words::RESET).small());
        if reset.clicked() {
            turned = Some(Turned {
                value: reach.usual,
                done: true,
            });
        }
        let _named = reset
            .on_hover_text(words::RESET_HOVER)
            .accessible_name(format!("{} {name}", words::RESET));
    });
    turned
}

/// The name before a value.
pub fn name_label(ui: &mut Ui, text: &Text) -> Response {
    let width = card_size::NAME.min(ui.available_width() * 0.34);
    let size = vec2(width, card_size::ROW);
    let layout = egui::Layout::left_to_right(egui::Align::Center);
    ui.allocate_ui_with_layout(size, layout, |ui| {
        ui.set_min_size(size);
        ui.add(egui::Label::new(text.name).truncate())
            .on_hover_text(text.hover)
    })
    .inner
}

/// What is left of a card's width for a slider.
fn slider_width(ui: &Ui) -> f32 {
    let reset = 48.0;
    let rest = card_size::NUMBER + reset + ui.spacing().item_spacing.x * 3.0;
    (ui.available_width() - rest).clamp(40.0, card_size::SLIDER * 2.0)
}

fn turned_by(response: &Response, value: f64) -> Option<Turned> {
    if response.drag_stopped() {
        return Some(Turned { value, done: true });
    }
    response.changed().then(|| Turned {
        value,
        done: !response.dragged(),
    })
}
