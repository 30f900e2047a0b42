//! Whether a bath drifts, and whether a cure helped.
//!
//! The days of a figure are compared, not its plates: plates of one day share light, developer and the state of the
//! room, and would prove a drift by being alike. Each day's median is ranked among the days so far since the last reset,
//! so no baseline has to be believed before it is known, and chance has the same odds whatever the figure's scatter
//! looks like ([`crate::trend::rank_cusum`]).

use super::Day;
use super::figures::{Figure, Segment, segments};
use super::log::Row;
use crate::trend::{Change, Sen, Summary, change, rank_cusum, sen};

/// Slack of the cumulative sum, in standard normal numbers: half the step it looks for. Usual for such sums.
const SLACK: f64 = 0.5;

/// Days before which nothing is said.
pub const LEAST_DAYS: usize = 5;

/// The sum is too high for chance above this times the binary logarithm of the days so far. Set by simulation so that
/// a figure without drift passes it within 60 days in about 0.7 % of seasons, and so one of seven figures in less
/// than 5 %; `a_season_without_drift_is_seldom_called` in `tests/bath/` counts it.
const HEIGHT: f64 = 1.34;

/// Days before and after a cure that are compared.
const CURE_DAYS: usize = 5;

/// Days with plates after a cure before which nothing is said of it. Our own choice: the fewest whose scatter tells
/// something.
const LEAST_AFTER: usize = 3;

/// What a log says of one figure since its last reset.
#[derive(Debug, Clone, PartialEq)]
pub enum Standing {
    /// Too few days to say anything.
    TooFew {
        /// Days with plates there are.
        days: usize,
    },
    /// No drift that chance would not make.
    Steady {
        /// Days with plates.
        days: usize,
    },
    /// It gets worse, and chance does that in under one season in a hundred.
    Drifts {
        /// The first day on which that could be said.
        called: Day,
        /// Change a day with its 95 % interval, in the figure's unit, over the time of the drift.
        pace: Option<Sen>,
    },
}

/// What a cure did to a figure that had drifted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Cure {
    /// Too few days after it.
    CannotSayYet,
    /// Better, and more than half of what had been lost is regained.
    Cured(Change),
    /// Better than before, but most of the loss is still there.
    Helped(Change),
    /// No difference that could be told.
    NoHelp(Change),
}

/// What was done to a figure that had drifted, and what came of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Treated {
    /// All that was done between the plates before and the plates after, and when: they share the credit.
    pub resets: Vec<(String, Day)>,
    /// What came of it.
    pub cure: Cure,
}

/// A figure of a bath, judged.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// The figure.
    pub figure: Figure,
    /// Its days, cut by resets; the last part is the one that counts.
    pub segments: Vec<Segment>,
    /// How it stands now.
    pub standing: Standing,
    /// What was done about its last drift and what came of each, in order. Empty where it never drifted before a reset,
    /// and when the bath was made anew since.
    pub cures: Vec<Treated>,
}

/// Judges the figures of a bath that its plates tell of. `rows` are the rows in force of one bath, in order. Of veil and
/// border, which tell the same, the one that more plates show is taken, and the other too where it is `wanted`: a limit
/// was set for it.
pub fn judge(rows: &[Row], wanted: &[Figure]) -> Vec<Judged> {
    let mut found: Vec<(Figure, Vec<Segment>)> = Figure::ALL
        .into_iter()
        .map(|figure| (figure, segments(rows, figure)))
        .collect();
    let plates = |of: Figure| -> usize {
        let mut same = found.iter().filter(|(figure, _)| *figure == of);
        let segments = same.next().map(|(_, segments)| segments.as_slice());
        segments
            .unwrap_or_default()
            .iter()
            .map(Segment::plates)
            .sum()
    };
    let less_told = match plates(Figure::Veil) >= plates(Figure::Border) {
        true => Figure::Border,
        false => Figure::Veil,
    };
    found.retain(|(figure, segments)| {
        (*figure != less_told || wanted.contains(figure))
            && segments.iter().any(|segment| !segment.days.is_empty())
    });
    found
        .into_iter()
        .map(|(figure, segments)| Judged {
            figure,
            standing: standing(figure, segments.last()),
            cures: cures(figure, &segments),
            segments,
        })
        .collect()
}

