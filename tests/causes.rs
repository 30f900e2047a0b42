//! The catalogue keeps its rules, and the reasoning gives what can be worked out by hand.

use oystermark::causes::{
    Answer, Basis, Catalogue, CatalogueError, LikelyCause, PlateFacts, Side, rank,
};
use oystermark::findings::{
    Fault, Finding, Polarity, Severity, Sign, SignName, Standing, signs::SetBy,
};
use oystermark::handling::{Corner, Handling, HandlingSource};
use oystermark::plate::{PlateKind, Process};

mod built_in;
mod by_hand;
mod rules;
mod shapes;

/// A catalogue small enough to work out by hand.
const SMALL: &str = r#"
schema = "oystermark/causes/1"
[weights]
usual = 10.0
sometimes = 4.0
rare = 1.0
none_of_these = 0.2
temper = 1.0
tie_ratio = 0.8
listed_causes = 6
silver_mg_per_cm2 = 2.0
usual_plate_cm2 = 50.0
start_minutes = 5.0
minutes_per_silver_g = 20.0
[never]
words = ["boil"]
[cautions]
ending = "Follow the codes."
[cautions.silver_nitrate]
words = ["bath"]
text = "Silver nitrate burns."
[sources]
book = { author = "A", title = "T", year = "1880", place = "p. 1" }
[checks.look]
words = "Look at the bath"
answer = "it is grey"
minutes = 2
basis = "judgement"
otherwise = 0.5
yes_if = { first = 0.9, second = 0.1 }
[checks.plate]
words = "Make a plate"
answer = "it is clean"
minutes = 18
plates = 1
basis = "judgement"
otherwise = 0.5
yes_if = { first = 0.98, second = 0.02 }
[[cause]]
id = "first"
title = "The first"
side = "chemistry"
basis = "source"
sources = ["book"]
prior = "usual"
prior_basis = "source"
faults = { veil = 1.0, edge_fog = 1.0 }
remedy = "Filter the bath."
checks = ["look", "plate"]
[cause.signs]
border_fogged = { seen = 2.0, absent = 0.5, why = "it is everywhere" }
at_dip_end = { seen = 2.0, absent = 0.5 }
[[cause]]
id = "second"
title = "The second"
side = "handling"
basis = "judgement"
sources = []
prior = "sometimes"
prior_basis = "judgement"
faults = { veil = 0.5 }
remedy = "Wait less."
checks = ["look"]
[cause.signs]
border_fogged = { seen = 0.25, absent = 1.5 }
"#;

fn built_in() -> Catalogue {
    Catalogue::built_in().unwrap()
}

fn finding(fault: Fault, place: Option<&str>, signs: Vec<Sign>) -> Finding {
    Finding {
        id: "f1".into(),
        fault,
        place: place.map(str::to_string),
        title: format!("{} here", fault.short()),
        measured: Vec::new(),
        polarity: Polarity::MoreSilver,
        box_mm: [0.0, 0.0, 80.0, 100.0],
        outline_mm: None,
        axis_deg: None,
        direction_deg: None,
        direction_spread_deg: None,
        members: None,
        confidence: 1.0,
        expected_false_alarms: 0.001,
        standing: Standing::Measured,
        severity: Severity::Visible,
        signs,
        doubts: Vec::new(),
        figure: None,
    }
}

fn facts() -> PlateFacts {
    PlateFacts {
        process: Process::PositiveOnGlass,
        kind: PlateKind::Picture,
        has_border: true,
        size_mm: Some([82.55, 107.95]),
        clipped_fraction: None,
        surround_light: None,
        signs: Vec::new(),
        answers: Vec::new(),
        verdicts: Vec::new(),
        doubts: Vec::new(),
    }
}

fn handling() -> Handling {
    Handling {
        source: HandlingSource::CommandLine,
        ..Handling::default()
    }
}

fn seen(name: SignName) -> Sign {
    Sign::seen(name, format!("{} (0.21 D)", name.short()))
}

fn absent(name: SignName) -> Sign {
    Sign::absent(name, format!("not: {}", name.short()))
}

fn ids(causes: &[LikelyCause]) -> Vec<&str> {
    causes.iter().map(|cause| cause.cause.as_str()).collect()
}

fn probability(causes: &[LikelyCause], id: &str) -> f64 {
    causes
        .iter()
        .find(|cause| cause.cause == id)
        .map_or(0.0, |cause| cause.probability)
}

fn one(finding: Finding, handling: Option<&Handling>) -> Vec<LikelyCause> {
    rank(&[finding], &facts(), handling, &built_in())
        .per_finding
        .remove(0)
}
