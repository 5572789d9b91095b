//! Every entry by which foreign bytes come in, each as a function of the bytes; none may panic, hang or fill the memory.
#![allow(
    unreachable_pub,
    clippy::allow_attributes,
    reason = "shared by the driver and the test of the corpus"
)]

use platebench::engine::plate_tiles::{PlatePlan, Stage};
use platebench::engine::ports::{NoScratch, NoWatch};
use platebench::engine::{Engine, Options, SourceError, Sources, World};
use platebench::files::output::{OutputColour, Picture, Pixels, WriteOptions, write};
use platebench::files::project_file::{from_text, journal_lines, to_text};
use platebench::files::{Limits, photo};
use platebench::geometry::{Size, TileGrid};
use platebench::imaging::basics::colour::Decoder;
use platebench::pixels::Samples;
use platebench::project::{
    Edit, Frame, Grade, History, Made, Mask, MaskId, Node, PartId, Plate, PlateEdit, PlateId,
    Project, Shape, Sign, Source, Step, StepId, StepKind, Variant, VariantId, check,
};
use platebench::session::receipt;
use std::path::Path;
use std::sync::Arc;

/// One entry.
pub struct Target {
    /// Its name, and that of its folder in the corpus.
    pub name: &'static str,
    /// Takes bytes in; says in a few words what came of it. The path is a file that it may write.
    pub run: fn(&[u8], &Path) -> String,
    /// Sound inputs to begin with.
    pub seeds: fn(&Path) -> Vec<Vec<u8>>,
}

/// All entries.
pub const TARGETS: [Target; 10] = [
    Target {
        name: "project",
        run: project,
        seeds: |_| vec![sample_project().into_bytes()],
    },
    Target {
        name: "journal",
        run: journal,
        seeds: |_| vec![sample_journal().into_bytes()],
    },
    Target {
        name: "receipt",
        run: a_receipt,
        seeds: |_| vec![SAMPLE_RECEIPT.as_bytes().to_vec()],
    },
    Target {
        name: "mask",
        run: mask,
        seeds: |_| vec![sample_mask().into_bytes()],
    },
    Target {
        name: "tiff",
        run: a_photo,
        seeds: |place| photos(place, "tif"),
    },
    Target {
        name: "png",
        run: a_photo,
        seeds: |place| photos(place, "png"),
    },
    Target {
        name: "jpeg",
        run: a_photo,
        seeds: |place| photos(place, "jpg"),
    },
    Target {
        name: "exr",
        run: a_photo,
        seeds: |place| photos(place, "exr"),
    },
    Target {
        name: "profile",
        run: profile,
        seeds: |_| profiles(),
    },
    Target {
        name: "metadata",
        run: metadata,
        seeds: |_| vec![sample_metadata()],
    },
];

/// Small enough that a fault in a limit shows as memory.
const LIMITS: Limits = Limits {
    pixels: 4_000_000,
    bytes: 128 << 20,
};

fn project(bytes: &[u8], _place: &Path) -> String {
    let text = String::from_utf8_lossy(bytes);
    match from_text(&text) {
        Err(error) => error.to_string(),
        Ok(mut opened) => {
            let written = to_text(&opened.history, "0").unwrap();
            let again = from_text(&written).unwrap();
            assert_eq!(again.history.project(), opened.history.project());
            assert_eq!(to_text(&again.history, "0").unwrap(), written);
            while opened.history.undo() {
                // Only that it looks at anything without a panic.
                drop(check::faults(opened.history.project()));
            }
            format!("opened, {:?}", opened.notes)
        }
    }
}

fn journal(bytes: &[u8], _place: &Path) -> String {
    match journal_lines::recover(&String::from_utf8_lossy(bytes)) {
        Err(error) => error.to_string(),
        Ok(found) => {
            to_text(&found.history, "0").unwrap();
            format!("{} edits", found.history.revisions().len())
        }
    }
}

fn a_receipt(bytes: &[u8], place: &Path) -> String {
    std::fs::write(place, bytes).unwrap();
    match receipt::read(place) {
        Err(_no_receipt) => "none".to_owned(),
        Ok(receipt) => format!("{} sources", receipt.sources.len()),
    }
}

fn a_photo(bytes: &[u8], place: &Path) -> String {
    std::fs::write(place, bytes).unwrap();
    let said = |error: platebench::files::FileError| {
        error.to_string().replace(&place.display().to_string(), "")
    };
    if let Err(error) = photo::describe(place, &LIMITS) {
        return said(error);
    }
    match photo::open(place, &LIMITS) {
        Err(error) => said(error),
        Ok(photo) => light_of(&photo.samples),
    }
}

fn light_of(samples: &Samples) -> String {
    match Decoder::for_samples(samples) {
        Err(error) => error.to_string(),
        Ok(decoder) => match decoder.decode_planes(samples, samples.size.rect()) {
            Err(error) => error.to_string(),
            Ok(planes) => {
                assert_eq!(planes.rgb[0].data.len() as u64, samples.size.area());
                format!("{} channels", samples.channels)
            }
        },
    }
}

