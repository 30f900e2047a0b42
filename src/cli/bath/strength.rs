//! `oystermark bath strength`: from hydrometer and thermometer to silver nitrate.

use clap::{ArgGroup, Args};
use serde_json::{Map, Value, json};

use oystermark::bath::strength::{
    Concentration, Measurement, Strength, TopUp, density_of_gravity, top_up,
};
use oystermark::units::Reading;

use super::number;
use crate::cli::exit::{Exit, Trouble};
use crate::cli::screen::Output;

/// What stands under every answer.
const CAUTION: &str = "Silver nitrate burns skin and eyes and blackens both: gloves and tight eye protection at every pour, eye wash within reach. Collect the waste. Local codes, the supplier's safety data sheet and licensed disposal go before anything said here.";

/// How acidity is best looked at.
const ACIDITY: &str = "Acidity: take a drop out on indicator paper (bromocresol green turns between pH 3.8 and 5.4, litmus between 4.5 and 8.3). A pH electrode leaks chloride, which clouds the bath and fouls the electrode (from memory).";

/// How silver nitrate goes in.
const ADDING_SILVER: &str = "Dissolve it in some of the bath, pour that back while stirring, let it clear, filter, and measure again.";

/// How water goes in.
const ADDING_WATER: &str = "Distilled water only. The bath may turn milky, since a weaker bath holds less silver iodide: let it settle, filter, and measure again.";

/// Tell a bath's strength from its density and temperature, and what to add
///
/// The table is for a pure solution of silver nitrate: 0 to 40 per cent by mass, 10 to 30 C. Alcohol makes an old
/// bath read low, other nitrates make it read high; a titration settles it.
#[derive(Debug, Args)]
#[command(
    group = ArgGroup::new("how_heavy").required(true).args(["density", "gravity"]),
    group = ArgGroup::new("how_warm").required(true).args(["temp_c", "temp_f"]),
    after_help = "Examples:
  oystermark bath strength --density 1.0882 --temp-c 20
  oystermark bath strength --gravity 1.07 --temp-f 65 --litres 2 --target \"9 %w/v\""
)]
pub struct StrengthArgs {
    /// Density of the bath, g/cm3
    #[arg(long, value_name = "G_PER_CM3", value_parser = number, allow_hyphen_values = true)]
    density: Option<f64>,

    /// Specific gravity by a hydrometer marked 20/20: times as heavy as water, both at 20 C
    #[arg(long, value_name = "SG", value_parser = number, allow_hyphen_values = true)]
    gravity: Option<f64>,

    /// How closely the density was read, plus or minus [default: 0.001]
    #[arg(long, value_name = "G_PER_CM3", value_parser = number, allow_hyphen_values = true)]
    density_u: Option<f64>,

    /// Temperature of the bath, degrees Celsius
    #[arg(long, value_name = "C", value_parser = number, allow_hyphen_values = true)]
    temp_c: Option<f64>,

    /// Temperature of the bath, degrees Fahrenheit
    #[arg(long, value_name = "F", value_parser = number, allow_hyphen_values = true)]
    temp_f: Option<f64>,

    /// How closely the temperature was read, plus or minus, in the degrees it is given in [default: 0.5 C]
    #[arg(long, value_name = "DEGREES", value_parser = number, allow_hyphen_values = true)]
    temp_u: Option<f64>,

    /// Volume of the bath in litres, to reckon what to add
    #[arg(long, value_name = "LITRES", value_parser = number, requires = "target", allow_hyphen_values = true)]
    litres: Option<f64>,

    /// Strength wanted: 90g/l, "9 %w/v", "9 %w/w", 45gr/us-oz, 45gr/uk-oz
    #[arg(
        long,
        value_name = "STRENGTH",
        requires = "litres",
        allow_hyphen_values = true
    )]
    target: Option<Concentration>,

    /// Print one JSON object and nothing else
    #[arg(long)]
    json: bool,
}

impl StrengthArgs {
    fn measurement(&self) -> Option<Measurement> {
        let density_g_cm3 = self.density.or(self.gravity.map(density_of_gravity))?;
        let celsius = |f: f64| (f - 32.0) / 1.8;
        let temp_c = self.temp_c.or(self.temp_f.map(celsius))?;
        let per_degree = if self.temp_f.is_some() { 1.8 } else { 1.0 };
        Some(Measurement {
            density_g_cm3,
            density_u: self.density_u,
            temp_c,
            temp_u_c: self.temp_u.map(|u| u / per_degree),
        })
    }
}

