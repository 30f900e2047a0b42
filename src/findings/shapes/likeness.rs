//! How much bands over a scene look like streaks or a line of the dip rather than like the scene's own lines.

use crate::measures::{BandForm, DrainWaves, EdgeWaves, Family, Line, RightAcross, Sweep};

/// Least and most that each of the figures counts; what lies beyond says no more.
const STANDS_OUT: [f64; 2] = [0.5, 20.0];
/// See [`STANDS_OUT`].
const PEAKEDNESS: [f64; 2] = [2.0, 8.0];
/// See [`STANDS_OUT`].
const MOST_EXPLAINED: f64 = 5.0;
/// See [`STANDS_OUT`].
const MOST_LEVEL: f64 = 0.6;
/// See [`STANDS_OUT`].
const MOST_HOLDING: f64 = 0.3;
/// Least scatter of agreement between runs that is believed.
const LEAST_SCATTER: f64 = 0.05;

/// Logarithm of the odds that the bands are streaks among what scenes show; `across` is the agreement far
/// apart of the lines at right angles, since streets and façades have both.
///
/// What speaks for streaks: many lines, level on both sides, that hold from end to end, unevenly spaced.
/// What speaks against: even spacing, a few strong lines, steps of silver along the same run. Logistic
/// regression on 77 pictures with planted streaks of the dip and 485 others, 200 of them scenes of straight
/// lines (development seeds 780000 to 785000), among them pictures of another hand and 45 real plates; of
/// eight parts of the plates each was told by the other seven.
pub(super) fn likeness(family: &Family, across: f64) -> f64 {
    let scene = &family.scene;
    let stands_out = (scene.far - scene.far_usual) / scene.far_scatter.max(LEAST_SCATTER);
    let level = scene.level_sided as f64 / (scene.level_sided + scene.stepped).max(4) as f64;
    let holding = scene.holding as f64 / family.room.max(1.0);
    0.68 + 0.84 * stands_out.clamp(STANDS_OUT[0], STANDS_OUT[1]).ln()
        - 1.95 * scene.far.clamp(0.0, 1.0)
        - 0.60 * scene.peakedness.clamp(PEAKEDNESS[0], PEAKEDNESS[1])
        - 9.49 * family.regularity
        - 1.62 * across.clamp(0.0, 1.0)
        + 6.53 * level.min(MOST_LEVEL)
        - 2.12 * scene.steps_far.clamp(0.0, 1.0)
        + 1.21 * (scene.explained.min(MOST_EXPLAINED) + 0.05).ln()
        + 10.77 * holding.min(MOST_HOLDING)
}

/// Least power elsewhere that is believed.
const LEAST_ELSEWHERE: f64 = 0.3;
/// Least share of even waves that says more.
const LEAST_SHARE: f64 = 0.01;

/// How much waves by a corner or an edge are unlike a scene's, a figure that rises with it: strong, even, and there
/// alone. The weights are our own choice: with any from 1 to 2 and from 0.3 to 1, 24 or 25 of 25 planted waves are
/// above the strongest of 1,226 pictures without (development seeds 700000 to 740000).
pub(super) fn waves_likeness(waves: &DrainWaves) -> f64 {
    waves.power.max(f64::MIN_POSITIVE).ln()
        + 1.5 * waves.share.max(LEAST_SHARE).ln()
        + 0.5 * (waves.power / waves.elsewhere.max(LEAST_ELSEWHERE)).ln()
}

/// Least share of power of straight waves that says more; waves with more than the most are straight, as boards are.
const STRAIGHT: [f64; 2] = [0.1, 0.95];

/// How much waves by an edge of a picture are unlike a scene's, a figure that rises with it: there alone, even, and
/// bent. All count alike: with the weights of a logistic regression 29 of 31 planted waves were above the strongest of
/// 634 pictures without, with these 28 (development seeds 780000 to 783000 and 790000).
pub(super) fn edge_waves_likeness(waves: &EdgeWaves) -> f64 {
    let [least, most] = STRAIGHT;
    if waves.straight > most {
        return f64::NEG_INFINITY;
    }
    (waves.power / waves.elsewhere.max(LEAST_ELSEWHERE)).ln() + waves.share.max(LEAST_SHARE).ln()
        - waves.straight.max(least).ln()
}

