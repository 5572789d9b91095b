//! What the machine has.

use crate::files::places;

/// Uses `count` threads from now on; later calls change nothing. Results do not depend on it.
pub fn use_threads(count: u16) {
    // It can be set once only; a second call keeps the first number, which changes no result.
    drop(
        rayon::ThreadPoolBuilder::new()
            .num_threads(usize::from(count))
            .build_global(),
    );
}

/// The most memory this process has held so far, in bytes; 0 where the system does not say.
#[must_use]
pub fn peak_memory() -> usize {
    places::peak_memory()
}

/// Whether there is a display to open a window on.
#[must_use]
pub fn has_display() -> bool {
    cfg!(feature = "window") && places::has_display()
}
