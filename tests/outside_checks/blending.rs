//! W3C Compositing and Blending Level 1; Porter and Duff 1984.

use crate::table::{near, rows};
use platebench::imaging::blend::{Blend, blend_pixel};

/// Tolerance of all blending checks, in units of light.
const TOLERANCE: f64 = 1e-6;

fn grey(light: f32, coverage: f32) -> [f32; 4] {
    let light = light * coverage;
    [light, light, light, coverage]
}

#[test]
fn separable_modes() {
    let rows = rows(include_str!("../checks/blend_w3c.csv"));
    assert_eq!(rows.len(), 216);
    for row in rows {
        let mode = Blend::from_name(row.text("mode")).unwrap();
        let [cb, ab, cs, over] = row.singles(["Cb", "ab", "Cs", "as"]);
        let out = blend_pixel(mode, grey(cb, ab), grey(cs, over));
        let what = format!("{} of {cb}/{ab} and {cs}/{over}", mode.name());
        near(
            out[0].into(),
            row.number("co_premultiplied"),
            TOLERANCE,
            &what,
        );
        near(out[3].into(), row.number("ao"), TOLERANCE, &what);
    }
}

#[test]
fn non_separable_modes() {
    for row in rows(include_str!("../checks/blend_w3c_nonseparable.csv")) {
        let mode = Blend::from_name(row.text("mode")).unwrap();
        let [rb, gb, bb] = row.singles(["Rb", "Gb", "Bb"]);
        let [rs, gs, bs] = row.singles(["Rs", "Gs", "Bs"]);
        let out = blend_pixel(mode, [rb, gb, bb, 1.0], [rs, gs, bs, 1.0]);
        for (value, column) in out.iter().zip(["R", "G", "B"]) {
            near((*value).into(), row.number(column), TOLERANCE, mode.name());
        }
    }
}

#[test]
fn porter_duff_operators() {
    for row in rows(include_str!("../checks/porter_duff.csv")) {
        let mode = Blend::from_name(row.text("operator")).unwrap();
        let [cs, over, cb, ab] = row.singles(["Cs", "as", "Cb", "ab"]);
        let out = blend_pixel(mode, grey(cb, ab), grey(cs, over));
        // The table clamps the sum of two lights; ours stays as it is.
        let want = row.number("co_premultiplied");
        let light = if mode == Blend::PlusLighter {
            out[0].min(1.0)
        } else {
            out[0]
        };
        near(light.into(), want, TOLERANCE, mode.name());
        near(out[3].into(), row.number("ao"), TOLERANCE, mode.name());
    }
}