/// Least and most that each of the figures of a soft band counts; what lies beyond says no more.
const BAND_AGREEMENT: f64 = 2.5;
/// See [`BAND_AGREEMENT`].
const BAND_STEEPNESS: [f64; 2] = [1.0, 8.0];
/// See [`BAND_AGREEMENT`].
const BELL_OVER_BOX: [f64; 2] = [0.1, 5.0];
/// See [`BAND_AGREEMENT`].
const BAND_CONTRAST_D: [f64; 2] = [0.005, 0.22];
/// See [`BAND_AGREEMENT`].
const BAND_UNEVENNESS: [f64; 2] = [0.03, 0.37];

/// Logarithm of the odds that a soft band over a picture lies on it, among the straight parts of scenes.
///
/// What speaks for it: it agrees all along, keeps its contrast, is a bell across without edges, faint, and some two
/// millimetres wide. Logistic regression on 1,400 bands on 136 pictures with planted streaks of the developer, and
/// 66,000 others on 1,141 pictures without (development seeds 700000 to 790000, pictures of another hand and real
/// ones among them).
pub(super) fn band_likeness(line: &Line, form: &BandForm) -> f64 {
    let within = |value: f64, [least, most]: [f64; 2]| value.clamp(least, most).ln();
    let wide = form.across.width_mm.ln();
    -11.36 + 1.10 * line.agreement.max(BAND_AGREEMENT).ln() + 1.95 * form.coverage
        - 2.76 * within(form.across.steepness, BAND_STEEPNESS)
        - 2.30 * within(form.across.bell_over_box, BELL_OVER_BOX)
        - 0.93 * within(form.contrast_d, BAND_CONTRAST_D)
        - 0.67 * within(form.unevenness, BAND_UNEVENNESS)
        + 5.58 * wide
        - 3.46 * wide * wide
}

/// Least log odds of a band that counts for its run, and most that one counts above them.
const BAND_COUNTS: f64 = -0.5;
/// See [`BAND_COUNTS`].
const BAND_COUNTS_MOST: f64 = 4.0;
/// Scatter of the gaps over their mean of things that are set out evenly: columns, posts, boards. Two rows of columns
/// (development seeds 710544 and 720520) were the likest of all scenes without it.
const SET_OUT: f64 = 0.05;

/// The bands of a run that count, and how much it is unlike a scene's, a figure that rises with it: the sum over its
/// bands, unless they are set out evenly.
pub(super) fn sweep_likeness(sweep: &Sweep) -> (Vec<&Line>, f64) {
    let lines = sweep.bands.lines.iter().zip(&sweep.forms);
    let counting: Vec<(&Line, f64)> = lines
        .map(|(line, form)| (line, band_likeness(line, form) - BAND_COUNTS))
        .filter(|(_, counts)| *counts > 0.0)
        .map(|(line, counts)| (line, counts.min(BAND_COUNTS_MOST)))
        .collect();
    let mut places: Vec<f64> = counting
        .iter()
        .map(|(line, _)| sweep.bands.across_mm(line.middle_mm))
        .collect();
    places.sort_by(f64::total_cmp);
    let gaps: Vec<f64> = places.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let mean = gaps.iter().sum::<f64>() / gaps.len().max(1) as f64;
    let square = gaps.iter().map(|gap| (gap - mean).powi(2)).sum::<f64>();
    let set_out = gaps.len() >= 2 && square < (SET_OUT * mean).powi(2) * gaps.len() as f64;
    let each = counting.iter().map(|(_, counts)| *counts);
    let likeness = match set_out {
        true => each.fold(0.0, f64::max),
        false => each.sum(),
    };
    (counting.iter().map(|(line, _)| *line).collect(), likeness)
}

