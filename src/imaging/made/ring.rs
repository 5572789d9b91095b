//! The ring of a planet.

use super::noise::{gradient, shown};
use super::{dot, mix, smooth};

/// An empty or thin place in a ring.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gap {
    /// Middle, in planet radii.
    pub at: f32,
    /// Width, in planet radii.
    pub width: f32,
    /// Share of the ring's depth that is missing there, 0..1.
    pub share: f32,
}

/// A flat ring of small pieces in the plane of the planet's equator.
#[derive(Debug, Clone, PartialEq)]
pub struct Ring {
    /// Inner edge in planet radii, above 1.
    pub inner: f32,
    /// Outer edge in planet radii.
    pub outer: f32,
    /// Optical depth of the densest parts, seen straight on.
    pub depth: f32,
    /// Colour of the pieces (share of light they throw back), working space.
    pub colour: [f32; 3],
    /// Unevenness in radius, 0..1.
    pub ringlets: f32,
    /// Gaps.
    pub gaps: Vec<Gap>,
    /// How much of the light goes on forwards, 0..0.9 (asymmetry of the Henyey-Greenstein function of the fine dust).
    pub forward: f32,
}

impl Default for Ring {
    fn default() -> Self {
        Self {
            inner: 1.32,
            outer: 2.25,
            depth: 0.16,
            colour: [0.86, 0.80, 0.72],
            ringlets: 0.7,
            gaps: vec![
                Gap {
                    at: 1.96,
                    width: 0.05,
                    share: 0.97,
                },
                Gap {
                    at: 1.52,
                    width: 0.016,
                    share: 0.85,
                },
                Gap {
                    at: 2.17,
                    width: 0.012,
                    share: 0.9,
                },
            ],
            forward: 0.55,
        }
    }
}

impl Ring {
    /// Optical depth (straight on) at `radius` planet radii, where one pixel of the picture spans `pixel` radii.
    #[must_use]
    pub fn depth_at(&self, radius: f32, pixel: f32, seed: u32) -> f32 {
        let width = (self.outer - self.inner).max(1e-3);
        let soft = pixel.max(0.004);
        let inside = smooth(self.inner - soft, self.inner + soft, radius)
            * smooth(self.outer + soft, self.outer - soft, radius);
        if inside <= 0.0 {
            return 0.0;
        }
        let t = (radius - self.inner) / width;
        // Thin towards the planet, dense in the middle, a little thinner outside: broad zones first, fine ringlets after.
        let zones = smooth(-0.1, 0.42, t) * mix(1.0, 0.62, smooth(0.68, 0.80, t));
        let (mut fine, mut size, mut scale) = (0.0_f32, 0.55_f32, 5.0_f32);
        for octave in 0..7_u32 {
            let share = shown(1.0 / scale, 1.1 * pixel / width);
            if share <= 0.0 {
                break;
            }
            let place = [t * scale + 3.7, 0.5, 0.5];
            fine += share * size * gradient(seed ^ (0x1d3 + octave), place).value;
            size *= 0.82;
            scale *= 2.17;
        }
        let uneven = (1.0 + self.ringlets * 1.25 * fine).clamp(0.04, 1.9);
        let open = self.gaps.iter().fold(1.0, |open, gap| {
            let half = gap.width * 0.5;
            let away = (radius - gap.at).abs();
            let edge = soft.max(half * 0.25);
            let missing = gap.share
                * smooth(half + edge, half - edge, away)
                * (gap.width / (gap.width + pixel));
            open * (1.0 - missing)
        });
        self.depth.max(0.0) * inside * zones * uneven * open
    }

    /// Light thrown towards the viewer and coverage, for optical depth `depth` (straight on), the ring's `normal` on the viewer's side and
    /// the direction `key` to a light of strength 1.
    ///
    /// Single scattering in a flat layer (Chandrasekhar, Radiative transfer, chapter 3), with one part that scatters as coarse pieces
    /// and one that scatters forwards as fine dust (Henyey, Greenstein 1941).
    #[must_use]
    pub fn shade(&self, depth: f32, normal: [f32; 3], key: [f32; 3]) -> [f32; 4] {
        let (view, light) = (normal[2].abs().max(0.02), dot(normal, key));
        let sun = light.abs().max(0.02);
        let coverage = 1.0 - libm::expf(-depth / view);
        let passed = if light > 0.0 {
            sun / (sun + view) * (1.0 - libm::expf(-depth * (1.0 / sun + 1.0 / view)))
        } else {
            let (a, b) = (libm::expf(-depth / view), libm::expf(-depth / sun));
            if (view - sun).abs() < 1e-3 {
                depth / view * a
            } else {
                sun / (view - sun) * (a - b)
            }
        };
        let phase = self.phase(key[2]);
        let out = self.colour.map(|share| share * phase * passed);
        [out[0], out[1], out[2], coverage]
    }

    /// Phase function over 4, for the cosine of the angle between light and viewer (1: full, -1: light from behind).
    fn phase(&self, cosine: f32) -> f32 {
        let angle = libm::acosf(cosine.clamp(-1.0, 1.0));
        let pi = std::f32::consts::PI;
        // Coarse pieces: a Lambert sphere, 8/3 of its phase law so that the mean over all directions is 1.
        let coarse = 8.0 / 3.0 * (libm::sinf(angle) + (pi - angle) * cosine) / pi;
        let g = self.forward.clamp(0.0, 0.9);
        let below = 1.0 + g * g + 2.0 * g * cosine;
        let fine = (1.0 - g * g) / (below * below.sqrt());
        0.25 * (0.8 * coarse + 0.2 * fine) * 1.6
    }
}
