//! How much of the key light a lit pass still holds, read where the new lamps do not reach.

use super::BlockMeans;
use super::gains::shared;
use crate::imaging::basics::statistics::{median, percentile};
use crate::pixels::convert::{count_f32, narrow};

/// How sure a finding is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Certainty {
    /// It is not so.
    No,
    /// The picture does not settle it; ask.
    Unclear,
    /// It is so.
    Yes,
}

/// The key light's share in a lit pass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KeyLight {
    /// Per channel: light of the lit pass over light of the unlit frame where no lamp reaches; 0 when the key was off. Where that is
    /// unclear, the lower end of all blocks.
    pub gain_rgb: [f32; 3],
    /// Share of the usable blocks that no lamp reaches.
    pub share_unlit: f32,
    /// Whether the key light was switched off.
    pub off: Certainty,
}

/// Blocks of the lower envelope are looked for below this percentile of the ratios.
const ENVELOPE: f32 = 0.7;
/// A key at less than this gain counts as off.
const OFF_BELOW: f32 = 0.02;
/// Below this share of unlit blocks, spread over this many noise widths, the envelope is not trusted.
const LEAST_UNLIT: f32 = 0.04;
/// Fewer blocks than this say nothing.
const LEAST_BLOCKS: usize = 12;
/// Least width of the unlit cluster as a share: texture and residual misregistration.
const LEAST_WIDTH: f32 = 1.5e-3;

/// The gain of the key light between an unlit frame and a lit pass of the same view.
///
/// `noise` is the relative deviation of one block's ratio from noise alone (0 if unknown). Lamps only add light, so the unlit
/// blocks are the lowest cluster of the ratios lit / unlit: its densest part gives the gain, refined with the blocks that
/// agree with it in all three channels.
#[must_use]
pub fn key_light(unlit: &BlockMeans, lit: &BlockMeans, noise: f32) -> KeyLight {
    let ratios: Vec<[f32; 3]> = shared(unlit, lit)
        .iter()
        .map(|(a, b)| [b[0] / a[0], b[1] / a[1], b[2] / a[2]])
        .collect();
    let nothing = KeyLight {
        gain_rgb: [0.0; 3],
        share_unlit: 0.0,
        off: Certainty::Unclear,
    };
    if ratios.len() < LEAST_BLOCKS {
        return nothing;
    }
    let channel = |index: usize| -> Vec<f32> { ratios.iter().map(|ratio| ratio[index]).collect() };
    let lowest = [0, 1, 2].map(|index| percentile(&channel(index), 0.1).unwrap_or(0.0));
    let mut gain = [0, 1, 2].map(|index| densest(&channel(index)));
    let width = (3.0 * noise).max(LEAST_WIDTH);
    let mut share = 0.0;
    for _ in 0..4 {
        let agreeing: Vec<&[f32; 3]> = ratios
            .iter()
            .filter(|ratio| {
                ratio
                    .iter()
                    .zip(gain)
                    .all(|(value, gain)| (value - gain).abs() <= width * gain)
            })
            .collect();
        share = count_f32(agreeing.len()) / count_f32(ratios.len());
        if agreeing.len() < 4 {
            break;
        }
        gain = [0, 1, 2].map(|index| {
            let values: Vec<f32> = agreeing.iter().map(|ratio| ratio[index]).collect();
            median(&values).unwrap_or(gain[index])
        });
    }
    let clear = share >= LEAST_UNLIT && gain.iter().all(|value| *value > OFF_BELOW);
    if clear {
        return KeyLight {
            gain_rgb: gain,
            share_unlit: share,
            off: Certainty::No,
        };
    }
    let dark = lowest.iter().all(|value| *value < OFF_BELOW);
    KeyLight {
        share_unlit: if dark { dark_share(&ratios) } else { share },
        off: if dark {
            Certainty::Yes
        } else {
            Certainty::Unclear
        },
        // Lamps only add: what most blocks have at least is nearer to the key light's share than nothing is.
        gain_rgb: if dark { [0.0; 3] } else { lowest },
    }
}

fn dark_share(ratios: &[[f32; 3]]) -> f32 {
    let dark = ratios
        .iter()
        .filter(|ratio| ratio.iter().all(|value| *value < OFF_BELOW));
    count_f32(dark.count()) / count_f32(ratios.len())
}

/// The densest place among the lower ratios: the shortest interval that holds half of what is left, again and again.
///
/// *Source*: Robertson and Cryer 1974, the half-sample mode, on logarithms.
fn densest(ratios: &[f32]) -> f32 {
    let mut logs: Vec<f64> = ratios
        .iter()
        .filter(|value| **value > 1e-6)
        .map(|value| libm::log(f64::from(*value)))
        .collect();
    logs.sort_unstable_by(f64::total_cmp);
    let cut = percentile(
        &logs
            .iter()
            .map(|value| narrow(*value))
            .collect::<Vec<f32>>(),
        ENVELOPE,
    );
    let Some(cut) = cut else {
        return 0.0;
    };
    logs.retain(|value| *value <= f64::from(cut) + 1e-6);
    let mut part: &[f64] = &logs;
    while part.len() > 6 {
        let half = part.len().div_ceil(2);
        let mut best = 0;
        for first in 0..=part.len() - half {
            let width = |at: usize| part[at + half - 1] - part[at];
            if width(first) < width(best) {
                best = first;
            }
        }
        part = &part[best..best + half];
    }
    part.get(part.len() / 2)
        .map_or(0.0, |middle| narrow(libm::exp(*middle)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 400 blocks; a lamp in one corner adds light that falls off with distance.
    fn pair(key: f32) -> (BlockMeans, BlockMeans) {
        let mut unlit = Vec::new();
        let mut lit = Vec::new();
        for index in 0..400_u16 {
            let (x, y) = (f32::from(index % 20), f32::from(index / 20));
            let noise = 1.0 + 3e-4 * (f32::from(index * 31 % 17) / 8.0 - 1.0);
            let base = [0.12, 0.15, 0.1].map(|value| value * (0.6 + f32::from(index % 11) / 10.0));
            let lamp = 0.8 * (1.0 - (x * x + y * y).sqrt() / 17.0).max(0.0);
            unlit.push(Some(base));
            lit.push(Some(base.map(|value| value * (key * noise + lamp))));
        }
        let blocks = |rgb| BlockMeans {
            columns: 20,
            rows: 20,
            side_px: 32,
            rgb,
        };
        (blocks(unlit), blocks(lit))
    }

    #[test]
    fn the_key_is_read_beside_the_lamps() {
        for key in [1.0, 0.987, 0.15] {
            let (unlit, lit) = pair(key);
            let found = key_light(&unlit, &lit, 3e-4);
            assert_eq!(found.off, Certainty::No, "{found:?}");
            for gain in found.gain_rgb {
                assert!((gain / key - 1.0).abs() < 1e-3, "{key}: {found:?}");
            }
            assert!(
                found.share_unlit > 0.3 && found.share_unlit < 0.6,
                "{found:?}"
            );
        }
    }

    #[test]
    fn a_key_that_is_off_is_seen() {
        let (unlit, lit) = pair(0.0);
        let found = key_light(&unlit, &lit, 3e-4);
        assert_eq!((found.off, found.gain_rgb), (Certainty::Yes, [0.0; 3]));
    }

    #[test]
    fn too_few_blocks_are_unclear() {
        let none = BlockMeans {
            columns: 2,
            rows: 1,
            side_px: 32,
            rgb: vec![None; 2],
        };
        assert_eq!(key_light(&none, &none, 0.0).off, Certainty::Unclear);
    }
}
