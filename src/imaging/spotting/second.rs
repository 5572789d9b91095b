//! Dust and hair that a second picture of the same pose, taken after cleaning, does not show.
//!
//! Whatever belongs to the model is in both pictures, however much it looks like dust; what only the first shows is what was cleaned off.

use super::blobs::{self, Blob, Standing};
use super::ridges::Straight;
use super::unexplained::{Soft, Unexplained};
use super::{Found, Kind, certainty, directions, grains, ridges, surest_first, value_at};
use crate::geometry::Point;
use crate::imaging::basics::statistics::{NORMAL_FROM_MAD, median};
use crate::pixels::convert::{count_f32, narrow};
use crate::pixels::{Plane, Planes};
use rayon::prelude::*;

/// Sizes of marks that are looked for, as deviations of a Gaussian, px.
const SIGMAS: [f32; 4] = [0.9, 1.3, 1.9, 2.9];
/// Deviations at which a mark is as likely as not, and how fast that grows: of the finds from the usual confidence on, 2 % were none on the
/// most detailed ground, the demo's barge, and hardly any on others (pairs of seeds 50001 to 50031 in tens, none of them in a test).
const LIKELY: f32 = 7.5;
const GROWS: f32 = 8.0;
/// What is called a hair and reaches less far is the rim of a grain, px.
const RIM_PX: f64 = 16.0;
/// How much more a grain stands out than what stands out the other way round it, and how far that reaches, in sizes of the grain.
const MUCH: f32 = 1.5;
const ROUND: f32 = 4.0;
/// How much more likely a mark lies on the first picture than on the second, which was taken after cleaning, as a logarithm: 20 times.
const CLEANED: f32 = 3.0;

/// Every find on `light` that `cleaned` does not show, the surest first; those of a confidence below 0.05 are left out.
///
/// `cleaned`: another picture of the same pose, on the same pixels; its light may differ a little. `shown`: 1 where it has pixels.
#[must_use]
pub fn find_against(light: &Planes, cleaned: &Planes, shown: &Plane) -> Vec<Found> {
    let (picture, other) = (Soft::new(light), Soft::new(cleaned));
    let unexplained = Unexplained::new(&picture, &other, shown);
    let layers = SIGMAS.map(|sigma| {
        let (smooth, standing) = unexplained.standing(sigma);
        Standing {
            sigma,
            smooth,
            standing,
        }
    });
    let both = (&picture.roots, &other.roots);
    let finest = &layers[0].standing;
    let (mut found, _built) = ridges::find(finest, None, Straight::IsHair);
    found.retain(|hair| !is_rim(hair));
    // Pieces and rims of a hair are no grains, whichever picture it lies on.
    let hairs = found.clone();
    for hair in &mut found {
        let along = hair.points.iter();
        let more: f32 = along
            .map(|at| value_at(finest, narrow(at.x), narrow(at.y)))
            .sum();
        let sigma = (hair.width_px / 3.6).max(SIGMAS[0]);
        hair.confidence *= on_first(&hair.points, (sigma, more.signum()), both);
    }
    let mut blobs = blobs::find(&layers);
    blobs
        .iter_mut()
        .for_each(|blob| blob.evidence = blob.standing);
    let mut blobs = grains::strongest(blobs);
    let all = blobs.clone();
    blobs.retain(|blob| {
        !grains::lies_on(blob, &hairs) && !all.iter().any(|other| is_rim_of(blob, other))
    });
    let grains = blobs.par_iter().map(|blob| {
        let points = vec![Point::new(f64::from(blob.x), f64::from(blob.y))];
        let sign = blob.contrast.signum();
        let stands = certainty(GROWS * libm::logf(blob.standing / LIKELY));
        Found {
            kind: Kind::Dust,
            width_px: 3.6 * blob.sigma,
            confidence: stands * on_first(&points, (blob.sigma, sign), both),
            points,
        }
    });
    found.extend(grains.collect::<Vec<_>>());
    surest_first(found)
}

/// Whether a blob is but what stands out the other way round a much stronger one: part of the difference there was taken for light.
fn is_rim_of(blob: &Blob, strong: &Blob) -> bool {
    let (dx, dy) = (strong.x - blob.x, strong.y - blob.y);
    let reach = ROUND * strong.sigma + blob.sigma;
    strong.contrast * blob.contrast < 0.0
        && strong.standing > MUCH * blob.standing
        && dx * dx + dy * dy < reach * reach
}

/// Whether a hair is the rim of a grain: it runs round a place.
fn is_rim(hair: &Found) -> bool {
    let farthest = hair
        .points
        .iter()
        .flat_map(|at| hair.points.iter().map(|other| at.distance(*other)));
    farthest.fold(0.0, f64::max) < RIM_PX
}

/// How likely it is that what stands out at places of about `sigma` px, lighter (1) or darker (-1), lies on the first picture, and not on
/// the second one with the opposite sign. Without it a picture stands out there as it does round about; where both are full of detail, that
/// tells nothing.
fn on_first(places: &[Point], (sigma, sign): (f32, f32), (first, second): (&Plane, &Plane)) -> f32 {
    let far = 5.0 * sigma + 6.0;
    let ring = directions(12);
    let (mut round, mut more) = (Vec::new(), 0.0);
    for place in places {
        let (x, y) = (narrow(place.x), narrow(place.y));
        for (dx, dy) in &ring {
            let at = (x + far * dx, y + far * dy);
            round.extend([first, second].map(|plane| stands_out(plane, at, sigma).abs()));
        }
        let here = sign * stands_out(first, (x, y), sigma);
        let there = -sign * stands_out(second, (x, y), sigma);
        more += here * here.abs() - there * there.abs();
    }
    let usual = NORMAL_FROM_MAD * median(&round).unwrap_or(0.0) + 1e-3;
    certainty(CLEANED + 0.5 * more / (usual * usual * count_f32(places.len())))
}

/// How much lighter a place of about `sigma` px is than its rim.
fn stands_out(plane: &Plane, (x, y): (f32, f32), sigma: f32) -> f32 {
    let ring = directions(8);
    let on = |far: f32| {
        let places = ring.iter().map(|(dx, dy)| (x + far * dx, y + far * dy));
        places.map(|(x, y)| value_at(plane, x, y)).sum::<f32>() / 8.0
    };
    0.5 * (value_at(plane, x, y) + on(sigma)) - on(2.6 * sigma + 1.0)
}
