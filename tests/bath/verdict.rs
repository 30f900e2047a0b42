use super::{Bench, json};

/// A log of two baths over ten days: A keeps its veil, that of B grows from the sixth day on.
pub(super) fn season(bench: &Bench, days: usize) {
    let mut table = "row,bath,day,what,plate,process,kind,width_mm,height_mm,veil_d\n".to_owned();
    for bath in ["A", "B"] {
        table.push_str(&format!("event,{bath},2026-05-01,made,,,,,,\n"));
    }
    for day in 0..days {
        for (at, bath) in ["A", "B"].into_iter().enumerate() {
            let growth = if bath == "B" {
                0.02 * day.saturating_sub(5) as f64
            } else {
                0.0
            };
            let veil_d = 0.05 + 0.002 * ((day * 7 + at * 3) % 5) as f64 + growth;
            table.push_str(&format!(
                "plate,{bath},2026-05-{:02},,{bath}-{day},positive_on_metal,picture,100,125,{veil_d}\n",
                day + 2
            ));
        }
    }
    bench.write("season.csv", &table);
    bench
        .run(&["bath", "import", "season.csv"])
        .ends_with(0)
        .complains(0);
}

#[test]
fn a_drifting_bath_is_told_and_a_sound_one_is_not() {
    let bench = Bench::new();
    season(&bench, 16);
    let ran = bench.run(&["bath", "verdict"]).ends_with(1).complains(0);
    let lines: Vec<&str> = ran.out.lines().collect();
    assert!(
        lines[0].starts_with("bath A: 1 figure steady"),
        "{}",
        ran.out
    );
    assert!(lines[1].contains("2000 cm2 sensitized"), "{}", ran.out);
    assert!(
        lines[2].starts_with("bath B: veil grows, told since 2026-05-"),
        "{}",
        ran.out
    );
    bench.run(&["bath", "verdict", "--bath", "A"]).ends_with(0);

    let args = [
        "bath",
        "verdict",
        "--bath",
        "B",
        "--limit",
        "veil_d=0.4",
        "--json",
    ];
    let found = json(&bench.run(&args).ends_with(1).out);
    let veil = &found["figures"][0];
    assert_eq!(
        (veil["figure"].as_str(), veil["standing"].as_str()),
        (Some("veil_d"), Some("drifts"))
    );
    let pace = veil["a_day"].as_f64().expect("a pace");
    assert!((pace - 0.02).abs() < 0.002, "{veil}");
    assert!(
        veil["limit_reached"]["likely"]
            .as_str()
            .is_some_and(|day| day > "2026-05-17"),
        "{veil}"
    );
    let args = ["bath", "verdict", "--bath", "A", "--limit", "veil_d=0.01"];
    let ran = bench.run(&args).ends_with(1);
    assert!(
        ran.out.contains("the limit 0.01 D of veil is reached"),
        "{}",
        ran.out
    );
}

#[test]
fn a_cure_is_judged_once_there_are_plates_after_it() {
    let bench = Bench::new();
    season(&bench, 16);
    bench
        .run(&[
            "bath",
            "event",
            "--bath",
            "B",
            "sunned",
            "--on",
            "2026-05-18",
        ])
        .ends_with(0);
    let ran = bench.run(&["bath", "verdict", "--bath", "B"]).ends_with(0);
    assert!(
        ran.out
            .contains("cannot say yet whether sunned on 2026-05-18 helped"),
        "{}",
        ran.out
    );
    let mut table = "row,bath,day,plate,process,kind,veil_d\n".to_owned();
    for day in 19..24 {
        table.push_str(&format!(
            "plate,B,2026-05-{day},B-{day},positive_on_metal,picture,0.05{}\n",
            day % 4
        ));
    }
    bench.write("after.csv", &table);
    bench.run(&["bath", "import", "after.csv"]).ends_with(0);
    let ran = bench.run(&["bath", "verdict", "--bath", "B"]).ends_with(0);
    assert!(
        ran.out.contains("cured, sunned on 2026-05-18: lower by 0."),
        "{}",
        ran.out
    );
}

