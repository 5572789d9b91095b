//! Setting out something new: places that are filled, strakes, handles, corners. It becomes one edit when it is complete.

use crate::geometry::Point;
use crate::project::{
    Edit, PaintOut, Patch, PatchFrom, PatchShape, Plate, PlateEdit, PlateId, Project, Spotting,
    Step, StepId, StepKind, Verdict, Warp, WarpKind,
};
use crate::session::spotting::{before_warp, first_spotting, moves};
use crate::window::gestures::hand::grips::Grip;
use crate::window::queue::{Adding, HandTool, Heals};
use crate::window::theme::{picture, picture_size};
use crate::window::viewport::overlay::{cased, dashed, handle};
use crate::window::viewport::pan_zoom::Map;
use egui::{Painter, Pos2, Stroke};

/// Softness of the edge of places that are set by hand, px.
const FEATHER_PX: f32 = 1.5;
/// How far a new warp dies away, px.
const SOFT_PX: f32 = 60.0;

/// Something that is being set out.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Building {
    adding: Adding,
    points: Vec<Point>,
    /// The line of a strake that stays, once it is set out.
    kept: Option<Vec<Point>>,
    /// Whether the button is down.
    down: bool,
}

/// The edit that something set out becomes, and what of it is chosen then.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Made {
    pub(super) edit: Edit,
    pub(super) chosen: (StepId, Grip),
}

/// The tool with its radius changed by so many steps.
pub(super) fn wider(adding: Adding, by: i32) -> Adding {
    let factor = if by > 0 { 1.25 } else { 0.8 };
    Adding {
        radius_px: (adding.radius_px * factor).clamp(1.0, 500.0),
        ..adding
    }
}

impl Building {
    pub(super) fn new(adding: Adding, at: Point) -> Self {
        let points = match adding.tool {
            HandTool::Copy | HandTool::Straight | HandTool::Corners => vec![at, at],
            HandTool::Dab
            | HandTool::Line
            | HandTool::Outline
            | HandTool::Strake
            | HandTool::Handle
            | HandTool::Lock => vec![at],
        };
        Self {
            adding,
            points,
            kept: None,
            down: true,
        }
    }

    pub(super) const fn tool(&self) -> HandTool {
        self.adding.tool
    }

    pub(super) const fn plate(&self) -> PlateId {
        self.adding.plate
    }

    pub(super) const fn is_down(&self) -> bool {
        self.down
    }

    pub(super) const fn let_go(&mut self) {
        self.down = false;
    }

    /// Whether one point is all there is to it.
    pub(super) const fn is_one_point(&self) -> bool {
        matches!(self.adding.tool, HandTool::Dab | HandTool::Handle)
    }

    /// Whether it is dragged from one point to another.
    pub(super) const fn is_dragged(&self) -> bool {
        matches!(
            self.adding.tool,
            HandTool::Copy | HandTool::Straight | HandTool::Corners
        )
    }

    /// Whether it is complete when the button goes up.
    pub(super) const fn ends_with_button(&self) -> bool {
        self.is_one_point() || self.is_dragged()
    }

    /// Whether it is filled from another picture, which may have to be made first.
    pub(super) const fn is_from_another(&self) -> bool {
        self.adding.from.is_another_picture()
    }

    const fn is_closed(&self) -> bool {
        matches!(self.adding.tool, HandTool::Outline | HandTool::Lock)
    }

    pub(super) fn push(&mut self, at: Point) {
        self.points.push(at);
        self.down = true;
    }

    /// Takes the newest point away; false where none is left.
    pub(super) fn pop(&mut self) -> bool {
        self.points.pop();
        !self.points.is_empty() && !self.is_dragged()
    }

    pub(super) fn drag_to(&mut self, at: Point) {
        if let Some(last) = self.points.last_mut() {
            *last = at;
        }
    }

    pub(super) fn nudge(&mut self, by: Point) {
        if let Some(last) = self.points.last_mut() {
            *last = Point::new(last.x + by.x, last.y + by.y);
        }
    }

    /// Whether a press there ends it: on the first point of an outline, on the newest of a line.
    pub(super) fn ends_at(&self, map: &Map, at: Pos2) -> bool {
        let end = if self.is_closed() {
            self.points.first().filter(|_first| self.points.len() > 2)
        } else {
            self.points.last().filter(|_last| self.points.len() > 1)
        };
        // Points of a line may lie close together; it ends only where the newest is hit.
        let reach = if self.is_closed() {
            picture_size::GRAB
        } else {
            picture_size::PULL
        };
        end.is_some_and(|end| map.to_window(*end).distance(at) <= reach)
    }

