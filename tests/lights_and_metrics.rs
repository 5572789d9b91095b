//! Published and computed check values for adding light (trade notes B20) and for the measures of likeness (B18).

#[path = "common/metrics.rs"]
mod metrics;

use metrics::{mean_square, psnr, ssim_map};
use platebench::geometry::Rect;
use platebench::imaging::lights::difference;
use platebench::imaging::lights::lay::{LaidOver, lay_over};
use platebench::pixels::convert::narrow;
use platebench::pixels::{Image, Plane, Planes};

/// Linear light of an sRGB code position 0..255 (IEC 61966-2-1), and back.
fn light_of(code: f64) -> f64 {
    let value = code / 255.0;
    if value <= 0.04045 {
        value / 12.92
    } else {
        libm::pow((value + 0.055) / 1.055, 2.4)
    }
}

fn code_of(light: f64) -> f64 {
    let encoded = if light <= 0.003_130_8 {
        12.92 * light
    } else {
        1.055 * libm::pow(light, 1.0 / 2.4) - 0.055
    };
    255.0 * encoded.min(1.0)
}

fn one(light: f64) -> Planes {
    let plane = Plane::filled(Rect::new(0, 0, 1, 1), narrow(light));
    Planes {
        rgb: [plane.clone(), plane.clone(), plane],
    }
}

fn image(planes: &Planes) -> Image {
    let [red, green, blue] = planes.pixel(0);
    Image::from_fn(planes.rect(), |_, _| [red, green, blue, 1.0])
}

/// `light` laid over `plate` as it is, `stops` stronger.
fn laid(plate: &Planes, light: &Planes, stops: f32) -> f32 {
    let mut tile = image(plate);
    let as_shot = LaidOver {
        stops,
        ..LaidOver::default()
    };
    lay_over(&mut tile, &image(light), None, &as_shot);
    tile.data[0][1]
}

#[test]
fn a_light_pass_adds_as_the_table_says() {
    let table = include_str!("checks/light_pass.csv");
    let rows: Vec<Vec<f64>> = table
        .lines()
        .filter(|line| line.starts_with(|first: char| first.is_ascii_digit()))
        .map(|line| {
            line.split(',')
                .map(|cell| cell.trim().parse().unwrap())
                .collect()
        })
        .collect();
    assert_eq!(rows.len(), 8);
    for row in rows {
        let [a, b, stops, .., sum, code, _, over] = row[..] else {
            panic!("short row {row:?}");
        };
        let plate = one(light_of(a));
        let lit = one(light_of(b));
        // The light pass was shot with the key off, `stops` stops longer.
        let exposure = narrow(libm::exp2(-stops));
        let light = difference(&lit, &one(0.0), exposure, [0.0; 3]);
        let made = laid(&plate, &light, 0.0);
        assert!((f64::from(made) - sum).abs() < 1e-6, "{row:?}: {made}");
        assert!(
            (code_of(f64::from(made)) - code).abs() < 0.01,
            "{row:?}: {made}"
        );
        assert_eq!(made > 1.0, over > 0.5, "{row:?}");
        let same = laid(&plate, &lit, narrow(-stops));
        assert!((same - made).abs() < 1e-7, "{row:?}: {same} for {made}");
    }
}

#[test]
fn psnr_of_known_errors() {
    for (error, expected) in [(1.0, 48.1308), (4.0, 42.1102), (6.5025, 40.0)] {
        let found = psnr(255.0, error);
        assert!((found - expected).abs() < 1e-4, "{error}: {found}");
    }
}

#[test]
fn ssim_of_two_flat_fields() {
    let rect = Rect::new(0, 0, 24, 20);
    let (a, b) = (Plane::filled(rect, 100.0), Plane::filled(rect, 120.0));
    assert!((mean_square(&a, &b, |_| true) - 400.0).abs() < 1e-9);
    for value in &ssim_map(&a, &b, 255.0).data {
        assert!((value - 0.983_610_9).abs() < 1e-5, "{value}");
    }
    assert!(
        ssim_map(&a, &a, 255.0)
            .data
            .iter()
            .all(|v| (v - 1.0).abs() < 1e-6)
    );
}