/// The values turned so that higher is worse.
fn toward_worse(figure: Figure, segment: &Segment) -> Vec<f64> {
    let sign = if figure.worse_when_higher() {
        1.0
    } else {
        -1.0
    };
    segment.medians().iter().map(|value| sign * value).collect()
}

/// The sums of a figure's days and the height each must pass; none on the days that are too few.
pub(super) fn rank_sums(figure: Figure, segment: &Segment) -> Vec<(f64, Option<f64>)> {
    with_heights(&toward_worse(figure, segment))
}

fn with_heights(values: &[f64]) -> Vec<(f64, Option<f64>)> {
    let sums = rank_cusum(values, SLACK).into_iter().zip(1usize..);
    let height = |days| (days >= LEAST_DAYS).then(|| HEIGHT * (days as f64).log2());
    sums.map(|(sum, days)| (sum, height(days))).collect()
}

/// Where the sum first passes its height, and where it last left zero before that.
fn called(values: &[f64]) -> Option<(usize, usize)> {
    let sums = with_heights(values);
    let at = sums
        .iter()
        .position(|(sum, height)| height.is_some_and(|height| *sum > height))?;
    let began = sums[..at].iter().rposition(|(sum, _)| *sum == 0.0);
    Some((at, began.unwrap_or(0)))
}

fn standing(figure: Figure, segment: Option<&Segment>) -> Standing {
    let Some(segment) = segment.filter(|segment| segment.days.len() >= LEAST_DAYS) else {
        let days = segment.map_or(0, |segment| segment.days.len());
        return Standing::TooFew { days };
    };
    let days = segment.days.len();
    let Some((at, began)) = called(&toward_worse(figure, segment)) else {
        return Standing::Steady { days };
    };
    let drift = &segment.days[began..];
    let times: Vec<f64> = drift.iter().map(|day| day.day.number() as f64).collect();
    let values: Vec<f64> = drift.iter().map(|day| day.median).collect();
    Standing::Drifts {
        called: segment.days[at].day,
        pace: sen(&times, &values),
    }
}

/// Days between what was done and what was done next.
#[derive(Debug, Default)]
struct Stretch {
    /// What began it.
    resets: Vec<(String, Day)>,
    /// Medians of its days, turned so that higher is worse.
    days: Vec<f64>,
}

/// The stretches of days that a cure can be judged by. One with fewer than [`LEAST_AFTER`] days in the middle tells
/// nothing apart, so what was done before it and after it counts as one.
fn stretches(figure: Figure, segments: &[Segment]) -> Vec<Stretch> {
    let mut found: Vec<Stretch> = Vec::new();
    let mut resets = Vec::new();
    for (at, segment) in (1..).zip(segments) {
        resets.extend(segment.since.clone());
        let days = toward_worse(figure, segment);
        if days.len() >= LEAST_AFTER || at == segments.len() {
            let resets = std::mem::take(&mut resets);
            found.push(Stretch { resets, days });
        }
    }
    found
}

