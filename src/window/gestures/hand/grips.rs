//! What of a step done by hand can be grabbed, and what the step becomes when it is moved or taken away.

use crate::geometry::Point;
use crate::project::{Patch, PatchFrom, PatchShape, StepKind, WarpKind};
use crate::session::spotting::middle_of;
use crate::window::theme::picture_size;
use crate::window::viewport::overlay::distance_to;
use crate::window::viewport::pan_zoom::Map;
use egui::Pos2;

/// What of a step is held or chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Grip {
    /// A point of the line that stays.
    Kept(usize),
    /// All of the line that stays.
    KeptLine,
    /// A point of the moved line.
    Moved(usize),
    /// All of the moved line.
    MovedLine,
    /// A handle, where it is now.
    Handle(usize),
    /// An end, 0 or 1, of a line that stays straight, where it is now.
    Straight(usize, usize),
    /// A corner of the outline that stays.
    Lock(usize),
    /// A corner of a region, where it is now.
    Corner(usize),
    /// A place that is filled, all of it.
    Place(usize),
    /// A point of such a place.
    Node(usize, usize),
    /// Where a place is copied from.
    Source(usize),
}

/// Whether a grip is drawn as a square; places show themselves.
#[must_use]
pub const fn has_handle(grip: Grip) -> bool {
    !matches!(grip, Grip::Place(_))
}

/// Every point that can be grabbed, in the order that keys go through them.
#[must_use]
pub fn points(kind: &StepKind) -> Vec<(Grip, Point)> {
    match kind {
        StepKind::Warp(warp) => of_warp(&warp.kind),
        StepKind::Spotting(_) | StepKind::PaintOut(_) => {
            let patches = kind.patches().iter().enumerate();
            patches
                .flat_map(|(number, patch)| of_patch(number, patch))
                .collect()
        }
        StepKind::Matte(_) | StepKind::Grade(_) => Vec::new(),
    }
}

fn of_warp(kind: &WarpKind) -> Vec<(Grip, Point)> {
    let numbered = |points: &[Point], grip: fn(usize) -> Grip| -> Vec<(Grip, Point)> {
        let points = points.iter().enumerate();
        points.map(|(number, at)| (grip(number), *at)).collect()
    };
    match kind {
        WarpKind::Strake { kept, now, .. } => {
            let mut all = numbered(now, Grip::Moved);
            all.extend(numbered(kept, Grip::Kept));
            all
        }
        WarpKind::Handles {
            handles,
            lines,
            outline,
        } => {
            let now: Vec<Point> = handles.iter().map(|[_was, now]| *now).collect();
            let mut all = numbered(&now, Grip::Handle);
            for (number, [_, _, from, to]) in lines.iter().enumerate() {
                all.push((Grip::Straight(number, 0), *from));
                all.push((Grip::Straight(number, 1), *to));
            }
            all.extend(numbered(outline, Grip::Lock));
            all
        }
        WarpKind::Corners { now, .. } => numbered(now, Grip::Corner),
    }
}

fn of_patch(number: usize, patch: &Patch) -> Vec<(Grip, Point)> {
    let middle = middle_of(patch);
    let mut all = vec![(Grip::Place(number), middle)];
    if patch.confidence.is_none() && !matches!(patch.shape, PatchShape::Dab { .. }) {
        let nodes = patch.shape.points().iter().enumerate();
        all.extend(nodes.map(|(node, at)| (Grip::Node(number, node), *at)));
    }
    if let PatchFrom::Place { offset } = patch.from {
        let source = Point::new(middle.x + offset.x, middle.y + offset.y);
        all.push((Grip::Source(number), source));
    }
    all
}

/// What lies under a point of the window, and how far off: points before lines.
#[must_use]
pub fn under(kind: &StepKind, map: &Map, at: Pos2) -> Option<(f32, Grip)> {
    let far = |place: Point| map.to_window(place).distance(at);
    let near = |(reach, _): &(f32, Grip)| *reach <= picture_size::GRAB;
    let handles = points(kind).into_iter();
    let handles = handles.filter(|(grip, _)| has_handle(*grip));
    let mut handles = handles.map(|(grip, place)| (far(place), grip)).filter(near);
    let best = |all: &mut dyn Iterator<Item = (f32, Grip)>| all.min_by(|a, b| a.0.total_cmp(&b.0));
    let handle = best(&mut handles);
    if handle.is_some() {
        return handle;
    }
    match kind {
        StepKind::Warp(warp) => {
            let WarpKind::Strake { kept, now, .. } = &warp.kind else {
                return None;
            };
            let lines = [(kept, Grip::KeptLine), (now, Grip::MovedLine)];
            let lines = lines.into_iter();
            // A line counts only where no handle is nearer.
            let lines = lines.map(|(line, grip)| (distance_to(line, map, at), grip));
            best(&mut lines.filter(near))
        }
        _places => {
            let patches = kind.patches().iter().enumerate();
            let patches = patches.map(|(number, patch)| {
                let reach = match &patch.shape {
                    PatchShape::Dab {
                        at: middle,
                        radius_px,
                    } => (far(*middle) - map.length(f64::from(*radius_px))).max(0.0),
                    PatchShape::Line { points, width_px } => {
                        let wide = map.length(f64::from(*width_px) * 0.5);
                        (distance_to(points, map, at) - wide).max(0.0)
                    }
                    PatchShape::Outline { points } => {
                        let mut closed = points.clone();
                        closed.extend(points.first());
                        distance_to(&closed, map, at)
                    }
                };
                (reach, Grip::Place(number))
            });
            best(&mut patches.filter(near))
        }
    }
}

