//! Glare round lamps: spikes against the published counts, counted in the rendered picture; light that moves but is not made.

use platebench::geometry::Rect;
use platebench::imaging::lights::lay::{Glare, with_glare};
use platebench::imaging::lights::{Spikes, core_px};
use platebench::pixels::convert::{count_f32, floor_i32, narrow};
use platebench::pixels::{Image, Plane};

/// Peaks of light on a circle of `radius_px` round `centre`, in a picture: those that stand out by half between the least and the most.
/// How many spikes a picture shows round a lamp.
fn count_peaks(picture: &Plane, centre: (i32, i32), radius_px: f32) -> usize {
    const POINTS: usize = 1440;
    let values: Vec<f32> = (0..POINTS)
        .map(|point| {
            let angle =
                std::f64::consts::TAU * f64::from(count_f32(point)) / f64::from(count_f32(POINTS));
            let at = |origin: i32, part: f64| f64::from(origin) + 0.5 + f64::from(radius_px) * part;
            let (x, y) = (
                at(centre.0, libm::cos(angle)),
                at(centre.1, libm::sin(angle)),
            );
            let near = |x: i32, y: i32| picture.nearest(x, y);
            let (u, v) = (narrow(x) - 0.5, narrow(y) - 0.5);
            let (left, top) = (floor_i32(u), floor_i32(v));
            let (fx, fy) = (u - narrow(f64::from(left)), v - narrow(f64::from(top)));
            let upper = near(left, top) * (1.0 - fx) + near(left + 1, top) * fx;
            let lower = near(left, top + 1) * (1.0 - fx) + near(left + 1, top + 1) * fx;
            upper * (1.0 - fy) + lower * fy
        })
        .collect();
    let (least, most) = values.iter().fold((f32::MAX, 0.0_f32), |(low, high), v| {
        (low.min(*v), high.max(*v))
    });
    let middle = 0.5 * (least + most);
    let rising = |at: &usize| values[*at] < middle && values[(*at + 1) % POINTS] >= middle;
    if most <= least {
        return 0;
    }
    (0..POINTS).filter(rising).count()
}

const SIDE: i32 = 481;
const LAMP: (i32, i32) = (236, 244);

/// A lamp five pixels wide, over black.
fn lamp() -> Image {
    Image::from_fn(Rect::new(0, 0, SIDE, SIDE), |x, y| {
        let near = (x - LAMP.0).abs().max((y - LAMP.1).abs()) <= 2;
        if near {
            [40.0, 30.0, 20.0, 1.0]
        } else {
            [0.0, 0.0, 0.0, 1.0]
        }
    })
}

fn shape(blades: u32) -> Spikes {
    Spikes {
        blades,
        turn_deg: 7.0,
        core_px: core_px(11.0),
        share: 0.2,
        spread: 0.5,
    }
}

fn green(image: &Image) -> Plane {
    Plane {
        rect: image.rect,
        data: image.data.iter().map(|pixel| pixel[1]).collect(),
    }
}

#[test]
fn blades_make_as_many_spikes_as_the_table_says() {
    let table = include_str!("checks/spikes.csv");
    let rows = table
        .lines()
        .filter(|line| line.starts_with(|first: char| first.is_ascii_digit()));
    let mut count = 0;
    for row in rows {
        let cells: Vec<&str> = row.split(',').collect();
        let blades: u32 = cells[0].parse().unwrap();
        let spikes: usize = cells[1].parse().unwrap();
        let glare = Glare {
            spikes: Some(shape(blades)),
            ..Glare::default()
        };
        let picture = green(&with_glare(&lamp(), None, &glare));
        for radius in [50.0, 90.0] {
            assert_eq!(
                count_peaks(&picture, LAMP, radius),
                spikes,
                "{blades} blades at {radius} px"
            );
        }
        count += 1;
    }
    assert_eq!(count, 9, "rows of the table");
}

#[test]
fn glare_moves_light_and_makes_none_and_black_stays_black() {
    let glare = Glare {
        glow_px: 3.0,
        glow_share: 0.4,
        spikes: Some(shape(9)),
    };
    let sum = |image: &Image, c: usize| image.data.iter().map(|p| f64::from(p[c])).sum::<f64>();
    let (before, after) = (lamp(), with_glare(&lamp(), None, &glare));
    for channel in 0..3 {
        let ratio = sum(&after, channel) / sum(&before, channel);
        assert!((ratio - 1.0).abs() < 1e-3, "channel {channel}: {ratio}");
    }
    let black = Image::from_fn(Rect::new(0, 0, 90, 70), |_, _| [0.0, 0.0, 0.0, 1.0]);
    assert_eq!(with_glare(&black, None, &glare), black);
    assert_eq!(with_glare(&before, None, &Glare::default()), before);
}
