//! One line a plate for the terminal, in plain ASCII.

use super::{Report, sentence, words};
use crate::doubts::Doubt;
use crate::findings::Standing;

/// Widest a file name may be in a table, characters.
const NAME_WIDTH: usize = 32;

/// One plate in one line: name of the file, size, process, main findings.
pub fn line(report: &Report) -> String {
    cells(&report.scan.file, report).join("  ")
}

/// One line a plate under the name it goes by, names, sizes and processes aligned. Ends without a
/// line break.
pub fn table(plates: &[(String, &Report)]) -> String {
    let rows: Vec<[String; 4]> = plates
        .iter()
        .map(|(name, report)| cells(name, report))
        .collect();
    let width = |column: usize| rows.iter().map(|row| row[column].len()).max().unwrap_or(0);
    let (name, size, process) = (width(0), width(1), width(2));
    let lines: Vec<String> = rows
        .iter()
        .map(|[n, s, p, findings]| format!("{n:name$}  {s:size$}  {p:process$}  {findings}"))
        .collect();
    lines.join("\n")
}

fn cells(name: &str, report: &Report) -> [String; 4] {
    let plate = &report.plate;
    let size = match (plate.width_mm, plate.height_mm) {
        (Some(width), Some(height)) => format!("{width:.0} x {height:.0} mm"),
        _ => "size unknown".to_owned(),
    };
    [
        shortened(&plain(name)),
        size,
        plate.process.words().to_owned(),
        plain(&findings(report)),
    ]
}

fn findings(report: &Report) -> String {
    let clauses: Vec<String> = report
        .worst_first()
        .iter()
        .filter(|finding| !finding.refuted())
        .map(|finding| {
            let perhaps = match finding.standing {
                Standing::Measured => "",
                Standing::Suggested => "perhaps ",
            };
            let place = finding
                .place
                .as_deref()
                .map_or(String::new(), |place| format!(" {}", words::place(place)));
            format!(
                "{perhaps}{}{place} ({})",
                words::lowered(finding.fault.short()),
                words::severity_short(finding.severity)
            )
        })
        .collect();
    let found = match clauses.is_empty() {
        true => "nothing found".to_owned(),
        false => clauses.join(", "),
    };
    let outline = sentence::outline(report).map(|_| Doubt::PlateNotFound.short().to_owned());
    let more: Vec<String> = [Some(found), outline, sentence::untold(report)]
        .into_iter()
        .flatten()
        .collect();
    more.join("; ")
}

/// Printable ASCII only; anything else becomes a question mark, so that no name can move the cursor.
fn plain(text: &str) -> String {
    text.chars()
        .map(|c| {
            if c == ' ' || c.is_ascii_graphic() {
                c
            } else {
                '?'
            }
        })
        .collect()
}

fn shortened(name: &str) -> String {
    if name.len() <= NAME_WIDTH {
        return name.to_owned();
    }
    // Plain ASCII by now, so bytes are characters.
    let tail = name.len() - 12;
    format!("{}...{}", &name[..NAME_WIDTH - 15], &name[tail..])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_plain_and_short() {
        assert_eq!(plain("a\u{1b}[2Jü.tif"), "a?[2J?.tif");
        let long = shortened(&"x".repeat(80));
        assert_eq!(long.len(), NAME_WIDTH);
    }
}