/// The step with what is gripped moved by `by`. With `whole` the places where the model was move along: the lines are set out anew.
#[must_use]
pub fn moved(kind: &StepKind, (grip, whole): (Grip, bool), by: Point) -> StepKind {
    let mut kind = kind.clone();
    match &mut kind {
        StepKind::Warp(warp) => {
            for point in moving(&mut warp.kind, (grip, whole)) {
                *point = plus(*point, by);
            }
        }
        StepKind::Spotting(spotting) => move_patch(&mut spotting.patches, grip, by),
        StepKind::PaintOut(paint_out) => move_patch(&mut paint_out.patches, grip, by),
        StepKind::Matte(_) | StepKind::Grade(_) => {}
    }
    kind
}

fn plus(at: Point, by: Point) -> Point {
    Point::new(at.x + by.x, at.y + by.y)
}

/// The points of a warp that a grip moves.
fn moving(kind: &mut WarpKind, (grip, whole): (Grip, bool)) -> Vec<&mut Point> {
    match (kind, grip) {
        (WarpKind::Strake { kept, .. }, Grip::Kept(number)) => {
            kept.get_mut(number).into_iter().collect()
        }
        (WarpKind::Strake { kept, .. }, Grip::KeptLine) => kept.iter_mut().collect(),
        (WarpKind::Strake { was, now, .. }, Grip::Moved(number)) => {
            let was = was.get_mut(number).filter(|_was| whole);
            now.get_mut(number).into_iter().chain(was).collect()
        }
        (WarpKind::Strake { was, now, .. }, Grip::MovedLine) => {
            let was = was.iter_mut().filter(|_was| whole);
            now.iter_mut().chain(was).collect()
        }
        (WarpKind::Handles { handles, .. }, Grip::Handle(number)) => {
            match handles.get_mut(number) {
                Some([was, now]) => std::iter::once(now).chain(whole.then_some(was)).collect(),
                None => Vec::new(),
            }
        }
        (WarpKind::Handles { lines, .. }, Grip::Straight(number, end)) => {
            match (lines.get_mut(number), end) {
                (Some([was, _, now, _]), 0) | (Some([_, was, _, now]), 1) => {
                    std::iter::once(now).chain(whole.then_some(was)).collect()
                }
                _gone => Vec::new(),
            }
        }
        (WarpKind::Handles { outline, .. }, Grip::Lock(number)) => {
            outline.get_mut(number).into_iter().collect()
        }
        (WarpKind::Corners { was, now }, Grip::Corner(number)) => {
            let was = was.get_mut(number).filter(|_was| whole);
            now.get_mut(number).into_iter().chain(was).collect()
        }
        _other => Vec::new(),
    }
}

fn move_patch(patches: &mut [Patch], grip: Grip, by: Point) {
    let (Grip::Place(number) | Grip::Node(number, _) | Grip::Source(number)) = grip else {
        return;
    };
    let Some(patch) = patches.get_mut(number) else {
        return;
    };
    match (grip, &mut patch.shape) {
        (Grip::Source(_), _) => {
            if let PatchFrom::Place { offset } = &mut patch.from {
                *offset = plus(*offset, by);
            }
        }
        (_, PatchShape::Dab { at, .. }) => *at = plus(*at, by),
        (Grip::Node(_, node), PatchShape::Line { points, .. } | PatchShape::Outline { points }) => {
            if let Some(at) = points.get_mut(node) {
                *at = plus(*at, by);
            }
        }
        (_, PatchShape::Line { points, .. } | PatchShape::Outline { points }) => {
            points.iter_mut().for_each(|at| *at = plus(*at, by));
        }
    }
}

/// The step without what is gripped; `None` where nothing of it is left.
#[must_use]
pub fn without(kind: &StepKind, grip: Grip) -> Option<StepKind> {
    let mut kind = kind.clone();
    let left = match &mut kind {
        StepKind::Warp(warp) => take_from_warp(&mut warp.kind, grip),
        StepKind::Spotting(spotting) => take_patch(&mut spotting.patches, grip),
        StepKind::PaintOut(paint_out) => take_patch(&mut paint_out.patches, grip),
        StepKind::Matte(_) | StepKind::Grade(_) => false,
    };
    left.then_some(kind)
}

