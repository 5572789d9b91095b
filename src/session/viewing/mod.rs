//! Tiles for the screen: asked for by the window each frame, computed beside it, ready-made 8-bit pixels.
//!
//! Nothing here waits: a tile is there, or an older picture of the same place is, or it is being made. Whole pictures (fusing)
//! are never started from here; that is a job's work, and [`Viewer::needs_job`] says when one is wanted.

mod values;
mod worker;

pub use values::Values;

use crate::engine::plate_tiles::{PlatePlan, Stage};
use crate::engine::scene_tiles::ScenePlan;
use crate::engine::seen::Seen;
use crate::engine::{Engine, view};
use crate::geometry::{Rect, Size, TileIndex};
use crate::pixels::DisplayImage;
use crate::project::{Fingerprint, FrameId, PlateId, Project};
use crate::session::Session;
use crate::session::scratch::ScratchFolder;
use crate::session::shelf::Shelf;
use std::collections::{BTreeMap, VecDeque};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex};
use std::time::Duration;

/// What is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Shown {
    /// The finished scene.
    Scene,
    /// A plate at a stage.
    Plate(PlateId, Stage),
    /// A photo as it was taken.
    Frame(FrameId),
}

/// One tile of what is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct TileKey {
    /// What is looked at.
    pub shown: Shown,
    /// Zoom level: halved so many times.
    pub level: u32,
    /// Which tile.
    pub index: TileIndex,
}

/// What there is of a tile.
#[derive(Debug, Clone)]
pub enum TileState {
    /// The tile as it is now. The number changes whenever its pixels may have.
    Ready(u64, Arc<DisplayImage>),
    /// An older picture of the place; the new one is being made.
    Old(u64, Arc<DisplayImage>),
    /// Nothing yet; it is being made.
    Coming,
    /// It can only be made by a job.
    NeedsJob,
    /// It cannot be made, and why.
    Failed(String),
}

/// How long nothing else may be wanted before exact tiles take the place of patched ones.
const RESTING: Duration = Duration::from_millis(60);

/// Bytes of ready-made tiles kept.
const KEPT_BYTES: usize = 256 << 20;

/// Makes tiles for the screen.
#[derive(Debug)]
pub struct Viewer {
    shared: Arc<Shared>,
    plans: Plans,
    version: u64,
    /// Whether a job is wanted, as far as it was asked. That one is wanted holds for one frame of the window, since it may end
    /// meanwhile; that none is, for one state of the project.
    needs: BTreeMap<Shown, bool>,
}

/// The plans of one state of the project.
#[derive(Debug, Clone, Default)]
struct Plans {
    project: Option<Arc<Project>>,
    scene: Option<Result<Arc<ScenePlan>, String>>,
    plates: BTreeMap<PlateId, Result<Arc<PlatePlan>, String>>,
}

struct Shared {
    engine: Arc<Engine>,
    shelf: Arc<Shelf>,
    scratch: Arc<ScratchFolder>,
    inner: Mutex<Inner>,
    more: Condvar,
    /// Whether a tile is wanted at once, so that work on exact ones that are shown well enough makes way.
    hurry: AtomicBool,
    wake: Box<dyn Fn() + Send + Sync>,
}

impl std::fmt::Debug for Shared {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.debug_struct("Shared").finish_non_exhaustive()
    }
}

#[derive(Default)]
struct Inner {
    wanted: VecDeque<Wanted>,
    ready: BTreeMap<TileKey, Ready>,
    bytes: usize,
    clock: u64,
    /// The pixel whose values are wanted; the newest counts.
    asked: Option<(Wanted, (i32, i32))>,
    /// The pixel answered last.
    answered: Option<(values::Place, Option<Values>)>,
    closed: bool,
}

struct Ready {
    stamp: Fingerprint,
    /// The state it shows.
    project: Arc<Project>,
    how: How,
    number: u64,
    used: u64,
    made: Result<Arc<DisplayImage>, String>,
}

