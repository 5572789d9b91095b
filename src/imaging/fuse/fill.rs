//! Continuing a frame over the border where it holds no data, so that its pyramid sees no false edge there.

use crate::pixels::Plane;

/// Whether every pixel of `valid` lies wholly on its frame.
pub(super) fn is_complete(valid: &Plane) -> bool {
    valid.data.iter().all(|present| *present >= 1.0)
}

/// `plane` with pixels of no validity replaced by the nearest pixel of the same row that has some, and rows without any by the
/// nearest row that has.
pub(super) fn continued(plane: &Plane, valid: &Plane) -> Plane {
    let width = plane.rect.width();
    let mut out = plane.clone();
    if width == 0 {
        return out;
    }
    let mut good_rows = Vec::new();
    for (y, (row, present)) in out
        .data
        .chunks_mut(width)
        .zip(valid.data.chunks(width))
        .enumerate()
    {
        let first = present.iter().position(|p| *p > 0.0);
        let last = present.iter().rposition(|p| *p > 0.0);
        if let Some((first, last)) = first.zip(last) {
            let (left, right) = (row[first], row[last]);
            row[..first].fill(left);
            row[last + 1..].fill(right);
            good_rows.push(y);
        }
    }
    if let Some((first, last)) = good_rows.first().copied().zip(good_rows.last().copied()) {
        for y in 0..first {
            out.data
                .copy_within(first * width..(first + 1) * width, y * width);
        }
        for y in last + 1..plane.rect.height() {
            out.data
                .copy_within(last * width..(last + 1) * width, y * width);
        }
    }
    out
}
