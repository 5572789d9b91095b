//! The thread that makes tiles for the screen: what is wanted at once first, several tiles at a time; exact tiles in place of patched ones
//! once nothing else was wanted for a moment.

use super::{How, Inner, KEPT_BYTES, Next, RESTING, Ready, Shared, Wanted, Way};
use crate::engine::patching::MaskChange;
use crate::engine::ports::NoWatch;
use crate::engine::seen::Seen;
use crate::engine::{EngineError, Watch, World, view};
use crate::pixels::DisplayImage;
use rayon::prelude::*;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, MutexGuard, PoisonError};

/// Tiles that are made together. More would have to be finished before what people look at by then is begun.
const TOGETHER: usize = 4;

/// Stops once a tile is wanted at once.
struct UntilHurry<'a>(&'a AtomicBool);

impl Watch for UntilHurry<'_> {
    fn progress(&self, _stage: &str, _done: usize, _total: usize) {}

    fn cancelled(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}

impl Shared {
    pub(super) fn lock(&self) -> MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(super) fn work(&self) {
        while let Some(next) = self.next() {
            match next {
                Next::Tiles(tiles) => self.make_tiles(&tiles),
                Next::Values(wanted, at) => self.answer(&wanted, at),
            }
            (self.wake)();
        }
    }

    pub(super) fn world<'a>(&'a self, wanted: &Wanted, watch: &'a dyn Watch) -> World<'a> {
        World {
            project: Arc::clone(&wanted.project),
            sources: self.shelf.as_ref(),
            scratch: self.scratch.as_ref(),
            watch,
        }
    }

    fn next(&self) -> Option<Next> {
        let mut inner = self.lock();
        loop {
            if inner.closed {
                return None;
            }
            if let Some((wanted, at)) = inner.asked.take() {
                return Some(Next::Values(wanted, at));
            }
            if let Some(tiles) = inner.take_alike(|wanted| !wanted.exact) {
                return Some(Next::Tiles(tiles));
            }
            self.hurry.store(false, Ordering::Relaxed);
            if inner.wanted.is_empty() {
                inner = self
                    .more
                    .wait(inner)
                    .unwrap_or_else(PoisonError::into_inner);
                continue;
            }
            let rests = |inner: &mut Inner| {
                !inner.closed && inner.asked.is_none() && inner.wanted.iter().all(|one| one.exact)
            };
            let (again, rested) = self
                .more
                .wait_timeout_while(inner, RESTING, rests)
                .unwrap_or_else(PoisonError::into_inner);
            inner = again;
            if rested.timed_out()
                && let Some(tiles) = inner.take_alike(|wanted| wanted.exact)
            {
                return Some(Next::Tiles(tiles));
            }
        }
    }

    /// Makes tiles of one picture at one level.
    fn make_tiles(&self, tiles: &[Wanted]) {
        let Some(first) = tiles.first() else {
            return;
        };
        let until_hurry = UntilHurry(&self.hurry);
        let watch: &dyn Watch = if first.exact { &until_hurry } else { &NoWatch };
        let world = self.world(first, watch);
        match &first.way {
            Way::Seen(seen) => self.make_seen(&world, seen, tiles),
            Way::Frame(frame) => {
                for wanted in tiles {
                    let (level, index) = (wanted.key.level, wanted.key.index);
                    let made = caught(|| self.engine.frame_tile(&world, *frame, level, index));
                    self.keep(wanted, How::Exactly, made);
                }
            }
        }
    }

    fn make_seen(&self, world: &World<'_>, seen: &Seen, tiles: &[Wanted]) {
        let level = tiles[0].key.level;
        let mut ready = caught(|| self.engine.prepare_seen(world, seen, level));
        let mut rest: Vec<&Wanted> = tiles.iter().collect();
        if ready.is_ok() {
            let patched = |wanted: &&Wanted| self.is_patched(world, (seen, wanted));
            rest = rest.into_par_iter().filter(|one| !patched(one)).collect();
            let indices: Vec<_> = rest.iter().map(|wanted| wanted.key.index).collect();
            ready = caught(|| self.engine.prepare_shared(world, seen, (level, &indices)));
        }
        rest.par_iter().for_each(|wanted| {
            let made = ready.clone().and_then(|()| {
                let at = (level, wanted.key.index);
                caught(|| Ok(view::display(&*self.engine.seen_tile(world, seen, at)?)))
            });
            self.keep(wanted, How::Exactly, made);
        });
    }

