//! Comparing two pictures: which, and in what way.

use crate::geometry::{Point, Transform};
use crate::project::{FrameId, LeftOver, PassId, Plate, PlateId, Project, RevisionId, VariantId};
use crate::session::Session;
use crate::session::Stage;
use crate::session::viewing::Shown;
use crate::window::queue::{Look, Row};
use crate::window::viewport::eyes::OtherState;
use crate::window::viewport::layer::Layer;
use crate::window::viewport::tile_textures::Eye;
use crate::window::words::picture as words;
use egui::{Color32, RichText, Ui};

/// How two pictures are shown together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Way {
    /// The chosen cell's stage alone.
    #[default]
    Stage,
    /// The finished scene alone.
    Finished,
    /// The other picture at part strength over this one.
    LineUp,
    /// One beside the other, parted by a line that can be dragged.
    Split,
    /// How much the two differ, made stronger.
    Difference,
    /// One after the other in the same place.
    Blink,
}

/// What the picture is compared with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum With {
    /// The stage before.
    StageBefore,
    /// A photo.
    Frame(FrameId),
    /// The finished scene.
    Scene,
    /// The same with another source of the plate.
    Source(VariantId),
    /// The same in a state of the scene that has a name.
    State(Option<RevisionId>),
}

/// Settings of comparing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Compare {
    /// The way.
    pub way: Way,
    /// What with, where chosen.
    pub with: Option<With>,
    /// Strength of the other picture in the line-up, 0..=1.
    pub strength: f32,
    /// Where the split lies, as a share of the picture's part of the window.
    pub split: f32,
    /// What differences are multiplied by.
    pub gain: f32,
}

impl Default for Compare {
    fn default() -> Self {
        Self {
            way: Way::Stage,
            with: None,
            // Common practice for lining a model up with an earlier picture.
            strength: 0.35,
            split: 0.5,
            gain: 4.0,
        }
    }
}

/// Seconds that each picture stands in the blink view. Two changes in one second: WCAG 2.3.1 allows three flashes, and a flash
/// takes two changes.
const STANDS_S: f64 = 0.5;

/// Seconds of each cross-fade.
const FADE_S: f64 = 0.2;

/// Strength of the other picture in the blink view at a time in seconds.
#[must_use]
pub fn blink_strength(time_s: f64) -> f64 {
    let round = 2.0 * STANDS_S;
    let at = time_s - (time_s / round).floor() * round;
    if at < STANDS_S {
        (1.0 - at / FADE_S).max(0.0)
    } else {
        ((at - STANDS_S) / FADE_S).min(1.0)
    }
}

impl Compare {
    /// Whether two pictures are shown.
    #[must_use]
    pub const fn is_two(&self) -> bool {
        !matches!(self.way, Way::Stage | Way::Finished)
    }

    /// What is compared with: the chosen picture if it is offered here, else the first offered.
    #[must_use]
    pub fn with(&self, offered: &[With]) -> Option<With> {
        self.with
            .filter(|with| offered.contains(with))
            .or_else(|| offered.first().copied())
    }

    /// The controls over the picture.
    pub fn bar(&mut self, ui: &mut Ui, look: &Look<'_>, offered: &[With]) {
        ui.horizontal_wrapped(|ui| {
            for (way, word, hover) in words::WAYS {
                let enabled = matches!(way, Way::Stage | Way::Finished) || !offered.is_empty();
                let button = egui::Button::selectable(self.way == way, word);
                let chosen = ui.add_enabled(enabled, button).on_hover_text(hover);
                if chosen.clicked() {
                    self.way = way;
                }
            }
            if self.is_two() {
                self.choose(ui, look, offered);
                self.setting(ui);
            }
        });
        if self.way == Way::Blink {
            ui.label(RichText::new(words::BLINK_CAUTION).color(Color32::PLACEHOLDER));
        }
    }

    fn choose(&mut self, ui: &mut Ui, look: &Look<'_>, offered: &[With]) {
        let now = self.with(offered);
        let word = now.map_or_else(String::new, |with| with.word(look.session));
        let combo = egui::ComboBox::from_id_salt("compare with")
            .selected_text(word)
            .show_ui(ui, |ui| {
                for with in offered {
                    if ui
                        .selectable_label(now == Some(*with), with.word(look.session))
                        .clicked()
                    {
                        self.with = Some(*with);
                    }
                }
            });
        let _named = combo.response.accessible_name(words::COMPARE_WITH);
    }

