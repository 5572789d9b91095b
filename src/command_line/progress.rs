//! Progress on standard error, and stopping by the user.

use super::words::{Common, ShowProgress};
use crate::session::Watch;
use indicatif::{ProgressBar, ProgressStyle};
use std::io::IsTerminal as _;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, PoisonError};
use std::time::Instant;

/// Set when the user asks to stop.
static STOP: AtomicBool = AtomicBool::new(false);

/// Shows how far the work is.
#[derive(Debug)]
pub(super) struct Progress {
    shown: Mutex<Shown>,
    started: Instant,
}

#[derive(Debug)]
struct Shown {
    bar: Option<ProgressBar>,
    plain: bool,
    stage: String,
}

impl Progress {
    pub(super) fn new(common: &Common) -> Self {
        // A second handler is refused by the library; the first one stays, which is what is wanted.
        drop(ctrlc::set_handler(|| STOP.store(true, Ordering::Relaxed)));
        let wanted = common.progress == ShowProgress::Auto && !common.quiet;
        let terminal = std::io::stderr().is_terminal();
        let bar = (wanted && terminal).then(|| {
            let style = ProgressStyle::with_template("{msg:34} {bar:30} {pos}/{len} {elapsed}");
            ProgressBar::new(0)
                .with_style(style.unwrap_or_else(|_fixed_text| ProgressStyle::default_bar()))
        });
        let shown = Shown {
            bar,
            plain: wanted && !terminal,
            stage: String::new(),
        };
        #[expect(
            clippy::disallowed_methods,
            reason = "time is reported, never computed with"
        )]
        let started = Instant::now();
        Self {
            shown: Mutex::new(shown),
            started,
        }
    }

    pub(super) fn seconds(&self) -> f64 {
        self.started.elapsed().as_secs_f64()
    }

    pub(super) fn finish(&self) {
        let shown = self.shown.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(bar) = &shown.bar {
            bar.finish_and_clear();
        }
    }
}

impl Watch for Progress {
    fn progress(&self, stage: &str, done: usize, total: usize) {
        let mut shown = self.shown.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(bar) = &shown.bar {
            bar.set_length(u64::try_from(total).unwrap_or(0));
            bar.set_position(u64::try_from(done).unwrap_or(0));
            bar.set_message(stage.to_owned());
        } else if shown.plain && shown.stage != stage {
            eprintln!("{stage} ...");
        }
        if shown.stage != stage {
            stage.clone_into(&mut shown.stage);
        }
    }

    fn cancelled(&self) -> bool {
        STOP.load(Ordering::Relaxed)
    }
}