/// Prints the strength.
pub fn run(args: &StrengthArgs) -> Result<Exit, Trouble> {
    let hint = "take a reading of a bath between 10 and 30 C, in g/cm3, as in 1.07";
    // The command line asks for both.
    let measurement = args
        .measurement()
        .ok_or_else(|| Trouble::of_command("no density or no temperature", hint))?;
    let strength =
        Strength::of(measurement).map_err(|error| Trouble::of_command(error.to_string(), hint))?;
    let added = match (args.litres, args.target) {
        (Some(litres), Some(target)) => {
            let added = top_up(&strength, litres, target).map_err(|error| {
                Trouble::of_command(error.to_string(), "give another --litres or --target")
            })?;
            Some((litres, target, added))
        }
        _ => None,
    };
    let mut output = Output::default();
    if args.json {
        output.line(&as_json(&strength, added.as_ref()).to_string())?;
    } else {
        output.line(&as_text(&strength, added.as_ref()))?;
    }
    Ok(Exit::Analysed)
}

type Added = (f64, Concentration, TopUp);

/// The strength's numbers: JSON name, words for people, decimals.
fn numbers(strength: &Strength) -> [(&'static str, &'static str, usize, &Reading); 4] {
    [
        ("mass_percent", "% by mass", 2, &strength.mass_percent),
        ("g_per_l", "g/l", 1, &strength.g_per_l),
        (
            "grains_per_us_oz",
            "grains a US fluid ounce",
            1,
            &strength.grains_per_us_oz,
        ),
        (
            "grains_per_uk_oz",
            "grains a UK fluid ounce",
            1,
            &strength.grains_per_uk_oz,
        ),
    ]
}

/// Decimals beyond any meaning are cut, so that the text stays readable.
fn rounded(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

fn as_json(strength: &Strength, added: Option<&Added>) -> Value {
    let mut object = Map::new();
    let mut put = |key: String, value: f64| object.insert(key, json!(rounded(value)));
    put("density_g_cm3".to_owned(), strength.from.density_g_cm3);
    put("density_g_cm3_u".to_owned(), strength.density_u);
    put("temp_c".to_owned(), strength.from.temp_c);
    for (name, _, _, reading) in numbers(strength) {
        put(name.to_owned(), reading.value);
        put(format!("{name}_u"), reading.u);
    }
    if let Some((litres, target, top_up)) = added {
        let add = match top_up {
            TopUp::AsItIs => {
                json!({"what": "nothing", "because": "the target lies within the reading"})
            }
            TopUp::SilverNitrate {
                grams,
                litres_after,
            } => json!({
                "what": "silver_nitrate",
                "grams": rounded(grams.value),
                "grams_u": rounded(grams.u),
                "litres_after": rounded(*litres_after),
            }),
            TopUp::Water { ml, litres_after } => json!({
                "what": "water",
                "ml": rounded(ml.value),
                "ml_u": rounded(ml.u),
                "litres_after": rounded(*litres_after),
            }),
        };
        object.insert("litres".to_owned(), json!(litres));
        object.insert("target".to_owned(), json!(target.to_string()));
        object.insert("add".to_owned(), add);
    }
    let doubts = &strength.mass_percent.doubts;
    let explained: Map<String, Value> = doubts
        .iter()
        .map(|doubt| (doubt.name().to_owned(), json!(doubt.long())))
        .collect();
    object.insert("doubts".to_owned(), json!(doubts));
    object.insert("doubts_explained".to_owned(), Value::Object(explained));
    object.insert("cautions".to_owned(), json!([CAUTION]));
    object.insert("advice".to_owned(), json!([ACIDITY]));
    Value::Object(object)
}

fn as_text(strength: &Strength, added: Option<&Added>) -> String {
    let mut lines = vec!["Silver nitrate in the bath:".to_owned()];
    for (_, words, decimals, reading) in numbers(strength) {
        let (value, u) = (reading.value, reading.u);
        lines.push(format!(
            "  {value:.decimals$} \u{b1} {u:.decimals$} {words}"
        ));
    }
    if let Some((litres, target, top_up)) = added {
        lines.push(String::new());
        lines.push(match top_up {
            TopUp::AsItIs => format!(
                "Add nothing: {target} lies within what this reading can tell."
            ),
            TopUp::SilverNitrate {
                grams,
                litres_after,
            } => format!(
                "To bring {litres} l to {target}: add {:.0} \u{b1} {:.0} g of silver nitrate; that makes {litres_after:.2} l. {ADDING_SILVER}",
                grams.value, grams.u
            ),
            TopUp::Water { ml, litres_after } => format!(
                "To bring {litres} l to {target}: add {:.0} \u{b1} {:.0} ml of water; that makes {litres_after:.2} l. {ADDING_WATER}",
                ml.value, ml.u
            ),
        });
    }
    lines.push(String::new());
    for doubt in &strength.mass_percent.doubts {
        lines.push(format!("Doubt: {}", doubt.long()));
    }
    lines.push(ACIDITY.to_owned());
    lines.push(CAUTION.to_owned());
    lines.join("\n")
}
