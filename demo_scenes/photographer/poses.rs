//! The poses: which model stands before which backdrop, how the camera looks at it and where the key stands.

use crate::barge;
use crate::camera::Camera;
use crate::drift;
use crate::field::{Backdrop, Sitting};
use crate::kit::Kit;
use crate::light::{Set, Stage};
use crate::litter::{Litter, scatter};
use crate::paint::Soot;
use crate::part::Paint;
use crate::tree::Tree;
use crate::tug as tug_model;
use crate::vec3::{V3, v3};

/// A model on its stand before a camera.
#[derive(Debug)]
pub(crate) struct Pose {
    /// Name of its folder.
    pub(crate) name: &'static str,
    /// Model and lights.
    pub(crate) stage: Stage,
    /// Camera, focused at the reference frame's distance.
    pub(crate) camera: Camera,
    /// Backdrop.
    pub(crate) backdrop: Backdrop,
    /// Focus distances of the unlit frames, mm, near to far.
    pub(crate) focus: Vec<f32>,
    /// Nearest and farthest of the model, mm.
    pub(crate) reach: (f32, f32),
    /// Dust and hairs on the model.
    pub(crate) litter: Litter,
    /// Points along the middle of the seam gap, in space.
    pub(crate) seam: Vec<V3>,
    /// Stand: ends and radii.
    pub(crate) stand: Stand,
}

/// A round stand.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Stand {
    /// Upper end, hidden in the model.
    pub(crate) top: V3,
    /// Lower end, out of the picture.
    pub(crate) foot: V3,
    /// Radius, mm.
    pub(crate) radius: f32,
}

impl Stand {
    fn put(self, kit: &mut Kit) {
        kit.rod(self.top, self.foot, self.radius, Paint::Stand);
    }

    /// Outline in the picture (px), clockwise from the upper left.
    pub(crate) fn outline(&self, camera: &Camera) -> Vec<(f32, f32)> {
        let along = (self.foot - self.top).unit();
        let corner = |p: V3, s: f32| {
            let side = along.cross((p - camera.eye).unit()).unit();
            let q = camera.project(p + side * (s * self.radius));
            (q.0, q.1)
        };
        vec![
            corner(self.top, 1.0),
            corner(self.top, -1.0),
            corner(self.foot, -1.0),
            corner(self.foot, 1.0),
        ]
    }
}

/// The set's key: from the camera's upper left, a little in front.
fn lights(camera: &Camera, target: V3, kit: &Kit, soot: Vec<Soot>) -> Set {
    let dir = (camera.right * -0.60 + camera.up * 0.68 - camera.ahead * 0.45).unit();
    Set {
        key: target + dir * 820.0,
        key_radius: 17.0,
        key_reference: 820.0,
        card: (camera.right * 0.85 - camera.up * 0.1 - camera.ahead * 0.5).unit(),
        card_radiance: 0.15,
        lamps: kit.lamps.clone(),
        soot,
    }
}

/// How a pose is seen.
#[derive(Clone, Copy, Debug)]
struct View {
    target: V3,
    /// Degrees from the bow (negative: starboard) and above the deck, roll.
    az: f32,
    el: f32,
    roll: f32,
    distance: f32,
    f_number: f32,
    size: (usize, usize),
}

impl View {
    fn camera(&self) -> Camera {
        let (az, el) = (self.az.to_radians(), self.el.to_radians());
        let dir = v3(
            libm::cosf(az) * libm::cosf(el),
            libm::sinf(az) * libm::cosf(el),
            libm::sinf(el),
        );
        let mut c = Camera::aim(self.target + dir * self.distance, self.target, self.roll);
        c.f_number = self.f_number;
        c.size = self.size;
        c
    }
}

/// What a pose is made of besides its view.
struct Stock {
    name: &'static str,
    kit: Kit,
    soot: Vec<Soot>,
    litter: Litter,
    seam: Vec<V3>,
    stand: Stand,
    frames: u8,
    backdrop: Backdrop,
}

fn finish(view: &View, s: Stock) -> Pose {
    let mut kit = s.kit;
    s.stand.put(&mut kit);
    let camera = view.camera();
    let set = lights(&camera, view.target, &kit, s.soot);
    let stage = Stage::new(Tree::build(&kit.parts, kit.planes), set);
    let reach = Sitting {
        stage: &stage,
        camera,
        backdrop: s.backdrop,
    }
    .reach();
    let (a, b) = (1.0 / reach.0, 1.0 / reach.1);
    let n = f32::from(s.frames);
    let focus: Vec<f32> = (0..s.frames)
        .map(|i| 1.0 / (a + (b - a) * (f32::from(i) + 0.5) / n))
        .collect();
    let reference = focus.get(focus.len() / 2).copied().unwrap_or(camera.focus);
    let camera = Camera {
        focus: reference,
        ..camera
    };
    Pose {
        name: s.name,
        stage,
        camera,
        backdrop: s.backdrop,
        focus,
        reach,
        litter: s.litter,
        seam: s.seam,
        stand: s.stand,
    }
}

const FULL: (usize, usize) = (2400, 1600);

