//! Masks of a plate: planned with the pictures their ranges look at, stamped and drawn tile by tile.

mod draw;
mod kept;

pub(super) use kept::KeptMasks;

use crate::engine::EngineError;
use crate::engine::adapt::level_scale;
use crate::engine::sky::Sky;
use crate::engine::stamp::Stamp;
use crate::engine::wholes::{self, WholePlan};
use crate::geometry::{Point, Rect, Size};
use crate::imaging::mask;
use crate::pixels::convert::count_f32;
use crate::project::{
    Fingerprint, Mask, MaskId, MaskPart, Plate, Project, RangeOf, Rule, Shape, Sign, Source,
};
use kept::Drawn;
use std::sync::{Arc, OnceLock};

/// A mask with everything it looks at.
#[derive(Debug, Clone)]
pub(super) struct MaskPlan {
    mask: Arc<Mask>,
    size: Size,
    parts: Vec<Entry>,
    /// How much is let in where the mask keeps out, 0..=1.
    outside: f32,
    /// The stamp of all of it, once it was wanted.
    stamp: OnceLock<Fingerprint>,
}

/// A part that counts.
#[derive(Debug, Clone)]
pub(super) struct Entry {
    part: Arc<MaskPart>,
    looks: Looks,
    /// Pixels at full size that it can change, where it was drawn.
    bounds: Rect,
}

/// What a part looks at.
#[derive(Debug, Clone)]
enum Looks {
    /// Nothing: it was drawn.
    Nowhere,
    Picture(Picture),
    /// The depth of a fused stack, whose last frame has this number.
    Depth(WholePlan, f32),
    Mask(Arc<MaskPlan>),
}

impl Looks {
    fn wholes(&self) -> Vec<&WholePlan> {
        match self {
            Self::Nowhere | Self::Picture(Picture::Made(..)) => Vec::new(),
            Self::Picture(Picture::Whole(whole)) | Self::Depth(whole, _) => vec![whole],
            Self::Mask(mask) => mask.wholes(),
        }
    }

    /// What it looks at, if anything; the outer `None` for another mask.
    fn stamp(&self) -> Option<Option<Fingerprint>> {
        match self {
            Self::Nowhere => Some(None),
            Self::Picture(Picture::Whole(whole)) | Self::Depth(whole, _) => Some(Some(whole.stamp)),
            Self::Picture(Picture::Made(_, stamp)) => Some(Some(*stamp)),
            Self::Mask(_) => None,
        }
    }
}

#[derive(Debug, Clone)]
enum Picture {
    Whole(WholePlan),
    Made(Arc<Sky>, Fingerprint),
}

/// What a mask does to one tile.
#[derive(Debug)]
pub(super) enum MaskHere<'a> {
    /// It keeps everything out.
    Nothing,
    /// There is no mask: everything is let in.
    Everywhere,
    /// These parts reach the tile.
    Some(&'a MaskPlan, Vec<&'a Entry>),
}

impl MaskPlan {
    /// Plans mask `id` of a plate; `None` without one. `outside`: how much is let in where it keeps out.
    ///
    /// # Errors
    /// When a picture that it looks at is not there.
    pub(super) fn new(
        project: &Project,
        plate: &Plate,
        id: Option<MaskId>,
        outside: f32,
    ) -> Result<Option<Arc<Self>>, EngineError> {
        let Some(mask) = id.and_then(|id| plate.mask(id)) else {
            return Ok(None);
        };
        let planned = Self::planned(project, plate, mask, plate.masks.len())?;
        Ok(Some(Arc::new(Self { outside, ..planned })))
    }

    /// Plans mask `id` as far as it is drawn by hand: what follows from pictures counts nothing, so that it can say how they are made.
    ///
    /// # Errors
    /// When the plate's size is not known.
    pub(super) fn of_drawn(plate: &Plate, id: MaskId) -> Result<Option<Arc<Self>>, EngineError> {
        let Some(mask) = plate.mask(id) else {
            return Ok(None);
        };
        let entry = |part: &Arc<MaskPart>| {
            let bounds = mask::bounds(&drawn(part)?);
            Some(Entry {
                part: Arc::clone(part),
                looks: Looks::Nowhere,
                bounds,
            })
        };
        let parts = mask.parts.iter().filter(|part| part.on);
        Ok(Some(Arc::new(Self {
            mask: Arc::clone(mask),
            size: size_of(plate)?,
            parts: parts.filter_map(entry).collect(),
            outside: 0.0,
            stamp: OnceLock::new(),
        })))
    }

