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
    /// Too few days before or after.
    CannotSayYet,
    /// Better, and more than half of what had been lost is regained.
    Cured(Change),
    /// Better than before, but most of the loss is still there.
    Helped(Change),
    /// No difference that could be told.
    NoHelp(Change),
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
    /// What the last cure did, if the figure had drifted before it.
    pub cure: Option<Cure>,
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
            cure: cure(figure, &segments),
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

/// What the last reset did, when the figure had drifted before it.
fn cure(figure: Figure, segments: &[Segment]) -> Option<Cure> {
    let with_days: Vec<&Segment> = segments.iter().filter(|s| !s.days.is_empty()).collect();
    let last = segments.last()?;
    // A reset without a plate since then is a cure that cannot be judged yet.
    let (before, after) = match last.days.is_empty() {
        true => (*with_days.last()?, last),
        false => (*with_days.get(with_days.len().checked_sub(2)?)?, last),
    };
    let worse_before = toward_worse(figure, before);
    let (_, began) = called(&worse_before)?;
    let worse_after = toward_worse(figure, after);
    let spoilt = &worse_before[worse_before.len().saturating_sub(CURE_DAYS).max(began)..];
    let cured = &worse_after[..worse_after.len().min(CURE_DAYS)];
    let sides = Summary::of(spoilt).zip(Summary::of(cured));
    let found = sides.and_then(|(was, is)| change(was, is, figure.least_sd()));
    let Some(found) = found.filter(|_| cured.len() >= 3) else {
        return Some(Cure::CannotSayYet);
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
        return Some(Cure::NoHelp(shown));
    }
    // How much had been lost, from the days before the drift.
    let sound = Summary::of(&worse_before[..=began]).map(|side| side.mean);
    let lost = Summary::of(spoilt)
        .zip(sound)
        .map(|(was, sound)| was.mean - sound);
    Some(match lost {
        Some(lost) if -found.difference < 0.5 * lost => Cure::Helped(shown),
        _ => Cure::Cured(shown),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

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
}
