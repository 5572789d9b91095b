//! A set with its practicals: an unlit picture and the light of three groups, known exactly, photographed with movement, other
//! exposure, noise and clipping; and a project that holds the photos, with no file behind it.
#![allow(
    dead_code,
    unreachable_pub,
    clippy::unwrap_used,
    clippy::too_many_lines,
    clippy::allow_attributes,
    reason = "shared by several test binaries, each of which uses its own part"
)]

use super::layered_scene::{HEIGHT, WIDTH, frame_rect, luma, noisy, warped};
use platebench::engine::ports::{NoScratch, NoWatch};
use platebench::engine::{Engine, Options, SeparatedLight, SourceError, Sources, World};
use platebench::geometry::{Point, Rect, Similarity, Size, Transform};
use platebench::imaging::basics::blur::gaussian;
use platebench::imaging::basics::edges::grow;
use platebench::imaging::basics::resample::{self, Kernel, noise_kept};
use platebench::pixels::convert::{coordinate, narrow};
use platebench::pixels::{ColourEncoding, Curve, Image, Numbers, Plane, Planes, Samples};
use platebench::project::{
    Camera, ContentHash, Edit, Frame, FrameId, KeyLight, Pass, PassId, PassRole, Plate, PlateEdit,
    PlateId, Project, Source, Stack, Take, TakeMeasured, Variant, VariantId,
};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Electrons at white and read noise in electrons of the camera.
pub const FULL_WELL: f64 = 20_000.0;
/// Read noise in electrons.
pub const READ: f64 = 4.0;

/// The unlit set and what each practical group adds to it, without noise.
#[derive(Debug, Clone)]
pub struct LitSet {
    /// With the key light alone.
    pub unlit: Planes,
    /// What each of three groups adds: windows, an engine with its light on the hull, running lights.
    pub groups: [Planes; 3],
}

/// How the lit photo was taken.
#[derive(Debug, Clone, Copy)]
pub struct Shot {
    /// What was left of the key light.
    pub key: f32,
    /// Its exposure over the unlit photo's.
    pub exposure: f32,
    /// Shift in pixels.
    pub shift: (f64, f64),
    /// Turn in degrees.
    pub turn_deg: f64,
    /// Seed of its noise.
    pub seed: u64,
}

impl Shot {
    /// Where the unlit photo's points lie in this one.
    pub fn lit_from_unlit(&self) -> Transform {
        let values = Similarity {
            log_scale: 0.0,
            angle_rad: self.turn_deg.to_radians(),
            shift: Point::new(self.shift.0, self.shift.1),
        };
        let centre = Point::new(f64::from(WIDTH) * 0.5, f64::from(HEIGHT) * 0.5);
        Transform::similarity(values, centre)
    }
}

fn coloured(shade: &Plane, colour: [f32; 3]) -> Planes {
    Planes {
        rgb: colour.map(|part| shade.map(|value| value * part)),
    }
}

/// Soft light of a lamp at (x, y): 1 in the middle, a quarter at twice `reach` pixels, nothing from five times on (hulls turn away).
fn falloff(x: i32, y: i32, at: (f32, f32), reach: f32) -> f32 {
    let near = |a: i32, b: f32| narrow(f64::from(a)) + 0.5 - b;
    let (dx, dy) = (near(x, at.0), near(y, at.1));
    let far = (dx * dx + dy * dy) / (reach * reach);
    let end = (1.0 - far / 25.0).max(0.0);
    end * end / ((1.0 + far * 0.25) * (1.0 + far * 0.25))
}

impl LitSet {
    /// Three groups of practicals on `unlit`, which also says how the hull reflects.
    pub fn on(unlit: Planes) -> Self {
        let rect = frame_rect();
        let hull = luma(&unlit).map(|light| light.min(0.7));
        let windows = Plane::from_fn(rect, |x, y| {
            let row = (y - 300).rem_euclid(46);
            let column = (x - 260).rem_euclid(34);
            let inside = (260..740).contains(&x) && (300..410).contains(&y);
            f32::from(u8::from(inside && row < 9 && column < 15))
        });
        let windows = gaussian(&windows, 1.2);
        let engine = Plane::from_fn(rect, |x, y| {
            let at = (880.0, 250.0);
            let core = falloff(x, y, at, 9.0);
            core * core * 3.0 + falloff(x, y, at, 90.0) * 0.5 * hull.at(x, y)
        });
        let running = Plane::from_fn(rect, |x, y| {
            [(150.0, 520.0), (520.0, 560.0), (930.0, 600.0)]
                .iter()
                .map(|at| {
                    let spot = falloff(x, y, *at, 3.0);
                    spot * spot * 2.5 + falloff(x, y, *at, 45.0) * 0.12 * hull.at(x, y)
                })
                .sum()
        });
        Self {
            unlit,
            groups: [
                coloured(&windows, [0.55, 0.42, 0.22]),
                coloured(&engine, [0.35, 0.55, 1.0]),
                coloured(&running, [1.0, 0.25, 0.18]),
            ],
        }
    }

