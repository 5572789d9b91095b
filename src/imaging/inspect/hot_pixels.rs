//! Pixels of the sensor that are always bright: found over the frames of a stack before anything is moved, and mended.
//!
//! A point of the scene that is bright and small loses its height where the lens is focused elsewhere; a hot pixel keeps it in every
//! frame, at the same place of the sensor.

use crate::geometry::Rect;
use crate::imaging::basics::wide::wide;
use crate::pixels::convert::coordinate;
use crate::pixels::spare::{give_back, unwritten};
use crate::pixels::{Plane, Planes};
use rayon::prelude::*;

/// Least height over the surroundings, in units of white.
const LEAST_HEIGHT: f32 = 0.005;
/// Least height over the noise, in median absolute deviations.
const OVER_NOISE: f32 = 12.0;
/// The least height in any frame, as a share of the typical one.
const STEADY: f32 = 0.5;
/// Fewest frames that tell a hot pixel from a point of the scene: over fewer, a sharp point near the middle of the picture hardly
/// moves and hardly blurs.
const FEWEST_FRAMES: usize = 6;
/// One hot pixel in so many is the most that a sensor in use has (common practice; no source). More are fine detail of a scene that
/// neither moves nor blurs between the frames.
const FEWEST_PIXELS_EACH: usize = 2000;
/// Every so many pixels, along rows and columns, one is looked at for the noise.
const SPARSE: usize = 16;

/// Looks for hot pixels in the frames of a stack, each on its own pixels, in linear light.
#[derive(Debug, Default)]
pub struct HotPixels {
    frames: usize,
    /// Pixels of a frame.
    pixels: usize,
    noise: Vec<f32>,
    /// Places by row, and their heights in each frame so far.
    places: Vec<(i32, i32)>,
    heights: Vec<Vec<f32>>,
}

impl HotPixels {
    /// Takes in a frame. All frames have one size.
    pub fn add(&mut self, frame: &Planes) {
        let noise = noise(frame);
        // A hot pixel stands much higher over its surroundings than this over its neighbours; most of the noise's own peaks do not.
        let margin = noise.max(0.5 * LEAST_HEIGHT);
        self.noise.push(noise);
        if self.frames == 0 {
            let (places, heights) = peaks(frame, margin).into_iter().unzip();
            self.places = places;
            self.heights.push(heights);
        } else {
            // What stands out in one frame only is no hot pixel: the places of the first frame can only become fewer.
            let found: Vec<Option<f32>> = self
                .places
                .par_iter()
                .map(|place| peak_at(frame, *place, margin))
                .collect();
            let mut found_again = found.iter().map(Option::is_some);
            self.places.retain(|_| found_again.next().unwrap_or(false));
            for heights in &mut self.heights {
                let mut found_again = found.iter().map(Option::is_some);
                heights.retain(|_| found_again.next().unwrap_or(false));
            }
            self.heights.push(found.into_iter().flatten().collect());
        }
        self.frames += 1;
        self.pixels = frame.rect().area();
    }

    /// The places found (column, row), by row. None from fewer than six frames, and none where there are more than sensors have.
    #[must_use]
    pub fn finish(self) -> Vec<[u32; 2]> {
        if self.frames < FEWEST_FRAMES {
            return Vec::new();
        }
        let least = LEAST_HEIGHT.max(OVER_NOISE * middle(self.noise));
        let unsigned = |at: i32| u32::try_from(at).unwrap_or(0);
        let mut found = Vec::new();
        for (at, (x, y)) in self.places.iter().enumerate() {
            let heights: Vec<f32> = self.heights.iter().map(|frame| frame[at]).collect();
            let lowest = heights.iter().copied().fold(f32::MAX, f32::min);
            let typical = middle(heights);
            if typical > least && lowest > STEADY * typical {
                found.push([unsigned(*x), unsigned(*y)]);
            }
        }
        if found.len() > self.pixels / FEWEST_PIXELS_EACH {
            return Vec::new();
        }
        found
    }
}

