//! Smoothing one plane along the edges of another.

use crate::imaging::basics::blur::gaussian;
use crate::pixels::Plane;

/// A guided filter (He, Sun and Tang 2013) prepared for one guide picture, with Gaussian windows.
#[derive(Debug)]
pub(super) struct Guided<'a> {
    guide: &'a Plane,
    mean: Plane,
    variance: Plane,
    sigma_px: f32,
    edge_floor: f32,
}

impl<'a> Guided<'a> {
    /// `edge_floor`: variance of the guide below which it counts as flat.
    pub(super) fn new(guide: &'a Plane, sigma_px: f32, edge_floor: f32) -> Self {
        let mean = gaussian(guide, sigma_px);
        let mut variance = gaussian(&guide.map(|v| v * v), sigma_px);
        for (square, mean) in variance.data.iter_mut().zip(&mean.data) {
            *square = (*square - mean * mean).max(0.0);
        }
        Self {
            guide,
            mean,
            variance,
            sigma_px,
            edge_floor,
        }
    }

    /// `plane` as a locally linear function of the guide.
    pub(super) fn filter(&self, plane: &Plane) -> Plane {
        let mean = gaussian(plane, self.sigma_px);
        let mut slope = plane.clone();
        for (value, guide) in slope.data.iter_mut().zip(&self.guide.data) {
            *value *= guide;
        }
        slope = gaussian(&slope, self.sigma_px);
        let mut floor = mean;
        for (index, a) in slope.data.iter_mut().enumerate() {
            let guide = self.mean.data[index];
            *a = (*a - guide * floor.data[index]) / (self.variance.data[index] + self.edge_floor);
            floor.data[index] -= *a * guide;
        }
        let (slope, mut out) = (
            gaussian(&slope, self.sigma_px),
            gaussian(&floor, self.sigma_px),
        );
        for ((value, a), guide) in out.data.iter_mut().zip(&slope.data).zip(&self.guide.data) {
            *value += a * guide;
        }
        out
    }
}
