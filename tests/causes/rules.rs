//! Every entry of the built-in catalogue keeps the rules, and bad data is refused in words.

use super::*;

#[test]
fn every_cause_names_its_source_or_says_that_there_is_none() {
    let catalogue = built_in();
    for cause in &catalogue.causes {
        let lines = catalogue.source_lines(cause);
        assert!(!lines.is_empty(), "{}", cause.id);
        for line in &lines {
            let without = [
                "common practice, no source",
                "from memory, no source",
                "our own judgement, no source",
            ];
            assert!(
                without.contains(&line.as_str()) || line.chars().any(|c| c.is_ascii_digit()),
                "{}: {line}",
                cause.id
            );
        }
        if cause.basis == Basis::Source {
            assert!(
                lines.iter().any(|line| !line.ends_with("no source")),
                "{}",
                cause.id
            );
        }
    }
}

#[test]
fn the_three_kinds_of_fog_have_causes_on_every_side() {
    let catalogue = built_in();
    for fault in [Fault::Veil, Fault::EdgeFog, Fault::LightLeak] {
        let sides: Vec<Side> = catalogue
            .causes
            .iter()
            .filter(|cause| cause.faults.contains_key(&fault))
            .map(|cause| cause.side)
            .collect();
        assert!(sides.len() >= 8, "{}: {}", fault.name(), sides.len());
        for side in [Side::Chemistry, Side::Handling, Side::Equipment] {
            assert!(sides.contains(&side), "{} {side:?}", fault.name());
        }
    }
    for fault in [Fault::Veil, Fault::EdgeFog] {
        assert!(
            catalogue
                .causes
                .iter()
                .any(|cause| cause.side == Side::Scan && cause.faults.contains_key(&fault)),
            "nothing clears the chemistry of {}",
            fault.name()
        );
    }
}

#[test]
fn faults_with_a_shape_have_causes_and_look_alikes() {
    let catalogue = built_in();
    let counts = |fault| {
        let of_fault = catalogue
            .causes
            .iter()
            .filter(|cause| cause.faults.contains_key(&fault));
        let (scan, plate): (Vec<_>, Vec<_>) = of_fault.partition(|c| c.side == Side::Scan);
        (plate.len(), scan.len())
    };
    for (fault, plate, scan) in [
        (Fault::Streaks, 20, 2),
        (Fault::DipLine, 6, 1),
        (Fault::Ridges, 9, 2),
        (Fault::UnevenPour, 12, 2),
        (Fault::BareArea, 8, 0),
        (Fault::Stain, 20, 1),
        (Fault::Scratch, 6, 3),
    ] {
        let (of_plate, of_scan) = counts(fault);
        assert!(of_plate >= plate, "{}: {of_plate}", fault.name());
        assert!(of_scan >= scan, "{}: {of_scan} in the scan", fault.name());
    }
}

#[test]
fn every_sign_is_weighed_by_some_cause_or_reserved() {
    let catalogue = built_in();
    for sign in SignName::ALL {
        let weighed = catalogue
            .causes
            .iter()
            .any(|cause| cause.signs.contains_key(sign));
        assert_ne!(
            weighed,
            SignName::RESERVED.contains(sign),
            "{}",
            sign.name()
        );
    }
    for by in [SetBy::Findings, SetBy::Facts, SetBy::Handling, SetBy::Maker] {
        assert!(SignName::ALL.iter().any(|sign| sign.set_by() == by));
    }
}

