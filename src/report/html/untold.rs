//! What the plate cannot tell, said once for faults with the same reason.

use serde::Serialize;

use crate::findings::CannotTell;
use crate::report::words;

/// Faults that cannot be told for one reason, and the plate that would show them.
#[derive(Serialize)]
pub(super) struct UntoldView {
    faults: String,
    because: String,
    make: String,
}

/// Entries with the same reason become one, with a plate to make for each kind of fault.
pub(super) fn views(entries: &[CannotTell]) -> Vec<UntoldView> {
    let mut grouped: Vec<Untold> = Vec::new();
    for entry in entries {
        let name = words::lowered(entry.fault.short());
        let known = grouped
            .iter()
            .position(|untold| untold.because == entry.because);
        let at = known.unwrap_or(grouped.len());
        if known.is_none() {
            grouped.push(Untold {
                because: &entry.because,
                plates: Vec::new(),
            });
        }
        let plates = &mut grouped[at].plates;
        let plate = entry.make_this_plate.as_str();
        match plates.iter_mut().find(|(_, other)| *other == plate) {
            Some((names, _)) => names.push(name),
            None => plates.push((vec![name], plate)),
        }
    }
    grouped.iter().map(Untold::view).collect()
}

/// One reason, and the plates that would tell, each with its faults.
struct Untold<'a> {
    because: &'a str,
    plates: Vec<(Vec<String>, &'a str)>,
}

impl Untold<'_> {
    fn view(&self) -> UntoldView {
        let names: Vec<String> = self
            .plates
            .iter()
            .flat_map(|(names, _)| names.clone())
            .collect();
        let make = match self.plates.as_slice() {
            [(_, plate)] => (*plate).to_owned(),
            several => several
                .iter()
                .map(|(names, plate)| format!("for {} {plate}", words::listed(names)))
                .collect::<Vec<String>>()
                .join("; "),
        };
        UntoldView {
            faults: words::capitalised(&words::listed(&names)),
            because: words::sentence(self.because),
            make: words::sentence(&make),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::Fault;

    #[test]
    fn one_reason_is_said_once() {
        let entry = |fault, because: &str| CannotTell {
            fault,
            because: because.to_owned(),
            make_this_plate: "a blank".to_owned(),
        };
        let views = views(&[
            entry(Fault::Veil, "no rim"),
            entry(Fault::EdgeFog, "no border"),
            entry(Fault::LightLeak, "no border"),
        ]);
        assert_eq!(views.len(), 2);
        assert_eq!(views[1].faults, "Edge fog and light leak");
        assert_eq!(views[1].because, "No border.");
    }

    #[test]
    fn one_reason_with_two_plates_names_both() {
        let entry = |fault, plate: &str| CannotTell {
            fault,
            because: "a busy scene".to_owned(),
            make_this_plate: plate.to_owned(),
        };
        let views = views(&[
            entry(Fault::Comets, "a flat one"),
            entry(Fault::Pinholes, "a flat one"),
            entry(Fault::Specks, "a blank one"),
        ]);
        assert_eq!(views.len(), 1);
        assert_eq!(
            views[0].make,
            "For comets and pinholes a flat one; for specks a blank one."
        );
    }
}
