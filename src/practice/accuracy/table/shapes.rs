//! Figures of the faults with a shape.

use super::{number, percent, planted, share, table};
use crate::practice::accuracy::shares::quantile;
use crate::practice::accuracy::streak_limit;
use crate::practice::score::Scored;

/// How near a figure is near enough.
enum Near {
    /// Degrees of a turn with this period.
    Turn(f64, f64),
    /// A factor.
    Factor(f64),
    /// Density: a share of the true one, or this much.
    Density(f64, f64),
    /// The same.
    Same,
}

const FIGURES: [(&str, &str, Near); 12] = [
    ("streaks", "axis_deg", Near::Turn(180.0, 5.0)),
    ("streaks", "count", Near::Factor(1.6)),
    ("streaks", "width_mm", Near::Factor(1.6)),
    ("streaks", "contrast_d", Near::Factor(1.6)),
    ("dip_line", "axis_deg", Near::Turn(180.0, 3.0)),
    ("dip_line", "width_mm", Near::Factor(1.6)),
    ("ridges", "axis_deg", Near::Turn(180.0, 10.0)),
    ("ridges", "spacing_mm", Near::Factor(1.25)),
    ("uneven_pour", "range_d", Near::Density(0.3, 0.03)),
    ("uneven_pour", "direction_deg", Near::Turn(360.0, 30.0)),
    ("uneven_pour", "thick_corner", Near::Same),
    ("bare_area", "visible_mm2", Near::Factor(1.5)),
];

/// Nothing for a design that plants none of them.
pub(super) fn figures(plates: &[Scored]) -> String {
    let rows: Vec<Vec<String>> = FIGURES
        .iter()
        .filter(|(fault, _, _)| planted(plates, fault).next().is_some())
        .map(|(fault, name, near)| {
            let pairs: Vec<(f64, f64)> = planted(plates, fault)
                .filter_map(|f| f.figures.get(name).copied())
                .collect();
            row(format!("`{fault}` `{name}`"), &pairs, near)
        })
        .collect();
    if rows.is_empty() {
        return String::new();
    }
    table(
        "Figures of the shapes that were found",
        "Near enough: axes within 5 degrees (of the dip line 3, of ridges 10), the direction of a pour \
         within 30; counts, widths and contrasts within a factor of 1.6, spacings 1.25, bare areas 1.5 \
         of what shows; the range of a pour within 30 % or 0.03 D. The last columns are ratios of \
         reported to true for figures told by a factor, sizes of the error for the others.",
        &[
            "figure",
            "near enough",
            "median",
            "5th percentile",
            "95th percentile",
        ],
        rows,
    )
}

/// The search for streaks against the matched filter; only where a design is about shapes.
pub(super) fn even(design: &str) -> String {
    if design != "shapes" {
        return String::new();
    }
    let limit = streak_limit();
    let mut head: Vec<String> = vec!["width, mm".into()];
    head.extend(limit.found.iter().map(|(ratio, _)| format!("{ratio} x")));
    head.extend(["half found at".into(), "false lines a plate".into()]);
    let mut row = vec![limit.width_mm.to_string()];
    row.extend(limit.found.iter().map(|(_, share)| percent(*share)));
    row.push(limit.half.map_or("-".into(), |half| format!("{half:.2} x")));
    row.push(format!("{:.2}", limit.false_lines));
    let head: Vec<&str> = head.iter().map(String::as_str).collect();
    table(
        "A streak on an even ground",
        "Share of single upright streaks found in white noise over a plate of 60 mm, by their contrast over that \
         at which the best possible detector, the matched filter for just this width, axis and sign, finds half \
         of them with as many false lines. What holds is not yet named: at least two visible lines are streaks.",
        &head,
        vec![row],
    )
}

fn row(name: String, pairs: &[(f64, f64)], near: &Near) -> Vec<String> {
    let told = |(truth, said): &(f64, f64)| -> (bool, f64) {
        match near {
            Near::Turn(period, most) => {
                let turn = (said - truth).rem_euclid(*period);
                let off = turn.min(period - turn);
                (off <= *most, off)
            }
            Near::Factor(most) => {
                let ratio = if *truth > 0.0 { said / truth } else { f64::MAX };
                (ratio > 0.0 && ratio.max(1.0 / ratio) <= *most, ratio)
            }
            Near::Density(part, least) => {
                let off = (said - truth).abs();
                (off <= (part * truth).max(*least), off)
            }
            Near::Same => (said == truth, f64::from(u8::from(said != truth))),
        }
    };
    let all: Vec<(bool, f64)> = pairs.iter().map(told).collect();
    let hits = all.iter().filter(|(near, _)| *near).count();
    let mut values: Vec<f64> = all.iter().map(|(_, value)| *value).collect();
    let decimals = if matches!(near, Near::Turn(_, _)) {
        1
    } else {
        2
    };
    let shown = !matches!(near, Near::Same);
    let mut at = |q: f64| number(quantile(&mut values, q).filter(|_| shown), decimals);
    vec![name, share(hits, all.len()), at(0.5), at(0.05), at(0.95)]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn turns_go_round_and_factors_both_ways() {
        let axes = row(
            "axis".into(),
            &[(179.0, 2.0), (90.0, 60.0)],
            &Near::Turn(180.0, 5.0),
        );
        assert!(axes[1].starts_with("1/2"), "{axes:?}");
        let counts = row(
            "count".into(),
            &[(20.0, 10.0), (20.0, 30.0)],
            &Near::Factor(1.6),
        );
        assert!(counts[1].starts_with("1/2"), "{counts:?}");
        let corners = row("corner".into(), &[(1.0, 1.0), (1.0, 2.0)], &Near::Same);
        assert!(
            corners[1].starts_with("1/2") && corners[2] == "-",
            "{corners:?}"
        );
    }
}
