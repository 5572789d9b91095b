//! One picture painted tile by tile, under a transform.

use crate::geometry::{Point, Rect, Size, TileIndex, Transform};
use crate::pixels::convert::narrow;
use crate::session::viewing::{Shown, TileKey, Viewer};
use crate::window::viewport::pan_zoom::{Map, nearest_level, rect_at_level};
use crate::window::viewport::tile_textures::{Eye, Found, Painted, Textures, coarser};
use egui::{Color32, Mesh, Painter, Pos2, Shape, pos2};

/// How many levels coarser the stand-ins of missing tiles are asked for.
const STAND_IN: u32 = 2;

/// Deepest level that stand-ins are looked for at.
const DEEPEST: u32 = 12;

/// A picture and where it lies on the one that is looked at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Layer {
    /// Whose state of the project.
    pub eye: Eye,
    /// Which picture.
    pub shown: Shown,
    /// Its pixels to those of the picture that is looked at.
    pub base_from_layer: Transform,
}

/// The tiles of a layer that are in view.
#[derive(Debug, Clone)]
pub struct InView {
    /// Zoom level.
    pub level: u32,
    /// Size of the picture at level 0.
    pub size: Size,
    /// The tiles, nearest to the pointer first.
    pub tiles: Vec<TileIndex>,
}

/// How much of a layer could be painted.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Reach {
    /// Tiles that are still being made.
    pub coming: usize,
    /// Why a tile cannot be made.
    pub failed: Option<String>,
}

/// What painting needs besides the layer.
pub struct Easel<'a> {
    /// Paints, clipped to the picture's part of the window.
    pub painter: Painter,
    /// Where the picture lies.
    pub map: Map,
    /// Where people look: the pointer, else the middle.
    pub focus: Pos2,
    /// The textures.
    pub textures: &'a mut Textures,
}

impl std::fmt::Debug for Easel<'_> {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter
            .debug_struct("Easel")
            .field("map", &self.map)
            .finish_non_exhaustive()
    }
}

impl Layer {
    /// The picture that is looked at.
    #[must_use]
    pub const fn base(shown: Shown) -> Self {
        Self {
            eye: Eye::Now,
            shown,
            base_from_layer: Transform::IDENTITY,
        }
    }

    /// The tiles in view at the level nearest to the zoom; `None` while the size is unknown.
    #[must_use]
    pub fn in_view(&self, viewer: &Viewer, map: &Map, focus: Pos2) -> Option<InView> {
        let size = viewer.size(self.shown)?;
        let layer_from_base = self.base_from_layer.inverse()?;
        let look_at = layer_from_base.apply(map.to_picture(focus));
        let magnified = self
            .base_from_layer
            .magnification(inside(look_at, size))
            .clamp(1e-3, 1e3);
        let pixels_per_point = f64::from(map.pixels_per_point);
        let level = nearest_level(map.zoom * magnified * pixels_per_point, size);
        let rect = self.seen(map, &layer_from_base, size, level);
        let mut tiles = viewer.covering(size, level, rect);
        let shrink = 1.0 / f64::from(1_u32 << level);
        let look_at = Point::new(look_at.x * shrink, look_at.y * shrink);
        tiles.sort_by(|a, b| {
            let far =
                |index: &TileIndex| middle(viewer.tile_rect(size, level, *index)).distance(look_at);
            far(a).total_cmp(&far(b))
        });
        Some(InView { level, size, tiles })
    }

    /// What is seen of the layer, in pixels at `level`. Where the transform has its horizon in view, everything.
    fn seen(&self, map: &Map, layer_from_base: &Transform, size: Size, level: u32) -> Rect {
        let all = size.at_level(level).rect();
        if layer_from_base.is_affine() {
            let corners = map.seen().map(|corner| layer_from_base.apply(corner));
            rect_at_level(&corners, level).grow(1).intersect(all)
        } else {
            all
        }
    }

