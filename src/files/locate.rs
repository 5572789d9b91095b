//! Names, folders and patterns to lists of photos, and moved files found again by their content.

use crate::files::digest::content_hash;
use crate::files::photo::{describe, sniff};
use crate::files::{FileError, Limits};
use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// Folders are searched for moved files at most this deep.
const DEEPEST: usize = 6;
/// And at most so many entries are looked at.
const MOST_ENTRIES: usize = 100_000;

/// The photos that `words` name, each once, in the order given: a file is itself; a folder is the photos lying in it; a
/// word with `*` or `?` in its last part is every photo of that folder whose name fits. Folders and patterns are read
/// in the order of capture time, then of the names with their numbers taken as numbers. A file that is named outright is
/// taken as it is: opening it tells what is wrong with it.
///
/// # Errors
/// [`FileError::NotFound`] where a word names nothing or a folder or pattern holds no photo; what the system said.
pub fn frames(words: &[PathBuf], limits: &Limits) -> Result<Vec<PathBuf>, FileError> {
    let mut found = Vec::new();
    let mut seen = BTreeSet::new();
    for word in words {
        for path in expand(word, limits)? {
            if seen.insert(path.clone()) {
                found.push(path);
            }
        }
    }
    if found.is_empty() {
        return Err(FileError::not_found(
            Path::new("."),
            "no photos were named; name files, folders or quoted patterns.",
        ));
    }
    Ok(found)
}

fn expand(word: &Path, limits: &Limits) -> Result<Vec<PathBuf>, FileError> {
    if word.is_dir() {
        let found = photos_in(word, None, limits)?;
        if found.is_empty() {
            return Err(FileError::not_found(
                word,
                "this folder holds no TIFF, PNG, JPEG or OpenEXR photos; name another folder or the files.",
            ));
        }
        return Ok(found);
    }
    // A file whose very name holds a star comes first.
    if std::fs::symlink_metadata(word).is_ok() {
        return Ok(vec![word.to_path_buf()]);
    }
    let pattern = word
        .file_name()
        .map(|name| name.to_string_lossy().into_owned())
        .filter(|name| name.contains(['*', '?']));
    let Some(pattern) = pattern else {
        return Err(FileError::not_found(
            word,
            "there is no such file or folder; check the name.",
        ));
    };
    let folder = match word.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut found = photos_in(folder, Some(&pattern), limits)?;
    if found.is_empty() {
        return Err(FileError::not_found(
            word,
            "no photo's name fits this pattern; check the pattern and the folder.",
        ));
    }
    // As the user would have written them: without a leading dot folder.
    if folder == Path::new(".") && !word.starts_with(".") {
        found = found
            .into_iter()
            .map(|path| {
                path.strip_prefix(".")
                    .map(Path::to_path_buf)
                    .unwrap_or(path)
            })
            .collect();
    }
    Ok(found)
}

/// The photos lying in `folder` (not in folders below it) whose names fit `pattern`, in order.
fn photos_in(
    folder: &Path,
    pattern: Option<&str>,
    limits: &Limits,
) -> Result<Vec<PathBuf>, FileError> {
    let listing = std::fs::read_dir(folder).map_err(|error| FileError::reading(folder, &error))?;
    let mut found = Vec::new();
    for entry in listing {
        let entry = entry.map_err(|error| FileError::reading(folder, &error))?;
        let name = entry.file_name().to_string_lossy().into_owned();
        let path = entry.path();
        let fits = pattern.map_or(!name.starts_with('.'), |pattern| matches(pattern, &name));
        if fits && path.is_file() && sniff(&path).is_ok_and(|format| format.is_some()) {
            // An unreadable header leaves the time out; the file stays in the list, so that it is told about.
            let taken = describe(&path, limits)
                .ok()
                .and_then(|info| info.camera.taken);
            found.push((taken, name, path));
        }
    }
    found.sort_by(|a, b| a.0.cmp(&b.0).then_with(|| natural_order(&a.1, &b.1)));
    Ok(found
        .into_iter()
        .map(|(_taken, _name, path)| path)
        .collect())
}

/// Whether `name` fits `pattern`: `*` stands for any letters or none, `?` for exactly one.
fn matches(pattern: &str, name: &str) -> bool {
    let pattern: Vec<char> = pattern.chars().collect();
    let name: Vec<char> = name.chars().collect();
    let (mut p, mut n) = (0, 0);
    // Where to go on when the last star has to take one letter more.
    let mut star = None;
    while n < name.len() {
        if p < pattern.len() && pattern[p] == '*' {
            star = Some((p, n));
            p += 1;
        } else if p < pattern.len() && (pattern[p] == '?' || pattern[p] == name[n]) {
            p += 1;
            n += 1;
        } else if let Some((star_p, star_n)) = star {
            star = Some((star_p, star_n + 1));
            p = star_p + 1;
            n = star_n + 1;
        } else {
            return false;
        }
    }
    pattern[p..].iter().all(|c| *c == '*')
}