/// How a tile was made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum How {
    /// As the build makes it.
    Exactly,
    /// An older picture with the part that changed put in; the exact one is still to be made.
    Patched,
}

/// A tile to be made, with everything needed to.
#[derive(Clone)]
struct Wanted {
    key: TileKey,
    stamp: Fingerprint,
    project: Arc<Project>,
    way: Way,
    /// Whether a patched picture of it is shown already, so that it can wait until the pointer rests.
    exact: bool,
}

/// What the viewer's thread does next.
enum Next {
    Tiles(Vec<Wanted>),
    Values(Wanted, (i32, i32)),
}

#[derive(Clone)]
enum Way {
    Seen(Seen),
    Frame(FrameId),
}

impl Session {
    /// A viewer of this project; `wake` is called, from another thread, whenever a tile is ready.
    #[must_use]
    pub fn viewer(&self, wake: impl Fn() + Send + Sync + 'static) -> Viewer {
        let shared = Arc::new(Shared {
            engine: Arc::clone(&self.engine),
            shelf: Arc::clone(&self.shelf),
            scratch: Arc::clone(&self.scratch),
            inner: Mutex::new(Inner::default()),
            more: Condvar::new(),
            hurry: AtomicBool::new(false),
            wake: Box::new(wake),
        });
        let worker = Arc::clone(&shared);
        #[expect(
            clippy::disallowed_methods,
            reason = "tiles for the screen are made beside the window"
        )]
        std::thread::spawn(move || worker.work());
        Viewer {
            shared,
            plans: Plans::default(),
            version: 0,
            needs: BTreeMap::new(),
        }
    }
}

impl Viewer {
    /// Shows the project in this state from now on; tiles that nobody asked for again are forgotten.
    pub fn show(&mut self, project: &Arc<Project>) {
        if self
            .plans
            .project
            .as_ref()
            .is_some_and(|shown| Arc::ptr_eq(shown, project))
        {
            return;
        }
        self.version += 1;
        self.needs.clear();
        self.plans = Plans {
            project: Some(Arc::clone(project)),
            ..Plans::default()
        };
    }

    /// A number that changes whenever another state is shown.
    #[must_use]
    pub const fn version(&self) -> u64 {
        self.version
    }

    /// Begins a frame of the window: what was wanted before and is not yet begun is dropped.
    pub fn begin_frame(&mut self) {
        self.needs.retain(|_shown, needs| !*needs);
        self.shared.lock().wanted.clear();
    }

    /// Size of what is looked at, in its own pixels; `None` while it is not known.
    #[must_use]
    pub fn size(&self, shown: Shown) -> Option<Size> {
        let project = self.plans.project.as_ref()?;
        match shown {
            Shown::Scene => Some(project.canvas.size),
            Shown::Plate(plate, _) => view::plate_size(project.plate(plate)?),
            Shown::Frame(frame) => project.frame(frame)?.size,
        }
    }

    /// Pixels of a tile at its level.
    #[must_use]
    pub fn tile_rect(&self, size: Size, level: u32, index: TileIndex) -> Rect {
        view::grid(&self.shared.engine, size, level).rect(index)
    }

    /// The tiles that cover `rect` (pixels at `level`).
    #[must_use]
    pub fn covering(&self, size: Size, level: u32, rect: Rect) -> Vec<TileIndex> {
        view::grid(&self.shared.engine, size, level).covering(rect)
    }

    /// Whether a job has to measure or fuse before this can be shown.
    pub fn needs_job(&mut self, shown: Shown) -> bool {
        if let Some(known) = self.needs.get(&shown) {
            return *known;
        }
        let needs = self.finds_job_needed(shown);
        self.needs.insert(shown, needs);
        needs
    }

