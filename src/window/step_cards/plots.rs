//! Small plots on cards, for what one looks at rather than reads.

use crate::pixels::convert::count_f64;
use crate::window::theme::{card_size, state_colour};
use egui::{Color32, Ui};
use egui_plot::{AxisHints, Bar, BarChart, GridInput, GridMark, Line, MarkerShape, Plot, Points};

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

/// Shows values per frame as lines, named above where there are several.
pub fn lines(ui: &mut Ui, (name, unit): (&str, &str), series: &[Series]) {
    if series.len() > 1 {
        ui.horizontal(|ui| {
            for (one, (colour, marker)) in series.iter().zip(LOOKS.iter().cycle()) {
                marker_ui(ui, *colour, *marker);
                // Painted only: screen readers hear the names with the plot.
                let small = egui::TextStyle::Small.resolve(ui.style());
                let colour = ui.visuals().text_color();
                let text = ui.painter().layout_no_wrap(one.name.clone(), small, colour);
                let (rect, _space) = ui.allocate_exact_size(text.size(), egui::Sense::HOVER);
                ui.painter().galley(rect.min, text, colour);
            }
        });
    }
    let count = series.iter().map(|one| one.values.len()).max();
    let plot = frame(name, unit, count.unwrap_or(0));
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
    let plot = frame(name, unit, values.len()).include_y(0.0);
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

/// The marker of a line, as it stands on the plot.
fn marker_ui(ui: &mut Ui, colour: Color32, marker: MarkerShape) {
    let half = card_size::MARKER;
    let (rect, _space) = ui.allocate_exact_size(egui::Vec2::splat(half * 2.0), egui::Sense::HOVER);
    let middle = rect.center();
    let painter = ui.painter();
    match marker {
        MarkerShape::Square => {
            painter.rect_filled(rect, 0.0, colour);
        }
        MarkerShape::Diamond => {
            let points = vec![
                rect.center_top(),
                rect.right_center(),
                rect.center_bottom(),
                rect.left_center(),
            ];
            painter.add(egui::Shape::convex_polygon(
                points,
                colour,
                egui::Stroke::NONE,
            ));
        }
        _round => {
            painter.circle_filled(middle, half, colour);
        }
    }
}

/// Most frames whose numbers all stand below a plot.
const ALL_NAMED: usize = 12;

/// A plot over the numbers of `count` frames.
fn frame<'a>(name: &str, unit: &str, count: usize) -> Plot<'a> {
    let every = [1, 2, 5, 10, 20, 50, 100];
    let every = every.into_iter().find(|step| count / step <= ALL_NAMED);
    let every = every.unwrap_or(count.max(1));
    let marks = move |_room: GridInput| {
        let numbers = (1..=count).filter(|number| every == 1 || number % every == 0);
        let mark = |number| GridMark {
            value: count_f64(number),
            step_size: count_f64(every),
        };
        numbers.map(mark).collect()
    };
    let near = egui::Rangef::new(12.0, 16.0);
    Plot::new(name.to_owned())
        .height(card_size::PLOT)
        .allow_zoom(false)
        .allow_drag(false)
        .allow_scroll(false)
        .allow_boxed_zoom(false)
        .show_x(false)
        .x_grid_spacer(marks)
        .custom_x_axes(vec![AxisHints::new_x().label_spacing(near)])
        .custom_y_axes(vec![
            AxisHints::new_y()
                .label(unit.to_owned())
                .min_thickness(32.0)
                .label_spacing(near),
        ])
}

/// Says to screen readers what the plot shows.
fn say(response: &egui::Response, said: &str) {
    response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Image, true, said));
}