    /// What `groups` add together.
    pub fn light(&self, groups: &[usize]) -> Planes {
        let mut sum = Planes::zero(frame_rect());
        for group in groups {
            add(&mut sum, &self.groups[*group], 1.0);
        }
        sum
    }

    /// The unlit photo.
    pub fn unlit_photo(&self, seed: u64) -> Planes {
        clipped(noisy(&self.unlit, seed, FULL_WELL, READ))
    }

    /// The photo with `groups` lit.
    pub fn lit_photo(&self, groups: &[usize], shot: &Shot) -> Planes {
        let moved = warped(&self.lit_truth(groups, shot), &shot.lit_from_unlit());
        clipped(noisy(&moved, shot.seed, FULL_WELL, READ))
    }

    /// The photo with `groups` lit, in which the model moved: each point shows what lay at `was_at`.
    pub fn flexed_photo(
        &self,
        groups: &[usize],
        shot: &Shot,
        was_at: &(impl Fn(Point) -> Point + Sync),
    ) -> Planes {
        let truth = self.lit_truth(groups, shot);
        let rect = frame_rect();
        let mut image = Image::empty(rect);
        for (at, pixel) in image.data.iter_mut().enumerate() {
            let [red, green, blue] = truth.pixel(at);
            *pixel = [red, green, blue, 1.0];
        }
        let place = |point| Some(was_at(point));
        let bent = resample::sample_image_mapped(&image, rect, &place, Kernel::Lanczos3);
        let channel = |number: usize| Plane {
            rect,
            data: bent.data.iter().map(|pixel| pixel[number]).collect(),
        };
        let bent = Planes {
            rgb: [channel(0), channel(1), channel(2)],
        };
        let moved = warped(&bent, &shot.lit_from_unlit());
        clipped(noisy(&moved, shot.seed, FULL_WELL, READ))
    }

    /// What the lit photo would show without movement, noise and clipping.
    fn lit_truth(&self, groups: &[usize], shot: &Shot) -> Planes {
        let mut sum = self.light(groups);
        add(&mut sum, &self.unlit, shot.key);
        for plane in &mut sum.rgb {
            plane.data.iter_mut().for_each(|v| *v *= shot.exposure);
        }
        sum
    }

    /// Variance that the separated light must have: photon and read noise of both photos, less what sampling between pixels took.
    pub fn variance(&self, groups: &[usize], shot: &Shot) -> Planes {
        let kept = noise_kept(frame_rect(), &shot.lit_from_unlit(), Kernel::Lanczos3);
        let lit = self.lit_truth(groups, shot);
        let one = |light: f32| {
            narrow((f64::from(light.max(0.0)) * FULL_WELL + READ * READ) / (FULL_WELL * FULL_WELL))
        };
        let mut out = lit.clone();
        for channel in 0..3 {
            for at in 0..kept.data.len() {
                let on = kept.data[at] * one(lit.rgb[channel].data[at])
                    / (shot.exposure * shot.exposure);
                let off = shot.key * shot.key * one(self.unlit.rgb[channel].data[at]);
                out.rgb[channel].data[at] = on + off;
            }
        }
        out
    }

    /// Where the light can be judged: nothing saturated in either photo within 6 pixels, no edge within 3, not at the border.
    pub fn judged(&self, groups: &[usize], shot: &Shot) -> Vec<bool> {
        let lit = self.lit_truth(groups, shot);
        let rect = frame_rect();
        let full = Plane::from_fn(rect, |x, y| {
            let at = rect.index(x, y);
            let most = |planes: &Planes| planes.pixel(at).into_iter().fold(0.0, f32::max);
            f32::from(u8::from(most(&lit) > 0.93 || most(&self.unlit) > 0.93))
        });
        let edges = |planes: &Planes| {
            let luma = luma(planes);
            Plane::from_fn(rect, |x, y| {
                let step = |dx: i32, dy: i32| {
                    (luma.nearest(x + dx, y + dy) - luma.nearest(x - dx, y - dy)).abs()
                };
                let steep = 0.02 + 0.05 * luma.at(x, y);
                f32::from(u8::from(step(1, 0).max(step(0, 1)) > steep))
            })
        };
        let (saturated, unlit, on) = (
            grow(&full, 6.0),
            grow(&edges(&self.unlit), 3.0),
            grow(&edges(&lit), 3.0),
        );
        let inner = rect.grow(-12);
        (0..rect.area())
            .map(|at| {
                let (x, y) = (coordinate(at % rect.width()), coordinate(at / rect.width()));
                inner.contains(x, y) && saturated.data[at] + unlit.data[at] + on.data[at] < 0.5
            })
            .collect()
    }
}

fn add(sum: &mut Planes, more: &Planes, factor: f32) {
    for (plane, more) in sum.rgb.iter_mut().zip(&more.rgb) {
        let pairs = plane.data.iter_mut().zip(&more.data);
        pairs.for_each(|(sum, more)| *sum += factor * more);
    }
}

