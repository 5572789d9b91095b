//! Putting frames given in any order into focus order, by what is sharp in them.

use super::BlockEnergy;
use crate::imaging::basics::statistics::{median, percentile};
use crate::pixels::convert::{count_f64, narrow};
use nalgebra::DMatrix;

/// Frames in focus order.
#[derive(Debug, Clone, PartialEq)]
pub struct FocusOrder {
    /// Indices of the given frames from one end of the focus range to the other.
    pub order: Vec<usize>,
    /// Pairs of frames focused at the same distance, lower index first.
    pub duplicates: Vec<(usize, usize)>,
    /// Whether the direction (near first) comes from distances; otherwise only the order is known and either end may be near.
    pub near_first: bool,
}

/// Two frames that differ by less than this share of the usual step are duplicates.
const SAME_SHARE: f64 = 0.3;

/// Puts `frames` into focus order.
///
/// `distances` are focus distances from the files, in any one unit, as far as known; they only settle which end comes first
/// (near first). Without them the end with more fine detail comes first, the lower index on a tie. Neighbours in focus look
/// alike block by block, so the order is the one along which sharpness changes least: the Fiedler vector of the
/// likeness between frames, then exchanges until no reversal of a part makes the path shorter.
/// *Source*: Atkins, Boman and Hendrickson 1998, "A spectral algorithm for seriation".
#[must_use]
pub fn focus_order(frames: &[BlockEnergy], distances: &[Option<f64>]) -> FocusOrder {
    let n = frames.len();
    let gaps = gaps(frames);
    let mut order: Vec<usize> = if n < 3 {
        (0..n).collect()
    } else {
        spectral(&gaps)
    };
    shorten(&mut order, &gaps);
    let near_first = orient(&mut order, frames, distances);
    FocusOrder {
        duplicates: duplicates(&order, &gaps),
        order,
        near_first,
    }
}

/// How differently two frames spread their sharpness over the blocks, 0 = alike.
fn gaps(frames: &[BlockEnergy]) -> DMatrix<f64> {
    let n = frames.len();
    let blocks = frames
        .iter()
        .map(|frame| frame.energy.len())
        .min()
        .unwrap_or(0);
    let mut logs = vec![Vec::with_capacity(blocks); n];
    for block in 0..blocks {
        let best = frames
            .iter()
            .map(|frame| frame.energy[block])
            .fold(0.0, f32::max);
        let noise = frames.iter().map(|frame| frame.noise).fold(0.0, f32::max);
        if best <= 3.0 * noise || best <= 0.0 {
            continue;
        }
        for (log, frame) in logs.iter_mut().zip(frames) {
            let share = f64::from(frame.energy[block]) / f64::from(best);
            log.push(libm::log(share + 0.02));
        }
    }
    DMatrix::from_fn(n, n, |i, j| {
        let sum: f64 = logs[i]
            .iter()
            .zip(&logs[j])
            .map(|(a, b)| (a - b).abs())
            .sum();
        sum / count_f64(logs[i].len().max(1))
    })
}

fn spectral(gaps: &DMatrix<f64>) -> Vec<usize> {
    let n = gaps.nrows();
    // The likeness falls off over about the gap to the nearest other frame, so that far frames do not blur the order.
    let nearest: Vec<f32> = (0..n)
        .map(|i| {
            let others = (0..n).filter(|j| *j != i).map(|j| gaps[(i, j)]);
            narrow(others.fold(f64::INFINITY, f64::min))
        })
        .collect();
    let reach = f64::from(median(&nearest).unwrap_or(1.0)).max(1e-9) * 2.0;
    let like = DMatrix::from_fn(n, n, |i, j| {
        if i == j {
            0.0
        } else {
            libm::exp(-gaps[(i, j)] / reach) + 1e-6
        }
    });
    let laplacian = DMatrix::from_fn(n, n, |i, j| {
        if i == j {
            like.row(i).sum()
        } else {
            -like[(i, j)]
        }
    });
    let eigen = laplacian.symmetric_eigen();
    let mut by_value: Vec<usize> = (0..n).collect();
    by_value.sort_by(|a, b| eigen.eigenvalues[*a].total_cmp(&eigen.eigenvalues[*b]));
    let place = eigen.eigenvectors.column(by_value[1]);
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|a, b| place[*a].total_cmp(&place[*b]).then(a.cmp(b)));
    order
}