    fn setting(&mut self, ui: &mut Ui) {
        let slider = match self.way {
            Way::LineUp => Some((&mut self.strength, 0.0..=1.0, words::STRENGTH)),
            Way::Split => Some((&mut self.split, 0.0..=1.0, words::SPLIT_AT)),
            Way::Difference => Some((&mut self.gain, 1.0..=32.0, words::GAIN)),
            Way::Stage | Way::Finished | Way::Blink => None,
        };
        let Some((value, range, word)) = slider else {
            return;
        };
        let name = ui.label(word);
        let shares = self.way != Way::Difference;
        let shown = egui::Slider::new(value, range)
            .custom_formatter(move |value, _decimals| {
                if shares {
                    format!("{:.0} %", value * 100.0)
                } else {
                    format!("x {value:.1}")
                }
            })
            .custom_parser(move |text| {
                let number: f64 = text
                    .trim_matches(|sign: char| sign != '.' && !sign.is_ascii_digit())
                    .parse()
                    .ok()?;
                Some(if shares { number / 100.0 } else { number })
            });
        let _named = ui.add(shown).labelled_by(name.id);
    }
}

impl With {
    /// What people read.
    #[must_use]
    pub fn word(self, session: &Session) -> String {
        let project = session.project();
        match self {
            Self::StageBefore => words::STAGE_BEFORE.to_owned(),
            Self::Scene => words::FINISHED_SCENE.to_owned(),
            Self::Frame(frame) => words::frame_named(project, frame),
            Self::Source(source) => {
                let name = project
                    .plates
                    .iter()
                    .find_map(|plate| plate.variant_by_id(source))
                    .map_or("?", |variant| variant.name.as_str());
                format!("{} '{name}'", words::SOURCE)
            }
            Self::State(revision) => {
                let mut named = session.history().named().iter();
                let state = named.find(|state| state.revision == revision);
                words::state(state.map_or("?", |state| state.name.as_str()))
            }
        }
    }

    /// The state of the project that is looked at besides, where it is another one.
    #[must_use]
    pub const fn state(self, row: Row) -> Option<OtherState> {
        match (self, row) {
            (Self::Source(source), Row::Plate(plate)) => Some(OtherState::Source(plate, source)),
            (Self::State(revision), _) => Some(OtherState::Revision(revision)),
            (Self::Source(_) | Self::StageBefore | Self::Frame(_) | Self::Scene, _) => None,
        }
    }
}

/// What a picture can be compared with.
#[must_use]
pub fn offered(look: &Look<'_>, shown: Shown) -> Vec<With> {
    let project = look.session.project();
    let mut offered = Vec::new();
    if matches!(
        shown,
        Shown::Plate(_, Stage::Lit | Stage::Healed | Stage::Done | Stage::Warped)
    ) {
        offered.push(With::StageBefore);
    }
    let plate = match look.selection.row {
        Row::Plate(plate) => project.plate(plate),
        Row::Finish => None,
    };
    if let Some(plate) = plate {
        let others = plate
            .variants
            .iter()
            .filter(|variant| variant.id != plate.current);
        if !matches!(shown, Shown::Frame(_)) {
            offered.extend(others.map(|variant| With::Source(variant.id)));
        }
        if let Some(stack) = plate.stack() {
            let frames = stack.frames.iter().map(|entry| entry.frame);
            let frames = frames.filter(|frame| shown != Shown::Frame(*frame));
            offered.extend(frames.map(With::Frame));
        }
    }
    if shown != Shown::Scene {
        offered.push(With::Scene);
    }
    if !matches!(shown, Shown::Frame(_)) {
        let history = look.session.history();
        let others = history.named().iter().map(|state| state.revision);
        let others = others.filter(|revision| *revision != history.now());
        offered.extend(others.map(With::State));
    }
    offered
}

