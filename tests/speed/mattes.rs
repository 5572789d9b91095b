//! Prints how long mattes of 24 megapixels take and what they need: `cargo run --release --example mattes`.
#![expect(
    clippy::print_stdout,
    clippy::disallowed_methods,
    reason = "a report, outside the gate"
)]

use platebench::geometry::Rect;
use platebench::imaging::basics::random::{bits_at, normal_quick};
use platebench::imaging::matte::{
    Levels, Plain, backdrop_of, before_backdrop, cut, quiet_backdrop, two_backdrops,
};
use platebench::pixels::{Plane, Planes};
use platebench::session::system;
use std::time::Instant;

const SIDE: (i32, i32) = (6000, 4000);

/// A grey disc with stripes before light `back`, with noise.
fn photo(back: [f32; 3], seed: u64, shown: f32) -> Planes {
    let rect = Rect::new(0, 0, SIDE.0, SIDE.1);
    let rgb = [0, 1, 2].map(|channel: u32| {
        let (back, seed) = (back[channel as usize], seed * 3 + u64::from(channel));
        Plane::from_fn(rect, |x, y| {
            let (dx, dy) = ((x - 3000) as f32, (y - 2000) as f32);
            let cover = (1500.0 - (dx * dx + dy * dy).sqrt()).clamp(0.0, 1.0) * shown;
            let model = 0.3 + 0.2 * ((x / 40 + y / 60) % 3) as f32;
            let light = cover * model + (1.0 - cover) * back * (0.9 + 0.1 * x as f32 / 6000.0);
            light + 0.003 * normal_quick(bits_at(seed, x, y))
        })
    });
    Planes { rgb }
}

fn timed<T>(what: &str, work: impl FnOnce() -> T) -> T {
    let start = Instant::now();
    let out = work();
    let peak = system::peak_memory() / (1 << 20);
    println!(
        "{what:34} {:6.2} s   peak {peak} MiB",
        start.elapsed().as_secs_f64()
    );
    out
}

fn main() {
    for (name, back) in [("grey", [0.3; 3]), ("green", [0.1, 0.35, 0.08])] {
        let seen = photo(back, 1, 1.0);
        let found = timed(&format!("{name}: evenness"), || backdrop_of(&seen));
        let clean = timed(&format!("{name}: clean plate made quiet"), || {
            quiet_backdrop(&photo(back, 2, 0.0))
        });
        drop(found);
        let cover = timed(&format!("{name}: matte"), || {
            before_backdrop(&seen, &clean, None, &Plain::default())
        });
        timed(&format!("{name}: edge colour"), || {
            cut(&seen, &clean, &cover)
        });
    }
    let (bright, dark) = (photo([0.6; 3], 3, 1.0), photo([0.004; 3], 4, 1.0));
    let (b1, b2) = (photo([0.6; 3], 5, 0.0), photo([0.004; 3], 6, 0.0));
    timed("two levels", || {
        let (b1, b2) = (quiet_backdrop(&b1), quiet_backdrop(&b2));
        two_backdrops([&bright, &b1], [&dark, &b2], &Levels::default())
    });
}
