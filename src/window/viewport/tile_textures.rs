//! Tiles as textures: uploaded when their pixels changed, a few in each frame, and forgotten when out of view.

use crate::geometry::TileIndex;
use crate::pixels::DisplayImage;
use crate::session::viewing::{TileKey, TileState, Viewer};
use egui::{Color32, ColorImage, Context, TextureFilter, TextureHandle, TextureOptions};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Textures uploaded in one frame at most, so that no frame takes long.
const UPLOADS: usize = 4;

/// Whose state of the project a tile belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Eye {
    /// The project as it is now, with the draft of a gesture.
    Now,
    /// Another state of the project, to compare with.
    Other,
}

/// A tile that can be painted.
#[derive(Debug, Clone)]
pub struct Painted {
    /// The texture.
    pub texture: egui::TextureId,
    /// Its pixels.
    pub image: Arc<DisplayImage>,
    /// Changes whenever the pixels do.
    pub number: u64,
}

/// What became of asking for a tile.
#[derive(Debug, Clone)]
pub enum Found {
    /// It can be painted as it is now.
    Exact(Painted),
    /// An older picture can be painted until it comes.
    Older(Painted),
    /// Nothing can be painted yet.
    Nothing,
    /// It cannot be made, and why.
    Failed(String),
}

struct Kept {
    painted: Painted,
    handle: TextureHandle,
    seen: u64,
}

/// The textures of the tiles in view.
#[derive(Default)]
pub struct Textures {
    kept: BTreeMap<(Eye, TileKey), Kept>,
    uploads: usize,
    missing: bool,
    frame: u64,
}

impl std::fmt::Debug for Textures {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter
            .debug_struct("Textures")
            .field("kept", &self.kept.len())
            .finish_non_exhaustive()
    }
}

impl Textures {
    /// Begins a frame of the window.
    pub const fn begin(&mut self) {
        self.uploads = 0;
        self.missing = false;
        self.frame += 1;
    }

    /// Ends a frame of the window: what was not looked at is forgotten.
    pub fn end(&mut self, ctx: &Context) {
        let now = self.frame;
        self.kept.retain(|_key, kept| kept.seen == now);
        if self.missing {
            ctx.request_repaint();
        }
    }

    /// Forgets everything, as when another project was opened.
    pub fn clear(&mut self) {
        self.kept.clear();
    }

    /// Whether the tile could be painted at once.
    #[must_use]
    pub fn has(&self, eye: Eye, key: TileKey) -> bool {
        self.kept.contains_key(&(eye, key))
    }

    /// Asks for a tile and uploads it if its pixels changed.
    pub fn ask(&mut self, ctx: &Context, (eye, viewer): (Eye, &mut Viewer), key: TileKey) -> Found {
        match viewer.tile(key) {
            TileState::Ready(number, image) => match self.upload(ctx, (eye, key), number, &image) {
                Some(painted) if painted.number == number => Found::Exact(painted),
                Some(painted) => Found::Older(painted),
                None => Found::Nothing,
            },
            TileState::Old(number, image) => self
                .upload(ctx, (eye, key), number, &image)
                .map_or(Found::Nothing, Found::Older),
            TileState::Coming | TileState::NeedsJob => {
                self.peek(eye, key).map_or(Found::Nothing, Found::Older)
            }
            TileState::Failed(why) => Found::Failed(why),
        }
    }

    /// What can be painted of a tile without asking for it.
    pub fn peek(&mut self, eye: Eye, key: TileKey) -> Option<Painted> {
        let kept = self.kept.get_mut(&(eye, key))?;
        kept.seen = self.frame;
        Some(kept.painted.clone())
    }

    fn upload(
        &mut self,
        ctx: &Context,
        place: (Eye, TileKey),
        number: u64,
        image: &Arc<DisplayImage>,
    ) -> Option<Painted> {
        let now = self.frame;
        let may = self.uploads < UPLOADS;
        if let Some(kept) = self.kept.get_mut(&place) {
            kept.seen = now;
            if kept.painted.number != number {
                if may {
                    self.uploads += 1;
                    kept.handle.set(pixels(image), options());
                    kept.painted.image = Arc::clone(image);
                    kept.painted.number = number;
                } else {
                    self.missing = true;
                }
            }
            return Some(kept.painted.clone());
        }
        if !may {
            self.missing = true;
            return None;
        }
        self.uploads += 1;
        let handle = ctx.load_texture("picture tile", pixels(image), options());
        let painted = Painted {
            texture: handle.id(),
            image: Arc::clone(image),
            number,
        };
        let kept = Kept {
            painted: painted.clone(),
            handle,
            seen: now,
        };
        self.kept.insert(place, kept);
        Some(painted)
    }
}

/// The tile of a coarser level that holds a tile, and how many levels lie between.
#[must_use]
pub fn coarser(key: TileKey, by: u32) -> TileKey {
    TileKey {
        level: key.level + by,
        index: TileIndex {
            x: key.index.x >> by,
            y: key.index.y >> by,
        },
        ..key
    }
}

/// Ready-made pixels as the window's library wants them.
#[must_use]
pub fn pixels(image: &DisplayImage) -> ColorImage {
    let side = |length: u32| usize::try_from(length).unwrap_or(0);
    let colours = image
        .rgba
        .chunks_exact(4)
        .map(|pixel| Color32::from_rgba_unmultiplied(pixel[0], pixel[1], pixel[2], pixel[3]))
        .collect();
    ColorImage::new([side(image.size.width), side(image.size.height)], colours)
}

/// Smooth when small, plain pixels when large: at high zoom people want to see what is there.
#[must_use]
pub const fn options() -> TextureOptions {
    TextureOptions {
        magnification: TextureFilter::Nearest,
        minification: TextureFilter::Linear,
        wrap_mode: egui::TextureWrapMode::ClampToEdge,
        mipmap_mode: None,
    }
}