/// The layer that a picture is compared with.
#[must_use]
pub fn other_layer(project: &Project, row: Row, shown: Shown, with: With) -> Option<Layer> {
    let base_from_plate = base_from_plate(project, row, shown)?;
    let (eye, other, plate_from_other) = match with {
        With::StageBefore => {
            let Shown::Plate(plate, stage) = shown else {
                return None;
            };
            let before = match stage {
                Stage::Warped => Stage::Done,
                Stage::Done => Stage::Healed,
                Stage::Healed => Stage::Lit,
                Stage::Lit | Stage::Fused => Stage::Fused,
            };
            (Eye::Now, Shown::Plate(plate, before), Transform::IDENTITY)
        }
        With::Source(_) | With::State(_) => {
            return Some(Layer {
                eye: Eye::Other,
                ..Layer::base(shown)
            });
        }
        With::Frame(frame) => {
            let plate = plate_of(project, row)?;
            (
                Eye::Now,
                Shown::Frame(frame),
                plate_from_frame(plate, frame),
            )
        }
        With::Scene => {
            let scene = match shown {
                Shown::Scene => Transform::IDENTITY,
                Shown::Plate(..) | Shown::Frame(_) => {
                    scene_from_plate(project, plate_of(project, row)?.id)?.inverse()?
                }
            };
            (Eye::Now, Shown::Scene, scene)
        }
    };
    Some(Layer {
        eye,
        shown: other,
        base_from_layer: base_from_plate.after(&plate_from_other),
    })
}

fn plate_of(project: &Project, row: Row) -> Option<&Plate> {
    match row {
        Row::Plate(plate) => project.plate(plate).map(AsRef::as_ref),
        Row::Finish => None,
    }
}

/// Position on the row's plate to position on what is looked at.
fn base_from_plate(project: &Project, row: Row, shown: Shown) -> Option<Transform> {
    match shown {
        Shown::Plate(..) => Some(Transform::IDENTITY),
        Shown::Frame(frame) => plate_from_frame(plate_of(project, row)?, frame).inverse(),
        Shown::Scene => match row {
            Row::Plate(plate) => scene_from_plate(project, plate),
            Row::Finish => Some(Transform::IDENTITY),
        },
    }
}

/// Position on a photo to position on its plate, as far as it was measured.
#[must_use]
pub fn plate_from_frame(plate: &Plate, frame: FrameId) -> Transform {
    let Some(variant) = plate.variant() else {
        return Transform::IDENTITY;
    };
    let to_reference = variant
        .stack()
        .and_then(|stack| stack.measured_frame(frame))
        .map_or(Transform::IDENTITY, |measured| measured.to_reference);
    variant.plate_from_variant().after(&to_reference)
}

/// What registration left over of a pass, in the frame where that is most: places on the plate, and where what belongs there lies.
#[must_use]
pub fn left_over(plate: &Plate, pass: PassId) -> Vec<(Point, Point)> {
    let take = plate
        .take(pass)
        .and_then(|(_of, take)| take.measured.as_ref());
    let frames = take.into_iter().flat_map(|measured| &measured.frames);
    let Some(worst) = frames.max_by(|a, b| a.farthest_off_px().total_cmp(&b.farthest_off_px()))
    else {
        return Vec::new();
    };
    let onto_plate = plate_from_frame(plate, worst.partner);
    let ends = |left: &LeftOver| {
        let off = Point::new(left.at.x + left.by.x, left.at.y + left.by.y);
        (onto_plate.apply(left.at), onto_plate.apply(off))
    };
    worst.left.iter().map(ends).collect()
}

/// Position on a plate to position in the scene, by the plate's first placement.
#[must_use]
pub fn scene_from_plate(project: &Project, plate: PlateId) -> Option<Transform> {
    let size = size_of(project.plate(plate)?)?;
    project
        .placements
        .iter()
        .find(|placement| placement.plate == plate)?
        .placing
        .scene_from_plate(size)
}

/// Size of a plate in reference pixels, where it is known.
#[must_use]
pub fn size_of(plate: &Plate) -> Option<crate::geometry::Size> {
    match &plate.variant()?.source {
        crate::project::Source::Made(made) => Some(made.size),
        crate::project::Source::Stack(_) => plate.size,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blinking_changes_at_most_twice_in_any_second() {
        let step = 0.001;
        let strength: Vec<f64> = (0..5000)
            .map(|tick| blink_strength(f64::from(tick) * step))
            .collect();
        let mut changes = Vec::new();
        for (tick, pair) in strength.windows(2).enumerate() {
            if (pair[0] < 0.5) != (pair[1] < 0.5) {
                changes.push(tick);
            }
            assert!((pair[1] - pair[0]).abs() < 0.01, "a jump at {tick}");
        }
        assert_eq!(changes.len(), 10);
        for three in changes.windows(3) {
            assert!(three[2] - three[0] >= 999, "{three:?}");
        }
    }
}