/// Reverses parts of the path, or moves one frame elsewhere, while that makes the path shorter.
fn shorten(order: &mut Vec<usize>, gaps: &DMatrix<f64>) {
    let n = order.len();
    let length = |path: &[usize]| {
        path.windows(2)
            .map(|pair| gaps[(pair[0], pair[1])])
            .sum::<f64>()
    };
    let mut shortest = length(order);
    for _ in 0..n.max(1) * 2 {
        let mut improved = false;
        for first in 0..n {
            for last in 0..n {
                let mut tried = order.clone();
                if first < last {
                    tried[first..=last].reverse();
                } else {
                    let frame = tried.remove(first);
                    tried.insert(last, frame);
                }
                let tried_length = length(&tried);
                if tried_length < shortest - 1e-12 {
                    shortest = tried_length;
                    *order = tried;
                    improved = true;
                }
            }
        }
        if !improved {
            break;
        }
    }
}

/// Turns the order round if its end should come first; whether distances settled it.
fn orient(order: &mut [usize], frames: &[BlockEnergy], distances: &[Option<f64>]) -> bool {
    let known: Vec<f64> = order
        .iter()
        .filter_map(|index| distances.get(*index).copied().flatten())
        .collect();
    let (mut rising, mut falling) = (0, 0);
    for (at, one) in known.iter().enumerate() {
        rising += known[at + 1..].iter().filter(|other| *other > one).count();
        falling += known[at + 1..].iter().filter(|other| *other < one).count();
    }
    if rising != falling {
        if falling > rising {
            order.reverse();
        }
        return true;
    }
    if let (Some(&first), Some(&last)) = (order.first(), order.last()) {
        let detail = |index: usize| {
            frames[index]
                .energy
                .iter()
                .map(|value| f64::from(*value))
                .sum::<f64>()
        };
        let (a, b) = (detail(first), detail(last));
        if b > a || (b.total_cmp(&a).is_eq() && last < first) {
            order.reverse();
        }
    }
    false
}

fn duplicates(order: &[usize], gaps: &DMatrix<f64>) -> Vec<(usize, usize)> {
    let steps: Vec<f32> = order
        .windows(2)
        .map(|pair| narrow(gaps[(pair[0], pair[1])]))
        .collect();
    // The upper quartile, so that even a stack shot twice has a usual step; two frames alone have none.
    let usual = percentile(&steps, 0.75).unwrap_or(0.0);
    let mut found: Vec<(usize, usize)> = order
        .windows(2)
        .filter(|pair| order.len() > 2 && gaps[(pair[0], pair[1])] < SAME_SHARE * f64::from(usual))
        .map(|pair| (pair[0].min(pair[1]), pair[0].max(pair[1])))
        .collect();
    found.sort_unstable();
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Frames focused at `focus`, on blocks whose depths run over 0..10.
    fn frames(focus: &[f32]) -> Vec<BlockEnergy> {
        focus
            .iter()
            .enumerate()
            .map(|(frame, focus)| BlockEnergy {
                columns: 20,
                rows: 10,
                energy: (0..200_u16)
                    .map(|block| {
                        let depth = f32::from(block % 40) / 4.0;
                        let gap = depth - focus;
                        let wobble = (block as usize * 13 + frame * 29) % 7;
                        0.01 / (1.0 + gap * gap) * (1.0 + 0.005 * wobble as f32)
                    })
                    .collect(),
                noise: 1e-5,
            })
            .collect()
    }

    #[test]
    fn shuffled_frames_come_out_in_order_with_their_duplicate() {
        let focus = [4.0, 0.0, 9.0, 2.0, 7.0, 1.0, 3.0, 8.0, 5.0, 6.0, 3.0];
        let distances: Vec<Option<f64>> = focus.iter().map(|f| Some(f64::from(*f))).collect();
        let found = focus_order(&frames(&focus), &distances);
        let sorted: Vec<f32> = found.order.iter().map(|index| focus[*index]).collect();
        assert!(
            sorted.windows(2).all(|pair| pair[0] <= pair[1]),
            "{sorted:?}"
        );
        assert_eq!(found.duplicates, vec![(6, 10)]);
        assert!(found.near_first);
    }

    #[test]
    fn without_distances_the_order_does_not_depend_on_how_frames_are_given() {
        let focus = [0.0, 1.0, 2.0, 3.5, 4.0, 5.0, 6.0];
        let turned: Vec<f32> = focus.iter().rev().copied().collect();
        let one = focus_order(&frames(&focus), &[]);
        let other = focus_order(&frames(&turned), &[]);
        let places = |order: &[usize], focus: &[f32]| -> Vec<f32> {
            order.iter().map(|index| focus[*index]).collect()
        };
        assert_eq!(places(&one.order, &focus), places(&other.order, &turned));
        assert!(!one.near_first);
    }

    #[test]
    fn one_and_no_frame_are_in_order() {
        assert!(focus_order(&[], &[]).order.is_empty());
        assert_eq!(focus_order(&frames(&[1.0]), &[]).order, vec![0]);
    }
}