fn barge_view(again: bool) -> View {
    let (turn, size) = if again { (1.5, 1.03) } else { (0.0, 1.0) };
    let target = v3(6.0, -2.0, 23.0);
    View {
        target,
        az: -47.0 + turn,
        el: 24.0,
        roll: 3.0,
        distance: 690.0 / size,
        f_number: 5.6,
        size: FULL,
    }
}

/// The barge, or the barge shot again: turned, a little larger, with other dust.
pub(crate) fn barge(again: bool) -> Pose {
    let first = barge_view(false).camera();
    // The seam gap is 8 px wide all along in the first shooting; the model keeps it when it is shot again.
    let per_mm = |x: f32| {
        let p = v3(x, -barge::HALF_BREADTH, barge::SEAM_Z);
        let (a, b) = (first.project(p), first.project(p + v3(0.0, 0.0, 1.0)));
        let (c, d) = (first.project(p), first.project(p + v3(1.0, 0.0, 0.0)));
        // Pixels across the gap's own direction in the picture for one millimetre of height.
        let run = (d.0 - c.0, d.1 - c.1);
        let l = (run.0 * run.0 + run.1 * run.1).sqrt();
        ((b.0 - a.0) * run.1 - (b.1 - a.1) * run.0).abs() / l
    };
    let mut kit = barge::build(|x| 4.0 / per_mm(x));
    let view = barge_view(again);
    let (seed, hairs) = if again {
        (72, [(0.42, 0.305, 40.0, 120.0), (0.71, 0.30, -60.0, 90.0)])
    } else {
        (71, [(0.355, 0.262, 35.0, 115.0), (0.60, 0.36, 150.0, 95.0)])
    };
    let litter = scatter(&mut kit, &view.camera(), 25, &hairs, seed);
    let n = 12_u8;
    let seam = (0..=n)
        .map(|i| {
            let t = f32::from(i) / f32::from(n);
            let x = barge::SEAM_X.0 + (barge::SEAM_X.1 - barge::SEAM_X.0) * t;
            v3(x, -barge::HALF_BREADTH, barge::SEAM_Z)
        })
        .collect();
    let name = if again { "barge_again" } else { "barge" };
    let stand = Stand {
        top: v3(-14.0, 0.0, -20.0),
        foot: v3(-14.0, 0.0, -330.0),
        radius: 5.5,
    };
    let stock = Stock {
        name,
        kit,
        soot: barge::soot(),
        litter,
        seam,
        stand,
        frames: 10,
        backdrop: Backdrop::Velvet,
    };
    finish(&view, stock)
}

/// The tug.
pub(crate) fn tug() -> Pose {
    let view = View {
        target: v3(2.0, 0.0, 16.0),
        az: -50.0,
        el: 22.0,
        roll: 2.0,
        distance: 360.0,
        f_number: 25.0,
        size: FULL,
    };
    let mut kit = tug_model::tug();
    let litter = scatter(&mut kit, &view.camera(), 9, &[], 81);
    let stand = Stand {
        top: v3(0.0, 0.0, -9.0),
        foot: v3(0.0, 0.0, -260.0),
        radius: 3.5,
    };
    let soot = tug_model::tug_soot();
    let stock = Stock {
        name: "tug",
        kit,
        soot,
        litter,
        seam: Vec::new(),
        stand,
        frames: 2,
        backdrop: Backdrop::Velvet,
    };
    finish(&view, stock)
}

/// The lamp buoy before the grey card.
pub(crate) fn buoy() -> Pose {
    let view = View {
        target: v3(0.0, 0.0, 24.0),
        az: -40.0,
        el: 11.0,
        roll: 0.0,
        distance: 470.0,
        f_number: 5.0,
        size: FULL,
    };
    let mut kit = drift::buoy();
    let litter = scatter(&mut kit, &view.camera(), 7, &[], 91);
    let stand = Stand {
        top: v3(0.0, 0.0, -40.0),
        foot: v3(0.0, 0.0, -300.0),
        radius: 3.0,
    };
    let soot = Vec::new();
    let stock = Stock {
        name: "buoy",
        kit,
        soot,
        litter,
        seam: Vec::new(),
        stand,
        frames: 3,
        backdrop: Backdrop::Card,
    };
    finish(&view, stock)
}

/// One of the ice castings.
pub(crate) fn ice(which: u32) -> Pose {
    let az = [-38.0, -55.0, -30.0][(which as usize + 2) % 3];
    let view = View {
        target: V3::default(),
        az,
        el: 20.0,
        roll: 0.0,
        distance: 300.0,
        f_number: 22.0,
        size: (1600, 1200),
    };
    let kit = drift::ice(which);
    let stand = Stand {
        top: v3(0.0, 0.0, -8.0),
        foot: v3(0.0, 0.0, -200.0),
        radius: 2.0,
    };
    let (litter, seam, soot) = (Litter::default(), Vec::new(), Vec::new());
    let stock = Stock {
        name: "ice",
        kit,
        soot,
        litter,
        seam,
        stand,
        frames: 1,
        backdrop: Backdrop::Velvet,
    };
    finish(&view, stock)
}
