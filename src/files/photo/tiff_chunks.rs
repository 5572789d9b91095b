//! Strips and tiles of a TIFF to rows of numbers.

use super::tiff::{FileDecoder, decoder, told};
use super::{Source, coverage, decoding};
use crate::files::FileError;
use crate::geometry::Size;
use crate::pixels::{Numbers, convert};
use rayon::prelude::*;
use tiff::decoder::{ChunkType, DecodingResult};

/// How numbers are stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    U8,
    U16,
    F16,
    F32,
    F64,
}

impl Kind {
    pub(super) const fn floating(self) -> bool {
        matches!(self, Self::F16 | Self::F32 | Self::F64)
    }

    pub(super) const fn bits(self) -> u32 {
        match self {
            Self::U8 => 8,
            Self::U16 | Self::F16 => 16,
            Self::F32 => 32,
            Self::F64 => 64,
        }
    }

    pub(super) const fn bytes_in_memory(self) -> u64 {
        match self {
            Self::U8 => 1,
            Self::U16 => 2,
            Self::F16 | Self::F32 | Self::F64 => 4,
        }
    }
}

/// How the picture lies in its file.
#[derive(Debug)]
pub(super) struct Layout {
    pub(super) size: Size,
    /// Numbers per pixel that the decoder gives.
    pub(super) samples: usize,
    /// The first so many of them are kept.
    pub(super) kept: usize,
    /// Whether coverage is multiplied into the colours.
    pub(super) multiplied_in: bool,
    /// Whether each channel has its own chunks.
    pub(super) planar: bool,
    pub(super) kind: Kind,
}

impl Layout {
    fn width(&self) -> usize {
        self.size.width as usize
    }

    fn height(&self) -> usize {
        self.size.height as usize
    }

    fn count(&self) -> usize {
        self.width() * self.height() * self.kept
    }
}

/// All numbers of the picture.
pub(super) fn read(
    source: &Source<'_>,
    mut decoder: FileDecoder,
    layout: &Layout,
) -> Result<Numbers, FileError> {
    let strips = decoder.get_chunk_type() == ChunkType::Strip;
    let straight = strips && !layout.planar && layout.kept == layout.samples;
    let count = layout.count();
    let mut numbers = match layout.kind {
        Kind::U8 => {
            let mut numbers = vec![0_u8; count];
            if straight {
                strips_at_once(source, &mut decoder, layout, &mut numbers)?;
            } else {
                one_by_one(source, &mut decoder, layout, &mut numbers)?;
            }
            Numbers::U8(numbers)
        }
        Kind::U16 => {
            let mut numbers = vec![0_u16; count];
            if straight {
                strips_at_once(source, &mut decoder, layout, &mut numbers)?;
            } else {
                one_by_one(source, &mut decoder, layout, &mut numbers)?;
            }
            Numbers::U16(numbers)
        }
        Kind::F16 | Kind::F32 | Kind::F64 => {
            let mut numbers = vec![0.0_f32; count];
            if straight && layout.kind == Kind::F32 {
                strips_at_once(source, &mut decoder, layout, &mut numbers)?;
            } else {
                one_by_one(source, &mut decoder, layout, &mut numbers)?;
            }
            Numbers::F32(numbers)
        }
    };
    if layout.multiplied_in {
        coverage::take_apart(&mut numbers, layout.kept);
    }
    Ok(numbers)
}

/// Every strip goes straight into its rows; several decoders on the same file share the work.
fn strips_at_once<T: bytemuck::Pod + Send>(
    source: &Source<'_>,
    first: &mut FileDecoder,
    layout: &Layout,
    numbers: &mut [T],
) -> Result<(), FileError> {
    let rows = (first.chunk_dimensions().1 as usize).min(layout.height());
    if rows == 0 {
        return Err(decoding(source.path, &"its strips have no rows"));
    }
    let strips = layout.height().div_ceil(rows);
    let found = first.strip_count().map_err(|error| told(source, &error))? as usize;
    if found < strips {
        return Err(decoding(source.path, &"strips are missing"));
    }
    numbers
        .par_chunks_mut(rows * layout.width() * layout.kept)
        .enumerate()
        .try_for_each_init(
            || decoder(source),
            |decoder, (index, band)| {
                let decoder = match decoder {
                    Ok(decoder) => decoder,
                    Err(error) => {
                        return Err(decoding(source.path, error));
                    }
                };
                let index = u32::try_from(index).unwrap_or(u32::MAX);
                decoder
                    .read_chunk_bytes(index, bytemuck::cast_slice_mut(band))
                    .map_err(|error| told(source, &error))
            },
        )
}

