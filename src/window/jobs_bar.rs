//! Long work beside the window: what is being done, how far, how long still, and the way to stop it.

use crate::session::jobs::{Job, Report, Work};
use crate::session::{Session, SessionError};
use crate::window::queue::{Ask, Queue};
use crate::window::{theme, words};
use std::collections::VecDeque;

/// The work under way, and what waits for it.
#[derive(Debug, Default)]
pub struct Jobs {
    running: Option<Running>,
    waiting: VecDeque<Work>,
}

#[derive(Debug)]
struct Running {
    job: Job,
    stage: String,
    /// When the stage began, by the window's own clock, in seconds.
    since: f64,
}

impl Jobs {
    /// Asks for work; it begins when what is before it is done.
    pub fn ask(&mut self, work: Work) {
        self.waiting.push_back(work);
    }

    /// The work under way.
    #[must_use]
    pub fn busy(&self) -> Option<&Work> {
        self.running.as_ref().map(|running| &running.job.work)
    }

    /// The work under way, then what waits for it.
    pub fn all(&self) -> impl Iterator<Item = &Work> {
        self.busy().into_iter().chain(&self.waiting)
    }

    /// Whether nothing is under way or waits.
    #[must_use]
    pub fn is_idle(&self) -> bool {
        self.running.is_none() && self.waiting.is_empty()
    }

    /// Stops the work under way and forgets what waits.
    pub fn cancel(&mut self) {
        self.waiting.clear();
        if let Some(running) = &self.running {
            running.job.cancel();
        }
    }

    /// Begins what waits and takes over what is done; gives what came out.
    pub fn step(
        &mut self,
        session: &mut Session,
        ctx: &egui::Context,
    ) -> Option<Result<Report, SessionError>> {
        let mut done = None;
        if let Some(mut running) = self.running.take() {
            match session.finish(running.job) {
                Ok(outcome) => done = Some(outcome),
                Err(job) => {
                    let stage = job.progress().stage;
                    if stage != running.stage {
                        (running.stage, running.since) = (stage, ctx.input(|input| input.time));
                    }
                    running.job = job;
                    self.running = Some(running);
                }
            }
        }
        if self.running.is_none()
            && let Some(work) = self.waiting.pop_front()
        {
            let wake = ctx.clone();
            self.running = Some(Running {
                job: session.start(work, move || wake.request_repaint()),
                stage: String::new(),
                since: ctx.input(|input| input.time),
            });
        }
        done
    }

    /// Shows the work under way; nothing where there is none.
    pub fn ui(&self, ui: &mut egui::Ui, queue: &mut Queue) {
        let Some(running) = &self.running else { return };
        let progress = running.job.progress();
        if ui.button(words::CANCEL_WORK).clicked() {
            queue.ask(Ask::CancelWork);
        }
        let share = share(progress.done, progress.total);
        let bar = egui::ProgressBar::new(share)
            .desired_width(theme::place::PROGRESS)
            .fill(theme::state_colour::WORKING.gamma_multiply(0.6))
            .corner_radius(theme::CORNER)
            .text(egui::RichText::new(words::percent(share)).color(ui.visuals().text_color()));
        ui.add(bar).accessible_name(words::PROGRESS);
        let elapsed = ui.input(|input| input.time) - running.since;
        let left = words::time_left(time_left(elapsed, share));
        ui.label(words::work(&running.job.work, &progress.stage, &left));
        if !self.waiting.is_empty() {
            ui.weak(words::waiting(self.waiting.len()));
        }
        ui.ctx()
            .request_repaint_after(std::time::Duration::from_millis(500));
    }
}

fn share(done: usize, total: usize) -> f32 {
    let part = |count: usize| f32::from(u16::try_from(count.min(65_000)).unwrap_or(u16::MAX));
    if total == 0 {
        return 0.0;
    }
    (part(done) / part(total)).clamp(0.0, 1.0)
}

/// Seconds still to go, once a tenth is done; before that nobody can say.
fn time_left(elapsed: f64, share: f32) -> Option<f64> {
    let share = f64::from(share);
    (share >= 0.1 && elapsed > 0.0).then(|| elapsed * (1.0 - share) / share)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn time_left_follows_the_share() {
        assert_eq!(time_left(10.0, share(1, 4)), Some(30.0));
        assert_eq!(time_left(10.0, share(1, 40)), None);
        assert_eq!(share(3, 0), 0.0);
    }
}
