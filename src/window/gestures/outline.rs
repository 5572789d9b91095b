//! Setting out outlines point by point, and moving what was drawn before.

use crate::geometry::Point;
use crate::project::{Edit, MaskId, MaskPart, Node, PartId, PlateEdit, Project, Shape};
use crate::session::Command;
use crate::window::gestures::{Input, Moved, Stroked, add_part, mask_of, set_part};
use crate::window::queue::{Ask, Drawing, Queue, Tool};
use crate::window::theme::{picture, picture_size};
use crate::window::viewport::overlay::{self, Ends, cased, curve, handle};
use crate::window::viewport::pan_zoom::Map;
use egui::{Painter, Pos2, Stroke};

/// What of a part is held or chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Grip {
    Node(usize),
    Before(usize),
    After(usize),
    Whole,
}

/// An outline that is being set out.
#[derive(Debug, Clone, PartialEq)]
struct Building {
    drawing: Drawing,
    mask: MaskId,
    nodes: Vec<Node>,
    /// Where the button went down for the newest point, while it is down.
    pulling: Option<Pos2>,
}

/// A part that is being moved.
#[derive(Debug, Clone, PartialEq)]
struct Held {
    drawing: Drawing,
    mask: MaskId,
    start: MaskPart,
    now: MaskPart,
    grip: Grip,
    from: Point,
    pulls: bool,
}

/// The outline being set out, the part being moved, and what keys act on.
#[derive(Debug, Default)]
pub struct Outlines {
    building: Option<Building>,
    held: Option<Held>,
    chosen: Option<(PartId, Grip)>,
}

impl Building {
    fn shape(&self) -> Option<Shape> {
        let curved = self.nodes.iter().any(|node| node.after.is_some());
        let enough = if curved { 2 } else { 3 };
        (self.nodes.len() >= enough).then(|| Shape::Outline {
            nodes: self.nodes.clone(),
            feather_px: 0.0,
        })
    }

    fn edit(&self, project: &Project) -> Option<Edit> {
        Some(add_part(self.drawing, self.mask, project, self.shape()?))
    }
}

impl Outlines {
    /// Follows one frame of pointer and keys.
    pub fn follow(&mut self, input: &Input<'_>, drawing: Drawing, queue: &mut Queue) {
        for key in &input.keys {
            match key {
                Stroked::Close => self.close(input, queue),
                Stroked::Remove => self.remove(input, drawing, queue),
                Stroked::Nudge(x, y) => {
                    let by = Point::new(f64::from(*x), f64::from(*y));
                    self.nudge(input, drawing, by, queue);
                }
                Stroked::GiveUp | Stroked::Wider(_) => {}
            }
        }
        if let Some(at) = input.double {
            self.insert(input, drawing, at, queue);
        }
        for moved in &input.moves {
            match moved {
                Moved::Press(at) => self.press(input, drawing, *at, queue),
                Moved::To(at) => self.moved(input, *at),
                Moved::Release(at) => {
                    self.moved(input, *at);
                    self.released(queue);
                }
            }
        }
    }

    fn press(&mut self, input: &Input<'_>, drawing: Drawing, at: Pos2, queue: &mut Queue) {
        let place = input.map.to_picture(at);
        if let Some(building) = &mut self.building {
            let closes = building.nodes.len() > 2
                && building.nodes.first().is_some_and(|first| {
                    input.map.to_window(first.at).distance(at) <= picture_size::GRAB
                });
            if closes {
                self.close(input, queue);
            } else {
                building.nodes.push(Node::corner(place));
                building.pulling = Some(at);
            }
            return;
        }
        let Some(mask) = drawing.mask else {
            return;
        };
        if let Some((part, grip)) = grip_at(input, drawing, at) {
            self.chosen = Some((part.id, grip));
            self.held = Some(Held {
                drawing,
                mask,
                start: part.clone(),
                now: part.clone(),
                grip,
                from: place,
                pulls: input.pulls,
            });
        } else if drawing.tool == Tool::Outline {
            self.chosen = None;
            self.building = Some(Building {
                drawing,
                mask,
                nodes: vec![Node::corner(place)],
                pulling: Some(at),
            });
        } else {
            self.chosen = None;
        }
    }

