//! Numbers worked out by hand on a small catalogue.

use super::*;

/// Prior: first 10 x 1.0, second 4 x 0.5 = 2, none of these 0.2; the two share 0.8:
/// first 0.8 x 10/12 = 0.666667, second 0.8 x 2/12 = 0.133333.
/// The border is fogged: first x 2 = 1.333333, second x 0.25 = 0.033333, none x 1 = 0.2; sum 1.566667.
/// Posterior: 0.851064, 0.021277, 0.127660.
#[test]
fn bayes_by_hand() {
    let catalogue = Catalogue::from_toml(SMALL).unwrap();
    let ranked = rank(
        &[finding(
            Fault::Veil,
            None,
            vec![seen(SignName::BorderFogged)],
        )],
        &facts(),
        None,
        &catalogue,
    );
    let causes = &ranked.per_finding[0];
    assert!((probability(causes, "first") - 0.851_064).abs() < 1e-6);
    assert!((probability(causes, "second") - 0.021_277).abs() < 1e-6);
    assert!((ranked.rest[0].none_of_these - 0.127_660).abs() < 1e-6);
    assert_eq!(ranked.rest[0].other_causes, 0.0);
}

/// The same with temper 0.5: the ratios 2 and 0.25 become 1.414214 and 0.5. First 0.942809, second
/// 0.066667, none 0.2, sum 1.209476. Posterior: 0.779519, 0.055120, 0.165361: nearer to the prior.
#[test]
fn temper_makes_the_signs_speak_more_softly() {
    let catalogue = Catalogue::from_toml(&SMALL.replace("temper = 1.0", "temper = 0.5")).unwrap();
    let ranked = rank(
        &[finding(
            Fault::Veil,
            None,
            vec![seen(SignName::BorderFogged)],
        )],
        &facts(),
        None,
        &catalogue,
    );
    let causes = &ranked.per_finding[0];
    assert!((probability(causes, "first") - 0.779_519).abs() < 1e-6);
    assert!((probability(causes, "second") - 0.055_120).abs() < 1e-6);
    assert!((ranked.rest[0].none_of_these - 0.165_361).abs() < 1e-6);
}

/// The border is clear: first x 0.5 = 0.333333, second x 1.5 = 0.2, none 0.2; sum 0.733333.
/// Posterior: 0.454545, 0.272727, 0.272727.
#[test]
fn an_absent_sign_counts_the_other_way() {
    let catalogue = Catalogue::from_toml(SMALL).unwrap();
    let ranked = rank(
        &[finding(
            Fault::Veil,
            None,
            vec![absent(SignName::BorderFogged)],
        )],
        &facts(),
        None,
        &catalogue,
    );
    let causes = &ranked.per_finding[0];
    assert!((probability(causes, "first") - 5.0 / 11.0).abs() < 1e-9);
    assert!((probability(causes, "second") - 3.0 / 11.0).abs() < 1e-9);
    assert!(
        causes[0]
            .against
            .iter()
            .any(|words| words.contains("it is everywhere"))
    );
}

/// Veil, fogged border, confidence 0.5: first 0.5 x 0.851064 = 0.425532. Edge fog without signs: first
/// is the only cause, 0.8 against none 0.2; confidence 1. Noisy-OR:
/// 1 - (1 - 0.425532)(1 - 0.8) = 1 - 0.574468 x 0.2 = 0.885106. A second edge with the same fog is the
/// same fault again and changes nothing. Second: 0.5 x 0.021277 = 0.010638.
#[test]
fn the_plate_joins_its_faults_by_noisy_or() {
    let catalogue = Catalogue::from_toml(SMALL).unwrap();
    let mut veil = finding(Fault::Veil, None, vec![seen(SignName::BorderFogged)]);
    veil.confidence = 0.5;
    let edge = finding(Fault::EdgeFog, Some("top"), Vec::new());
    let mut findings = vec![veil, edge.clone()];
    for _ in 0..2 {
        let plate = rank(&findings, &facts(), None, &catalogue).plate;
        assert!((probability(&plate, "first") - 0.885_106).abs() < 1e-6);
        assert!((probability(&plate, "second") - 0.010_638).abs() < 1e-6);
        findings.push(edge.clone());
    }
    let plate = rank(&findings, &facts(), None, &catalogue).plate;
    assert!(
        plate[0]
            .because
            .iter()
            .any(|words| words.starts_with("Edge fog here: "))
    );
}

/// No signs: first 0.666667, second 0.133333, none 0.2. The look says yes with 0.9, 0.1, 0.5:
/// P(yes) = 0.6 + 0.013333 + 0.1 = 0.713333; H = 0.713333 x 0.487353 + 0.286667 x 1.802554 = 0.864378.
/// Left: 0.8 x H(0.1) + 0.2 x H(0.5) = 0.8 x 0.468996 + 0.2 = 0.575197. Gain 0.289181 bits in 2 minutes.
/// The plate tells more (0.98, 0.02), but costs 18 minutes and 0.1782 g of silver: the look comes first.
#[test]
fn the_next_check_has_the_greatest_gain_for_its_cost() {
    let catalogue = Catalogue::from_toml(SMALL).unwrap();
    let veil = finding(Fault::Veil, None, Vec::new());
    let ranked = rank(&[veil.clone(), veil.clone()], &facts(), None, &catalogue);
    let check = ranked.check_next.unwrap();
    assert_eq!(check.words, "Look at the bath");
    assert!(
        (check.gain_bits - 0.289_181).abs() < 1e-4,
        "{}",
        check.gain_bits
    );
    assert_eq!(check.minutes, 2.0);
    assert_eq!(check.silver_g, 0.0);
    assert_eq!(check.for_causes, ["first"]);
    assert_eq!(check.cautions, ["Silver nitrate burns. Follow the codes."]);

    // When the look takes an hour, the plate is the better buy: 82.55 x 107.95 mm at 2 mg/cm2.
    let slow = SMALL.replace("minutes = 2\n", "minutes = 60\n");
    let ranked = rank(
        &[veil],
        &facts(),
        None,
        &Catalogue::from_toml(&slow).unwrap(),
    );
    let check = ranked.check_next.unwrap();
    assert_eq!(check.words, "Make a plate");
    assert!((check.silver_g - 82.55 * 107.95 / 100.0 * 0.002).abs() < 1e-9);
    assert!(check.gain_bits > 0.289_181);
}

