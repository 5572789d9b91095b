//! Light passes in files: the command `light`, a proposed mask, and a scene with it that is saved, opened and rebuilt.
#![expect(
    clippy::too_many_lines,
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test may stop at once, reads its pictures and says what it measured"
)]

mod common;

use common::layered_scene::{Backdrop, LayeredScene, STEP_PX};
use common::lit_set::{LitSet, Shot, page};
use platebench::files::output::{OutputColour, Picture, Pixels, WriteOptions, write};
use platebench::files::{Limits, photo};
use platebench::geometry::{Point, Size};
use platebench::imaging::basics::colour::Decoder;
use platebench::pixels::Planes;
use platebench::pixels::convert::unit_to_u16;
use platebench::project::{
    Canvas, Edit, GroupId, KeyLight, MaskPart, Node, PartId, Pass, PassId, PassRole, Placement,
    PlacementId, Placing, Plate, PlateEdit, PlateId, PracticalGroup, Project, Shape, Sign, Source,
    Stack, Take, Variant, VariantId,
};
use platebench::session::build::BuildRequest;
use platebench::session::light_files::{LightRequest, light_files};
use platebench::session::{NoWatch, Session, Settings};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::{Arc, OnceLock};

const SHOT: Shot = Shot {
    key: 0.3,
    exposure: 1.0,
    shift: (1.2, -0.7),
    turn_deg: 0.02,
    seed: 5,
};

fn set() -> &'static LitSet {
    static SET: OnceLock<LitSet> = OnceLock::new();
    SET.get_or_init(|| LitSet::on(LayeredScene::new(8, Backdrop::Black).render(7.0, STEP_PX)))
}

fn settings() -> Settings {
    Settings {
        scratch_bytes: 0,
        ..Settings::for_memory(4 << 30)
    }
}

/// Writes a photo as 16-bit numbers of its light.
fn photo_file(path: &Path, planes: &Planes) -> PathBuf {
    let rect = planes.rect();
    let side = |length: usize| u32::try_from(length).unwrap();
    let data = (0..rect.area())
        .flat_map(|at| planes.pixel(at).map(unit_to_u16))
        .collect();
    let picture = Picture {
        size: Size::new(side(rect.width()), side(rect.height())),
        pixels: Pixels::U16 { channels: 3, data },
    };
    write(
        path,
        &picture,
        &WriteOptions::new(16, OutputColour::LinearBt2020),
    )
    .unwrap();
    path.to_owned()
}

fn photos(folder: &Path) -> (PathBuf, PathBuf) {
    (
        photo_file(&folder.join("unlit.tif"), &set().unlit_photo(1)),
        photo_file(&folder.join("lit.tif"), &set().lit_photo(&[0, 1, 2], &SHOT)),
    )
}

fn light(path: &Path) -> Planes {
    let photo = photo::open(path, &Limits::default()).unwrap();
    let decoder = Decoder::for_samples(&photo.samples).unwrap();
    decoder
        .decode_planes(&photo.samples, photo.samples.size.rect())
        .unwrap()
}

/// Mean of the green light over a square of 9 pixels.
fn patch(planes: &Planes, x: i32, y: i32) -> f32 {
    let places = (-4..=4).flat_map(|dy| (-4..=4).map(move |dx| (x + dx, y + dy)));
    places.map(|(x, y)| planes.rgb[1].at(x, y)).sum::<f32>() / 81.0
}

