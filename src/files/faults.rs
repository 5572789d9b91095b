//! The place where tests make the disc fail. Outside tests every operation goes straight through.

use std::io::{Result, Seek, SeekFrom, Write};

/// Asked before each operation that changes the disc.
///
/// # Errors
/// Never, unless a test of this crate arranged for this operation to fail.
pub(super) fn check() -> Result<()> {
    #[cfg(test)]
    arranged::check()?;
    Ok(())
}

/// A writer whose every write may be made to fail.
#[derive(Debug)]
pub(super) struct Faulty<W>(pub(super) W);

impl<W: Write> Write for Faulty<W> {
    fn write(&mut self, bytes: &[u8]) -> Result<usize> {
        check()?;
        self.0.write(bytes)
    }

    fn flush(&mut self) -> Result<()> {
        self.0.flush()
    }
}

impl<W: Seek> Seek for Faulty<W> {
    fn seek(&mut self, to: SeekFrom) -> Result<u64> {
        self.0.seek(to)
    }
}

/// What tests arrange, for their own thread only.
#[cfg(test)]
pub(crate) mod arranged {
    use std::cell::Cell;
    use std::io::{Error, ErrorKind, Result};

    thread_local! {
        static LEFT: Cell<Option<usize>> = const { Cell::new(None) };
        static FAILED: Cell<bool> = const { Cell::new(false) };
    }

    pub(super) fn check() -> Result<()> {
        match LEFT.get() {
            None => Ok(()),
            Some(0) => {
                FAILED.set(true);
                Err(Error::from(ErrorKind::StorageFull))
            }
            Some(left) => {
                LEFT.set(Some(left - 1));
                Ok(())
            }
        }
    }

    /// Lets `work` do `operations` operations on the disc; from then on it is full. Says whether any failed.
    pub(crate) fn full_after<T>(operations: usize, work: impl FnOnce() -> T) -> (T, bool) {
        LEFT.set(Some(operations));
        FAILED.set(false);
        let done = work();
        LEFT.set(None);
        (done, FAILED.get())
    }

    /// A folder that goes with the last use of it.
    pub(crate) fn folder() -> tempfile::TempDir {
        tempfile::tempdir().unwrap()
    }
}
