//! Accuracy and time of registration on frames with known truth: `measure_registration DIR`, where DIR holds
//! `truth.txt` (width, height, reference, then six numbers per frame: reference to frame) and `frame_NN.raw`
//! (little-endian f32 linear luma). Not part of `cargo test`: it takes 24-megapixel frames and reads the clock.
#![expect(
    clippy::disallowed_methods,
    clippy::print_stdout,
    reason = "a measuring program outside the product reads files and the clock, and prints"
)]

use platebench::geometry::{Point, Rect, Similarity, Transform};
use platebench::imaging::register::{Light, Link, Prepared, similarity, solve_links};
use platebench::pixels::Plane;
use std::time::Instant;

const STILL: Similarity = Similarity {
    log_scale: 0.0,
    angle_rad: 0.0,
    shift: Point { x: 0.0, y: 0.0 },
};

fn main() {
    let folder = std::env::args().nth(1).expect("a folder");
    let text = std::fs::read_to_string(format!("{folder}/truth.txt")).expect("truth.txt");
    let numbers: Vec<f64> = text
        .split_whitespace()
        .map(|word| word.parse().expect("number"))
        .collect();
    let size = [numbers[0], numbers[1]];
    let rect = Rect::around(&[Point::new(0.0, 0.0), Point::new(size[0], size[1])]);
    let reference = numbers[2].to_string().parse::<usize>().expect("index");
    // The truth is given between pixel indices; half a pixel on both sides makes it one between positions.
    let half = Transform::translation(0.5, 0.5);
    let back = Transform::translation(-0.5, -0.5);
    let truth: Vec<Transform> = numbers[3..]
        .chunks_exact(6)
        .map(|m| Transform {
            rows: [[m[0], m[1], m[2]], [m[3], m[4], m[5]], [0.0, 0.0, 1.0]],
        })
        .map(|one| half.after(&one).after(&back))
        .collect();
    let n = truth.len();
    let planes: Vec<Plane> = (0..n)
        .map(|index| {
            let bytes = std::fs::read(format!("{folder}/frame_{index:02}.raw")).expect("frame");
            let data = bytemuck::pod_collect_to_vec::<u8, f32>(&bytes);
            Plane { rect, data }
        })
        .collect();
    let began = Instant::now();
    let prepared: Vec<Prepared> = planes
        .iter()
        .map(|plane| Prepared::new(plane, Light::Same, 0.98))
        .collect();
    println!(
        "prepared: {:.3} s per frame",
        began.elapsed().as_secs_f64() / n as f64
    );
    let error = |found: &Transform, wanted: &Transform| {
        let sum: f64 = rect
            .corners()
            .iter()
            .map(|corner| {
                let gap = found.apply(*corner).distance(wanted.apply(*corner));
                gap * gap
            })
            .sum();
        (sum / 4.0).sqrt()
    };
    let centre = prepared[0].centre();
    let began = Instant::now();
    let mut direct = Vec::new();
    for index in (0..n).filter(|index| *index != reference) {
        let found = similarity(&prepared[reference], &prepared[index], STILL).expect("found");
        let wanted = truth[index].inverse().expect("inverse");
        direct.push(error(&found.reference_from_moved, &wanted));
        println!(
            "direct {index}: {:.4} px, correlation {:.4}, residual {:.4} px",
            direct[direct.len() - 1],
            found.correlation,
            found.residual_px
        );
    }
    report("direct", &direct, began, n - 1);
    let began = Instant::now();
    let mut links = Vec::new();
    let mut errors = Vec::new();
    for step in [1, 2] {
        for index in 0..n - step {
            let found =
                similarity(&prepared[index], &prepared[index + step], STILL).expect("found");
            let wanted = truth[index].after(&truth[index + step].inverse().expect("inverse"));
            if step == 1 {
                errors.push(error(&found.reference_from_moved, &wanted));
            }
            links.push(Link {
                from: index + step,
                to: index,
                similarity: found.similarity,
                weight: if step == 1 { 1.0 } else { 0.5 },
            });
        }
    }
    report("links", &errors, began, links.len());
    let solved = solve_links(n, reference, &links);
    let chained: Vec<f64> = (0..n)
        .filter(|index| *index != reference)
        .map(|index| {
            let wanted = truth[index].inverse().expect("inverse");
            error(&Transform::similarity(solved[index], centre), &wanted)
        })
        .collect();
    report("solved", &chained, began, links.len());
}

fn report(name: &str, errors: &[f64], began: Instant, runs: usize) {
    let mean = errors.iter().sum::<f64>() / errors.len() as f64;
    let worst = errors.iter().copied().fold(0.0, f64::max);
    println!(
        "{name}: corner rms mean {mean:.4} px, worst {worst:.4} px; {:.3} s per pair",
        began.elapsed().as_secs_f64() / runs as f64
    );
}