/// Gives each of `places` the median of the pixels around it, channel by channel.
pub fn mend(planes: &mut Planes, places: &[[u32; 2]]) {
    let rect = planes.rect();
    for (x, y) in inside(places, rect) {
        for plane in &mut planes.rgb {
            let value = surroundings(plane, x, y);
            plane.data[rect.index(x, y)] = value;
        }
    }
}

/// Whether any of `places` lies in `rect`.
#[must_use]
pub fn are_hot(places: &[[u32; 2]], rect: Rect) -> bool {
    inside(places, rect).next().is_some()
}

fn inside(places: &[[u32; 2]], rect: Rect) -> impl Iterator<Item = (i32, i32)> {
    let known = places
        .iter()
        .filter_map(|[x, y]| Some((i32::try_from(*x).ok()?, i32::try_from(*y).ok()?)));
    known.filter(move |(x, y)| rect.contains(*x, *y))
}

/// Median of the 5 x 5 pixels around one, itself included, the border repeated.
fn surroundings(plane: &Plane, x: i32, y: i32) -> f32 {
    let mut values = [0.0_f32; 25];
    let places = (y - 2..y + 3).flat_map(|y| (x - 2..x + 3).map(move |x| (x, y)));
    for (value, (x, y)) in values.iter_mut().zip(places) {
        *value = plane.nearest(x, y);
    }
    let at = values.len() / 2;
    *values.select_nth_unstable_by(at, f32::total_cmp).1
}

fn middle(mut values: Vec<f32>) -> f32 {
    let at = values.len() / 2;
    if values.is_empty() {
        return 0.0;
    }
    *values.select_nth_unstable_by(at, f32::total_cmp).1
}

/// Pixels by `margin` above all their neighbours in some channel, with their height over the surroundings, by row.
fn peaks(frame: &Planes, margin: f32) -> Vec<((i32, i32), f32)> {
    let inner = frame.rect().grow(-1);
    if inner.is_empty() {
        return Vec::new();
    }
    (inner.y0..inner.y1)
        .into_par_iter()
        .flat_map_iter(|y| {
            let mut columns: Vec<i32> = frame
                .rgb
                .iter()
                .flat_map(|plane| peaks_of_row(plane, y, margin))
                .collect();
            columns.sort_unstable();
            columns.dedup();
            columns
                .into_iter()
                .filter_map(move |x| Some(((x, y), peak_at(frame, (x, y), margin)?)))
        })
        .collect()
}

/// How high the pixel at a place stands over its surroundings, in the channel where that is most, if it stands by `margin` above its
/// neighbours in any.
fn peak_at(frame: &Planes, (x, y): (i32, i32), margin: f32) -> Option<f32> {
    let around = [
        (-1, -1),
        (0, -1),
        (1, -1),
        (-1, 0),
        (1, 0),
        (-1, 1),
        (0, 1),
        (1, 1),
    ];
    let stands = |plane: &&Plane| {
        let here = plane.at(x, y);
        around
            .into_iter()
            .all(|(dx, dy)| here > plane.at(x + dx, y + dy) + margin)
    };
    frame
        .rgb
        .iter()
        .filter(stands)
        .map(|plane| plane.at(x, y) - surroundings(plane, x, y))
        .reduce(f32::max)
}