/// What a line over a scene must have before it is looked at closely: agreement and share of clear stretches at
/// least. Our own choice, as loose as the odds below can tell; the table of shapes would notice a change.
const LEAST_AGREEMENT: f64 = 0.55;
/// See [`LEAST_AGREEMENT`].
const LEAST_COVERAGE: f64 = 0.7;
/// Least and most that each of a line's figures counts; what lies beyond says no more.
const LINE_WEAKEST: [f64; 2] = [0.2, 40.0];
/// See [`LINE_WEAKEST`].
const LINE_CONTRAST_D: [f64; 2] = [0.015, 1.0];
/// See [`LINE_WEAKEST`].
const LINE_BELL_OVER_BOX: [f64; 2] = [0.05, 5.0];
/// See [`LINE_WEAKEST`]. The least is that of a bell and some noise.
const LINE_STEEPNESS: [f64; 2] = [1.65, 8.0];
/// See [`LINE_WEAKEST`].
const LINE_WIDTH_MM: [f64; 2] = [0.15, 2.0];
/// See [`LINE_WEAKEST`].
const LINE_UNLIKE_SIDES: [f64; 2] = [0.6, 3.0];
/// See [`LINE_WEAKEST`].
const LINE_UNEVENNESS: [f64; 2] = [0.05, 2.0];

