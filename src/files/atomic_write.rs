//! Replaces a file whole or not at all: a new file beside it, flushed to the disc, then renamed over the old one.

use crate::files::FileError;
use std::fs::{File, OpenOptions};
use std::io::{BufWriter, Seek, Write};
use std::path::{Path, PathBuf};

/// Where a format's writer puts its bytes.
pub trait Sink: Write + Seek {}
impl<T: Write + Seek> Sink for T {}

/// Writes `path` through `fill`. Only when `fill` is done and its bytes are on the disc does the new file take the old
/// one's place and its permissions; on any error, or a panic in `fill`, nothing new is left and the old file is whole.
///
/// # Errors
/// What `fill` said, or [`FileError::Refused`], [`FileError::NotFound`], [`FileError::Parameter`] for the place.
pub fn write_atomically(
    path: &Path,
    fill: impl FnOnce(&mut dyn Sink) -> Result<(), FileError>,
) -> Result<(), FileError> {
    let folder = folder_of(path)?;
    let told = |error: &std::io::Error| FileError::writing(path, error);
    let mut new = tempfile::Builder::new()
        .prefix(".platebench-")
        .suffix(".part")
        .tempfile_in(&folder)
        .map_err(|error| told(&error))?;
    {
        let mut buffered = BufWriter::with_capacity(1 << 18, new.as_file_mut());
        fill(&mut buffered)?;
        buffered.flush().map_err(|error| told(&error))?;
    }
    set_mode(path, &folder, new.as_file()).map_err(|error| told(&error))?;
    new.as_file().sync_all().map_err(|error| told(&error))?;
    new.persist(path).map_err(|failed| told(&failed.error))?;
    sync_folder(&folder);
    Ok(())
}

/// Writes `bytes` to `path`, as [`write_atomically`] does.
///
/// # Errors
/// As [`write_atomically`].
pub fn write_bytes(path: &Path, bytes: &[u8]) -> Result<(), FileError> {
    write_atomically(path, |sink| {
        sink.write_all(bytes)
            .map_err(|error| FileError::writing(path, &error))
    })
}

/// The folder that holds `path`, which must name a file.
fn folder_of(path: &Path) -> Result<PathBuf, FileError> {
    if path.file_name().is_none() || path.is_dir() {
        return Err(FileError::parameter(
            path,
            "this names a folder, not a file; add a file name.",
        ));
    }
    Ok(match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder.to_path_buf(),
        _ => PathBuf::from("."),
    })
}

/// Temporary files are private to their owner. The finished file keeps the old file's permissions, or gets what a
/// plainly created file gets here.
#[cfg(unix)]
fn set_mode(path: &Path, folder: &Path, new: &File) -> std::io::Result<()> {
    match std::fs::metadata(path) {
        Ok(old) => new.set_permissions(old.permissions()),
        Err(_missing) => {
            // The umask can't be asked for without changing it, so a plainly created file tells it.
            let probe = tempfile::Builder::new()
                .prefix(".platebench-")
                .make_in(folder, |place| {
                    OpenOptions::new().write(true).create_new(true).open(place)
                })?;
            new.set_permissions(probe.as_file().metadata()?.permissions())
        }
    }
}

#[cfg(not(unix))]
fn set_mode(_path: &Path, _folder: &Path, _new: &File) -> std::io::Result<()> {
    Ok(())
}

/// Makes the rename itself last through a power cut. Some file systems can't; the file's content is safe all the same.
fn sync_folder(folder: &Path) {
    if let Ok(folder) = File::open(folder) {
        folder.sync_all().ok();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tempfile::tempdir;

    fn names(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> = std::fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn a_failing_writer_leaves_the_old_file_and_nothing_else() {
        let folder = tempdir().unwrap();
        let path = folder.path().join("a.txt");
        write_bytes(&path, b"old").unwrap();
        let error = write_atomically(&path, |sink| {
            sink.write_all(b"half of the new one").unwrap();
            Err(FileError::damaged(&path, "made to fail"))
        });
        assert!(matches!(error, Err(FileError::Damaged { .. })));
        assert_eq!(std::fs::read(&path).unwrap(), b"old");
        assert_eq!(names(folder.path()), ["a.txt"]);
    }

    #[test]
    fn a_panicking_writer_leaves_the_old_file_and_nothing_else() {
        let folder = tempdir().unwrap();
        let path = folder.path().join("a.txt");
        write_bytes(&path, b"old").unwrap();
        let outcome = std::panic::catch_unwind(|| write_atomically(&path, |_| panic!("made to")));
        assert!(outcome.is_err());
        assert_eq!(std::fs::read(&path).unwrap(), b"old");
        assert_eq!(names(folder.path()), ["a.txt"]);
    }

    #[cfg(unix)]
    #[test]
    fn permissions_are_the_old_ones_or_the_plain_ones() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempdir().unwrap();
        let mode = |path: &Path| std::fs::metadata(path).unwrap().permissions().mode() & 0o777;
        let plain = folder.path().join("plain");
        File::create(&plain).unwrap();
        let path = folder.path().join("a.txt");
        write_bytes(&path, b"1").unwrap();
        assert_eq!(mode(&path), mode(&plain));
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o640)).unwrap();
        write_bytes(&path, b"2").unwrap();
        assert_eq!(mode(&path), 0o640);
        assert_eq!(names(folder.path()), ["a.txt", "plain"]);
    }

    #[test]
    fn bad_places_are_told_apart() {
        let folder = tempdir().unwrap();
        let missing = folder.path().join("no such folder").join("a.txt");
        assert!(matches!(
            write_bytes(&missing, b"1"),
            Err(FileError::NotFound { .. })
        ));
        assert!(matches!(
            write_bytes(folder.path(), b"1"),
            Err(FileError::Parameter { .. })
        ));
        let file = folder.path().join("file");
        write_bytes(&file, b"1").unwrap();
        let error = write_bytes(&file.join("b.txt"), b"1").unwrap_err();
        assert!(
            error.to_string().contains("part of the name is a file"),
            "{error}"
        );
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_place_that_takes_no_files_is_refused() {
        // Even the superuser can't make files in /proc.
        let error = write_bytes(Path::new("/proc/platebench.txt"), b"1").unwrap_err();
        assert!(
            matches!(
                error,
                FileError::Refused { .. } | FileError::NotFound { .. }
            ),
            "{error}"
        );
    }
}
