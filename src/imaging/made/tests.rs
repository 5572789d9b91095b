//! What made plates promise.

use super::*;
use crate::geometry::{Point, Rect, Size};
use crate::pixels::Image;
use crate::pixels::convert::{clamp_index, count_f64};

const PAGE: Rect = Rect::new(0, 0, 160, 120);

fn planet() -> Planet {
    Planet {
        centre: Point::new(80.0, 60.0),
        radius_px: 40.0,
        ..Planet::default()
    }
}

fn stars() -> Stars {
    Stars {
        faintest: 11.0,
        ..Stars::new(Size::new(160, 120))
    }
}

fn dust() -> Dust {
    Dust {
        centre: Point::new(70.0, 50.0),
        width_px: 40.0,
        cloud_px: 60.0,
        ..Dust::default()
    }
}

#[test]
fn tiles_agree_bit_for_bit() {
    let all: [&dyn Fn(Rect, u32) -> Image; 3] = [
        &|rect, level| stars::render(&stars(), rect, level),
        &|rect, level| dust::render(&dust(), rect, level),
        &|rect, level| planet::render(&planet(), rect, level),
    ];
    for render in all {
        for level in 0..2 {
            let whole = render(PAGE, level);
            for tile in [
                Rect::new(0, 0, 61, 47),
                Rect::new(61, 47, 160, 120),
                Rect::new(60, 0, 61, 120),
            ] {
                assert_eq!(render(tile, level), whole.crop(tile));
            }
        }
    }
}

#[test]
fn counts_and_light_of_stars_follow_the_recipe() {
    let canvas = Size::new(2000, 1364);
    let recipe = Stars {
        field_deg: 39.598,
        faintest: 8.0,
        slope: 0.48,
        clumping: 0.0,
        ..Stars::new(canvas)
    };
    // 1039 square degrees to magnitude 8 hold 1223 stars on average by the published counts; the law gives the same within 10 %.
    let degrees = recipe.density() * count_f64(clamp_index(2000)) * 1364.0;
    assert!((degrees / 1223.0 - 1.0).abs() < 0.1, "{degrees} stars");
    let light: f64 = stars::render(&recipe, canvas.rect(), 0)
        .data
        .iter()
        .map(|pixel| f64::from(pixel[1]))
        .sum();
    let half: f64 = stars::render(&recipe, Rect::new(0, 0, 1000, 682), 1)
        .data
        .iter()
        .map(|pixel| f64::from(pixel[1]))
        .sum();
    assert!(
        light > 10.0 && (4.0 * half / light - 1.0).abs() < 0.03,
        "{light} {half}"
    );
}

#[test]
fn the_planets_light_follows_the_phase_law() {
    // A smooth white sphere without air and ring: mean light over the disc is 2/3 of the phase law.
    for (azimuth, want) in [
        (0.0, 1.0),
        (std::f64::consts::FRAC_PI_2, std::f64::consts::FRAC_1_PI),
        (2.094_395_1, 0.108_998),
    ] {
        let recipe = Planet {
            key: [azimuth, 0.0],
            ground: [[1.0; 3]; 3],
            relief: 0.0,
            air: Air {
                strength: 0.0,
                ..planet().air
            },
            ring: None,
            ..planet()
        };
        let image = planet::render(&recipe, PAGE, 0);
        let light: f64 = image.data.iter().map(|pixel| f64::from(pixel[1])).sum();
        let disc: f64 = image.data.iter().map(|pixel| f64::from(pixel[3])).sum();
        let phase = light / disc * 1.5;
        assert!(
            (phase - want).abs() < 0.012,
            "{azimuth}: {phase} for {want}"
        );
        assert!((disc / (std::f64::consts::PI * 1600.0) - 1.0).abs() < 2e-3);
    }
}

#[test]
fn planet_and_ring_shade_each_other() {
    let with = planet::render(&planet(), PAGE, 0);
    let alone = Planet {
        ring: None,
        ..planet()
    };
    let without = planet::render(&alone, PAGE, 0);
    let darker = with
        .data
        .iter()
        .zip(&without.data)
        .filter(|(a, b)| b[3] >= 1.0 && a[1] < 0.7 * b[1] && b[1] > 0.1)
        .count();
    assert!(
        darker > 20,
        "{darker} pixels of the planet lie in the ring's shadow"
    );
    let bounds = planet::bounds(&planet());
    for (index, pixel) in with.data.iter().enumerate() {
        let (x, y) = with.position(index);
        assert!(bounds.contains(x, y) || pixel[3] <= 0.0);
        assert!(
            pixel.iter().all(|value| value.is_finite() && *value >= 0.0),
            "{pixel:?}"
        );
    }
}

#[test]
fn rock_sizes_recover_their_slope() {
    for slope in [2.5, 3.05] {
        let drawn = rocks::sizes(3, 4000, slope, [1.0, 1e9]);
        let logs: f64 = drawn.iter().map(|size| libm::log(*size)).sum();
        let found = count_f64(drawn.len()) / logs;
        let error = slope / count_f64(drawn.len()).sqrt();
        assert!((found - slope).abs() < 3.0 * error, "{found} for {slope}");
    }
}
