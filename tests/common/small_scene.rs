//! The demo scene at an eighth of its size, for tests that build whole scenes many times.
#![allow(
    clippy::panic,
    clippy::allow_attributes,
    reason = "a failed step is a failed test"
)]

use platebench::files::Limits;
use platebench::files::output::{OutputColour, Picture, Pixels, WriteOptions, write};
use platebench::files::photo;
use platebench::geometry::{Point, Size};
use platebench::pixels::Numbers;
use platebench::project::{
    Made, Mask, MaskPart, Placing, Project, Shape, Source, Step, StepKind, Variant,
};
use platebench::session::{Session, Settings};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// How much smaller.
pub(crate) const FACTOR: u32 = 8;

/// Where the demo scene lies in the repository.
pub(crate) fn demo() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("demo_scenes/ice_shift/scene")
}

/// Settings that keep nothing on disc.
pub(crate) fn settings() -> Settings {
    Settings {
        scratch_bytes: 0,
        ..Settings::for_memory(2 << 30)
    }
}

/// Writes the small scene into `folder` and says where its project file is. Nothing is measured yet.
pub(crate) fn lay_out(folder: &Path) -> PathBuf {
    let demo = demo();
    let big = Session::open(&demo.join("ice_shift.platebench"), &settings()).unwrap();
    let small = shrunk(big.project());
    for frame in &small.frames {
        shrink_photo(&demo.join(&frame.file), &folder.join(&frame.file));
    }
    let mut session = Session::new(small, folder, &settings());
    session
        .save(Some(&folder.join("small.platebench")))
        .unwrap()
}

/// Writes the photo at `from` at an eighth of its size to `to`, folders made as needed.
pub(crate) fn shrink_photo(from: &Path, to: &Path) {
    let photo = photo::open(from, &Limits::default()).unwrap();
    let Numbers::U8(codes) = &photo.samples.numbers else {
        panic!("the demo's photos have 8 bits");
    };
    let (big, channels) = (photo.samples.size, photo.samples.channels);
    let size = Size::new(big.width / FACTOR, big.height / FACTOR);
    let mut data = Vec::new();
    let whole = |number: u32| usize::try_from(number).unwrap();
    for y in 0..size.height {
        for x in 0..size.width {
            for channel in 0..3 {
                let mut sum = 0_u32;
                for inner in 0..FACTOR * FACTOR {
                    let (u, v) = (x * FACTOR + inner % FACTOR, y * FACTOR + inner / FACTOR);
                    let pixel = whole(v) * whole(big.width) + whole(u);
                    sum += u32::from(codes[pixel * channels + channel.min(channels - 1)]);
                }
                let mean = (sum + FACTOR * FACTOR / 2) / (FACTOR * FACTOR);
                data.push(u8::try_from(mean).unwrap());
            }
        }
    }
    std::fs::create_dir_all(to.parent().unwrap()).unwrap();
    let picture = Picture {
        size,
        pixels: Pixels::U8 { channels: 3, data },
    };
    write(to, &picture, &WriteOptions::new(8, OutputColour::Srgb)).unwrap();
}

fn shrunk(big: &Project) -> Project {
    let mut small = big.clone();
    small.canvas.size = smaller(big.canvas.size);
    for frame in &mut small.frames {
        let frame = Arc::make_mut(frame);
        (frame.content, frame.size, frame.bytes) = (None, None, None);
    }
    for plate in &mut small.plates {
        let plate = Arc::make_mut(plate);
        plate.size = None;
        plate
            .variants
            .iter_mut()
            .for_each(|variant| shrink_variant(Arc::make_mut(variant)));
        plate
            .masks
            .iter_mut()
            .for_each(|mask| shrink_mask(Arc::make_mut(mask)));
        plate
            .groups
            .iter_mut()
            .for_each(|group| group.glow_px /= length());
        plate.steps.iter_mut().for_each(shrink_step);
    }
    for placement in &mut small.placements {
        match &mut Arc::make_mut(placement).placing {
            Placing::Upright { centre, .. } => *centre = nearer(*centre),
            Placing::Corners(corners) => *corners = corners.map(nearer),
        }
    }
    small
}

fn length() -> f32 {
    f32::from(u16::try_from(FACTOR).unwrap())
}

fn nearer(point: Point) -> Point {
    Point::new(point.x / f64::from(FACTOR), point.y / f64::from(FACTOR))
}

fn smaller(size: Size) -> Size {
    Size::new(size.width / FACTOR, size.height / FACTOR)
}

fn shrink_variant(variant: &mut Variant) {
    match &mut variant.source {
        Source::Stack(stack) => stack.measured = None,
        Source::Made(made) => shrink_made(made),
    }
    variant
        .takes
        .iter_mut()
        .for_each(|take| take.measured = None);
}

fn shrink_made(made: &mut Made) {
    made.size = smaller(made.size);
    if let Some(dust) = &mut made.dust_lane {
        dust.through = nearer(dust.through);
        dust.width_px /= length();
        dust.cloud_px /= length();
    }
    if let Some(planet) = &mut made.planet {
        planet.centre = nearer(planet.centre);
        planet.radius_px /= length();
    }
}

fn shrink_mask(mask: &mut Mask) {
    mask.grow_px /= length();
    mask.feather_px /= length();
    for part in &mut mask.parts {
        shrink_part(Arc::make_mut(part));
    }
}

fn shrink_part(part: &mut MaskPart) {
    match &mut part.shape {
        Shape::Stroke {
            points, radius_px, ..
        } => {
            *radius_px /= length();
            points.iter_mut().for_each(|point| *point = nearer(*point));
        }
        Shape::Outline { nodes, feather_px } => {
            *feather_px /= length();
            for node in nodes {
                node.at = nearer(node.at);
                node.before = node.before.map(nearer);
                node.after = node.after.map(nearer);
            }
        }
        Shape::Rule(_) => {}
    }
}

fn shrink_step(step: &mut Step) {
    if let StepKind::Matte(matte) = &mut step.kind {
        matte.spread_px /= length();
        matte.feather_px /= length();
    }
}
