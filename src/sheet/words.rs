//! Cells that hold one of a few words, and the lists of answers and verdicts.

use super::cells::{Wrong, yes_no};
use super::mistakes::shown;
use crate::causes::{Answer, Catalogue, Says, Verdict};
use crate::findings::{Fault, FindingName};
use crate::handling::slips;
use crate::plate::{PlateKind, Process};

/// Names listed where one is not known.
const MOST_CLOSE: usize = 6;

/// A text in lower case, its words parted by one space.
pub(super) fn plain(text: &str) -> String {
    text.to_lowercase()
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .collect::<Vec<_>>()
        .join(" ")
}

/// The process, by the trade's names or those of the command line.
pub(super) fn process(text: &str) -> Result<Process, Wrong> {
    match plain(text).as_str() {
        "tintype" | "ferrotype" | "aluminium" | "aluminum" | "positive on metal" | "metal" => {
            Ok(Process::PositiveOnMetal)
        }
        "ambrotype" | "positive on glass" | "positive glass" => Ok(Process::PositiveOnGlass),
        "negative" | "negative on glass" | "glass negative" => Ok(Process::NegativeOnGlass),
        _ => Err((
            "is no process".to_owned(),
            "write tintype, ambrotype or negative".to_owned(),
        )),
    }
}

/// What the plate was made for.
pub(super) fn kind(text: &str) -> Result<PlateKind, Wrong> {
    match plain(text).as_str() {
        "picture" | "portrait" | "view" => Ok(PlateKind::Picture),
        "blank" | "blank plate" | "blank test plate" | "unexposed" => Ok(PlateKind::Blank),
        "flat" | "flat plate" | "flat test plate" => Ok(PlateKind::Flat),
        "wedge" | "step wedge" | "steps" => Ok(PlateKind::Wedge),
        _ => Err((
            "is no kind of plate".to_owned(),
            "write picture, blank, flat or wedge".to_owned(),
        )),
    }
}

/// How the plate was when it was scanned.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Finish {
    Wet,
    Dry,
    Varnished,
}

impl Finish {
    pub(super) fn word(self) -> &'static str {
        match self {
            Finish::Wet => "wet",
            Finish::Dry => "dry",
            Finish::Varnished => "varnished",
        }
    }
}

/// Wet, dry or varnished; a column `varnished` may hold yes.
pub(super) fn finish(text: &str, header: &str) -> Result<Finish, Wrong> {
    match plain(text).as_str() {
        "wet" => Ok(Finish::Wet),
        "dry" | "unvarnished" | "not varnished" => Ok(Finish::Dry),
        "varnished" => Ok(Finish::Varnished),
        "yes" | "y" if plain(header) == "varnished" => Ok(Finish::Varnished),
        "no" | "n" if plain(header) == "varnished" => Ok(Finish::Dry),
        _ => Err((
            "is not how a plate is scanned".to_owned(),
            "write wet, dry or varnished".to_owned(),
        )),
    }
}

/// The entries of a cell, each a name and what is said of it. They are parted by semicolons, line breaks,
/// strokes, or by commas where a new name with its colon follows.
fn entries(text: &str) -> Result<Vec<(String, String)>, Wrong> {
    let mut entries: Vec<String> = Vec::new();
    for piece in text.split([';', '\n', '|']) {
        for (at, part) in piece.split(',').enumerate() {
            match entries.last_mut().filter(|_| at > 0 && !part.contains(':')) {
                // The comma stands within the words of the entry before.
                Some(last) => {
                    last.push(',');
                    last.push_str(part);
                }
                None => entries.push(part.to_owned()),
            }
        }
    }
    entries
        .iter()
        .filter(|entry| !entry.trim().is_empty())
        .map(|entry| {
            let divided = entry.split_once(':').or_else(|| entry.split_once('='));
            let (name, said) = divided.ok_or_else(|| {
                (
                    format!("holds `{}` without a colon", shown(entry)),
                    "write a name, a colon and what you found, as in litmus: no".to_owned(),
                )
            })?;
            Ok((name.trim().to_owned(), said.trim().to_owned()))
        })
        .collect()
}

/// The checks that were made, and what they said.
pub(super) fn answers(text: &str, catalogue: &Catalogue) -> Result<Vec<Answer>, Wrong> {
    let mut answers: Vec<Answer> = Vec::new();
    for (name, said) in entries(text)? {
        let check = check(&name, catalogue)?;
        let yes = yes_no(&said).ok_or_else(|| {
            (
                format!(
                    "says `{}` of {check}, which is neither yes nor no",
                    shown(&said)
                ),
                format!("write {check}: yes or {check}: no"),
            )
        })?;
        match answers.iter().find(|known| known.check == check) {
            Some(known) if known.yes != yes => {
                return Err((
                    format!("says both yes and no of {check}"),
                    "keep the right one".to_owned(),
                ));
            }
            Some(_) => {}
            None => answers.push(Answer { check, yes }),
        }
    }
    Ok(answers)
}

/// The check of that name, or of words that say what its yes looks like.
fn check(name: &str, catalogue: &Catalogue) -> Result<String, Wrong> {
    let said = plain(name);
    let meant = catalogue.checks.iter().find(|(id, check)| {
        plain(id) == said || check.said.iter().any(|words| plain(words) == said)
    });
    if let Some((id, _)) = meant {
        return Ok(id.clone());
    }
    Err((
        format!("names the check `{}`, which is not known", shown(name)),
        format!(
            "write the name that stands beside the check in the report; close ones are {}",
            close(&said, catalogue.checks.keys()).join(", ")
        ),
    ))
}

