//! Prints and how far away they are looked at.

/// Length in mm of `pixels` printed at `ppi` pixels per inch.
#[must_use]
pub fn print_mm(pixels: f64, ppi: f64) -> f64 {
    pixels / ppi * 25.4
}

/// Pixels that a print of `mm` needs at `ppi`, rounded to whole pixels.
#[must_use]
pub fn pixels_for(mm: f64, ppi: f64) -> f64 {
    (mm / 25.4 * ppi).round()
}

/// Distance in mm at which a pixel of a print at `ppi` spans one minute of arc, what a sharp eye resolves.
#[must_use]
pub fn viewing_mm(ppi: f64) -> f64 {
    let half_minute = (0.5 / 60.0_f64).to_radians();
    25.4 / ppi / (2.0 * libm::tan(half_minute))
}
