//! Small plots on cards, for what one looks at rather than reads.

use crate::pixels::convert::count_f64;
use crate::window::theme::{card_size, state_colour};
use egui::{Color32, Ui};
use egui_plot::{Bar, BarChart, Line, MarkerShape, Plot, Points};

/// One line of a plot.
#[derive(Debug, Clone)]
pub struct Series {
    /// What people read.
    pub name: String,
    /// Values at 1, 2, 3…; gaps are left out.
    pub values: Vec<Option<f64>>,
}

/// Lines are told apart by marker as well as by colour.
const LOOKS: [(Color32, MarkerShape); 3] = [
    (state_colour::MISSING, MarkerShape::Circle),
    (state_colour::DONE, MarkerShape::Square),
    (state_colour::WORKING, MarkerShape::Diamond),
];

/// Shows values per frame as lines.
pub fn lines(ui: &mut Ui, (name, unit): (&str, &str), series: &[Series]) {
    let plot = frame(name, unit);
    let shown = plot.show(ui, |plot| {
        for (one, (colour, marker)) in series.iter().zip(LOOKS.iter().cycle()) {
            let points: Vec<[f64; 2]> = one
                .values
                .iter()
                .enumerate()
                .filter_map(|(index, value)| Some([count_f64(index + 1), (*value)?]))
                .collect();
            plot.line(Line::new(one.name.clone(), points.clone()).color(*colour));
            plot.points(
                Points::new(one.name.clone(), points)
                    .color(*colour)
                    .shape(*marker)
                    .radius(3.0),
            );
        }
    });
    let names: Vec<&str> = series.iter().map(|one| one.name.as_str()).collect();
    say(&shown.response, &format!("{name}: {}", names.join(", ")));
}

/// Shows values per frame as bars.
pub fn bars(ui: &mut Ui, (name, unit): (&str, &str), values: &[f64]) {
    let plot = frame(name, unit).include_y(0.0);
    let shown = plot.show(ui, |plot| {
        let bars = values
            .iter()
            .enumerate()
            .map(|(index, value)| Bar::new(count_f64(index + 1), *value).width(0.7))
            .collect();
        plot.bar_chart(BarChart::new(name, bars).color(state_colour::STALE));
    });
    say(&shown.response, name);
}

fn frame<'a>(name: &str, unit: &str) -> Plot<'a> {
    Plot::new(name.to_owned())
        .height(card_size::PLOT)
        .allow_zoom(false)
        .allow_drag(false)
        .allow_scroll(false)
        .allow_boxed_zoom(false)
        .show_x(false)
        .y_axis_label(unit.to_owned())
        .y_axis_min_width(32.0)
}

/// Says to screen readers what the plot shows.
fn say(response: &egui::Response, said: &str) {
    response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Image, true, said));
}