/// Logarithm of the odds that a line right across a picture is one of the dip among what scenes show; `None`
/// where it is none that could be.
///
/// What speaks for it: it agrees all along, no other line beside it does and is as strong, and across it is a bell,
/// without edges and with sides alike. Logistic regression on 63 pictures with a planted line and 332 clean ones,
/// 200 of them scenes of straight lines (development seeds 795000 and 796000); of eight parts of the plates each was
/// told by the other seven.
pub(super) fn line_likeness(found: &RightAcross) -> Option<f64> {
    let (line, form) = (&found.line, &found.form);
    let could_be = found.agreement >= LEAST_AGREEMENT && line.coverage >= LEAST_COVERAGE;
    let within = |value: f64, [least, most]: [f64; 2]| value.clamp(least, most).ln();
    let [level, most] = LINE_UNLIKE_SIDES;
    could_be.then(|| {
        -5.23 + 3.90 * found.agreement - 5.23 * found.elsewhere * found.company
            + 0.53 * within(found.weakest, LINE_WEAKEST)
            - 0.55 * within(line.contrast_d, LINE_CONTRAST_D)
            - 1.19 * within(form.bell_over_box, LINE_BELL_OVER_BOX)
            - 2.66 * (within(form.steepness, LINE_STEEPNESS) - LINE_STEEPNESS[0].ln())
            - 0.40 * within(form.width_mm, LINE_WIDTH_MM).powi(2)
            - 0.72 * (found.unlike_sides.clamp(level, most) - level)
            - 0.71 * within(found.unevenness, LINE_UNEVENNESS)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measures::{Across, AcrossForm, OverScene};

    fn dip_line() -> RightAcross {
        RightAcross {
            upright: false,
            axis_deg: 91.0,
            core_mm: 0.3,
            line: Line {
                ends_mm: [[2.0, 29.0], [66.0, 31.0]],
                middle_mm: [34.0, 30.0],
                agreement: 11.0,
                coverage: 1.0,
                sign: 1.0,
                width_mm: 0.4,
                contrast_d: 0.1,
                step_d: 0.01,
            },
            across: Across {
                first_mm: 26.0,
                step_mm: 0.1,
                silver_d: Vec::new(),
            },
            agreement: 1.0,
            elsewhere: 0.4,
            company: 0.1,
            weakest: 6.0,
            unevenness: 0.2,
            unlike_sides: 0.3,
            form: AcrossForm {
                width_mm: 0.4,
                height_d: 0.1,
                left: 0.1,
                bell_over_box: 0.4,
                steepness: 1.5,
            },
            over_border: None,
        }
    }

    #[test]
    fn an_even_line_alone_is_of_the_dip_and_a_rail_or_a_horizon_is_not() {
        let likeness = line_likeness;
        let sure = likeness(&dip_line()).unwrap();
        assert!(sure > 1.0, "{sure}");
        let rail = RightAcross {
            weakest: 0.5,
            elsewhere: 0.7,
            company: 0.7,
            form: AcrossForm {
                bell_over_box: 1.3,
                steepness: 3.0,
                ..dip_line().form
            },
            ..dip_line()
        };
        assert!(likeness(&rail).unwrap() < sure - 4.0);
        let horizon = RightAcross {
            unlike_sides: 2.5,
            ..dip_line()
        };
        assert!(likeness(&horizon).unwrap() < sure - 1.0);
        // One of several boards, and the edge of a mount.
        let board = RightAcross {
            elsewhere: 0.95,
            company: 0.95,
            ..dip_line()
        };
        assert!(likeness(&board).unwrap() < 0.0);
        // Other lines agree as well, but are faint.
        let strong = RightAcross {
            elsewhere: 0.95,
            company: 0.1,
            ..dip_line()
        };
        assert!(likeness(&strong).unwrap() > 1.0);
        let broken = RightAcross {
            agreement: 0.5,
            ..dip_line()
        };
        assert_eq!(likeness(&broken), None);
    }

    fn family(regularity: f64, level_sided: usize, stepped: usize) -> Family {
        Family {
            axis_deg: 1.0,
            upright: true,
            slanted: false,
            scale_mm: 0.35,
            sagitta_mm: 0.0,
            energy: 5.0,
            usual_energy: 1.0,
            regularity,
            scene: OverScene {
                far: 0.5,
                far_usual: 0.0,
                far_scatter: 0.05,
                steps_far: 0.3,
                peakedness: 2.8,
                explained: 2.0,
                level_sided,
                stepped,
                holding: level_sided,
                in_border: None,
            },
            room: 100.0,
            lines: Vec::new(),
            across: Across {
                first_mm: 0.0,
                step_mm: 0.2,
                silver_d: Vec::new(),
            },
        }
    }

    #[test]
    fn uneven_level_bands_are_streaks_and_boards_are_not() {
        let streaks = likeness(&family(0.2, 20, 20), 0.1);
        assert!(streaks > 0.5, "{streaks}");
        assert!(likeness(&family(0.6, 20, 20), 0.1) < streaks - 3.0);
        assert!(likeness(&family(0.2, 4, 36), 0.1) < streaks - 3.0);
        assert!(likeness(&family(0.2, 20, 20), 0.9) < streaks);
    }

    fn sweep(places_mm: &[f64], bell_over_box: f64, steepness: f64) -> Sweep {
        let line = |at: &f64| Line {
            ends_mm: [[*at, 0.0], [*at, 60.0]],
            middle_mm: [*at, 40.0],
            agreement: 7.0,
            coverage: 1.0,
            sign: 1.0,
            width_mm: 2.2,
            contrast_d: 0.1,
            step_d: 0.0,
        };
        let across = AcrossForm {
            width_mm: 2.2,
            height_d: 0.1,
            left: 0.05,
            bell_over_box,
            steepness,
        };
        let form = BandForm {
            across,
            contrast_d: 0.08,
            unevenness: 0.1,
            coverage: 1.0,
        };
        Sweep {
            bands: Family {
                lines: places_mm.iter().map(line).collect(),
                ..family(0.0, 0, 0)
            },
            forms: vec![form; places_mm.len()],
        }
    }

    #[test]
    fn soft_bands_lie_on_a_picture_and_edged_or_set_out_ones_in_it() {
        let judged = |places_mm: &[f64], bell_over_box, steepness| {
            let sweep = sweep(places_mm, bell_over_box, steepness);
            let (lines, likeness) = sweep_likeness(&sweep);
            (lines.len(), likeness)
        };
        let (count, soft) = judged(&[10.0, 24.0, 51.0], 0.2, 1.3);
        assert!(count == 3 && soft > 4.0, "{soft}");
        assert_eq!(judged(&[10.0, 24.0, 51.0], 1.2, 4.0), (0, 0.0));
        let (_, columns) = judged(&[10.0, 30.0, 50.2], 0.2, 1.3);
        assert!(columns < 0.5 * soft, "{columns}");
    }
}
