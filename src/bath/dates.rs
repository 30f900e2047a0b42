//! Days of the calendar, as `2026-05-12`.

use std::fmt;
use std::str::FromStr;

/// Years a log may speak of: from the first collodion pictures on; our own choice.
const YEARS: std::ops::RangeInclusive<i64> = 1848..=2199;

/// A day of the Gregorian calendar.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Day(i64);

impl Day {
    /// The day so many days after 1970-01-01.
    pub fn from_number(days: i64) -> Day {
        Day(days)
    }

    /// Days since 1970-01-01.
    pub fn number(self) -> i64 {
        self.0
    }

    fn of(year: i64, month: i64, day: i64) -> Day {
        // Years begin in March here, so that the leap day is the last of its year.
        let y = if month > 2 { year } else { year - 1 };
        let m = (month + 9) % 12;
        let before = 365 * y + y.div_euclid(4) - y.div_euclid(100) + y.div_euclid(400);
        Day(before + (153 * m + 2) / 5 + day - 1 - 719_468)
    }

    /// Year, month and day of the month.
    fn parts(self) -> (i64, i64, i64) {
        let since = self.0 + 719_468;
        // Never less than the true year, at most one more.
        let mut y = (since * 400 + 591).div_euclid(146_097);
        let start = |y: i64| 365 * y + y.div_euclid(4) - y.div_euclid(100) + y.div_euclid(400);
        while start(y) > since {
            y -= 1;
        }
        let of_year = since - start(y);
        let m = (5 * of_year + 2) / 153;
        let day = of_year - (153 * m + 2) / 5 + 1;
        let month = if m < 10 { m + 3 } else { m - 9 };
        (if month > 2 { y } else { y + 1 }, month, day)
    }
}

impl FromStr for Day {
    type Err = String;

    fn from_str(typed: &str) -> Result<Day, String> {
        let wrong = || format!("`{typed}` is not a date written as 2026-05-12");
        let bytes = typed.as_bytes();
        let formed = bytes.len() == 10
            && bytes.iter().enumerate().all(|(at, c)| match at {
                4 | 7 => *c == b'-',
                _ => c.is_ascii_digit(),
            });
        if !formed {
            return Err(wrong());
        }
        let number = |range: std::ops::Range<usize>| -> Result<i64, String> {
            typed[range].parse().map_err(|_| wrong())
        };
        let (year, month, day) = (number(0..4)?, number(5..7)?, number(8..10)?);
        let found = Day::of(year, month, day);
        if !(1..=12).contains(&month) || found.parts() != (year, month, day) {
            return Err(format!("there is no day {typed}"));
        }
        if !YEARS.contains(&year) {
            return Err(format!("{typed}: the year cannot be right"));
        }
        Ok(found)
    }
}

impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        let (year, month, day) = self.parts();
        write!(f, "{year:04}-{month:02}-{day:02}")
    }
}

/// Days from one to another, both included; typed as `2026-05-01..2026-05-14`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Span {
    from: Day,
    to: Day,
}

impl Span {
    /// Whether it holds that day.
    pub fn holds(self, day: Day) -> bool {
        (self.from..=self.to).contains(&day)
    }
}

impl FromStr for Span {
    type Err = String;

    fn from_str(typed: &str) -> Result<Span, String> {
        let (from, to) = typed
            .split_once("..")
            .ok_or("write two dates with two points between, as in 2026-05-01..2026-05-14")?;
        let (from, to) = (from.parse()?, to.parse()?);
        if from > to {
            return Err("the first day is later than the last".to_owned());
        }
        Ok(Span { from, to })
    }
}

impl fmt::Display for Span {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        write!(f, "{} to {}", self.from, self.to)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_day_comes_back_and_follows_the_last() {
        let first: Day = "1848-01-01".parse().unwrap();
        let last: Day = "2199-12-31".parse().unwrap();
        for number in first.number()..=last.number() {
            let day = Day::from_number(number);
            assert_eq!(day.to_string().parse(), Ok(day));
        }
        assert_eq!("1970-01-01".parse(), Ok(Day(0)));
        assert_eq!("2000-03-01".parse(), Ok(Day(11_017)));
    }

    #[test]
    fn wrong_dates_are_said_to_be_wrong() {
        for (typed, says) in [
            ("2026-02-30", "no day"),
            ("2026-13-01", "no day"),
            ("2026-00-10", "no day"),
            ("1900-02-29", "no day"),
            ("12/05/2026", "written as"),
            ("2026-5-12", "written as"),
            ("", "written as"),
            ("２026-05-12", "written as"),
            ("1066-10-14", "year"),
        ] {
            let error = typed.parse::<Day>().unwrap_err();
            assert!(error.contains(says), "{typed}: {error}");
        }
    }

    #[test]
    fn a_span_holds_both_its_ends() {
        let day = |text: &str| text.parse::<Day>().unwrap();
        let span: Span = "2026-05-01..2026-05-14".parse().unwrap();
        assert!(span.holds(day("2026-05-01")) && span.holds(day("2026-05-14")));
        assert!(!span.holds(day("2026-04-30")) && !span.holds(day("2026-05-15")));
        for (typed, says) in [
            ("2026-05-01", "two dates"),
            ("2026-05-14..2026-05-01", "later"),
            ("2026-05-01..2026-05-32", "no day"),
            ("..2026-05-14", "written as"),
        ] {
            let error = typed.parse::<Span>().unwrap_err();
            assert!(error.contains(says), "{typed}: {error}");
        }
    }
}