    fn finds_job_needed(&mut self, shown: Shown) -> bool {
        match shown {
            Shown::Frame(_) => false,
            Shown::Plate(plate, _) => match self.plate_plan(plate) {
                Some(Ok(plan)) => !self
                    .shared
                    .engine
                    .is_prepared(self.shared.scratch.as_ref(), plan.wholes()),
                Some(Err(_)) => true,
                None => false,
            },
            Shown::Scene => match self.scene_plan() {
                Some(Ok(plan)) => {
                    let engine = &self.shared.engine;
                    plan.plates().any(|plate| {
                        !engine.is_prepared(self.shared.scratch.as_ref(), plate.wholes())
                    })
                }
                Some(Err(_)) => true,
                None => false,
            },
        }
    }

    /// What there is of a tile; asks for it to be made if it is not there.
    pub fn tile(&mut self, key: TileKey) -> TileState {
        let Some((stamp, way)) = self.way(key) else {
            return TileState::NeedsJob;
        };
        let Some(project) = self.plans.project.clone() else {
            return TileState::Coming;
        };
        let mut inner = self.shared.lock();
        inner.clock += 1;
        let now = inner.clock;
        let mut exact = false;
        let old = match inner.ready.get_mut(&key) {
            Some(ready) => {
                ready.used = now;
                exact = ready.stamp == stamp && ready.how == How::Patched;
                match &ready.made {
                    Ok(image) if ready.stamp == stamp && ready.how == How::Exactly => {
                        return TileState::Ready(ready.number, Arc::clone(image));
                    }
                    Err(why) if ready.stamp == stamp => return TileState::Failed(why.clone()),
                    Ok(image) => TileState::Old(ready.number, Arc::clone(image)),
                    Err(_other_state) => TileState::Coming,
                }
            }
            None => TileState::Coming,
        };
        if !inner
            .wanted
            .iter()
            .any(|wanted| wanted.key == key && wanted.stamp == stamp)
        {
            inner.wanted.push_back(Wanted {
                key,
                stamp,
                project,
                way,
                exact,
            });
            if !exact {
                self.shared.hurry.store(true, Ordering::Relaxed);
            }
            self.shared.more.notify_one();
        }
        old
    }

    fn way(&mut self, key: TileKey) -> Option<(Fingerprint, Way)> {
        let engine = Arc::clone(&self.shared.engine);
        if self.needs_job(key.shown) {
            return None;
        }
        match key.shown {
            Shown::Scene => {
                let seen = Seen::Scene(self.scene_plan()?.ok()?);
                let stamp = engine.seen_stamp(&seen, key.level, key.index);
                Some((stamp, Way::Seen(seen)))
            }
            Shown::Plate(plate, stage) => {
                let seen = Seen::Plate(self.plate_plan(plate)?.ok()?, stage);
                let stamp = engine.seen_stamp(&seen, key.level, key.index);
                Some((stamp, Way::Seen(seen)))
            }
            Shown::Frame(frame) => {
                let content = self.plans.project.as_ref()?.frame(frame)?.content?;
                Some((view::frame_stamp(content), Way::Frame(frame)))
            }
        }
    }

    fn scene_plan(&mut self) -> Option<Result<Arc<ScenePlan>, String>> {
        let project = self.plans.project.as_ref()?;
        let made = self.plans.scene.get_or_insert_with(|| {
            ScenePlan::new(project)
                .map(Arc::new)
                .map_err(|error| error.to_string())
        });
        Some(made.clone())
    }

    fn plate_plan(&mut self, plate: PlateId) -> Option<Result<Arc<PlatePlan>, String>> {
        let project = self.plans.project.as_ref()?;
        let found = project.plate(plate)?;
        let made = self.plans.plates.entry(plate).or_insert_with(|| {
            PlatePlan::new(project, found)
                .map(Arc::new)
                .map_err(|error| error.to_string())
        });
        Some(made.clone())
    }
}

impl Drop for Viewer {
    fn drop(&mut self) {
        self.shared.lock().closed = true;
        self.shared.more.notify_all();
    }
}
