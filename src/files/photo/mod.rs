//! Picture files to samples: which format it is (by content, not by name), how large, what the numbers mean, and the
//! numbers themselves, exactly as stored but turned upright.

mod coverage; // stored multiplied in, wanted apart
mod exr;
mod icc; // embedded colour profiles
mod info; // what the metadata says
mod jpeg;
mod jpeg_marks; // is a JPEG whole, and of a kind that is read
mod orientation; // turned by permuting
mod png;
mod tiff;
mod tiff_chunks; // strips and tiles to rows

use crate::files::{FileError, Limits, fence};
use crate::pixels::{ColourEncoding, Numbers, Samples};
pub use info::{CameraInfo, PhotoFormat, PhotoInfo};
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// A photo, upright, with what its file says about it.
#[derive(Debug, Clone, PartialEq)]
pub struct Photo {
    /// The numbers, as stored.
    pub samples: Samples,
    /// What the header and the metadata say.
    pub info: PhotoInfo,
}

/// Whether the pixels are wanted too.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Depth {
    Header,
    Whole,
}

/// The file being read.
struct Source<'a> {
    path: &'a Path,
    bytes: u64,
    limits: &'a Limits,
}

/// What a format's reader hands back, still lying as stored; no numbers where only the header was wanted.
struct Decoded {
    info: PhotoInfo,
    channels: usize,
    encoding: ColourEncoding,
    numbers: Option<Numbers>,
}

/// Reads a photo.
///
/// # Errors
/// One [`FileError`], whatever is wrong with the file: missing, damaged or cut short, too large, of a kind that is not
/// read, or refused by the system.
pub fn open(path: &Path, limits: &Limits) -> Result<Photo, FileError> {
    let decoded = read(path, limits, Depth::Whole)?;
    let Some(numbers) = decoded.numbers else {
        return Err(FileError::damaged(
            path,
            "the picture has no pixels; copy the file again from where it came from.",
        ));
    };
    let mut info = decoded.info;
    let stored = Samples {
        size: info.size,
        channels: decoded.channels,
        numbers,
        encoding: decoded.encoding,
    };
    let samples = orientation::upright(stored, info.orientation);
    info.size = samples.size;
    Ok(Photo { samples, info })
}

/// Reads what a photo's header and metadata say, without its pixels. [`PhotoInfo::size`] is the upright size.
///
/// # Errors
/// As [`open`], as far as the header shows it.
pub fn describe(path: &Path, limits: &Limits) -> Result<PhotoInfo, FileError> {
    let mut info = read(path, limits, Depth::Header)?.info;
    info.size = orientation::upright_size(info.size, info.orientation);
    Ok(info)
}

/// The format of the file by its first bytes, or nothing where it is not a picture of a kind that is read.
///
/// # Errors
/// [`FileError`] where the file can't be read at all.
pub fn sniff(path: &Path) -> Result<Option<PhotoFormat>, FileError> {
    let mut start = Vec::new();
    File::open(path)
        .and_then(|file| file.take(16).read_to_end(&mut start))
        .map_err(|error| FileError::reading(path, &error))?;
    Ok(PhotoFormat::of_content(&start))
}

fn read(path: &Path, limits: &Limits, depth: Depth) -> Result<Decoded, FileError> {
    let metadata = std::fs::metadata(path).map_err(|error| FileError::reading(path, &error))?;
    if metadata.is_dir() {
        return Err(FileError::parameter(
            path,
            "this is a folder, not a file; name a file in it.",
        ));
    }
    if !metadata.is_file() {
        return Err(FileError::parameter(
            path,
            "this is a device or a pipe, not a file; name a picture file.",
        ));
    }
    if metadata.len() == 0 {
        return Err(FileError::damaged(
            path,
            "the file is empty; copy it again from where it came from.",
        ));
    }
    let source = Source {
        path,
        bytes: metadata.len(),
        limits,
    };
    let Some(format) = sniff(path)? else {
        return Err(FileError::not_supported(
            path,
            "this is not a picture that is read here; use a TIFF, PNG, JPEG or OpenEXR file.",
        ));
    };
    fenced(path, || match format {
        PhotoFormat::Jpeg => jpeg::read(&source, depth),
        PhotoFormat::Tiff => tiff::read(&source, depth),
        PhotoFormat::Png => png::read(&source, depth),
        PhotoFormat::OpenExr => exr::read(&source, depth),
    })
}

/// A decoder that panics is a decoder that met a damaged file.
fn fenced<T>(path: &Path, work: impl FnOnce() -> Result<T, FileError>) -> Result<T, FileError> {
    fence::fenced(work).unwrap_or_else(|| {
        Err(FileError::damaged(
            path,
            "the file is damaged and could not be decoded; copy it again from where it came from.",
        ))
    })
}

/// What a decoding library said, as one sentence.
fn decoding(path: &Path, said: &dyn std::fmt::Display) -> FileError {
    FileError::damaged(
        path,
        format!("the file is damaged ({said}); copy it again from where it came from."),
    )
}

/// The sentence for a file whose end is missing.
fn cut_short(path: &Path) -> FileError {
    FileError::damaged(
        path,
        "the file is cut short; copy it again from where it came from.",
    )
}

/// Refuses a header that promises more than its file can hold. Deflate packs at most 1032 to 1 (RFC 1951) and LZW with
/// 12-bit codes about 2600 to 1, so nothing is allocated for a few bytes that claim to be a large picture.
fn plausible(source: &Source<'_>, numbers_bytes: u64) -> Result<(), FileError> {
    const MOST: u64 = 4000;
    if numbers_bytes / MOST > source.bytes {
        return Err(cut_short(source.path));
    }
    Ok(())
}
