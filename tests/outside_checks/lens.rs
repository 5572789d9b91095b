//! Depth of field, focus steps, diffraction, angles of view, scale, prints.

use crate::table::{Row, near, rows};
use platebench::optics::lens::{self, Lens, Scale};
use platebench::optics::paper;

fn lens_of(row: &Row) -> Lens {
    let pupil = row.number("P");
    Lens {
        focal_mm: row.number("f_mm"),
        f_number: row.number("N"),
        distance_mm: row.number("s_mm"),
        pupil_ratio: if pupil.is_nan() { 1.0 } else { pupil },
    }
}

#[test]
fn depth_of_field() {
    for row in rows(include_str!("../checks/depth_of_field.csv")) {
        let lens = lens_of(&row);
        let circle = row.number("c_mm");
        let zone = lens.sharp_zone(circle);
        let what = format!("{lens:?}");
        for (found, column) in [
            (zone.near_mm, "near_mm"),
            (zone.far_mm, "far_mm"),
            (zone.depth_mm(), "dof_mm"),
            (lens.hyperfocal_mm(circle), "H_mm"),
            (lens.effective_f_number(), "Ne"),
            (lens.magnification(), "m"),
            (lens.close_up_depth_mm(circle), "dof_closeup_mm"),
        ] {
            let want = row.number(column);
            if want.is_nan() {
                continue;
            }
            near(
                found,
                want,
                1e-4 * want.abs(),
                &format!("{column} of {what}"),
            );
        }
        // The edge of the sharp zone is where the blur disc has the size of the circle.
        if zone.far_mm.is_finite() {
            near(lens.blur_mm(zone.far_mm), circle, 1e-9, &what);
        }
        near(lens.blur_mm(zone.near_mm), circle, 1e-9, &what);
    }
}

#[test]
fn focus_steps() {
    for row in rows(include_str!("../checks/focus_steps.csv")) {
        let range = row.numbers(["near_mm", "far_mm"]);
        let lens = Lens {
            focal_mm: row.number("f_mm"),
            f_number: row.number("N"),
            distance_mm: range[0],
            pupil_ratio: 1.0,
        };
        let steps = lens::focus_steps(&lens, row.number("c_mm"), range, row.number("overlap"));
        assert_eq!(
            steps.len().to_string(),
            row.text("frames_exact"),
            "{lens:?}"
        );
        near(steps[0], row.number("first_focus_mm"), 0.01, "first");
        near(steps[1], row.number("second_focus_mm"), 0.01, "second");
        near(
            steps[steps.len() - 1],
            row.number("last_focus_mm"),
            0.01,
            "last",
        );
    }
}

#[test]
fn airy_disc() {
    for row in rows(include_str!("../checks/airy.csv")) {
        let [wave, ne] = row.numbers(["lambda_um", "Ne"]);
        near(
            lens::airy_um(wave, ne),
            row.number("airy_2p44_um"),
            0.01,
            "disc",
        );
        let cutoff = row.number("cutoff_lp_mm");
        near(lens::cutoff_lp_mm(wave, ne), cutoff, 0.006, "cut-off");
    }
    near(lens::airy_um(0.55, 4.0), 5.37, 0.01, "published for f/4");
    near(lens::airy_um(0.532, 8.0), 10.38, 0.01, "published for f/8");
}

#[test]
fn field_of_view() {
    for row in rows(include_str!("../checks/field_of_view.csv")) {
        let [w, h, f, m] = row.numbers(["sensor_w", "sensor_h", "f_mm", "m"]);
        let diagonal = (w * w + h * h).sqrt();
        for (side, column) in [(w, "h_deg"), (h, "v_deg"), (diagonal, "d_deg")] {
            near(
                lens::view_degrees(side, f, m),
                row.number(column),
                0.002,
                column,
            );
        }
    }
}

#[test]
fn spikes() {
    for row in rows(include_str!("../checks/spikes.csv")) {
        let blades: u32 = row.text("blades").parse().unwrap();
        near(
            f64::from(lens::spikes(blades)),
            row.number("counted"),
            0.0,
            "spikes",
        );
        near(
            lens::spike_spacing_degrees(blades),
            row.number("spacing_deg"),
            1e-6,
            "spacing",
        );
    }
}

/// Published: 8 in. to 12 in. image/original gives factor 2.778 and 18/12 gives 2.25 (army course SS0512); stops by trade handbook.
#[test]
fn bellows() {
    for (m, stops) in [(0.1, 0.275), (0.25, 0.644), (0.5, 1.170), (1.0, 2.0)] {
        let lens = Lens {
            focal_mm: 100.0,
            f_number: 8.0,
            distance_mm: 100.0 * (1.0 + 1.0 / m),
            pupil_ratio: 1.0,
        };
        near(lens.bellows_stops(), stops, 5e-4, "stops");
    }
}

#[test]
fn scale() {
    for row in rows(include_str!("../checks/scale.csv")) {
        let scale = Scale {
            scale: row.number("S"),
        };
        for (found, column) in [
            (scale.mm(50.0), "D_mm"),
            (scale.mm(2.0), "h_mm"),
            (scale.mm(100.0), "L_mm"),
            (scale.frame_rate_factor(), "fps_factor"),
            (scale.twin_f_number(4.0), "N_equiv"),
        ] {
            let want = row.number(column);
            near(found, want, 1e-4 * want, column);
        }
    }
    near(
        lens::perspective_ratio(200.0, 100.0),
        1.5,
        1e-12,
        "perspective",
    );
}

#[test]
fn print_size() {
    for row in rows(include_str!("../checks/print_size.csv")) {
        let [px, py, ppi] = row.numbers(["px", "py", "ppi"]);
        near(paper::print_mm(px, ppi), row.number("w_mm"), 0.01, "width");
        near(paper::print_mm(py, ppi), row.number("h_mm"), 0.01, "height");
        near(
            paper::viewing_mm(ppi),
            row.number("view_mm"),
            0.1,
            "distance",
        );
    }
    // ISO 216 sizes at 300 pixels per inch.
    near(paper::pixels_for(420.0, 300.0), 4961.0, 0.0, "A3");
    near(paper::pixels_for(594.0, 300.0), 7016.0, 0.0, "A2");
}
