//! `oystermark causes`: from a maker's words to causes, without a scan.

use std::path::PathBuf;

use clap::Args;
use oystermark::causes::Catalogue;
use oystermark::causes::told::{Account, Accounts, Look, ToldRanked};
use serde_json::{Value, json};

use super::exit::{Exit, Trouble};
use super::screen::{Output, complain};
use super::short_text::ShortText;

/// Rank the causes of a fault from what you saw and did, or browse the catalogue; no scan needed
///
/// Say what you saw in plain words: how it looks, where, which way, when it showed, what you changed. Without
/// any words it lists the faults that the catalogue knows.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  oystermark causes \"comets, tails to the drain corner, only the first plate\"\n  oystermark causes --of greasy_lines\n  oystermark causes --case case.json --json"
)]
pub struct CausesArgs {
    /// What you saw and did, in your own words, with commas between.
    #[arg(value_name = "WORDS", conflicts_with_all = ["case", "of"])]
    words: Vec<String>,
    /// A case in JSON: tone, shape, where, direction, first_noticed and context under "signs".
    #[arg(long, value_name = "FILE", conflicts_with = "of")]
    case: Option<PathBuf>,
    /// All causes of one fault of the catalogue, by its name.
    #[arg(long, value_name = "FAULT")]
    of: Option<String>,
    /// How many causes to name.
    #[arg(long, value_name = "NUMBER", default_value_t = 5)]
    most: usize,
    /// One JSON object a line, for scripts.
    #[arg(long)]
    json: bool,
}

/// The longest is our own choice: a thousand times a case.
const CASE_FILE: ShortText = ShortText {
    name: "case file",
    option: "--case",
    write: "write {\"signs\": {\"tone\": \"...\", \"context\": [\"...\"]}}",
    longest_bytes: 4 << 20,
};

/// Causes named in JSON, at least.
const LEAST_IN_JSON: usize = 10;

/// Ranks or browses, and prints.
pub fn run(args: CausesArgs) -> Exit {
    answer(&args).unwrap_or_else(|trouble| {
        complain(&trouble);
        Exit::Failed
    })
}

fn answer(args: &CausesArgs) -> Result<Exit, Trouble> {
    let damaged = |error: oystermark::causes::CatalogueError| {
        Trouble::of_command(
            error.to_string(),
            "this is a fault of the program; install it anew",
        )
    };
    let catalogue = Catalogue::built_in().map_err(damaged)?;
    let accounts = Accounts::built_in(&catalogue).map_err(damaged)?;
    let mut out = Output::default();
    if let Some(name) = &args.of {
        let look = find_look(&accounts, name)?;
        for line in causes_of(look, &accounts, &catalogue, args.json) {
            out.line(&line)?;
        }
        return Ok(Exit::Analysed);
    }
    let told: Vec<Account> = match &args.case {
        Some(path) => cases(path)?,
        None => vec![Account::of_words(&args.words.join(", "))],
    };
    if told.iter().all(Account::is_empty) && args.case.is_none() {
        for line in list(&accounts, args.json) {
            out.line(&line)?;
        }
        return Ok(Exit::Analysed);
    }
    for account in &told {
        let ranked = accounts.rank(account, &catalogue);
        if args.json {
            out.line(&in_json(&ranked, args.most.max(LEAST_IN_JSON)).to_string())?;
        } else {
            for line in in_words(&ranked, args.most) {
                out.line(&line)?;
            }
        }
    }
    Ok(Exit::Analysed)
}

/// The cases of a file: one, or a list of them.
fn cases(path: &std::path::Path) -> Result<Vec<Account>, Trouble> {
    let text = CASE_FILE.read(path)?;
    let wrong = |why: String| Trouble::new(path, why, CASE_FILE.write);
    let value: Value = serde_json::from_str(&text)
        .map_err(|error| wrong(format!("the case file is no JSON: {error}")))?;
    let list = match value {
        Value::Array(list) => list,
        one => vec![one],
    };
    let many = list.len() > 1;
    let accounts: Result<Vec<Account>, String> = list
        .iter()
        .enumerate()
        .map(|(at, case)| {
            let which = match many {
                true => format!("case {} of the file", at + 1),
                false => "the case".to_owned(),
            };
            Account::of_case(case).map_err(|why| format!("{which} {why}"))
        })
        .collect();
    let accounts = accounts.map_err(wrong)?;
    if accounts.is_empty() {
        return Err(wrong("the case file holds no case".to_owned()));
    }
    Ok(accounts)
}

fn find_look<'a>(accounts: &'a Accounts, name: &str) -> Result<&'a Look, Trouble> {
    let wanted = name.trim().to_lowercase().replace([' ', '-'], "_");
    let matches = |words: &str| words.to_lowercase().replace([' ', '-'], "_") == wanted;
    let found = accounts.looks().find(|look| {
        matches(&look.id) || matches(&look.title) || look.names.iter().any(|name| matches(name))
    });
    found.ok_or_else(|| {
        Trouble::of_command(
            format!("the catalogue has no fault of the name {name}"),
            "run `oystermark causes` to see all names",
        )
    })
}

