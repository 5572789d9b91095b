//! How large the rocks of a field are.

use crate::imaging::basics::random::Stream;
use crate::optics::sky::rock_size;

/// `count` sizes drawn under `seed`, in drawing order: cumulative numbers fall as D^-`slope` within `range` (smallest, largest).
///
/// 2.5 is the steady state of collisions (Dohnanyi 1969); boulder fields have 2.6 to 3.3 (Michikami, Hagermann, Icarus 357 (2021)).
#[must_use]
pub fn sizes(seed: u64, count: usize, slope: f64, range: [f64; 2]) -> Vec<f64> {
    let mut stream = Stream::of_item(seed, 0);
    (0..count)
        .map(|_| rock_size(stream.unit(), slope, range[0], range[1]))
        .collect()
}
