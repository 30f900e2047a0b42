//! What a command line that could not be understood gets to hear.

use clap::Error;
use clap::error::{ContextKind, ContextValue, ErrorKind};

use super::exit::{Exit, Trouble};
use super::screen;

/// Prints help on the normal output, or says in one sentence what is wrong with the command.
pub fn answer(error: &Error) -> Exit {
    if !error.use_stderr() {
        // A closed pipe behind `--help` is no failure.
        let _ = error.print();
        return Exit::Analysed;
    }
    if error.kind() == ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand {
        let _ = error.print();
        return Exit::Failed;
    }
    let typed: Vec<String> = std::env::args().skip(1).take(2).collect();
    screen::complain(&Trouble::of_command(
        reason(error),
        format!("see {} --help", command(&typed)),
    ));
    Exit::Failed
}

/// The command whose help is of use: `oystermark read`, `oystermark practice paint`.
fn command(typed: &[String]) -> String {
    let known: &[&str] = match typed.first().map(String::as_str) {
        Some("read") => &["read"],
        Some("sheet") => &["sheet"],
        Some("bath") => match typed.get(1).map(String::as_str) {
            Some("strength") => &["bath", "strength"],
            Some("record") => &["bath", "record"],
            Some("event") => &["bath", "event"],
            Some("add") => &["bath", "add"],
            Some("page") => &["bath", "page"],
            Some("verdict") => &["bath", "verdict"],
            Some("export") => &["bath", "export"],
            Some("import") => &["bath", "import"],
            _ => &["bath"],
        },
        Some("practice") => match typed.get(1).map(String::as_str) {
            Some("paint") => &["practice", "paint"],
            Some("samples") => &["practice", "samples"],
            Some("accuracy") => &["practice", "accuracy"],
            _ => &["practice"],
        },
        _ => &[],
    };
    [&["oystermark"], known].concat().join(" ")
}

/// What is wrong, in our words where the parser tells enough.
fn reason(error: &Error) -> String {
    let one = |kind| match error.get(kind) {
        Some(ContextValue::String(text)) => Some(text.as_str()),
        Some(ContextValue::Strings(texts)) => texts.first().map(String::as_str),
        _ => None,
    };
    let all = |kind| match error.get(kind) {
        Some(ContextValue::Strings(texts)) => texts.join(", "),
        Some(ContextValue::String(text)) => text.clone(),
        _ => String::new(),
    };
    let perhaps = |kind| one(kind).map_or(String::new(), |name| format!("; did you mean {name}?"));
    let (argument, value) = (one(ContextKind::InvalidArg), one(ContextKind::InvalidValue));
    match (error.kind(), argument, value) {
        (ErrorKind::InvalidSubcommand, _, _) => {
            let name = one(ContextKind::InvalidSubcommand).unwrap_or_default();
            let perhaps = perhaps(ContextKind::SuggestedSubcommand);
            format!("there is no command {name}{perhaps}")
        }
        (ErrorKind::UnknownArgument, Some(argument), _) => {
            let perhaps = perhaps(ContextKind::SuggestedArg);
            match argument.starts_with('-') {
                true => format!("there is no option {argument}{perhaps}"),
                false => format!("{argument} is one word too many"),
            }
        }
        (ErrorKind::InvalidValue, Some(argument), Some(value)) => {
            let words = all(ContextKind::ValidValue);
            match value.is_empty() {
                true => format!("{} needs a word: {words}", bare(argument)),
                false => format!("{} does not know {value}, only: {words}", bare(argument)),
            }
        }
        (ErrorKind::ValueValidation, Some(argument), Some(value)) => {
            let why = std::error::Error::source(error);
            let why = why.map_or("cannot be understood".to_owned(), ToString::to_string);
            format!("{} {value}: {why}", bare(argument))
        }
        (ErrorKind::MissingRequiredArgument, _, _) => {
            let missing = all(ContextKind::InvalidArg);
            format!("something is missing: {}", missing.replace(['<', '>'], ""))
        }
        (ErrorKind::ArgumentConflict, Some(argument), _) => match one(ContextKind::PriorArg) {
            Some(other) if bare(other) != bare(argument) => {
                format!("{} and {} do not go together", bare(argument), bare(other))
            }
            _ => format!("{} was given twice", bare(argument)),
        },
        _ => one_sentence(&error.render().to_string()),
    }
}

/// `--kind <KIND>` as `--kind`.
fn bare(argument: &str) -> &str {
    argument.split(' ').next().unwrap_or(argument)
}

/// The several lines of the parser's own words as one sentence.
fn one_sentence(rendered: &str) -> String {
    let lines = rendered.lines().map(str::trim);
    let said = lines.take_while(|line| !line.starts_with("Usage:"));
    let said: Vec<&str> = said
        .filter(|line| !line.is_empty() && !line.starts_with("For more information"))
        .map(|line| line.trim_start_matches("error: "))
        .collect();
    said.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_help_that_is_named_is_that_of_the_command() {
        let named = |typed: &[&str]| {
            let typed: Vec<String> = typed.iter().map(ToString::to_string).collect();
            command(&typed)
        };
        assert_eq!(named(&["read", "--kind"]), "oystermark read");
        assert_eq!(named(&["practice", "paint"]), "oystermark practice paint");
        assert_eq!(named(&["raed", "x"]), "oystermark");
        assert_eq!(named(&[]), "oystermark");
    }

    #[test]
    fn the_parsers_lines_become_one_sentence() {
        let rendered = "error: a thing is wrong\n  [with this]\n\nUsage: oystermark read [OPTIONS]\n\nFor more information, try '--help'.\n";
        assert_eq!(one_sentence(rendered), "a thing is wrong [with this]");
    }
}
