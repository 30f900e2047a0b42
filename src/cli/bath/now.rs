//! Today's date and the time: the only place of the program that asks for them.

use std::time::{SystemTime, UNIX_EPOCH};

use oystermark::bath::Day;

const DAY_MS: i64 = 86_400_000;

/// Milliseconds since 1970, UTC.
fn milliseconds() -> i64 {
    let since = SystemTime::now().duration_since(UNIX_EPOCH);
    since.map_or(0, |passed| i64::try_from(passed.as_millis()).unwrap_or(0))
}

/// The time of writing as the log keeps it: `2026-05-12T19:30:15.123Z`.
pub fn stamp() -> String {
    of(milliseconds())
}

fn of(milliseconds: i64) -> String {
    let day = Day::from_number(milliseconds.div_euclid(DAY_MS));
    let rest = milliseconds.rem_euclid(DAY_MS);
    let (hours, minutes) = (rest / 3_600_000, rest / 60_000 % 60);
    let (seconds, parts) = (rest / 1000 % 60, rest % 1000);
    format!("{day}T{hours:02}:{minutes:02}:{seconds:02}.{parts:03}Z")
}

/// Today where the maker is. The standard library knows no time zones; SQLite asks the system.
pub fn today() -> Day {
    let local = rusqlite::Connection::open_in_memory().and_then(|connection| {
        connection.query_row("SELECT date('now', 'localtime')", [], |row| {
            row.get::<_, String>(0)
        })
    });
    let local = local.ok().and_then(|day| day.parse().ok());
    local.unwrap_or_else(|| Day::from_number(milliseconds().div_euclid(DAY_MS)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_time_is_written_in_order() {
        assert_eq!(of(0), "1970-01-01T00:00:00.000Z");
        assert_eq!(of(1_778_614_215_007), "2026-05-12T19:30:15.007Z");
    }

    #[test]
    fn today_is_near_the_day_of_greenwich() {
        let days = milliseconds().div_euclid(DAY_MS) - today().number();
        assert!(days.abs() <= 1, "{days}");
    }
}
