use super::lies::{SAGITTA_STEP_MM, TILT_STEP_DEG};
use super::*;

fn bell(off: f64, width: f64) -> f64 {
    (-2.7726 * (off / width).powi(2)).exp()
}

/// Silver of 70 by 84 mm in cells of 0.4 mm with some texture and a dark thing, and what is given beside.
fn picture(own: impl Fn(f64, f64) -> f64) -> Grid<Option<f64>> {
    let mut state = 1u32;
    Grid::from_shape_fn((210, 175), |(i, j)| {
        let (x, y) = (0.4 * (j as f64 + 0.5), 0.4 * (i as f64 + 0.5));
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let texture = 0.04 * (f64::from(state >> 8) / 16_777_216.0 - 0.5);
        let thing = if (x - 38.0).hypot(y - 50.0) < 14.0 {
            0.3
        } else {
            0.0
        };
        Some(0.6 + texture - thing + own(x, y))
    })
}

/// Where a band that crosses the middle row at a place runs: 4 degrees aslant and a little bent.
fn run(y: f64) -> f64 {
    let way = (y - 42.0) / 42.0;
    4f64.to_radians().tan() * (y - 42.0) + 2.0 * way * way
}

#[test]
fn soft_bands_that_run_in_from_an_edge_are_found_with_their_bend() {
    let planted = [(12.0, 0.10), (40.0, -0.12), (55.0, 0.08)];
    let found = sweeps(
        &picture(|x, y| {
            let fade = (-(y - 84.0).abs() / 120.0).exp() * ((y - 20.0) / 10.0).clamp(0.0, 1.0);
            let bands = planted.map(|(at, d)| d * bell(x - at - run(y), 2.2));
            fade * bands.iter().sum::<f64>()
        }),
        0.4,
    );
    let best = found.iter().find(|sweep| sweep.bands.upright).unwrap();
    assert!(
        (best.bands.axis_deg - 176.0).abs() <= TILT_STEP_DEG,
        "{}",
        best.bands.axis_deg
    );
    assert!((best.bands.sagitta_mm - 2.0).abs() <= SAGITTA_STEP_MM);
    for (at, d) in planted {
        let lines = best.bands.lines.iter().zip(&best.forms);
        let near = |line: &Line| (line.middle_mm[0] - at).abs();
        let (line, form) = lines
            .min_by(|a, b| near(a.0).total_cmp(&near(b.0)))
            .unwrap();
        assert!(near(line) < 0.8 && line.sign == d.signum(), "{line:?}");
        assert!((line.width_mm - 2.2).abs() < 0.7, "{form:?}");
        // The fade takes a quarter on the way.
        assert!(
            (0.5..1.1).contains(&(line.contrast_d / d.abs())),
            "{line:?}"
        );
        assert!(
            form.across.bell_over_box < 0.9 && form.across.steepness < 2.0,
            "{form:?}"
        );
        assert!(form.coverage > 0.85, "{form:?}");
        // From the bottom edge to about where it begins to show.
        assert!(
            line.ends_mm[1][1] > 78.0 && line.ends_mm[0][1] < 35.0,
            "{line:?}"
        );
    }
}

#[test]
fn a_post_has_edges_and_a_plain_picture_has_nothing_that_agrees() {
    let post = |x: f64, _: f64| if (x - 20.0).abs() < 1.5 { 0.15 } else { 0.0 };
    let found = sweeps(&picture(post), 0.4);
    let best = found.iter().find(|sweep| sweep.bands.upright).unwrap();
    let form = &best.forms[0];
    assert!(
        form.across.bell_over_box > 1.0 && form.across.steepness > 2.0,
        "{form:?}"
    );
    let most = sweeps(&picture(|_, _| 0.0), 0.4)
        .iter()
        .flat_map(|sweep| &sweep.bands.lines)
        .map(|line| line.agreement)
        .fold(0.0, f64::max);
    assert!(most < 6.0, "{most}");
}

#[test]
fn a_small_plate_has_no_bands() {
    let silver = Grid::from_elem((40, 40), Some(0.5));
    assert!(sweeps(&silver, 0.4).is_empty());
}
