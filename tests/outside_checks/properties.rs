//! Properties that hold whatever the picture: no source is needed for them.

use platebench::geometry::{Point, Rect, Size};
use platebench::imaging::basics::colour::ciede2000;
use platebench::imaging::blend::{Blend, blend_pixel};
use platebench::imaging::made::{dust, planet, stars};
use platebench::pixels::Image;
use proptest::prelude::*;

/// A premultiplied pixel: light of any size, coverage 0..=1.
fn pixel() -> impl Strategy<Value = [f32; 4]> {
    (0.0_f32..4.0, 0.0_f32..4.0, 0.0_f32..4.0, 0.0_f32..=1.0)
        .prop_map(|(r, g, b, a)| [r * a, g * a, b * a, a])
}

proptest! {
    #[test]
    fn over_is_associative(a in pixel(), b in pixel(), c in pixel()) {
        let over = |above, below| blend_pixel(Blend::SourceOver, below, above);
        let (left, right) = (over(over(a, b), c), over(a, over(b, c)));
        for (left, right) in left.into_iter().zip(right) {
            prop_assert!((left - right).abs() < 4e-6, "{left} and {right}");
        }
    }

    #[test]
    fn over_nothing_is_the_picture_itself(a in pixel()) {
        prop_assert_eq!(blend_pixel(Blend::SourceOver, [0.0; 4], a), a);
        prop_assert_eq!(blend_pixel(Blend::SourceOver, a, [0.0; 4]), a);
    }

    #[test]
    fn a_colour_difference_has_no_direction(
        a in (0.0_f64..100.0, -90.0_f64..90.0, -90.0_f64..90.0),
        b in (0.0_f64..100.0, -90.0_f64..90.0, -90.0_f64..90.0),
    ) {
        let (a, b) = ([a.0, a.1, a.2], [b.0, b.1, b.2]);
        prop_assert!((ciede2000(a, b) - ciede2000(b, a)).abs() < 1e-9);
        prop_assert!(ciede2000(a, a).abs() < 1e-12);
    }
}

/// The same seed gives the same bits, drawn whole or in parts, on one thread or three.
#[test]
fn a_seed_gives_the_same_picture_everywhere() {
    let size = Size::new(300, 200);
    let field = stars::Stars::new(size);
    let world = planet::Planet {
        centre: Point::new(160.0, 90.0),
        radius_px: 70.0,
        ..planet::Planet::default()
    };
    let on = |threads: usize, draw: &(dyn Fn(Rect) -> Image + Sync), rect: Rect| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        pool.install(|| draw(rect))
    };
    let part = Rect::new(101, 37, 223, 161);
    let draws: [(&str, &(dyn Fn(Rect) -> Image + Sync)); 3] = [
        ("stars", &|rect| stars::render(&field, rect, 0)),
        ("dust", &|rect| {
            dust::render(&dust::Dust::default(), rect, 0)
        }),
        ("planet", &|rect| planet::render(&world, rect, 0)),
    ];
    for (name, draw) in draws {
        let whole = on(1, draw, size.rect());
        assert!(
            whole.data.iter().any(|pixel| pixel[1] > 0.0),
            "{name} shows something"
        );
        assert_eq!(on(3, draw, size.rect()), whole, "{name}");
        assert_eq!(on(3, draw, part), whole.crop(part), "{name}");
    }
}