/// One observation must not be weighed twice for one cause: of signs that exclude or imply each other a
/// cause weighs one.
#[test]
fn no_cause_weighs_the_two_halves_of_one_statement() {
    for cause in built_in().causes {
        for [a, b] in [
            [SignName::AtDrainCorner, SignName::OppositeDrain],
            [SignName::AtDeveloperEnd, SignName::AtDeveloperStart],
            [SignName::OnMetal, SignName::Negative],
            [SignName::FromOneEdge, SignName::RightAcross],
            [SignName::OneSided, SignName::StrongerToMiddle],
            [SignName::ThickCorner, SignName::StrongerToMiddle],
            [SignName::FromCorner, SignName::ReachesEdge],
            [SignName::SeveralParallel, SignName::SpacedEvenly],
            [SignName::HeldCorner, SignName::AtPourStart],
            [SignName::HeldCorner, SignName::AtDrainCorner],
            [SignName::LowestInHolder, SignName::AtDrainCorner],
            [SignName::LowestInHolder, SignName::OppositeDrain],
            [SignName::AlongDrain, SignName::AcrossDrain],
        ] {
            let both = cause.signs.contains_key(&a) && cause.signs.contains_key(&b);
            assert!(!both, "{} weighs {} and {}", cause.id, a.name(), b.name());
        }
    }
}

/// Written out here on purpose, apart from the list in the catalogue: one of the two may be changed by
/// mistake, not both.
#[test]
fn no_remedy_and_no_check_repeats_a_dangerous_old_cure() {
    const OLD_CURES: [&str; 15] = [
        "boil",
        "heat the bath",
        "heating the bath",
        "warm the bath",
        "hot bath",
        "ammonia",
        "permanganate",
        "barium",
        " fuse",
        "fusing",
        "fuming",
        "strong acid",
        "mercur",
        "pyro",
        "benzol",
    ];
    let catalogue = built_in();
    let checks = catalogue
        .checks
        .iter()
        .map(|(name, check)| (name.as_str(), &check.words));
    let remedies = catalogue
        .causes
        .iter()
        .map(|cause| (cause.id.as_str(), &cause.remedy));
    for (name, text) in checks.chain(remedies) {
        let text = format!(" {}", text.to_lowercase());
        for cure in OLD_CURES {
            assert!(!text.contains(cure), "{name} says {cure}");
        }
    }
}

#[test]
fn hazardous_substances_carry_their_caution() {
    const HAZARDS: [(&str, &str); 8] = [
        ("bath", "silver_nitrate"),
        ("nitric", "nitric_acid"),
        ("acetic", "acetic_acid"),
        ("collodion", "collodion"),
        (" ether", "collodion"),
        ("cyanide", "fixer"),
        ("fixer", "fixer"),
        (" varnish", "varnish"),
    ];
    let catalogue = built_in();
    let mut warned = 0;
    for cause in &catalogue.causes {
        let mut text = format!(" {}", cause.remedy.to_lowercase());
        for name in &cause.checks {
            text.push_str(&format!(" {}", catalogue.checks[name].words.to_lowercase()));
        }
        for (word, caution) in HAZARDS {
            if text.contains(word) {
                let cautions = &cause.cautions;
                assert!(
                    cautions.iter().any(|c| c == caution),
                    "{}: {word}",
                    cause.id
                );
                warned += 1;
            }
        }
        for line in catalogue.caution_lines(&cause.cautions) {
            for part in ["local codes", "safety data sheet", "licensed"] {
                assert!(line.contains(part), "{}: {line}", cause.id);
            }
        }
    }
    assert!(warned > 20, "{warned}");
}

fn bad(from: &str, to: &str) -> String {
    assert!(SMALL.contains(from), "{from}");
    Catalogue::from_toml(&SMALL.replacen(from, to, 1))
        .unwrap_err()
        .to_string()
}

#[test]
fn the_small_catalogue_is_sound() {
    let catalogue = Catalogue::from_toml(SMALL).unwrap();
    assert_eq!(catalogue.causes.len(), 2);
    assert_eq!(catalogue.causes[0].cautions, ["silver_nitrate"]);
}

