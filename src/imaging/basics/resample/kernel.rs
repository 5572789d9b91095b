//! Interpolation kernels as tables of taps.

use crate::pixels::convert::{clamp_index, coordinate, count_f64, low_i32, narrow};
use std::sync::OnceLock;

/// How neighbouring pixels are weighed when a picture is sampled between its pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kernel {
    /// Two taps per axis; soft, for previews and masks.
    Linear,
    /// Four taps per axis (Catmull and Rom 1974).
    Cubic,
    /// Six taps per axis: a sinc windowed by its own main lobe (Duchon 1979). The default for pictures.
    Lanczos3,
}

/// Sub-pixel steps in a table; the place of a sample is off by at most 1/1024 pixel.
pub(super) const PHASES: usize = 512;
/// Taps of the widest table.
pub(super) const MOST_TAPS: usize = 6;

impl Kernel {
    /// Distance in source pixels over which a sample reads, at a magnification of 1.
    #[must_use]
    pub const fn reach(self) -> i32 {
        match self {
            Self::Linear => 1,
            Self::Cubic => 2,
            Self::Lanczos3 => 3,
        }
    }

    /// The kernel at `distance` pixels from its centre, before normalising.
    pub(super) fn at(self, distance: f64) -> f64 {
        let t = distance.abs();
        match self {
            Self::Linear => (1.0 - t).max(0.0),
            Self::Cubic if t < 1.0 => (1.5 * t - 2.5) * t * t + 1.0,
            Self::Cubic if t < 2.0 => ((-0.5 * t + 2.5) * t - 4.0) * t + 2.0,
            Self::Cubic => 0.0,
            Self::Lanczos3 if t < 1e-9 => 1.0,
            Self::Lanczos3 if t < 3.0 => {
                let angle = core::f64::consts::PI * t;
                3.0 * libm::sin(angle) * libm::sin(angle / 3.0) / (angle * angle)
            }
            Self::Lanczos3 => 0.0,
        }
    }
}

/// Terms of each half of the polynomials that weights are made with. Of degree 7 they are within 6e-6 of the kernel, where half a
/// sub-pixel step makes 2e-3.
const TERMS: usize = 4;

/// The weights of a tap and of the one that lies mirrored to it, as polynomials in the way from the middle between two pixels: the powers
/// that are even, and those that are odd, from the highest on. What is odd counts the other way round for the mirrored tap.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Mirrored {
    even: [f32; TERMS],
    odd: [f32; TERMS],
}

impl Mirrored {
    /// The weights of both taps at `off` pixels from the middle, -0.5 to 0.5.
    #[inline(always)]
    pub(super) fn weights(&self, off: f32) -> (f32, f32) {
        let square = off * off;
        let sum = |terms: &[f32; TERMS]| {
            let [a, b, c, d] = terms;
            ((a * square + b) * square + c) * square + d
        };
        let (even, odd) = (sum(&self.even), sum(&self.odd) * off);
        (even + odd, even - odd)
    }
}

/// Weights for every sub-pixel step. Row `phase` holds the weights of the `2 * reach` pixels around the sample, the first of
/// which lies `reach - 1` pixels before the pixel that the sample lies in or after.
#[derive(Debug)]
pub(super) struct Taps {
    pub(super) reach: i32,
    rows: Vec<[f32; MOST_TAPS]>,
    /// What the rows are made with, for the first tap and the last, the second and the last but one, and so on: many weights can be worked
    /// out in one go from them, bit for bit.
    pub(super) mirrored: [Mirrored; MOST_TAPS / 2],
}

impl Taps {
    /// The table of `kernel`, worked out when it is first wanted.
    pub(super) fn of(kernel: Kernel) -> &'static Self {
        static TABLES: [OnceLock<Taps>; 3] = [const { OnceLock::new() }; 3];
        let table = match kernel {
            Kernel::Linear => &TABLES[0],
            Kernel::Cubic => &TABLES[1],
            Kernel::Lanczos3 => &TABLES[2],
        };
        table.get_or_init(|| Self::new(kernel))
    }

    fn new(kernel: Kernel) -> Self {
        let reach = kernel.reach();
        let count = clamp_index(2 * reach);
        let mirrored = core::array::from_fn(|tap| {
            if tap < count / 2 {
                mirrored(kernel, tap)
            } else {
                Mirrored::default()
            }
        });
        let row = |phase: usize| {
            let mut row = [0.0; MOST_TAPS];
            let off = narrow(count_f64(phase) / count_f64(PHASES) - 0.5);
            for (tap, pair) in mirrored.iter().enumerate().take(count / 2) {
                (row[tap], row[count - 1 - tap]) = pair.weights(off);
            }
            row
        };
        Self {
            reach,
            rows: (0..=PHASES).map(row).collect(),
            mirrored,
        }
    }

    pub(super) fn row(&self, phase: usize) -> &[f32; MOST_TAPS] {
        &self.rows[phase]
    }

    pub(super) const fn count(&self) -> usize {
        match self.reach {
            1 => 2,
            2 => 4,
            _ => 6,
        }
    }
}

