//! Connected sets of pixels.

use crate::geometry::Rect;
use crate::pixels::convert::coordinate;

/// Which region each pixel belongs to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Regions {
    /// Where the pixels lie.
    pub rect: Rect,
    /// Row by row: 0 for none, else the number of a region counted from 1.
    pub of_pixel: Vec<u32>,
    /// The regions, in the order of their first pixels.
    pub list: Vec<Region>,
}

/// One connected set of pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Region {
    /// Its number of pixels.
    pub pixels: usize,
    /// The smallest rectangle that holds it.
    pub bounds: Rect,
    /// Whether it touches the border of the picture.
    pub touches_border: bool,
}

/// Which neighbours of a pixel are joined to it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Joined {
    /// The four that share a side.
    BySides,
    /// Those that touch at a corner too.
    ByCorners,
}

impl Regions {
    /// The connected regions of `marked`, row by row over `rect`.
    #[must_use]
    pub fn of(marked: &[bool], rect: Rect, joined: Joined) -> Self {
        let width = rect.width();
        let mut parents: Vec<u32> = vec![0];
        let mut of_pixel = vec![0_u32; marked.len()];
        for at in 0..marked.len() {
            if marked[at] {
                of_pixel[at] = first_label(&of_pixel, at, width, joined, &mut parents);
            }
        }
        let mut numbers = vec![0_u32; parents.len()];
        let mut list: Vec<Region> = Vec::new();
        for (at, label) in of_pixel.iter_mut().enumerate() {
            if *label == 0 {
                continue;
            }
            let root = index_of(root_of(&mut parents, *label));
            if numbers[root] == 0 {
                list.push(Region {
                    pixels: 0,
                    bounds: Rect::default(),
                    touches_border: false,
                });
                numbers[root] = u32::try_from(list.len()).unwrap_or(u32::MAX);
            }
            *label = numbers[root];
            let (x, y) = (
                rect.x0 + coordinate(at % width),
                rect.y0 + coordinate(at / width),
            );
            let region = &mut list[index_of(*label) - 1];
            region.pixels += 1;
            region.bounds = region.bounds.union(Rect::new(x, y, x + 1, y + 1));
            region.touches_border |=
                x == rect.x0 || y == rect.y0 || x + 1 == rect.x1 || y + 1 == rect.y1;
        }
        Self {
            rect,
            of_pixel,
            list,
        }
    }

    /// The region of the pixel at `index` of the buffer.
    #[must_use]
    pub fn at(&self, index: usize) -> Option<&Region> {
        let number = index_of(self.of_pixel[index]);
        number.checked_sub(1).map(|place| &self.list[place])
    }
}

fn index_of(label: u32) -> usize {
    usize::try_from(label).unwrap_or(usize::MAX)
}

/// The label that a marked pixel takes from the neighbours before it, which become one.
fn first_label(
    of_pixel: &[u32],
    at: usize,
    width: usize,
    joined: Joined,
    parents: &mut Vec<u32>,
) -> u32 {
    let (x, y) = (at % width, at / width);
    let corners = joined == Joined::ByCorners;
    let neighbours = [
        (x > 0).then(|| at - 1),
        (y > 0).then(|| at - width),
        (corners && x > 0 && y > 0).then(|| at - width - 1),
        (corners && x + 1 < width && y > 0).then(|| at - width + 1),
    ];
    let mut mine = 0_u32;
    for label in neighbours.into_iter().flatten().map(|at| of_pixel[at]) {
        if label == 0 {
            continue;
        }
        let root = root_of(parents, label);
        if mine == 0 {
            mine = root;
        } else if root != mine {
            let (low, high) = (mine.min(root), mine.max(root));
            parents[index_of(high)] = low;
            mine = low;
        }
    }
    if mine == 0 {
        mine = u32::try_from(parents.len()).unwrap_or(u32::MAX);
        parents.push(mine);
    }
    mine
}

fn root_of(parents: &mut [u32], label: u32) -> u32 {
    let mut at = label;
    while parents[index_of(at)] != at {
        let above = parents[index_of(parents[index_of(at)])];
        parents[index_of(at)] = above;
        at = above;
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bent_region_is_one_and_corners_join_only_when_asked() {
        let picture = ["#..#", "##.#", ".###", "#..."];
        let marked: Vec<bool> = picture
            .iter()
            .flat_map(|row| row.chars().map(|sign| sign == '#'))
            .collect();
        let rect = Rect::new(5, 5, 9, 9);
        let sides = Regions::of(&marked, rect, Joined::BySides);
        assert_eq!(sides.list.len(), 2);
        assert_eq!(sides.list[0].pixels, 8);
        assert_eq!(sides.list[0].bounds, Rect::new(5, 5, 9, 8));
        let corners = Regions::of(&marked, rect, Joined::ByCorners);
        assert_eq!(corners.list.len(), 1);
        assert!(corners.list[0].touches_border, "it does");
    }
}