fn clipped(mut photo: Planes) -> Planes {
    for plane in &mut photo.rgb {
        plane.data.iter_mut().for_each(|v| *v = v.min(1.0));
    }
    photo
}

/// Photos kept in memory.
#[derive(Debug, Default)]
pub struct Photos(BTreeMap<FrameId, Arc<Samples>>);

impl Sources for Photos {
    fn samples(&self, frame: &Frame) -> Result<Arc<Samples>, SourceError> {
        Ok(Arc::clone(&self.0[&frame.id]))
    }
}

/// A project with one plate, and its photos.
#[derive(Debug)]
pub struct Shoot {
    /// The record.
    pub project: Project,
    /// The photos.
    pub photos: Photos,
    /// What computes.
    pub engine: Engine,
}

/// The plate of a [`Shoot`].
pub const PLATE: PlateId = PlateId(100);
/// The plate's source.
pub const VARIANT: VariantId = VariantId(101);
/// The light pass.
pub const PASS: PassId = PassId(102);

fn samples(planes: &Planes) -> Samples {
    let rect = planes.rect();
    let side = |length: usize| u32::try_from(length).unwrap();
    let numbers = (0..rect.area()).flat_map(|at| planes.pixel(at)).collect();
    Samples {
        size: Size::new(side(rect.width()), side(rect.height())),
        channels: 3,
        numbers: Numbers::F32(numbers),
        encoding: ColourEncoding::Primaries {
            curves: [Curve::Linear, Curve::Linear, Curve::Linear],
            xy: ColourEncoding::BT2020_XY,
        },
    }
}

impl Shoot {
    /// One unlit photo and the photos of a light pass with their exposure times (`None`: the camera wrote nothing).
    pub fn new(unlit: &Planes, lit: &[(Planes, Option<f64>)], key_light: KeyLight) -> Self {
        let mut photos = Photos::default();
        let mut project = Project::new("set", Size::new(1, 1));
        let all = [(unlit, Some(1.0))]
            .into_iter()
            .chain(lit.iter().map(|(planes, time)| (planes, *time)));
        let mut frames = Vec::new();
        for (number, (planes, time)) in (1_u32..).zip(all) {
            let photo = samples(planes);
            let size = photo.size;
            let mut content = [0; 32];
            content[..4].copy_from_slice(&number.to_le_bytes());
            frames.push(Arc::new(Frame {
                id: FrameId(number),
                file: format!("photo {number}"),
                content: Some(ContentHash(content)),
                size: Some(size),
                bytes: Some(1),
                camera: Camera {
                    exposure_s: time,
                    f_number: Some(8.0),
                    iso: Some(100.0),
                    ..Camera::default()
                },
            }));
            photos.0.insert(FrameId(number), Arc::new(photo));
        }
        let lit_ids = frames[1..].iter().map(|frame| frame.id).collect();
        let variant = Variant {
            id: VARIANT,
            name: "stack".to_owned(),
            source: Source::Stack(Stack::of(vec![FrameId(1)])),
            takes: vec![Take {
                pass: PASS,
                frames: lit_ids,
                measured: None,
            }],
            lies: None,
        };
        let mut plate = Plate::new(PLATE, "plate", variant);
        plate.size = frames[0].size;
        plate.passes.push(Pass {
            id: PASS,
            name: "lights".to_owned(),
            role: PassRole::Light,
            key_light,
        });
        project = project.edited(&Edit::AddFrames(frames)).unwrap();
        project = project.edited(&Edit::AddPlate(Arc::new(plate))).unwrap();
        let mut shoot = Self {
            project,
            photos,
            engine: Engine::new(Options::default()),
        };
        let stack = shoot
            .engine
            .measure_stack(&shoot.world(), PLATE, VARIANT)
            .unwrap();
        shoot.edit(PlateEdit::RecordStack(VARIANT, stack));
        let take = shoot
            .engine
            .measure_take(&shoot.world(), PLATE, VARIANT, PASS)
            .unwrap();
        shoot.edit(PlateEdit::RecordTake(VARIANT, PASS, take));
        shoot
    }

    /// Changes the plate.
    pub fn edit(&mut self, edit: PlateEdit) {
        self.project = self.project.edited(&Edit::Plate(PLATE, edit)).unwrap();
    }

    /// The project and its photos, for the engine.
    pub fn world(&self) -> World<'_> {
        World {
            project: Arc::new(self.project.clone()),
            sources: &self.photos,
            scratch: &NoScratch,
            watch: &NoWatch,
        }
    }

    /// What was measured on the pass.
    pub fn measured(&self) -> TakeMeasured {
        let plate = self.project.plate(PLATE).unwrap();
        plate.take(PASS).unwrap().1.measured.clone().unwrap()
    }

    /// The light of the pass.
    pub fn separated(&self) -> SeparatedLight {
        self.engine
            .separated_light(&self.world(), PLATE, PASS)
            .unwrap()
    }
}

/// The rectangle of the photos.
pub fn page() -> Rect {
    frame_rect()
}