/// The polynomial that goes through a tap's weights at the Chebyshev points between two pixels, both of them among these: Newton's
/// divided differences, multiplied out.
fn mirrored(kernel: Kernel, tap: usize) -> Mirrored {
    const NODES: usize = 2 * TERMS;
    let angle = |index: usize| core::f64::consts::PI * count_f64(index) / count_f64(NODES - 1);
    let nodes: [f64; NODES] = core::array::from_fn(|index| -0.5 * libm::cos(angle(index)));
    let mut newton = nodes.map(|off| row(kernel, off + 0.5)[tap]);
    for order in 1..NODES {
        for index in (order..NODES).rev() {
            let width = nodes[index] - nodes[index - order];
            newton[index] = (newton[index] - newton[index - 1]) / width;
        }
    }
    let mut powers = [0.0_f64; NODES];
    for (factor, node) in newton.iter().zip(nodes).rev() {
        for power in (1..NODES).rev() {
            powers[power] = powers[power - 1] - node * powers[power];
        }
        powers[0] = factor - node * powers[0];
    }
    let from_highest = |odd: usize| -> [f32; TERMS] {
        core::array::from_fn(|term| narrow(powers[2 * (TERMS - 1 - term) + odd]))
    };
    let mut found = Mirrored {
        even: from_highest(0),
        odd: from_highest(1),
    };
    // On a pixel, half a pixel from the middle, rounding may not mix in what lies beside it.
    let own = narrow(row(kernel, 0.0)[tap]);
    for (terms, sum) in [(&mut found.even, 0.5 * own), (&mut found.odd, -own)] {
        let [a, b, c, last] = terms;
        *last = sum - ((*a * 0.25 + *b) * 0.25 + *c) * 0.25;
    }
    found
}

/// Weights at the fraction `at`. They sum to 1 and their centre of gravity is `at` exactly: a bare windowed sinc moves a ramp by
/// up to a hundredth of a pixel, so what is missing is shared out between the two pixels nearest to the sample.
fn row(kernel: Kernel, at: f64) -> [f64; MOST_TAPS] {
    let reach = kernel.reach();
    let count = clamp_index(2 * reach);
    let mut taps = [0.0_f64; MOST_TAPS];
    let place = |index: usize| f64::from(coordinate(index) + 1 - reach);
    for (index, tap) in taps.iter_mut().enumerate().take(count) {
        *tap = kernel.at(place(index) - at);
    }
    let whole: f64 = taps.iter().sum();
    taps.iter_mut().for_each(|tap| *tap /= whole);
    let gravity: f64 = taps
        .iter()
        .enumerate()
        .map(|(index, tap)| tap * place(index))
        .sum();
    let first = clamp_index(reach - 1);
    taps[first] -= at - gravity;
    taps[first + 1] += at - gravity;
    if at <= 0.0 || at >= 1.0 {
        taps = [0.0; MOST_TAPS];
        taps[if at <= 0.0 { first } else { first + 1 }] = 1.0;
    }
    taps
}

/// The pixel that position `at` (in pixel indices) lies in or after, and the sub-pixel step from there.
#[inline(always)]
pub(super) fn split(at: f64) -> (i32, usize) {
    let steps = steps(at);
    (steps >> STEP_BITS, clamp_index(steps & STEP_MASK))
}

/// Bits of a sub-pixel step: 2 to their power is [`PHASES`].
pub(super) const STEP_BITS: i32 = 9;
pub(super) const STEP_MASK: i32 = (1 << STEP_BITS) - 1;

/// Position `at` in sub-pixel steps, rounded to nearest. Positions beyond four million pixels are pinned there.
#[inline(always)]
pub(super) fn steps(at: f64) -> i32 {
    // Adding one and a half times 2^52 leaves the rounded number in the low bits, without a conversion that checks its range.
    const ROUNDS: f64 = 6_755_399_441_055_744.0;
    const FARTHEST: f64 = 4e6;
    let at = if at < FARTHEST { at } else { FARTHEST };
    let at = if at > -FARTHEST { at } else { -FARTHEST };
    low_i32((at * 512.0 + ROUNDS).to_bits())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn taps_keep_flat_areas_and_ramps() {
        for kernel in [Kernel::Linear, Kernel::Cubic, Kernel::Lanczos3] {
            let taps = Taps::new(kernel);
            for (phase, at) in [(0, 0.0), (PHASES, 1.0)] {
                let exact = row(kernel, at).map(narrow);
                assert_eq!(*taps.row(phase), exact, "{kernel:?} on a pixel");
            }
            for phase in 0..=PHASES {
                let row = taps.row(phase);
                let sum: f32 = row.iter().sum();
                assert!((sum - 1.0).abs() < 1e-6, "{kernel:?} {phase}: sum {sum}");
                let at: f64 = row
                    .iter()
                    .enumerate()
                    .map(|(i, tap)| f64::from(*tap) * f64::from(coordinate(i) + 1 - kernel.reach()))
                    .sum();
                let asked = count_f64(phase) / count_f64(PHASES);
                assert!((at - asked).abs() < 1e-5, "{kernel:?}: {at} for {asked}");
                for (weight, exact) in row.iter().zip(super::row(kernel, asked)) {
                    assert!(
                        (f64::from(*weight) - exact).abs() < 6e-6,
                        "{kernel:?} {phase}"
                    );
                }
            }
        }
    }
}