/// What was done about the last drift, each against the stretch before it. A drift ends with a cure that regains most of
/// what was lost; until then every reset is judged by what it did about it.
fn cures(figure: Figure, segments: &[Segment]) -> Vec<Treated> {
    let mut told = Vec::new();
    // Level of the days before a drift that nothing has cured yet.
    let mut sound: Option<f64> = None;
    let found = stretches(figure, segments);
    for (before, after) in found.iter().zip(found.iter().skip(1)) {
        let drift = called(&before.days);
        let began = drift.map_or(0, |(_, began)| began);
        if sound.is_none() && drift.is_some() {
            told.clear();
            sound = Summary::of(&before.days[..=began]).map(|side| side.mean);
        }
        let spoilt = &before.days[before.days.len().saturating_sub(CURE_DAYS).max(began)..];
        let lost = Summary::of(spoilt)
            .zip(sound)
            .map(|(was, sound)| was.mean - sound);
        let made = after.resets.iter().any(|(what, _)| what == "made");
        match lost.filter(|lost| drift.is_some() || *lost > 0.0) {
            // Nothing is left to cure. A bath made anew has no past.
            None => {
                sound = None;
                if made {
                    told.clear();
                }
            }
            Some(lost) => {
                let cure = cure(figure, spoilt, &after.days, lost);
                if made || matches!(cure, Cure::Cured(_)) {
                    sound = None;
                }
                let resets = after.resets.clone();
                told.push(Treated { resets, cure });
            }
        }
    }
    told
}

