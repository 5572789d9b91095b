//! Turns a picture upright by permuting its pixels. The eight cases are those of tag 274 in TIFF 6.0 and Exif 3.0.

use crate::geometry::Size;
use crate::pixels::{Numbers, Samples};
use rayon::prelude::*;

/// The size after turning.
pub(super) fn upright_size(size: Size, orientation: u8) -> Size {
    if orientation >= 5 {
        Size::new(size.height, size.width)
    } else {
        size
    }
}

/// The picture, upright.
pub(super) fn upright(stored: Samples, orientation: u8) -> Samples {
    if orientation <= 1 {
        return stored;
    }
    let turn = Turn {
        width: stored.size.width as usize,
        height: stored.size.height as usize,
        channels: stored.channels,
        orientation,
    };
    let numbers = match &stored.numbers {
        Numbers::U8(numbers) => Numbers::U8(turn.permute(numbers)),
        Numbers::U16(numbers) => Numbers::U16(turn.permute(numbers)),
        Numbers::F32(numbers) => Numbers::F32(turn.permute(numbers)),
    };
    Samples {
        size: upright_size(stored.size, orientation),
        channels: stored.channels,
        numbers,
        encoding: stored.encoding,
    }
}

struct Turn {
    width: usize,
    height: usize,
    channels: usize,
    orientation: u8,
}

impl Turn {
    fn permute<T: Copy + Default + Send + Sync>(&self, stored: &[T]) -> Vec<T> {
        let n = self.channels;
        let out_width = if self.orientation >= 5 {
            self.height
        } else {
            self.width
        };
        let mut turned = vec![T::default(); stored.len()];
        turned
            .par_chunks_exact_mut(out_width * n)
            .enumerate()
            .for_each(|(y, row)| {
                for (x, pixel) in row.chunks_exact_mut(n).enumerate() {
                    let (from_x, from_y) = self.source(x, y);
                    let start = (from_y * self.width + from_x) * n;
                    pixel.copy_from_slice(&stored[start..start + n]);
                }
            });
        turned
    }

    /// Where the upright pixel (x, y) is stored.
    fn source(&self, x: usize, y: usize) -> (usize, usize) {
        let (right, bottom) = (self.width - 1, self.height - 1);
        match self.orientation {
            2 => (right - x, y),
            3 => (right - x, bottom - y),
            4 => (x, bottom - y),
            5 => (y, x),
            6 => (y, bottom - x),
            7 => (right - y, bottom - x),
            8 => (right - y, x),
            _ => (x, y),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pixels::ColourEncoding;

    /// The letter F, drawn as in the figure that every description of the tag shows: upright it is 4 x 5.
    const UPRIGHT: [&str; 5] = ["####", "#...", "###.", "#...", "#..."];
    /// The same letter as the eight values store it (TIFF 6.0, tag 274: where row 0 and column 0 are seen).
    const STORED: [&[&str]; 8] = [
        &["####", "#...", "###.", "#...", "#..."],
        &["####", "...#", ".###", "...#", "...#"],
        &["...#", "...#", ".###", "...#", "####"],
        &["#...", "#...", "###.", "#...", "####"],
        &["#####", "#.#..", "#.#..", "#...."],
        &["#....", "#.#..", "#.#..", "#####"],
        &["....#", "..#.#", "..#.#", "#####"],
        &["#####", "..#.#", "..#.#", "....#"],
    ];

    #[test]
    fn all_eight_come_out_upright() {
        for (code, stored) in (1_u8..).zip(STORED) {
            let bytes: Vec<u8> = stored.concat().into_bytes();
            let samples = Samples {
                size: Size::new(
                    u32::try_from(stored[0].len()).unwrap(),
                    u32::try_from(stored.len()).unwrap(),
                ),
                channels: 1,
                numbers: Numbers::U8(bytes),
                encoding: ColourEncoding::srgb(),
            };
            let turned = upright(samples, code);
            assert_eq!(turned.size, Size::new(4, 5));
            assert_eq!(
                turned.numbers,
                Numbers::U8(UPRIGHT.concat().into_bytes()),
                "orientation {code}"
            );
        }
    }
}
