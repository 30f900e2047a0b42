//! The handling file: a few lines of TOML in the maker's own words.
//!
//! Words (`drained_at = "bottom left"`) are as one sees the plate with its coated side toward one and
//! that edge up which is up in the scan. Figures (`dip_axis_deg`) and `drain_corner` are as the plate
//! lies in the scan. Where the plate was scanned through its glass, the words' left and right are
//! exchanged.

use toml::de::DeTable;

use super::{Handling, HandlingSource, LeftRight, ScannedFrom, Spot, direction_between};
use crate::raster::geometry::{between_axes_deg, between_directions_deg};
use entry::Entry;
use mistakes::{form, line_of, shown};
use names::{ENTRIES, nearest};

mod entry;
mod mistakes;
mod names;

pub use mistakes::HandlingError;
pub use names::slips;

/// How far an axis or a direction in figures may lie from one in words before they contradict each
/// other, degrees: words know eighths of a turn only. Our own choice; the tests of this file would
/// notice a change.
const WORDS_APART_DEG: f64 = 45.0;

/// What a handling file says.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct HandlingFile {
    /// How the plate was made; `None` when the file leaves all of it open.
    pub handling: Option<Handling>,
    /// The side that lay toward the scanner.
    pub scanned_from: Option<ScannedFrom>,
}

/// Reads the text of a handling file. `side` is the side toward the scanner as stated elsewhere, which
/// goes before that of the file.
///
/// # Errors
/// One sentence about the first line that cannot be used, and what to write instead.
pub fn read(text: &str, side: Option<ScannedFrom>) -> Result<HandlingFile, HandlingError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let words = words(text)?;
    let scanned_from = side.or(words.scanned_from);
    Ok(HandlingFile {
        handling: words.in_scan(scanned_from)?.said_by(HandlingSource::File),
        scanned_from,
    })
}

/// The same from entries that stand elsewhere, each its name and what is said of it: the cells of a sheet.
/// `side` is the side toward the scanner as stated elsewhere. Lines of errors count the entries.
///
/// # Errors
/// As [`read`].
pub fn read_entries(
    entries: &[(&str, &str)],
    side: Option<ScannedFrom>,
) -> Result<HandlingFile, HandlingError> {
    let mut text = String::new();
    for (entry, said) in entries {
        let value = match (entry.ends_with("_deg"), said.parse::<f64>()) {
            (true, Ok(deg)) => toml::Value::from(deg),
            _ => toml::Value::from(one_line(said)),
        };
        text.push_str(&format!("{entry} = {value}\n"));
    }
    read(&text, side)
}

/// Words without line breaks and other control characters.
fn one_line(said: &str) -> String {
    said.chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect()
}

/// A value and the line it stands in.
type Said<T> = Option<(T, usize)>;

/// The entries of a file as they stand there.
#[derive(Debug, Default)]
struct Words {
    poured_from: Said<Spot>,
    drained_at: Said<Spot>,
    dipped_first: Said<Spot>,
    developer_from: Said<Spot>,
    developer_to: Said<Spot>,
    lowest_in_holder: Said<Spot>,
    scanned_from: Option<ScannedFrom>,
    dip_axis_deg: Said<f64>,
    developer_direction_deg: Said<f64>,
    drain_corner: Said<Spot>,
}

