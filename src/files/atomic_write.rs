//! Replaces a file whole or not at all: a new file beside it, flushed to the disc, then renamed over the old one.

use crate::files::{FileError, faults};
use std::fs::{File, OpenOptions};
use std::io::{BufWriter, Seek, Write};
use std::path::{Path, PathBuf};

/// Where a format's writer puts its bytes.
pub trait Sink: Write + Seek {}
impl<T: Write + Seek> Sink for T {}

/// Writes `path` through `fill`. Only when `fill` is done and its bytes are on the disc does the new file take the old
/// one's place and its permissions; on any error, or a panic in `fill`, nothing new is left and the old file is whole.
/// Where `path` is a link, the file it leads to is replaced and the link stays.
///
/// # Errors
/// What `fill` said, or [`FileError::Refused`], [`FileError::NotFound`], [`FileError::Parameter`] for the place.
pub fn write_atomically(
    path: &Path,
    fill: impl FnOnce(&mut dyn Sink) -> Result<(), FileError>,
) -> Result<(), FileError> {
    replace(path, fill, |_old| Ok(()))
}

/// Writes `bytes` to `path`, as [`write_atomically`] does, and keeps the file that was there as `backup`. At every moment
/// there is a whole file at `path`.
///
/// # Errors
/// As [`write_atomically`]; also when the backup cannot be kept. The old file is unchanged then.
pub fn write_keeping_backup(path: &Path, bytes: &[u8], backup: &Path) -> Result<(), FileError> {
    let fill = |sink: &mut dyn Sink| {
        sink.write_all(bytes)
            .map_err(|error| FileError::writing(path, &error))
    };
    replace(path, fill, |old| keep_backup(old, backup))
}

/// Fills a new file, lets `last` look at the old one, and puts the new one in its place.
fn replace(
    named: &Path,
    fill: impl FnOnce(&mut dyn Sink) -> Result<(), FileError>,
    last: impl FnOnce(&Path) -> Result<(), FileError>,
) -> Result<(), FileError> {
    let mut folder = folder_of(named)?;
    let mut target = named.to_path_buf();
    if let Ok(there) = std::fs::canonicalize(named) {
        folder = folder_of(&there)?;
        target = there;
    }
    let told = |error: &std::io::Error| FileError::writing(named, error);
    let mut new = faults::check()
        .and_then(|()| {
            tempfile::Builder::new()
                .prefix(".platebench-")
                .suffix(".part")
                .tempfile_in(&folder)
        })
        .map_err(|error| told(&error))?;
    {
        let mut buffered = BufWriter::with_capacity(1 << 18, faults::Faulty(new.as_file_mut()));
        fill(&mut buffered)?;
        buffered.flush().map_err(|error| told(&error))?;
    }
    set_mode(&target, &folder, new.as_file()).map_err(|error| told(&error))?;
    faults::check()
        .and_then(|()| new.as_file().sync_all())
        .map_err(|error| told(&error))?;
    last(&target)?;
    faults::check().map_err(|error| told(&error))?;
    new.persist(&target).map_err(|failed| told(&failed.error))?;
    sync_folder(&folder);
    Ok(())
}

/// Keeps the file at `old`, if there is one, as `backup` too. A second name for the same bytes needs no room; where the
/// file system has none, they are copied.
fn keep_backup(old: &Path, backup: &Path) -> Result<(), FileError> {
    if !old.exists() {
        return Ok(());
    }
    let told = |error: &std::io::Error| FileError::writing(backup, error);
    faults::check().map_err(|error| told(&error))?;
    let folder = folder_of(backup)?;
    let linked = tempfile::Builder::new()
        .prefix(".platebench-")
        .suffix(".part")
        .make_in(&folder, |place| std::fs::hard_link(old, place));
    match linked {
        Ok(linked) => linked
            .into_temp_path()
            .persist(backup)
            .map_err(|failed| told(&failed.error)),
        Err(_no_links_here) => {
            let bytes = std::fs::read(old).map_err(|error| FileError::reading(old, &error))?;
            write_bytes(backup, &bytes)
        }
    }
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

/// Makes a new or renamed file's name itself last through a power cut. Some file systems can't; the file's content is safe
/// all the same.
pub(super) fn sync_folder(folder: &Path) {
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
    fn the_backup_is_the_file_before_and_links_stay_links() {
        let folder = tempdir().unwrap();
        let (path, backup) = (folder.path().join("a"), folder.path().join("a.before"));
        write_keeping_backup(&path, b"1", &backup).unwrap();
        assert_eq!(names(folder.path()), ["a"], "nothing to keep yet");
        write_keeping_backup(&path, b"2", &backup).unwrap();
        write_keeping_backup(&path, b"3", &backup).unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), b"3");
        assert_eq!(std::fs::read(&backup).unwrap(), b"2");
        assert_eq!(names(folder.path()), ["a", "a.before"]);
        #[cfg(unix)]
        {
            let link = folder.path().join("link");
            std::os::unix::fs::symlink("a", &link).unwrap();
            write_bytes(&link, b"4").unwrap();
            assert_eq!(std::fs::read(&path).unwrap(), b"4");
            assert!(
                link.symlink_metadata().unwrap().is_symlink(),
                "a link still"
            );
        }
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
