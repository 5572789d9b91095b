//! Accuracy and time of registration on frames with known truth: `measure_registration DIR`, where DIR holds
//! `truth.txt` (width, height, reference, then six numbers per frame: reference to frame, between pixel indices) and
//! `frame_NN.raw` (little-endian f32 linear luma). Not part of `cargo test`: it takes 24-megapixel frames and reads the clock.
#![expect(
    clippy::disallowed_methods,
    clippy::print_stdout,
    reason = "a measuring program outside the product reads files and the clock, and prints"
)]

use platebench::geometry::{Point, Rect, Similarity, Transform, rect::whole};
use platebench::imaging::register::{Light, Link, Prepared, similarity, solve_links};
use platebench::pixels::Plane;
use platebench::pixels::convert::{clamp_index, count_f64};
use std::error::Error;
use std::time::Instant;

const STILL: Similarity = Similarity {
    log_scale: 0.0,
    angle_rad: 0.0,
    shift: Point { x: 0.0, y: 0.0 },
};

/// A stack with known truth.
struct Stack {
    rect: Rect,
    reference: usize,
    /// Reference to frame, between positions.
    truth: Vec<Transform>,
    frames: Vec<Prepared>,
}

fn main() -> Result<(), Box<dyn Error>> {
    let folder = std::env::args().nth(1).ok_or("which folder?")?;
    let stack = Stack::read(&folder)?;
    direct(&stack)?;
    linked(&stack)
}

impl Stack {
    fn read(folder: &str) -> Result<Self, Box<dyn Error>> {
        let text = std::fs::read_to_string(format!("{folder}/truth.txt"))?;
        let numbers = text
            .split_whitespace()
            .map(str::parse)
            .collect::<Result<Vec<f64>, _>>()?;
        let [width, height, reference, rest @ ..] = numbers.as_slice() else {
            return Err("truth.txt is too short".into());
        };
        let rect = Rect::around(&[Point::default(), Point::new(*width, *height)]);
        let (half, back) = (
            Transform::translation(0.5, 0.5),
            Transform::translation(-0.5, -0.5),
        );
        let truth: Vec<Transform> = rest
            .chunks_exact(6)
            .map(|m| Transform {
                rows: [[m[0], m[1], m[2]], [m[3], m[4], m[5]], [0.0, 0.0, 1.0]],
            })
            .map(|one| half.after(&one).after(&back))
            .collect();
        let mut frames = Vec::new();
        let mut spent = 0.0;
        for index in 0..truth.len() {
            let bytes = std::fs::read(format!("{folder}/frame_{index:02}.raw"))?;
            let data = bytemuck::pod_collect_to_vec::<u8, f32>(&bytes);
            let plane = Plane { rect, data };
            let began = Instant::now();
            frames.push(Prepared::new(&plane, Light::Same, 0.98));
            spent += began.elapsed().as_secs_f64();
        }
        println!(
            "prepared: {:.3} s per frame",
            spent / count_f64(truth.len())
        );
        Ok(Self {
            rect,
            reference: clamp_index(whole(*reference)),
            truth,
            frames,
        })
    }

    /// Where frame `from` truly lies against frame `to`.
    fn between(&self, to: usize, from: usize) -> Result<Transform, Box<dyn Error>> {
        let back = self.truth[from].inverse().ok_or("no inverse")?;
        Ok(self.truth[to].after(&back))
    }

    /// Root mean square distance at the four corners.
    fn error(&self, found: &Transform, wanted: &Transform) -> f64 {
        let square = |corner: &Point| {
            let gap = found.apply(*corner).distance(wanted.apply(*corner));
            gap * gap
        };
        (self.rect.corners().iter().map(square).sum::<f64>() / 4.0).sqrt()
    }
}

fn direct(stack: &Stack) -> Result<(), Box<dyn Error>> {
    let began = Instant::now();
    let mut errors = Vec::new();
    for index in (0..stack.truth.len()).filter(|index| *index != stack.reference) {
        let found = similarity(&stack.frames[stack.reference], &stack.frames[index], STILL)
            .ok_or("nothing found")?;
        let error = stack.error(
            &found.reference_from_moved,
            &stack.between(stack.reference, index)?,
        );
        println!(
            "direct {index}: {error:.4} px, correlation {:.4}, residual {:.4} px",
            found.correlation, found.residual_px
        );
        errors.push(error);
    }
    report("direct", &errors, began, errors.len());
    Ok(())
}

fn linked(stack: &Stack) -> Result<(), Box<dyn Error>> {
    let n = stack.truth.len();
    let began = Instant::now();
    let mut links = Vec::new();
    let mut errors = Vec::new();
    for (step, weight) in [(1, 1.0), (2, 0.5)] {
        for to in 0..n - step {
            let from = to + step;
            let found =
                similarity(&stack.frames[to], &stack.frames[from], STILL).ok_or("nothing found")?;
            if step == 1 {
                errors.push(stack.error(&found.reference_from_moved, &stack.between(to, from)?));
            }
            links.push(Link {
                from,
                to,
                similarity: found.similarity,
                weight,
            });
        }
    }
    report("neighbours", &errors, began, links.len());
    let solved = solve_links(n, stack.reference, &links);
    let centre = stack.frames[0].centre();
    let mut chained = Vec::new();
    for index in (0..n).filter(|index| *index != stack.reference) {
        let found = Transform::similarity(solved[index], centre);
        chained.push(stack.error(&found, &stack.between(stack.reference, index)?));
    }
    report("solved together", &chained, began, links.len());
    Ok(())
}

fn report(name: &str, errors: &[f64], began: Instant, runs: usize) {
    let mean = errors.iter().sum::<f64>() / count_f64(errors.len());
    let worst = errors.iter().copied().fold(0.0, f64::max);
    println!(
        "{name}: corner rms mean {mean:.4} px, worst {worst:.4} px; {:.3} s per pair",
        began.elapsed().as_secs_f64() / count_f64(runs)
    );
}