/// What a cure did, from the days before and after it, higher is worse; `lost` is how much worse it had become.
fn cure(figure: Figure, spoilt: &[f64], after: &[f64], lost: f64) -> Cure {
    let cured = &after[..after.len().min(CURE_DAYS)];
    let sides = Summary::of(spoilt).zip(Summary::of(cured));
    let found = sides.and_then(|(was, is)| change(was, is, figure.least_sd()));
    let Some(found) = found.filter(|_| cured.len() >= LEAST_AFTER) else {
        return Cure::CannotSayYet;
    };
    let sign = if figure.worse_when_higher() {
        1.0
    } else {
        -1.0
    };
    let shown = Change {
        difference: sign * found.difference,
        low: (sign * found.low).min(sign * found.high),
        high: (sign * found.low).max(sign * found.high),
        ..found
    };
    if found.high >= 0.0 {
        Cure::NoHelp(shown)
    } else if -found.difference < 0.5 * lost {
        Cure::Helped(shown)
    } else {
        Cure::Cured(shown)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bath::log::{NewRow, Table};

    /// Ranks of a series without drift are the same whatever its distribution, so even draws stand for all.
    #[test]
    fn sixty_days_without_drift_seldom_pass_the_height() {
        let mut state = 1_u64;
        let mut draw = move || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64
        };
        let mut passed = 0;
        for _ in 0..2_000 {
            let series: Vec<f64> = (0..60).map(|_| draw()).collect();
            passed += usize::from(called(&series).is_some());
        }
        // 14 are expected; 30 are four standard deviations more.
        assert!((3..=30).contains(&passed), "{passed} of 2000");
    }

    #[test]
    fn a_steady_rise_is_called_and_alike_days_are_not() {
        let rising: Vec<f64> = (0..20).map(|day| 0.05 + 0.01 * f64::from(day)).collect();
        let (at, began) = called(&rising).unwrap();
        assert!(at < 10 && began < 3, "{at} {began}");
        assert_eq!(called(&[0.05; 20]), None);
        assert_eq!(called(&rising[..LEAST_DAYS - 1]), None);
    }

    /// What was done on a day, or the veil of its plate.
    enum Done {
        What(&'static str),
        Veil(f64),
    }

    fn rows(done: impl IntoIterator<Item = (i64, Done)>) -> Vec<Row> {
        let row = |(day, done): (i64, Done)| {
            let date = Day::from_number(20_600 + day).to_string();
            let mut row = match done {
                Done::What(what) => {
                    let mut row = NewRow::of(Table::Event);
                    row.set("what", what).unwrap();
                    row
                }
                Done::Veil(veil_d) => {
                    let mut row = NewRow::of(Table::Plate);
                    row.set("plate", &format!("A-{day}")).unwrap();
                    row.set_number("veil_d", veil_d + 0.002 * ((day * 7) % 5) as f64)
                        .unwrap();
                    row
                }
            };
            row.set("bath", "A").unwrap();
            row.set("day", &date).unwrap();
            row.set("recorded", &format!("{date}T12:00:00Z")).unwrap();
            row.finish().unwrap()
        };
        done.into_iter().map(row).collect()
    }

    fn plates(days: std::ops::Range<i64>, veil_d: f64) -> impl Iterator<Item = (i64, Done)> {
        days.map(move |day| (day, Done::Veil(veil_d)))
    }

    /// Sixteen days whose veil grows from 0.05 to 0.25 from the sixth on.
    fn drift(from: i64) -> impl Iterator<Item = (i64, Done)> {
        let veil_d = |day: i64| 0.05 + 0.02 * (day - 5).max(0) as f64;
        (0..16).map(move |day| (from + day, Done::Veil(veil_d(day))))
    }

    /// What is told of the veil: words of what was done, and of what came of it.
    fn told(rows: &[Row]) -> Vec<(String, &'static str)> {
        let judged = judge(rows, &[]);
        let veil = judged.iter().find(|j| j.figure == Figure::Veil).unwrap();
        let words = |treated: &Treated| {
            let done: Vec<&str> = treated
                .resets
                .iter()
                .map(|(what, _)| what.as_str())
                .collect();
            let came = match treated.cure {
                Cure::CannotSayYet => "cannot say yet",
                Cure::Cured(_) => "cured",
                Cure::Helped(_) => "helped",
                Cure::NoHelp(_) => "no help",
            };
            (done.join(" and "), came)
        };
        veil.cures.iter().map(words).collect()
    }

    fn is(done: &str, came: &'static str) -> (String, &'static str) {
        (done.to_owned(), came)
    }

    #[test]
    fn what_was_done_without_plates_between_shares_the_credit() {
        let done = || {
            drift(0).chain([
                (16, Done::What("sunned")),
                (17, Done::What("filtered")),
                (18, Done::What("rested")),
            ])
        };
        let both = "sunned and rested";
        assert_eq!(told(&rows(done())), [is(both, "cannot say yet")]);
        let after = done().chain(plates(19..24, 0.05));
        assert_eq!(told(&rows(after)), [is(both, "cured")]);
        // Two days between tell nothing apart.
        let two = drift(0)
            .chain([(16, Done::What("sunned"))])
            .chain(plates(17..19, 0.15))
            .chain([(19, Done::What("rested"))])
            .chain(plates(20..25, 0.05));
        assert_eq!(told(&rows(two)), [is(both, "cured")]);
    }

    #[test]
    fn with_plates_between_each_is_judged_and_the_first_is_not_forgotten() {
        let twice = |between: f64, after: f64| {
            let done = drift(0)
                .chain([(16, Done::What("sunned"))])
                .chain(plates(17..22, between))
                .chain([(22, Done::What("rested"))])
                .chain(plates(23..28, after));
            told(&rows(done))
        };
        let (helped, no_help) = (is("sunned", "helped"), is("sunned", "no help"));
        assert_eq!(twice(0.15, 0.05), [helped.clone(), is("rested", "cured")]);
        assert_eq!(twice(0.15, 0.15), [helped, is("rested", "no help")]);
        assert_eq!(twice(0.24, 0.05), [no_help, is("rested", "cured")]);
        // Once cured there is nothing left for the rest to cure.
        assert_eq!(twice(0.05, 0.05), [is("sunned", "cured")]);
    }

    #[test]
    fn a_new_drift_or_a_bath_made_anew_begins_another_account() {
        let cured = || {
            drift(0)
                .chain([(16, Done::What("sunned"))])
                .chain(plates(17..24, 0.05))
        };
        let made = cured()
            .chain([(30, Done::What("made"))])
            .chain(plates(31..36, 0.04));
        assert_eq!(told(&rows(made)), []);
        let again = cured()
            .chain(drift(30))
            .chain([(46, Done::What("made"))])
            .chain(plates(47..52, 0.05));
        assert_eq!(told(&rows(again)), [is("made", "cured")]);
    }
}