    /// Goes on to the second line of a strake; true where it did.
    pub(super) fn next_line(&mut self) -> bool {
        let first = self.adding.tool == HandTool::Strake && self.kept.is_none();
        let goes_on = first && self.points.len() > 1;
        if goes_on {
            self.kept = Some(std::mem::take(&mut self.points));
        }
        first
    }

    /// Whether every point that it needs is there.
    pub(super) fn is_complete(&self) -> bool {
        let points = self.points.len();
        match self.adding.tool {
            HandTool::Dab | HandTool::Handle => points == 1,
            HandTool::Line => points > 1,
            HandTool::Outline | HandTool::Lock => points > 2,
            HandTool::Strake => points > 1 && self.kept.is_some(),
            HandTool::Copy | HandTool::Straight | HandTool::Corners => {
                self.points.first() != self.points.last()
            }
        }
    }

    /// The edit it would be; `None` while points are missing, or where it cannot be carried out.
    pub(super) fn made(&self, project: &Project, plate: &Plate) -> Option<Made> {
        if !self.is_complete() {
            return None;
        }
        match self.patch() {
            Some(patch) => Some(self.patched(project, plate, patch)),
            None => self.warped(project, plate),
        }
    }

    fn patch(&self) -> Option<Patch> {
        let (first, last) = (*self.points.first()?, *self.points.last()?);
        let radius_px = self.adding.radius_px;
        let (shape, from) = match self.adding.tool {
            HandTool::Dab => (
                PatchShape::Dab {
                    at: first,
                    radius_px,
                },
                self.adding.from,
            ),
            HandTool::Copy => (
                PatchShape::Dab {
                    at: last,
                    radius_px,
                },
                PatchFrom::Place {
                    offset: Point::new(first.x - last.x, first.y - last.y),
                },
            ),
            HandTool::Line => (
                PatchShape::Line {
                    points: self.points.clone(),
                    width_px: radius_px * 2.0,
                },
                self.adding.from,
            ),
            HandTool::Outline => (
                PatchShape::Outline {
                    points: self.points.clone(),
                },
                self.adding.from,
            ),
            HandTool::Strake
            | HandTool::Handle
            | HandTool::Straight
            | HandTool::Lock
            | HandTool::Corners => return None,
        };
        Some(Patch {
            shape,
            from,
            feather_px: FEATHER_PX,
            confidence: None,
            verdict: Verdict::Undecided,
        })
    }

    /// The place goes into the plate's first step of its kind, or into a new one.
    fn patched(&self, project: &Project, plate: &Plate, patch: Patch) -> Made {
        let spots = self.adding.to == Heals::Spotting;
        let fits = |step: &&Step| match step.kind {
            StepKind::Spotting(_) => spots,
            StepKind::PaintOut(_) => !spots,
            StepKind::Matte(_) | StepKind::Grade(_) | StepKind::Warp(_) => false,
        };
        let found = plate.steps.iter().find(fits);
        let before = found.map_or(0, |step| step.kind.patches().len());
        let mut kind = match found {
            Some(step) => step.kind.clone(),
            None if spots => StepKind::Spotting(first_spotting()),
            None => StepKind::PaintOut(PaintOut::default()),
        };
        if let StepKind::Spotting(Spotting { patches, .. })
        | StepKind::PaintOut(PaintOut { patches, .. }) = &mut kind
        {
            patches.push(patch);
        }
        let heals =
            |step: &&Step| matches!(step.kind, StepKind::Spotting(_) | StepKind::PaintOut(_));
        let at = plate.steps.iter().take_while(heals).count();
        let step = step_with(project, found, kind);
        Made {
            chosen: (step.id, Grip::Place(before)),
            edit: put(plate, (found, step), if spots { 0 } else { at }),
        }
    }

    fn warped(&self, project: &Project, plate: &Plate) -> Option<Made> {
        let first = *self.points.first()?;
        let found = plate.steps.iter().rev().find(|step| {
            let handles = |warp: &Warp| matches!(warp.kind, WarpKind::Handles { .. });
            matches!(&step.kind, StepKind::Warp(warp) if handles(warp))
        });
        let was_at = |at: Point| {
            let was = found.filter(|step| step.on);
            was.and_then(|step| before_warp(step, at)).unwrap_or(at)
        };
        let mut of_handles = match found.map(|step| &step.kind) {
            Some(StepKind::Warp(warp)) => warp.clone(),
            _none => Warp {
                kind: WarpKind::Handles {
                    handles: Vec::new(),
                    lines: Vec::new(),
                    outline: Vec::new(),
                },
                soft_px: SOFT_PX,
            },
        };
        let (chosen, new) = self.set_out(&mut of_handles.kind, &was_at)?;
        let (found, warp) = match new {
            Some(kind) => (
                None,
                Warp {
                    kind,
                    soft_px: SOFT_PX,
                },
            ),
            None => (found, of_handles),
        };
        let step = step_with(project, found, StepKind::Warp(warp));
        let is_sound = !moves(&step) || before_warp(&step, first).is_some();
        is_sound.then(|| Made {
            chosen: (step.id, chosen),
            edit: put(plate, (found, step), plate.steps.len()),
        })
    }

