//! What the cells of the build sheet say: one telling number and a state each, read from the record.

use crate::project::{
    Finish, FrameId, MatteMethod, Pass, PassRole, Placement, PlacementId, Plate, PlateId, Project,
    Source, Stack, StepKind,
};
use crate::session::jobs::Work;
use crate::session::measure::Due;
use crate::session::swap::{About, SwapReport};
use crate::session::viewing::{Shown, Viewer};
use crate::session::{Session, Stage};
use crate::window::build_sheet::by_hand::{self, Places};
use crate::window::queue::{Column, Row};
use crate::window::words;
use std::collections::BTreeSet;

/// State of a cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    /// Done.
    Done,
    /// An input changed since.
    Stale,
    /// Done, but something wants an eye.
    NeedsALook,
    /// Nothing there.
    Empty,
    /// A source can't be found.
    Missing,
    /// Being worked on.
    Working,
}

/// What one cell says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CellFacts {
    /// Its column.
    pub column: Column,
    /// Its telling number.
    pub number: String,
    /// Its state.
    pub state: State,
    /// Of what a thumbnail is shown.
    pub thumb: Option<Shown>,
}

/// What one row says.
#[derive(Debug, Clone, PartialEq)]
pub struct RowFacts {
    /// Which row.
    pub row: Row,
    /// The plate's name, or "finish".
    pub name: String,
    /// Its front-most placement.
    pub placement: Option<PlacementId>,
    /// Its cells, left to right.
    pub cells: Vec<CellFacts>,
}

/// The columns, left to right.
pub const COLUMNS: [Column; 9] = [
    Column::Frames,
    Column::Register,
    Column::Match,
    Column::Fuse,
    Column::Spotting,
    Column::Warp,
    Column::Matte,
    Column::Lights,
    Column::Placement,
];

/// Residual in px above which a registration wants an eye.
const LARGE_RESIDUAL_PX: f32 = 1.0;

/// Spread of gains in stops above which a match wants an eye.
const LARGE_SPREAD_STOPS: f32 = 1.5;

/// Whether the whole pictures that something is shown from are there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Wholes {
    There,
    ToBeMade,
}

impl Wholes {
    /// Whether `shown` can be shown without a job.
    fn of(viewer: &mut Viewer, shown: Shown) -> Self {
        if viewer.needs_job(shown) {
            Self::ToBeMade
        } else {
            Self::There
        }
    }
}

/// What has been there at any time since the scene was opened: what is gone now is stale, what never was is empty.
#[derive(Debug, Clone, Default)]
pub struct Before {
    fused: BTreeSet<PlateId>,
    finished: bool,
}

/// What the sheet is read from.
struct Reading<'a> {
    project: &'a Project,
    due: Vec<Due>,
    missing: BTreeSet<FrameId>,
    busy: Option<&'a Work>,
    swapped: Option<&'a SwapReport>,
    before: &'a Before,
}

/// The plates front to back: by their front-most placement, plates without one last.
#[must_use]
pub fn front_to_back(project: &Project) -> Vec<PlateId> {
    let mut order = Vec::new();
    let placed = project.placements.iter().rev().map(|placed| placed.plate);
    for plate in placed.chain(project.plates.iter().map(|plate| plate.id)) {
        if !order.contains(&plate) && project.plate(plate).is_some() {
            order.push(plate);
        }
    }
    order
}

/// The front-most placement of a plate, with its place counted from the back.
#[must_use]
pub fn front_placement(project: &Project, plate: PlateId) -> Option<(usize, &Placement)> {
    let placements = project.placements.iter().enumerate().rev();
    let mut of_plate = placements.filter(|(_at, placed)| placed.plate == plate);
    of_plate.next().map(|(at, placed)| (at, placed.as_ref()))
}

