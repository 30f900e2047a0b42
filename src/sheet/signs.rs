//! What a row says for or against a cause, each with the row's own number in words.

use super::words::Finish;
use crate::findings::{Sign, SignName};

/// A wait above this between bath and developer is long, minutes: common practice allows 10 to 15 in all.
const LONG_WAIT_MIN: f64 = 10.0;

/// A wait up to this is not long even in warm dry air, minutes: common practice allows 5 to 8 there.
const SHORT_WAIT_MIN: f64 = 5.0;

/// Warmer than this is hot, degrees Celsius: upper end of the good working range, from memory.
const HOT_C: f64 = 24.0;

/// Up to this it is not hot, degrees Celsius: below the former by what a thermometer on the wall may be
/// off, our own choice; the tests of this file would notice a change.
const NOT_HOT_C: f64 = 22.0;

/// The statements of a row that set signs.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Statements {
    pub(super) fresh_bath: Option<bool>,
    pub(super) bath_to_developer_min: Option<f64>,
    pub(super) room_temperature_c: Option<f64>,
    pub(super) developer_temperature_c: Option<f64>,
    pub(super) finish: Option<Finish>,
    pub(super) rubs_off: Option<bool>,
}

impl Statements {
    pub(super) fn signs(&self) -> Vec<Sign> {
        let fresh = self.fresh_bath.map(|fresh| {
            Sign::new(
                SignName::FreshBath,
                fresh,
                match fresh {
                    true => "you wrote that the bath is newly made",
                    false => "you wrote that the bath is not newly made",
                }
                .to_owned(),
            )
        });
        let varnished = self.finish.map(|finish| {
            Sign::new(
                SignName::Varnished,
                finish == Finish::Varnished,
                format!(
                    "you wrote that the plate was {} when scanned",
                    finish.word()
                ),
            )
        });
        let rubs = self.rubs_off.map(|rubs| {
            Sign::new(
                SignName::RubsOff,
                rubs,
                match rubs {
                    true => "you wrote that it rubs off the dry film",
                    false => "you wrote that it does not rub off the dry film",
                }
                .to_owned(),
            )
        });
        [fresh, self.wait(), self.heat(), varnished, rubs]
            .into_iter()
            .flatten()
            .collect()
    }

    /// Between the two limits nothing is said.
    fn wait(&self) -> Option<Sign> {
        let minutes = self.bath_to_developer_min?;
        let words = format!(
            "you wrote that {} minutes passed between bath and developer",
            number(minutes)
        );
        if minutes > LONG_WAIT_MIN {
            Some(Sign::seen(SignName::LongWait, words))
        } else if minutes <= SHORT_WAIT_MIN {
            Some(Sign::absent(SignName::LongWait, words))
        } else {
            None
        }
    }

    /// Hot when room or developer is; not hot when the room is told and neither is near it.
    fn heat(&self) -> Option<Sign> {
        let told = [
            ("the room", self.room_temperature_c),
            ("the developer", self.developer_temperature_c),
        ];
        let told: Vec<(&str, f64)> = told
            .into_iter()
            .filter_map(|(what, c)| Some((what, c?)))
            .collect();
        let words =
            |(what, c): &(&str, f64)| format!("you wrote that {what} was at {} C", number(*c));
        if let Some(hot) = told.iter().find(|(_, c)| *c > HOT_C) {
            return Some(Sign::seen(SignName::HotRoom, words(hot)));
        }
        self.room_temperature_c?;
        let cool = told.iter().all(|(_, c)| *c <= NOT_HOT_C);
        let warmest = told.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
        cool.then(|| Sign::absent(SignName::HotRoom, words(warmest)))
    }
}

fn number(value: f64) -> String {
    let text = format!("{value:.1}");
    text.strip_suffix(".0").unwrap_or(&text).to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(statements: Statements) -> Option<(SignName, bool, String)> {
        let mut signs = statements.signs();
        assert!(signs.len() < 2);
        let sign = signs.pop()?;
        Some((sign.name, sign.holds, sign.words))
    }

    #[test]
    fn waits_are_long_short_or_neither() {
        let wait = |minutes| {
            one(Statements {
                bath_to_developer_min: Some(minutes),
                ..Statements::default()
            })
        };
        let (name, holds, words) = wait(12.5).unwrap();
        assert_eq!((name, holds), (SignName::LongWait, true));
        assert!(words.contains("12.5 minutes"), "{words}");
        assert_eq!(wait(10.0), None);
        assert!(!wait(5.0).unwrap().1);
    }

    #[test]
    fn heat_is_of_room_or_developer() {
        let heat = |room, developer| {
            one(Statements {
                room_temperature_c: room,
                developer_temperature_c: developer,
                ..Statements::default()
            })
            .map(|(_, holds, words)| (holds, words))
        };
        assert_eq!(heat(Some(25.0), None).map(|h| h.0), Some(true));
        let (hot, words) = heat(Some(20.0), Some(27.0)).unwrap();
        assert!(
            hot && words.contains("the developer was at 27 C"),
            "{words}"
        );
        assert_eq!(heat(Some(23.0), None), None);
        assert_eq!(heat(None, Some(18.0)), None, "the room is not told");
        assert_eq!(heat(Some(20.0), Some(23.0)), None);
        assert_eq!(heat(Some(20.0), Some(21.0)).map(|h| h.0), Some(false));
    }

    #[test]
    fn words_set_their_signs() {
        let finish = |finish| {
            one(Statements {
                finish: Some(finish),
                ..Statements::default()
            })
            .unwrap()
        };
        assert!(finish(Finish::Varnished).1 && !finish(Finish::Wet).1);
        let fresh = one(Statements {
            fresh_bath: Some(false),
            ..Statements::default()
        });
        assert_eq!(
            fresh.map(|(name, holds, _)| (name, holds)),
            Some((SignName::FreshBath, false))
        );
        let rubs = one(Statements {
            rubs_off: Some(true),
            ..Statements::default()
        });
        assert_eq!(
            rubs.map(|(name, holds, _)| (name, holds)),
            Some((SignName::RubsOff, true))
        );
        assert_eq!(one(Statements::default()), None);
    }
}