/// Names in the order people count: `f2` before `f10`. Runs of digits compare as numbers; equal numbers and then
/// capitals are told apart by the plain order of letters, so that the order is always the same.
#[must_use]
pub fn natural_order(a: &str, b: &str) -> Ordering {
    let (mut left, mut right) = (a, b);
    loop {
        let (x, y) = (run(left), run(right));
        let order = match (x, y) {
            ("", "") => return a.cmp(b),
            (x, y) if is_number(x) && is_number(y) => {
                let (x, y) = (x.trim_start_matches('0'), y.trim_start_matches('0'));
                x.len().cmp(&y.len()).then_with(|| x.cmp(y))
            }
            (x, y) => x.to_lowercase().cmp(&y.to_lowercase()),
        };
        if order != Ordering::Equal {
            return order;
        }
        left = &left[x.len()..];
        right = &right[y.len()..];
    }
}

/// The run of digits or of other letters that `text` begins with.
fn run(text: &str) -> &str {
    let digits = text.starts_with(|c: char| c.is_ascii_digit());
    let end = text
        .find(|c: char| c.is_ascii_digit() != digits)
        .unwrap_or(text.len());
    &text[..end]
}

fn is_number(run: &str) -> bool {
    run.starts_with(|c: char| c.is_ascii_digit())
}

/// Looks for moved files in `folders` and the folders below them. `wanted` maps the content's BLAKE3 hash to the size in
/// bytes; only files of a wanted size are read. The search is bounded in depth and in number and never fails: what is
/// not found, or can't be read, is left out.
#[must_use]
pub fn find_by_content(
    folders: &[PathBuf],
    wanted: &BTreeMap<[u8; 32], u64>,
) -> BTreeMap<[u8; 32], PathBuf> {
    let mut found = BTreeMap::new();
    let mut left = MOST_ENTRIES;
    let mut waiting: Vec<(PathBuf, usize)> = folders
        .iter()
        .rev()
        .map(|folder| (folder.clone(), 0))
        .collect();
    while let Some((folder, depth)) = waiting.pop() {
        if found.len() == wanted.len() {
            break;
        }
        let Ok(listing) = std::fs::read_dir(&folder) else {
            continue;
        };
        let mut entries: Vec<PathBuf> = listing
            .flatten()
            .map(|entry| entry.path())
            .take(left)
            .collect();
        left -= entries.len();
        entries.sort();
        for path in entries {
            // Links are not followed into folders: they may lead round in a circle.
            let Ok(metadata) = std::fs::symlink_metadata(&path) else {
                continue;
            };
            if metadata.is_dir() && depth < DEEPEST {
                waiting.push((path, depth + 1));
            } else if std::fs::metadata(&path)
                .is_ok_and(|m| m.is_file() && wanted_size(wanted, &found, m.len()))
                && let Ok(hash) = content_hash(&path)
                && wanted.contains_key(&hash)
            {
                found.entry(hash).or_insert(path);
            }
        }
    }
    found
}

fn wanted_size(
    wanted: &BTreeMap<[u8; 32], u64>,
    found: &BTreeMap<[u8; 32], PathBuf>,
    bytes: u64,
) -> bool {
    wanted
        .iter()
        .any(|(hash, size)| *size == bytes && !found.contains_key(hash))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patterns() {
        for (pattern, name, fits) in [
            ("*.tif", "a.tif", true),
            ("*.tif", "a.tiff", false),
            ("f??.tif", "f01.tif", true),
            ("f??.tif", "f1.tif", false),
            ("*a*b*", "xaxxbx", true),
            ("*ab", "aab", true),
            ("*", "", true),
            ("?", "é", true),
            ("a*a", "a", false),
        ] {
            assert_eq!(matches(pattern, name), fits, "{pattern} {name}");
        }
    }

    #[test]
    fn numbers_in_names_count_as_numbers() {
        let mut names = vec![
            "f10",
            "F9",
            "f2",
            "f02",
            "g1",
            "f2b",
            "f",
            "f99999999999999999999999",
            "f3",
        ];
        names.sort_by(|a, b| natural_order(a, b));
        assert_eq!(
            names,
            [
                "f",
                "f02",
                "f2",
                "f2b",
                "f3",
                "F9",
                "f10",
                "f99999999999999999999999",
                "g1"
            ]
        );
    }

    #[test]
    fn moved_files_are_found_below_and_others_are_not() {
        let folder = tempfile::tempdir().unwrap();
        let below = folder.path().join("a").join("b");
        std::fs::create_dir_all(&below).unwrap();
        std::fs::write(below.join("moved"), b"wanted").unwrap();
        std::fs::write(below.join("other"), b"wanteD").unwrap();
        let mut wanted = BTreeMap::new();
        wanted.insert(*blake3::hash(b"wanted").as_bytes(), 6);
        wanted.insert(*blake3::hash(b"absent").as_bytes(), 6);
        let found = find_by_content(&[folder.path().to_path_buf()], &wanted);
        assert_eq!(found.len(), 1);
        assert_eq!(
            found[blake3::hash(b"wanted").as_bytes()],
            below.join("moved")
        );
    }
}