/// Reads every row, front to back, the finish last.
pub fn read(
    session: &Session,
    viewer: &mut Viewer,
    (busy, swapped): (Option<&Work>, Option<&SwapReport>),
    before: &mut Before,
) -> Vec<RowFacts> {
    let project = session.project();
    for plate in &project.plates {
        if Wholes::of(viewer, Shown::Plate(plate.id, Stage::Done)) == Wholes::There {
            before.fused.insert(plate.id);
        }
    }
    let wholes = if project.placements.is_empty() {
        Wholes::ToBeMade
    } else {
        Wholes::of(viewer, Shown::Scene)
    };
    before.finished |= wholes == Wholes::There;
    let reading = Reading {
        project,
        due: session.due(),
        missing: session.missing_frames(),
        busy,
        swapped,
        before,
    };
    let mut rows: Vec<RowFacts> = front_to_back(project)
        .into_iter()
        .filter_map(|id| project.plate(id))
        .map(|plate| RowFacts {
            row: Row::Plate(plate.id),
            name: plate.name.clone(),
            placement: front_placement(project, plate.id).map(|(_at, placed)| placed.id),
            cells: reading.cells(plate, viewer),
        })
        .collect();
    rows.push(RowFacts {
        row: Row::Finish,
        name: words::FINISH.to_owned(),
        placement: None,
        cells: vec![CellFacts {
            column: Column::Placement,
            number: words::of_whole_scene(&finish_words(&project.finish)),
            state: reading.finish_state(wholes),
            thumb: (wholes == Wholes::There).then_some(Shown::Scene),
        }],
    });
    rows
}

