//! Parts of photos decoded into planes, row by row.

use super::{ColourError, Decoder, Reader};
use crate::geometry::Rect;
use crate::imaging::basics::colour::luma;
use crate::imaging::basics::wide::wide;
use crate::pixels::{Plane, Planes, Samples};
use rayon::prelude::*;

/// Rows that one thread decodes at a time; no value depends on it.
const ROWS: usize = 16;

impl Decoder {
    /// The part of `samples` inside `rect` as an opaque picture; coverage, if stored, is left out. Outside the photo it is black.
    ///
    /// # Errors
    /// [`ColourError::Channels`], [`ColourError::Numbers`], or a profile that fails on these numbers.
    pub fn decode_planes(&self, samples: &Samples, rect: Rect) -> Result<Planes, ColourError> {
        self.decode_finished(samples, rect, &|_rows| ())
    }

    /// The same with red, green and blue of each row put through `finish` while they are near.
    ///
    /// # Errors
    /// As [`Decoder::decode_planes`].
    pub fn decode_finished(
        &self,
        samples: &Samples,
        rect: Rect,
        finish: &(impl Fn([&mut [f32]; 3]) + Sync),
    ) -> Result<Planes, ColourError> {
        let reader = self.reader(samples, rect)?;
        let mut out = Planes::unwritten(rect);
        let width = rect.width().max(1);
        let [red, green, blue] = &mut out.rgb;
        red.data
            .par_chunks_mut(width)
            .zip(green.data.par_chunks_mut(width))
            .zip(blue.data.par_chunks_mut(width))
            .enumerate()
            .try_for_each(|(row, ((red, green), blue))| {
                reader.write_row(row, [&mut *red, &mut *green, &mut *blue])?;
                finish([red, green, blue]);
                Ok(())
            })?;
        Ok(out)
    }

    /// The luminance of [`Decoder::decode_finished`], without its colours having to be kept.
    ///
    /// # Errors
    /// As [`Decoder::decode_planes`].
    pub fn decode_luma(
        &self,
        samples: &Samples,
        rect: Rect,
        finish: &(impl Fn([&mut [f32]; 3]) + Sync),
    ) -> Result<Plane, ColourError> {
        let reader = self.reader(samples, rect)?;
        let mut out = Plane::unwritten(rect);
        let width = rect.width().max(1);
        let bands = out.data.par_chunks_mut(width * ROWS);
        bands.enumerate().try_for_each(|(band, rows)| {
            let mut room = [(); 3].map(|()| vec![0.0_f32; width]);
            for (offset, out) in rows.chunks_mut(width).enumerate() {
                let [red, green, blue] = &mut room;
                reader.write_row(band * ROWS + offset, [&mut *red, &mut *green, &mut *blue])?;
                finish([&mut *red, &mut *green, &mut *blue]);
                wide(
                    #[inline(always)]
                    || {
                        let colours = red.iter().zip(green.iter().zip(blue.iter()));
                        for (out, (red, (green, blue))) in out.iter_mut().zip(colours) {
                            *out = luma([*red, *green, *blue]);
                        }
                    },
                );
            }
            Ok(())
        })?;
        Ok(out)
    }
}

impl Reader<'_> {
    /// Writes a whole row of the rectangle, black outside the photo.
    fn write_row(
        &self,
        row: usize,
        [red, green, blue]: [&mut [f32]; 3],
    ) -> Result<(), ColourError> {
        if self.met != self.rect {
            [&mut *red, &mut *green, &mut *blue]
                .into_iter()
                .for_each(|values| values.fill(0.0));
        }
        if self.row_of_tables(row, [&mut *red, &mut *green, &mut *blue]) {
            return Ok(());
        }
        self.row(row, |x, colour, _| {
            (red[x], green[x], blue[x]) = (colour[0], colour[1], colour[2]);
        })
    }
}