fn words(text: &str) -> Result<Words, HandlingError> {
    let table = DeTable::parse(text).map_err(|error| form(text, &error))?;
    let mut words = Words::default();
    // In the order of the lines, so that the first mistake is told first.
    let mut entries: Vec<_> = table.get_ref().iter().collect();
    entries.sort_by_key(|(key, _)| key.span().start);
    for (key, value) in entries {
        let line = line_of(text, &key.span());
        let Some(entry) = ENTRIES.into_iter().find(|entry| key.get_ref() == entry) else {
            return Err(HandlingError::Entry {
                line,
                entry: shown(key.get_ref()),
                nearest: nearest(key.get_ref()),
            });
        };
        let of = Entry { entry, line, value };
        let line = Some(line);
        let with_line = |spot: Spot| line.map(|line| (spot, line));
        match entry {
            "poured_from" => words.poured_from = with_line(of.spot(|_| true)?),
            "drained_at" => words.drained_at = with_line(of.spot(is_corner)?),
            "drain_corner" => words.drain_corner = with_line(of.spot(is_corner)?),
            "dipped_first" => words.dipped_first = with_line(of.spot(is_rim)?),
            "developer_from" => words.developer_from = with_line(of.spot(is_rim)?),
            "developer_to" => words.developer_to = with_line(of.spot(is_rim)?),
            "lowest_in_holder" => words.lowest_in_holder = with_line(of.spot(is_rim)?),
            "scanned_from" => words.scanned_from = Some(of.side()?),
            "dip_axis_deg" => words.dip_axis_deg = Some((of.degrees(180.0)?, of.line)),
            _ => words.developer_direction_deg = Some((of.degrees(360.0)?, of.line)),
        }
    }
    Ok(words)
}

fn is_corner(spot: Spot) -> bool {
    spot.corner().is_some()
}

fn is_rim(spot: Spot) -> bool {
    spot != Spot::Middle
}

impl Words {
    /// The same as the plate lies in the scan.
    fn in_scan(self, side: Option<ScannedFrom>) -> Result<Handling, HandlingError> {
        let through = side == Some(ScannedFrom::ThroughGlass);
        let seen = |said: Said<Spot>| {
            said.map(|(spot, line)| (if through { spot.mirrored() } else { spot }, line))
        };
        let drained = seen(self.drained_at);
        let dipped = seen(self.dipped_first);
        let (from, to) = (seen(self.developer_from), seen(self.developer_to));
        let (poured, lowest) = (seen(self.poured_from), seen(self.lowest_in_holder));
        let has_sides = [drained, dipped, from, to, poured, lowest]
            .into_iter()
            .flatten()
            .any(|(spot, _)| spot != spot.mirrored());
        if let (Some((a, line)), Some((b, other_line))) = (drained, self.drain_corner)
            && a != b
        {
            return Err(contradiction(
                ("drained_at", line),
                ("drain_corner", other_line),
            ));
        }
        let axis_of_words = dipped.and_then(|(spot, _)| Some(spot.direction_deg()? % 180.0));
        if let (Some((a, line)), Some(b), Some((_, other_line))) =
            (self.dip_axis_deg, axis_of_words, dipped)
            && between_axes_deg(a, b) > WORDS_APART_DEG
        {
            return Err(contradiction(
                ("dip_axis_deg", line),
                ("dipped_first", other_line),
            ));
        }
        let sweep_of_words = sweep(from, to)?;
        if let (Some((a, line)), Some(b), Some((entry, other_line))) = (
            self.developer_direction_deg,
            sweep_of_words,
            to.map(|(_, line)| ("developer_to", line))
                .or(from.map(|(_, line)| ("developer_from", line))),
        ) && between_directions_deg(a, b) > WORDS_APART_DEG
        {
            return Err(contradiction(
                ("developer_direction_deg", line),
                (entry, other_line),
            ));
        }
        let spot = |said: Said<Spot>| said.map(|(spot, _)| spot);
        Ok(Handling {
            dip_axis_deg: self.dip_axis_deg.map(|(deg, _)| deg).or(axis_of_words),
            dipped_first: spot(dipped),
            developer_direction_deg: self
                .developer_direction_deg
                .map(|(deg, _)| deg)
                .or(sweep_of_words),
            developer_from: spot(from),
            developer_to: spot(to),
            drain_corner: spot(drained)
                .or(spot(self.drain_corner))
                .and_then(Spot::corner),
            poured_from: spot(poured),
            lowest_in_holder: spot(lowest),
            left_right: has_sides.then_some(match side {
                Some(ScannedFrom::CoatedSide) => LeftRight::AsSeen,
                Some(ScannedFrom::ThroughGlass) => LeftRight::Exchanged,
                None => LeftRight::SideUnknown,
            }),
            ..Handling::default()
        })
    }
}

