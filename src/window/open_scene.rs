//! The page of an open scene: the bar, the build sheet, the step card and the picture.

use crate::project::Edit;
use crate::session::Session;
use crate::session::jobs::{Report, Work};
use crate::session::preferences::Preferences;
use crate::session::sources::SourceReport;
use crate::window::build_sheet::Sheet;
use crate::window::jobs_bar::Jobs;
use crate::window::queue::{
    Adding, Ask, Column, Dialogue, Doubled, Drawing, Look, Queue, Row, Selection, ShownPlace,
    Swapped,
};
use crate::window::record::{self, NameDraft, StateDraft};
use crate::window::step_cards::{self, CardState};
use crate::window::viewport::Picture;
use crate::window::{theme, words};

/// An open scene and what the window knows about it.
#[derive(Debug)]
pub struct OpenScene {
    /// The open project.
    pub session: Session,
    /// The chosen cell.
    pub selection: Selection,
    /// What the pointer does in the picture, while it does anything but look.
    pub drawing: Option<Drawing>,
    /// What the pointer adds to the steps done by hand.
    pub adding: Option<Adding>,
    /// What a control being moved would do.
    pub draft: Option<Edit>,
    /// A place to show, in the next frame only.
    pub show: Option<ShownPlace>,
    /// Work under way.
    pub jobs: Jobs,
    /// The last swap, until people have decided about it.
    pub swapped: Option<Swapped>,
    /// Where light doubles, as it was looked for last.
    pub doubled: Option<Doubled>,
    /// The states of the photos as they were read last; nothing while they are read.
    pub checked: Option<Vec<SourceReport>>,
    /// The build sheet's own state.
    pub sheet: Sheet,
    picture: Picture,
    cards: CardState,
    name: NameDraft,
    state: StateDraft,
}

impl OpenScene {
    /// A scene just opened: the finished picture is chosen, or the front plate's frames where nothing is measured yet.
    #[must_use]
    pub fn new(session: Session) -> Self {
        let front = session.project().placements.last().map(|front| front.plate);
        let selection = match front {
            Some(plate) if !session.due().is_empty() => Selection {
                row: Row::Plate(plate),
                column: Column::Frames,
            },
            _ready => Selection {
                row: Row::Finish,
                column: Column::Placement,
            },
        };
        Self {
            session,
            selection,
            drawing: None,
            adding: None,
            draft: None,
            show: None,
            jobs: Jobs::default(),
            swapped: None,
            doubled: None,
            checked: None,
            sheet: Sheet::default(),
            picture: Picture::default(),
            cards: CardState::default(),
            name: NameDraft::default(),
            state: StateDraft::default(),
        }
    }

    /// Whether everything in view is shown as it is now.
    #[must_use]
    pub const fn is_complete(&self) -> bool {
        self.picture.is_complete()
    }

    /// Chooses a cell; what was drawn with goes with the old one.
    pub fn select(&mut self, selection: Selection) {
        if self.selection != selection {
            self.selection = selection;
            self.drawing = None;
            self.adding = None;
        }
    }

    /// Takes note of what came out of a job: a swap shows its list, photos that were found or taken are read again.
    pub fn take_report(&mut self, report: &Report) {
        match report {
            Report::Swapped(report) => {
                if let Some(plate) = self.session.project().plate_by_name(&report.plate) {
                    self.select(Selection {
                        row: Row::Plate(plate.id),
                        column: Column::Frames,
                    });
                }
                self.swapped = Some(Swapped {
                    report: report.clone(),
                    after: self.session.history().now(),
                });
            }
            Report::Doubled(plate, pass, places) => {
                self.doubled = Some(Doubled {
                    plate: *plate,
                    pass: *pass,
                    places: places.clone(),
                });
            }
            Report::Checked(reports) => self.checked = Some(reports.clone()),
            Report::FoundPhotos(..) | Report::TookChanged(_) => self.check_photos(),
            Report::Fused
            | Report::Built(_)
            | Report::Added(_)
            | Report::Spots(_)
            | Report::Suggested(_) => {}
        }
    }

    /// Has every photo read and compared.
    pub fn check_photos(&mut self) {
        self.checked = None;
        self.jobs.ask(Work::CheckPhotos);
    }

    /// Adds a made sky behind everything and chooses its recipe.
    ///
    /// # Errors
    /// A sentence for people.
    pub fn make_sky(&mut self) -> Result<(), String> {
        let project = self.session.project();
        let made = step_cards::made::first_sky(project.canvas.size);
        let name = words::name_for_sky(|name| project.plate_by_name(name).is_some());
        let plate = self.session.add_made(&name, made);
        self.select(Selection {
            row: Row::Plate(plate.map_err(|error| error.to_string())?),
            column: Column::Fuse,
        });
        Ok(())
    }

    /// Shows the page.
    pub fn ui(&mut self, ui: &mut egui::Ui, preferences: &Preferences, queue: &mut Queue) {
        self.keep_selection();
        let draft = self.draft.take();
        let working: Vec<Work> = self.jobs.all().cloned().collect();
        let look = Look {
            session: &self.session,
            selection: self.selection,
            drawing: self.drawing,
            adding: self.adding,
            working: &working,
            draft: draft.as_ref(),
            show: self.show.take(),
            swapped: self.swapped.as_ref(),
            doubled: self.doubled.as_ref(),
        };
        egui::Panel::top("bar").show(ui, |ui| {
            ui.horizontal_wrapped(|ui| {
                let drafts = (preferences, &mut self.name, &mut self.state);
                record::ui(ui, look.session, drafts, queue);
                if ui.button(words::BUILD).clicked() {
                    queue.ask(Ask::OpenDialogue(Dialogue::Build));
                }
                self.jobs.ui(ui, queue);
            });
        });
        let busy = self.jobs.busy().cloned();
        let window = ui.ctx().content_rect().size();
        egui::Panel::top("sheet")
            .resizable(true)
            .default_size(theme::sheet::height(window.y))
            .min_size(theme::sheet::LEAST)
            .show(ui, |ui| self.sheet.ui(ui, &look, busy.as_ref(), queue));
        egui::Panel::left("card")
            .resizable(true)
            .default_size(theme::place::card(window.x))
            .show(ui, |ui| {
                egui::ScrollArea::vertical()
                    .auto_shrink(false)
                    .show(ui, |ui| step_cards::ui(ui, &look, queue, &mut self.cards));
            });
        egui::CentralPanel::no_frame().show(ui, |ui| self.picture.ui(ui, &look, queue));
    }

    /// Chooses another cell when the chosen plate is gone.
    fn keep_selection(&mut self) {
        if let Row::Plate(plate) = self.selection.row
            && self.session.project().plate(plate).is_none()
        {
            self.select(Selection {
                row: Row::Finish,
                column: Column::Placement,
            });
        }
    }
}