    /// `deeper`: how many masks may still be taken in one by another.
    fn planned(
        project: &Project,
        plate: &Plate,
        mask: &Arc<Mask>,
        deeper: usize,
    ) -> Result<Self, EngineError> {
        let mut parts = Vec::new();
        for part in mask.parts.iter().filter(|part| part.on) {
            let looks = match &part.shape {
                Shape::Stroke { .. } | Shape::Outline { .. } => Looks::Nowhere,
                Shape::Rule(Rule::Brightness { of, .. } | Rule::Colour { of, .. }) => {
                    Looks::Picture(picture(project, plate, *of)?)
                }
                Shape::Rule(Rule::Depth { .. }) => depth(project, plate)?,
                Shape::Rule(Rule::Mask { mask: other }) => match plate.mask(*other) {
                    Some(other) if deeper > 0 => {
                        Looks::Mask(Arc::new(Self::planned(project, plate, other, deeper - 1)?))
                    }
                    _none => continue,
                },
            };
            let bounds = drawn(part).map_or_else(Rect::default, |part| mask::bounds(&part));
            parts.push(Entry {
                part: Arc::clone(part),
                looks,
                bounds,
            });
        }
        Ok(Self {
            mask: Arc::clone(mask),
            size: size_of(plate)?,
            parts,
            outside: 0.0,
            stamp: OnceLock::new(),
        })
    }

    /// The mask that it draws.
    pub(super) fn id(&self) -> MaskId {
        self.mask.id
    }

    /// The whole pictures it looks at.
    pub(super) fn wholes(&self) -> Vec<&WholePlan> {
        self.parts
            .iter()
            .flat_map(|entry| entry.looks.wholes())
            .collect()
    }

    /// Adds everything the whole mask depends on.
    pub(super) fn stamp_into(&self, stamp: Stamp) -> Stamp {
        let whole = self.stamp.get_or_init(|| {
            let all = MaskHere::Some(self, self.parts.iter().collect());
            all.add_to(Stamp::new("mask 1")).done()
        });
        stamp.input(*whole)
    }

    /// What it does to the pixels of `rect` at `level`.
    fn here(&self, rect: Rect, level: u32) -> MaskHere<'_> {
        let parts = self.reaching(&self.parts, rect, level);
        if parts.is_empty() && !self.mask.inverted && self.outside <= 0.0 {
            MaskHere::Nothing
        } else {
            MaskHere::Some(self, parts)
        }
    }

    /// Its parts with what they look at; none where that cannot be told from one mask to the next.
    fn drawn_parts(&self) -> Vec<Drawn> {
        let drawn = |entry: &Entry| {
            let looks_at = entry.looks.stamp()?;
            Some((Arc::clone(&entry.part), looks_at))
        };
        let all: Option<Vec<Drawn>> = self.parts.iter().map(drawn).collect();
        all.unwrap_or_default()
    }

    /// Those of `parts` that can be felt in `rect` at `level`. A part that keeps only what is within it, but does not reach the tile, wipes
    /// out the ones before it there.
    fn reaching<'a>(&self, parts: &'a [Entry], rect: Rect, level: u32) -> Vec<&'a Entry> {
        let margin = adjust(&self.mask).reach_px();
        // One pixel of the level more on every side, for its own softening.
        let step = 1_i32 << level.min(20);
        let wide = Rect::new(
            rect.x0.saturating_mul(step),
            rect.y0.saturating_mul(step),
            rect.x1.saturating_mul(step),
            rect.y1.saturating_mul(step),
        )
        .grow(margin + 2 * step);
        let mut felt = Vec::new();
        for entry in parts {
            let keeps = entry.part.sign == Sign::Within;
            if entry.reaches(wide, level) {
                felt.push(entry);
            } else if keeps && entry.part.strength >= 1.0 {
                felt.clear();
            } else if keeps {
                felt.push(entry);
            }
        }
        felt
    }
}

impl Entry {
    /// Whether it can be felt in `wide`, at full size, of a tile at `level`.
    fn reaches(&self, wide: Rect, level: u32) -> bool {
        match &self.looks {
            Looks::Nowhere => !self.bounds.intersect(wide).is_empty(),
            Looks::Picture(_) | Looks::Depth(..) => true,
            Looks::Mask(other) => {
                let scale = f64::from(level_scale(level));
                let corner =
                    |x: i32, y: i32| Point::new(f64::from(x) * scale, f64::from(y) * scale);
                let corners = [corner(wide.x0, wide.y0), corner(wide.x1, wide.y1)];
                !matches!(other.here(Rect::around(&corners), level), MaskHere::Nothing)
            }
        }
    }
}

fn size_of(plate: &Plate) -> Result<Size, EngineError> {
    match plate.variant().map(|variant| &variant.source) {
        Some(Source::Made(recipe)) => Ok(recipe.size),
        _stack => plate.size.ok_or(EngineError::NotPrepared(plate.id)),
    }
}

