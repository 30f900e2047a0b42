use super::*;
use crate::raster::{Grid, Mask};

const PITCH_MM: f64 = 0.2;

/// A ground of 60 by 50 mm with a border 4 mm wide, without noise.
fn ground(even: bool, excess: impl Fn(f64, f64) -> f64) -> Ground {
    let size_mm = [60.0, 50.0];
    let dim = (250, 300);
    let place = |(i, j): (usize, usize)| [j, i].map(|k| (k as f64 + 0.5) * PITCH_MM);
    let depth = |at| {
        let [x, y] = place(at);
        x.min(y).min(size_mm[0] - x).min(size_mm[1] - y)
    };
    let border = Mask::from_shape_fn(dim, |at| (0.4..3.6).contains(&depth(at)));
    let known = Mask::from_shape_fn(dim, |at| border[at] || (even && depth(at) > 4.6));
    let excess = Grid::from_shape_fn(dim, |at| {
        let [x, y] = place(at);
        if known[at] { excess(x, y) as f32 } else { 0.0 }
    });
    Ground {
        excess,
        known,
        border,
        noise_d: 0.002,
        ledge_mm: [4.0; 4],
        even,
        size_mm,
        pitch_mm: PITCH_MM,
    }
}

/// Silver of a line at `inside` millimetres behind it.
fn line(inside: f64) -> f64 {
    match inside {
        out if out < 0.0 => (-(out / 0.35).powi(2)).exp(),
        behind => (-behind / 1.0).exp().max(0.3),
    }
}

fn swirl(x: f64, y: f64) -> f64 {
    let r = x.hypot(y);
    0.2 * [8.0, 13.0, 18.0]
        .map(|radius| line(radius - r))
        .into_iter()
        .fold(0.0, f64::max)
}

#[test]
fn swirls_at_a_corner_of_an_even_plate_are_one_stain() {
    let found = stains(&ground(true, swirl));
    assert_eq!(found.len(), 1, "{found:?}");
    let stain = &found[0];
    assert_eq!(stain.from, Spot::TopLeft);
    assert!((stain.reach_mm.unwrap() - 18.0).abs() < 1.0, "{stain:?}");
    assert!((stain.box_mm[2] - 18.0).abs() < 1.0 && (stain.box_mm[3] - 18.0).abs() < 1.0);
    assert!((stain.step_d - 0.2).abs() < 0.06 && stain.lined > 0.9);
    assert!(
        (stain.lines.unwrap() - 3.0).abs() < 0.6,
        "{:?}",
        stain.lines
    );
}

#[test]
fn in_the_border_of_a_picture_the_two_ends_of_a_stain_are_seen() {
    let found = stains(&ground(false, swirl));
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(
        (found[0].from, found[0].ground),
        (Spot::TopLeft, StainGround::Border)
    );
    let scallops = |x: f64, y: f64| {
        let depth = |middle: f64| line(4.0 - (x - middle).hypot(0.4 * y.min(4.0)));
        if y < 9.0 {
            0.3 * [20.0, 28.0, 36.0]
                .map(depth)
                .into_iter()
                .fold(0.0, f64::max)
        } else {
            0.0
        }
    };
    let found = stains(&ground(false, scallops));
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].from, Spot::Top);
    let [x0, _, x1, _] = found[0].box_mm;
    assert!(
        (x0 - 16.0).abs() < 1.0 && (x1 - 40.0).abs() < 1.0,
        "{found:?}"
    );
}

#[test]
fn a_long_stain_ends_at_its_crest_where_its_foot_is_soft() {
    // From x = 10 mm: sharp there, and at the other end a crest with a foot 2.5 mm long before it.
    let stain = |long_mm: f64| {
        move |x: f64, y: f64| {
            let (in_mm, out_mm) = (x - 10.0, x - 10.0 - long_mm);
            let body = 0.6 * line(in_mm.min(-out_mm));
            let foot = 0.1 * (1.0 - out_mm.max(0.0) / 2.5).max(0.0);
            if y > 9.0 || in_mm < 0.0 {
                0.0
            } else {
                body.max(foot)
            }
        }
    };
    let found = stains(&ground(false, stain(30.0)));
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].from, Spot::Top);
    assert!((found[0].box_mm[2] - 41.0).abs() < 2.0, "{found:?}");
    let tongue = |x: f64, y: f64| 0.5 * (-(x - 30.0).hypot(0.1 * y).powi(2) / 4.5).exp();
    assert!(stains(&ground(false, tongue)).is_empty());
}

#[test]
fn smooth_fog_and_bands_are_none() {
    let fog = |x: f64, y: f64| 0.3 * (-(x.hypot(y - 25.0) / 6.0).powi(2)).exp();
    let band = |x: f64, _: f64| 0.2 * line(2.5 - (x - 30.0).abs());
    let whole_edge = |_: f64, y: f64| 0.3 * (-y / 4.0).exp();
    for even in [false, true] {
        assert!(stains(&ground(even, fog)).is_empty());
        assert!(stains(&ground(even, whole_edge)).is_empty());
    }
    assert!(stains(&ground(true, band)).is_empty());
}
