//! How large the rocks of a field are.

use crate::imaging::basics::random::Stream;

/// Size of a rock for the random number `u` (0..1): cumulative numbers fall as D^-`slope` between `smallest` and `largest`.
///
/// 2.5 is the steady state of collisions (Dohnanyi 1969); boulder fields have 2.6 to 3.3 (Michikami, Hagermann, Icarus 357 (2021)).
#[must_use]
pub fn size(u: f64, slope: f64, smallest: f64, largest: f64) -> f64 {
    let left = libm::pow(smallest / largest, slope);
    smallest * libm::pow(1.0 - u * (1.0 - left), -1.0 / slope)
}

/// `count` sizes drawn under `seed`, in drawing order.
#[must_use]
pub fn sizes(seed: u64, count: usize, slope: f64, range: [f64; 2]) -> Vec<f64> {
    let mut stream = Stream::of_item(seed, 0);
    (0..count)
        .map(|_| size(stream.unit(), slope, range[0], range[1]))
        .collect()
}
