//! Masks drawn tile by tile, over what is kept of them.

use super::kept::{Drawn, MaskTile};
use super::{Entry, Looks, MaskPlan, Picture, adjust, drawn, mode};
use crate::engine::wholes::Product;
use crate::engine::{Engine, EngineError, World};
use crate::geometry::{Rect, TileIndex};
use crate::imaging::mask::{self, range};
use crate::pixels::{Image, Plane};
use crate::project::{MaskPart, Rule, Shape, Sign};
use std::sync::Arc;

impl Engine {
    /// The mask over `rect` at `level`; `None` where there is no mask. The pictures it looks at must have been computed.
    ///
    /// # Errors
    /// When their tiles are not kept any more.
    pub(in crate::engine) fn draw_mask(
        &self,
        world: &World<'_>,
        plan: Option<&MaskPlan>,
        rect: Rect,
        level: u32,
    ) -> Result<Option<Plane>, EngineError> {
        let Some(plan) = plan else {
            return Ok(None);
        };
        let adjust = adjust(&plan.mask);
        let tiles = self.mask_tiles(plan, rect, level);
        let is_tile = matches!(tiles.as_slice(), [(_, tile)] if *tile == rect);
        let listed = plan.drawn_parts();
        let (count, begun) = self.mask_begun(&tiles, &listed);
        let after = plan.reaching(&plan.parts[count..], rect, level);
        let mut parts = Vec::new();
        for entry in &after {
            parts.extend(self.mask_part(world, (plan, entry), (level, rect))?);
        }
        let last = plan
            .parts
            .last()
            .filter(|_last| is_tile && !listed.is_empty() && after.len() > 1);
        let all = (rect, level);
        let mask = match last {
            // All but the last part, which may still be under way, is kept.
            Some(last) => {
                let drawn_last = after.last().is_some_and(|entry| std::ptr::eq(*entry, last));
                let (first, rest) = parts.split_at(parts.len() - usize::from(drawn_last));
                let first = Arc::new(mask::draw(&begun, first, &adjust, all));
                self.masks
                    .keep(tiles[0].0, &listed[..listed.len() - 1], Arc::clone(&first));
                mask::draw(&[first], rest, &adjust, all)
            }
            None => mask::draw(&begun, &parts, &adjust, all),
        };
        let mut drawn = mask::adjusted(&mask, &adjust, rect, level);
        if plan.outside > 0.0 {
            let outside = plan.outside.min(1.0);
            let let_in = |value: &mut f32| *value = outside + (1.0 - outside) * *value;
            drawn.data.iter_mut().for_each(let_in);
        }
        Ok(Some(drawn))
    }

    /// The tiles of a mask that `rect` meets, with their pixels.
    fn mask_tiles(&self, plan: &MaskPlan, rect: Rect, level: u32) -> Vec<(MaskTile, Rect)> {
        let grid = self.grid(plan.size, level);
        let margin_px = mask::needed(&adjust(&plan.mask), rect, level).x1 - rect.x1;
        let tile = |index: TileIndex| {
            let mask = plan.mask.id;
            (
                MaskTile {
                    mask,
                    level,
                    index,
                    margin_px,
                },
                grid.rect(index),
            )
        };
        grid.covering(rect).into_iter().map(tile).collect()
    }

    /// How many of a mask's parts are drawn in all of `tiles`, and what they give.
    fn mask_begun(&self, tiles: &[(MaskTile, Rect)], listed: &[Drawn]) -> (usize, Vec<Arc<Plane>>) {
        let begun = tiles
            .iter()
            .map(|(tile, _rect)| self.masks.begun(*tile, listed));
        let begun: Option<Vec<_>> = begun.collect();
        let begun = begun.unwrap_or_default();
        let Some(count) = begun.first().map(|(count, _plane)| *count) else {
            return (0, Vec::new());
        };
        // What comes after may not wipe out what is drawn, and must be the same everywhere.
        let wipes = |part: &Drawn| part.0.sign == Sign::Within;
        if begun.iter().any(|(other, _plane)| *other != count) || listed[count..].iter().any(wipes)
        {
            return (0, Vec::new());
        }
        (
            count,
            begun.into_iter().map(|(_count, plane)| plane).collect(),
        )
    }

    /// A part of a mask as it is drawn over what `rect` needs; `None` where there is nothing to draw.
    fn mask_part(
        &self,
        world: &World<'_>,
        (plan, entry): (&MaskPlan, &Entry),
        (level, rect): (u32, Rect),
    ) -> Result<Option<mask::Part>, EngineError> {
        let needed = mask::needed(&adjust(&plan.mask), rect, level);
        let Entry { part, looks, .. } = entry;
        let field = match looks {
            Looks::Nowhere => return Ok(drawn(part)),
            Looks::Mask(other) => self.draw_mask(world, Some(other), needed, level)?,
            Looks::Picture(_) | Looks::Depth(..) => {
                Some(self.range(world, (plan, part, looks), (level, needed))?)
            }
        };
        Ok(field.map(|field| mask::Part {
            mode: mode(part.sign),
            shape: mask::Shape::Field(field, part.strength),
        }))
    }

    /// A range over `rect`, which may reach over the plate's border: what lies there is as the nearest pixel of the plate.
    fn range(
        &self,
        world: &World<'_>,
        (plan, part, looks): (&MaskPlan, &MaskPart, &Looks),
        (level, rect): (u32, Rect),
    ) -> Result<Plane, EngineError> {
        let whole = plan.size.at_level(level).rect();
        let inside = rect.intersect(whole);
        if inside.is_empty() {
            return Ok(Plane::zero(rect));
        }
        let picture: Image = match looks {
            Looks::Picture(Picture::Whole(whole)) => {
                self.whole_area(world, whole, Product::Picture, (level, inside))?
            }
            Looks::Picture(Picture::Made(sky, _)) => sky.render(inside, level),
            Looks::Depth(whole, _) => {
                self.whole_area(world, whole, Product::Depth, (level, inside))?
            }
            Looks::Nowhere | Looks::Mask(_) => return Ok(Plane::zero(rect)),
        };
        let field = match &part.shape {
            Shape::Rule(rule) => covered(&picture, rule, looks),
            Shape::Stroke { .. } | Shape::Outline { .. } => Plane::zero(inside),
        };
        if inside == rect {
            return Ok(field);
        }
        Ok(Plane::from_fn(rect, |x, y| field.nearest(x, y)))
    }
}

fn covered(picture: &Image, rule: &Rule, looks: &Looks) -> Plane {
    match rule {
        Rule::Brightness {
            low, high, soft, ..
        } => {
            let (low, high, soft) = (*low, *high, *soft);
            range::brightness(picture, &range::Range { low, high, soft })
        }
        Rule::Colour {
            picked_rgb,
            reach,
            soft,
            ..
        } => range::colour(picture, *picked_rgb, (*reach, *soft)),
        Rule::Depth { near, far, soft } => {
            let last = match looks {
                Looks::Depth(_, last) => *last,
                Looks::Nowhere | Looks::Picture(_) | Looks::Mask(_) => 1.0,
            };
            let range = range::Range {
                low: *near,
                high: *far,
                soft: *soft,
            };
            range::depth(picture, last, &range)
        }
        Rule::Mask { .. } => Plane::zero(picture.rect),
    }
}
