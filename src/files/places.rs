//! Names of files in a project, and what the disc says about them.

use crate::files::FileError;
use std::path::{Component, Path, PathBuf};
use std::time::SystemTime;

/// Length and change time of a file: if both are as before, its content is taken to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Trace {
    length: u64,
    changed: Option<SystemTime>,
}

/// Length and change time of the file at `path`.
///
/// # Errors
/// When there is no such file.
pub fn trace(path: &Path) -> Result<Trace, FileError> {
    let data = std::fs::metadata(path).map_err(|error| FileError::reading(path, &error))?;
    Ok(Trace {
        length: data.len(),
        changed: data.modified().ok(),
    })
}

/// Whether there is a file at `path`.
#[must_use]
pub fn exists(path: &Path) -> bool {
    path.is_file()
}

/// Whether `folder` is there and holds anything.
#[must_use]
pub fn has_entries(folder: &Path) -> bool {
    std::fs::read_dir(folder).is_ok_and(|mut entries| entries.next().is_some())
}

/// The newest file in `folder` (not below it) whose name ends in `ending`; of two of one time the later name.
#[must_use]
pub fn newest_with_ending(folder: &Path, ending: &str) -> Option<PathBuf> {
    with_ending(folder, ending).into_iter().max_by_key(|path| {
        (
            trace(path).ok().and_then(|trace| trace.changed),
            path.clone(),
        )
    })
}

/// The files in `folder` (not below it) whose names end in `ending`, by name.
#[must_use]
pub fn with_ending(folder: &Path, ending: &str) -> Vec<PathBuf> {
    let Ok(listing) = std::fs::read_dir(folder) else {
        return Vec::new();
    };
    let mut found: Vec<PathBuf> = listing
        .flatten()
        .map(|entry| entry.path())
        .filter(|path| path.to_string_lossy().ends_with(ending) && path.is_file())
        .collect();
    found.sort();
    found
}

/// Whether a file could be written at `path`: its folder is there and takes a new file.
///
/// # Errors
/// When it could not.
pub fn check_writable(path: &Path) -> Result<(), FileError> {
    if path.is_dir() {
        return Err(FileError::parameter(
            path,
            "this is a folder; give the name of a file in it.",
        ));
    }
    let trial = tempfile::NamedTempFile::new_in(folder_of(path))
        .map_err(|error| FileError::writing(path, &error))?;
    drop(trial);
    Ok(())
}

/// Whether a file begins like JSON text.
///
/// # Errors
/// When it cannot be read.
pub fn looks_like_json(path: &Path) -> Result<bool, FileError> {
    use std::io::Read as _;
    let file = std::fs::File::open(path).map_err(|error| FileError::reading(path, &error))?;
    let mut start = Vec::new();
    file.take(64)
        .read_to_end(&mut start)
        .map_err(|error| FileError::reading(path, &error))?;
    Ok(start.iter().find(|byte| !byte.is_ascii_whitespace()) == Some(&b'{'))
}

/// The folder a file lies in, absolute where the system can say.
#[must_use]
pub fn folder_of(path: &Path) -> PathBuf {
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _none => Path::new("."),
    };
    absolute(folder)
}

/// Whether two folders are the same one.
#[must_use]
pub fn same_folder(one: &Path, other: &Path) -> bool {
    absolute(one) == absolute(other)
}

/// Where the file called `name` in a project in `folder` lies.
#[must_use]
pub fn resolve(folder: &Path, name: &str) -> PathBuf {
    let mut path = folder.to_owned();
    if name.starts_with('/') {
        return PathBuf::from(name);
    }
    for part in name.split('/') {
        if part == ".." {
            path.pop();
        } else {
            path.push(part);
        }
    }
    path
}

/// How a file is named in a project in `folder`: relative with `/` between folders, going up where it must; absolute only
/// where there is no relative way.
#[must_use]
pub fn relative_name(folder: &Path, path: &Path) -> String {
    let (folder, path) = (absolute(folder), absolute(path));
    let parts = |path: &Path| -> Vec<String> {
        path.components()
            .map(|part| part.as_os_str().to_string_lossy().into_owned())
            .collect()
    };
    let (from, to) = (parts(&folder), parts(&path));
    let shared = from.iter().zip(&to).take_while(|(a, b)| a == b).count();
    if shared == 0 {
        return path.to_string_lossy().into_owned();
    }
    let up = std::iter::repeat_n("..".to_owned(), from.len() - shared);
    up.chain(to.into_iter().skip(shared))
        .collect::<Vec<_>>()
        .join("/")
}

/// `path` made absolute, with links followed as far as the path exists.
#[must_use]
pub fn absolute(path: &Path) -> PathBuf {
    if let Ok(found) = std::fs::canonicalize(path) {
        return found;
    }
    let whole = std::path::absolute(path).unwrap_or_else(|_unknown| path.to_owned());
    match (whole.parent(), whole.file_name()) {
        (Some(parent), Some(name)) if parent != whole => absolute(parent).join(name),
        _root => whole
            .components()
            .filter(|part| *part != Component::CurDir)
            .collect(),
    }
}

/// Half of the machine's memory in bytes; 4 GiB where the system does not say.
#[must_use]
pub fn half_of_memory() -> usize {
    kibibytes("/proc/meminfo", "MemTotal:").map_or(4 << 30, |kib| kib.saturating_mul(1024) / 2)
}

/// Whether the system says that there is a display.
#[must_use]
pub fn has_display() -> bool {
    let set = |name: &str| std::env::var_os(name).is_some_and(|value| !value.is_empty());
    !cfg!(target_os = "linux") || set("DISPLAY") || set("WAYLAND_DISPLAY")
}

/// The most memory this process has held so far, in bytes; 0 where the system does not say.
#[must_use]
pub fn peak_memory() -> usize {
    kibibytes("/proc/self/status", "VmHWM:").map_or(0, |kib| kib.saturating_mul(1024))
}

fn kibibytes(file: &str, key: &str) -> Option<usize> {
    let text = std::fs::read_to_string(file).ok()?;
    let line = text.lines().find(|line| line.starts_with(key))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_lead_back_to_their_files() {
        let folder = Path::new("/somewhere/scene");
        for path in [
            "/somewhere/scene/photos/a.jpg",
            "/somewhere/other/b.tif",
            "/elsewhere/c.png",
        ] {
            let name = relative_name(folder, Path::new(path));
            assert_eq!(
                absolute(&resolve(folder, &name)),
                absolute(Path::new(path)),
                "{name}"
            );
        }
        assert_eq!(
            relative_name(folder, Path::new("/somewhere/other/b.tif")),
            "../other/b.tif"
        );
    }
}
