//! How much two pictures differ: the absolute difference of their ready-made tiles, made stronger.

use crate::geometry::{Point, Size, TileIndex, Transform};
use crate::pixels::DisplayImage;
use crate::pixels::convert::floor_f64;
use crate::session::viewing::{TileKey, Viewer};
use crate::window::viewport::layer::{Easel, InView, Layer};
use crate::window::viewport::tile_textures::{Found, Painted, options, pixels};
use egui::{Color32, Mesh, Shape, TextureHandle, pos2};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Tiles computed in one frame at most.
const EACH_FRAME: usize = 4;

/// The difference tiles in view.
#[derive(Default)]
pub struct Differences {
    kept: BTreeMap<TileKey, Kept>,
}

struct Kept {
    made_of: MadeOf,
    handle: TextureHandle,
    seen: bool,
}

/// What a difference tile was made of; other numbers mean that it has to be made again.
#[derive(Debug, Clone, PartialEq)]
struct MadeOf {
    base: u64,
    others: Vec<u64>,
    layer: Layer,
    gain: f32,
}

impl std::fmt::Debug for Differences {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter
            .debug_struct("Differences")
            .field("kept", &self.kept.len())
            .finish()
    }
}

/// The two pictures and how strongly their difference is shown.
#[derive(Debug, Clone)]
pub struct Pair<'a> {
    /// What is looked at.
    pub base: (Layer, &'a InView),
    /// What it is compared with.
    pub other: (Layer, &'a InView),
    /// What the difference is multiplied by.
    pub gain: f32,
}

impl Differences {
    /// Forgets everything.
    pub fn clear(&mut self) {
        self.kept.clear();
    }

    /// Paints the difference of two layers where both are there already.
    pub fn paint(
        &mut self,
        easel: &mut Easel<'_>,
        (base_viewer, other_viewer): (&mut Viewer, Option<&mut Viewer>),
        pair: &Pair<'_>,
    ) {
        let ctx = easel.painter.ctx().clone();
        let (base, base_view) = pair.base;
        let (other, other_view) = pair.other;
        let found_base = gather(easel, (&base, base_view), base_viewer);
        let found_other = match other_viewer {
            Some(viewer) => gather(easel, (&other, other_view), viewer),
            None => gather(easel, (&other, other_view), base_viewer),
        };
        let numbers: Vec<u64> = found_other
            .values()
            .map(|(painted, _side)| painted.number)
            .collect();
        let mut made = 0;
        self.kept.values_mut().for_each(|kept| kept.seen = false);
        for (index, (painted, rect)) in &found_base {
            let key = TileKey {
                shown: base.shown,
                level: base_view.level,
                index: *index,
            };
            let made_of = MadeOf {
                base: painted.number,
                others: numbers.clone(),
                layer: other,
                gain: pair.gain,
            };
            let due = self
                .kept
                .get(&key)
                .is_none_or(|kept| kept.made_of != made_of);
            if due && made < EACH_FRAME {
                made += 1;
                let image = Sampler {
                    tiles: &found_other,
                    size: other_view.size.at_level(other_view.level),
                    map: level_map(&other, (base_view.level, other_view.level)),
                    gain: pair.gain,
                }
                .difference(&painted.image, *rect);
                let handle = ctx.load_texture("difference tile", pixels(&image), options());
                self.kept.insert(
                    key,
                    Kept {
                        made_of,
                        handle,
                        seen: true,
                    },
                );
            } else if due {
                ctx.request_repaint();
            }
            if let Some(kept) = self.kept.get_mut(&key) {
                kept.seen = true;
                paint_tile(easel, kept.handle.id(), (*rect, base_view.level));
            }
        }
        self.kept.retain(|_key, kept| kept.seen);
    }
}

type Gathered = BTreeMap<TileIndex, (Painted, crate::geometry::Rect)>;

fn gather(
    easel: &mut Easel<'_>,
    (layer, view): (&Layer, &InView),
    viewer: &mut Viewer,
) -> Gathered {
    let ctx = easel.painter.ctx().clone();
    let mut found = BTreeMap::new();
    for index in &view.tiles {
        let key = TileKey {
            shown: layer.shown,
            level: view.level,
            index: *index,
        };
        match easel.textures.ask(&ctx, (layer.eye, &mut *viewer), key) {
            Found::Exact(painted) | Found::Older(painted) => {
                let rect = viewer.tile_rect(view.size, view.level, *index);
                found.insert(*index, (painted, rect));
            }
            Found::Nothing | Found::Failed(_) => {}
        }
    }
    found
}

/// Pixels of the base at its level to pixels of the other picture at its own.
fn level_map(other: &Layer, (base_level, other_level): (u32, u32)) -> Option<Transform> {
    let grow = f64::from(1_u32 << base_level);
    let shrink = 1.0 / f64::from(1_u32 << other_level);
    let inverse = other.base_from_layer.inverse()?;
    Some(
        Transform::scaling(shrink, shrink)
            .after(&inverse)
            .after(&Transform::scaling(grow, grow)),
    )
}

struct Sampler<'a> {
    tiles: &'a Gathered,
    size: Size,
    map: Option<Transform>,
    gain: f32,
}

impl Sampler<'_> {
    /// The difference over one tile; clear where the other picture is not there.
    fn difference(&self, base: &Arc<DisplayImage>, rect: crate::geometry::Rect) -> DisplayImage {
        let mut rgba = Vec::with_capacity(base.rgba.len());
        let mut at = (rect.x0, rect.y0);
        for pixel in base.rgba.chunks_exact(4) {
            let position = Point::new(f64::from(at.0) + 0.5, f64::from(at.1) + 0.5);
            match self.sample(position) {
                Some(other) => {
                    let over = |channel: usize| {
                        let far =
                            f32::from(covered(pixel, channel).abs_diff(covered(&other, channel)));
                        crate::pixels::convert::unit_to_u8(far * self.gain / 255.0)
                    };
                    rgba.extend([over(0), over(1), over(2), 255]);
                }
                None => rgba.extend([0; 4]),
            }
            at.0 += 1;
            if at.0 == rect.x1 {
                at = (rect.x0, at.1 + 1);
            }
        }
        DisplayImage {
            size: base.size,
            rgba,
        }
    }

    fn sample(&self, at: Point) -> Option<[u8; 4]> {
        let there = self.map?.apply(at);
        let (x, y) = (floor_f64(there.x), floor_f64(there.y));
        if !self.size.rect().contains(x, y) {
            return None;
        }
        let (painted, rect) = self
            .tiles
            .values()
            .find(|(_painted, rect)| rect.contains(x, y))?;
        let start = rect.index(x, y) * 4;
        painted.image.rgba.get(start..start + 4)?.try_into().ok()
    }
}

/// A channel as it looks before black.
fn covered(pixel: &[u8], channel: usize) -> u8 {
    let value = u16::from(pixel[channel]) * u16::from(pixel[3]) / 255;
    u8::try_from(value).unwrap_or(u8::MAX)
}

fn paint_tile(
    easel: &Easel<'_>,
    texture: egui::TextureId,
    (rect, level): (crate::geometry::Rect, u32),
) {
    let grow = f64::from(1_u32 << level);
    let [low, _, high, _] = rect.corners().map(|corner| {
        easel
            .map
            .to_window(Point::new(corner.x * grow, corner.y * grow))
    });
    let mut mesh = Mesh::with_texture(texture);
    mesh.add_rect_with_uv(
        egui::Rect::from_min_max(low, high),
        egui::Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0)),
        Color32::WHITE,
    );
    easel.painter.add(Shape::mesh(mesh));
}