/// Direction of the developer's sweep by its two ends; by one of them, when the other is not told.
fn sweep(from: Said<Spot>, to: Said<Spot>) -> Result<Option<f64>, HandlingError> {
    match (from, to) {
        (Some((from, other_line)), Some((to, line))) => match direction_between(from, to) {
            None => Err(contradiction(
                ("developer_to", line),
                ("developer_from", other_line),
            )),
            direction => Ok(direction),
        },
        (Some((from, _)), None) => Ok(from.opposite().direction_deg()),
        (None, to) => Ok(to.and_then(|(spot, _)| spot.direction_deg())),
    }
}

fn contradiction(one: (&'static str, usize), two: (&'static str, usize)) -> HandlingError {
    // The later line is the one that does not fit.
    let ((entry, line), (other, other_line)) = if one.1 >= two.1 {
        (one, two)
    } else {
        (two, one)
    };
    HandlingError::Contradiction {
        line,
        entry,
        other,
        other_line,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::handling::Corner;

    fn handling(text: &str, side: Option<ScannedFrom>) -> Handling {
        read(text, side).unwrap().handling.unwrap()
    }

    #[test]
    fn friendly_words_become_the_plate_frame() {
        let said = handling(
            "# plate 17\r\npoured_from = 'the middle'\r\ndrained_at = \"Bottom-Left corner\"\n\
             dipped_first = \"lower edge\"\ndeveloper_from = \"left\"\ndeveloper_to = \"top right\"\n\
             lowest_in_holder = \"left_bottom\"\nscanned_from = \"coated side\"\n",
            None,
        );
        assert_eq!(said.dip_axis_deg, Some(0.0));
        assert_eq!(said.dipped_first, Some(Spot::Bottom));
        let sweep = said.developer_direction_deg.unwrap();
        assert!((sweep - 63.43).abs() < 0.01, "{sweep}");
        assert_eq!(said.drain_corner, Some(Corner::BottomLeft));
        assert_eq!(said.poured_from, Some(Spot::Middle));
        assert_eq!(said.lowest_in_holder, Some(Spot::BottomLeft));
        assert_eq!(said.left_right, Some(LeftRight::AsSeen));
        assert_eq!(said.source, HandlingSource::File);
        assert_eq!(said.sources.len(), 8);
    }

    #[test]
    fn through_the_glass_words_are_mirrored_and_figures_are_not() {
        let text = "drained_at = \"bottom left\"\ndeveloper_to = \"right\"\ndip_axis_deg = 30\n";
        let plain = handling(text, None);
        assert_eq!(plain.left_right, Some(LeftRight::SideUnknown));
        assert_eq!(plain.drain_corner, Some(Corner::BottomLeft));
        let seen = handling(text, Some(ScannedFrom::ThroughGlass));
        assert_eq!(seen.drain_corner, Some(Corner::BottomRight));
        assert_eq!(seen.developer_direction_deg, Some(270.0));
        assert_eq!(seen.dip_axis_deg, Some(30.0));
        assert_eq!(seen.left_right, Some(LeftRight::Exchanged));
        let corner = handling(
            "drain_corner = \"top_left\"\nscanned_from = \"through the glass\"",
            None,
        );
        assert_eq!(corner.drain_corner, Some(Corner::TopLeft));
        assert_eq!(corner.left_right, None, "no word has a left or right");
        // What is typed goes before the file.
        let typed = read(
            "scanned_from = \"through glass\"\ndipped_first = \"left\"",
            Some(ScannedFrom::CoatedSide),
        )
        .unwrap();
        assert_eq!(typed.scanned_from, Some(ScannedFrom::CoatedSide));
        assert_eq!(typed.handling.unwrap().dipped_first, Some(Spot::Left));
    }

    #[test]
    fn one_end_of_the_sweep_is_enough() {
        for (text, direction) in [
            ("developer_from = \"left\"", 90.0),
            ("developer_to = \"bottom right\"", 135.0),
            ("developer_direction_deg = 360", 0.0),
            (
                "developer_to = \"right\"\ndeveloper_direction_deg = 100.5",
                100.5,
            ),
        ] {
            assert_eq!(
                handling(text, None).developer_direction_deg,
                Some(direction),
                "{text}"
            );
        }
    }

    #[test]
    fn mistakes_are_told_with_line_and_cure() {
        for (text, says, instead) in [
            (
                "\n\ndrainned_at = \"bottom left\"",
                "line 3: there is no entry `drainned_at`",
                "write `drained_at`",
            ),
            (
                "dip-axis = 3",
                "there is no entry `dip-axis`",
                "write `dip_axis_deg`",
            ),
            (
                "colour = 3",
                "there is no entry `colour`",
                "the entries are poured_from, drained_at",
            ),
            (
                "[plate]\ndrained_at = \"left\"",
                "line 1: there is no entry `plate`",
                "the entries are",
            ),
            (
                "drained_at = \"botom left\"",
                "line 1: `drained_at` cannot be \"botom left\"",
                "write drained_at = \"bottom left\"",
            ),
            (
                "drained_at = \"left\"",
                "cannot be \"left\"",
                "name a corner",
            ),
            (
                "dipped_first = \"middle\"",
                "cannot be \"middle\"",
                "name an edge or a corner",
            ),
            ("poured_from = \"there\"", "cannot be", "or \"middle\""),
            ("poured_from = [1]", "cannot be a list", "name an edge"),
            (
                "dip_axis_deg = \"90\"",
                "cannot be \"90\"",
                "write a figure from 0 to 180 without quotes, as in dip_axis_deg = 90",
            ),
            ("dip_axis_deg = 200", "cannot be 200", "from 0 to 180"),
            ("dip_axis_deg = nan", "cannot be nan", "from 0 to 180"),
            ("developer_direction_deg = -1", "cannot be -1", "0 to 360"),
            (
                "scanned_from = \"above\"",
                "`scanned_from` cannot be \"above\"",
                "\"coated side\"",
            ),
            (
                "# one\ndrained_at = bottom left",
                "line 2: the words after the equals sign stand without quotes",
                "write drained_at = \"bottom left\"",
            ),
            (
                "drained_at \"bottom left\"",
                "line 1: this is no entry",
                "a line that begins with # is a remark",
            ),
            ("drained_at = \"bottom left", "line 1", "write one entry"),
            (
                "dip_axis_deg = 1\ndip_axis_deg = 2",
                "line 2: this entry stands in the file twice",
                "keep one",
            ),
            (
                "drained_at = \"top left\"\ndrain_corner = \"top_right\"",
                "line 2: `drain_corner` does not fit `drained_at` in line 1",
                "keep the right one",
            ),
            (
                "dip_axis_deg = 90\ndipped_first = \"top\"",
                "line 2: `dipped_first` does not fit `dip_axis_deg` in line 1",
                "keep",
            ),
            (
                "developer_direction_deg = 270\ndeveloper_to = \"right\"",
                "line 2: `developer_to` does not fit",
                "keep",
            ),
            (
                "developer_from = \"left\"\ndeveloper_to = \"left edge\"",
                "line 2: `developer_to` does not fit `developer_from` in line 1",
                "keep",
            ),
        ] {
            let error = read(text, None).unwrap_err();
            assert!(error.to_string().contains(says), "{text}: {error}");
            assert!(error.hint().contains(instead), "{text}: {}", error.hint());
        }
    }

    #[test]
    fn an_empty_file_says_nothing_and_rubbish_does_no_harm() {
        for text in ["", "# nothing yet\n", "\u{feff}"] {
            assert_eq!(read(text, None), Ok(HandlingFile::default()));
        }
        for text in [
            "\u{0}",
            "=",
            "a.b.c = 1",
            "\"\" = 2",
            "x = {",
            "\u{202e} = 1",
        ] {
            assert!(read(text, None).is_err(), "{text:?}");
        }
        let long = format!("{} = 1", "x".repeat(100_000));
        assert!(read(&long, None).unwrap_err().to_string().len() < 200);
    }
}
