//! Photos of a stack read one ahead of the work on them.

use crate::engine::fusing::step;
use crate::engine::{EngineError, World};
use crate::pixels::Samples;
use crate::project::Frame;
use std::sync::Arc;

/// Calls `work` with the number and the photo of each of `frames` in turn, while the next photo is read: many kinds of files are unpacked by
/// one thread only. One photo more than otherwise is held. Each frame is told as a part of `stage`.
///
/// # Errors
/// What `work` says, or when a photo cannot be read, or the work was stopped.
pub(super) fn one_ahead<'a>(
    world: &World<'_>,
    stage: &str,
    frames: impl ExactSizeIterator<Item = &'a Frame>,
    mut work: impl FnMut(usize, Arc<Samples>) -> Result<(), EngineError> + Send,
) -> Result<(), EngineError> {
    let count = frames.len();
    let mut frames = frames.fuse();
    let read = |frame: &Frame| world.sources.samples(frame);
    let mut next = frames.next().map(read);
    let mut number = 0;
    while let Some(samples) = next.take() {
        step(world, stage, number, count)?;
        let samples = samples?;
        let following = frames.next();
        let (done, read) = rayon::join(|| work(number, samples), || following.map(read));
        done?;
        next = read;
        number += 1;
    }
    Ok(())
}