#[test]
fn bad_data_is_refused_with_the_entry_and_what_is_wrong() {
    for (from, to, words) in [
        (
            "oystermark/causes/1",
            "oystermark/causes/9",
            "schema: is oystermark/causes/9",
        ),
        ("[weights]", "[weight]", "weight: is not a part"),
        ("temper = 1.0", "temper = 1.5", "weights: temper"),
        (
            "none_of_these = 0.2",
            "none_of_these = 0.0",
            "weights: none_of_these",
        ),
        (
            "rare = 1.0",
            "rare = 5.0",
            "weights: usual, sometimes, rare",
        ),
        ("rare = 1.0", "", "weights: missing field `rare`"),
        (
            "id = \"second\"",
            "id = \"first\"",
            "cause first: is there twice",
        ),
        ("id = \"second\"", "", "cause number 2: missing field `id`"),
        (
            "id = \"second\"",
            "id = \"The Second\"",
            "checks.look: yes_if names the cause second",
        ),
        (
            "faults = { veil = 0.5 }",
            "faults = { fog = 0.5 }",
            "cause second: unknown variant `fog`",
        ),
        (
            "faults = { veil = 0.5 }",
            "faults = { veil = 1.5 }",
            "cause second: faults.veil is 1.5",
        ),
        (
            "border_fogged = { seen = 0.25",
            "border_fog = { seen = 0.25",
            "cause second: unknown variant `border_fog`",
        ),
        (
            "seen = 0.25, absent = 1.5",
            "seen = 0.25, absent = 0.5",
            "cause second: signs.border_fogged: seen 0.25 and absent 0.5",
        ),
        (
            "seen = 0.25, absent = 1.5",
            "seen = -1, absent = 1.5",
            "cause second: signs.border_fogged: -1",
        ),
        (
            "sources = [\"book\"]",
            "sources = [\"books\"]",
            "sources.book: is used by no cause",
        ),
        (
            "sources = [\"book\"]",
            "sources = [\"book\", \"novel\"]",
            "cause first: names the source novel",
        ),
        (
            "sources = [\"book\"]\nprior",
            "sources = []\nprior",
            "sources.book: is used by no cause",
        ),
        (
            "basis = \"judgement\"\nsources = []",
            "basis = \"source\"\nsources = []",
            "cause second: says that it rests on a source",
        ),
        (
            "Wait less.",
            "Wait less",
            "cause second: remedy must be sentences",
        ),
        (
            "Wait less.",
            "Boil it down.",
            "cause second: remedy contains \"boil\"",
        ),
        (
            "Make a plate",
            "Make a plate and boil it",
            "checks.plate: words contains \"boil\"",
        ),
        (
            "checks = [\"look\"]",
            "checks = []",
            "cause second: needs at least one check",
        ),
        (
            "checks = [\"look\"]",
            "checks = [\"taste\"]",
            "cause second: names the check taste",
        ),
        (
            "yes_if = { first = 0.9, second = 0.1 }",
            "yes_if = { first = 0.9 }",
            "cause second: its own check look has no yes_if",
        ),
        (
            "second = 0.1 }",
            "second = 1.0 }",
            "checks.look: yes_if.second is 1",
        ),
        ("minutes = 2", "minutes = 0", "checks.look: minutes is 0"),
        (
            "checks = [\"look\", \"plate\"]",
            "checks = [\"look\"]",
            "checks.plate: is used by no cause",
        ),
        (
            "side = \"handling\"",
            "side = \"luck\"",
            "cause second: unknown variant `luck`",
        ),
        (
            "title = \"The second\"",
            "tittle = \"The second\"",
            "cause second: unknown field `tittle`",
        ),
        (
            "ending = \"Follow the codes.\"",
            "",
            "cautions: ending is empty",
        ),
        (
            "checks = [\"look\"]",
            "checks = [\"look\"]\npatterns = [\"p\"]",
            "cause second: names the pattern p",
        ),
    ] {
        let error = bad(from, to);
        assert!(error.contains(words), "{to}: {error}");
        assert!(error.starts_with("catalogue: "), "{error}");
    }
    assert!(matches!(
        Catalogue::from_toml("[weights"),
        Err(CatalogueError::NotToml { .. })
    ));
    assert!(Catalogue::from_toml("").is_err());
}
