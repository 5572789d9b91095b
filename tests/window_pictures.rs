//! Pictures of every step card and of the build sheet in its states, drawn on the processor and compared with those kept.
#![cfg(feature = "window")]
#![expect(
    clippy::expect_used,
    clippy::panic,
    clippy::too_many_lines,
    reason = "a failed step is a failed test; some follow one way from end to end"
)]
#![allow(
    dead_code,
    clippy::allow_attributes,
    reason = "the bench's ways to draw are used by other tests"
)]

#[path = "common/cpu_renderer.rs"]
mod cpu_renderer;
mod window_bench;

use cpu_renderer::CpuRenderer;
use egui::vec2;
use egui_kittest::{Harness, SnapshotResults};
use platebench::geometry::Point;
use platebench::project::{
    Edit, Grain, GroupId, Mask, MaskId, MaskPart, Matte, MatteMethod, Node, PaintOut, PartId,
    PassId, Patch, PatchFrom, PatchShape, Placement, Placing, PlateEdit, PracticalGroup, Shape,
    Sign, Spotting, Step, StepId, StepKind, Verdict, Warp, WarpKind,
};
use platebench::session::jobs::Work;
use platebench::session::preferences::Surround;
use platebench::window::build_sheet::Sheet;
use platebench::window::queue::{Column, Look, Queue, Row, Selection};
use platebench::window::theme;
use std::sync::Arc;
use window_bench::{Bench, SKY, SKY_PLACED, TUG, Window, click, settle, tug_edit};

/// The pictures of one test, compared together at its end.
#[derive(Default)]
struct Pictures(SnapshotResults);

impl Pictures {
    fn take<T>(&mut self, window: &mut Harness<'static, T>, name: &str) {
        window.snapshot(name);
        self.0.extend_harness(window);
    }
}

/// The card beside a small picture.
fn card(row: Row, column: Column, prepare: impl FnOnce(&mut Bench)) -> Window {
    let mut bench = Bench::new(row, column);
    prepare(&mut bench);
    let mut window = Harness::builder()
        .with_size(vec2(640.0, 900.0))
        .with_max_steps(64)
        .with_step_dt(0.1)
        .renderer(CpuRenderer::default())
        .build_ui_state(|ui, bench: &mut Bench| bench.ui(ui), bench);
    theme::apply(&window.ctx, Surround::Dark, 1.0);
    window.run();
    window
}

fn record(bench: &mut Bench, edit: Edit) {
    bench.session.record(edit).expect("it fits the small scene");
}

fn mask() -> Mask {
    let outline = [(40.0, 40.0), (200.0, 60.0), (180.0, 160.0)];
    let part = |number: u32, sign: Sign, shape: Shape| {
        Arc::new(MaskPart {
            id: PartId(number),
            sign,
            strength: 1.0,
            on: true,
            shape,
        })
    };
    let mut mask = Mask::new(MaskId(200), "stack lamps".to_owned());
    mask.parts = imbl::vector![
        part(
            201,
            Sign::Add,
            Shape::Outline {
                nodes: outline
                    .map(|(x, y)| Node::corner(Point::new(x, y)))
                    .to_vec(),
                feather_px: 0.0,
            },
        ),
        part(
            202,
            Sign::Remove,
            Shape::Stroke {
                points: vec![Point::new(60.0, 60.0), Point::new(120.0, 100.0)],
                radius_px: 12.0,
                softness: 0.3,
                pressure: Vec::new(),
            },
        ),
    ];
    mask
}

fn with_mask(bench: &mut Bench) {
    record(bench, tug_edit(PlateEdit::AddMask(Arc::new(mask()))));
}

#[test]
fn cards_of_photos() {
    let mut pictures = Pictures::default();
    for (column, name) in [
        (Column::Frames, "card_frames"),
        (Column::Register, "card_register"),
        (Column::Match, "card_match"),
        (Column::Fuse, "card_fuse"),
    ] {
        pictures.take(&mut card(Row::Plate(TUG), column, |_bench| {}), name);
    }
}

