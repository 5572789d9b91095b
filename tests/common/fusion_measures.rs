//! Measures of a fused picture against the pictures it was fused from, for quality tables.
//!
//! Q^AB/F: Xydeas and Petrovic 2000, "Objective image fusion performance measure". `Q_W`: Piella and Heijmans 2003, "A new quality metric
//! for image fusion". Both are told for two pictures; for more, sums over two become sums over all.
#![allow(
    dead_code,
    unreachable_pub,
    clippy::allow_attributes,
    reason = "each test file uses a part"
)]

use platebench::geometry::Rect;
use platebench::pixels::convert::coordinate;
use platebench::pixels::{Plane, Planes};

/// A picture in root-encoded grey, in whole numbers 0 to 255; the weights of red, green and blue are those of ITU-R BT.601.
pub fn grey_codes(planes: &Planes) -> Plane {
    let root = |value: f32| 255.0 * value.clamp(0.0, 1.0).sqrt();
    let data = (0..planes.rect().area()).map(|at| {
        let [red, green, blue] = planes.pixel(at).map(root);
        (0.2989 * red + 0.5870 * green + 0.1140 * blue).round()
    });
    Plane {
        rect: planes.rect(),
        data: data.collect(),
    }
}

/// Strength and angle of the edge at every pixel by Sobel's operator, with zeros outside.
fn edges(plane: &Plane) -> Vec<(f64, f64)> {
    let rect = plane.rect;
    let at = |x: i32, y: i32| {
        if rect.contains(x, y) {
            f64::from(plane.at(x, y))
        } else {
            0.0
        }
    };
    let mut out = Vec::with_capacity(rect.area());
    for y in rect.y0..rect.y1 {
        for x in rect.x0..rect.x1 {
            let column = |dx: i32| at(x + dx, y - 1) + 2.0 * at(x + dx, y) + at(x + dx, y + 1);
            let row = |dy: i32| at(x - 1, y + dy) + 2.0 * at(x, y + dy) + at(x + 1, y + dy);
            let (across, down) = (column(1) - column(-1), row(1) - row(-1));
            let strength = (across * across + down * down).sqrt();
            let upright = if across == 0.0 { 1e-5 } else { across };
            out.push((strength, libm::atan(down / upright)));
        }
    }
    out
}

/// How much of the edges of `sources` lives on in `fused`, 0 to 1; values 0 to 255.
pub fn edges_kept(sources: &[Plane], fused: &Plane) -> f64 {
    let kept = edges(fused);
    let (mut sum, mut weights) = (0.0, 0.0);
    for source in sources {
        for ((strength, angle), (fused_strength, fused_angle)) in edges(source).iter().zip(&kept) {
            let (low, high) = if strength < fused_strength {
                (strength, fused_strength)
            } else {
                (fused_strength, strength)
            };
            let share = if *high > 0.0 { low / high } else { 0.0 };
            let turn = 1.0 - (angle - fused_angle).abs() / std::f64::consts::FRAC_PI_2;
            let of_strength = 0.9994 / (1.0 + libm::exp(-15.0 * (share - 0.5)));
            let of_angle = 0.9879 / (1.0 + libm::exp(-22.0 * (turn - 0.8)));
            sum += strength * of_strength * of_angle;
            weights += strength;
        }
    }
    if weights > 0.0 { sum / weights } else { 0.0 }
}

/// Side of the windows of [`likeness_kept`].
const WINDOW: usize = 8;

/// Sums of a picture over all windows, row by row of windows.
fn windows(rect: Rect, value: impl Fn(usize) -> f64) -> Vec<f64> {
    let (width, height) = (rect.width(), rect.height());
    let mut columns = vec![0.0; width];
    let mut out = Vec::new();
    for y in 0..height {
        for (x, column) in columns.iter_mut().enumerate() {
            *column += value(y * width + x);
            if y >= WINDOW {
                *column -= value((y - WINDOW) * width + x);
            }
        }
        if y + 1 >= WINDOW {
            out.extend(columns.windows(WINDOW).map(|part| part.iter().sum::<f64>()));
        }
    }
    out
}

/// Mean and variance of all windows of a picture.
struct Spread {
    mean: Vec<f64>,
    variance: Vec<f64>,
}

impl Spread {
    fn of(plane: &Plane) -> Self {
        let count = f64::from(coordinate(WINDOW * WINDOW));
        let of = |at: usize| f64::from(plane.data[at]);
        let mean: Vec<f64> = windows(plane.rect, of).iter().map(|s| s / count).collect();
        let squares = windows(plane.rect, |at| of(at) * of(at));
        let variance = squares.iter().zip(&mean);
        Self {
            variance: variance
                .map(|(s, m)| (s / count - m * m).max(0.0))
                .collect(),
            mean,
        }
    }
}

/// The universal quality index of one window (Wang and Bovik 2002), from means, variances and covariance.
fn index((x, y): (f64, f64), (xx, yy): (f64, f64), xy: f64) -> f64 {
    let (means, spreads) = (x * x + y * y, xx + yy);
    if spreads > 0.0 && means > 0.0 {
        4.0 * xy * x * y / (means * spreads)
    } else if means > 0.0 {
        2.0 * x * y / means
    } else {
        1.0
    }
}

/// How like its sources a fused picture is, window by window, each source counting by its variance and each window by the largest; -1 to 1.
pub fn likeness_kept(sources: &[Plane], fused: &Plane) -> f64 {
    let count = f64::from(coordinate(WINDOW * WINDOW));
    let of_fused = Spread::of(fused);
    let windows_of = of_fused.mean.len();
    let (mut likeness, mut total, mut most) = (
        vec![0.0; windows_of],
        vec![0.0; windows_of],
        vec![0.0_f64; windows_of],
    );
    for source in sources {
        let own = Spread::of(source);
        let products = windows(fused.rect, |at| {
            f64::from(source.data[at]) * f64::from(fused.data[at])
        });
        for at in 0..windows_of {
            let means = (own.mean[at], of_fused.mean[at]);
            let variances = (own.variance[at], of_fused.variance[at]);
            let together = products[at] / count - means.0 * means.1;
            likeness[at] += variances.0 * index(means, variances, together);
            total[at] += variances.0;
            most[at] = most[at].max(variances.0);
        }
    }
    let (mut sum, mut weights) = (0.0, 0.0);
    for at in (0..windows_of).filter(|at| total[*at] > 0.0) {
        sum += most[at] * likeness[at] / total[at];
        weights += most[at];
    }
    if weights > 0.0 { sum / weights } else { 1.0 }
}