/// Columns of row `y` where a channel stands by `margin` above its eight neighbours.
fn peaks_of_row(plane: &Plane, y: i32, margin: f32) -> Vec<i32> {
    let (above, here, below) = (plane.row(y - 1), plane.row(y), plane.row(y + 1));
    let mut tallest = unwritten(here.len());
    // 1 where a pixel stands above its neighbours; without those at both ends.
    let mut stands_out = unwritten(here.len() - 2);
    let most = |a: f32, b: f32| if a > b { a } else { b };
    wide(
        #[inline(always)]
        || {
            let columns = here.iter().zip(above.iter().zip(below));
            for (tallest, (here, (above, below))) in tallest.iter_mut().zip(columns) {
                *tallest = most(*here, most(*above, *below));
            }
            let beside = tallest.iter().zip(&tallest[2..]);
            let over = above[1..].iter().zip(&below[1..]);
            let around = beside.zip(over).zip(&here[1..]);
            for (stands, (((left, right), (above, below)), here)) in
                stands_out.iter_mut().zip(around)
            {
                let highest = most(most(*left, *right), most(*above, *below));
                *stands = if *here > highest + margin { 1.0 } else { 0.0 };
            }
        },
    );
    let mut columns = Vec::new();
    for (number, block) in stands_out.chunks(BLOCK).enumerate() {
        if block.iter().sum::<f32>() > 0.0 {
            let stand = block
                .iter()
                .enumerate()
                .filter(|(_, stands)| **stands > 0.0);
            let first = plane.rect.x0 + coordinate(number * BLOCK + 1);
            columns.extend(stand.map(|(at, _)| first + coordinate(at)));
        }
    }
    give_back(tallest);
    give_back(stands_out);
    columns
}

/// Pixels that are passed over in one go where none of them stands out.
const BLOCK: usize = 16;

/// Median distance of single pixels from their surroundings, over a sparse grid.
fn noise(frame: &Planes) -> f32 {
    let rect = frame.rect();
    let green = &frame.rgb[1];
    let distances = (0..rect.height())
        .into_par_iter()
        .step_by(SPARSE)
        .flat_map_iter(|y| {
            let columns = (0..rect.width()).step_by(SPARSE);
            columns.map(move |x| {
                let value = green.data[y * rect.width() + x];
                let (x, y) = (rect.x0 + coordinate(x), rect.y0 + coordinate(y));
                (value - surroundings(green, x, y)).abs()
            })
        });
    middle(distances.collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;
    use crate::imaging::basics::blur::gaussian;

    /// A scene with small bright points, blurred more in each frame, and two hot pixels on the sensor.
    #[test]
    fn hot_pixels_are_told_from_points_of_the_scene_and_mended() {
        let rect = Rect::new(0, 0, 96, 64);
        let hot = [[20_u8, 30], [51, 7]];
        let mut scene = Plane::filled(rect, 0.2);
        for (x, y) in [(10, 10), (40, 22), (33, 40)] {
            scene.data[rect.index(x, y)] = 0.9;
        }
        let frames: Vec<Planes> = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0]
            .map(|blur| {
                let mut plane = gaussian(&scene, blur);
                for [x, y] in hot {
                    plane.data[rect.index(i32::from(x), i32::from(y))] += 0.05;
                }
                Planes {
                    rgb: [plane.clone(), plane.clone(), plane],
                }
            })
            .into();
        let mut look = HotPixels::default();
        frames.iter().for_each(|frame| look.add(frame));
        assert_eq!(look.finish(), [[51, 7], [20, 30]]);
        let mut first = frames[0].clone();
        mend(&mut first, &hot.map(|place| place.map(u32::from)));
        assert!((first.rgb[0].at(20, 30) - 0.2).abs() < 1e-6);
        assert!((first.rgb[0].at(10, 10) - 0.9).abs() < 1e-6);
        let mut few = HotPixels::default();
        frames[..5].iter().for_each(|frame| few.add(frame));
        assert!(few.finish().is_empty(), "a few frames cannot tell");
    }

    #[test]
    fn fine_detail_that_neither_moves_nor_blurs_is_left_alone() {
        let rect = Rect::new(0, 0, 96, 64);
        let plane = Plane::from_fn(
            rect,
            |x, y| if x % 8 == 4 && y % 8 == 4 { 0.5 } else { 0.2 },
        );
        let frame = Planes {
            rgb: [plane.clone(), plane.clone(), plane],
        };
        let mut look = HotPixels::default();
        (0..6).for_each(|_frame| look.add(&frame));
        assert!(look.finish().is_empty());
    }
}
