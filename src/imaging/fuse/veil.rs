//! Taking the veil off: the blur that near parts lay over what stands beside them in its own best frame, where the stack itself tells
//! where near parts end.
//!
//! A frame focused behind a near part shows that part's light and coverage blurred by a disc: frame = (coverage x near) * disc +
//! (1 - coverage * disc) x behind (Asada, Fujiwara and Matsuyama 1998). In pieces of the plate where the depth steps, what is near and
//! what is behind are told apart by depth ([`super::veil_depth`]), and the light of both is gathered from the frames, one after the other.
//! Then each piece is worked out on its own ([`super::veil_piece`]).

use super::pieces::{Coloured, Pieces};
use super::veil_blur::blur_per_frame;
use super::veil_piece::Piece;
use super::{DepthMap, NoiseModel};
use crate::geometry::Rect;
use crate::pixels::Planes;
use crate::pixels::convert::clamp_index;
use rayon::prelude::*;

/// Side of the pieces.
const SIDE: i32 = 512;

/// Takes the veil of near parts off `light`, a plate that was fused by `map` from the frames that `open` opens: at most one at a time,
/// some of them twice. Nothing changes where the stack does not tell how its blur grows. What is held besides does not grow with the number of frames.
///
/// # Errors
/// When a frame cannot be read; `light` is as it was then.
pub fn unveil<F: Pieces<Coloured>>(
    light: &mut Planes,
    map: &DepthMap,
    noise: &NoiseModel,
    mut open: impl FnMut(usize) -> Result<F, F::Error>,
) -> Result<(), F::Error> {
    let Some(step_px) = blur_per_frame(light, map, &mut open)? else {
        return Ok(());
    };
    let plate: &Planes = light;
    let mut pieces: Vec<Piece> = places(plate.rect())
        .into_par_iter()
        .filter_map(|place| Piece::new(plate, map, place, step_px))
        .collect();
    for number in 0..map.frames {
        if pieces.iter().any(|piece| piece.wants(number)) {
            let frame = open(number)?;
            pieces
                .par_iter_mut()
                .try_for_each(|piece| piece.add(number, &frame))?;
        }
    }
    let changed: Vec<(Rect, Planes)> = pieces
        .into_par_iter()
        .filter_map(|piece| piece.unveiled(plate, noise))
        .collect();
    for (place, part) in changed {
        for (plane, part) in light.rgb.iter_mut().zip(&part.rgb) {
            for y in place.y0..place.y1 {
                let start = plane.rect.index(place.x0, y);
                plane.data[start..start + place.width()].copy_from_slice(part.row(y));
            }
        }
    }
    Ok(())
}

/// The squares that `whole` is worked through in.
fn places(whole: Rect) -> Vec<Rect> {
    let steps = |from: i32, to: i32| (from..to).step_by(clamp_index(SIDE));
    steps(whole.y0, whole.y1)
        .flat_map(|y| {
            steps(whole.x0, whole.x1)
                .map(move |x| Rect::new(x, y, x + SIDE, y + SIDE).intersect(whole))
        })
        .collect()
}