    fn moved(&mut self, input: &Input<'_>, at: Pos2) {
        let place = input.map.to_picture(at);
        if let Some(building) = &mut self.building
            && let Some(pressed) = building.pulling
            && pressed.distance(at) > picture_size::PULL
            && let Some(node) = building.nodes.last_mut()
        {
            pull(node, place);
        }
        if let Some(held) = &mut self.held {
            held.now.shape = held.shape_at(place);
        }
    }

    fn released(&mut self, queue: &mut Queue) {
        if let Some(building) = &mut self.building {
            building.pulling = None;
        }
        if let Some(held) = self.held.take()
            && held.now != held.start
        {
            let edit = set_part(held.drawing.plate, held.mask, &held.now);
            queue.ask(Ask::Command(Command::Edit(edit)));
        }
    }

    fn close(&mut self, input: &Input<'_>, queue: &mut Queue) {
        let project = input.look.session.project();
        let edit = self.building.as_ref().and_then(|one| one.edit(project));
        if let Some(edit) = edit {
            self.building = None;
            queue.ask(Ask::Command(Command::Edit(edit)));
        }
    }

    fn remove(&mut self, input: &Input<'_>, drawing: Drawing, queue: &mut Queue) {
        if let Some(building) = &mut self.building {
            building.nodes.pop();
            if building.nodes.is_empty() {
                self.building = None;
            }
            return;
        }
        let Some((id, grip)) = self.chosen.take() else {
            return;
        };
        let (Some(part), Some(mask)) = (part_of(input, drawing, id), drawing.mask) else {
            return;
        };
        let edit = match without(part, grip) {
            Some(part) => set_part(drawing.plate, mask, &part),
            None => Edit::Plate(drawing.plate, PlateEdit::RemovePart(mask, id)),
        };
        queue.ask(Ask::Command(Command::Edit(edit)));
    }

    fn nudge(&self, input: &Input<'_>, drawing: Drawing, by: Point, queue: &mut Queue) {
        let Some((id, grip)) = self.chosen.filter(|_chosen| self.held.is_none()) else {
            return;
        };
        let (Some(part), Some(mask)) = (part_of(input, drawing, id), drawing.mask) else {
            return;
        };
        let mut part = part.clone();
        part.shape = moved_shape(&part.shape, grip, by);
        let edit = set_part(drawing.plate, mask, &part);
        queue.ask(Ask::Command(Command::Edit(edit)));
    }

    /// Puts a new point on the segment under a double click.
    fn insert(&mut self, input: &Input<'_>, drawing: Drawing, at: Pos2, queue: &mut Queue) {
        self.held = None;
        if self.building.is_some() {
            return;
        }
        let (Some(mask_of), Some(mask)) = (mask_of(input.look, drawing), drawing.mask) else {
            return;
        };
        for part in &mask_of.parts {
            let Shape::Outline { nodes, feather_px } = &part.shape else {
                continue;
            };
            let Some((segment, t)) = overlay::nearest_on(nodes, &input.map, at) else {
                continue;
            };
            let mut part = MaskPart::clone(part);
            part.shape = Shape::Outline {
                nodes: split(nodes, segment, t),
                feather_px: *feather_px,
            };
            self.chosen = Some((part.id, Grip::Node(segment + 1)));
            let edit = set_part(drawing.plate, mask, &part);
            queue.ask(Ask::Command(Command::Edit(edit)));
            return;
        }
    }

    /// Ends the gesture with nothing recorded.
    pub fn give_up(&mut self) {
        self.building = None;
        self.held = None;
    }

    /// Whether a gesture is under way.
    #[must_use]
    pub const fn is_busy(&self) -> bool {
        self.building.is_some() || self.held.is_some()
    }

    /// The edit it would be.
    #[must_use]
    pub fn draft(&self, project: &Project) -> Option<Edit> {
        if let Some(building) = &self.building {
            return building.edit(project);
        }
        let held = self.held.as_ref().filter(|held| held.now != held.start)?;
        Some(set_part(held.drawing.plate, held.mask, &held.now))
    }

