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

/// Entries with the same reason and the same test plate become one.
pub(super) fn views(entries: &[CannotTell]) -> Vec<UntoldView> {
    let mut grouped: Vec<(&CannotTell, Vec<String>)> = Vec::new();
    for entry in entries {
        let same = grouped.iter_mut().find(|(first, _)| {
            first.because == entry.because && first.make_this_plate == entry.make_this_plate
        });
        let name = words::lowered(entry.fault.short());
        match same {
            Some((_, names)) => names.push(name),
            None => grouped.push((entry, vec![name])),
        }
    }
    grouped
        .into_iter()
        .map(|(first, names)| UntoldView {
            faults: words::capitalised(&words::listed(&names)),
            because: words::sentence(&first.because),
            make: words::sentence(&first.make_this_plate),
        })
        .collect()
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
}
