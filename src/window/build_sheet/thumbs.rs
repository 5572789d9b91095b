//! Thumbnails of the sheet: small tiles asked for beside the picture's own, kept as textures.

use crate::geometry::Size;
use crate::session::Session;
use crate::session::viewing::{Shown, TileKey, TileState, Viewer};
use crate::window::theme;
use egui::{ColorImage, Context, TextureHandle, TextureOptions};
use std::collections::BTreeMap;

/// The sheet's thumbnails.
#[derive(Default)]
pub struct Thumbs {
    viewer: Option<Viewer>,
    kept: BTreeMap<Shown, Kept>,
}

struct Kept {
    number: u64,
    /// The state of the project it was found up to date in.
    version: u64,
    texture: TextureHandle,
}

impl std::fmt::Debug for Thumbs {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter
            .debug_struct("Thumbs")
            .field("kept", &self.kept.len())
            .finish_non_exhaustive()
    }
}

impl Thumbs {
    /// The viewer, showing the project as it is now.
    pub fn viewer(&mut self, session: &Session, ctx: &Context) -> &mut Viewer {
        let viewer = self.viewer.get_or_insert_with(|| {
            let wake = ctx.clone();
            session.viewer(move || wake.request_repaint())
        });
        viewer.show(session.project());
        viewer
    }

    /// Begins a frame of the window.
    pub fn begin_frame(&mut self) {
        if let Some(viewer) = &mut self.viewer {
            viewer.begin_frame();
        }
    }

    /// Looks at everything anew: photos or results may be there that were not.
    pub fn look_again(&mut self) {
        for kept in self.kept.values_mut() {
            kept.version = u64::MAX;
        }
    }

    /// The thumbnail of `shown` as far as it is there; asks for it otherwise.
    pub fn get(&mut self, shown: Shown, ctx: &Context) -> Option<&TextureHandle> {
        let viewer = self.viewer.as_mut()?;
        let version = viewer.version();
        let settled = |kept: &Kept| kept.version == version;
        if !self.kept.get(&shown).is_some_and(settled) {
            let state = viewer.tile(key_of(viewer, shown)?);
            if let TileState::Ready(number, image) | TileState::Old(number, image) = &state {
                let size = [side(image.size.width), side(image.size.height)];
                let version = match state {
                    TileState::Ready(..) => version,
                    TileState::Old(..)
                    | TileState::Coming
                    | TileState::NeedsJob
                    | TileState::Failed(_) => u64::MAX,
                };
                if let Some(kept) = self.kept.get_mut(&shown)
                    && kept.number == *number
                {
                    kept.version = version;
                } else {
                    let pixels = ColorImage::from_rgba_unmultiplied(size, &image.rgba);
                    let texture = ctx.load_texture("thumbnail", pixels, TextureOptions::LINEAR);
                    let kept = Kept {
                        number: *number,
                        version,
                        texture,
                    };
                    self.kept.insert(shown, kept);
                }
            }
        }
        self.kept.get(&shown).map(|kept| &kept.texture)
    }

    /// Forgets thumbnails that nothing shows any more.
    pub fn keep_only(&mut self, wanted: impl Fn(Shown) -> bool) {
        self.kept.retain(|shown, _kept| wanted(*shown));
    }
}

/// The one tile that holds the whole of a small picture.
fn key_of(viewer: &Viewer, shown: Shown) -> Option<TileKey> {
    let size = viewer.size(shown)?;
    let mut level = 0;
    while level < 12 {
        let small = size.at_level(level);
        let longer = small.width.max(small.height);
        if longer <= theme::sheet::THUMB_PIXELS
            && let [index] = viewer.covering(size, level, small.rect())[..]
        {
            return Some(TileKey {
                shown,
                level,
                index,
            });
        }
        level += 1;
    }
    None
}

fn side(length: u32) -> usize {
    usize::try_from(length).unwrap_or(0)
}

/// The largest size of the same shape inside `room`.
#[must_use]
pub fn fitted(size: Size, room: egui::Vec2) -> egui::Vec2 {
    let side = |length: u32| f32::from(u16::try_from(length.clamp(1, 65_000)).unwrap_or(1));
    let (width, height) = (side(size.width), side(size.height));
    let scale = (room.x / width).min(room.y / height);
    egui::vec2(width * scale, height * scale)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thumbnails_keep_their_shape() {
        let room = egui::vec2(56.0, 36.0);
        assert_eq!(fitted(Size::new(100, 100), room), egui::vec2(36.0, 36.0));
        assert_eq!(fitted(Size::new(112, 10), room), egui::vec2(56.0, 5.0));
    }
}