#[test]
fn files_hold_the_light_alone_and_laid_over() {
    let folder = tempfile::tempdir().unwrap();
    let (unlit, lit) = photos(folder.path());
    let request = LightRequest {
        unlit: vec![unlit.clone()],
        lit: vec![lit.clone()],
        key_light: KeyLight::Dimmed,
        output: folder.path().join("light.tif"),
        bits: None,
        output_lit: Some(folder.path().join("on.exr")),
    };
    let report = light_files(&request, &settings(), &NoWatch).unwrap();
    println!("{report:?}");
    let off = |channel: usize| (report.key_rgb[channel] - SHOT.key).abs();
    assert!((0..3).all(|channel| off(channel) < 3e-3), "{report:?}");
    assert_eq!(report.key_light, KeyLight::Dimmed);
    assert!(report.exposure_stops.abs() < 0.01 && report.residual_px < 0.35);
    let place = SHOT.lit_from_unlit().after(&report.to_unlit);
    let there = place.apply(Point::new(900.0, 120.0));
    assert!(there.distance(Point::new(900.0, 120.0)) < 0.1, "{there:?}");
    assert!(
        report.added_share > 0.01 && report.added_share < 0.6,
        "{report:?}"
    );
    let truth = set().light(&[0, 1, 2]);
    let (alone, on, before) = (
        light(&request.output),
        light(&folder.path().join("on.exr")),
        light(&unlit),
    );
    for (x, y) in [(880, 220), (846, 262), (150, 540), (930, 640)] {
        let wanted = patch(&truth, x, y);
        let found = patch(&alone, x, y) / report.scale;
        assert!(
            (found - wanted).abs() < 0.002 + 0.02 * wanted,
            "({x}, {y}): {found} for {wanted}"
        );
        let added = patch(&on, x, y) - patch(&before, x, y);
        assert!(
            (added - wanted).abs() < 0.004 + 0.02 * wanted,
            "({x}, {y}): {added} for {wanted}"
        );
    }
    let wrong = LightRequest {
        output: unlit.clone(),
        ..request
    };
    assert!(
        light_files(&wrong, &settings(), &NoWatch).is_err(),
        "a source is never overwritten"
    );
}

#[test]
fn the_command_answers_as_written_down() {
    let folder = tempfile::tempdir().unwrap();
    let (unlit, lit) = photos(folder.path());
    let call = |words: &[&std::ffi::OsStr]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_platebench"));
        for kind in ["CONFIG", "STATE", "CACHE", "DATA"] {
            command.env(format!("PLATEBENCH_{kind}_DIR"), folder.path().join(kind));
        }
        command.arg("light").args(words).output().unwrap()
    };
    let out = folder.path().join("light.exr");
    let words = [
        "--unlit".as_ref(),
        unlit.as_os_str(),
        "--lit".as_ref(),
        lit.as_os_str(),
    ];
    let more = [
        "-o".as_ref(),
        out.as_os_str(),
        "--key-light".as_ref(),
        "dimmed".as_ref(),
        "--json".as_ref(),
    ];
    let answer = call(&[&words[..], &more[..]].concat());
    assert_eq!(answer.status.code(), Some(0), "{answer:?}");
    let json: serde_json::Value = serde_json::from_slice(&answer.stdout).unwrap();
    for field in [
        "to_unlit",
        "exposure_stops",
        "residual_px",
        "added_share",
        "warnings",
        "scale",
    ] {
        assert!(!json[field].is_null(), "{field}: {json}");
    }
    assert_eq!(json["to_unlit"].as_array().unwrap().len(), 3);
    assert!(
        light(&out).rgb[0].data.iter().any(|value| *value < 0.0),
        "floats keep it as it is"
    );
    let odd = call(
        &[
            &words[..],
            &[
                "-o".as_ref(),
                out.as_os_str(),
                "--key-light".as_ref(),
                "green".as_ref(),
            ],
        ]
        .concat(),
    );
    assert_eq!(odd.status.code(), Some(2), "wrong words");
}

const PLATE: PlateId = PlateId(10);
const PASS: PassId = PassId(12);
const GROUP: GroupId = GroupId(13);

