//! Room for numbers of a whole picture.

use rayon::prelude::*;

/// Numbers that one thread writes at a time; no value depends on it.
const RUN: usize = 1 << 16;

/// `count` times `value`, written by all threads. A picture of zeros that nobody wrote costs the system two visits to each of its pages
/// when it is first read and then written, and every visit stops the other threads.
pub(super) fn filled<T: Copy + Default + Send + Sync>(value: T, count: usize) -> Vec<T> {
    let mut room = vec![T::default(); count];
    room.par_chunks_mut(RUN).for_each(|run| run.fill(value));
    room
}
