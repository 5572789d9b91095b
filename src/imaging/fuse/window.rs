//! How much a frame counts at each pixel: by the depth found there, and by the pixel lying on the frame.

use super::{DepthMap, FuseSettings};
use crate::geometry::Rect;
use crate::imaging::basics::blur::gaussian;
use crate::imaging::basics::wide::wide;
use crate::pixels::Plane;
use crate::pixels::convert::{clamp_index, coordinate, count_f32};

/// Weight of a frame far outside the depth window.
const WINDOW_FLOOR: f32 = 1e-6;
/// The same where one frame alone was asked for: less than sharpness can make up for.
const ALONE_FLOOR: f32 = 1e-30;
/// Smallest weight of a pixel that lies on its frame at all.
const LEAST_PRESENCE: f32 = 1e-3;
/// Sigma in pixels over which a frame's weight falls towards its border.
const FEATHER_PX: f32 = 8.0;
/// How far the border is felt, in pixels.
pub(super) const FEATHER_REACH: i32 = 28;

/// The depth window of one frame: 1 at the depth found, falling like a Gaussian (as the 256th power of a parabola, which needs no
/// exponential).
pub(super) struct Window<'a> {
    map: &'a DepthMap,
    at: f32,
    width: f32,
    doubt: f32,
}

impl<'a> Window<'a> {
    pub(super) fn new(map: &'a DepthMap, settings: &FuseSettings, k: usize) -> Self {
        Self {
            map,
            at: count_f32(k),
            width: settings.depth_width,
            doubt: settings.doubt_width,
        }
    }

    /// The window in `rect` (told from (0, 0) of the map), times `presence` of the same rectangle.
    pub(super) fn of(&self, rect: Rect, presence: Option<&Plane>) -> Plane {
        let mut out = Plane::unwritten(rect);
        let stride = self.map.depth.rect.width();
        let width = rect.width();
        for (row, line) in out.data.chunks_mut(width.max(1)).enumerate() {
            let first = (clamp_index(rect.y0) + row) * stride + clamp_index(rect.x0);
            let depth = &self.map.depth.data[first..first + width];
            let sure = &self.map.confidence.data[first..first + width];
            wide(
                #[inline(always)]
                || self.row(depth, sure, line),
            );
        }
        if let Some(presence) = presence {
            let pairs = out.data.iter_mut().zip(&presence.data);
            pairs.for_each(|(value, present)| *value *= present);
        }
        out
    }

    #[inline(always)]
    fn row(&self, depth: &[f32], sure: &[f32], out: &mut [f32]) {
        for ((value, depth), sure) in out.iter_mut().zip(depth).zip(sure) {
            let sigma = self.width + self.doubt * (1.0 - sure);
            let narrowness = 1.0 / (512.0 * sigma * sigma);
            let off = depth - self.at;
            let bell = 1.0 - off * off * narrowness;
            let mut bell = if bell > 0.0 { bell } else { 0.0 };
            for _ in 0..8 {
                bell *= bell;
            }
            // Where one frame alone was asked for, the others count next to nothing however sharp they are.
            let alone = if off * off < 0.25 { 1.0 } else { ALONE_FLOOR };
            *value = if *sure > 1.0 {
                alone
            } else {
                bell + WINDOW_FLOOR
            };
        }
    }
}

/// Around the pixels that are 0.
fn outside(inside: &Plane) -> Rect {
    let width = inside.rect.width();
    let mut found = Rect::default();
    for (row, y) in inside.data.chunks(width.max(1)).zip(inside.rect.y0..) {
        let is_out = |value: &f32| *value <= 0.0;
        if let (Some(first), Some(last)) =
            (row.iter().position(is_out), row.iter().rposition(is_out))
        {
            let line = Rect::new(coordinate(first), y, coordinate(last) + 1, y + 1);
            found = if found.is_empty() {
                line
            } else {
                found.union(line)
            };
        }
    }
    found
}

/// How much a frame counts: falling to nearly nothing towards its border, and nothing outside.
pub(super) fn feathered(valid: &Plane) -> Plane {
    let (width, height) = (valid.rect.width(), valid.rect.height());
    // The frame ends at the picture's border only if its data do: the border itself is mirrored and so draws no feather.
    let local = Rect::new(0, 0, coordinate(width), coordinate(height));
    let inside = Plane {
        rect: local,
        data: valid
            .data
            .iter()
            .map(|present| if *present >= 1.0 { 1.0 } else { 0.0 })
            .collect(),
    };
    // Only what lies near a pixel outside needs smoothing; elsewhere ones stay what ones become.
    let one = Plane::filled(Rect::new(0, 0, 1, 1), 1.0);
    let mut out = Plane::filled(valid.rect, gaussian(&one, FEATHER_PX).data[0]);
    let near = outside(&inside).grow(2 * FEATHER_REACH).intersect(local);
    let smooth = gaussian(&inside.crop(near), FEATHER_PX);
    for y in near.y0..near.y1 {
        let start = local.index(near.x0, y);
        out.data[start..start + near.width()].copy_from_slice(smooth.row(y));
    }
    for (value, present) in out.data.iter_mut().zip(&valid.data) {
        *value = (2.0 * *value - 1.0).clamp(0.0, 1.0).max(LEAST_PRESENCE) * present;
    }
    out
}