    /// Paints the mask's parts with their points, and what is being set out.
    pub fn paint(&self, painter: &Painter, input: &Input<'_>, drawing: Drawing) {
        if let Some(mask) = mask_of(input.look, drawing) {
            for part in &mask.parts {
                let held = self.held.as_ref().filter(|held| held.start.id == part.id);
                let part = held.map_or(part.as_ref(), |held| &held.now);
                overlay::part(painter, &input.map, part);
                if drawing.tool != Tool::Stroke {
                    self.paint_points(painter, &input.map, part);
                }
            }
        }
        if let Some(building) = &self.building {
            let stroke = Stroke::new(picture_size::LINE, picture::CHOSEN);
            let mut path = curve(&building.nodes, &input.map, Ends::Open);
            path.extend(painter.ctx().pointer_hover_pos());
            cased(painter, &path, stroke);
            for node in &building.nodes {
                paint_node(painter, &input.map, node, picture::CHOSEN);
            }
        }
    }

    fn paint_points(&self, painter: &Painter, map: &Map, part: &MaskPart) {
        let chosen = self
            .chosen
            .filter(|(id, _grip)| *id == part.id)
            .map(|(_id, grip)| grip);
        match &part.shape {
            Shape::Outline { nodes, .. } => {
                for (index, node) in nodes.iter().enumerate() {
                    let held = matches!(chosen, Some(Grip::Whole))
                        || chosen.is_some_and(|grip| grip.node() == Some(index));
                    let colour = if held { picture::CHOSEN } else { picture::LINE };
                    paint_node(painter, map, node, colour);
                }
            }
            Shape::Stroke { points, .. } => {
                if let Some(first) = points.first() {
                    let colour = if chosen.is_some() {
                        picture::CHOSEN
                    } else {
                        picture::LINE
                    };
                    handle(painter, map.to_window(*first), colour);
                }
            }
            Shape::Rule(_) => {}
        }
    }
}

impl Grip {
    const fn node(self) -> Option<usize> {
        match self {
            Self::Node(index) | Self::Before(index) | Self::After(index) => Some(index),
            Self::Whole => None,
        }
    }
}

impl Held {
    fn shape_at(&self, place: Point) -> Shape {
        if let (true, Grip::Node(index), Shape::Outline { nodes, feather_px }) =
            (self.pulls, self.grip, &self.start.shape)
        {
            let mut nodes = nodes.clone();
            if let Some(node) = nodes.get_mut(index) {
                pull(node, place);
            }
            return Shape::Outline {
                nodes,
                feather_px: *feather_px,
            };
        }
        let by = Point::new(place.x - self.from.x, place.y - self.from.y);
        moved_shape(&self.start.shape, self.grip, by)
    }
}

/// Pulls the handles of a smooth point out towards `place`.
fn pull(node: &mut Node, place: Point) {
    let after = Point::new(place.x - node.at.x, place.y - node.at.y);
    node.after = Some(after);
    node.before = Some(Point::new(-after.x, -after.y));
}

fn moved_shape(shape: &Shape, grip: Grip, by: Point) -> Shape {
    let moved = |at: Point| Point::new(at.x + by.x, at.y + by.y);
    let mut shape = shape.clone();
    match &mut shape {
        Shape::Rule(_) => {}
        Shape::Stroke { points, .. } => points.iter_mut().for_each(|at| *at = moved(*at)),
        Shape::Outline { nodes, .. } => match grip {
            Grip::Whole => nodes.iter_mut().for_each(|node| node.at = moved(node.at)),
            Grip::Node(index) => {
                if let Some(node) = nodes.get_mut(index) {
                    node.at = moved(node.at);
                }
            }
            Grip::Before(index) => {
                if let Some(node) = nodes.get_mut(index) {
                    node.before = node.before.map(moved);
                }
            }
            Grip::After(index) => {
                if let Some(node) = nodes.get_mut(index) {
                    node.after = node.after.map(moved);
                }
            }
        },
    }
    shape
}

/// The part without what is gripped; `None` where nothing that encloses anything is left.
fn without(part: &MaskPart, grip: Grip) -> Option<MaskPart> {
    let mut part = part.clone();
    let Shape::Outline { nodes, .. } = &mut part.shape else {
        return None;
    };
    match grip {
        Grip::Whole => return None,
        Grip::Node(index) => {
            if nodes.len() <= 3 || index >= nodes.len() {
                return None;
            }
            nodes.remove(index);
        }
        Grip::Before(index) => nodes.get_mut(index)?.before = None,
        Grip::After(index) => nodes.get_mut(index)?.after = None,
    }
    Some(part)
}

