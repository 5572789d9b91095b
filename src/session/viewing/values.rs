//! What is at one pixel of what is looked at: read beside the window, a moment after the pointer came to it.

use crate::engine::ports::NoWatch;
use crate::engine::seen::Seen;
use crate::project::Fingerprint;
use crate::session::viewing::{Shared, TileKey, Viewer, Wanted, Way};

/// What is at one pixel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Values {
    /// Linear light as the program works with it (BT.2020, premultiplied): red, green, blue; and coverage.
    pub light: [f32; 4],
    /// Which frame of the stack is sharp there, counted from 0 in focus order, with fractions between frames.
    pub sharpest_frame: Option<f32>,
}

/// A pixel of a tile in a state of the project.
pub(super) type Place = (TileKey, Fingerprint, (i32, i32));

impl Viewer {
    /// What is at a pixel of a tile, (x, y) at the tile's level: read beside the window, and there a moment after it was asked for.
    pub fn values(&mut self, key: TileKey, at: (i32, i32)) -> Option<Values> {
        let (stamp, way) = self.way(key)?;
        let project = self.plans.project.clone()?;
        let mut inner = self.shared.lock();
        let place = (key, stamp, at);
        if let Some((answered, values)) = &inner.answered
            && *answered == place
        {
            return *values;
        }
        let wanted = Wanted {
            key,
            stamp,
            project,
            way,
            exact: false,
        };
        inner.asked = Some((wanted, at));
        self.shared.more.notify_one();
        None
    }
}

impl Shared {
    /// Reads the values of a pixel and keeps them as the answer.
    pub(super) fn answer(&self, wanted: &Wanted, at: (i32, i32)) {
        let read = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
            self.read_values(wanted, at)
        }));
        let place = (wanted.key, wanted.stamp, at);
        self.lock().answered = Some((place, read.ok().flatten()));
    }

    fn read_values(&self, wanted: &Wanted, (x, y): (i32, i32)) -> Option<Values> {
        let world = self.world(wanted, &NoWatch);
        let (level, index) = (wanted.key.level, wanted.key.index);
        let mut sharpest_frame = None;
        let tile = match &wanted.way {
            Way::Seen(seen) => {
                if let Seen::Plate(plan, _) = seen {
                    let whole = (x << level.min(20), y << level.min(20));
                    sharpest_frame = self.engine.sharpest_frame(&world, plan, whole);
                }
                let ready = self.engine.prepare_seen(&world, seen, level);
                ready.and_then(|()| self.engine.seen_tile(&world, seen, (level, index)))
            }
            Way::Frame(frame) => self.engine.frame_picture(&world, *frame, level),
        };
        let tile = tile.ok()?;
        tile.rect.contains(x, y).then(|| Values {
            light: tile.at(x, y),
            sharpest_frame,
        })
    }
}
