//! After a swap: what followed the new source, what wants a look and where, and the way back.

use crate::geometry::Point;
use crate::project::{Plate, RevisionId};
use crate::session::Command;
use crate::session::swap::{Look, SwapReport};
use crate::window::queue::{Ask, ShownPlace};
use crate::window::step_cards::{Card, part};
use crate::window::words::{self as all_words, record as words};
use egui::Ui;

/// Shows the list on the cards of the plate that was swapped, until people have decided.
pub(super) fn ui(ui: &mut Ui, card: &mut Card<'_>, plate: &Plate) {
    let Some(swapped) = card.look.swapped else {
        return;
    };
    let report = &swapped.report;
    if report.plate != plate.name {
        return;
    }
    part(ui, words::AFTER_SWAP);
    let counts = (report.carried.len(), report.needs_a_look.len());
    let residual = all_words::residual(report.residual_px);
    ui.label(words::swapped(&report.plate, &residual, counts));
    if !report.carried.is_empty() {
        ui.weak(format!("{}: {}", words::CARRIED, report.carried.join(", ")));
    }
    for looks in gathered(report) {
        places_ui(ui, card, &looks);
    }
    ui.weak(words::COMPARE_OLD);
    decide_ui(ui, card, swapped.after);
    ui.separator();
}

/// What is said of one step for one reason, with all its places: the one that is farthest off first.
fn gathered(report: &SwapReport) -> Vec<Vec<&Look>> {
    let mut all: Vec<Vec<&Look>> = Vec::new();
    for look in &report.needs_a_look {
        let alike = |of: &&mut Vec<&Look>| {
            of.first().is_some_and(|first| {
                first.step == look.step && first.by_px.is_some() == look.by_px.is_some()
            })
        };
        match all.iter_mut().find(alike) {
            Some(of) => of.push(look),
            None => all.push(vec![look]),
        }
    }
    for of in &mut all {
        of.sort_by(|a, b| b.by_px.unwrap_or(0.0).total_cmp(&a.by_px.unwrap_or(0.0)));
    }
    all
}

fn places_ui(ui: &mut Ui, card: &mut Card<'_>, looks: &[&Look]) {
    let Some(first) = looks.first() else { return };
    card.finding(ui, &format!("{}: {}", first.step, first.why), None);
    ui.horizontal_wrapped(|ui| {
        for (number, look) in (1..).zip(looks) {
            let Some([left, top, right, bottom]) = look.place else {
                continue;
            };
            let button = ui.small_button(words::place(number));
            if button.clicked() {
                let middle = |low: i32, high: i32| f64::midpoint(f64::from(low), f64::from(high));
                card.show(ShownPlace {
                    frame: None,
                    at: Some(Point::new(middle(left, right), middle(top, bottom))),
                });
            }
            let _named = button.accessible_name(words::show_place(&look.step, number));
        }
    });
}

fn decide_ui(ui: &mut Ui, card: &mut Card<'_>, after: Option<RevisionId>) {
    ui.horizontal_wrapped(|ui| {
        let keep = ui.button(words::KEEP_SOURCE);
        if keep.on_hover_text(words::KEEP_SOURCE_HOVER).clicked() {
            card.queue.ask(Ask::SwapSettled);
        }
        let swap_is_last = card.look.session.history().now() == after;
        let back = ui
            .add_enabled(swap_is_last, egui::Button::new(words::BACK_TO_OLD))
            .on_hover_text(words::BACK_TO_OLD_HOVER)
            .on_disabled_hover_text(words::BACK_TO_OLD_LATER);
        if back.clicked() {
            card.queue.ask(Ask::Command(Command::Undo));
            card.queue.ask(Ask::SwapSettled);
        }
    });
}
