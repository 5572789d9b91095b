//! Reads the check files: lines that begin with `#` say where the values come from, the next one names the columns.

use std::collections::BTreeMap;

/// One row, by column name.
pub(crate) struct Row(BTreeMap<&'static str, &'static str>);

impl Row {
    /// The text of a column.
    pub(crate) fn text(&self, column: &str) -> &'static str {
        self.0.get(column).copied().unwrap_or("")
    }

    /// The number in a column; fractions such as 1/125 are worked out. Not-a-number when there is none.
    pub(crate) fn number(&self, column: &str) -> f64 {
        let number = |text: &str| text.trim().parse().unwrap_or(f64::NAN);
        match self.text(column).split_once('/') {
            Some((above, below)) => number(above) / number(below),
            None => number(self.text(column)),
        }
    }

    /// Several numbers.
    pub(crate) fn numbers<const N: usize>(&self, columns: [&str; N]) -> [f64; N] {
        columns.map(|column| self.number(column))
    }

    /// Several numbers in single precision.
    pub(crate) fn singles<const N: usize>(&self, columns: [&str; N]) -> [f32; N] {
        self.numbers(columns)
            .map(platebench::pixels::convert::narrow)
    }
}

/// The rows of a check file. A file without a source or without rows fails.
pub(crate) fn rows(text: &'static str) -> Vec<Row> {
    assert!(
        text.starts_with('#') && text.contains("ource") || text.contains("ublished"),
        "a check file names its source"
    );
    let mut lines = text.lines().filter(|line| !line.starts_with('#'));
    let names: Vec<&str> = lines.next().unwrap_or("").split(',').collect();
    let rows: Vec<Row> = lines
        .map(|line| Row(names.iter().copied().zip(line.split(',')).collect()))
        .collect();
    assert!(!rows.is_empty(), "a check file has rows");
    rows
}

/// Fails unless `found` is within `tolerance` of `want`; infinities must be equal, a missing number never agrees.
pub(crate) fn near(found: f64, want: f64, tolerance: f64, what: &str) {
    let equal = found.is_infinite() && found.total_cmp(&want).is_eq();
    assert!(
        equal || (found - want).abs() <= tolerance,
        "{what}: {found}, should be {want} within {tolerance}"
    );
}