/// A tiny PNG that carries the bytes as its colour profile or its metadata.
fn png_with(profile: Option<&[u8]>, metadata: Option<&[u8]>) -> Vec<u8> {
    let mut info = png::Info::with_size(4, 4);
    info.color_type = png::ColorType::Rgb;
    info.bit_depth = png::BitDepth::Eight;
    info.icc_profile = profile.map(|bytes| bytes.to_vec().into());
    info.exif_metadata = metadata.map(|bytes| bytes.to_vec().into());
    let mut out = Vec::new();
    let mut writer = png::Encoder::with_info(&mut out, info)
        .unwrap()
        .write_header()
        .unwrap();
    writer.write_image_data(&[99; 48]).unwrap();
    drop(writer);
    out
}

fn profile(bytes: &[u8], place: &Path) -> String {
    a_photo(&png_with(Some(bytes), None), place)
}

fn metadata(bytes: &[u8], place: &Path) -> String {
    std::fs::write(place, png_with(None, Some(bytes))).unwrap();
    match photo::describe(place, &LIMITS) {
        Err(error) => error.to_string().replace(&place.display().to_string(), ""),
        Ok(info) => format!("{:?}", info.camera).chars().take(60).collect(),
    }
}

/// No photos.
struct Nothing;

impl Sources for Nothing {
    fn samples(&self, frame: &Frame) -> Result<Arc<Samples>, SourceError> {
        Err(SourceError {
            message: frame.file.clone(),
        })
    }
}

fn mask(bytes: &[u8], _place: &Path) -> String {
    let mask: Mask = match serde_json::from_slice(bytes) {
        Ok(mask) => mask,
        Err(error) => return error.to_string(),
    };
    let project = project_with(mask);
    if let Some(fault) = check::faults(&project).into_iter().next() {
        return fault;
    }
    let project = Arc::new(project);
    let plan = PlatePlan::new(&project, &project.plates[0]).unwrap();
    let engine = Engine::new(Options::default());
    let world = World {
        project: Arc::clone(&project),
        sources: &Nothing,
        scratch: &NoScratch,
        watch: &NoWatch,
    };
    for level in [0, 2] {
        for index in TileGrid::new(SIZE.at_level(level), 256).tiles() {
            let tile = engine
                .plate_tile(&world, &plan, Stage::Done, level, index)
                .unwrap();
            assert!(
                tile.data.iter().flatten().all(|value| value.is_finite()),
                "a number is lost"
            );
        }
    }
    "drawn".to_owned()
}

const SIZE: Size = Size::new(256, 200);

/// A made plate with a grade behind `mask`.
fn project_with(mut mask: Mask) -> Project {
    mask.id = MaskId(3);
    let mut project = Project::new("masked", SIZE);
    let made = Made {
        size: SIZE,
        background_rgb: [0.1, 0.2, 0.3],
        stars: None,
        dust_lane: None,
        planet: None,
    };
    project.plates.push(Arc::new(Plate {
        id: PlateId(1),
        name: "made".to_owned(),
        size: Some(SIZE),
        passes: Vec::new(),
        variants: vec![Arc::new(Variant {
            id: VariantId(2),
            name: "recipe".to_owned(),
            source: Source::Made(made),
            takes: Vec::new(),
            lies: None,
        })],
        current: VariantId(2),
        groups: Vec::new(),
        steps: vec![Step {
            id: StepId(4),
            on: true,
            mask: Some(mask.id),
            kind: StepKind::Grade(Grade {
                exposure_stops: 1.0,
                ..Grade::default()
            }),
        }],
        masks: vec![Arc::new(mask)],
    }));
    project
}

fn a_mask() -> Mask {
    let point = platebench::geometry::Point::new;
    let part = |id: u32, sign: Sign, shape: Shape| {
        Arc::new(platebench::project::MaskPart {
            id: PartId(id),
            sign,
            strength: 0.75,
            on: true,
            shape,
        })
    };
    let mut mask = Mask::new(MaskId(3), "mask".to_owned());
    mask.grow_px = 2.5;
    mask.feather_px = 4.0;
    mask.parts = imbl::vector![
        part(
            5,
            Sign::Add,
            Shape::Stroke {
                points: vec![point(20.0, 30.0), point(90.5, 44.0), point(120.0, 160.0)],
                radius_px: 9.0,
                softness: 0.5,
                pressure: Vec::new(),
            },
        ),
        part(
            6,
            Sign::Remove,
            Shape::Outline {
                nodes: vec![
                    Node::corner(point(40.0, 40.0)),
                    Node {
                        at: point(200.0, 60.0),
                        before: Some(point(-30.0, -20.0)),
                        after: Some(point(10.0, 40.0)),
                    },
                    Node::corner(point(100.0, 180.0)),
                ],
                feather_px: 3.0,
            },
        ),
    ];
    mask
}

fn sample_mask() -> String {
    serde_json::to_string(&a_mask()).unwrap()
}