    /// Puts the part that changed since into the tile as it was shown, where a mask is all that changed; whether it could.
    fn is_patched(&self, world: &World<'_>, (seen, wanted): (&Seen, &Wanted)) -> bool {
        let made = caught(|| self.patched(world, seen, wanted));
        if let Ok(Some(image)) = made {
            self.keep(wanted, How::Patched, Ok(image));
            return true;
        }
        false
    }

    fn patched(
        &self,
        world: &World<'_>,
        seen: &Seen,
        wanted: &Wanted,
    ) -> Result<Option<DisplayImage>, EngineError> {
        if wanted.exact {
            return Ok(None);
        }
        let shown = {
            let inner = self.lock();
            let ready = inner.ready.get(&wanted.key);
            ready.and_then(|ready| {
                let image = Arc::clone(ready.made.as_ref().ok()?);
                Some((Arc::clone(&ready.project), image))
            })
        };
        let Some((project, shown)) = shown else {
            return Ok(None);
        };
        let Some(change) = MaskChange::between(&project, &wanted.project) else {
            return Ok(None);
        };
        let at = (wanted.key.level, wanted.key.index);
        let Some(patch) = self.engine.seen_patch(world, seen, (at, &change))? else {
            return Ok(None);
        };
        let tile = view::grid(&self.engine, seen.size(), at.0).rect(at.1);
        let into = |of: i32, from: i32| usize::try_from(of - from).ok();
        let corner = into(patch.rect.x0, tile.x0).zip(into(patch.rect.y0, tile.y0));
        Ok(corner.map(|corner| {
            let mut image = DisplayImage::clone(&shown);
            view::display(&patch).paste_onto(&mut image, corner);
            image
        }))
    }

    /// Keeps a tile, or why there is none; what was stopped to make way is asked for again.
    fn keep(&self, wanted: &Wanted, how: How, made: Result<DisplayImage, Failed>) {
        let made = match made {
            Ok(image) => Ok(Arc::new(image)),
            Err(Failed::Stopped) => return,
            Err(Failed::Told(why)) => Err(why),
        };
        self.put(wanted, how, made);
        (self.wake)();
    }

    fn put(&self, wanted: &Wanted, how: How, made: Result<Arc<DisplayImage>, String>) {
        let mut inner = self.lock();
        inner.clock += 1;
        let number = inner.clock;
        inner.bytes += made.as_ref().map_or(0, |image| image.rgba.len());
        let ready = Ready {
            stamp: wanted.stamp,
            project: Arc::clone(&wanted.project),
            how,
            number,
            used: number,
            made,
        };
        if let Some(old) = inner.ready.insert(wanted.key, ready) {
            inner.bytes -= old.made.map_or(0, |image| image.rgba.len());
        }
        while inner.bytes > KEPT_BYTES && inner.ready.len() > 1 {
            let oldest = inner
                .ready
                .iter()
                .min_by_key(|(_key, ready)| ready.used)
                .map(|(key, _ready)| *key);
            let Some(gone) = oldest.and_then(|key| inner.ready.remove(&key)) else {
                break;
            };
            inner.bytes -= gone.made.map_or(0, |image| image.rgba.len());
        }
    }
}

/// Why there is no tile.
#[derive(Debug, Clone)]
enum Failed {
    Stopped,
    Told(String),
}

/// What `make` makes; a fault of the program is told like any other failure.
fn caught<T>(make: impl FnOnce() -> Result<T, EngineError>) -> Result<T, Failed> {
    match catch_unwind(AssertUnwindSafe(make)) {
        Ok(Ok(made)) => Ok(made),
        Ok(Err(EngineError::Cancelled)) => Err(Failed::Stopped),
        Ok(Err(error)) => Err(Failed::Told(error.to_string())),
        Err(_panic) => Err(Failed::Told(
            "a fault of the program; other pictures go on".to_owned(),
        )),
    }
}

impl Inner {
    /// Takes the first wanted tiles that `fit` out, of one picture at one level.
    fn take_alike(&mut self, fit: impl Fn(&Wanted) -> bool) -> Option<Vec<Wanted>> {
        let first = self.wanted.iter().find(|wanted| fit(wanted))?;
        let (key, project) = (first.key, Arc::clone(&first.project));
        let alike = |wanted: &Wanted| {
            fit(wanted)
                && (wanted.key.shown, wanted.key.level) == (key.shown, key.level)
                && Arc::ptr_eq(&wanted.project, &project)
        };
        let mut taken = Vec::new();
        let mut left = std::collections::VecDeque::new();
        for wanted in self.wanted.drain(..) {
            if taken.len() < TOGETHER && alike(&wanted) {
                taken.push(wanted);
            } else {
                left.push_back(wanted);
            }
        }
        self.wanted = left;
        Some(taken)
    }
}
