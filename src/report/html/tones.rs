//! The table of densities and the doubts that hang on all of them.

use super::number::NumberView;
use crate::doubts::Doubt;
use crate::report::{Report, words};

/// Lightest and darkest tone, range, mean, veil and hue.
pub(super) fn densities(report: &Report) -> Vec<NumberView> {
    let d = &report.density;
    let shared = shared(report);
    let notes = |key: &str| {
        let doubts = d.doubts_of.get(key).map(Vec::as_slice).unwrap_or_default();
        let own = doubts.iter().filter(|doubt| !shared.contains(doubt));
        own.map(|doubt| doubt.short()).collect()
    };
    let of = |key: &str| d.doubts_of.get(key).map(Vec::as_slice).unwrap_or_default();
    let mut rows = vec![
        NumberView {
            label: "Lightest tone".to_owned(),
            value: words::bound(of("d_light"), false).to_owned()
                + &words::density(d.d_light, d.d_light_u, d.code_step_light_d),
            notes: notes("d_light"),
        },
        NumberView {
            label: "Darkest tone".to_owned(),
            value: words::bound(of("d_dark"), true).to_owned()
                + &words::density(d.d_dark, d.d_dark_u, d.code_step_dark_d),
            notes: notes("d_dark"),
        },
        NumberView {
            label: "Range".to_owned(),
            value: words::bound(of("d_dark"), true).to_owned()
                + &words::density(d.range_d, d.range_d_u, d.code_step_dark_d),
            notes: notes("range_d"),
        },
        NumberView {
            label: "Mean".to_owned(),
            value: words::density(d.mean_d, d.mean_d_u, None),
            notes: notes("mean_d"),
        },
    ];
    if let Some(veil_d) = d.veil_d {
        rows.push(NumberView {
            label: "Veil above bare support".to_owned(),
            value: words::density(veil_d, d.veil_d_u, d.code_step_dark_d),
            notes: notes("veil_d"),
        });
    }
    if let Some(tone) = d.tone {
        rows.push(NumberView {
            label: "Tone (CIE L*, a*, b*)".to_owned(),
            value: format!(
                "{}, {}, {}",
                words::decimal(tone.l, 0),
                words::decimal(tone.a, 1),
                words::decimal(tone.b, 1)
            ),
            notes: Vec::new(),
        });
    }
    rows
}

/// Doubts that hang on both ends of the tone scale are said once for all.
fn shared(report: &Report) -> Vec<Doubt> {
    let of = |key: &str| {
        report
            .density
            .doubts_of
            .get(key)
            .cloned()
            .unwrap_or_default()
    };
    let dark = of("d_dark");
    let both = of("d_light").into_iter().filter(|d| dark.contains(d));
    both.collect()
}

/// The doubts that are said once for all densities.
pub(super) fn shared_doubts(report: &Report) -> Option<String> {
    let mut doubts = shared(report);
    for doubt in &report.scan.doubts {
        if !doubts.contains(doubt) {
            doubts.push(*doubt);
        }
    }
    let names: Vec<String> = doubts.iter().map(|d| d.short().to_owned()).collect();
    (!names.is_empty()).then(|| words::listed(&names))
}