impl Reading<'_> {
    fn cells(&self, plate: &Plate, viewer: &mut Viewer) -> Vec<CellFacts> {
        let wholes = Wholes::of(viewer, Shown::Plate(plate.id, Stage::Done));
        let shown =
            |stage: Stage| (wholes == Wholes::There).then_some(Shown::Plate(plate.id, stage));
        let cell = |column, (number, state): (String, State), thumb| CellFacts {
            column,
            number,
            state: self.after_swap(plate, column, state),
            thumb,
        };
        let reference = plate.stack().and_then(Stack::reference_frame);
        let reference = reference.filter(|frame| !self.missing.contains(frame));
        let matte = plate
            .steps
            .iter()
            .any(|step| matches!(step.kind, StepKind::Matte(_)));
        let lights = !plate.groups.is_empty();
        vec![
            cell(
                Column::Frames,
                self.frames(plate),
                reference.map(Shown::Frame),
            ),
            cell(Column::Register, self.register(plate), None),
            cell(Column::Match, self.matched(plate), None),
            cell(Column::Fuse, self.fuse(plate, wholes), shown(Stage::Fused)),
            cell(Column::Spotting, self.spotting(plate), None),
            cell(Column::Warp, by_hand::warp(plate), None),
            cell(
                Column::Matte,
                self.matte(plate),
                shown(Stage::Done).filter(|_shown| matte),
            ),
            cell(
                Column::Lights,
                self.lights(plate),
                shown(Stage::Lit).filter(|_shown| lights),
            ),
            cell(Column::Placement, self.placement(plate), None),
        ]
    }

    /// What is done wants a look where the last swap of the plate left something to look at, until people have decided.
    fn after_swap(&self, plate: &Plate, column: Column, state: State) -> State {
        let about = match column {
            Column::Register => About::Source,
            Column::Spotting => About::Spotting,
            Column::Warp => About::Warp,
            Column::Matte => About::Matte,
            Column::Lights => About::Lights,
            Column::Frames | Column::Match | Column::Fuse | Column::Placement => return state,
        };
        let wants = self.swapped.is_some_and(|report| {
            let mut looks = report.needs_a_look.iter();
            report.plate == plate.name && looks.any(|look| look.about == about)
        });
        if wants && state == State::Done {
            State::NeedsALook
        } else {
            state
        }
    }

    fn is_worked_on(&self, plate: &Plate) -> bool {
        match self.busy {
            Some(
                Work::Fuse(id)
                | Work::MeasureAgain(id)
                | Work::SuggestMask(id, _)
                | Work::FindDoubled(id, _)
                | Work::FindSpots(id, _),
            ) => *id == plate.id,
            Some(Work::Swap { plate: name, .. }) => *name == plate.name,
            Some(Work::FuseAll | Work::Build(_)) => true,
            Some(
                Work::AddPhotos(_) | Work::CheckPhotos | Work::FindPhotos(_) | Work::TakeChanged,
            )
            | None => false,
        }
    }

    fn stack_is_due(&self, plate: &Plate) -> bool {
        self.due.iter().any(|due| {
            matches!(due, Due::Stack(of, variant) | Due::Place(of, variant)
                if *of == plate.id && *variant == plate.current)
        })
    }

    fn take_is_due(&self, plate: &Plate, wanted: impl Fn(&Pass) -> bool) -> bool {
        self.due.iter().any(|due| match due {
            Due::Take(of, _, pass) => *of == plate.id && plate.pass(*pass).is_some_and(&wanted),
            Due::Stack(..) | Due::Place(..) => false,
        })
    }

    fn frames(&self, plate: &Plate) -> (String, State) {
        let Some(stack) = plate.stack() else {
            return (words::MADE.to_owned(), State::Done);
        };
        let used: Vec<FrameId> = stack.used().collect();
        let number = words::frames(used.len(), stack.frames.len());
        let state = if used.is_empty() {
            State::Empty
        } else if used.iter().any(|frame| self.missing.contains(frame)) {
            State::Missing
        } else {
            State::Done
        };
        (number, state)
    }

    /// State of what is measured on a stack, before looking at the numbers.
    fn measured_state(&self, plate: &Plate, stack: &Stack) -> State {
        let due = self.stack_is_due(plate);
        match (&stack.measured, due) {
            _worked_on if due && self.is_worked_on(plate) => State::Working,
            (None, _) => State::Empty,
            (Some(_), true) => State::Stale,
            (Some(_), false) => State::Done,
        }
    }

    fn register(&self, plate: &Plate) -> (String, State) {
        let Some(stack) = plate.stack() else {
            return (words::NOTHING.to_owned(), State::Done);
        };
        let state = self.measured_state(plate, stack);
        let Some(measured) = &stack.measured else {
            return (words::NOT_YET.to_owned(), state);
        };
        let of_frames = measured.frames.iter().map(|frame| frame.residual_px);
        let lies = plate.variant().and_then(|variant| variant.lies.as_ref());
        let worst = of_frames
            .chain(lies.map(|lies| lies.residual_px))
            .fold(0.0, f32::max);
        let state = doubt_above(state, worst, LARGE_RESIDUAL_PX);
        (words::residual(worst), state)
    }

    fn matched(&self, plate: &Plate) -> (String, State) {
        let Some(stack) = plate.stack() else {
            return (words::NOTHING.to_owned(), State::Done);
        };
        let state = self.measured_state(plate, stack);
        let Some(measured) = &stack.measured else {
            return (words::NOT_YET.to_owned(), state);
        };
        let stops = measured
            .frames
            .iter()
            .map(|frame| gain_stops(frame.gain_rgb));
        let (low, high) = stops.fold((0.0_f32, 0.0_f32), |(low, high), stops| {
            (low.min(stops), high.max(stops))
        });
        let spread = high - low;
        let state = doubt_above(state, spread, LARGE_SPREAD_STOPS);
        (words::stops(spread), state)
    }

    fn fuse(&self, plate: &Plate, wholes: Wholes) -> (String, State) {
        let number = match plate.variant().map(|variant| &variant.source) {
            Some(Source::Made(_)) => words::MADE,
            Some(Source::Stack(_)) | None if wholes == Wholes::ToBeMade => words::NOT_YET,
            Some(Source::Stack(stack)) if stack.used().count() == 1 => words::ONE_PHOTO,
            Some(Source::Stack(_)) | None => words::FUSED,
        };
        let state = if wholes == Wholes::There && !self.stack_is_due(plate) {
            State::Done
        } else if self.is_worked_on(plate) {
            State::Working
        } else if self.before.fused.contains(&plate.id) {
            State::Stale
        } else {
            State::Empty
        };
        (number.to_owned(), state)
    }

    fn spotting(&self, plate: &Plate) -> (String, State) {
        let places = Places::of(plate);
        if places.filled == 0 && !places.wants {
            return (words::NOTHING.to_owned(), State::Empty);
        }
        let state = match self.take_state(plate, |pass| places.passes.contains(&pass.id)) {
            State::Done if places.wants => State::NeedsALook,
            state => state,
        };
        (words::spots(places.filled), state)
    }

    fn matte(&self, plate: &Plate) -> (String, State) {
        let mattes = plate.steps.iter().filter(|step| step.on);
        let mut mattes = mattes.filter_map(|step| step.kind.matte());
        let Some(matte) = mattes.next_back() else {
            return (words::WHOLE_PICTURE.to_owned(), State::Empty);
        };
        match matte.method {
            MatteMethod::Drawn => (words::DRAWN.to_owned(), State::Done),
            MatteMethod::Silhouette { pass, .. } => {
                let state = self.take_state(plate, |other| other.id == pass);
                (words::SILHOUETTE.to_owned(), state)
            }
            MatteMethod::Plain { .. } => (words::PLAIN_BACKDROP.to_owned(), self.cut_state(plate)),
            MatteMethod::TwoLevels { .. } => (words::TWO_LEVELS.to_owned(), self.cut_state(plate)),
        }
    }

    /// The state of a matte that is found on the plate and its passes.
    fn cut_state(&self, plate: &Plate) -> State {
        let used: Vec<_> = plate
            .steps
            .iter()
            .filter_map(|step| step.kind.matte())
            .flat_map(|matte| matte.method.passes_used())
            .collect();
        if used.is_empty() {
            return State::Done;
        }
        self.take_state(plate, |pass| used.contains(&pass.id))
    }

    fn lights(&self, plate: &Plate) -> (String, State) {
        let lights = plate
            .passes
            .iter()
            .filter(|pass| pass.role == PassRole::Light);
        if plate.groups.is_empty() {
            return match lights.count() {
                0 => (words::NOTHING.to_owned(), State::Empty),
                passes => (words::passes(passes), State::Empty),
            };
        }
        let lit = plate.groups.iter().filter(|group| group.on).count();
        let state = self.take_state(plate, |pass| {
            plate.groups.iter().any(|group| group.pass == pass.id)
        });
        (words::groups(lit, plate.groups.len()), state)
    }

    fn take_state(&self, plate: &Plate, wanted: impl Fn(&Pass) -> bool) -> State {
        let lost = plate.passes.iter().filter(|pass| wanted(pass)).any(|pass| {
            plate.take(pass.id).is_some_and(|(_variant, take)| {
                take.frames.iter().any(|frame| self.missing.contains(frame))
            })
        });
        match self.take_is_due(plate, wanted) {
            _lost if lost => State::Missing,
            true if self.is_worked_on(plate) => State::Working,
            true => State::Stale,
            false => State::Done,
        }
    }

    fn placement(&self, plate: &Plate) -> (String, State) {
        let Some((at, placed)) = front_placement(self.project, plate.id) else {
            return (words::NOT_PLACED.to_owned(), State::Empty);
        };
        let from_front = self.project.placements.len() - 1 - at;
        let number = if placed.visible {
            words::depth(from_front, at)
        } else {
            words::HIDDEN.to_owned()
        };
        (number, State::Done)
    }

    fn finish_state(&self, wholes: Wholes) -> State {
        match self.busy {
            Some(Work::Build(_) | Work::FuseAll) => State::Working,
            _other if wholes == Wholes::There && self.due.is_empty() => State::Done,
            _other if self.before.finished => State::Stale,
            _other => State::Empty,
        }
    }
}

/// What is done needs a look where `measured` is larger than `large`.
fn doubt_above(state: State, measured: f32, large: f32) -> State {
    if state == State::Done && measured > large {
        State::NeedsALook
    } else {
        state
    }
}

/// Mean gain of the three channels, in stops.
fn gain_stops(gain_rgb: [f32; 3]) -> f32 {
    let mean = (gain_rgb[0] + gain_rgb[1] + gain_rgb[2]) / 3.0;
    if mean > 0.0 { libm::log2f(mean) } else { 0.0 }
}

fn finish_words(finish: &Finish) -> String {
    let mut parts = Vec::new();
    if finish.exposure_stops != 0.0 {
        parts.push(words::stops(finish.exposure_stops));
    }
    if finish.contrast != 1.0 || finish.shoulder != 0.0 {
        parts.push(words::TONE.to_owned());
    }
    if finish.saturation != 1.0 {
        parts.push(words::COLOUR.to_owned());
    }
    if finish.vignette_stops != 0.0 {
        parts.push(words::VIGNETTE.to_owned());
    }
    if finish.grain.is_some() {
        parts.push(words::GRAIN.to_owned());
    }
    if parts.is_empty() {
        return words::AS_IT_IS.to_owned();
    }
    parts.join(" · ")
}
