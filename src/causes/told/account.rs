//! What a maker says of a spoilt plate.

use serde_json::Value;

use super::entries::Facet;

/// A maker's account, in their own words. Every part may be missing.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Account {
    /// `negative`, `positive`, or anything else for either.
    pub plate: String,
    /// How light or dark it is.
    pub tone: String,
    /// Its shape.
    pub shape: String,
    /// Where on the plate.
    pub place: String,
    /// Which way it runs.
    pub direction: String,
    /// When it was first seen.
    pub first_noticed: String,
    /// What else is known: what was done, tried, proved.
    pub context: Vec<String>,
}

impl Account {
    /// An account given as free words, such as "comets, tails to the drain corner, only the first plate".
    pub fn of_words(words: &str) -> Account {
        let mut account = Account::default();
        for clause in words.split([',', ';', '.', '\n']) {
            let clause = clause.trim();
            if !clause.is_empty() {
                account.context.push(clause.to_owned());
            }
        }
        account
    }

    /// The account of a case in JSON: `plate`, `tone`, `shape`, `where`, `direction`, `first_noticed` and a list
    /// `context`, under `signs` or by themselves. Whatever else stands there is passed over.
    ///
    /// # Errors
    /// What is wrong, to stand after "the case".
    pub fn of_case(case: &Value) -> Result<Account, String> {
        let signs = case.get("signs").unwrap_or(case);
        let Some(signs) = signs.as_object() else {
            return Err("has no signs: no object stands under \"signs\"".to_owned());
        };
        let text = |key: &str| match signs.get(key) {
            None | Some(Value::Null) => Ok(String::new()),
            Some(Value::String(words)) => Ok(words.clone()),
            Some(_) => Err(format!("cannot be read: \"{key}\" must be words in quotes")),
        };
        let no_list = || "cannot be read: \"context\" must be a list of words in quotes".to_owned();
        let context = match signs.get("context") {
            None | Some(Value::Null) => Vec::new(),
            Some(Value::String(words)) => vec![words.clone()],
            Some(Value::Array(list)) => list
                .iter()
                .map(|item| item.as_str().map(str::to_owned))
                .collect::<Option<_>>()
                .ok_or_else(no_list)?,
            Some(_) => return Err(no_list()),
        };
        let account = Account {
            plate: text("plate")?,
            tone: text("tone")?,
            shape: text("shape")?,
            place: text("where")?,
            direction: text("direction")?,
            first_noticed: text("first_noticed")?,
            context,
        };
        if account.is_empty() {
            return Err(
                "says nothing: tone, shape, where, direction, first_noticed and context are empty"
                    .into(),
            );
        }
        Ok(account)
    }

    /// Whether nothing at all is said.
    pub fn is_empty(&self) -> bool {
        self.sayings().next().is_none()
    }

    /// Each saying with what it is about; `None` for what is about anything.
    pub(super) fn sayings(&self) -> impl Iterator<Item = (Option<Facet>, &str)> {
        [
            (Facet::Tone, &self.tone),
            (Facet::Shape, &self.shape),
            (Facet::Place, &self.place),
            (Facet::Direction, &self.direction),
            (Facet::FirstSeen, &self.first_noticed),
        ]
        .into_iter()
        .map(|(facet, words)| (Some(facet), words.as_str()))
        .chain(self.context.iter().map(|words| (None, words.as_str())))
        .filter(|(_, words)| !matches!(words.trim(), "" | "none"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn case(text: &str) -> Result<Account, String> {
        Account::of_case(&serde_json::from_str(text).unwrap())
    }

    #[test]
    fn a_case_is_read_with_or_without_its_frame() {
        let framed =
            case(r#"{"id": 1, "signs": {"where": "edge", "context": ["old bath"]}}"#).unwrap();
        assert_eq!(framed.place, "edge");
        assert_eq!(framed.context, ["old bath"]);
        assert_eq!(
            case(r#"{"where": "edge", "context": "old bath"}"#).unwrap(),
            framed
        );
    }

    #[test]
    fn what_is_no_case_is_said_in_words() {
        for (text, says) in [
            ("[]", "no object stands"),
            (r#"{"signs": {"tone": 3}}"#, "\"tone\" must be words"),
            (r#"{"signs": {"context": [1]}}"#, "must be a list of words"),
            (
                r#"{"signs": {"tone": "", "direction": "none"}}"#,
                "says nothing",
            ),
        ] {
            let why = case(text).unwrap_err();
            assert!(why.contains(says), "{text}: {why}");
        }
    }
}
