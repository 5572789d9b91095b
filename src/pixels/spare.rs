//! Buffers of pieces of pictures, kept by each thread from one piece to the next.
//!
//! Work that goes through a picture piece by piece needs a dozen planes for every piece, and writes every pixel of them. Getting them
//! filled with zeros took an eighth of the time of fusing a stack.

use crate::geometry::Rect;
use crate::pixels::{Plane, Planes};
use std::cell::RefCell;

/// Numbers of the largest buffer that is kept: a piece with its margins.
const LARGEST: usize = 12 * STEP;
/// New room is made in steps of so many numbers.
const STEP: usize = 1 << 14;
/// Buffers that a thread keeps.
const KEPT: usize = 24;

thread_local! {
    /// The one given back last is the last one.
    static WAITING: RefCell<Vec<Vec<f32>>> = const { RefCell::new(Vec::new()) };
}

/// Room for `count` numbers, which may hold anything: for work that writes each of them.
#[must_use]
pub fn unwritten(count: usize) -> Vec<f32> {
    let mut room = take(count).unwrap_or_else(|| new_room(count));
    room.resize(count, 0.0);
    if cfg!(any(test, debug_assertions)) {
        room.fill(f32::NAN);
    }
    room
}

/// Room that nobody had before: zeros that the system has not handed out yet, so that the threads that write it share that work.
fn new_room(count: usize) -> Vec<f32> {
    let is_kept = count <= LARGEST;
    // Pieces differ by a few rows and columns.
    vec![
        0.0;
        if is_kept {
            count.next_multiple_of(STEP)
        } else {
            count
        }
    ]
}

/// The waiting buffer that fits `count` numbers best.
fn take(count: usize) -> Option<Vec<f32>> {
    WAITING.with_borrow_mut(|waiting| {
        // One that is much too large would be cut short, and filled with zeros when it is needed whole again.
        let fits = |room: &Vec<f32>| room.capacity() >= count && room.len() <= 2 * count;
        let lacks = |room: &Vec<f32>| room.len().abs_diff(count);
        let places = 0..waiting.len();
        let best = places
            .rev()
            .filter(|place| fits(&waiting[*place]))
            .min_by_key(|place| lacks(&waiting[*place]))?;
        Some(waiting.remove(best))
    })
}

/// Keeps `room` for whoever asks this thread for room next; what waited longest goes where there is enough.
pub fn give_back(room: Vec<f32>) {
    if !(1..=LARGEST).contains(&room.capacity()) {
        return;
    }
    WAITING.with_borrow_mut(|waiting| {
        if waiting.len() == KEPT {
            waiting.remove(0);
        }
        waiting.push(room);
    });
}

impl Plane {
    /// A plane whose pixels may hold anything: for work that writes each of them.
    #[must_use]
    pub fn unwritten(rect: Rect) -> Self {
        Self {
            rect,
            data: unwritten(rect.area()),
        }
    }

    /// Gives up the pixels of a piece, whose room serves the next one.
    pub fn give_back(self) {
        give_back(self.data);
    }
}

impl Planes {
    /// The same in three colours.
    #[must_use]
    pub fn unwritten(rect: Rect) -> Self {
        Self {
            rgb: [(); 3].map(|()| Plane::unwritten(rect)),
        }
    }

    /// Gives up the pixels of a piece, whose room serves the next one.
    pub fn give_back(self) {
        self.rgb.into_iter().for_each(Plane::give_back);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn room_that_was_given_back_comes_again() {
        let room = unwritten(1000);
        let place = room.as_ptr();
        give_back(room);
        let small = unwritten(100);
        assert_ne!(small.as_ptr(), place, "much too large for that");
        let again = unwritten(900);
        assert_eq!((again.as_ptr(), again.len()), (place, 900));
    }

    #[test]
    fn no_more_is_kept_than_pieces_need() {
        give_back(unwritten(LARGEST + 1));
        let many = (0..2 * KEPT).map(|_| unwritten(10)).collect::<Vec<_>>();
        many.into_iter().for_each(give_back);
        WAITING.with_borrow(|waiting| {
            assert_eq!(waiting.len(), KEPT);
            assert!(waiting.iter().all(|room| room.capacity() <= LARGEST));
        });
    }
}
