//! Assembles the demo scene "Ice shift" from its photographs, step by step as a person would, and saves its project.
//!
//! `cargo run --release --example assemble` writes `demo_scenes/ice_shift/scene/ice_shift.platebench`.
#![expect(clippy::print_stdout, reason = "a program that says what it made")]

use platebench::geometry::{Point, Size};
use platebench::project::made::{DustLane, Made, Planet, Ring, Stars};
use platebench::project::{
    Blend, Canvas, Edit, Finish, Grain, GroupId, Mask, MaskId, MaskPart, Matte, MatteMethod, Node,
    PartId, PassRole, Placement, PlacementId, Placing, PlateEdit, PlateId, PracticalGroup, Project,
    Shape, Sign, Step, StepId, StepKind,
};
use platebench::session::grouping::propose;
use platebench::session::{Session, SessionError, Settings, photos_at};
use std::path::{Path, PathBuf};
use std::sync::Arc;

const CANVAS: Size = Size::new(3600, 2250);

/// Where the stand leaves each model, in reference pixels: left, top there, right, top there. Below that it is masked away.
const STANDS: [(&str, [f64; 4]); 6] = [
    ("barge", [1076.0, 1105.0, 1140.0, 1132.0]),
    ("tug", [1180.0, 1128.0, 1250.0, 1146.0]),
    ("buoy", [1120.0, 1492.0, 1190.0, 1492.0]),
    ("ice 1", [770.0, 921.0, 830.0, 921.0]),
    ("ice 2", [770.0, 985.0, 830.0, 985.0]),
    ("ice 3", [770.0, 853.0, 830.0, 853.0]),
];

fn main() -> Result<(), SessionError> {
    let folder = PathBuf::from("demo_scenes/ice_shift/scene");
    let settings = Settings::default();
    let mut session = Session::new(Project::new("Ice shift", CANVAS), &folder, &settings);
    take_photos(&mut session, &folder)?;
    session.record(Edit::SetCanvas(Canvas {
        size: CANVAS,
        pixels_per_inch: 300.0,
    }))?;
    for (name, stand) in STANDS {
        cut_out(&mut session, name, stand)?;
    }
    lights(&mut session)?;
    session.add_made("sky", sky())?;
    place(&mut session)?;
    session.record(Edit::SetFinish(finish()))?;
    session.measure_all(&platebench::session::NoWatch)?;
    let project = session.save(Some(&folder.join("ice_shift.platebench")))?;
    println!(
        "{} edits recorded in {}",
        session.history().revisions().len(),
        project.display()
    );
    Ok(())
}

fn take_photos(session: &mut Session, folder: &Path) -> Result<(), SessionError> {
    let folders = ["barge", "tug", "buoy", "ice"].map(|name| folder.join("photos").join(name));
    let groups = propose(&photos_at(&folders)?)?;
    for group in &groups {
        println!(
            "{:24} {:?}: {} photos",
            group.name,
            group.role,
            group.photos.len()
        );
    }
    session.accept_groups(&groups)
}

fn plate(session: &Session, name: &str) -> Result<PlateId, SessionError> {
    let found = session.project().plate_by_name(name).map(|plate| plate.id);
    found.ok_or_else(|| SessionError::Refused(format!("there is no plate called '{name}'")))
}

/// A silhouette matte with the stand painted away.
fn cut_out(
    session: &mut Session,
    name: &str,
    [left, left_top, right, right_top]: [f64; 4],
) -> Result<(), SessionError> {
    let id = plate(session, name)?;
    let found = session.project().plate(id).cloned();
    let silhouette = found.as_ref().and_then(|plate| {
        plate
            .passes
            .iter()
            .find(|pass| pass.role == PassRole::Silhouette)
    });
    let Some(pass) = silhouette.map(|pass| pass.id) else {
        return Err(SessionError::Refused(format!(
            "'{name}' has no silhouette pass"
        )));
    };
    let size = found.and_then(|plate| plate.size).unwrap_or_default();
    let (width, height) = (f64::from(size.width), f64::from(size.height));
    let first = session.next_id();
    let outline = |number: u32, sign: Sign, corners: [[f64; 2]; 4], feather_px: f32| {
        let nodes = corners
            .map(|corner| Node::corner(Point::from(corner)))
            .to_vec();
        Arc::new(MaskPart {
            id: PartId(number),
            sign,
            strength: 1.0,
            on: true,
            shape: Shape::Outline { nodes, feather_px },
        })
    };
    let whole = [[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]];
    let below = [
        [left, left_top],
        [right, right_top],
        [right, height + 40.0],
        [left, height + 40.0],
    ];
    let mut mask = Mask::new(MaskId(first), "without the stand".to_owned());
    mask.parts = imbl::vector![
        outline(first + 1, Sign::Add, whole, 0.0),
        outline(first + 2, Sign::Remove, below, 2.0),
    ];
    session.record(Edit::Plate(id, PlateEdit::AddMask(Arc::new(mask))))?;
    // The card is darker in the corners: what is brighter than 0.72 of its middle is card.
    let method = MatteMethod::Silhouette {
        pass,
        solid_below: 0.04,
        clear_above: 0.72,
    };
    let matte = Matte {
        spread_px: -0.5,
        ..Matte::new(method)
    };
    let step = Step {
        id: StepId(session.next_id()),
        on: true,
        mask: Some(MaskId(first)),
        kind: StepKind::Matte(matte),
    };
    session.record(Edit::Plate(id, PlateEdit::AddStep { step, at: 0 }))?;
    Ok(())
}

