//! What panels hand to the application: wishes, carried out once at the end of the frame; and what they are given to look at.

use crate::geometry::{Point, Rect};
use crate::project::{Edit, FrameId, MaskId, PassId, PatchFrom, PlateId, RevisionId, Sign};
use crate::session::jobs::Work;
use crate::session::preferences::Surround;
use crate::session::swap::SwapReport;
use crate::session::{Command, Session};
use std::path::PathBuf;

/// The wishes of one frame of the window, in the order they came.
#[derive(Debug, Default)]
pub struct Queue {
    asks: Vec<Ask>,
}

impl Queue {
    /// Adds a wish.
    pub fn ask(&mut self, ask: Ask) {
        self.asks.push(ask);
    }

    /// Takes all wishes out.
    pub fn drain(&mut self) -> Vec<Ask> {
        std::mem::take(&mut self.asks)
    }
}

/// One wish of a panel.
#[derive(Debug, Clone, PartialEq)]
#[expect(
    clippy::large_enum_variant,
    reason = "a frame asks for a few things at most; boxing would only hide the fields"
)]
pub enum Ask {
    /// Run a command on the project.
    Command(Command),
    /// Start long work.
    Start(Work),
    /// Choose a cell of the build sheet.
    Select(Selection),
    /// Tell people something.
    Say(String),
    /// Show a place in the picture, once.
    Show(ShownPlace),
    /// Draw into a mask or pick from the picture, or stop doing so.
    Draw(Option<Drawing>),
    /// Add to the steps done by hand, or stop doing so.
    Add(Option<Adding>),
    /// Show the project as this edit would leave it, in the next frame only. Nothing is recorded.
    Draft(Box<Edit>),
    /// Note what a gesture under way would leave if it ended now, in case the program ends first; nothing once it was given up.
    Unfinished(Option<Box<Edit>>),
    /// Open a dialogue.
    OpenDialogue(Dialogue),
    /// Ask the system for files or folders, for this place.
    Choose(Wish),
    /// Leave the open project; a question comes first while it is unsaved.
    Leave(Next),
    /// Look at these photos and folders, and propose groups for the scene that is open.
    TakeIn(Vec<PathBuf>),
    /// Add a sky made from a recipe behind everything, and show its card.
    MakeSky,
    /// Save, under the name the project has, or ask for one.
    Save,
    /// Stop the work under way.
    CancelWork,
    /// Change the looks of the window.
    Looks(Surround, f32),
    /// People have decided about the last swap.
    SwapSettled,
}

/// A dialogue of the window.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Dialogue {
    /// Under which name to save.
    SaveAs,
    /// Which project to open.
    Open,
    /// Where the finished picture goes.
    Build,
    /// A new source for a plate.
    Swap(PlateId),
    /// Photos for the scene that is open.
    AddPhotos,
    /// Whether the scene's photos are the ones it was made from.
    Photos,
}

/// What a native dialogue was opened for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wish {
    /// Photos for the field at hand.
    Photos,
    /// A folder of photos for the field at hand.
    Folder,
    /// A project to open.
    Project,
    /// A name to save the project under.
    SaveName,
    /// A name for the finished picture.
    PictureName,
}

/// Where to go after leaving the open project.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Next {
    /// Out of the program.
    Close,
    /// To the start page.
    Start,
    /// To another project.
    Open(PathBuf),
}

/// A place that the picture is to show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShownPlace {
    /// The photo to show, where one is meant.
    pub frame: Option<FrameId>,
    /// The place to bring to the middle, in pixels of what is shown.
    pub at: Option<Point>,
}

/// A column of the build sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Column {
    /// The photos.
    Frames,
    /// How they lie on one another.
    Register,
    /// How their light was brought together.
    Match,
    /// Joining them.
    Fuse,
    /// Dust, hair, stands.
    Spotting,
    /// Local geometry.
    Warp,
    /// Coverage.
    Matte,
    /// Practicals.
    Lights,
    /// Place in the scene.
    Placement,
}

/// A row of the build sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Row {
    /// A plate.
    Plate(PlateId),
    /// The whole scene.
    Finish,
}

/// The chosen cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Selection {
    /// Its row.
    pub row: Row,
    /// Its column.
    pub column: Column,
}

/// What the pointer does in the picture, and where it goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drawing {
    /// Whose picture.
    pub plate: PlateId,
    /// Into which mask; `None` only while grey is picked.
    pub mask: Option<MaskId>,
    /// With what.
    pub tool: Tool,
    /// Half the width of strokes, in reference pixels.
    pub radius_px: f32,
    /// Softness of strokes, 0..=1.
    pub softness: f32,
    /// Strength of what is drawn, 0..=1.
    pub strength: f32,
    /// Whether what is drawn adds or takes away.
    pub sign: Sign,
}

/// What the pointer does in the picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tool {
    /// Brushes a stroke.
    Stroke,
    /// Sets the points of an outline.
    Outline,
    /// Moves what was drawn.
    Move,
    /// Picks a place that shall be neutral grey.
    Grey,
}

/// What the pointer adds to the steps done by hand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Adding {
    /// To which plate.
    pub plate: PlateId,
    /// With what.
    pub tool: HandTool,
    /// Into which step places go.
    pub to: Heals,
    /// What places are filled with.
    pub from: PatchFrom,
    /// Radius of dabs and half the width of lines, in reference pixels.
    pub radius_px: f32,
}

/// What the pointer adds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HandTool {
    /// A round place.
    Dab,
    /// A place along a line.
    Line,
    /// The inside of an outline.
    Outline,
    /// A round place that is copied from where the drag began.
    Copy,
    /// A warp by two lines.
    Strake,
    /// A handle of a warp.
    Handle,
    /// A line that a warp keeps straight.
    Straight,
    /// The outline that a warp stays in.
    Lock,
    /// A warp by four corners.
    Corners,
}

/// Which step places go into.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Heals {
    /// Spotting.
    Spotting,
    /// Paint-out.
    PaintOut,
}

/// What a panel is given to look at.
#[derive(Debug, Clone, Copy)]
pub struct Look<'a> {
    /// The open project.
    pub session: &'a Session,
    /// The chosen cell.
    pub selection: Selection,
    /// What the pointer does in the picture, while it does anything but look.
    pub drawing: Option<Drawing>,
    /// What the pointer adds to the steps done by hand.
    pub adding: Option<Adding>,
    /// The work under way, and what waits for it.
    pub working: &'a [Work],
    /// What a control being moved would do; asked for anew in every frame by [`Ask::Draft`].
    pub draft: Option<&'a Edit>,
    /// A place to show, in this frame only.
    pub show: Option<ShownPlace>,
    /// The last swap, until people have decided about it.
    pub swapped: Option<&'a Swapped>,
    /// Where light doubles, as it was looked for last.
    pub doubled: Option<&'a Doubled>,
}

/// Where the light of a pass doubles.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Doubled {
    /// Of which plate.
    pub plate: PlateId,
    /// Of which pass.
    pub pass: PassId,
    /// Places on the plate, worst first.
    pub places: Vec<Rect>,
}

/// A swap that people have not decided about yet.
#[derive(Debug, Clone, PartialEq)]
pub struct Swapped {
    /// What came out of it.
    pub report: SwapReport,
    /// The state of the project right after it.
    pub after: Option<RevisionId>,
}
