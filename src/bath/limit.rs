//! When a figure that drifts will reach a limit.

use super::Day;
use super::figures::Figure;
use super::verdict::{Judged, Standing};

/// Farthest that a line is followed beyond the plates it was drawn from, as a multiple of their time: our own choice,
/// since a drift need not stay straight.
const FARTHEST: f64 = 2.0;

/// When a limit will be reached at this pace.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reach {
    /// The last day is beyond it already.
    Reached,
    /// The day, the earliest and the latest that the pace's 95 % interval allows; no latest where the interval lets the
    /// drift be too slow to follow that far.
    Day {
        likely: Day,
        earliest: Day,
        latest: Option<Day>,
    },
    /// There is no drift, or its pace is too uncertain or too slow.
    CannotSayYet,
}

/// When a figure will reach `limit`, in its own unit.
pub fn reach(judged: &Judged, limit: f64) -> Reach {
    let sign = if judged.figure.worse_when_higher() {
        1.0
    } else {
        -1.0
    };
    let Some(last) = judged.segments.last().and_then(|s| s.days.last()) else {
        return Reach::CannotSayYet;
    };
    let Standing::Drifts {
        pace: Some(pace), ..
    } = &judged.standing
    else {
        return match sign * (last.median - limit) >= 0.0 {
            true => Reach::Reached,
            false => Reach::CannotSayYet,
        };
    };
    let today = last.day.number() as f64;
    let level = pace.intercept + pace.slope * today;
    let left = sign * (limit - level);
    if left <= 0.0 || sign * (last.median - limit) >= 0.0 {
        return Reach::Reached;
    }
    let [slow, likely, fast] = match judged.figure.worse_when_higher() {
        true => [pace.low, pace.slope, pace.high],
        false => [-pace.high, -pace.slope, -pace.low],
    };
    let first = judged.segments.last().and_then(|s| s.days.first());
    let time = first.map_or(0.0, |first| today - first.day.number() as f64);
    let day = |pace: f64| {
        let ahead = left / pace;
        (pace > 0.0 && ahead <= FARTHEST * time)
            .then(|| Day::from_number((today + ahead).round() as i64))
    };
    match (day(likely), day(fast)) {
        (Some(likely), Some(earliest)) => Reach::Day {
            likely,
            earliest,
            latest: day(slow),
        },
        _ => Reach::CannotSayYet,
    }
}

/// A figure and its limit as typed: `veil_d=0.15`.
///
/// # Errors
/// In words.
pub fn parse_limit(typed: &str) -> Result<(Figure, f64), String> {
    let names = || Figure::ALL.map(Figure::name).join(", ");
    let (name, limit) = typed
        .split_once('=')
        .ok_or_else(|| "write figure and limit as in veil_d=0.15".to_owned())?;
    let figure = Figure::ALL.into_iter().find(|figure| figure.name() == name);
    let figure = figure.ok_or_else(|| format!("there is no figure {name}, only: {}", names()))?;
    match limit.parse::<f64>() {
        Ok(limit) if limit.is_finite() => Ok((figure, limit)),
        _ => Err(format!("`{limit}` is not a number")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bath::figures::{DayPoint, Segment};
    use crate::trend::sen;

    fn drifting(figure: Figure, values: &[f64]) -> Judged {
        let point = |(at, value): (usize, &f64)| DayPoint {
            day: Day::from_number(20_000 + at as i64),
            median: *value,
            values: vec![*value],
        };
        let days: Vec<DayPoint> = values.iter().enumerate().map(point).collect();
        let times: Vec<f64> = days.iter().map(|day| day.day.number() as f64).collect();
        Judged {
            figure,
            standing: Standing::Drifts {
                called: days[0].day,
                pace: sen(&times, values),
            },
            segments: vec![Segment { since: None, days }],
            cures: Vec::new(),
        }
    }

    #[test]
    fn a_straight_drift_reaches_its_limit_when_a_ruler_says() {
        let values: Vec<f64> = (0..10).map(|day| 0.05 + 0.01 * f64::from(day)).collect();
        let judged = drifting(Figure::Veil, &values);
        let Reach::Day { likely, .. } = reach(&judged, 0.2) else {
            panic!("{:?}", reach(&judged, 0.2));
        };
        assert_eq!(likely, Day::from_number(20_015));
        assert_eq!(reach(&judged, 0.1), Reach::Reached);
        assert_eq!(reach(&judged, 2.0), Reach::CannotSayYet);
        // A range gets worse as it falls.
        let falling: Vec<f64> = values.iter().map(|v| 1.3 - v).collect();
        let judged = drifting(Figure::Range, &falling);
        let Reach::Day { likely, .. } = reach(&judged, 1.1) else {
            panic!("{:?}", reach(&judged, 1.1));
        };
        assert_eq!(likely, Day::from_number(20_015));
    }

    #[test]
    fn without_a_drift_nothing_is_foretold() {
        let mut judged = drifting(Figure::Veil, &[0.05, 0.06]);
        judged.standing = Standing::Steady { days: 2 };
        assert_eq!(reach(&judged, 0.2), Reach::CannotSayYet);
        assert_eq!(reach(&judged, 0.06), Reach::Reached);
    }

    #[test]
    fn limits_as_typed() {
        assert_eq!(parse_limit("veil_d=0.15"), Ok((Figure::Veil, 0.15)));
        assert!(
            parse_limit("veil=0.15")
                .unwrap_err()
                .contains("only: veil_d")
        );
        assert!(parse_limit("veil_d").unwrap_err().contains("as in"));
        assert!(
            parse_limit("veil_d=x")
                .unwrap_err()
                .contains("not a number")
        );
    }
}