/// The practicals: furnace and running lights of the barge through painted masks, the lamps of tug and buoy.
fn lights(session: &mut Session) -> Result<(), SessionError> {
    let doors = [
        [830.0, 660.0],
        [1000.0, 640.0],
        [1240.0, 690.0],
        [1480.0, 600.0],
        [1640.0, 900.0],
        [1480.0, 1080.0],
        [1120.0, 1020.0],
        [840.0, 880.0],
    ];
    let drawn = [
        Drawn::Outline(&doors, 36.0),
        Drawn::Stroke(
            &[[1180.0, 760.0], [1320.0, 720.0], [1450.0, 690.0]],
            55.0,
            0.8,
        ),
    ];
    let furnace = paint(session, "barge", "furnace doors", &drawn)?;
    add_group(
        session,
        ("barge", "furnace"),
        ("furnace doors", Some(furnace), 0.6, (90.0, 0.10)),
    )?;
    add_group(
        session,
        ("barge", "running"),
        ("running lights", None, 0.8, (26.0, 0.12)),
    )?;
    add_group(
        session,
        ("tug", "lights"),
        ("cabin and lamps", None, 0.4, (20.0, 0.12)),
    )?;
    add_group(session, ("buoy", "lamp"), ("lamp", None, 1.2, (80.0, 0.25)))
}

