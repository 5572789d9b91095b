//! Finds photos: names, folders and patterns to lists; moved photos by their content.

use crate::files::photo::PhotoFormat;
use crate::files::{FileError, Limits, digest, photo};
use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// Folders below the one searched that are looked into.
const DEEPEST: usize = 6;
/// Most files whose content is looked at when searching.
const MOST_FILES: usize = 20_000;

/// The photos that `names` stand for: a file is itself; a folder its photos in the order of capture time, then name; a pattern
/// with `*` or `?` in its last part the files that fit, in the order of their names. Each photo once.
///
/// # Errors
/// When a name leads nowhere, or a folder or pattern to no photo.
pub fn expand(names: &[PathBuf], limits: &Limits) -> Result<Vec<PathBuf>, FileError> {
    let mut found = Vec::new();
    for name in names {
        if name.is_dir() {
            found.extend(in_folder(name, limits)?);
        } else if !name.exists() && has_wildcard(name) {
            found.extend(fitting(name)?);
        } else if name.exists() {
            found.push(name.clone());
        } else {
            return Err(FileError::reading(
                name,
                &std::io::ErrorKind::NotFound.into(),
            ));
        }
    }
    let mut seen = BTreeSet::new();
    found.retain(|path| seen.insert(path.clone()));
    Ok(found)
}

fn in_folder(folder: &Path, limits: &Limits) -> Result<Vec<PathBuf>, FileError> {
    let entries = fs::read_dir(folder).map_err(|error| FileError::reading(folder, &error))?;
    let mut photos: Vec<(Option<String>, PathBuf)> = Vec::new();
    for path in entries
        .flatten()
        .map(|entry| entry.path())
        .filter(|path| path.is_file())
    {
        if let Ok(Some(_format)) = photo::sniff(&path) {
            let taken = photo::describe(&path, limits)
                .ok()
                .and_then(|info| info.camera.taken);
            photos.push((taken, path));
        }
    }
    if photos.is_empty() {
        return Err(FileError::parameter(
            folder,
            "there is no photo in this folder; name another one.",
        ));
    }
    photos.sort_by(|(time_a, a), (time_b, b)| time_a.cmp(time_b).then_with(|| by_name(a, b)));
    Ok(photos.into_iter().map(|(_taken, path)| path).collect())
}

fn has_wildcard(name: &Path) -> bool {
    name.file_name()
        .is_some_and(|last| last.to_string_lossy().contains(['*', '?']))
}

fn fitting(pattern: &Path) -> Result<Vec<PathBuf>, FileError> {
    let last: Vec<char> = pattern
        .file_name()
        .map(|last| last.to_string_lossy().chars().collect())
        .unwrap_or_default();
    let folder = match pattern.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _here => Path::new("."),
    };
    let entries = fs::read_dir(folder).map_err(|error| FileError::reading(folder, &error))?;
    let fits = |path: &PathBuf| {
        let name: Vec<char> = path
            .file_name()
            .map(|name| name.to_string_lossy().chars().collect())
            .unwrap_or_default();
        path.is_file() && matches(&last, &name)
    };
    let mut found: Vec<PathBuf> = entries
        .flatten()
        .map(|entry| entry.path())
        .filter(fits)
        .collect();
    if found.is_empty() {
        return Err(FileError::parameter(
            pattern,
            "no file fits this pattern; check the folder and the ending.",
        ));
    }
    found.sort_by(|a, b| by_name(a, b));
    Ok(found)
}

/// Whether `name` fits `pattern`: `*` stands for anything, `?` for one letter.
fn matches(pattern: &[char], name: &[char]) -> bool {
    // Positions to go back to when a star has to take one letter more.
    let (mut at, mut letter, mut star) = (0, 0, None);
    while letter < name.len() {
        if at < pattern.len()
            && (pattern[at] == '?' || pattern[at] == name[letter])
            && pattern[at] != '*'
        {
            at += 1;
            letter += 1;
        } else if at < pattern.len() && pattern[at] == '*' {
            star = Some((at, letter));
            at += 1;
        } else if let Some((star_at, star_letter)) = star {
            star = Some((star_at, star_letter + 1));
            at = star_at + 1;
            letter = star_letter + 1;
        } else {
            return false;
        }
    }
    pattern[at..].iter().all(|rest| *rest == '*')
}