    /// Paints the layer; tiles that are missing are stood in for by coarser ones.
    pub fn paint(
        &self,
        easel: &mut Easel<'_>,
        viewer: &mut Viewer,
        view: &InView,
        opacity: f32,
    ) -> Reach {
        let mut reach = Reach::default();
        let key = |index: TileIndex| TileKey {
            shown: self.shown,
            level: view.level,
            index,
        };
        let ctx = easel.painter.ctx().clone();
        if view
            .tiles
            .iter()
            .any(|index| !easel.textures.has(self.eye, key(*index)))
        {
            self.ask_stand_ins(easel, viewer, view);
        }
        for index in &view.tiles {
            let key = key(*index);
            let found = easel.textures.ask(&ctx, (self.eye, &mut *viewer), key);
            let rect = viewer.tile_rect(view.size, view.level, *index);
            match found {
                Found::Exact(painted) => self.tile(easel, (key, rect), &painted, opacity),
                Found::Older(painted) => {
                    reach.coming += 1;
                    self.tile(easel, (key, rect), &painted, opacity);
                }
                Found::Nothing => {
                    reach.coming += 1;
                    self.stand_in(easel, viewer, (view.size, key, rect), opacity);
                }
                Found::Failed(why) => reach.failed = Some(why),
            }
        }
        reach
    }

    fn ask_stand_ins(&self, easel: &mut Easel<'_>, viewer: &mut Viewer, view: &InView) {
        let ctx = easel.painter.ctx().clone();
        let mut asked: Vec<TileKey> = Vec::new();
        for index in &view.tiles {
            let key = coarser(
                TileKey {
                    shown: self.shown,
                    level: view.level,
                    index: *index,
                },
                STAND_IN,
            );
            if !asked.contains(&key) {
                asked.push(key);
                // Whether it is there is looked at when it stands in.
                let _found = easel.textures.ask(&ctx, (self.eye, &mut *viewer), key);
            }
        }
    }

    fn tile(
        &self,
        easel: &Easel<'_>,
        (key, rect): (TileKey, Rect),
        painted: &Painted,
        opacity: f32,
    ) {
        let corners = rect.corners();
        let uv = [
            pos2(0.0, 0.0),
            pos2(1.0, 0.0),
            pos2(1.0, 1.0),
            pos2(0.0, 1.0),
        ];
        self.quad(easel, (corners, key.level), (painted, uv), opacity);
    }

    /// Paints the part of a coarser tile that covers a missing one.
    fn stand_in(
        &self,
        easel: &mut Easel<'_>,
        viewer: &Viewer,
        (size, key, rect): (Size, TileKey, Rect),
        opacity: f32,
    ) {
        for by in 1..=DEEPEST.saturating_sub(key.level) {
            let other = coarser(key, by);
            let Some(painted) = easel.textures.peek(self.eye, other) else {
                continue;
            };
            let whole = viewer.tile_rect(size, other.level, other.index);
            let shrink = 1.0 / f64::from(1_u32 << by);
            let (width, height) = (
                f64::from(whole.x1 - whole.x0),
                f64::from(whole.y1 - whole.y0),
            );
            let uv = rect.corners().map(|corner| {
                let across = (corner.x * shrink - f64::from(whole.x0)) / width;
                let down = (corner.y * shrink - f64::from(whole.y0)) / height;
                pos2(narrow(across).clamp(0.0, 1.0), narrow(down).clamp(0.0, 1.0))
            });
            self.quad(easel, (rect.corners(), key.level), (&painted, uv), opacity);
            return;
        }
    }

    fn quad(
        &self,
        easel: &Easel<'_>,
        (corners, level): ([Point; 4], u32),
        (painted, uv): (&Painted, [Pos2; 4]),
        opacity: f32,
    ) {
        let grow = f64::from(1_u32 << level);
        let mut mesh = Mesh::with_texture(painted.texture);
        let colour = Color32::WHITE.gamma_multiply(opacity.clamp(0.0, 1.0));
        for (corner, uv) in corners.iter().zip(uv) {
            let at = self
                .base_from_layer
                .apply(Point::new(corner.x * grow, corner.y * grow));
            mesh.vertices.push(egui::epaint::Vertex {
                pos: easel.map.to_window(at),
                uv,
                color: colour,
            });
        }
        mesh.add_triangle(0, 1, 2);
        mesh.add_triangle(0, 2, 3);
        easel.painter.add(Shape::mesh(mesh));
    }
}

fn inside(at: Point, size: Size) -> Point {
    Point::new(
        at.x.clamp(0.0, f64::from(size.width)),
        at.y.clamp(0.0, f64::from(size.height)),
    )
}

fn middle(rect: Rect) -> Point {
    let [low, _, high, _] = rect.corners();
    low.towards(high, 0.5)
}
