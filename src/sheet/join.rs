//! Rows to scans, by file name: forgiving on folder, capitals and ending, never guessing.

use super::mistakes::{Note, shown};
use super::{Row, Sheet};

/// Which row belongs to which scan.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Joined {
    /// For each scan, in their order, the index of its row.
    pub rows: Vec<Option<usize>>,
    /// Rows that belong to no scan or to several, and scans with several rows.
    pub notes: Vec<Note>,
}

/// Joins the rows of a sheet to scans, given by their names without folder and ending.
///
/// A row fits the scan whose name is the same but for folder, capitals and ending; failing that, the one
/// whose name has the same letters and figures (`plate 17` and `plate_17`). A sheet whose only row names no
/// scan, or only the plate, goes with the only scan.
pub fn join(sheet: &Sheet, stems: &[&str]) -> Joined {
    let mut joined = Joined {
        rows: vec![None; stems.len()],
        notes: Vec::new(),
    };
    if let ([row], [_]) = (&sheet.rows[..], stems)
        && (row.scan.is_none() || row.named_by_plate)
    {
        joined.rows = vec![Some(0)];
        return joined;
    }
    let mut of_scan: Vec<Vec<usize>> = vec![Vec::new(); stems.len()];
    let mut alone = Vec::new();
    for (index, row) in sheet.rows.iter().enumerate() {
        let Some(name) = row.scan.as_deref() else {
            joined.notes.push(names_none(row));
            continue;
        };
        match scans_of(name, stems)[..] {
            [one] => of_scan[one].push(index),
            [] => alone.push((row, name)),
            [one, two, ..] => joined.notes.push(Note::at(
                row.line,
                format!(
                    "`{}` may be {} or {}, so the row is used for neither",
                    shown(name),
                    shown(stems[one]),
                    shown(stems[two])
                ),
                "write the name of the scan in full",
            )),
        }
    }
    for (scan, rows) in of_scan.iter().enumerate() {
        match rows[..] {
            [] => {}
            [one] => joined.rows[scan] = Some(one),
            [first, second, ..] => joined.notes.push(Note::at(
                sheet.rows[second].line,
                format!(
                    "{} has another row in line {}, so neither is used",
                    shown(stems[scan]),
                    sheet.rows[first].line
                ),
                "keep one row for each scan",
            )),
        }
    }
    joined.notes.extend(alone.into_iter().map(|(row, name)| {
        Note::at(
            row.line,
            format!("no scan of this run is called `{}`", shown(name)),
            "compare the name with that of the file; plates that share one scan share one row",
        )
    }));
    joined
}

fn names_none(row: &Row) -> Note {
    Note::at(
        row.line,
        "the row names no scan, so it is not used",
        "add a column scan with the name of each scan file",
    )
}

/// The scans that a name may mean.
fn scans_of(name: &str, stems: &[&str]) -> Vec<usize> {
    let stem = stem_of(name);
    let whole = name.rsplit(['/', '\\']).next().unwrap_or(name).trim();
    let fitting = |fits: &dyn Fn(&str) -> bool| -> Vec<usize> {
        let scans = stems.iter().enumerate();
        scans
            .filter(|(_, own)| fits(own))
            .map(|(index, _)| index)
            .collect()
    };
    // A name with a point in it may have no ending at all: `day.17`.
    let same = |own: &str| {
        own.to_lowercase() == whole.to_lowercase() || own.to_lowercase() == stem.to_lowercase()
    };
    let exact = fitting(&same);
    if !exact.is_empty() {
        return exact;
    }
    let said = letters(stem);
    match said.is_empty() {
        true => Vec::new(),
        false => fitting(&|own| letters(own) == said),
    }
}

/// The name without folder and ending.
fn stem_of(name: &str) -> &str {
    let file = name.rsplit(['/', '\\']).next().unwrap_or(name).trim();
    match file.rsplit_once('.') {
        Some((stem, _)) if !stem.is_empty() => stem,
        _ => file,
    }
}

/// Letters and figures in lower case, parted where something else stands between them: `plate-1-7` is not
/// `plate-17`.
fn letters(name: &str) -> String {
    name.to_lowercase()
        .split(|c: char| !c.is_alphanumeric())
        .filter(|part| !part.is_empty())
        .collect::<Vec<_>>()
        .join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn joined(names: &[&str], stems: &[&str]) -> (Vec<Option<usize>>, Vec<String>) {
        let rows = names.iter().enumerate().map(|(index, name)| Row {
            line: index + 2,
            scan: (!name.is_empty()).then(|| (*name).to_owned()),
            ..Row::default()
        });
        let sheet = Sheet {
            rows: rows.collect(),
            notes: Vec::new(),
        };
        let joined = join(&sheet, stems);
        (joined.rows, joined.notes.iter().map(Note::words).collect())
    }

    #[test]
    fn names_are_the_same_but_for_folder_case_and_ending() {
        for name in [
            "a-1.tif",
            "A-1",
            "day/A-1.TIFF",
            "C:\\scans\\a-1.png",
            "a 1",
            "A_1.tif",
        ] {
            assert_eq!(
                joined(&[name], &["b", "a-1"]),
                (vec![None, Some(0)], vec![]),
                "{name}"
            );
        }
        assert_eq!(joined(&["day.17"], &["day.17"]).0, [Some(0)]);
        assert_eq!(joined(&["a-1-7"], &["a-17"]).0, [None]);
        // The exact name goes before one that is only like it.
        assert_eq!(
            joined(&["a-1", "a_1"], &["a-1", "a_1"]).0,
            [Some(0), Some(1)]
        );
        assert_eq!(joined(&[""], &["a"]).0, [Some(0)], "one row, one scan");
        let mut sheet = Sheet {
            rows: vec![Row {
                scan: Some("B-017".to_owned()),
                named_by_plate: true,
                ..Row::default()
            }],
            notes: Vec::new(),
        };
        assert_eq!(join(&sheet, &["scan0001"]).rows, [Some(0)]);
        sheet.rows[0].named_by_plate = false;
        assert_eq!(join(&sheet, &["scan0001"]).rows, [None]);
    }

    #[test]
    fn nothing_is_guessed_and_all_is_said() {
        let (rows, notes) = joined(&["a", "c", "A.tif", ""], &["a", "b"]);
        assert_eq!(rows, [None, None]);
        assert_eq!(
            notes,
            [
                "line 5: the row names no scan, so it is not used",
                "line 4: a has another row in line 2, so neither is used",
                "line 3: no scan of this run is called `c`",
            ]
        );
        let (rows, notes) = joined(&["a 1"], &["a-1", "a_1"]);
        assert_eq!(rows, [None, None]);
        assert_eq!(
            notes,
            ["line 2: `a 1` may be a-1 or a_1, so the row is used for neither"]
        );
    }
}
