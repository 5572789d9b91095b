//! Some files store colour with the coverage already multiplied in; [`crate::pixels::Samples`] keeps them apart. This
//! undoes the file's storage form, as its format defines it, and nothing else.

use crate::pixels::Numbers;
use rayon::prelude::*;

/// Takes the coverage (the last of `channels`) out of the colours. Where nothing is covered the colour is kept as it is.
/// Whole-number codes are rounded to the nearest and pinned to their range.
pub(super) fn take_apart(numbers: &mut Numbers, channels: usize) {
    match numbers {
        Numbers::U8(numbers) => numbers.par_chunks_exact_mut(channels).for_each(|pixel| {
            if let Some((coverage, colour)) = pixel.split_last_mut() {
                for code in colour {
                    let apart = divided(u64::from(*code), u64::from(*coverage), 255);
                    *code = u8::try_from(apart).unwrap_or(u8::MAX);
                }
            }
        }),
        Numbers::U16(numbers) => numbers.par_chunks_exact_mut(channels).for_each(|pixel| {
            if let Some((coverage, colour)) = pixel.split_last_mut() {
                for code in colour {
                    let apart = divided(u64::from(*code), u64::from(*coverage), 65_535);
                    *code = u16::try_from(apart).unwrap_or(u16::MAX);
                }
            }
        }),
        Numbers::F32(numbers) => numbers.par_chunks_exact_mut(channels).for_each(|pixel| {
            if let Some((coverage, colour)) = pixel.split_last_mut()
                && *coverage > 0.0
            {
                colour.iter_mut().for_each(|value| *value /= *coverage);
            }
        }),
    }
}

fn divided(code: u64, coverage: u64, largest: u64) -> u64 {
    match coverage {
        0 => code,
        some => (code * largest + some / 2) / some,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn colour_comes_back() {
        let mut numbers = Numbers::U8(vec![64, 128, 255, 0, 7, 0]);
        take_apart(&mut numbers, 2);
        assert_eq!(numbers, Numbers::U8(vec![128, 128, 255, 0, 7, 0]));
        let mut numbers = Numbers::F32(vec![0.25, 0.5, 0.125, 0.5]);
        take_apart(&mut numbers, 4);
        assert_eq!(numbers, Numbers::F32(vec![0.5, 1.0, 0.25, 0.5]));
    }
}