    /// What was set out, put among the handles of `of_handles`, or as a warp of its own; and what of it is chosen then.
    fn set_out(
        &self,
        of_handles: &mut WarpKind,
        was_at: &impl Fn(Point) -> Point,
    ) -> Option<(Grip, Option<WarpKind>)> {
        let (first, last) = (*self.points.first()?, *self.points.last()?);
        let (mut chosen, mut new) = (Grip::Moved(0), None);
        match (self.adding.tool, of_handles) {
            (HandTool::Strake, _) => {
                new = Some(WarpKind::Strake {
                    kept: self.kept.clone()?,
                    was: self.points.clone(),
                    now: self.points.clone(),
                    covers: false,
                });
            }
            (HandTool::Corners, _) => {
                let [a, b] = [Point::new(last.x, first.y), Point::new(first.x, last.y)];
                let corners = [first, a, last, b];
                chosen = Grip::Corner(0);
                new = Some(WarpKind::Corners {
                    was: corners,
                    now: corners,
                });
            }
            (HandTool::Handle, WarpKind::Handles { handles, .. }) => {
                chosen = Grip::Handle(handles.len());
                handles.push([was_at(first), first]);
            }
            (HandTool::Straight, WarpKind::Handles { lines, .. }) => {
                chosen = Grip::Straight(lines.len(), 0);
                lines.push([was_at(first), was_at(last), first, last]);
            }
            (HandTool::Lock, WarpKind::Handles { outline, .. }) => {
                chosen = Grip::Lock(0);
                outline.clone_from(&self.points);
            }
            _no_warp => return None,
        }
        Some((chosen, new))
    }

    /// Paints what is set out so far.
    pub(super) fn paint(&self, painter: &Painter, map: &Map, pointer: Option<Pos2>) {
        let stroke = Stroke::new(picture_size::LINE, picture::CHOSEN);
        let window = |points: &[Point]| -> Vec<Pos2> {
            points.iter().map(|at| map.to_window(*at)).collect()
        };
        if let Some(kept) = &self.kept {
            cased(painter, &window(kept), stroke);
        }
        let mut path = window(&self.points);
        match self.adding.tool {
            HandTool::Corners => {
                if let [a, b] = path[..] {
                    let corners = [a, egui::pos2(b.x, a.y), b, egui::pos2(a.x, b.y), a];
                    cased(painter, &corners, stroke);
                }
            }
            HandTool::Dab | HandTool::Copy => {
                let radius = map.length(f64::from(self.adding.radius_px));
                for at in &path {
                    painter.circle_stroke(*at, radius, stroke);
                }
                dashed(painter, &path, stroke);
            }
            HandTool::Line
            | HandTool::Outline
            | HandTool::Strake
            | HandTool::Handle
            | HandTool::Straight
            | HandTool::Lock => {
                if !self.down && !self.is_dragged() {
                    path.extend(pointer.filter(|_at| !path.is_empty()));
                }
                cased(painter, &path, stroke);
            }
        }
        for at in window(&self.points) {
            handle(painter, at, picture::CHOSEN);
        }
    }
}

/// The step with its new contents, or a new step.
fn step_with(project: &Project, found: Option<&Step>, kind: StepKind) -> Step {
    match found {
        Some(step) => Step {
            kind,
            ..step.clone()
        },
        None => Step {
            id: StepId(project.next_id),
            on: true,
            mask: None,
            kind,
        },
    }
}

/// Puts the step in the place of the one that was found, or to the others.
fn put(plate: &Plate, (found, step): (Option<&Step>, Step), at: usize) -> Edit {
    let edit = match found {
        Some(_step) => PlateEdit::SetStep(step),
        None => PlateEdit::AddStep { step, at },
    };
    Edit::Plate(plate.id, edit)
}

/// Shows how large a dab would be.
pub(super) fn paint_pointer(painter: &Painter, map: &Map, adding: Adding, at: Pos2) {
    if matches!(adding.tool, HandTool::Dab | HandTool::Copy | HandTool::Line) {
        let radius = map.length(f64::from(adding.radius_px));
        let casing = Stroke::new(picture_size::CASING, picture::CASING);
        painter.circle_stroke(at, radius, casing);
        let line = Stroke::new(picture_size::LINE, picture::LINE);
        painter.circle_stroke(at, radius, line);
    }
}