fn picture(project: &Project, plate: &Plate, of: RangeOf) -> Result<Picture, EngineError> {
    let variant = plate.variant().ok_or(EngineError::NotPrepared(plate.id))?;
    Ok(match (of, &variant.source) {
        (RangeOf::Light(pass), _) => Picture::Whole(wholes::light(project, plate, pass)?),
        (RangeOf::Plate, Source::Stack(_)) => {
            Picture::Whole(wholes::fused(project, plate, variant)?)
        }
        (RangeOf::Plate, Source::Made(recipe)) => Picture::Made(
            Arc::new(Sky::new(recipe)),
            Stamp::new("made 1").parameters(recipe).done(),
        ),
    })
}

fn depth(project: &Project, plate: &Plate) -> Result<Looks, EngineError> {
    let variant = plate.variant().ok_or(EngineError::NotPrepared(plate.id))?;
    let stack = variant.stack().ok_or_else(|| EngineError::Plate {
        plate: plate.name.clone(),
        why: "a made plate has no depth from focus: take the depth range out of its mask"
            .to_owned(),
    })?;
    let last = stack.used().count().saturating_sub(1);
    let fused = wholes::fused(project, plate, variant)?;
    Ok(Looks::Depth(fused, count_f32(last)))
}

/// What `mask` does to the pixels of `rect` at `level`.
pub(super) fn mask_here(mask: Option<&MaskPlan>, rect: Rect, level: u32) -> MaskHere<'_> {
    mask.map_or(MaskHere::Everywhere, |mask| mask.here(rect, level))
}

impl MaskHere<'_> {
    /// Adds what the tile depends on.
    pub(super) fn add_to(&self, stamp: Stamp) -> Stamp {
        match self {
            Self::Nothing => stamp.text("nothing"),
            Self::Everywhere => stamp.text("everywhere"),
            Self::Some(plan, parts) => {
                let mask = &plan.mask;
                let all = (mask.grow_px, mask.feather_px, mask.inverted, plan.outside);
                parts.iter().fold(stamp.parameters(&all), |stamp, entry| {
                    let part = &entry.part;
                    let stamp = stamp.parameters(&(&part.sign, part.strength, &part.shape));
                    match &entry.looks {
                        Looks::Nowhere => stamp,
                        Looks::Picture(Picture::Whole(whole)) | Looks::Depth(whole, _) => {
                            stamp.input(whole.stamp)
                        }
                        Looks::Picture(Picture::Made(_, made)) => stamp.input(*made),
                        Looks::Mask(other) => other.stamp_into(stamp),
                    }
                })
            }
        }
    }
}

/// Pixels at full size that a part can change, where it was drawn; `None` for one that follows from pictures.
pub(super) fn bounds(part: &MaskPart) -> Option<Rect> {
    drawn(part).map(|part| mask::bounds(&part))
}

/// How far growing and softening a mask carries a change, px.
pub(super) fn reach_px(of: &Mask) -> i32 {
    adjust(of).reach_px()
}

fn adjust(mask: &Mask) -> mask::Adjust {
    mask::Adjust {
        grow_px: mask.grow_px,
        feather_px: mask.feather_px,
        invert: mask.inverted,
    }
}

/// A stroke or outline in the terms of `imaging`; `None` for what is not drawn.
fn drawn(part: &MaskPart) -> Option<mask::Part> {
    let shape = match &part.shape {
        Shape::Stroke {
            points,
            radius_px,
            softness,
            pressure,
        } => mask::Shape::Stroke(mask::Stroke {
            points: points.clone(),
            pressure: pressure.clone(),
            radius_px: *radius_px,
            softness: *softness,
            strength: part.strength,
        }),
        Shape::Outline { nodes, feather_px } => {
            let control = |at: Point, handle: Option<Point>| {
                handle.map(|handle| Point::new(at.x + handle.x, at.y + handle.y))
            };
            let nodes = nodes.iter().map(|node| mask::Node {
                at: node.at,
                arrive: control(node.at, node.before),
                leave: control(node.at, node.after),
            });
            mask::Shape::Outline(mask::Outline {
                nodes: nodes.collect(),
                feather_px: *feather_px,
                strength: part.strength,
            })
        }
        Shape::Rule(_) => return None,
    };
    let mode = mode(part.sign);
    Some(mask::Part { mode, shape })
}

fn mode(sign: Sign) -> mask::Mode {
    match sign {
        Sign::Add => mask::Mode::Add,
        Sign::Remove => mask::Mode::Remove,
        Sign::Within => mask::Mode::Within,
    }
}
