//! A program that is killed in the middle of writing: the log opens again, and what it had confirmed is there.

use std::collections::BTreeMap;
use std::fs;
use std::io::Read;
use std::process::Stdio;
use std::thread::sleep;
use std::time::{Duration, Instant};

use oystermark::bath::log::BathLog;

use super::Bench;

/// Rows of one import.
const ROWS: usize = 40;

/// One run of the program that writes into the log: what is typed, and how many rows it adds.
struct Writing {
    args: Vec<String>,
    rows: usize,
    /// Share of an undisturbed run before which it writes nothing, and is not killed.
    from: f64,
}

/// The writing of a round: four imports of a table, then a scan that is read with `--log`.
fn writing(bench: &Bench, round: u32) -> Writing {
    let typed = |line: &str| line.split(' ').map(str::to_owned).collect();
    if round % 5 == 4 {
        // The same scan under another name is another plate.
        let name = format!("round-{round}.png");
        fs::copy(bench.path("plate.png"), bench.path(&name)).expect("a scan");
        return Writing {
            args: typed(&format!(
                "read {name} --log baths.log --bath A --on 2026-05-12"
            )),
            rows: 1,
            from: 0.8,
        };
    }
    let mut text = "row,bath,day,plate,veil_d\n".to_owned();
    for at in 0..ROWS {
        text.push_str(&format!("plate,A,2026-05-12,round-{round} {at},0.1\n"));
    }
    let name = format!("{round}.csv");
    bench.write(&name, &text);
    Writing {
        args: typed(&format!("bath import {name}")),
        rows: ROWS,
        from: 0.0,
    }
}

/// Rows of each round that the log holds.
fn held(bench: &Bench) -> BTreeMap<String, usize> {
    let log = BathLog::open_existing(&bench.path("baths.log")).expect("the log opens after a kill");
    let mut held = BTreeMap::new();
    for row in log.rows(None).expect("its rows") {
        let plate = row.text("plate").unwrap_or_default();
        let round = plate.split([' ', '.']).next().unwrap_or_default();
        *held.entry(round.to_owned()).or_insert(0) += 1;
    }
    held
}

/// Writes round after round, killing the program at a moment of its run that a fixed sequence chooses, until so many
/// were killed before their end.
fn kill_while_writing(kills: u32) {
    let bench = Bench::new();
    bench.clean("plate.png");
    let mut state = 12_345_u32;
    let mut chance = move || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from(state >> 8) / f64::from(1 << 24)
    };
    // How long undisturbed runs of both kinds take, so that the moments lie all over them.
    let whole: Vec<Duration> = [3, 4]
        .into_iter()
        .map(|round| {
            let args = writing(&bench, round).args;
            let args: Vec<&str> = args.iter().map(String::as_str).collect();
            let started = Instant::now();
            bench.run(&args).ends_with(0);
            started.elapsed()
        })
        .collect();
    let mut confirmed = Vec::new();
    let mut killed_amid = 0;
    let most_rounds = 4 * kills;
    let mut rounds = 0;
    for round in 5..5 + most_rounds {
        if killed_amid == kills {
            break;
        }
        rounds += 1;
        let writing = writing(&bench, round);
        let args: Vec<&str> = writing.args.iter().map(String::as_str).collect();
        let mut child = bench
            .command(&args)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("the program starts");
        let share = writing.from + (1.1 - writing.from) * chance();
        sleep(whole[usize::from(round % 5 == 4)].mul_f64(share));
        let _ = child.kill();
        let status = child.wait().expect("the program ends");
        let mut said = String::new();
        let mut out = child.stdout.take().expect("its output");
        out.read_to_string(&mut said).expect("words");
        killed_amid += u32::from(!status.success());
        if said.contains("new rows in") || said.contains("new plate of") {
            confirmed.push(format!("round-{round}"));
        }
        let held = held(&bench);
        let here = held.get(&format!("round-{round}"));
        assert!(
            here.is_none_or(|rows| *rows == writing.rows),
            "{here:?} rows of round {round} are in the log"
        );
        for round in &confirmed {
            assert!(
                held.contains_key(round),
                "{round} was confirmed and is lost"
            );
        }
    }
    println!(
        "{killed_amid} of {rounds} were killed before their end, {} confirmed",
        confirmed.len()
    );
    assert_eq!(
        killed_amid, kills,
        "only {killed_amid} of {rounds} were killed in time"
    );
}

#[test]
fn ten_kills_lose_nothing_confirmed() {
    kill_while_writing(10);
}

/// `cargo test --release --test tests five_hundred_kills -- --ignored`
#[test]
#[ignore = "long; run by name"]
fn five_hundred_kills_lose_nothing_confirmed() {
    kill_while_writing(500);
}
