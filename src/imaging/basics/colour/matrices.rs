//! 3 x 3 matrices between colour spaces, derived from chromaticities in double precision.
//!
//! Rounded matrices printed in standards differ from each other in the fourth digit, so none is copied here.

use crate::pixels::ColourEncoding;
use crate::pixels::convert::narrow;

/// Rows of three; applied to a column (red, green, blue) or (X, Y, Z).
pub type Matrix3 = [[f64; 3]; 3];

/// XYZ of the ICC connection space's white, a rounded D50 (ICC.1:2022, 7.2.16).
pub const PCS_WHITE: [f64; 3] = [0.9642, 1.0, 0.8249];
/// CIE xy of D65 as the video standards write it.
pub const D65_XY: [f64; 2] = [0.3127, 0.3290];
/// CIE xy of D50.
pub const D50_XY: [f64; 2] = [0.3457, 0.3585];

/// `a` times `b`: applies `b` first.
#[must_use]
pub fn multiply(a: &Matrix3, b: &Matrix3) -> Matrix3 {
    a.map(|row| {
        [0, 1, 2]
            .map(|column| row[0] * b[0][column] + row[1] * b[1][column] + row[2] * b[2][column])
    })
}

/// `matrix` times the column `v`.
#[must_use]
pub fn apply(matrix: &Matrix3, v: [f64; 3]) -> [f64; 3] {
    matrix.map(|row| row[0] * v[0] + row[1] * v[1] + row[2] * v[2])
}

/// The inverse; all zero if there is none.
#[must_use]
pub fn inverse(m: &Matrix3) -> Matrix3 {
    let minor =
        |r0: usize, r1: usize, c0: usize, c1: usize| m[r0][c0] * m[r1][c1] - m[r0][c1] * m[r1][c0];
    let adjugate = [
        [minor(1, 2, 1, 2), -minor(0, 2, 1, 2), minor(0, 1, 1, 2)],
        [-minor(1, 2, 0, 2), minor(0, 2, 0, 2), -minor(0, 1, 0, 2)],
        [minor(1, 2, 0, 1), -minor(0, 2, 0, 1), minor(0, 1, 0, 1)],
    ];
    let determinant =
        m[0][0] * adjugate[0][0] + m[0][1] * adjugate[1][0] + m[0][2] * adjugate[2][0];
    if !determinant.is_finite() || determinant.abs() < 1e-300 {
        return [[0.0; 3]; 3];
    }
    adjugate.map(|row| row.map(|value| value / determinant))
}

/// XYZ with Y = 1 of the chromaticity (x, y); y must not be 0.
#[must_use]
pub fn xyz_from_xy([x, y]: [f64; 2]) -> [f64; 3] {
    [x / y, 1.0, (1.0 - x - y) / y]
}

/// XYZ from linear red, green and blue, for primaries and white given as CIE xy (red, green, blue, white), Y of white = 1.
///
/// Source: SMPTE RP 177, derivation of basic television colour equations.
#[must_use]
pub fn xyz_from_primaries(xy: &[[f64; 2]; 4]) -> Matrix3 {
    let [red, green, blue, white] = xy.map(xyz_from_xy);
    let columns = [0, 1, 2].map(|row| [red[row], green[row], blue[row]]);
    let share = apply(&inverse(&columns), white);
    columns.map(|row| [row[0] * share[0], row[1] * share[1], row[2] * share[2]])
}

/// Bradford cone response matrix (Lam 1985; ICC.1:2022 annex E).
pub const BRADFORD: Matrix3 = [
    [0.8951, 0.2664, -0.1614],
    [-0.7502, 1.7135, 0.0367],
    [0.0389, -0.0685, 1.0296],
];

/// XYZ under white `to` from XYZ under white `from` by the Bradford transform; whites as XYZ.
#[must_use]
pub fn adapt(from: [f64; 3], to: [f64; 3]) -> Matrix3 {
    let (source, target) = (apply(&BRADFORD, from), apply(&BRADFORD, to));
    let mut scaled = BRADFORD;
    for (row, (source, target)) in scaled.iter_mut().zip(source.iter().zip(target)) {
        for cell in row.iter_mut() {
            *cell *= target / source;
        }
    }
    multiply(&inverse(&BRADFORD), &scaled)
}