/// Something drawn into a mask.
enum Drawn<'a> {
    Outline(&'a [[f64; 2]], f32),
    Stroke(&'a [[f64; 2]], f32, f32),
}

fn paint(
    session: &mut Session,
    name: &str,
    mask: &str,
    drawn: &[Drawn<'_>],
) -> Result<MaskId, SessionError> {
    let id = plate(session, name)?;
    let mask_id = MaskId(session.next_id());
    session.record(Edit::Plate(
        id,
        PlateEdit::AddMask(Arc::new(Mask::new(mask_id, mask.to_owned()))),
    ))?;
    for one in drawn {
        let points = |places: &[[f64; 2]]| -> Vec<Point> {
            places.iter().copied().map(Point::from).collect()
        };
        let shape = match one {
            Drawn::Outline(corners, feather_px) => Shape::Outline {
                nodes: points(corners).into_iter().map(Node::corner).collect(),
                feather_px: *feather_px,
            },
            Drawn::Stroke(path, radius_px, softness) => Shape::Stroke {
                points: points(path),
                radius_px: *radius_px,
                softness: *softness,
                pressure: Vec::new(),
            },
        };
        let part = MaskPart {
            id: PartId(session.next_id()),
            sign: Sign::Add,
            strength: 1.0,
            on: true,
            shape,
        };
        session.record(Edit::Plate(id, PlateEdit::AddPart(mask_id, Arc::new(part))))?;
    }
    Ok(mask_id)
}

fn add_group(
    session: &mut Session,
    (name, pass): (&str, &str),
    (group, mask, stops, (glow_px, glow_share)): (&str, Option<MaskId>, f32, (f32, f32)),
) -> Result<(), SessionError> {
    let id = plate(session, name)?;
    let passes = session
        .project()
        .plate(id)
        .map(|plate| plate.passes.clone())
        .unwrap_or_default();
    let Some(pass) = passes.iter().find(|one| one.name == pass) else {
        return Err(SessionError::Refused(format!(
            "'{name}' has no pass called '{pass}'"
        )));
    };
    let group = PracticalGroup {
        stops,
        mask,
        glow_px,
        glow_share,
        ..PracticalGroup::new(GroupId(session.next_id()), group, pass.id)
    };
    session.record(Edit::Plate(id, PlateEdit::AddGroup(group)))?;
    Ok(())
}

fn sky() -> Made {
    Made {
        size: CANVAS,
        background_rgb: [0.0004, 0.0005, 0.0007],
        stars: Some(Stars {
            seed: 41,
            view_deg: 34.0,
            faintest: 8.2,
            light: 60.0,
            sigma_px: 0.8,
            clumping: 0.5,
        }),
        dust_lane: Some(DustLane {
            seed: 7,
            through: Point::new(900.0, 1500.0),
            direction_deg: -32.0,
            width_px: 520.0,
            cloud_px: 900.0,
            light: 0.005,
            kelvin: [8200.0, 4600.0],
            opacity: 0.7,
        }),
        planet: Some(Planet {
            seed: 12,
            centre: Point::new(3050.0, 520.0),
            radius_px: 880.0,
            key_azimuth_deg: -74.0,
            key_elevation_deg: 34.0,
            light: 0.42,
            pole_turn_deg: 24.0,
            pole_tilt_deg: 17.0,
            ground_rgb: [[0.62, 0.66, 0.70], [0.22, 0.27, 0.32], [0.28, 0.22, 0.19]],
            feature: 0.75,
            bands: 0.3,
            cracks: 0.55,
            air_height: 0.008,
            air_light: 0.5,
            air_rgb: [0.42, 0.66, 1.0],
            ring: Some(Ring {
                inner: 1.32,
                outer: 2.25,
                depth: 0.16,
                colour_rgb: [0.80, 0.78, 0.74],
                forward: 0.55,
            }),
        }),
    }
}

/// Back to front, after the sky.
const PLACES: [(&str, &str, [f64; 4], f64); 14] = [
    ("ice far 1", "ice 2", [760.0, 420.0, 0.055, 70.0], 9000.0),
    ("ice far 2", "ice 3", [1240.0, 250.0, 0.05, -35.0], 8800.0),
    ("ice far 3", "ice 1", [430.0, 700.0, 0.075, 20.0], 8000.0),
    ("ice far 4", "ice 3", [2120.0, 380.0, 0.06, 110.0], 7600.0),
    ("ice far 5", "ice 2", [200.0, 330.0, 0.09, -15.0], 7000.0),
    ("ice towed", "ice 3", [1105.0, 640.0, 0.20, -6.0], 2600.0),
    ("tug", "tug", [770.0, 560.0, 0.40, -4.0], 2500.0),
    ("ice middle 1", "ice 1", [2930.0, 930.0, 0.13, 40.0], 2200.0),
    (
        "ice middle 2",
        "ice 2",
        [330.0, 1180.0, 0.16, -60.0],
        2000.0,
    ),
    ("barge", "barge", [1930.0, 1330.0, 1.12, 0.0], 900.0),
    ("ice near 1", "ice 3", [3340.0, 1560.0, 0.24, 8.0], 700.0),
    ("ice near 2", "ice 1", [1080.0, 2010.0, 0.30, 150.0], 650.0),
    ("ice near 3", "ice 2", [3420.0, 2160.0, 0.55, 33.0], 300.0),
    ("buoy", "buoy", [230.0, 1740.0, 1.10, 3.0], 250.0),
];

fn place(session: &mut Session) -> Result<(), SessionError> {
    let made: Vec<PlacementId> = session
        .project()
        .placements
        .iter()
        .filter(|placement| placement.name != "sky")
        .map(|placement| placement.id)
        .collect();
    let mut edits: Vec<Edit> = made.into_iter().map(Edit::RemovePlacement).collect();
    for ((name, of, [x, y, scale, turn_deg], distance_m), number) in
        PLACES.into_iter().zip(session.next_id()..)
    {
        let placement = Placement {
            id: PlacementId(number),
            name: name.to_owned(),
            plate: plate(session, of)?,
            placing: Placing::Upright {
                centre: Point::new(x, y),
                scale,
                turn_deg,
                mirrored: false,
            },
            blend: Blend::SourceOver,
            strength: 1.0,
            visible: true,
            distance_m: Some(distance_m),
        };
        edits.push(Edit::AddPlacement {
            placement: Arc::new(placement),
            at: usize::MAX,
        });
    }
    session.record(Edit::All {
        name: "plates placed in depth".to_owned(),
        edits,
    })?;
    Ok(())
}

fn finish() -> Finish {
    Finish {
        exposure_stops: 0.2,
        contrast: 1.04,
        shoulder: 0.6,
        saturation: 1.04,
        vignette_stops: 0.4,
        grain: Some(Grain {
            seed: 5,
            strength: 0.02,
            size_px: 1.4,
        }),
    }
}
