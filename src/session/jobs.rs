//! Long work beside the window: measuring, building, swapping, adding photos.
//!
//! A job works on a copy of the project and hands back the edits it made; the open project records them when the job is done,
//! so other plates can be edited meanwhile.

use crate::engine::Watch;
use crate::geometry::Rect;
use crate::project::{
    Edit, FrameId, GroupId, History, MaskId, PassId, PlateId, Project, VariantId,
};
use crate::session::build::{BuildReport, BuildRequest};
use crate::session::sources::{Reading, SourceReport};
use crate::session::swap::SwapReport;
use crate::session::{Session, SessionError};
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{self, Receiver, TryRecvError};
use std::sync::{Arc, Mutex, PoisonError};

/// What a job is to do.
#[derive(Debug, Clone, PartialEq)]
pub enum Work {
    /// Read and measure everything that is due, and compute the plate's whole pictures.
    Fuse(PlateId),
    /// Measure everything about a plate again, whether anything changed or not, and compute its whole pictures.
    MeasureAgain(PlateId),
    /// Read and measure everything that is due, and compute every plate of the scene.
    FuseAll,
    /// Build the finished picture.
    Build(BuildRequest),
    /// Give a plate a new source.
    Swap {
        /// The plate's name.
        plate: String,
        /// The photos.
        photos: Vec<PathBuf>,
    },
    /// Read photos into the project.
    AddPhotos(Vec<PathBuf>),
    /// Propose a mask for a practical group of a plate.
    SuggestMask(PlateId, GroupId),
    /// Look for places where the light of a pass doubles.
    FindDoubled(PlateId, PassId),
    /// Read every photo and tell whether it is the one the scene was made from.
    CheckPhotos,
    /// Look in this folder for photos that are not where they were.
    FindPhotos(PathBuf),
    /// Take photos whose content changed as they are now.
    TakeChanged,
    /// Look for dust and hair on a plate: for what another source of it, taken after cleaning, does not show, or on it alone.
    FindSpots(PlateId, Option<VariantId>),
}

/// What came out of a job.
#[derive(Debug, Clone, PartialEq)]
pub enum Report {
    /// The plates are fused.
    Fused,
    /// The picture is built.
    Built(BuildReport),
    /// The plate has its new source.
    Swapped(SwapReport),
    /// The photos are in the project, under these numbers.
    Added(Vec<FrameId>),
    /// The mask is proposed, and the group acts through it.
    Suggested(MaskId),
    /// Where the light of a pass of a plate doubles, worst first.
    Doubled(PlateId, PassId, Vec<Rect>),
    /// The state of every photo in use.
    Checked(Vec<SourceReport>),
    /// So many photos were found again; these are still missing.
    FoundPhotos(usize, Vec<String>),
    /// These changed photos are taken as they are.
    TookChanged(Vec<String>),
    /// So many places were found on a plate.
    Spots(usize),
}

/// How far a job is.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Progress {
    /// What is being done.
    pub stage: String,
    /// Parts done.
    pub done: usize,
    /// Parts in all.
    pub total: usize,
}

/// A job under way.
#[derive(Debug)]
pub struct Job {
    /// What it does.
    pub work: Work,
    told: Arc<Told>,
    outcome: Receiver<Result<Outcome, SessionError>>,
    base: Arc<Project>,
}

#[derive(Debug)]
struct Outcome {
    edits: Vec<Edit>,
    report: Report,
    /// Changed photos that were taken as they are, at any time since the project was opened.
    taken_changed: Vec<String>,
}

/// What a job's thread and its window tell each other.
struct Told {
    progress: Mutex<Progress>,
    stop: AtomicBool,
    wake: Box<dyn Fn() + Send + Sync>,
}

impl std::fmt::Debug for Told {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter
            .debug_struct("Told")
            .field("progress", &self.progress)
            .finish_non_exhaustive()
    }
}

impl Watch for Told {
    fn progress(&self, stage: &str, done: usize, total: usize) {
        let mut progress = self.progress.lock().unwrap_or_else(PoisonError::into_inner);
        stage.clone_into(&mut progress.stage);
        (progress.done, progress.total) = (done, total);
        drop(progress);
        (self.wake)();
    }