fn sample_history() -> History {
    let mut history = History::new(Project::new("first", Size::new(64, 48)));
    let made = project_with(a_mask());
    let edits = [
        Edit::NameScene("second".to_owned()),
        Edit::AddPlate(Arc::clone(&made.plates[0])),
        Edit::All {
            name: "both".to_owned(),
            edits: vec![
                Edit::Plate(PlateId(1), PlateEdit::RemovePart(MaskId(3), PartId(5))),
                Edit::SetCanvas(made.canvas),
            ],
        },
    ];
    for edit in edits {
        history
            .record(edit, Some("2026-11-27T12:00:00".to_owned()))
            .unwrap();
    }
    history.undo();
    history
        .record(Edit::NameScene("third".to_owned()), None)
        .unwrap();
    history
        .name_state(platebench::project::NamedState {
            name: "print".to_owned(),
            revision: history.now(),
        })
        .unwrap();
    history
}

fn sample_project() -> String {
    to_text(&sample_history(), "0.1.0").unwrap()
}

fn sample_journal() -> String {
    use journal_lines::JournalLine;
    let history = sample_history();
    let begin = JournalLine::Begin {
        path: Some("scene.platebench".to_owned()),
        folder: ".".to_owned(),
        record: to_text(
            &History::new(Project::new("first", Size::new(64, 48))),
            "0.1.0",
        )
        .unwrap(),
    };
    let made = history.revisions().iter().cloned().map(JournalLine::Made);
    let ends = [
        JournalLine::Now(None),
        JournalLine::Named(history.named()[0].clone()),
        JournalLine::Unnamed("print".to_owned()),
        JournalLine::Saved {
            path: "scene.platebench".to_owned(),
            revisions: 4,
            now: None,
            folder: ".".to_owned(),
        },
    ];
    let lines = std::iter::once(begin).chain(made).chain(ends);
    lines.map(|line| line.to_text().unwrap() + "\n").collect()
}

const SAMPLE_RECEIPT: &str = r#"{"format": "platebench receipt", "version": 1, "program": "0.1.0", "output": "out.png",
"width": 4, "height": 4, "level": 0, "bits": 16, "project": "blake3:00", "sources": [{"file": "a.jpg", "content": "blake3:11"}],
"steps": [{"plate": "a", "step": "matte", "fingerprint": "22"}], "pixels": "blake3:33"}"#;

fn photos(place: &Path, ending: &str) -> Vec<Vec<u8>> {
    let size = Size::new(40, 33);
    let count = 40 * 33 * 3_u32;
    let code = |at: u32| u16::try_from(at * 40_503 % 65_521).unwrap();
    let path = place.with_extension(ending);
    let depths: &[u32] = match ending {
        "jpg" => &[8],
        "exr" => &[16, 32],
        "png" => &[8, 16],
        _ => &[8, 16, 32],
    };
    let files = depths.iter().map(|bits| {
        let pixels = match bits {
            8 => Pixels::U8 {
                channels: 3,
                data: (0..count).map(|at| code(at).to_le_bytes()[1]).collect(),
            },
            16 if ending != "exr" => Pixels::U16 {
                channels: 3,
                data: (0..count).map(code).collect(),
            },
            _ => Pixels::F32 {
                channels: 3,
                data: (0..count)
                    .map(|at| f32::from(code(at)) / 65_536.0)
                    .collect(),
            },
        };
        write(
            &path,
            &Picture { size, pixels },
            &WriteOptions::new(*bits, OutputColour::Srgb),
        )
        .unwrap();
        std::fs::read(&path).unwrap()
    });
    let all = files.collect();
    std::fs::remove_file(&path).unwrap();
    all
}

/// A profile of each kind, as the colour library writes them.
fn profiles() -> Vec<Vec<u8>> {
    use moxcms::ColorProfile;
    [
        ColorProfile::new_srgb(),
        ColorProfile::new_display_p3(),
        ColorProfile::new_gray_with_gamma(2.2),
    ]
    .iter()
    .filter_map(|profile| profile.encode().ok())
    .collect()
}

/// TIFF-shaped metadata: orientation, maker, exposure time, f-number.
fn sample_metadata() -> Vec<u8> {
    let mut bytes = b"II*\0\x08\0\0\0".to_vec();
    let entry = |tag: u16, kind: u16, count: u32, value: u32| {
        let mut entry = Vec::new();
        entry.extend(tag.to_le_bytes());
        entry.extend(kind.to_le_bytes());
        entry.extend(count.to_le_bytes());
        entry.extend(value.to_le_bytes());
        entry
    };
    bytes.extend(3_u16.to_le_bytes());
    bytes.extend(entry(0x0112, 3, 1, 6));
    bytes.extend(entry(0x010f, 2, 4, u32::from_le_bytes(*b"abc\0")));
    bytes.extend(entry(0x8769, 4, 1, 50));
    bytes.extend(0_u32.to_le_bytes());
    bytes.extend(2_u16.to_le_bytes());
    bytes.extend(entry(0x829a, 5, 1, 80));
    bytes.extend(entry(0x829d, 5, 1, 88));
    bytes.extend(0_u32.to_le_bytes());
    for number in [1_u32, 125, 8, 1] {
        bytes.extend(number.to_le_bytes());
    }
    bytes
}