/// Where the numbers of one kind of file go.
trait Target: Copy {
    /// The decoded chunk as numbers of this kind, or nothing where the library gave another.
    fn chunk(result: DecodingResult) -> Option<Vec<Self>>;
}

impl Target for u8 {
    fn chunk(result: DecodingResult) -> Option<Vec<Self>> {
        if let DecodingResult::U8(numbers) = result {
            Some(numbers)
        } else {
            None
        }
    }
}

impl Target for u16 {
    fn chunk(result: DecodingResult) -> Option<Vec<Self>> {
        if let DecodingResult::U16(numbers) = result {
            Some(numbers)
        } else {
            None
        }
    }
}

impl Target for f32 {
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "every other kind of number is refused"
    )]
    fn chunk(result: DecodingResult) -> Option<Vec<Self>> {
        match result {
            DecodingResult::F16(numbers) => {
                Some(numbers.into_iter().map(half::f16::to_f32).collect())
            }
            DecodingResult::F32(numbers) => Some(numbers),
            DecodingResult::F64(numbers) => {
                Some(numbers.into_iter().map(convert::narrow).collect())
            }
            _ => None,
        }
    }
}

/// Any other arrangement: tiles, planes, numbers to leave out or to widen.
fn one_by_one<T: Target>(
    source: &Source<'_>,
    decoder: &mut FileDecoder,
    layout: &Layout,
    numbers: &mut [T],
) -> Result<(), FileError> {
    let (across, down) = decoder.chunk_dimensions();
    let (across, down) = (across as usize, down as usize);
    if across == 0 || down == 0 {
        return Err(decoding(source.path, &"its tiles have no pixels"));
    }
    let columns = layout.width().div_ceil(across);
    let per_plane = columns * layout.height().div_ceil(down);
    let planes = if layout.planar { layout.kept } else { 1 };
    let found = match decoder.get_chunk_type() {
        ChunkType::Strip => decoder.strip_count(),
        ChunkType::Tile => decoder.tile_count(),
    }
    .map_err(|error| told(source, &error))? as usize;
    if found < per_plane * planes {
        return Err(decoding(source.path, &"strips or tiles are missing"));
    }
    for chunk in 0..per_plane * planes {
        let index = u32::try_from(chunk).unwrap_or(u32::MAX);
        let size = decoder.chunk_data_dimensions(index);
        let decoded = decoder
            .read_chunk(index)
            .map_err(|error| told(source, &error))?;
        let Some(decoded) = T::chunk(decoded) else {
            return Err(decoding(
                source.path,
                &"its numbers are not what its header says",
            ));
        };
        let (plane, place) = (chunk / per_plane, chunk % per_plane);
        let part = Part {
            left: (place % columns) * across,
            top: (place / columns) * down,
            width: size.0 as usize,
            height: size.1 as usize,
            plane: layout.planar.then_some(plane),
        };
        part.paste(&decoded, layout, numbers)
            .ok_or_else(|| decoding(source.path, &"its strips or tiles have the wrong size"))?;
    }
    Ok(())
}

/// One chunk's place in the picture.
struct Part {
    left: usize,
    top: usize,
    width: usize,
    height: usize,
    plane: Option<usize>,
}

impl Part {
    fn paste<T: Copy>(&self, chunk: &[T], layout: &Layout, numbers: &mut [T]) -> Option<()> {
        let kept = layout.kept;
        let stored = if self.plane.is_some() {
            1
        } else {
            layout.samples
        };
        for row in 0..self.height {
            let from = chunk.get(row * self.width * stored..(row + 1) * self.width * stored)?;
            let start = ((self.top + row) * layout.width() + self.left) * kept;
            let to = numbers.get_mut(start..start + self.width * kept)?;
            for (to, from) in to.chunks_exact_mut(kept).zip(from.chunks_exact(stored)) {
                match self.plane {
                    Some(plane) => to[plane] = from[0],
                    None => to.copy_from_slice(&from[..kept]),
                }
            }
        }
        Some(())
    }
}
