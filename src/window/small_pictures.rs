//! Small pictures of photos that are in no project yet, read one after the other on a thread of their own.

use crate::pixels::DisplayImage;
use crate::session::grouping;
use crate::window::theme;
use egui::{ColorImage, Context, TextureHandle, TextureOptions};
use std::collections::{BTreeMap, VecDeque};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{self, Receiver, Sender};
use std::sync::{Arc, Condvar, Mutex, PoisonError};

/// The pictures there are, and those that were asked for.
#[derive(Default)]
pub struct SmallPictures {
    kept: BTreeMap<PathBuf, Kept>,
    reader: Option<Reader>,
}

enum Kept {
    Coming,
    There(TextureHandle),
    Unreadable,
}

/// The thread that reads, as seen from the window.
struct Reader {
    wanted: Arc<Wanted>,
    read: Receiver<(PathBuf, Option<DisplayImage>)>,
}

/// What is still to be read; `None` once nobody wants it any more.
struct Wanted {
    paths: Mutex<Option<VecDeque<PathBuf>>>,
    more: Condvar,
}

impl std::fmt::Debug for SmallPictures {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter
            .debug_struct("SmallPictures")
            .field("kept", &self.kept.len())
            .finish_non_exhaustive()
    }
}

impl SmallPictures {
    /// The picture of a photo once it is there; asks for it otherwise.
    pub fn get(&mut self, path: &Path, ctx: &Context) -> Option<&TextureHandle> {
        self.take_in(ctx);
        if !self.kept.contains_key(path) {
            self.kept.insert(path.to_owned(), Kept::Coming);
            let reader = self.reader.get_or_insert_with(|| Reader::start(ctx));
            reader.wanted.ask(path);
        }
        match self.kept.get(path) {
            Some(Kept::There(texture)) => Some(texture),
            Some(Kept::Coming | Kept::Unreadable) | None => None,
        }
    }

    /// Whether every picture asked for was read.
    #[must_use]
    pub fn is_complete(&self) -> bool {
        let coming = |kept: &Kept| matches!(kept, Kept::Coming);
        !self.kept.values().any(coming)
    }

    fn take_in(&mut self, ctx: &Context) {
        let Some(reader) = &self.reader else { return };
        while let Ok((path, picture)) = reader.read.try_recv() {
            let kept = picture.map_or(Kept::Unreadable, |picture| {
                let side = |length: u32| usize::try_from(length).unwrap_or(0);
                let size = [side(picture.size.width), side(picture.size.height)];
                let pixels = ColorImage::from_rgba_unmultiplied(size, &picture.rgba);
                Kept::There(ctx.load_texture("small picture", pixels, TextureOptions::LINEAR))
            });
            self.kept.insert(path, kept);
        }
    }
}

impl Reader {
    fn start(ctx: &Context) -> Self {
        let wanted = Arc::new(Wanted {
            paths: Mutex::new(Some(VecDeque::new())),
            more: Condvar::new(),
        });
        let (send, read) = mpsc::channel();
        let (asked, ctx) = (Arc::clone(&wanted), ctx.clone());
        #[expect(
            clippy::disallowed_methods,
            reason = "nothing that reads photos may hold up the window"
        )]
        std::thread::spawn(move || asked.work(&send, &ctx));
        Self { wanted, read }
    }
}

impl Drop for Reader {
    fn drop(&mut self) {
        *self.wanted.lock() = None;
        self.wanted.more.notify_all();
    }
}

impl Wanted {
    fn lock(&self) -> std::sync::MutexGuard<'_, Option<VecDeque<PathBuf>>> {
        self.paths.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn ask(&self, path: &Path) {
        if let Some(paths) = self.lock().as_mut() {
            paths.push_back(path.to_owned());
        }
        self.more.notify_one();
    }

    fn next(&self) -> Option<PathBuf> {
        let mut paths = self.lock();
        loop {
            match paths.as_mut()?.pop_front() {
                Some(path) => return Some(path),
                None => {
                    paths = self
                        .more
                        .wait(paths)
                        .unwrap_or_else(PoisonError::into_inner);
                }
            }
        }
    }

    fn work(&self, send: &Sender<(PathBuf, Option<DisplayImage>)>, ctx: &Context) {
        while let Some(path) = self.next() {
            let longest = theme::approval::PIXELS;
            // A damaged file must not end the thread that reads the others.
            let read = std::panic::catch_unwind(|| grouping::small_picture(&path, longest).ok());
            if send.send((path, read.ok().flatten())).is_err() {
                return;
            }
            ctx.request_repaint();
        }
    }
}
