//! Steps of a plate: parameters and their limits only.

pub mod grade;
pub mod matte;

pub use grade::Grade;
pub use matte::{Matte, MatteMethod};

use crate::project::stack::{is_yes, yes};
use crate::project::{MaskId, StepId};
use serde::{Deserialize, Serialize};

/// One recorded operation on a plate.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Step {
    /// Its number in this project.
    pub id: StepId,
    /// Whether it acts.
    #[serde(default = "yes", skip_serializing_if = "is_yes")]
    pub on: bool,
    /// Where it acts; everywhere without one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mask: Option<MaskId>,
    /// What it does.
    pub kind: StepKind,
}

/// What a step does. A changed meaning of a parameter is a new kind, never a silent change.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum StepKind {
    /// Sets the plate's coverage.
    Matte(Matte),
    /// Brings the plate's light to that of the scene.
    Grade(Grade),
}

impl StepKind {
    /// The kind's word.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Matte(_) => "matte",
            Self::Grade(_) => "grade",
        }
    }
}
