//! `oystermark bath record` and `oystermark bath event`: what the maker measured and did.

use std::path::PathBuf;

use clap::Args;

use oystermark::bath::Day;
use oystermark::bath::log::{BathLog, EVENTS_OF_A_BATH, NewRow, Table};
use oystermark::bath::strength::{Measurement, Strength, density_of_gravity};

use super::{LogArgs, in_words, now, number};
use crate::cli::exit::{Exit, Trouble};
use crate::cli::screen::Output;

/// What every entry says.
#[derive(Debug, Args)]
struct About {
    #[command(flatten)]
    log: LogArgs,

    /// Which bath, as in A
    #[arg(long, value_name = "NAME")]
    bath: String,

    /// The day it is about, as in 2026-05-12 [default: today]
    #[arg(long, value_name = "DATE")]
    on: Option<Day>,

    /// Anything to remember, on one line
    #[arg(
        long,
        value_name = "TEXT",
        default_value = "",
        hide_default_value = true
    )]
    remark: String,

    /// Key of the row that this one corrects, or the start of it; bath export shows the keys
    ///
    /// Nothing in a log is overwritten: the older row stays in the file and no longer counts.
    #[arg(long, value_name = "KEY")]
    corrects: Option<String>,
}

/// Write down what was measured on a bath: density and temperature, acidity, volume
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  oystermark bath record --bath A --density 1.0712 --temp-c 19 --litres 2.4
  oystermark bath record --bath A --litmus red")]
pub struct RecordArgs {
    #[command(flatten)]
    about: About,

    /// Density, g/cm3; with a temperature the strength is reckoned and kept too
    #[arg(long, value_name = "G_PER_CM3", value_parser = number, allow_hyphen_values = true)]
    density: Option<f64>,

    /// Specific gravity by a hydrometer marked 20/20
    #[arg(long, value_name = "SG", value_parser = number, conflicts_with = "density", allow_hyphen_values = true)]
    gravity: Option<f64>,

    /// Temperature, degrees Celsius
    #[arg(long, value_name = "C", value_parser = number, allow_hyphen_values = true)]
    temp_c: Option<f64>,

    /// Temperature, degrees Fahrenheit
    #[arg(long, value_name = "F", value_parser = number, conflicts_with = "temp_c", allow_hyphen_values = true)]
    temp_f: Option<f64>,

    /// Acidity by indicator paper, pH
    #[arg(long, value_name = "PH", value_parser = number, allow_hyphen_values = true)]
    ph: Option<f64>,

    /// Colour of litmus paper: red, purple or blue
    #[arg(
        long,
        value_name = "COLOUR",
        default_value = "",
        hide_default_value = true
    )]
    litmus: String,

    /// Volume, litres
    #[arg(long, value_name = "LITRES", value_parser = number, allow_hyphen_values = true)]
    litres: Option<f64>,
}

/// Write down what was done to a bath: made, filtered, sunned, topped up and so on
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  oystermark bath event --bath B sunned --on 2026-05-12 --remark \"two days in the window\"
  oystermark bath event --bath B topped_up --grams 20")]
pub struct EventArgs {
    #[command(flatten)]
    about: About,

    /// What was done; withdrawn takes back the row named with --corrects
    #[arg(value_name = "WHAT", value_parser = clap::builder::PossibleValuesParser::new(EVENTS_OF_A_BATH))]
    what: String,

    /// Silver nitrate or other salt added, grams
    #[arg(long, value_name = "G", value_parser = number, allow_hyphen_values = true)]
    grams: Option<f64>,

    /// Water or acid added, millilitres
    #[arg(long, value_name = "ML", value_parser = number, allow_hyphen_values = true)]
    ml: Option<f64>,
}

/// Writes a reading into the log.
pub fn record(args: &RecordArgs) -> Result<Exit, Trouble> {
    let density = args.density.or(args.gravity.map(density_of_gravity));
    let temp_c = args.temp_c.or(args.temp_f.map(|f| (f - 32.0) / 1.8));
    let strength = match (density, temp_c) {
        (Some(density_g_cm3), Some(temp_c)) => {
            let found = Strength::of(Measurement {
                density_g_cm3,
                density_u: None,
                temp_c,
                temp_u_c: None,
            });
            let found = found.map_err(|error| {
                Trouble::of_command(
                    error.to_string(),
                    "take the reading again; nothing was written",
                )
            })?;
            Some(found.g_per_l)
        }
        _ => None,
    };
    // Decimals beyond any reading would only make the log hard to read.
    let rounded = |value: f64| (value * 1e6).round() / 1e6;
    let numbers = [
        ("density_g_cm3", density),
        ("temp_c", temp_c),
        ("g_per_l", strength.as_ref().map(|s| s.value)),
        ("g_per_l_u", strength.as_ref().map(|s| s.u)),
        ("ph", args.ph),
        ("litres", args.litres),
    ]
    .map(|(name, value)| (name, value.map(rounded)));
    enter(
        &args.about,
        Table::Reading,
        &[("litmus", &args.litmus)],
        &numbers,
    )
}

/// Writes an event into the log.
pub fn event(args: &EventArgs) -> Result<Exit, Trouble> {
    let numbers = [("grams", args.grams), ("ml", args.ml)];
    enter(&args.about, Table::Event, &[("what", &args.what)], &numbers)
}

fn enter(
    about: &About,
    table: Table,
    texts: &[(&str, &str)],
    numbers: &[(&str, Option<f64>)],
) -> Result<Exit, Trouble> {
    let wrong =
        |why: String| Trouble::of_command(why, "nothing was written; mend it and try again");
    let mut row = NewRow::of(table);
    let day = about.on.unwrap_or_else(now::today).to_string();
    row.set("bath", &about.bath).map_err(wrong)?;
    row.set("day", &day).map_err(wrong)?;
    row.set("recorded", &now::stamp()).map_err(wrong)?;
    row.set("remark", &about.remark).map_err(wrong)?;
    for (name, text) in texts {
        row.set(name, text).map_err(wrong)?;
    }
    for (name, value) in numbers {
        if let Some(value) = value {
            row.set_number(name, *value).map_err(wrong)?;
        }
    }
    // A wrong row makes no log.
    if about.corrects.is_none() {
        row.clone().finish().map_err(wrong)?;
    }
    let mut log = match about.corrects {
        Some(_) => BathLog::open_existing(&about.log.log),
        None => BathLog::open(&about.log.log),
    }
    .map_err(|error| in_words(&error))?;
    if let Some(start) = &about.corrects {
        let key = log.key_of(start).map_err(|error| in_words(&error))?;
        row.set("corrects", &key).map_err(wrong)?;
    }
    let row = row.finish().map_err(wrong)?;
    log.add(std::slice::from_ref(&row))
        .map_err(|error| in_words(&error))?;
    let log: &PathBuf = &about.log.log;
    Output::default().line(&format!(
        "Written into {}: {} of bath {} on {day}, key {}",
        log.display(),
        table.word(),
        row.bath(),
        row.key()
    ))?;
    Ok(Exit::Analysed)
}
