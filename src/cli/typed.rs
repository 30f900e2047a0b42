//! What a command line that could not be understood gets to hear.

use super::exit::{Exit, Trouble};
use super::screen;

/// Prints what clap has to say: help on the normal output, a wrong command as one sentence.
pub fn answer(error: &clap::Error) -> Exit {
    if !error.use_stderr() {
        // A closed pipe behind `--help` is no failure.
        let _ = error.print();
        return Exit::Analysed;
    }
    if error.kind() == clap::error::ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand {
        let _ = error.print();
        return Exit::Failed;
    }
    screen::complain(&command_trouble(&error.render().to_string()));
    Exit::Failed
}

/// The several lines of a command line error as one sentence.
fn command_trouble(rendered: &str) -> Trouble {
    let mut said = Vec::new();
    let mut command = "oystermark".to_owned();
    for line in rendered.lines().map(str::trim) {
        if let Some(usage) = line.strip_prefix("Usage:") {
            let words = usage.split_whitespace();
            let names: Vec<_> = words
                .take_while(|word| word.chars().all(|c| c.is_ascii_lowercase()))
                .collect();
            command = names.join(" ");
        } else if !line.is_empty() && !line.starts_with("For more information") {
            said.push(line.trim_start_matches("error: "));
        }
    }
    let said = said.join(" ").replace(" tip: ", ", tip: ");
    Trouble::of_command(said, format!("see {command} --help"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wrong_option_is_one_sentence() {
        let rendered = "error: invalid value 'x' for '--kind <KIND>'\n  [possible values: a, b]\n\nUsage: oystermark read [OPTIONS]\n\nFor more information, try '--help'.\n";
        assert_eq!(
            command_trouble(rendered).sentence(),
            "oystermark: invalid value 'x' for '--kind <KIND>' [possible values: a, b]; see oystermark read --help"
        );
    }
}