/// A scene with the plate in it, and one group of its pass.
fn scene(folder: &Path) -> Session {
    let (unlit, lit) = photos(folder);
    let rect = page();
    let side = |length: usize| u32::try_from(length).unwrap();
    let size = Size::new(side(rect.width()), side(rect.height()));
    let mut project = Project::new("scene", size);
    project.canvas = Canvas {
        size,
        ..project.canvas
    };
    project.next_id = 20;
    let mut session = Session::new(project, folder, &settings());
    let unlit = session.add_photos(&[unlit]).unwrap();
    let lit = session.add_photos(&[lit]).unwrap();
    let variant = Variant {
        id: VariantId(11),
        name: "shoot".to_owned(),
        source: Source::Stack(Stack::of(unlit)),
        takes: vec![Take {
            pass: PASS,
            frames: lit,
            measured: None,
        }],
        lies: None,
    };
    let mut plate = Plate::new(PLATE, "tug", variant);
    plate.passes.push(Pass {
        id: PASS,
        name: "lights".to_owned(),
        role: PassRole::Light,
        key_light: KeyLight::Dimmed,
    });
    plate.groups.push(PracticalGroup::new(GROUP, "all", PASS));
    session.record(Edit::AddPlate(Arc::new(plate))).unwrap();
    let placement = Placement {
        id: PlacementId(14),
        name: "tug".to_owned(),
        plate: PLATE,
        placing: Placing::Upright {
            centre: Point::new(f64::from(size.width) * 0.5, f64::from(size.height) * 0.5),
            scale: 1.0,
            turn_deg: 0.0,
            mirrored: false,
        },
        blend: platebench::project::Blend::default(),
        strength: 1.0,
        visible: true,
        distance_m: None,
    };
    session
        .record(Edit::AddPlacement {
            placement: Arc::new(placement),
            at: 0,
        })
        .unwrap();
    session.measure_all(&NoWatch).unwrap();
    session
}

fn built(session: &mut Session, folder: &Path, name: &str) -> String {
    let request = BuildRequest {
        output: folder.join(name),
        level: 0,
        bits: None,
    };
    session.build(&request, &NoWatch).unwrap().pixels
}

#[test]
fn a_proposed_mask_touched_up_is_rebuilt_to_the_same_pixels() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = scene(folder.path());
    let before = built(&mut session, folder.path(), "a.tif");
    let start = session.history().now();
    let mask = session.suggest_mask(PLATE, GROUP, &NoWatch).unwrap();
    let proposed = session
        .project()
        .plate(PLATE)
        .unwrap()
        .mask(mask)
        .unwrap()
        .parts
        .len();
    println!("{proposed} areas proposed");
    assert!(proposed >= 3, "{proposed}");
    for (number, sign) in [(0, Sign::Add), (1, Sign::Remove)] {
        let part = MaskPart {
            id: PartId(session.next_id()),
            sign,
            strength: 1.0,
            on: true,
            shape: Shape::Stroke {
                points: vec![
                    Point::new(300.0 + 400.0 * f64::from(number), 350.0),
                    Point::new(340.0, 380.0),
                ],
                radius_px: 14.0,
                softness: 0.4,
                pressure: Vec::new(),
            },
        };
        session
            .record(Edit::Plate(PLATE, PlateEdit::AddPart(mask, Arc::new(part))))
            .unwrap();
    }
    let mut node = Node::corner(Point::new(860.0, 230.0));
    node.after = Some(Point::new(20.0, -14.0));
    let outline = MaskPart {
        id: PartId(session.next_id()),
        sign: Sign::Add,
        strength: 0.8,
        on: true,
        shape: Shape::Outline {
            nodes: vec![
                node,
                Node::corner(Point::new(910.0, 240.0)),
                Node::corner(Point::new(880.0, 290.0)),
            ],
            feather_px: 5.0,
        },
    };
    session
        .record(Edit::Plate(
            PLATE,
            PlateEdit::AddPart(mask, Arc::new(outline)),
        ))
        .unwrap();
    for stops in [1.0, 2.5, -0.5] {
        let group = session.project().plate(PLATE).unwrap().groups[0].clone();
        let edit = PlateEdit::SetGroup(PracticalGroup { stops, ..group });
        session.record(Edit::Plate(PLATE, edit)).unwrap();
    }
    let end = session.history().now();
    let after = built(&mut session, folder.path(), "b.tif");
    assert_ne!(before, after);
    session
        .run(platebench::session::Command::GoTo(start))
        .unwrap();
    assert_eq!(
        built(&mut session, folder.path(), "c.tif"),
        before,
        "undone to the start"
    );
    session
        .run(platebench::session::Command::GoTo(end))
        .unwrap();
    assert_eq!(
        built(&mut session, folder.path(), "d.tif"),
        after,
        "done again to the end"
    );
    let file = session
        .save(Some(&folder.path().join("scene.platebench")))
        .unwrap();
    let mut opened = Session::open(&file, &settings().with_tile_side(96)).unwrap();
    assert!(opened.notes.is_empty(), "{:?}", opened.notes);
    assert_eq!(
        built(&mut opened, folder.path(), "e.tif"),
        after,
        "opened and rebuilt"
    );
}
