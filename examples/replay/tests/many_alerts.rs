//! What a recording's own page shouts stands in the summary of many.

mod common;

use common::cli::{replay_brief, replay_in};
use common::recording::{HEADER, wave};
use std::fmt::Write as _;
use std::fs;
use tempfile::TempDir;

/// Samples of stillness, from 5 to 5.06 cmH2O.
fn still(from_s: u64, seconds: u64) -> String {
    (from_s * 100..(from_s + seconds) * 100).fold(String::new(), |mut text, n| {
        let alive = (n % 7) as f64 * 0.01;
        writeln!(text, "{},{alive:.3},{:.3}", n * 10_000, 5.0 + alive).unwrap();
        text
    })
}

/// The wave with so many mL/s more.
fn off(from_s: u64, seconds: u64, by: f64) -> String {
    wave(from_s, seconds).lines().fold(String::new(), |mut text, line| {
        let cells: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap()).collect();
        writeln!(text, "{},{:.3},{:.3}", cells[0], cells[1] + by, cells[2]).unwrap();
        text
    })
}

#[test]
fn alerts_of_the_page_stand_in_the_summary_in_its_words() {
    let folder = TempDir::new().unwrap();
    let all = folder.path().join("all");
    fs::create_dir_all(&all).unwrap();
    let stuck: String = (30_000..60_000).map(|n| format!("{},0,5\n", n * 10_000)).collect();
    let cases = [
        ("told", wave(0, 300), "peak_cmH2O = 25\n", "TOLD AND MEASURED DISAGREE: peak told 25.0"),
        ("apnoea", wave(0, 300) + &still(300, 61), "", "NO BREATH for 6"),
        ("stuck", wave(0, 300) + &stuck, "", "NO USABLE INPUT at the end, for "),
        ("left", wave(0, 300) + &off(300, 300, 9.0), "", "MOST BREATHS ARE LEFT OUT at the end"),
        ("blind", wave(0, 300) + &wave(1_200, 300), "", "The check was blind for 15 min of 25 min"),
        (
            "kpa",
            off(0, 300, 0.0).replace(",15.", ",1.5").replace(",5.0", ",0.50"),
            "",
            "RECORDING IN DOUBT: ",
        ),
        ("well", wave(0, 300), "", ""),
    ];
    for (name, text, settings, _) in &cases {
        fs::write(all.join(format!("{name}.csv")), format!("{HEADER}{text}")).unwrap();
        let settings = format!("weight_g = 1500\nset_rate = 60\n{settings}");
        fs::write(all.join(format!("{name}.toml")), settings).unwrap();
    }
    let outcome = replay_in(folder.path(), &["--many", "all", "--out", "out", "--tables", "csv"]);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    let said = "6 of 7 recordings have alerts on top of their page; the column alerts of out/summary.csv holds them";
    assert!(outcome.stderr.contains(said), "{}", outcome.stderr);
    let mut reader = csv::Reader::from_path(folder.path().join("out/summary.csv")).unwrap();
    let place = reader.headers().unwrap().iter().position(|name| name == "alerts").unwrap();
    let rows: Vec<_> = reader.records().map(Result::unwrap).collect();
    for (name, .., words) in cases {
        let file = format!("{name}.csv");
        let row = rows.iter().find(|row| row[0] == *file).unwrap();
        let found = &row[place];
        let (recording, settings) = (format!("all/{file}"), format!("all/{name}.toml"));
        let alone = replay_brief(folder.path(), &[&recording, "--settings", &settings]);
        let top = alone.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(found.contains(words) && found.is_empty() == words.is_empty(), "{name}: {found}");
        assert!(top.contains(found), "{name}: {found}\n{top}");
    }
}
