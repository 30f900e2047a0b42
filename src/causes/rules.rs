//! Whether a catalogue makes sense: every rule that an entry must keep, in one place.

use super::catalogue::{Basis, COMMON_PRACTICE, Catalogue, Cause, Check, SignWeight};
use crate::findings::SignName;

/// The entry that breaks a rule, and what is wrong with it.
type Broken = (String, String);

/// Checks a whole catalogue.
pub(super) fn check(catalogue: &Catalogue) -> Result<(), Broken> {
    weights(catalogue)?;
    cautions(catalogue)?;
    for (name, entry) in &catalogue.checks {
        check_check(catalogue, name, entry)
            .map_err(|problem| (format!("checks.{name}"), problem))?;
    }
    for (name, source) in &catalogue.sources {
        for part in [&source.author, &source.title, &source.year, &source.place] {
            filled("author, title, year and place", part)
                .map_err(|problem| (format!("sources.{name}"), problem))?;
        }
        if !catalogue.causes.iter().any(|c| c.sources.contains(name)) {
            return Err((format!("sources.{name}"), "is used by no cause".into()));
        }
    }
    for cause in &catalogue.causes {
        check_cause(catalogue, cause)
            .map_err(|problem| (format!("cause {}", cause.id), problem))?;
    }
    Ok(())
}

fn weights(catalogue: &Catalogue) -> Result<(), Broken> {
    let w = &catalogue.weights;
    let fault = |problem: &str| Err(("weights".to_string(), problem.to_string()));
    if !(w.usual.is_finite() && w.usual >= w.sometimes && w.sometimes >= w.rare && w.rare > 0.0) {
        return fault("usual, sometimes, rare must be numbers above 0, in falling order");
    }
    if !(0.0 < w.none_of_these && w.none_of_these < 1.0) {
        return fault("none_of_these must lie between 0 and 1");
    }
    if !(0.0 < w.temper && w.temper <= 1.0) {
        return fault("temper must lie above 0 and at most at 1");
    }
    if !(0.0 < w.tie_ratio && w.tie_ratio <= 1.0) {
        return fault("tie_ratio must lie above 0 and at most at 1");
    }
    if w.listed_causes == 0 {
        return fault("listed_causes must be at least 1");
    }
    for value in [
        w.silver_mg_per_cm2,
        w.usual_plate_cm2,
        w.start_minutes,
        w.minutes_per_silver_g,
    ] {
        if !(value.is_finite() && value >= 0.0) {
            return fault(
                "silver_mg_per_cm2, usual_plate_cm2, start_minutes, minutes_per_silver_g must not be below 0",
            );
        }
    }
    Ok(())
}

fn cautions(catalogue: &Catalogue) -> Result<(), Broken> {
    filled("ending", &catalogue.caution_ending)
        .map_err(|problem| ("cautions".to_string(), problem))?;
    for (name, caution) in &catalogue.cautions {
        let at = |problem| (format!("cautions.{name}"), problem);
        sentence("text", &caution.text).map_err(at)?;
        if caution.words.is_empty() {
            return Err(at("needs words that call for it".into()));
        }
    }
    Ok(())
}

fn check_check(catalogue: &Catalogue, name: &str, check: &Check) -> Result<(), String> {
    filled("words", &check.words)?;
    filled("answer", &check.answer)?;
    safe(catalogue, "words", &check.words)?;
    if !(check.minutes.is_finite() && check.minutes > 0.0) {
        return Err(format!("minutes is {}, must be above 0", check.minutes));
    }
    for (cause, chance) in &check.yes_if {
        if catalogue.cause(cause).is_none() {
            return Err(format!(
                "yes_if names the cause {cause}, which is not there"
            ));
        }
        share(&format!("yes_if.{cause}"), *chance)?;
    }
    share("otherwise", check.otherwise)?;
    if !catalogue
        .causes
        .iter()
        .any(|cause| cause.checks.iter().any(|used| used == name))
    {
        return Err("is used by no cause".into());
    }
    Ok(())
}

