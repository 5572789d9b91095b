//! Floor 3: the record. Frames, stacks, passes, plates, steps, masks, placements, finish; edits and history.
//!
//! Deliberately absent: pixels, results other than recorded measurements, file access. A [`Project`] is small, cheap to copy
//! (its parts are shared) and changes only through [`Edit`] values, so that every picture can be rebuilt from its record.
//!
//! All positions of a plate's masks, lights and mattes are in the plate's *reference pixels*: those of the reference frame of
//! its first source, before any warp. When a plate gets another source, that source is registered to these pixels.

pub mod check;
pub mod edit;
pub mod edit_parts;
pub mod fingerprint;
pub mod finish;
pub mod frame;
pub mod history;
pub mod ids;
mod limits;
pub mod made;
pub mod mask;
pub mod pass;
pub mod placement;
pub mod plate;
pub mod scene;
pub mod stack;
pub mod step;

pub use edit::{Edit, EditError};
pub use edit_parts::PlateEdit;
pub use fingerprint::{ContentHash, Fingerprint};
pub use finish::{Finish, Grain};
pub use frame::{Camera, Frame};
pub use history::{History, NamedState, Revision};
pub use ids::{
    FrameId, GroupId, MaskId, PartId, PassId, PlacementId, PlateId, RevisionId, StepId, VariantId,
};
pub use made::Made;
pub use mask::{Mask, MaskPart, Node, RangeOf, Rule, Shape, Sign};
pub use pass::{
    Flicker, KeyLight, LayOver, LeftOver, Pass, PassRole, PracticalGroup, Spikes, Take, TakeFrame,
    TakeMeasured,
};
pub use placement::{Blend, Placement, Placing};
pub use plate::{Lies, Plate, Source, Variant};
pub use scene::{Canvas, Project};
pub use stack::{
    Develop, FrameMeasured, FuseSettings, Guidance, Guide, SensorDust, Stack, StackFrame,
    StackMeasured, WhiteBalance,
};
pub use step::{
    Grade, Matte, MatteMethod, PaintOut, Patch, PatchFrom, PatchShape, Spotting, Step, StepKind,
    Verdict, Warp, WarpKind,
};