#[test]
fn cards_of_hand_work() {
    let mut pictures = Pictures::default();
    let step = |id, kind| Step {
        id: StepId(id),
        on: true,
        mask: None,
        kind,
    };
    let patch = |x: f64, confidence: Option<f32>, verdict| Patch {
        shape: PatchShape::Dab {
            at: Point::new(x, 120.0),
            radius_px: 6.0,
        },
        from: PatchFrom::Surroundings,
        feather_px: 1.0,
        confidence,
        verdict,
    };
    let spots = || {
        vec![
            patch(60.0, Some(0.92), Verdict::Accepted),
            patch(110.0, Some(0.81), Verdict::Undecided),
            patch(160.0, Some(0.74), Verdict::Refused),
            patch(210.0, Some(0.31), Verdict::Undecided),
            Patch {
                from: PatchFrom::Place {
                    offset: Point::new(20.0, 70.0),
                },
                ..patch(260.0, None, Verdict::Undecided)
            },
        ]
    };
    let line = |y: f64| vec![Point::new(60.0, y), Point::new(260.0, y)];
    let outline = [
        (140.0, 150.0),
        (165.0, 150.0),
        (165.0, 230.0),
        (140.0, 230.0),
    ];
    let stand = Patch {
        shape: PatchShape::Outline {
            points: outline.map(|(x, y)| Point::new(x, y)).to_vec(),
        },
        ..patch(0.0, None, Verdict::Undecided)
    };
    pictures.take(
        &mut card(Row::Plate(TUG), Column::Spotting, |bench| {
            let spotting = StepKind::Spotting(Spotting {
                patches: spots(),
                least_confidence: 0.5,
                look_alikes: 37,
            });
            let stands = StepKind::PaintOut(PaintOut {
                patches: vec![stand],
                shadow_seen_to: false,
            });
            for (at, kind) in [spotting, stands].into_iter().enumerate() {
                let step = step(210 + u32::try_from(at).unwrap(), kind);
                record(bench, tug_edit(PlateEdit::AddStep { step, at }));
            }
        }),
        "card_spotting",
    );
    pictures.take(
        &mut card(Row::Plate(TUG), Column::Warp, |bench| {
            let strake = WarpKind::Strake {
                kept: line(190.0),
                was: line(110.0),
                now: line(70.0),
                covers: false,
            };
            let warp = Warp {
                kind: strake,
                soft_px: 40.0,
            };
            let step = step(210, StepKind::Warp(warp));
            record(bench, tug_edit(PlateEdit::AddStep { step, at: 0 }));
        }),
        "card_warp",
    );
}

#[test]
fn cards_of_mattes() {
    let mut pictures = Pictures::default();
    pictures.take(
        &mut card(Row::Plate(TUG), Column::Matte, |_bench| {}),
        "card_matte_none",
    );
    let step = |method, mask| Step {
        id: StepId(210),
        on: true,
        mask,
        kind: StepKind::Matte(Matte::new(method)),
    };
    pictures.take(
        &mut card(Row::Plate(TUG), Column::Matte, |bench| {
            with_mask(bench);
            let step = step(MatteMethod::Drawn, Some(MaskId(200)));
            record(bench, tug_edit(PlateEdit::AddStep { step, at: 0 }));
        }),
        "card_matte_drawn",
    );
    pictures.take(
        &mut card(Row::Plate(TUG), Column::Matte, |bench| {
            let kind = StepKind::Matte(Matte::silhouette(PassId(13)));
            let step = Step {
                kind,
                ..step(MatteMethod::Drawn, None)
            };
            record(bench, tug_edit(PlateEdit::AddStep { step, at: 0 }));
        }),
        "card_matte_silhouette",
    );
}