/// The nodes with one more on `segment`, at `t` of its way; the outline keeps its shape (de Casteljau's construction).
fn split(nodes: &[Node], segment: usize, t: f64) -> Vec<Node> {
    let mut nodes = nodes.to_vec();
    let next = (segment + 1) % nodes.len();
    let (a, b) = (nodes[segment], nodes[next]);
    let [p0, p1, p2, p3] = overlay::segment(&a, &b);
    let (q0, q1, q2) = (p0.towards(p1, t), p1.towards(p2, t), p2.towards(p3, t));
    let (r0, r1) = (q0.towards(q1, t), q1.towards(q2, t));
    let at = r0.towards(r1, t);
    let from = |at: Point, to: Point| Point::new(to.x - at.x, to.y - at.y);
    let curved = a.after.is_some() || b.before.is_some();
    let mut new = Node::corner(at);
    if curved {
        new.before = Some(from(at, r0));
        new.after = Some(from(at, r1));
        nodes[segment].after = Some(from(a.at, q0));
        nodes[next].before = Some(from(b.at, q2));
    }
    nodes.insert(segment + 1, new);
    nodes
}

fn part_of<'a>(input: &Input<'a>, drawing: Drawing, id: PartId) -> Option<&'a MaskPart> {
    let mask = mask_of(input.look, drawing)?;
    mask.parts
        .iter()
        .find(|part| part.id == id)
        .map(AsRef::as_ref)
}

/// What of the mask lies under a press: points before lines, newest first.
fn grip_at<'a>(input: &Input<'a>, drawing: Drawing, at: Pos2) -> Option<(&'a MaskPart, Grip)> {
    let mask = mask_of(input.look, drawing)?;
    let near = |place: Point| input.map.to_window(place).distance(at) <= picture_size::GRAB;
    let parts = || mask.parts.iter().rev().map(AsRef::as_ref);
    for part in parts() {
        let Shape::Outline { nodes, .. } = &part.shape else {
            continue;
        };
        for (index, node) in nodes.iter().enumerate() {
            if near(node.at) {
                return Some((part, Grip::Node(index)));
            }
            let end = |by: Option<Point>| {
                by.is_some_and(|by| near(Point::new(node.at.x + by.x, node.at.y + by.y)))
            };
            if end(node.before) {
                return Some((part, Grip::Before(index)));
            }
            if end(node.after) {
                return Some((part, Grip::After(index)));
            }
        }
    }
    parts()
        .find(|part| match &part.shape {
            Shape::Outline { nodes, .. } => overlay::nearest_on(nodes, &input.map, at).is_some(),
            Shape::Stroke { points, .. } => {
                drawing.tool == Tool::Move && points.iter().any(|point| near(*point))
            }
            Shape::Rule(_) => false,
        })
        .map(|part| (part, Grip::Whole))
}

fn paint_node(painter: &Painter, map: &Map, node: &Node, colour: egui::Color32) {
    let at = map.to_window(node.at);
    for by in [node.before, node.after].into_iter().flatten() {
        let end = map.to_window(Point::new(node.at.x + by.x, node.at.y + by.y));
        cased(painter, &[at, end], Stroke::new(1.0, colour));
        painter.circle(
            end,
            picture_size::HANDLE - 1.0,
            picture::TEXT_GROUND,
            Stroke::new(picture_size::LINE, colour),
        );
    }
    handle(painter, at, colour);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_point_put_on_a_curve_leaves_its_shape() {
        let mut nodes = vec![
            Node::corner(Point::new(0.0, 0.0)),
            Node::corner(Point::new(90.0, 0.0)),
            Node::corner(Point::new(40.0, 80.0)),
        ];
        nodes[0].after = Some(Point::new(30.0, -40.0));
        nodes[1].before = Some(Point::new(-10.0, 35.0));
        let more = split(&nodes, 0, 0.3);
        assert_eq!(more.len(), 4);
        let on = |a: &Node, b: &Node, t: f64| overlay::on_segment(&overlay::segment(a, b), t);
        for step in 0..=10 {
            let t = f64::from(step) / 10.0;
            let before = on(&nodes[0], &nodes[1], 0.3 * t);
            let after = on(&more[0], &more[1], t);
            assert!(before.distance(after) < 1e-9, "{t}: {before:?} {after:?}");
        }
    }
}
