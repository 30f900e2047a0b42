//! The catalogue's files, read entry by entry and put together.

use std::collections::BTreeMap;

use serde::Deserialize;

use super::{
    Catalogue, CatalogueError, Cause, Caution, Check, SCHEMA, SignWeight, Source, Weights, entry,
    wrong,
};
use crate::findings::SignName;

/// A set of signs that several causes share.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Pattern {
    signs: BTreeMap<SignName, SignWeight>,
}

/// Words of old cures that are never advised.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Never {
    words: Vec<String>,
}

/// A file's text as TOML.
pub(super) fn parse(file: &str, text: &str) -> Result<toml::Table, CatalogueError> {
    toml::from_str(text).map_err(|error| CatalogueError::NotToml {
        file: file.to_string(),
        problem: error.to_string().trim_end().to_string(),
    })
}

/// What the files held, before it is put together.
#[derive(Default)]
pub(super) struct Parts {
    weights: Option<Weights>,
    never: Vec<String>,
    caution_ending: String,
    cautions: BTreeMap<String, Caution>,
    sources: BTreeMap<String, Source>,
    patterns: BTreeMap<String, Pattern>,
    checks: BTreeMap<String, Check>,
    causes: Vec<Cause>,
    /// Entry as named in errors -> file.
    files: BTreeMap<String, String>,
    /// The first file, where shared things belong.
    first: String,
}

impl Parts {
    pub(super) fn read(&mut self, file: &str, table: toml::Table) -> Result<(), CatalogueError> {
        if self.first.is_empty() {
            self.first = file.to_string();
        }
        for (key, value) in table {
            match key.as_str() {
                "schema" => {
                    let found: String = entry(file, "schema", value)?;
                    if found != SCHEMA {
                        return Err(wrong(
                            file,
                            "schema",
                            format!("is {found}, but this program reads {SCHEMA}"),
                        ));
                    }
                }
                "weights" => self.weights = Some(entry(file, "weights", value)?),
                "never" => self
                    .never
                    .extend(entry::<Never>(file, "never", value)?.words),
                "cautions" => {
                    for (name, value) in children(file, &key, value)? {
                        if name == "ending" {
                            self.caution_ending = entry(file, "cautions.ending", value)?;
                        } else {
                            put(&mut self.cautions, &mut self.files, file, &key, name, value)?;
                        }
                    }
                }
                "sources" => {
                    for (name, value) in children(file, &key, value)? {
                        put(&mut self.sources, &mut self.files, file, &key, name, value)?;
                    }
                }
                "patterns" => {
                    for (name, value) in children(file, &key, value)? {
                        put(&mut self.patterns, &mut self.files, file, &key, name, value)?;
                    }
                }
                "checks" => {
                    for (name, value) in children(file, &key, value)? {
                        put(&mut self.checks, &mut self.files, file, &key, name, value)?;
                    }
                }
                "cause" => self.read_causes(file, value)?,
                other => {
                    return Err(wrong(
                        file,
                        other,
                        "is not a part of a catalogue (schema, weights, never, cautions, sources, patterns, checks, cause)",
                    ));
                }
            }
        }
        Ok(())
    }

    fn read_causes(&mut self, file: &str, value: toml::Value) -> Result<(), CatalogueError> {
        let list: Vec<toml::Value> = entry(file, "cause", value)?;
        for (position, value) in list.into_iter().enumerate() {
            let name = match value.get("id").and_then(toml::Value::as_str) {
                Some(id) => format!("cause {id}"),
                None => format!("cause number {}", position + 1),
            };
            let cause: Cause = entry(file, &name, value)?;
            if self.files.insert(name.clone(), file.to_string()).is_some() {
                return Err(wrong(file, &name, "is there twice"));
            }
            self.causes.push(cause);
        }
        Ok(())
    }

    /// Puts the parts together: causes take over the signs of their patterns and the cautions that
    /// their words call for.
    pub(super) fn assemble(&self) -> Result<Catalogue, CatalogueError> {
        let Some(weights) = self.weights else {
            return Err(wrong(&self.first, "weights", "is missing"));
        };
        let mut catalogue = Catalogue {
            weights,
            causes: Vec::new(),
            checks: self.checks.clone(),
            sources: self.sources.clone(),
            cautions: self.cautions.clone(),
            caution_ending: self.caution_ending.clone(),
            never: self.never.clone(),
        };
        let mut causes = self.causes.clone();
        for cause in &mut causes {
            let name = format!("cause {}", cause.id);
            for pattern in &cause.patterns {
                let Some(shared) = self.patterns.get(pattern) else {
                    return Err(wrong(
                        &self.file_of(&name),
                        &name,
                        format!("names the pattern {pattern}, which is not there"),
                    ));
                };
                for (sign, weight) in &shared.signs {
                    cause.signs.entry(*sign).or_insert_with(|| weight.clone());
                }
            }
            let mut words = vec![cause.remedy.as_str()];
            for check in &cause.checks {
                words.extend(self.checks.get(check).map(|check| check.words.as_str()));
            }
            cause.cautions = catalogue.cautions_for(&words);
        }
        if let Some(unused) = self
            .patterns
            .keys()
            .find(|key| !causes.iter().any(|cause| cause.patterns.contains(key)))
        {
            let name = format!("patterns.{unused}");
            return Err(wrong(&self.file_of(&name), &name, "is used by no cause"));
        }
        catalogue.causes = causes;
        Ok(catalogue)
    }

    pub(super) fn file_of(&self, name: &str) -> String {
        self.files.get(name).unwrap_or(&self.first).clone()
    }
}

/// The named entries below a heading.
fn children(file: &str, key: &str, value: toml::Value) -> Result<toml::Table, CatalogueError> {
    entry(file, key, value)
}

/// Reads one named entry and keeps where it stands.
fn put<T: serde::de::DeserializeOwned>(
    into: &mut BTreeMap<String, T>,
    files: &mut BTreeMap<String, String>,
    file: &str,
    key: &str,
    name: String,
    value: toml::Value,
) -> Result<(), CatalogueError> {
    let full = format!("{key}.{name}");
    let read = entry(file, &full, value)?;
    files.insert(full.clone(), file.to_string());
    if into.insert(name, read).is_some() {
        return Err(wrong(file, &full, "is there twice"));
    }
    Ok(())
}
