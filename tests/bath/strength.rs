use super::{Bench, json};

#[test]
fn the_strength_of_a_reading_in_json() {
    let bench = Bench::new();
    let args = "bath strength --density 1.0882 --temp-c 20 --json";
    let args: Vec<&str> = args.split(' ').collect();
    let found = json(&bench.run(&args).ends_with(0).complains(0).out);
    let number = |name: &str| found[name].as_f64().unwrap_or_else(|| panic!("no {name}"));
    assert!((number("mass_percent") - 10.0).abs() < 0.001);
    assert!((number("g_per_l") - 108.82).abs() < 0.01);
    assert!((number("grains_per_us_oz") - 49.66).abs() < 0.01);
    assert!((number("grains_per_uk_oz") - 47.72).abs() < 0.01);
    for name in ["mass_percent_u", "g_per_l_u", "grains_per_us_oz_u"] {
        assert!(number(name) > 0.0, "{name}");
    }
    assert_eq!(found["doubts"][0], "alcohol_reads_low");
    assert!(found["doubts_explained"]["alcohol_reads_low"].is_string());
    assert!(
        found["cautions"][0]
            .as_str()
            .is_some_and(|c| c.contains("gloves"))
    );
}

#[test]
fn fahrenheit_gravity_and_what_to_add() {
    let bench = Bench::new();
    let run = |more: &[&str]| {
        let mut args = vec!["bath", "strength"];
        args.extend(more);
        bench.run(&args).ends_with(0).complains(0).out
    };
    let celsius = json(&run(&["--density", "1.07", "--temp-c", "25", "--json"]));
    let fahrenheit = json(&run(&["--density", "1.07", "--temp-f", "77", "--json"]));
    assert_eq!(celsius, fahrenheit);
    let by_gravity = json(&run(&["--gravity", "1.07", "--temp-c", "20", "--json"]));
    assert!((by_gravity["density_g_cm3"].as_f64().unwrap() - 1.068_085).abs() < 1e-5);

    let target = ["--litres", "2", "--target", "100 g/l"];
    let mut args = vec!["--density", "1.06", "--temp-c", "20"];
    args.extend(target);
    let text = run(&args);
    assert!(
        text.contains("g of silver nitrate; that makes 2.01 l"),
        "{text}"
    );
    for words in ["gloves", "safety data sheet", "indicator paper", "Alcohol"] {
        assert!(
            text.contains(words) || text.contains(&words.to_lowercase()),
            "no {words}: {text}"
        );
    }
    args.push("--json");
    let found = json(&run(&args));
    assert_eq!(found["add"]["what"], "silver_nitrate");
    let grams = found["add"]["grams"].as_f64().unwrap();
    let lacking = 100.0 * found["add"]["litres_after"].as_f64().unwrap()
        - 2.0 * found["g_per_l"].as_f64().unwrap();
    assert!((grams - lacking).abs() < 0.01);
    let strong = ["--density", "1.12", "--temp-c", "20", "--json"];
    let found = json(&run(&[&strong[..], &target[..]].concat()));
    assert_eq!(found["add"]["what"], "water");
}

#[test]
fn what_cannot_be_told_is_one_clear_sentence() {
    let bench = Bench::new();
    for (args, says) in [
        ("--density 1.0882 --temp-c 40", "10 to 30 C"),
        ("--density 0.9 --temp-c 20", "below that of water"),
        ("--density 1.7 --temp-c 20", "where the table ends"),
        ("--density 1,07 --temp-c 20", "decimals after a point"),
        ("--density NaN --temp-c 20", "not a number"),
        ("--density 1.07", "something is missing"),
        (
            "--density 1.07 --temp-c 20 --temp-f 68",
            "do not go together",
        ),
        (
            "--density 1.07 --temp-c 20 --litres 2 --target 9%",
            "%w/v or %w/w",
        ),
        (
            "--density 1.07 --temp-c 20 --litres 0 --target 90g/l",
            "not a volume",
        ),
        (
            "--density 1.07 --temp-c 20 --litres 1 --target 50%w/w",
            "40 % by mass",
        ),
        (
            "--density 1.07 --temp-c 20 --density-u -1",
            "not zero or more",
        ),
    ] {
        let all: Vec<&str> = "bath strength".split(' ').chain(args.split(' ')).collect();
        let ran = bench.run(&all).ends_with(2).complains(1);
        assert!(ran.err.contains(says), "{args}: {}", ran.err);
        assert!(ran.out.is_empty());
    }
}
