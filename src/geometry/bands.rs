//! Fixed bands of rows, so that sums taken in parallel are always added up in the same order.

use std::ops::Range;

/// Height of a band in rows. Fixed, so that no result depends on how many threads there are.
pub const BAND_ROWS: usize = 64;

/// The bands of a picture of `height` rows, from the top.
pub fn bands(height: usize) -> impl Iterator<Item = Range<usize>> {
    (0..height)
        .step_by(BAND_ROWS)
        .map(move |first| first..(first + BAND_ROWS).min(height))
}
