//! IEC 61966-2-1, Bradford, CIE L*a*b*, CIEDE2000, the Planckian locus, light that adds.

use crate::table::{Row, near, rows};
use platebench::geometry::Size;
use platebench::imaging::basics::colour::matrices::{
    BRADFORD, D50_XY, D65_XY, Matrix3, adapt, apply, inverse, multiply, xyz_from_primaries,
    xyz_from_xy,
};
use platebench::imaging::basics::colour::{
    Decoder, Gamut, OutputTransform, ciede2000, encode_srgb, lab_from_xyz, linear_to_srgb,
    srgb_to_linear,
};
use platebench::imaging::blend::{Blend, blend_pixel};
use platebench::pixels::convert::{narrow, unit_to_u16};
use platebench::pixels::{ColourEncoding, Numbers, Samples};

#[test]
fn srgb_curve() {
    for row in rows(include_str!("../checks/srgb_transfer.csv")) {
        let [encoded, linear, sixteen] = row.numbers(["encoded", "linear", "linear16"]);
        near(srgb_to_linear(encoded), linear, 1e-6, "light");
        near(linear_to_srgb(linear), encoded, 1e-6, "code");
        near(
            encode_srgb(narrow(linear)).into(),
            encoded,
            1e-6,
            "fast code",
        );
        near(
            f64::from(unit_to_u16(narrow(linear))),
            sixteen,
            0.0,
            "16 bit",
        );
    }
    // Published: linear 0.18 has the code 0.4613561 (colour-science documentation).
    near(linear_to_srgb(0.18), 0.461_356_1, 1e-7, "0.18");
}

fn matrix_named(name: &str) -> Option<Matrix3> {
    let (d65, d50) = (xyz_from_xy(D65_XY), xyz_from_xy(D50_XY));
    let a = [1.0985, 1.0, 0.35585];
    let srgb = xyz_from_primaries(&ColourEncoding::BT709_XY);
    Some(match name {
        "BFD_cone_response" => BRADFORD,
        "D65_to_D50" => adapt(d65, d50),
        "D50_to_D65" => adapt(d50, d65),
        "D65_to_A" => adapt(d65, a),
        "sRGB_linear_to_XYZ_D65" => srgb,
        "XYZ_D65_to_sRGB_linear" => inverse(&srgb),
        "sRGB_linear_to_XYZ_D50" => multiply(&adapt(d65, d50), &srgb),
        _ => return None,
    })
}

#[test]
fn bradford_and_srgb_matrices() {
    let mut seen = 0;
    for row in rows(include_str!("../checks/bradford.csv")) {
        let name = row.text("name");
        let want = row.numbers(["c0", "c1", "c2"]);
        let found = match (row.text("kind"), name) {
            ("matrix", _) => {
                let matrix = matrix_named(name).unwrap();
                let line: usize = row.text("row").parse().unwrap();
                matrix[line]
            }
            (_, "D65") => xyz_from_xy(D65_XY),
            (_, "D50") => xyz_from_xy(D50_XY),
            _ => continue,
        };
        for (found, want) in found.into_iter().zip(want) {
            near(found, want, 1e-6, name);
        }
        seen += 1;
    }
    assert_eq!(seen, 23);
}

fn xyz_of(row: &Row) -> [f64; 3] {
    let light = row
        .numbers(["R", "G", "B"])
        .map(|code| srgb_to_linear(code / 255.0));
    apply(&xyz_from_primaries(&ColourEncoding::BT709_XY), light)
}

#[test]
fn lab() {
    let (d65, d50) = (xyz_from_xy(D65_XY), xyz_from_xy(D50_XY));
    for row in rows(include_str!("../checks/lab.csv")) {
        let name = row.text("name");
        let xyz = xyz_of(&row);
        let adapted = apply(&adapt(d65, d50), xyz);
        for (found, column) in xyz
            .iter()
            .chain(&adapted)
            .zip(["X65", "Y65", "Z65", "X50", "Y50", "Z50"])
        {
            near(*found, row.number(column), 1e-4, name);
        }
        let (a, b) = (lab_from_xyz(xyz, d65), lab_from_xyz(adapted, d50));
        for (found, column) in a
            .iter()
            .chain(&b)
            .zip(["L65", "a65", "b65", "L50", "a50", "b50"])
        {
            near(*found, row.number(column), 0.01, name);
        }
    }
}

#[test]
fn ciede2000_pairs() {
    let rows = rows(include_str!("../checks/ciede2000.csv"));
    assert_eq!(rows.len(), 34);
    for row in rows {
        let (a, b) = (
            row.numbers(["L1", "a1", "b1"]),
            row.numbers(["L2", "a2", "b2"]),
        );
        for found in [ciede2000(a, b), ciede2000(b, a)] {
            near(found, row.number("dE00"), 1e-4, row.text("pair"));
        }
    }
}

#[test]
fn light_passes_add() {
    let out = OutputTransform::new(Gamut::Leave);
    for row in rows(include_str!("../checks/light_pass.csv")) {
        let codes: Vec<u8> = ["A_code", "B_code"]
            .iter()
            .flat_map(|column| [row.text(column).parse::<u8>().unwrap(); 3])
            .collect();
        let photo = Samples {
            size: Size::new(2, 1),
            channels: 3,
            numbers: Numbers::U8(codes),
            encoding: ColourEncoding::srgb(),
        };
        let decoder = Decoder::for_samples(&photo).unwrap();
        let both = decoder.decode_image(&photo, photo.size.rect()).unwrap();
        let gain = narrow(1.0 / libm::exp2(row.number("k_stops")));
        let lights = both.at(1, 0).map(|value| value * gain);
        let sum = blend_pixel(Blend::PlusLighter, both.at(0, 0), lights);
        let [light, ..] = out.to_bt709([sum[0], sum[1], sum[2]]);
        near(light.into(), row.number("sum_linear"), 1e-6, "light");
        let code = 255.0 * f64::from(encode_srgb(light));
        near(code, row.number("sum_code"), 0.01, "code");
    }
}