/// Takes one away where more than `least` are there.
fn take<T>(all: &mut Vec<T>, number: usize, least: usize) -> bool {
    let may = all.len() > least && number < all.len();
    if may {
        all.remove(number);
    }
    may
}

/// Takes something out of a warp; false where the warp goes with it.
fn take_from_warp(kind: &mut WarpKind, grip: Grip) -> bool {
    match (kind, grip) {
        (WarpKind::Strake { kept, .. }, Grip::Kept(number)) => take(kept, number, 2),
        (WarpKind::Strake { was, now, .. }, Grip::Moved(number)) => {
            take(was, number, 2) && take(now, number, 2)
        }
        (WarpKind::Handles { handles, lines, .. }, Grip::Handle(number)) => {
            take(handles, number, 0) && !(handles.is_empty() && lines.is_empty())
        }
        (WarpKind::Handles { handles, lines, .. }, Grip::Straight(number, _end)) => {
            take(lines, number, 0) && !(handles.is_empty() && lines.is_empty())
        }
        (WarpKind::Handles { outline, .. }, Grip::Lock(number)) => {
            if !take(outline, number, 3) {
                outline.clear();
            }
            true
        }
        _all_of_it => false,
    }
}

/// Takes a place, or a point of it; a place without enough points goes.
fn take_patch(patches: &mut Vec<Patch>, grip: Grip) -> bool {
    let (Grip::Place(number) | Grip::Node(number, _) | Grip::Source(number)) = grip else {
        return true;
    };
    let Some(patch) = patches.get_mut(number) else {
        return true;
    };
    let stays = match (grip, &mut patch.shape) {
        (Grip::Source(_), _) => {
            patch.from = PatchFrom::Surroundings;
            true
        }
        (Grip::Node(_, node), PatchShape::Line { points, .. }) => take(points, node, 2),
        (Grip::Node(_, node), PatchShape::Outline { points }) => take(points, node, 3),
        _all_of_it => false,
    };
    if !stays {
        patches.remove(number);
    }
    true
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::project::{PaintOut, Verdict, Warp};

    fn strake() -> StepKind {
        let line = |y: f64| [0.0, 50.0, 100.0].map(|x| Point::new(x, y)).to_vec();
        StepKind::Warp(Warp {
            kind: WarpKind::Strake {
                kept: line(100.0),
                was: line(50.0),
                now: line(40.0),
                covers: false,
            },
            soft_px: 20.0,
        })
    }

    #[test]
    fn every_point_that_is_offered_moves_alone_and_can_be_taken_away() {
        let outline = [(10.0, 10.0), (40.0, 10.0), (40.0, 40.0), (10.0, 40.0)];
        let outline: Vec<Point> = outline.map(|(x, y)| Point::new(x, y)).to_vec();
        let handles = StepKind::Warp(Warp {
            kind: WarpKind::Handles {
                handles: vec![[outline[0], outline[1]], [outline[2], outline[2]]],
                lines: vec![[outline[0], outline[2], outline[0], outline[2]]],
                outline: outline.clone(),
            },
            soft_px: 20.0,
        });
        let places = StepKind::PaintOut(PaintOut {
            patches: vec![Patch {
                shape: PatchShape::Outline { points: outline },
                from: PatchFrom::Place {
                    offset: Point::new(70.0, 0.0),
                },
                feather_px: 1.0,
                confidence: None,
                verdict: Verdict::Undecided,
            }],
            shadow_seen_to: false,
        });
        let by = Point::new(3.0, -2.0);
        for kind in [strake(), handles, places] {
            for (number, (grip, at)) in points(&kind).into_iter().enumerate() {
                let after = points(&moved(&kind, (grip, false), by));
                let (same, now) = after[number];
                assert_eq!(same, grip);
                let off = now.distance(plus(at, by));
                assert!(off < 1e-9, "{grip:?} went {now:?} from {at:?}");
                let fewer = without(&kind, grip);
                assert_ne!(fewer.as_ref(), Some(&kind), "{grip:?}");
            }
        }
    }

    #[test]
    fn a_moved_line_takes_where_it_was_along_only_when_asked() {
        let by = Point::new(0.0, -5.0);
        for (whole, expected) in [(false, 50.0), (true, 45.0)] {
            let StepKind::Warp(warp) = moved(&strake(), (Grip::MovedLine, whole), by) else {
                unreachable!("a warp stays a warp");
            };
            let WarpKind::Strake { was, now, .. } = warp.kind else {
                unreachable!("a strake stays a strake");
            };
            assert_eq!((was[1].y, now[1].y), (expected, 35.0));
        }
    }
}