fn check_cause(catalogue: &Catalogue, cause: &Cause) -> Result<(), String> {
    if cause.id.is_empty()
        || !cause
            .id
            .chars()
            .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_')
    {
        return Err("the id may hold small letters, digits and _ only".into());
    }
    filled("title", &cause.title)?;
    sentence("remedy", &cause.remedy)?;
    safe(catalogue, "remedy", &cause.remedy)?;
    sources(catalogue, cause)?;
    for (fault, weight) in &cause.faults {
        if !(weight.is_finite() && 0.0 < *weight && *weight <= 1.0) {
            return Err(format!(
                "faults.{} is {weight}, must lie above 0 and at most at 1",
                fault.name()
            ));
        }
    }
    let Some(own) = cause.checks.first() else {
        return Err("needs at least one check".into());
    };
    for name in &cause.checks {
        if !catalogue.checks.contains_key(name) {
            return Err(format!("names the check {name}, which is not there"));
        }
    }
    if let Some(check) = catalogue.checks.get(own)
        && !check.yes_if.contains_key(&cause.id)
    {
        return Err(format!("its own check {own} has no yes_if for it"));
    }
    for (sign, weight) in &cause.signs {
        check_sign(*sign, weight)?;
    }
    Ok(())
}

fn sources(catalogue: &Catalogue, cause: &Cause) -> Result<(), String> {
    for key in &cause.sources {
        if key != COMMON_PRACTICE && !catalogue.sources.contains_key(key) {
            return Err(format!("names the source {key}, which is not there"));
        }
    }
    let printed = cause.sources.iter().any(|key| key != COMMON_PRACTICE);
    if cause.basis == Basis::Source && !printed {
        return Err("says that it rests on a source, but names none".into());
    }
    let sign_from_source = cause.signs.values().any(|w| w.basis == Basis::Source);
    if (cause.prior_basis == Basis::Source || cause.remedy_basis == Some(Basis::Source)) && !printed
    {
        return Err("prior or remedy rests on a source, but the cause names none".into());
    }
    if sign_from_source && cause.sources.is_empty() && cause.patterns.is_empty() {
        return Err("a sign rests on a source, but the cause names none".into());
    }
    Ok(())
}

fn check_sign(sign: SignName, weight: &SignWeight) -> Result<(), String> {
    let name = sign.name();
    for value in [weight.seen, weight.absent] {
        if !(value.is_finite() && value > 0.0) {
            return Err(format!("signs.{name}: {value} must be above 0"));
        }
    }
    // P(sign | cause) cannot be above (or below) P(sign | none) both when the sign is there and when
    // it is not: (seen - 1) and (absent - 1) have opposite signs.
    if (weight.seen - 1.0) * (weight.absent - 1.0) > 0.0 {
        return Err(format!(
            "signs.{name}: seen {} and absent {} speak the same way; one must be at least 1 and the other at most 1",
            weight.seen, weight.absent
        ));
    }
    if [true, false]
        .map(|holds| weight.why(holds))
        .iter()
        .any(|why| why.ends_with('.'))
    {
        return Err(format!(
            "signs.{name}: why is half a sentence, without a full stop"
        ));
    }
    Ok(())
}

fn share(name: &str, value: f64) -> Result<(), String> {
    // A check that could never fail would claim more certainty than any bench has.
    if (0.01..=0.99).contains(&value) {
        Ok(())
    } else {
        Err(format!("{name} is {value}, must lie from 0.01 to 0.99"))
    }
}

fn filled(name: &str, text: &str) -> Result<(), String> {
    if text.trim().is_empty() {
        Err(format!("{name} is empty"))
    } else {
        Ok(())
    }
}

fn sentence(name: &str, text: &str) -> Result<(), String> {
    filled(name, text)?;
    if text.ends_with('.') {
        Ok(())
    } else {
        Err(format!(
            "{name} must be sentences that end with a full stop"
        ))
    }
}

/// No remedy and no check may contain an old cure that burns, poisons or explodes.
fn safe(catalogue: &Catalogue, name: &str, text: &str) -> Result<(), String> {
    match word_in(text, &catalogue.never) {
        Some(word) => Err(format!(
            "{name} contains \"{word}\": old cures of that kind are never advised; give the safe way instead"
        )),
        None => Ok(()),
    }
}

/// The first of `starts` with which a word of `text` begins (several words count as one start).
pub(super) fn word_in<'a>(text: &str, starts: &'a [String]) -> Option<&'a str> {
    let plain: String = text
        .chars()
        .map(|c| if c.is_alphanumeric() { c } else { ' ' })
        .collect::<String>()
        .to_lowercase();
    let spaced = format!(
        " {}",
        plain.split_whitespace().collect::<Vec<_>>().join(" ")
    );
    starts
        .iter()
        .map(String::as_str)
        .find(|start| spaced.contains(&format!(" {start}")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_found_at_their_start_only() {
        let starts = vec!["fuse".to_string(), "heat the bath".to_string()];
        assert_eq!(word_in("Do not confuse or refuse.", &starts), None);
        assert_eq!(word_in("Fused silver", &starts), Some("fuse"));
        assert_eq!(
            word_in("now heat,  the Bath!", &starts),
            Some("heat the bath")
        );
    }
}