#[test]
fn nothing_to_check_when_nothing_was_found_or_nothing_would_tell() {
    let catalogue = Catalogue::from_toml(SMALL).unwrap();
    let ranked = rank(&[], &facts(), None, &catalogue);
    assert!(ranked.per_finding.is_empty() && ranked.plate.is_empty());
    assert_eq!(ranked.check_next, None);
    let deaf = SMALL
        .replace("first = 0.9, second = 0.1", "first = 0.5, second = 0.5")
        .replace("first = 0.98, second = 0.02", "first = 0.5, second = 0.5");
    let ranked = rank(
        &[finding(Fault::Veil, None, Vec::new())],
        &facts(),
        None,
        &Catalogue::from_toml(&deaf).unwrap(),
    );
    assert_eq!(ranked.check_next, None);
}

#[test]
fn a_fault_without_causes_is_none_of_these() {
    let catalogue = Catalogue::from_toml(SMALL).unwrap();
    let ranked = rank(
        &[finding(Fault::Comets, None, Vec::new())],
        &facts(),
        None,
        &catalogue,
    );
    assert!(ranked.per_finding[0].is_empty());
    assert_eq!(ranked.rest[0].none_of_these, 1.0);
}

#[test]
fn a_tie_along_one_axis_is_said_openly() {
    let tied = SMALL
        .replace("prior = \"sometimes\"", "prior = \"usual\"")
        .replace(
            "faults = { veil = 0.5 }",
            "faults = { veil = 0.5, edge_fog = 1.0 }",
        )
        .replace(
            "border_fogged = { seen = 0.25, absent = 1.5 }",
            "at_developer_end = { seen = 2.0, absent = 0.5 }",
        );
    let catalogue = Catalogue::from_toml(&tied).unwrap();
    let edge = finding(Fault::EdgeFog, Some("bottom"), Vec::new());
    let mut said = handling();
    said.dip_axis_deg = Some(0.0);
    said.developer_direction_deg = Some(185.0);
    let causes = rank(
        std::slice::from_ref(&edge),
        &facts(),
        Some(&said),
        &catalogue,
    )
    .per_finding
    .remove(0);
    for (cause, other) in [(0, "The second"), (1, "The first")] {
        let against = causes[cause].against.join("; ");
        assert!(against.contains(other), "{against}");
        assert!(against.contains("along one axis"), "{against}");
    }
    // Swept across the dip, the place speaks for the dip alone: no tie.
    said.developer_direction_deg = Some(90.0);
    let causes = rank(&[edge], &facts(), Some(&said), &catalogue)
        .per_finding
        .remove(0);
    assert_eq!(ids(&causes), ["first", "second"]);
    assert!(!causes[0].against.join("; ").contains("along one axis"));
    assert!(
        causes[0]
            .because
            .join("; ")
            .contains("bottom edge is an end of the dip")
    );
}

/// Prior as above: 0.666667, 0.133333, 0.2. The look said no: first x (1 - 0.9)/(1 - 0.5) = 0.2 gives
/// 0.133333; second x (1 - 0.1)/(1 - 0.5) = 1.8 gives 0.24; none 0.2; sum 0.573333.
/// Posterior: 0.232558, 0.418605, 0.348837. The look is not asked for again.
#[test]
fn a_check_that_was_made_counts() {
    let catalogue = Catalogue::from_toml(SMALL).unwrap();
    let mut told = facts();
    told.answers = vec![Answer {
        check: "look".into(),
        yes: false,
    }];
    let veil = finding(Fault::Veil, None, Vec::new());
    let ranked = rank(&[veil], &told, None, &catalogue);
    let causes = &ranked.per_finding[0];
    assert!((probability(causes, "first") - 0.232_558).abs() < 1e-6);
    assert!((probability(causes, "second") - 0.418_605).abs() < 1e-6);
    assert!((ranked.rest[0].none_of_these - 0.348_837).abs() < 1e-6);
    assert!(causes[0].because[0].contains("it is not so that it is grey"));
    assert_eq!(ranked.check_next.unwrap().words, "Make a plate");
}

/// Two signs that always come together are one observation. Each is worth 2, so the truth is
/// 0.8 x 2 / (0.8 x 2 + 0.2) = 0.888889. Multiplied as if they were independent they claim
/// 0.8 x 4 / (0.8 x 4 + 0.2) = 0.941176; temper 0.5 gives the truth back.
#[test]
fn signs_that_lean_on_each_other_are_overconfident_without_temper() {
    let both = vec![seen(SignName::BorderFogged), seen(SignName::AtDipEnd)];
    for (temper, expected) in [("1.0", 0.941_176), ("0.5", 0.888_889)] {
        let text = SMALL.replace("temper = 1.0", &format!("temper = {temper}"));
        let catalogue = Catalogue::from_toml(&text).unwrap();
        let edge = finding(Fault::EdgeFog, None, both.clone());
        let causes = rank(&[edge], &facts(), None, &catalogue)
            .per_finding
            .remove(0);
        let given = probability(&causes, "first");
        assert!((given - expected).abs() < 1e-6, "temper {temper}: {given}");
    }
}