    fn cancelled(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

impl Job {
    /// How far it is.
    #[must_use]
    pub fn progress(&self) -> Progress {
        self.told
            .progress
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone()
    }

    /// Asks it to stop; it ends within a moment, and nothing it did is recorded.
    pub fn cancel(&self) {
        self.told.stop.store(true, Ordering::Relaxed);
    }
}

impl Session {
    /// Starts a job on its own thread; `wake` is called, from that thread, whenever there is something new to show.
    #[must_use]
    pub fn start(&self, work: Work, wake: impl Fn() + Send + Sync + 'static) -> Job {
        let told = Arc::new(Told {
            progress: Mutex::new(Progress::default()),
            stop: AtomicBool::new(false),
            wake: Box::new(wake),
        });
        let (send, outcome) = mpsc::channel();
        let base = Arc::clone(self.project());
        let mut worker = self.worker();
        let (watch, asked) = (Arc::clone(&told), work.clone());
        #[expect(clippy::disallowed_methods, reason = "jobs have their own threads")]
        std::thread::spawn(move || {
            let done = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
                worker.carry_out(&asked, watch.as_ref())
            }));
            let done = done.unwrap_or_else(|_panic| {
                Err(SessionError::Refused(
                    "the work ended in a fault of the program; nothing was changed".to_owned(),
                ))
            });
            // The window may be gone already; then nobody wants the outcome.
            drop(send.send(done));
            (watch.wake)();
        });
        Job {
            work,
            told,
            outcome,
            base,
        }
    }

    /// The job's outcome once it is done, recorded in this project; the job itself while it is not.
    ///
    /// # Errors
    /// The inner result is the job's own.
    pub fn finish(&mut self, job: Job) -> Result<Result<Report, SessionError>, Job> {
        match job.outcome.try_recv() {
            Err(TryRecvError::Empty) => Err(job),
            Err(TryRecvError::Disconnected) => Ok(Err(SessionError::Refused(
                "the work ended without an answer; nothing was changed".to_owned(),
            ))),
            Ok(Err(error)) => Ok(Err(error)),
            Ok(Ok(outcome)) => Ok(self.take_over(&job, outcome)),
        }
    }

    fn take_over(&mut self, job: &Job, outcome: Outcome) -> Result<Report, SessionError> {
        let name = match &job.work {
            Work::Fuse(plate) | Work::MeasureAgain(plate) => format!(
                "{} registered and matched",
                self.project().plate_name(*plate)
            ),
            Work::FuseAll | Work::Build(_) => "registered and matched".to_owned(),
            Work::Swap { plate, .. } => format!("{plate} swapped"),
            Work::AddPhotos(photos) => format!("{} photos added", photos.len()),
            Work::SuggestMask(..) => "mask proposed".to_owned(),
            Work::FindDoubled(..) => "registered and matched".to_owned(),
            Work::CheckPhotos | Work::FindPhotos(_) => "photos found again".to_owned(),
            Work::TakeChanged => "changed photos taken as they are".to_owned(),
            Work::FindSpots(..) => "dust and hair looked for".to_owned(),
        };
        if let Err(error) = self.record_all(&name, outcome.edits) {
            let changed = !Arc::ptr_eq(&job.base, self.project());
            let why = if changed {
                "the project was changed meanwhile"
            } else {
                "a fault of the program"
            };
            return Err(SessionError::Refused(format!(
                "the result does not fit any more ({why}): {error}"
            )));
        }
        self.taken_changed = outcome.taken_changed;
        Ok(outcome.report)
    }

    /// A copy that works on its own; what it records are the edits to take over.
    pub(in crate::session) fn worker(&self) -> Self {
        Self {
            history: History::new(Project::clone(self.project())),
            path: self.path.clone(),
            saved: None,
            named_since_saved: false,
            from_file: 0,
            engine: Arc::clone(&self.engine),
            shelf: Arc::clone(&self.shelf),
            scratch: Arc::clone(&self.scratch),
            journal: None,
            lock: None,
            taken_changed: self.taken_changed.clone(),
            notes: Vec::new(),
        }
    }

    fn carry_out(&mut self, work: &Work, watch: &dyn Watch) -> Result<Outcome, SessionError> {
        let report = match work {
            Work::Fuse(plate) => {
                self.measure_all(watch)?;
                self.compute(Some(*plate), watch)?;
                Report::Fused
            }
            Work::MeasureAgain(plate) => {
                self.measure_again(*plate, watch)?;
                self.compute(Some(*plate), watch)?;
                Report::Fused
            }
            Work::FuseAll => {
                self.measure_all(watch)?;
                self.compute(None, watch)?;
                Report::Fused
            }
            Work::Build(request) => Report::Built(self.build(request, watch)?),
            Work::Swap { plate, photos } => {
                let report = self.swap(plate, photos, watch)?;
                self.measure_all(watch)?;
                let swapped = self.project().plate_by_name(plate).map(|plate| plate.id);
                self.compute(swapped, watch)?;
                Report::Swapped(report)
            }
            Work::AddPhotos(photos) => Report::Added(self.add_photos(photos)?),
            Work::SuggestMask(plate, group) => {
                self.measure_all(watch)?;
                Report::Suggested(self.suggest_mask(*plate, *group, watch)?)
            }
            Work::FindDoubled(plate, pass) => {
                self.measure_all(watch)?;
                Report::Doubled(*plate, *pass, self.doubled_light(*plate, *pass, watch)?)
            }
            Work::CheckPhotos => Report::Checked(self.check_sources(Reading::Fresh, watch)?),
            Work::FindPhotos(folder) => {
                let (found, missing) = self.relink(folder)?;
                Report::FoundPhotos(found, missing)
            }
            Work::TakeChanged => Report::TookChanged(self.take_changed()?),
            Work::FindSpots(plate, cleaned) => {
                Report::Spots(self.record_spots(*plate, *cleaned, watch)?)
            }
        };
        let edits = self
            .history()
            .revisions()
            .iter()
            .map(|revision| revision.edit.clone())
            .collect();
        Ok(Outcome {
            edits,
            report,
            taken_changed: self.taken_changed.clone(),
        })
    }

    /// Computes the whole pictures of one plate, or of all, so that tiles can be shown.
    pub(in crate::session) fn compute(
        &self,
        plate: Option<PlateId>,
        watch: &dyn Watch,
    ) -> Result<(), SessionError> {
        let world = self.world(watch);
        let project = Arc::clone(self.project());
        for one in project
            .plates
            .iter()
            .filter(|one| plate.is_none_or(|plate| plate == one.id))
        {
            let plan = crate::engine::plate_tiles::PlatePlan::new(&project, one)?;
            self.engine().prepare_plate(&world, &plan)?;
        }
        Ok(())
    }
}
