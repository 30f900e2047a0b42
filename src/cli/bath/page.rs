//! `oystermark bath page`: one page for each bath.

use std::path::PathBuf;

use clap::Args;

use oystermark::bath::figures::Figure;
use oystermark::bath::limit::parse_limit;
use oystermark::bath::log::in_force;
use oystermark::bath::{PageError, Span, page};

use super::{LogArgs, in_words, wanted};
use crate::cli::exit::{Exit, Trouble};
use crate::cli::screen::Output;
use crate::cli::write::OutFolder;

/// Write a page for each bath: its verdict, its figures over time, what was measured and done
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  oystermark bath page --out bath-pages
  oystermark bath page --bath B --baseline 2026-05-01..2026-05-14")]
pub struct PageArgs {
    #[command(flatten)]
    log: LogArgs,

    /// Only this bath
    #[arg(long, value_name = "NAME")]
    bath: Option<String>,

    /// Folder for the pages, bath-NAME.html
    #[arg(long, value_name = "DIR", default_value = "reports")]
    out: PathBuf,

    /// A limit of your own, to be told when it will be reached: veil_d=0.15, range_d=0.9
    #[arg(long, value_name = "FIGURE=VALUE", value_parser = parse_limit)]
    limit: Vec<(Figure, f64)>,

    /// Days whose plates give the charts' line and limits, first and last, both included [default: the first 8 days
    /// with plates since each reset]
    #[arg(long, value_name = "FROM..TO")]
    baseline: Option<Span>,
}

/// Writes the pages.
pub fn run(args: &PageArgs) -> Result<Exit, Trouble> {
    let (log, baths) = wanted(&args.log, args.bath.as_deref())?;
    let mut files = Vec::new();
    for bath in &baths {
        let rows = in_force(log.rows(Some(bath)).map_err(|error| in_words(&error))?);
        let html = page(bath, &rows, &args.limit, args.baseline).map_err(|error| {
            let hint = match &error {
                PageError::Baseline { .. } => "choose a longer span, or one bath with --bath",
                _ => "tell the maintainers",
            };
            Trouble::of_command(error.to_string(), hint)
        })?;
        files.push((file_name(bath), html));
    }
    let folder = OutFolder::open(&args.out)?;
    let mut output = Output::default();
    for (name, html) in &files {
        folder.write(&[(name.clone(), html.as_str())])?;
        output.line(&folder.path().join(name).display().to_string())?;
    }
    Ok(Exit::Analysed)
}

/// A name that is a file's name everywhere: what is no letter, digit or hyphen is told by its number.
fn file_name(bath: &str) -> String {
    let mut name = "bath-".to_owned();
    for c in bath.chars() {
        match c {
            _ if c.is_alphanumeric() || c == '-' => name.push(c),
            ' ' => name.push('_'),
            _ => name.push_str(&format!("~{:x}", u32::from(c))),
        }
    }
    name + ".html"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_baths_cannot_leave_the_folder() {
        assert_eq!(file_name("A"), "bath-A.html");
        assert_eq!(file_name("the big one"), "bath-the_big_one.html");
        assert_eq!(file_name("../x"), "bath-~2e~2e~2fx.html");
    }
}