/// Orders names as people do: `frame 9` before `frame 10`.
fn by_name(a: &Path, b: &Path) -> Ordering {
    let pieces = |path: &Path| -> Vec<(u64, String)> {
        let name = path
            .file_name()
            .map(|name| name.to_string_lossy().into_owned())
            .unwrap_or_default();
        let mut pieces = Vec::new();
        let mut rest = name.as_str();
        while !rest.is_empty() {
            let digits = rest
                .find(|letter: char| !letter.is_ascii_digit())
                .unwrap_or(rest.len());
            if digits > 0 {
                pieces.push((rest[..digits].parse().unwrap_or(u64::MAX), String::new()));
                rest = &rest[digits..];
            } else {
                let text = rest
                    .find(|letter: char| letter.is_ascii_digit())
                    .unwrap_or(rest.len());
                pieces.push((u64::MAX, rest[..text].to_owned()));
                rest = &rest[text..];
            }
        }
        pieces
    };
    pieces(a).cmp(&pieces(b)).then_with(|| a.cmp(b))
}

/// Looks for files by content in `folder`, below it, and beside it.
///
/// Only picture files are looked at, up to a bounded depth and number.
#[must_use]
pub fn find_by_content(folder: &Path, wanted: &BTreeSet<[u8; 32]>) -> BTreeMap<[u8; 32], PathBuf> {
    let mut found = BTreeMap::new();
    let mut left = MOST_FILES;
    search(folder, DEEPEST, &mut left, (wanted, &mut found));
    if found.len() < wanted.len()
        && let Some(above) = folder.parent()
    {
        search(above, 2, &mut left, (wanted, &mut found));
    }
    found
}

fn search(
    folder: &Path,
    depth: usize,
    left: &mut usize,
    (wanted, found): (&BTreeSet<[u8; 32]>, &mut BTreeMap<[u8; 32], PathBuf>),
) {
    let Ok(entries) = fs::read_dir(folder) else {
        return;
    };
    let mut paths: Vec<PathBuf> = entries.flatten().map(|entry| entry.path()).collect();
    paths.sort();
    for path in paths {
        if *left == 0 || found.len() == wanted.len() {
            return;
        }
        if path.is_dir() && !path.is_symlink() && depth > 0 {
            search(&path, depth - 1, left, (wanted, found));
        } else if path.is_file() && matches!(photo::sniff(&path), Ok(Some(_))) {
            *left -= 1;
            if let Ok(hash) = digest::content_hash(&path)
                && wanted.contains(&hash)
            {
                found.entry(hash).or_insert(path);
            }
        }
    }
}

/// Whether a name's ending is that of a format that is read.
#[must_use]
pub fn looks_like_photo(path: &Path) -> bool {
    matches!(
        photo::sniff(path),
        Ok(Some(
            PhotoFormat::Jpeg | PhotoFormat::Png | PhotoFormat::Tiff | PhotoFormat::OpenExr
        ))
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_ordered_as_people_do() {
        let mut names = [
            PathBuf::from("f10.tif"),
            PathBuf::from("f9.tif"),
            PathBuf::from("f1.tif"),
        ];
        names.sort_by(|a, b| by_name(a, b));
        assert_eq!(
            names,
            [
                PathBuf::from("f1.tif"),
                PathBuf::from("f9.tif"),
                PathBuf::from("f10.tif")
            ]
        );
    }

    #[test]
    fn patterns_fit_as_in_a_shell() {
        let fits = |pattern: &str, name: &str| {
            matches(
                &pattern.chars().collect::<Vec<_>>(),
                &name.chars().collect::<Vec<_>>(),
            )
        };
        assert!(
            fits("barge_*.jpg", "barge_01.jpg")
                && fits("*", "")
                && fits("a?c", "abc")
                && fits("*a*b", "xxaxab"),
            "fit"
        );
        assert!(
            !fits("barge_*.jpg", "tug_01.jpg") && !fits("a?c", "ac"),
            "do not fit"
        );
    }
}