/// All looks with their names.
fn list(accounts: &Accounts, as_json: bool) -> Vec<String> {
    if as_json {
        return accounts
            .looks()
            .map(|look| {
                let label = look.fault.map(|fault| fault.name());
                let line = json!({"fault": look.id, "title": look.title, "names": look.names, "label": label});
                line.to_string()
            })
            .collect();
    }
    let widest = accounts
        .looks()
        .map(|look| look.id.len())
        .max()
        .unwrap_or(0);
    let mut lines: Vec<String> = accounts
        .looks()
        .map(|look| format!("{:widest$}  {}", look.id, look.title))
        .collect();
    lines.push(String::new());
    lines.push("All causes of one: oystermark causes --of NAME".into());
    lines.push("From what you saw: oystermark causes \"where, which way, when it showed, what you changed\"".into());
    lines
}

/// All causes of one look, the usual ones first.
fn causes_of(
    look: &Look,
    accounts: &Accounts,
    catalogue: &Catalogue,
    as_json: bool,
) -> Vec<String> {
    let mut told: Vec<_> = accounts.tellings(&look.id).collect();
    told.sort_by(|a, b| {
        let odds = |often| catalogue.weights.odds(often);
        odds(b.often).total_cmp(&odds(a.often))
    });
    let mut lines = Vec::new();
    if !as_json {
        lines.push(format!("{} ({})", look.title, look.names.join(", ")));
    }
    for telling in told {
        let Some(cause) = catalogue.cause(&telling.cause) else {
            continue;
        };
        let check = cause
            .checks
            .first()
            .and_then(|name| catalogue.checks.get(name));
        let check = check.map_or("", |check| check.words.as_str());
        let cautions = catalogue.caution_lines(&cause.cautions);
        let sources = catalogue.source_lines(cause);
        if as_json {
            let line = json!({
                "fault": look.id, "cause": cause.id, "title": cause.title, "side": cause.side,
                "often": telling.often.word(), "told": telling.says, "remedy": cause.remedy,
                "check_next": check, "cautions": cautions, "sources": sources,
            });
            lines.push(line.to_string());
            continue;
        }
        lines.push(String::new());
        lines.push(format!("{} ({})", cause.title, telling.often.word()));
        lines.push(format!("  told      {}", telling.says.join("; ")));
        lines.push(format!("  to do     {}", cause.remedy));
        lines.push(format!("  to check  {check}"));
        lines.extend(cautions.iter().map(|words| format!("  caution   {words}")));
        lines.extend(sources.iter().map(|words| format!("  source    {words}")));
    }
    lines
}

fn in_json(ranked: &ToldRanked, most: usize) -> Value {
    let looks: Vec<Value> = ranked
        .looks
        .iter()
        .take(most)
        .map(|look| json!({"fault": look.look, "title": look.title, "probability": look.probability}))
        .collect();
    let causes: Vec<_> = ranked.causes.iter().take(most).collect();
    json!({
        "causes": causes,
        "none_of_these": ranked.none_of_these,
        "faults": looks,
        "check_next": ranked.check_next,
    })
}

/// Words never make a thing certain or impossible, so that neither 0 nor 100 is said.
fn percent(share: f64) -> String {
    match 100.0 * share {
        all if all > 99.0 => "over 99 %".into(),
        none if none < 1.0 => "under 1 %".into(),
        some => format!("{some:.0} %"),
    }
}

/// The least probability of a look that is worth naming.
const WORTH_NAMING: f64 = 0.1;

fn in_words(ranked: &ToldRanked, most: usize) -> Vec<String> {
    let looks: Vec<String> = ranked
        .looks
        .iter()
        .filter(|look| look.probability >= WORTH_NAMING)
        .map(|look| format!("{} ({})", look.title, percent(look.probability)))
        .collect();
    let mut lines = Vec::new();
    if !looks.is_empty() {
        lines.push(format!("This sounds like: {}", looks.join(", ")));
    }
    for cause in ranked.causes.iter().take(most) {
        lines.push(String::new());
        lines.push(format!(
            "{:>4}  {}",
            percent(cause.probability),
            cause.title
        ));
        let part = |lead: &str, words: &str| format!("      {lead:<8}  {words}");
        lines.extend(cause.because.iter().map(|words| part("for", words)));
        lines.extend(cause.against.iter().map(|words| part("against", words)));
        lines.push(part("to do", &cause.remedy));
        lines.push(part("to check", &cause.check_next));
        lines.extend(cause.cautions.iter().map(|words| part("caution", words)));
    }
    lines.push(String::new());
    let rest: f64 = ranked
        .causes
        .iter()
        .skip(most)
        .map(|cause| cause.probability)
        .sum();
    lines.push(format!(
        "Other causes {}, none of these {}.",
        percent(rest),
        percent(ranked.none_of_these)
    ));
    if let Some(check) = &ranked.check_next {
        lines.push(format!(
            "Check first ({:.0} min): {}. Yes means: {}.",
            check.minutes, check.words, check.yes
        ));
        lines.extend(
            check
                .cautions
                .iter()
                .map(|words| format!("  caution   {words}")),
        );
    }
    lines
}
