//! Floor 1: points, rectangles, transforms and the tile grid. Knows nothing of pixels.
//!
//! Conventions used by every room: x runs to the right and y down; the origin is the top-left corner of the top-left
//! pixel, so that pixel's centre is (0.5, 0.5); rectangles are half-open; transforms are named `target_from_source`.

pub mod bands;
pub mod mesh;
pub mod point;
pub mod radial;
pub mod rect;
pub mod tile_grid;
pub mod transform;

pub use mesh::Mesh;
pub use point::Point;
pub use radial::Radial;
pub use rect::{Rect, Size};
pub use tile_grid::{TileGrid, TileIndex};
pub use transform::{Similarity, Transform};
