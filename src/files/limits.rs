//! How large a picture may be. Checked with the numbers of a header, before anything is allocated.

use crate::files::FileError;
use crate::geometry::Size;
use std::path::Path;

const GIB: u64 = 1 << 30;

/// The largest picture that is decoded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Most pixels in one picture; 400 million unless told otherwise.
    pub pixels: u64,
    /// Most bytes that one decoded picture (or, for whole-file formats, the file) may take; half of the machine's
    /// memory unless told otherwise.
    pub bytes: u64,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            pixels: 400_000_000,
            bytes: machine_memory() / 2,
        }
    }
}

impl Limits {
    /// Refuses a picture of `width` by `height` pixels with `bytes_per_pixel` bytes each, where that is beyond the
    /// limits or beyond what a size can say.
    ///
    /// # Errors
    /// [`FileError::Damaged`] for a side of zero, [`FileError::TooLarge`] beyond the limits.
    pub fn check(
        &self,
        path: &Path,
        (width, height): (u64, u64),
        bytes_per_pixel: u64,
    ) -> Result<Size, FileError> {
        if width == 0 || height == 0 {
            return Err(FileError::damaged(
                path,
                "the picture has no pixels; copy the file again from where it came from.",
            ));
        }
        let pixels = width.saturating_mul(height);
        let side = u64::from(u32::MAX >> 1);
        if pixels > self.pixels || width > side || height > side {
            return Err(FileError::too_large(
                path,
                format!(
                    "the picture says it has {width} x {height} pixels and the limit is {} million; raise the limit or use a smaller picture.",
                    self.pixels / 1_000_000
                ),
            ));
        }
        self.check_bytes(path, pixels.saturating_mul(bytes_per_pixel))?;
        match (u32::try_from(width), u32::try_from(height)) {
            (Ok(width), Ok(height)) => Ok(Size::new(width, height)),
            _ => Err(FileError::too_large(
                path,
                "the picture is too large; use a smaller one.",
            )),
        }
    }

    /// Refuses more than the byte limit.
    ///
    /// # Errors
    /// [`FileError::TooLarge`] beyond the limit.
    pub fn check_bytes(&self, path: &Path, bytes: u64) -> Result<(), FileError> {
        if bytes > self.bytes {
            return Err(FileError::too_large(
                path,
                format!(
                    "reading it would take {} MiB of memory and the limit is {} MiB; raise the memory limit or use a smaller picture.",
                    bytes >> 20,
                    self.bytes >> 20
                ),
            ));
        }
        Ok(())
    }

    /// The byte limit as the libraries want it.
    pub(super) fn bytes_usize(&self) -> usize {
        usize::try_from(self.bytes).unwrap_or(usize::MAX)
    }
}

/// Bytes of memory the machine has; 16 GiB where the system does not say, so that half of it is 8 GiB.
fn machine_memory() -> u64 {
    let text = std::fs::read_to_string("/proc/meminfo").unwrap_or_default();
    memory_of(&text).unwrap_or(16 * GIB)
}

/// The line `MemTotal:  12345 kB`, in bytes.
fn memory_of(meminfo: &str) -> Option<u64> {
    let line = meminfo.lines().find(|line| line.starts_with("MemTotal:"))?;
    let kib: u64 = line.split_whitespace().nth(1)?.parse().ok()?;
    kib.checked_mul(1024)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn memory_line_is_read() {
        assert_eq!(memory_of("MemTotal:       1024 kB\nX: 1"), Some(1 << 20));
        assert_eq!(memory_of("nothing here"), None);
        assert_eq!(memory_of("MemTotal: many kB"), None);
    }

    #[test]
    fn absurd_sizes_are_refused_without_overflow() {
        let limits = Limits {
            pixels: 100,
            bytes: 1000,
        };
        let path = Path::new("a.tif");
        assert!(matches!(
            limits.check(path, (u64::MAX, u64::MAX), 8),
            Err(FileError::TooLarge { .. })
        ));
        assert!(matches!(
            limits.check(path, (10, 10), 11),
            Err(FileError::TooLarge { .. })
        ));
        assert!(matches!(
            limits.check(path, (0, 10), 1),
            Err(FileError::Damaged { .. })
        ));
        assert_eq!(
            limits.check(path, (10, 10), 10).ok(),
            Some(Size::new(10, 10))
        );
    }
}
