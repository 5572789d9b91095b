//! Measures of likeness against a library and against transcriptions of their papers.

use crate::fusion_measures::{edges_kept, likeness_kept};
use crate::metrics::ssim_map;
use crate::table::{near, rows};
use platebench::geometry::Rect;
use platebench::pixels::Plane;
use platebench::pixels::convert::{count_f32, small_f32};

const RECT: Rect = Rect::new(0, 0, 48, 40);

/// Means of the squares of `2 reach + 1` pixels, parts of them at the border, rounded half up.
fn means(plane: &Plane, reach: i32) -> Plane {
    Plane::from_fn(RECT, |x, y| {
        let square = Rect::new(x - reach, y - reach, x + reach + 1, y + reach + 1);
        let part = square.intersect(RECT);
        let sum: f32 = plane.crop(part).data.iter().sum();
        (sum / count_f32(part.area()) + 0.5).floor()
    })
}

/// The pictures that the check file tells.
fn picture(name: &str) -> Plane {
    let grain = Plane::from_fn(RECT, |x, y| {
        small_f32((37 * x + 91 * y + 11 * ((x * y) % 53) + 29 * (x / 9) * (y / 7)) % 256)
    });
    let sharp = means(&grain, 1);
    let soft = means(&sharp, 2);
    let halves = |left: &Plane, right: &Plane| {
        Plane::from_fn(RECT, |x, y| {
            if x < 24 {
                left.at(x, y)
            } else {
                right.at(x, y)
            }
        })
    };
    match name {
        "sharp" => sharp,
        "soft" => soft,
        "left" => halves(&sharp, &soft),
        "right" => halves(&soft, &sharp),
        "mild" => means(&sharp, 1),
        other => unreachable!("no picture is called {other}"),
    }
}

#[test]
fn likeness_reads_as_the_papers_and_the_library_say() {
    for row in rows(include_str!("../checks/fusion_measures.csv")) {
        let [a, fused] = ["a", "fused"].map(|column| picture(row.text(column)));
        let sources = || [a.clone(), picture(row.text("b"))];
        let measure = row.text("measure");
        let (found, tolerance) = match measure {
            "qabf" => (edges_kept(&sources(), &fused), 1e-6),
            "qw" => (likeness_kept(&sources(), &fused), 1e-6),
            "ssim" => {
                let inner = ssim_map(&a, &fused, 255.0).crop(RECT.grow(-5));
                let sum: f64 = inner.data.iter().map(|value| f64::from(*value)).sum();
                (sum / f64::from(count_f32(inner.data.len())), 1e-5)
            }
            other => unreachable!("no measure is called {other}"),
        };
        near(found, row.number("value"), tolerance, measure);
    }
}