#[test]
fn cards_of_lights() {
    let mut pictures = Pictures::default();
    pictures.take(
        &mut card(Row::Plate(TUG), Column::Lights, |_bench| {}),
        "card_lights_none",
    );
    let mut window = card(Row::Plate(TUG), Column::Lights, |bench| {
        with_mask(bench);
        let group = PracticalGroup {
            stops: 0.5,
            mask: Some(MaskId(200)),
            ..PracticalGroup::new(GroupId(220), "stack lamps", PassId(12))
        };
        record(bench, tug_edit(PlateEdit::AddGroup(group)));
    });
    pictures.take(&mut window, "card_lights");
    click(&mut window, "Draw the mask of stack lamps");
    click(&mut window, "Draw strokes");
    window.remove_cursor();
    pictures.take(&mut window, "card_lights_mask");
}

#[test]
fn cards_of_made_plates_placement_and_finish() {
    let mut pictures = Pictures::default();
    let mut made = card(Row::Plate(SKY), Column::Fuse, |_bench| {});
    settle(&mut made);
    made.remove_cursor();
    pictures.take(&mut made, "card_made");
    pictures.take(
        &mut card(Row::Plate(SKY), Column::Placement, |_bench| {}),
        "card_placement",
    );
    pictures.take(
        &mut card(Row::Plate(SKY), Column::Placement, |bench| {
            let placed = bench.project().placement(SKY_PLACED).unwrap().as_ref();
            let corners = [(20.0, 30.0), (380.0, 0.0), (360.0, 290.0), (40.0, 260.0)];
            let placed = Placement {
                placing: Placing::Corners(corners.map(|(x, y)| Point::new(x, y))),
                ..placed.clone()
            };
            record(bench, Edit::SetPlacement(Arc::new(placed)));
        }),
        "card_placement_corners",
    );
    pictures.take(
        &mut card(Row::Finish, Column::Placement, |bench| {
            let mut finish = bench.project().finish;
            finish.grain = Some(Grain {
                seed: 5,
                strength: 0.02,
                size_px: 1.5,
            });
            record(bench, Edit::SetFinish(finish));
        }),
        "card_finish",
    );
}

/// The build sheet alone, with this work under way.
fn sheet(prepare: impl FnOnce(&mut Bench), busy: Option<Work>) -> Harness<'static, Sheet> {
    let mut bench = Bench::new(Row::Plate(TUG), Column::Register);
    prepare(&mut bench);
    let mut window = Harness::builder()
        .with_size(vec2(1280.0, 150.0))
        .with_max_steps(64)
        .renderer(CpuRenderer::default())
        .build_ui_state(
            move |ui, sheet: &mut Sheet| {
                let look = Look {
                    session: &bench.session,
                    selection: Selection {
                        row: Row::Plate(TUG),
                        column: Column::Register,
                    },
                    drawing: None,
                    adding: None,
                    working: &[],
                    draft: None,
                    show: None,
                    swapped: None,
                    doubled: None,
                };
                sheet.ui(ui, &look, busy.as_ref(), &mut Queue::default());
            },
            Sheet::default(),
        );
    theme::apply(&window.ctx, Surround::Dark, 1.0);
    window.run();
    window
}

/// Thumbnails come from a thread; the picture is taken once nothing new arrived for a while.
fn rest(window: &mut Harness<'static, Sheet>) {
    for _round in 0..40 {
        std::thread::sleep(std::time::Duration::from_millis(10));
        window.step();
    }
}

#[test]
fn the_sheet_in_its_states() {
    let mut pictures = Pictures::default();
    let mut window = sheet(|_bench| {}, None);
    rest(&mut window);
    pictures.take(&mut window, "sheet_missing_and_stale");
    let mut window = sheet(|_bench| {}, Some(Work::FuseAll));
    rest(&mut window);
    pictures.take(&mut window, "sheet_working");
    let mut window = sheet(
        |bench| {
            record(bench, Edit::RemovePlate(TUG));
        },
        None,
    );
    rest(&mut window);
    pictures.take(&mut window, "sheet_made_only");
}
