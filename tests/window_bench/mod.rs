//! A small scene and the two panels that show it, driven without a screen.

use egui::{Pos2, Vec2, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use platebench::geometry::{Point, Size, Transform};
use platebench::project::made::Stars;
use platebench::project::{
    Blend, Camera, Edit, Fingerprint, Frame, FrameId, FrameMeasured, KeyLight, Made, Pass, PassId,
    PassRole, Placement, PlacementId, Placing, Plate, PlateEdit, PlateId, Project, Source, Stack,
    StackMeasured, Variant, VariantId,
};
use platebench::session::jobs::Work;
use platebench::session::{Session, Settings};
use platebench::window::queue::{
    Adding, Ask, Column, Doubled, Drawing, Look, Queue, Row, Selection, ShownPlace, Swapped,
};
use platebench::window::step_cards::{self, CardState};
use platebench::window::viewport::Picture;
use std::path::Path;
use std::sync::Arc;

pub(crate) const TUG: PlateId = PlateId(10);
pub(crate) const SKY: PlateId = PlateId(20);
pub(crate) const SKY_PLACED: PlacementId = PlacementId(31);

/// The panels with what an application would keep for them.
pub(crate) struct Bench {
    pub(crate) session: Session,
    pub(crate) selection: Selection,
    pub(crate) drawing: Option<Drawing>,
    pub(crate) adding: Option<Adding>,
    pub(crate) draft: Option<Edit>,
    pub(crate) drafts: usize,
    pub(crate) show: Option<ShownPlace>,
    pub(crate) swapped: Option<Swapped>,
    pub(crate) doubled: Option<Doubled>,
    pub(crate) picture: Picture,
    pub(crate) cards: CardState,
    pub(crate) said: Vec<String>,
    pub(crate) started: Vec<Work>,
    /// The work that is said to be under way.
    pub(crate) working: Vec<Work>,
    pub(crate) shown: Vec<ShownPlace>,
    /// What was noted of a gesture under way.
    pub(crate) unfinished: Vec<Option<Edit>>,
}

impl Bench {
    pub(crate) fn new(row: Row, column: Column) -> Self {
        Self {
            session: session(),
            selection: Selection { row, column },
            drawing: None,
            adding: None,
            draft: None,
            drafts: 0,
            show: None,
            swapped: None,
            doubled: None,
            picture: Picture::default(),
            cards: CardState::default(),
            said: Vec::new(),
            started: Vec::new(),
            working: Vec::new(),
            shown: Vec::new(),
            unfinished: Vec::new(),
        }
    }

    pub(crate) fn project(&self) -> &Project {
        self.session.project()
    }

    pub(crate) fn edits(&self) -> usize {
        self.session.history().revisions().len()
    }

    pub(crate) fn ui(&mut self, ui: &mut egui::Ui) {
        let mut queue = Queue::default();
        let draft = self.draft.take();
        let look = Look {
            session: &self.session,
            selection: self.selection,
            drawing: self.drawing,
            adding: self.adding,
            working: &self.working,
            draft: draft.as_ref(),
            show: self.show.take(),
            swapped: self.swapped.as_ref(),
            doubled: self.doubled.as_ref(),
        };
        let cards = &mut self.cards;
        egui::Panel::left("card")
            .exact_size(360.0)
            .show(ui, |ui| step_cards::ui(ui, &look, &mut queue, cards));
        let picture = &mut self.picture;
        egui::CentralPanel::default().show(ui, |ui| picture.ui(ui, &look, &mut queue));
        for ask in queue.drain() {
            match ask {
                Ask::Command(command) => {
                    if let Err(error) = self.session.run(command) {
                        self.said.push(error.to_string());
                    }
                }
                Ask::Start(work) => self.started.push(work),
                Ask::Select(selection) => self.selection = selection,
                Ask::Say(said) => self.said.push(said),
                Ask::Show(place) => {
                    self.shown.push(place);
                    self.show = Some(place);
                }
                Ask::Unfinished(edit) => self.unfinished.push(edit.map(|edit| *edit)),
                Ask::Draw(drawing) => self.drawing = drawing,
                Ask::Add(adding) => self.adding = adding,
                Ask::Draft(edit) => {
                    self.drafts += 1;
                    self.draft = Some(*edit);
                }
                _other => {}
            }
        }
    }
}

pub(crate) type Window = Harness<'static, Bench>;

/// A window on the cell of a row and a column.
pub(crate) fn window(row: Row, column: Column) -> Window {
    let mut window = Harness::builder()
        .with_size(vec2(1200.0, 1500.0))
        .with_max_steps(64)
        .with_step_dt(0.1)
        .build_ui_state(
            |ui, bench: &mut Bench| bench.ui(ui),
            Bench::new(row, column),
        );
    window.run();
    window
}

/// Steps until the tiles in view are there.
pub(crate) fn settle(window: &mut Window) {
    for _try in 0..2000 {
        window.step();
        if window.state().picture.is_complete() {
            window.run();
            return;
        }
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    panic!("the tiles never came");
}

/// Sets a value by the name that screen readers read.
pub(crate) fn set(window: &mut Window, name: &str, value: f64) {
    window.get_by_label(name).set_value_accesskit(value);
    window.run();
}

pub(crate) fn click(window: &mut Window, name: &str) {
    window.get_by_label(name).click();
    window.run();
}

/// Chooses from a list of choices.
pub(crate) fn choose(window: &mut Window, name: &str, option: &str) {
    click(window, name);
    window
        .get_by_role_and_label(egui::accesskit::Role::Button, option)
        .click();
    window.run();
}

/// Drags in the picture from one point of the window over others; lets go at the last.
pub(crate) fn drag(window: &mut Window, path: &[Pos2]) {
    press_and_move(window, path);
    window.drop_at(path[path.len() - 1]);
    window.run();
}

/// Clicks twice at a point of the window.
pub(crate) fn double_click(window: &mut Window, at: Pos2) {
    window.hover_at(at);
    for pressed in [true, false, true, false] {
        window.event(egui::Event::PointerButton {
            pos: at,
            button: egui::PointerButton::Primary,
            pressed,
            modifiers: egui::Modifiers::NONE,
        });
    }
    window.run();
}

pub(crate) fn press_and_move(window: &mut Window, path: &[Pos2]) {
    window.hover_at(path[0]);
    window.run();
    window.drag_at(path[0]);
    window.run();
    for at in &path[1..] {
        window.hover_at(*at);
        window.run();
    }
}

/// Middle of the picture, and points of the window per pixel of what is shown, for a fitted picture of `size`.
pub(crate) fn fitted(window: &Window, size: Size) -> (Pos2, f32) {
    let area = window.get_by_label("Picture").rect();
    #[expect(clippy::cast_precision_loss, reason = "small test pictures")]
    let scale = (area.width() / size.width as f32).min(area.height() / size.height as f32);
    (area.center(), scale)
}

/// A point of the window over a pixel position of a fitted picture.
pub(crate) fn over(window: &Window, size: Size, at: (f32, f32)) -> Pos2 {
    let (middle, scale) = fitted(window, size);
    #[expect(clippy::cast_precision_loss, reason = "small test pictures")]
    let half = Vec2::new(size.width as f32, size.height as f32) * 0.5;
    middle + (vec2(at.0, at.1) - half) * scale
}

fn session() -> Session {
    let settings = Settings {
        scratch_bytes: 0,
        ..Settings::for_memory(256 << 20)
    };
    let mut session = Session::new(
        Project::new("bench", Size::new(400, 300)),
        Path::new("."),
        &settings,
    );
    for edit in [
        Edit::AddFrames((1..=3).map(frame).collect()),
        Edit::AddPlate(Arc::new(tug())),
        Edit::AddPlate(Arc::new(sky())),
        placed(SKY_PLACED, "sky", SKY, (200.0, 150.0)),
        placed(PlacementId(30), "tug", TUG, (120.0, 100.0)),
    ] {
        session.record(edit).expect("the small scene fits together");
    }
    session
}

fn frame(number: u32) -> Arc<Frame> {
    Arc::new(Frame {
        id: FrameId(number),
        file: format!("shoot/tug_{number}.png"),
        content: None,
        bytes: None,
        size: Some(Size::new(320, 240)),
        camera: Camera {
            exposure_s: Some(if number == 3 { 0.5 } else { 0.125 }),
            f_number: Some(11.0),
            iso: Some(100.0),
            ..Camera::default()
        },
    })
}

fn tug() -> Plate {
    let measured = (1..=3).map(|number| FrameMeasured {
        frame: FrameId(number),
        to_reference: Transform::translation(f64::from(number) - 2.0, 0.5),
        gain_rgb: if number == 3 { [0.25; 3] } else { [1.0; 3] },
        offset_rgb: [0.0; 3],
        radial_px: 0.0,
        residual_px: if number == 1 { 1.7 } else { 0.1 },
        sharp_share: [0.6, 0.399, 0.001][number as usize - 1],
    });
    let mut stack = Stack::of((1..=3).map(FrameId).collect());
    stack.measured = Some(StackMeasured {
        inputs: Fingerprint([0; 16]),
        frames: measured.collect(),
        hot_pixels: Vec::new(),
        dust: Vec::new(),
    });
    let pass = |id: u32, name: &str, role: PassRole| Pass {
        id: PassId(id),
        name: name.to_owned(),
        role,
        key_light: KeyLight::Auto,
    };
    Plate {
        passes: vec![
            pass(12, "lit", PassRole::Light),
            pass(13, "backdrop", PassRole::Silhouette),
        ],
        size: Some(Size::new(320, 240)),
        ..plate(TUG, "tug", Source::Stack(stack))
    }
}

fn sky() -> Plate {
    let made = Made {
        size: Size::new(200, 150),
        background_rgb: [0.02; 3],
        stars: Some(Stars {
            seed: 1,
            view_deg: 40.0,
            faintest: 6.0,
            light: 1.0,
            sigma_px: 0.8,
            clumping: 0.0,
        }),
        dust_lane: None,
        planet: None,
    };
    plate(SKY, "sky", Source::Made(made))
}

fn plate(id: PlateId, name: &str, source: Source) -> Plate {
    let variant = VariantId(id.0 + 1);
    Plate {
        id,
        name: name.to_owned(),
        size: None,
        passes: Vec::new(),
        variants: vec![Arc::new(Variant {
            id: variant,
            name: "first shoot".to_owned(),
            source,
            takes: Vec::new(),
            lies: None,
        })],
        current: variant,
        masks: Vec::new(),
        groups: Vec::new(),
        steps: Vec::new(),
    }
}

fn placed(id: PlacementId, name: &str, plate: PlateId, centre: (f64, f64)) -> Edit {
    Edit::AddPlacement {
        placement: Arc::new(Placement {
            id,
            name: name.to_owned(),
            plate,
            placing: Placing::Upright {
                centre: Point::new(centre.0, centre.1),
                scale: 1.0,
                turn_deg: 0.0,
                mirrored: false,
            },
            blend: Blend::SourceOver,
            strength: 1.0,
            visible: true,
            distance_m: None,
        }),
        at: 9,
    }
}

/// An edit of the tug.
pub(crate) fn tug_edit(edit: PlateEdit) -> Edit {
    Edit::Plate(TUG, edit)
}
