//! Number conversions with their bounds said once.

/// Whole part of a number as an index (negative numbers become 0).
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped to 0 below; pictures are small"
)]
pub(crate) fn index(x: f32) -> usize {
    x.max(0.0) as usize
}

/// A count as a number.
#[expect(clippy::cast_precision_loss, reason = "counts stay below 2^24")]
pub(crate) fn real(n: usize) -> f32 {
    n as f32
}

/// An index as a word for hashing (wraps far outside any picture).
#[expect(clippy::cast_possible_truncation, reason = "hash input")]
pub(crate) fn word(n: usize) -> u32 {
    n as u32
}

/// A value in 0..=255 as a byte.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped"
)]
pub(crate) fn byte(x: f32) -> u8 {
    x.clamp(0.0, 255.0) as u8
}

/// A value in 0..=65535 as a 16-bit word.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped"
)]
pub(crate) fn short(x: f32) -> u16 {
    x.clamp(0.0, 65535.0) as u16
}
