//! A fence about decoders: one that panics has met a damaged file. Nothing is printed about it; the caller says which file.

use std::cell::Cell;
use std::panic::{AssertUnwindSafe, catch_unwind, set_hook, take_hook};
use std::sync::Once;

thread_local! {
    /// How many fences this thread is behind.
    static FENCES: Cell<u32> = const { Cell::new(0) };
}

static QUIET: Once = Once::new();

/// What `work` gives; nothing where it panics.
pub(super) fn fenced<T>(work: impl FnOnce() -> T) -> Option<T> {
    QUIET.call_once(|| {
        let before = take_hook();
        set_hook(Box::new(move |panic| {
            if FENCES.get() == 0 {
                before(panic);
            }
        }));
    });
    FENCES.set(FENCES.get() + 1);
    let done = catch_unwind(AssertUnwindSafe(work));
    FENCES.set(FENCES.get() - 1);
    done.ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_stays_inside() {
        assert_eq!(fenced(|| 1), Some(1));
        let nothing: Option<()> = fenced(|| panic!("made to"));
        assert_eq!(nothing, None);
        assert_eq!(fenced(|| fenced(|| FENCES.get())), Some(Some(2)));
        assert_eq!(FENCES.get(), 0);
    }
}