/// Names most like what was said: those that share a word with it first, then by letters.
fn close<'a>(said: &str, names: impl Iterator<Item = &'a String>) -> Vec<&'a str> {
    let shares = |name: &str| {
        let name = plain(name);
        said.split(' ')
            .any(|word| name.split(' ').any(|own| own == word))
    };
    let mut names: Vec<(bool, usize, &str)> = names
        .map(|name| (!shares(name), slips(said, &plain(name)), name.as_str()))
        .collect();
    names.sort_unstable();
    let names = names.into_iter().map(|(_, _, name)| name);
    names.take(MOST_CLOSE).collect()
}

/// What the maker found the findings to be.
pub(super) fn verdicts(text: &str, catalogue: &Catalogue) -> Result<Vec<Verdict>, Wrong> {
    let mut verdicts: Vec<Verdict> = Vec::new();
    for (name, said) in entries(text)? {
        let finding = FindingName::read(&name).ok_or_else(|| no_finding(&name))?;
        let says = Says::read(&said, finding.fault, catalogue).map_err(|close| {
            (
                format!(
                    "gives `{}` as the cause of {}, which is not known",
                    shown(&said),
                    finding.words()
                ),
                format!(
                    "write no fault, or a cause by its name; close ones are {}",
                    close.join(", ")
                ),
            )
        })?;
        if verdicts.iter().any(|known| known.finding == finding) {
            return Err((
                format!("says two things of {}", finding.words()),
                "keep the right one".to_owned(),
            ));
        }
        verdicts.push(Verdict {
            finding,
            says,
            written: format!("{name}: {said}"),
        });
    }
    Ok(verdicts)
}

fn no_finding(name: &str) -> Wrong {
    let faults: Vec<String> = Fault::ALL
        .iter()
        .map(|fault| fault.short().to_lowercase())
        .collect();
    (
        format!("names the finding `{}`, which is none", shown(name)),
        format!(
            "write the name that stands under its title in the report, as in edge fog left; close ones are {}",
            close(&plain(name), faults.iter()).join(", ")
        ),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn catalogue() -> Catalogue {
        Catalogue::built_in().unwrap()
    }

    #[test]
    fn answers_are_names_with_yes_or_no() {
        let read = |text: &str| answers(text, &catalogue());
        let said = read("litmus: yes; Other-holder = no").unwrap();
        let said: Vec<_> = said.iter().map(|a| (a.check.as_str(), a.yes)).collect();
        assert_eq!(said, [("litmus", true), ("other_holder", false)]);
        assert_eq!(
            read("blue litmus stayed blue: yes").unwrap()[0].check,
            "litmus"
        );
        assert_eq!(
            read("litmus: no, reserve bath: yes\ncoin: no")
                .unwrap()
                .len(),
            3
        );
        assert!(read("").unwrap().is_empty());
        for (text, says, instead) in [
            ("litmuss: yes", "names the check `litmuss`", "litmus"),
            ("holder: yes", "not known", "other_holder"),
            (
                "litmus: perhaps",
                "neither yes nor no",
                "litmus: yes or litmus: no",
            ),
            ("litmus yes", "without a colon", "as in litmus: no"),
            ("litmus: yes; litmus: no", "both yes and no", "keep"),
        ] {
            let (what, hint) = read(text).unwrap_err();
            assert!(
                what.contains(says) && hint.contains(instead),
                "{text}: {what}; {hint}"
            );
        }
    }

    #[test]
    fn verdicts_are_findings_with_causes() {
        let read = |text: &str| verdicts(text, &catalogue());
        let said = read("comets: no fault; edge fog left: it was the holder").unwrap();
        assert_eq!(said[0].says, Says::NoFault);
        assert!(matches!(&said[1].says, Says::Causes(ids) if ids.len() > 1));
        let comma = "veil: The developer is too warm or too strong, or stayed on too long";
        assert_eq!(
            read(comma).unwrap()[0].says,
            Says::Causes(vec!["developer_warm_or_strong".into()])
        );
        for (text, says, instead) in [
            (
                "f1: no fault",
                "names the finding `f1`",
                "stands under its title",
            ),
            ("edge fgo: no fault", "which is none", "edge fog"),
            ("stain: the weather", "not known", "close ones are"),
            (
                "comets: no fault; comets: dust",
                "two things of comets",
                "keep",
            ),
        ] {
            let (what, hint) = read(text).unwrap_err();
            assert!(
                what.contains(says) && hint.contains(instead),
                "{text}: {what}; {hint}"
            );
        }
    }

    #[test]
    fn words_of_the_trade_are_understood() {
        assert_eq!(process("Tin-type").ok(), None);
        assert_eq!(process("TINTYPE"), Ok(Process::PositiveOnMetal));
        assert_eq!(process("negative_on_glass"), Ok(Process::NegativeOnGlass));
        assert_eq!(kind("blank"), Ok(PlateKind::Blank));
        assert_eq!(finish("yes", "Varnished"), Ok(Finish::Varnished));
        assert!(finish("yes", "finish").is_err());
    }
}
