//! `oystermark bath verdict`: one line for each bath, and an exit code.

use clap::Args;
use serde_json::{Value, json};

use oystermark::bath::Day;
use oystermark::bath::figures::{Figure, area_since_top_up};
use oystermark::bath::limit::{Reach, parse_limit, reach};
use oystermark::bath::log::in_force;
use oystermark::bath::sentence::{use_line, verdict_line};
use oystermark::bath::verdict::{Cure, Judged, Standing, Treated, judge};
use oystermark::trend::Change;

use super::{LogArgs, in_words, wanted};
use crate::cli::exit::{Exit, Trouble};
use crate::cli::screen::{Output, complain};

/// Say in one line how each bath stands: steady, drifting, cured, or too early to tell
///
/// The days of each figure are compared with those before, since the bath was made or last treated. With fewer than
/// five days with plates nothing is said. A bath without any drift is called bad in at most one season of twenty.
#[derive(Debug, Args)]
#[command(after_help = "Example:
  oystermark bath verdict --bath B --limit veil_d=0.15

Exit codes:
  0  no figure drifts, and no limit is reached
  1  a figure drifts, or has reached its limit
  2  the log could not be read, or the command was wrong")]
pub struct VerdictArgs {
    #[command(flatten)]
    log: LogArgs,

    /// Only this bath
    #[arg(long, value_name = "NAME")]
    bath: Option<String>,

    /// A limit of your own, to be told when it will be reached: veil_d=0.15, range_d=0.9
    #[arg(long, value_name = "FIGURE=VALUE", value_parser = parse_limit)]
    limit: Vec<(Figure, f64)>,

    /// Print one JSON object a bath, each on a line, and nothing else
    #[arg(long)]
    json: bool,
}

/// Prints the verdicts.
pub fn run(args: &VerdictArgs) -> Result<Exit, Trouble> {
    let (log, baths) = wanted(&args.log, args.bath.as_deref())?;
    let mut output = Output::default();
    let mut exit = Exit::Analysed;
    for bath in &baths {
        let rows = in_force(log.rows(Some(bath)).map_err(|error| in_words(&error))?);
        let limited: Vec<Figure> = args.limit.iter().map(|(figure, _)| *figure).collect();
        let judged = judge(&rows, &limited);
        for figure in limited
            .iter()
            .filter(|f| judged.iter().all(|j| j.figure != **f))
        {
            complain(&Trouble::of_command(
                format!("bath {bath}: no plate of it tells of {}", figure.words()),
                format!(
                    "its limit {} was not looked at; add plates that show it",
                    figure.name()
                ),
            ));
            exit = Exit::Failed;
        }
        let drifts = judged
            .iter()
            .any(|j| matches!(j.standing, Standing::Drifts { .. }));
        let limit_reached = judged.iter().any(|j| {
            args.limit
                .iter()
                .any(|(figure, limit)| *figure == j.figure && reach(j, *limit) == Reach::Reached)
        });
        if drifts || limit_reached {
            exit = exit.max(Exit::Reached);
        }
        if args.json {
            let figures: Vec<Value> = judged.iter().map(|j| figure(j, &args.limit)).collect();
            let (area_cm2, _) = area_since_top_up(&rows);
            let line = json!({
                "bath": bath,
                "drifts": drifts,
                "limit_reached": limit_reached,
                "area_since_top_up_cm2": (area_cm2 * 10.0).round() / 10.0,
                "figures": figures,
            });
            output.line(&line.to_string())?;
        } else {
            output.line(&verdict_line(bath, &judged, &args.limit))?;
            let used = use_line(&rows);
            if !used.is_empty() {
                output.line(&format!("  {used}"))?;
            }
        }
    }
    Ok(exit)
}

fn rounded(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

fn cure(cure: &Cure) -> (&'static str, Option<&Change>) {
    match cure {
        Cure::CannotSayYet => ("cannot_say_yet", None),
        Cure::Cured(change) => ("cured", Some(change)),
        Cure::Helped(change) => ("helped", Some(change)),
        Cure::NoHelp(change) => ("no_help", Some(change)),
    }
}

fn treatment(treated: &Treated) -> Value {
    let done = |(what, day): &(String, Day)| json!({"what": what, "day": day.to_string()});
    let resets: Vec<Value> = treated.resets.iter().map(done).collect();
    let (word, change) = cure(&treated.cure);
    let mut object = json!({"resets": resets, "cure": word});
    if let Some(change) = change {
        object["change"] = json!(rounded(change.difference));
        object["change_interval"] = json!([rounded(change.low), rounded(change.high)]);
    }
    object
}

fn figure(judged: &Judged, limits: &[(Figure, f64)]) -> Value {
    let plates = judged.segments.last().map_or(0, |segment| segment.plates());
    let mut object = json!({"figure": judged.figure.name(), "plates_since_reset": plates});
    let (word, days) = match &judged.standing {
        Standing::TooFew { days } => ("too_few", Some(*days)),
        Standing::Steady { days } => ("steady", Some(*days)),
        Standing::Drifts { called, pace } => {
            object["called"] = json!(called.to_string());
            if let Some(pace) = pace {
                object["a_day"] = json!(rounded(pace.slope));
                object["a_day_interval"] = json!([rounded(pace.low), rounded(pace.high)]);
            }
            ("drifts", None)
        }
    };
    object["standing"] = json!(word);
    if let Some(days) = days {
        object["days_since_reset"] = json!(days);
    }
    if let Some(treated) = judged.cures.last() {
        let (word, change) = cure(&treated.cure);
        object["cure"] = json!(word);
        if let Some(change) = change {
            object["cure_change"] = json!(rounded(change.difference));
            object["cure_change_interval"] = json!([rounded(change.low), rounded(change.high)]);
        }
        object["cures"] = judged.cures.iter().map(treatment).collect();
    }
    if let Some((_, limit)) = limits.iter().find(|(figure, _)| *figure == judged.figure) {
        object["limit"] = json!(limit);
        object["limit_reached"] = match reach(judged, *limit) {
            Reach::Reached => json!("already"),
            Reach::CannotSayYet => json!("cannot_say_yet"),
            Reach::Day {
                likely,
                earliest,
                latest,
            } => json!({
                "likely": likely.to_string(),
                "earliest": earliest.to_string(),
                "latest": latest.map(|day| day.to_string()),
            }),
        };
    }
    object
}