/// XYZ (white D65) from the working space.
#[must_use]
pub fn xyz_from_working() -> Matrix3 {
    xyz_from_primaries(&ColourEncoding::BT2020_XY)
}

/// The working space from XYZ (white D65).
#[must_use]
pub fn working_from_xyz() -> Matrix3 {
    inverse(&xyz_from_working())
}

/// The working space from the linear colours of primaries and white given as CIE xy; another white than D65 is adapted.
#[must_use]
pub fn working_from_primaries(xy: &[[f64; 2]; 4]) -> Matrix3 {
    let mut xyz = xyz_from_primaries(xy);
    let away = (xy[3][0] - D65_XY[0]).abs() + (xy[3][1] - D65_XY[1]).abs();
    if away > 1e-6 {
        xyz = multiply(&adapt(xyz_from_xy(xy[3]), xyz_from_xy(D65_XY)), &xyz);
    }
    multiply(&working_from_xyz(), &xyz)
}

/// The working space from the linear colours of a matrix profile, whose colorants are relative to D50.
///
/// Rounded colorants add up to a white a little off D50. When the sum is within one percent of it, the sum is taken as the white,
/// so that equal numbers stay neutral.
#[must_use]
pub fn working_from_d50(xyz_from_rgb: &Matrix3) -> Matrix3 {
    let sum = xyz_from_rgb.map(|row| row[0] + row[1] + row[2]);
    let near = sum
        .iter()
        .zip(PCS_WHITE)
        .all(|(have, want)| (have - want).abs() < 0.01);
    let white = if near { sum } else { PCS_WHITE };
    let to_d65 = adapt(white, xyz_from_xy(D65_XY));
    multiply(&working_from_xyz(), &multiply(&to_d65, xyz_from_rgb))
}

/// `matrix` in single precision.
#[must_use]
pub fn single(matrix: &Matrix3) -> [[f32; 3]; 3] {
    matrix.map(|row| row.map(narrow))
}

/// `matrix` times the column `v` in single precision.
#[must_use]
#[inline(always)]
pub fn apply_single(matrix: &[[f32; 3]; 3], v: [f32; 3]) -> [f32; 3] {
    // Written out: closures over arrays are not always taken apart, and this runs for every pixel of every frame.
    let [a, b, c] = matrix;
    [
        a[0] * v[0] + a[1] * v[1] + a[2] * v[2],
        b[0] * v[0] + b[1] * v[1] + b[2] * v[2],
        c[0] * v[0] + c[1] * v[1] + c[2] * v[2],
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inverse_undoes() {
        let m = xyz_from_working();
        let unit = multiply(&m, &inverse(&m));
        for (row, cells) in unit.iter().enumerate() {
            for (column, cell) in cells.iter().enumerate() {
                let want = if row == column { 1.0 } else { 0.0 };
                assert!((cell - want).abs() < 1e-12, "{unit:?}");
            }
        }
    }

    #[test]
    fn both_ways_of_naming_srgb_agree_and_keep_grey_neutral() {
        let direct = working_from_primaries(&ColourEncoding::BT709_XY);
        let d50 = multiply(
            &adapt(xyz_from_xy(D65_XY), PCS_WHITE),
            &xyz_from_primaries(&ColourEncoding::BT709_XY),
        );
        let through = working_from_d50(&d50);
        for (a, b) in direct.iter().flatten().zip(through.iter().flatten()) {
            assert!((a - b).abs() < 1e-9, "{direct:?} {through:?}");
        }
        let weights = xyz_from_working()[1];
        for (weight, row) in weights.iter().zip(crate::imaging::basics::colour::LUMA) {
            assert!((weight - f64::from(row)).abs() < 1e-7, "{weights:?}");
        }
    }
}