#[test]
fn what_was_done_together_is_credited_together() {
    let bench = Bench::new();
    season(&bench, 16);
    let mut table = "row,bath,day,what,plate,process,kind,veil_d\n\
                     event,B,2026-05-18,sunned,,,,\n\
                     event,B,2026-05-19,rested,,,,\n"
        .to_owned();
    for day in 20..25 {
        table.push_str(&format!(
            "plate,B,2026-05-{day},,B-{day},positive_on_metal,picture,0.05{}\n",
            day % 4
        ));
    }
    bench.write("after.csv", &table);
    bench.run(&["bath", "import", "after.csv"]).ends_with(0);
    let ran = bench.run(&["bath", "verdict", "--bath", "B"]).ends_with(0);
    assert!(
        ran.out.contains("2026-05-18 and rested") && ran.out.contains("cured"),
        "{}",
        ran.out
    );
    let args = ["bath", "verdict", "--bath", "B", "--json"];
    let cures = &json(&bench.run(&args).ends_with(0).out)["figures"][0]["cures"];
    assert_eq!(cures.as_array().map(Vec::len), Some(1), "{cures}");
    assert_eq!(cures[0]["cure"], "cured");
    let resets = cures[0]["resets"].as_array().expect("what was done");
    let what: Vec<&str> = resets.iter().filter_map(|r| r["what"].as_str()).collect();
    assert_eq!(what, ["sunned", "rested"]);
}

#[test]
fn little_is_said_of_few_plates() {
    let bench = Bench::new();
    season(&bench, 4);
    let ran = bench.run(&["bath", "verdict"]).ends_with(0);
    assert!(ran.out.contains("too few days"), "{}", ran.out);
    let ran = bench
        .run(&["bath", "verdict", "--bath", "C"])
        .ends_with(2)
        .complains(1);
    assert!(ran.err.contains("it knows: A, B"), "{}", ran.err);
    let ran = bench
        .run(&["bath", "verdict", "--limit", "fog=1"])
        .ends_with(2)
        .complains(1);
    assert!(ran.err.contains("no figure fog"), "{}", ran.err);
    let ran = bench
        .run(&["bath", "verdict", "--log", "none"])
        .ends_with(2)
        .complains(1);
    assert!(ran.err.contains("no bath log of that name"), "{}", ran.err);
}

/// By hand: 70 g/l times 2 l, and 20 g topped up, are 160 g. Ten plates of 100 by 125 mm take 10 x 125 cm2 x 0.0019 =
/// 2.4 g. A look at the litmus changes none of it; a bath made anew has nothing of it.
#[test]
fn a_reading_of_something_else_leaves_the_silver_as_it_is() {
    let bench = Bench::new();
    let mut table =
        "row,bath,day,what,plate,process,kind,width_mm,height_mm,g_per_l,litres,grams,litmus\n\
                     event,A,2026-05-01,made,,,,,,,,,\n\
                     reading,A,2026-05-02,,,,,,,70,2,,\n"
            .to_owned();
    for plate in 0..10 {
        table.push_str(&format!(
            "plate,A,2026-05-03,,A-{plate},positive_on_metal,picture,100,125,,,,\n"
        ));
    }
    table.push_str("event,A,2026-05-04,topped_up,,,,,,,,20,\nreading,A,2026-05-05,,,,,,,,,,red\n");
    bench.write("silver.csv", &table);
    bench.run(&["bath", "import", "silver.csv"]).ends_with(0);
    let ran = bench.run(&["bath", "verdict"]);
    assert!(
        ran.out
            .contains("160 \u{b1} 0 g of it in the bath then, and some 2 g taken out"),
        "{}",
        ran.out
    );
    assert!(ran.out.contains("on 2026-05-02"), "{}", ran.out);

    bench.write("anew.csv", "row,bath,day,what\nevent,A,2026-05-06,made\n");
    bench.run(&["bath", "import", "anew.csv"]).ends_with(0);
    let ran = bench.run(&["bath", "verdict"]);
    assert!(!ran.out.contains("g of it in the bath"), "{}", ran.out);
    assert!(!ran.out.contains("70.0"), "{}", ran.out);
}

#[test]
fn a_limit_of_which_no_plate_tells_is_said_so() {
    let bench = Bench::new();
    season(&bench, 16);
    let args = ["bath", "verdict", "--bath", "A", "--limit", "range_d=0.9"];
    let ran = bench.run(&args).ends_with(2).complains(1);
    assert!(
        ran.err.contains("no plate of it tells of density range"),
        "{}",
        ran.err
    );
}
