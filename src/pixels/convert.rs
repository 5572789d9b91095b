//! Number conversions, with what happens at the ends of the range said once.
#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "this is the one place for casts; each function says what it does at the ends"
)]

/// `value` in 0..=1 as an 8-bit code, rounded to nearest; outside values are pinned, not-a-number gives 0.
#[must_use]
pub fn unit_to_u8(value: f32) -> u8 {
    (value * 255.0 + 0.5) as u8
}

/// `value` in 0..=1 as a 16-bit code, rounded to nearest; outside values are pinned, not-a-number gives 0.
#[must_use]
pub fn unit_to_u16(value: f32) -> u16 {
    (value * 65535.0 + 0.5) as u16
}

/// Whole part of `value`, pinned to the range of `i32`.
#[must_use]
pub fn floor_i32(value: f32) -> i32 {
    value.floor() as i32
}

/// Whole part of `value`, pinned to the range of `i32`.
#[must_use]
pub fn floor_f64(value: f64) -> i32 {
    value.floor() as i32
}

/// `value` rounded to an index, pinned to 0..=`last`.
#[must_use]
pub fn index(value: f32, last: usize) -> usize {
    ((value + 0.5) as usize).min(last)
}

/// `value` rounded down to an index; negative values and not-a-number give 0.
#[must_use]
pub fn floor_index(value: f64) -> usize {
    value as usize
}

/// A pixel coordinate as an index; negative values give 0.
#[must_use]
pub fn clamp_index(value: i32) -> usize {
    value.max(0) as usize
}

/// An index as a pixel coordinate. Pictures are smaller than 2^31 pixels a side.
#[must_use]
pub fn coordinate(index: usize) -> i32 {
    index as i32
}

/// A count as a number for averages; exact below 2^24.
#[must_use]
pub fn count_f32(count: usize) -> f32 {
    count as f32
}

/// A count as a number for averages; exact below 2^53.
#[must_use]
pub fn count_f64(count: usize) -> f64 {
    count as f64
}

/// Rounds a double to single precision.
#[must_use]
pub fn narrow(value: f64) -> f32 {
    value as f32
}

/// A small whole number, exact below 2^24 in size.
#[must_use]
#[inline]
pub fn small_f32(value: i32) -> f32 {
    value as f32
}

/// The number of pixels in a coordinate's distance, at least 0.
#[must_use]
pub fn ceil_i32(value: f32) -> i32 {
    value.ceil() as i32
}

/// Low 32 bits of `value` as a whole number with its sign.
#[must_use]
#[inline]
pub fn low_i32(value: u64) -> i32 {
    value as i32
}

/// Low 16 bits of `value`.
#[must_use]
#[inline]
pub fn low_u16(value: u32) -> u16 {
    value as u16
}

/// Low 32 bits of `value`.
#[must_use]
pub fn low_u32(value: u64) -> u32 {
    value as u32
}
