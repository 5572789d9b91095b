//! The depth of one stack said in the frames of another one of the same pose.

use super::DepthMap;
use crate::imaging::basics::statistics::median;
use crate::pixels::convert::{clamp_index, count_f32, count_f64, floor_i32, narrow};

/// Confidence from which on a depth has a say.
const SURE: f32 = 0.5;
/// One pixel in so many is looked at.
const EVERY: usize = 7;
/// Fewest of them that say anything of a frame.
const FEWEST: usize = 30;

impl DepthMap {
    /// This map in the frames of `other`, a stack of the same pose on the same pixels whose focus may have been stepped otherwise, or the
    /// other way round: on the straight line through the middle depths that `other` has where this map says one frame, both being sure.
    #[must_use]
    pub fn in_frames_of(&self, other: &Self) -> Self {
        let last = count_f32(other.frames.saturating_sub(1));
        let (slope, from) = self.line_to(other);
        let depth = self
            .depth
            .map(|depth| (from + slope * depth).clamp(0.0, last));
        Self {
            depth,
            confidence: self.confidence.clone(),
            sharp_share: Vec::new(),
            never_sharp_share: self.never_sharp_share,
            frames: other.frames,
        }
    }

    /// Slope and beginning of that line.
    fn line_to(&self, other: &Self) -> (f32, f32) {
        let mut there: Vec<Vec<f32>> = vec![Vec::new(); self.frames];
        for at in (0..self.depth.data.len()).step_by(EVERY) {
            let sure = self.confidence.data[at].min(other.confidence.data[at]);
            let frame = clamp_index(floor_i32(self.depth.data[at] + 0.5));
            if let Some(there) = there.get_mut(frame).filter(|_| sure >= SURE) {
                there.push(other.depth.data[at]);
            }
        }
        let places = there.iter().enumerate();
        let known: Vec<[f64; 3]> = places
            .filter(|(_, there)| there.len() >= FEWEST)
            .filter_map(|(frame, there)| {
                let middle = median(there)?;
                Some([count_f64(frame), f64::from(middle), count_f64(there.len())])
            })
            .collect();
        let total: f64 = known.iter().map(|[_, _, weight]| weight).sum();
        let mean = |part: usize| known.iter().map(|of| of[part] * of[2]).sum::<f64>() / total;
        let (here, middle) = (mean(0), mean(1));
        let (mut across, mut spread) = (0.0, 0.0);
        for [frame, there, weight] in &known {
            across += weight * (frame - here) * (there - middle);
            spread += weight * (frame - here) * (frame - here);
        }
        match known.len() {
            0 => (1.0, 0.0),
            1 => (1.0, narrow(middle - here)),
            _several => {
                let slope = across / spread;
                (narrow(slope), narrow(middle - slope * here))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;
    use crate::pixels::Plane;
    use crate::pixels::convert::small_f32;

    const PAGE: Rect = Rect::new(0, 0, 200, 90);

    fn map(frames: usize, depth: impl Fn(f32) -> f32) -> DepthMap {
        DepthMap {
            depth: Plane::from_fn(PAGE, |x, _| depth(small_f32(x) / 20.0)),
            confidence: Plane::from_fn(PAGE, |_, y| if y < 60 { 0.9 } else { 0.1 }),
            sharp_share: Vec::new(),
            never_sharp_share: 0.0,
            frames,
        }
    }

    #[test]
    fn a_stack_stepped_otherwise_and_the_other_way_round() {
        let here = map(11, |depth| depth);
        let mut there = map(6, |depth| 5.0 - 0.5 * depth);
        // What nobody is sure of is wrong.
        for (depth, sure) in there.depth.data.iter_mut().zip(&there.confidence.data) {
            if *sure < SURE {
                *depth = 0.0;
            }
        }
        let found = here.in_frames_of(&there);
        assert_eq!(found.frames, 6);
        for (found, depth) in found.depth.data.iter().zip(&here.depth.data) {
            assert!(
                (found - (5.0 - 0.5 * depth)).abs() < 0.05,
                "{found} {depth}"
            );
        }
    }

    #[test]
    fn a_depth_beyond_the_other_stack_ends_at_its_last_frame() {
        let (here, there) = (
            map(11, |depth| depth),
            map(8, |depth| (depth - 2.0).clamp(0.0, 7.0)),
        );
        let found = here.in_frames_of(&there);
        let within = |at: &f32| (0.0..=7.0).contains(at);
        assert!(found.depth.data.iter().all(within));
        assert!(
            (found.depth.at(100, 10) - 3.0).abs() < 0.3,
            "{}",
            found.depth.at(100, 10)
        );
    }
}
