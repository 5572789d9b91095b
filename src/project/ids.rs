//! Names of things inside a project: small numbers that are never used twice.

use serde::{Deserialize, Serialize};

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident),* $(,)?) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub u32);

        impl std::fmt::Display for $name {
            fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                write!(formatter, "{}", self.0)
            }
        }
    )*};
}

ids! {
    /// A frame (photo).
    FrameId,
    /// A plate.
    PlateId,
    /// One source of a plate.
    VariantId,
    /// A pass of a plate.
    PassId,
    /// A mask of a plate.
    MaskId,
    /// A stroke, outline or rule in a mask.
    PartId,
    /// A step of a plate.
    StepId,
    /// A practical group of a plate.
    GroupId,
    /// A placement in the scene.
    PlacementId,
    /// A point of the history.
    RevisionId,
}
