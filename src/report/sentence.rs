//! The sentence that sums a plate up, and what it leaves open.

use super::{Report, ReportedFinding, words};
use crate::findings::{Fault, Severity, Standing};
use crate::plate::{PlateKind, ScaleSource};

/// Faults that no picture can be cleared of, whatever it shows: the scene's own light and detail look like
/// them. The page says so where it says what the plate cannot tell; in a headline it would stand on every
/// picture and warn of nothing.
const NO_PICTURE_CLEARS: [Fault; 5] = [
    Fault::UnevenPour,
    Fault::Ridges,
    Fault::Comets,
    Fault::Pinholes,
    Fault::Specks,
];

/// What was found, worst first, as a sentence without its full stop.
pub(super) fn found(report: &Report) -> String {
    let mut clauses: Vec<String> = Vec::new();
    for (severity, seen) in [
        (Severity::Spoils, "spoils the plate"),
        (Severity::Visible, "visible"),
        (Severity::Trace, "a trace"),
    ] {
        let phrases = phrases(report, severity);
        if !phrases.is_empty() {
            clauses.push(format!("{} ({seen})", words::listed(&phrases)));
        }
    }
    if clauses.is_empty() {
        return match report.findings.is_empty() {
            true => "Nothing wrong was found on this plate",
            false => "Nothing wrong is left on this plate: what was found, you call no fault",
        }
        .to_owned();
    }
    words::capitalised(&format!("{}; nothing else was found", clauses.join("; ")))
}

/// Faults whose worst finding is of that severity, proven ones first.
fn phrases(report: &Report, severity: Severity) -> Vec<String> {
    let mut phrases = Vec::new();
    for (standing, perhaps) in [(Standing::Measured, ""), (Standing::Suggested, "perhaps ")] {
        for fault in Fault::ALL {
            let group: Vec<&ReportedFinding> = report
                .findings
                .iter()
                .filter(|f| f.fault == *fault && f.standing == standing && !f.refuted())
                .collect();
            if group.iter().map(|f| f.severity).max() == Some(severity) {
                phrases.push(format!("{perhaps}{}", phrase(*fault, &group)));
            }
        }
    }
    phrases
}

/// What to bear in mind where no outline was found: findings may lie on the lid. A scan that by its resolution has
/// the size of a plate ends at the plate's edges.
pub(super) fn outline(report: &Report) -> Option<&'static str> {
    let measured = report.scan.scale_source == ScaleSource::FileTag;
    let cropped_to_plate = measured && report.plate.size_name.is_some();
    (!report.plate.found && !cropped_to_plate).then_some(
        "No outline of the plate was found, so the whole scan was read as the plate. If any lid shows in it, what \
         is named there is the lid's: give --corners, or scan again with lid of another tone all around.",
    )
}

/// What this plate cannot show, as a clause: `veil and edge fog cannot be told`.
pub(super) fn untold(report: &Report) -> Option<String> {
    cannot_be_told(&untold_names(report))
}

/// Names of faults as a clause; none of none.
pub(super) fn cannot_be_told(names: &[String]) -> Option<String> {
    (!names.is_empty()).then(|| format!("{} cannot be told", words::listed(names)))
}

/// Names of the faults that were neither found nor can be told on this plate, each once; without those that
/// no picture tells.
pub(super) fn untold_names(report: &Report) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    let picture = report.plate.kind == PlateKind::Picture;
    for entry in &report.cannot_tell {
        if picture && NO_PICTURE_CLEARS.contains(&entry.fault) {
            continue;
        }
        let found = report.findings.iter().any(|f| f.fault == entry.fault);
        let name = match entry.fault {
            Fault::Underfixed => "fixing".to_owned(),
            Fault::FlatImage => "contrast".to_owned(),
            Fault::LightLeak => "light leaks".to_owned(),
            Fault::Comets | Fault::Pinholes | Fault::Specks => {
                format!("a few {}", words::lowered(entry.fault.short()))
            }
            fault => words::lowered(fault.short()),
        };
        if !found && !names.contains(&name) {
            names.push(name);
        }
    }
    let of_marks = names.iter().filter(|name| name.starts_with("a few "));
    if of_marks.count() > 1 {
        names.retain(|name| !name.starts_with("a few "));
        let marks = [Fault::Comets, Fault::Pinholes, Fault::Specks];
        let found = report.findings.iter().any(|f| marks.contains(&f.fault));
        names.push(
            if found {
                "a few other small marks"
            } else {
                "a few small marks"
            }
            .to_owned(),
        );
    }
    names
}

/// The fault with its count and place.
fn phrase(fault: Fault, group: &[&ReportedFinding]) -> String {
    match fault {
        Fault::Veil => "a veil over the whole plate".to_owned(),
        Fault::EdgeFog => {
            let places = places(group);
            match places.len() {
                0 => "edge fog".to_owned(),
                4 => "edge fog on all four edges".to_owned(),
                _ => format!("edge fog along the {}", words::listed(&places)),
            }
        }
        Fault::LightLeak => counted("light leak", "light leaks", group),
        Fault::Streaks => with_place("streaks", group),
        Fault::DipLine => counted("dip line", "dip lines", group),
        Fault::Comets => match group {
            [one] if one.direction_deg.is_some() => {
                let toward = words::toward(one.direction_deg.unwrap_or_default());
                format!("comets with tails to {toward}")
            }
            _ => with_place("comets", group),
        },
        Fault::Pinholes => with_place("pinholes", group),
        Fault::Specks => with_place("specks", group),
        Fault::UnevenPour => "an uneven pour".to_owned(),
        Fault::Ridges => "ridges in the coating".to_owned(),
        Fault::BareArea => counted("bare place", "bare places", group),
        Fault::Stain => counted("stain", "stains", group),
        Fault::Scratch => counted("scratch", "scratches", group),
        Fault::Lifting => "lifting film".to_owned(),
        Fault::Underfixed => "signs that it is not fixed out".to_owned(),
        Fault::FlatImage => "a flat image".to_owned(),
        Fault::ScanDust => "dust on the scanner".to_owned(),
    }
}

fn counted(one: &str, many: &str, group: &[&ReportedFinding]) -> String {
    if group.len() > 1 {
        return format!("{} {many}", group.len());
    }
    with_place(&format!("a {one}"), group)
}

fn with_place(name: &str, group: &[&ReportedFinding]) -> String {
    match places(group).as_slice() {
        [place] if words::is_corner(place) => format!("{name} at the {place} corner"),
        [place] => format!("{name} at the {place} edge"),
        _ => name.to_owned(),
    }
}

/// The places of a group, in words, each once, in the order found.
fn places(group: &[&ReportedFinding]) -> Vec<String> {
    let mut places: Vec<String> = Vec::new();
    for finding in group {
        if let Some(place) = finding.place.as_deref().map(words::place)
            && !places.contains(&place)
        {
            places.push(place);
        }
    }
    places
}
