//! The handling of a row, read as a handling file is.

use super::cells::Wrong;
use super::mistakes::shown;
use crate::handling::{Handling, HandlingError, HandlingSource, ScannedFrom, read_entries};

/// What a row says of pour, dip, developer and holder, and the side that was scanned.
pub(super) struct Handled {
    pub(super) handling: Option<Handling>,
    pub(super) scanned_from: Option<ScannedFrom>,
}

/// Reads the entries of a row: the name of the entry, the header over it, and what stands in the cell.
/// `typed` and `otherwise` are the side toward the scanner as stated before and after the row.
pub(super) fn read(
    entries: &[(&'static str, String, String)],
    typed: Option<ScannedFrom>,
    otherwise: Option<ScannedFrom>,
) -> Result<Handled, (String, Wrong)> {
    let plain: Vec<(&str, &str)> = entries
        .iter()
        .map(|(entry, _, said)| (*entry, said.as_str()))
        .collect();
    let column = |entry: &str| {
        let own = entries.iter().find(|(name, _, _)| *name == entry);
        own.map_or_else(|| entry.to_owned(), |(_, header, _)| header.clone())
    };
    let wrong = |error: HandlingError| match error {
        HandlingError::Value {
            entry,
            found,
            instead,
            ..
        } => {
            let found = shown(found.trim_matches('"'));
            (
                column(entry),
                (
                    format!("cannot be `{found}`"),
                    instead.replace(&format!("{entry} = "), "").replace('"', ""),
                ),
            )
        }
        HandlingError::Contradiction { entry, other, .. } => (
            column(entry),
            (
                format!("does not fit `{}`", shown(&column(other))),
                "keep the right one".to_owned(),
            ),
        ),
        other => (String::new(), (other.to_string(), other.hint())),
    };
    let own = read_entries(&plain, typed).map_err(wrong)?;
    let read = match own.scanned_from {
        Some(_) => own,
        None => read_entries(&plain, otherwise).map_err(wrong)?,
    };
    Ok(Handled {
        handling: read
            .handling
            .and_then(|handling| handling.said_by(HandlingSource::Sheet)),
        scanned_from: read.scanned_from,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::handling::{Corner, Spot};

    fn read_one(entry: &'static str, said: &str, otherwise: Option<ScannedFrom>) -> Handled {
        let entries = [(entry, entry.replace('_', " "), said.to_owned())];
        match read(&entries, None, otherwise) {
            Ok(handled) => handled,
            Err((column, (what, _))) => panic!("{column} {what}"),
        }
    }

    #[test]
    fn cells_are_words_of_a_handling_file() {
        let handling = read_one("drained_at", "Bottom left corner", None)
            .handling
            .unwrap();
        assert_eq!(handling.drain_corner, Some(Corner::BottomLeft));
        assert_eq!(handling.source, HandlingSource::Sheet);
        let through = read_one("drained_at", "bottom left", Some(ScannedFrom::ThroughGlass));
        assert_eq!(
            through.handling.unwrap().drain_corner,
            Some(Corner::BottomRight)
        );
        let handling = read_one("dip_axis_deg", "90", None).handling.unwrap();
        assert_eq!(handling.dip_axis_deg, Some(90.0));
        let quoted = read_one("dipped_first", "left", None).handling.unwrap();
        assert_eq!(quoted.dipped_first, Some(Spot::Left));
    }

    #[test]
    fn mistakes_are_told_in_the_sheets_words() {
        let entries = [(
            "drained_at",
            "Drained at".to_owned(),
            "botom \"left".to_owned(),
        )];
        let Err((column, (what, instead))) = read(&entries, None, None) else {
            panic!("it was understood")
        };
        assert_eq!(column, "Drained at");
        assert!(what.contains("cannot be"), "{what}");
        assert!(!instead.contains("drained_at"), "{instead}");
        let entries = [
            (
                "developer_from",
                "developer from".to_owned(),
                "left".to_owned(),
            ),
            ("developer_to", "developer to".to_owned(), "left".to_owned()),
        ];
        let Err((column, (what, _))) = read(&entries, None, None) else {
            panic!("it was understood")
        };
        assert_eq!(
            (column.as_str(), what.as_str()),
            ("developer to", "does not fit `developer from`")
        );
    }
}
