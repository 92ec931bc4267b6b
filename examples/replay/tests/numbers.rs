//! What the page says, worked out once more from the tables alone.

mod common;

use common::cli::replay_in;
use serde_json::Value;
use std::collections::HashMap;
use std::fs;
use std::path::Path;
use tempfile::TempDir;

/// The demo's infant (`examples/sim/src/demo.rs`): 980 g.
const KG: f64 = 0.98;

type Row = HashMap<String, String>;

fn table(folder: &Path, name: &str) -> Vec<Row> {
    let mut reader = csv::Reader::from_path(folder.join(name)).unwrap();
    reader.deserialize().map(Result::unwrap).collect()
}

fn number(row: &Row, column: &str) -> Option<f64> {
    row[column].parse().ok()
}

/// The value under which a share of all lies, by nearest rank: what the report's docs say of its medians.
fn quantile(mut values: Vec<f64>, share: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    values[(share * values.len() as f64).ceil() as usize - 1]
}

/// Median and middle half, as the page prints them.
fn told(values: Vec<f64>, unit: &str, places: usize) -> String {
    let [low, median, high] =
        [0.25, 0.5, 0.75].map(|share| format!("{:.places$}", quantile(values.clone(), share)));
    if low == high {
        format!("{median} {unit}")
    } else {
        format!("{median} {unit} ({low} to {high})")
    }
}

#[test]
fn the_figures_of_the_page_come_from_the_tables() {
    let folder = TempDir::new().unwrap();
    let at = folder.path();
    let args =
        ["--report", "r.html", "--breaths", "b.csv", "--events", "e.csv", "--steps", "s.csv"];
    assert_eq!(replay_in(at, &args).code, 0);
    let page = fs::read_to_string(at.join("r.html")).unwrap();
    let (breaths, events, steps) = (table(at, "b.csv"), table(at, "e.csv"), table(at, "s.csv"));
    let onset = |row: &Row| number(row, "onset_us").unwrap() / 1e6;
    let end = 16_200.0; // 4.5 h
    let trusted: Vec<&Row> = breaths.iter().filter(|row| row["flags"].is_empty()).collect();
    let own = breaths.iter().filter(|row| row["kind"] == "own").count();
    let flagged = breaths.iter().filter(|row| !row["flags"].is_empty()).count();
    let late = |kind: &str| -> Vec<&Row> {
        let now = breaths.iter().filter(|row| onset(row) >= end - 180.0 && row["flags"].is_empty());
        now.filter(|row| kind.is_empty() || row["support"] == kind).collect()
    };
    let of = |rows: &[&Row], column: &str, each: f64| -> Vec<f64> {
        rows.iter().filter_map(|row| Some(number(row, column)? / each)).collect()
    };
    let (set, supported) = (late("assured"), late("supported"));
    let lung = of(&set, "corrected_ml", KG);
    let above = lung.iter().filter(|ml| **ml > 8.0).count();
    let count =
        |column: &str, value: &str| breaths.iter().filter(|row| row[column] == value).count();
    let step = |n: usize, column: &str| number(&steps[n - 1], column).unwrap();
    let clock = |seconds: f64| {
        let minutes = (seconds / 60.0).round() as u64;
        format!("{}:{:02}", minutes / 60, minutes % 60)
    };
    let passive = |column: &str| of(&trusted, column, 1.0);
    let figures = [
        format!("{} breaths: {} inflations and {own} own", breaths.len(), breaths.len() - own),
        format!("{flagged} flagged and left out"),
        told(lung.clone(), "mL/kg", 1),
        format!("{} set-rate breaths of the last 3 min", lung.len()),
        format!("{:.0} % above 8 mL/kg", 100.0 * above as f64 / lung.len() as f64),
        format!("supported {}", told(of(&supported, "corrected_ml", KG), "mL/kg", 1)),
        told(of(&late(""), "rate_per_min", 1.0), "breaths a minute", 0),
        told(of(&late(""), "minute_ml", KG), "mL/kg a minute at the sensor", 0),
        format!("in {} of {} breaths of the last 3 min", supported.len(), late("").len()),
        format!("<td class=\"number\">{}</td>", count("initiation", "effort")),
        format!("<td class=\"number\">{}</td>", count("initiation", "timed")),
        format!("<td class=\"number\">{}</td>", count("initiation", "self-leak")),
        format!("Self-cycling from 0:20 to 0:32: {} inflations", count("initiation", "self-leak")),
        format!(
            "{} breaths</small>",
            trusted.iter().filter(|row| row["support"] == "supported").count()
        ),
        format!(
            "{} breaths</small>",
            trusted.iter().filter(|row| row["support"] == "none").count()
        ),
        format!("mL/kg/min {:.0} to {:.0}", step(10, "minute_ml") / KG, step(11, "minute_ml") / KG),
        format!("rate {:.0} to {:.0}", step(10, "rate_per_min"), step(11, "rate_per_min")),
        format!("rapid-shallow index {:.1}", step(11, "rapid_shallow_per_ml_per_kg")),
        format!("step 5 from {} (", clock(step(5, "step_back_s"))),
        format!("step 10 from {} (", clock(step(10, "step_back_s"))),
        format!("From {} passive breaths", passive("compliance_ml_per_cmH2O").len()),
        format!("compliance {:.2} mL/cmH2O", quantile(passive("compliance_ml_per_cmH2O"), 0.5)),
        match events.iter().filter(|row| row["event"] == "alarm-on").count() {
            2 => "those set would have rung twice".to_owned(),
            rang => format!("those set would have rung {rang} times"),
        },
        format!(
            "{:.2} s</small>",
            quantile(
                of(
                    &trusted
                        .iter()
                        .copied()
                        .filter(|row| onset(row) >= end - 3_600.0 && row["kind"] == "inflation")
                        .collect::<Vec<_>>(),
                    "insp_s",
                    1.0
                ),
                0.5
            )
        ),
    ];
    let plain = page.replace("&lt;", "<").replace("&gt;", ">");
    let missing: Vec<_> =
        figures.iter().filter(|figure| !plain.contains(figure.as_str())).collect();
    assert!(missing.is_empty(), "the page does not say what the tables tell: {missing:#?}");
}

/// Flow left at the end of inspiration and what a target would have needed, by other columns.
#[test]
fn what_is_derived_comes_from_the_tables() {
    let folder = TempDir::new().unwrap();
    let at = folder.path();
    assert_eq!(replay_in(at, &["--report", "r.html", "--breaths", "b.csv"]).code, 0);
    let breaths = table(at, "b.csv");
    let mut seen = 0;
    for row in &breaths {
        let stretch =
            number(row, "compliance_ml_per_cmH2O").zip(number(row, "resistance_cmH2O_s_per_l"));
        // Known where a passive breath tells its time constant, compliance in mL times resistance by the litre.
        let left = number(row, "insp_flow_left_share");
        assert_eq!(left.is_some(), stretch.is_some(), "{row:?}");
        let (Some(left), Some((compliance, resistance))) = (left, stretch) else { continue };
        let tau = compliance * resistance / 1e3;
        let want = (-number(row, "insp_s").unwrap() / tau).exp();
        // Printed to 0.001 mL/cmH2O of 0.4 and 0.1 of 100: the exponent, at most 10, is known to 0.4 %.
        assert!((left - want).abs() < 0.04 * want + 1e-3, "{left} for {want}: {row:?}");
        seen += 1;
    }
    assert!(seen > 500, "{seen}");
    // A target of 6 mL/kg: (target ÷ volume in the lung) × (peak − baseline) above the baseline, of the last hour.
    let peaks: Vec<f64> = breaths
        .iter()
        .filter(|row| row["flags"].is_empty() && row["support"] == "assured")
        .filter(|row| number(row, "onset_us").unwrap() / 1e6 >= 16_200.0 - 3_600.0)
        .filter_map(|row| {
            let [peak, base] =
                ["peak_cmH2O", "baseline_cmH2O"].map(|name| number(row, name).unwrap());
            Some(base + 6.0 * KG / number(row, "corrected_ml")? * (peak - base))
        })
        .collect();
    let above = peaks.iter().filter(|peak| **peak > 15.0).count();
    let page = fs::read_to_string(at.join("r.html")).unwrap();
    let row = page.split_once("What peak each target").unwrap().1.split(">6</th>").nth(1).unwrap();
    let cells: Vec<&str> = row.split("<td class=\"number\">").skip(1).take(5).collect();
    let want = [0.5, 0.25, 0.75].map(|share| format!("{:.1}</td>", quantile(peaks.clone(), share)));
    assert!(cells[0].starts_with("5.9<"), "{cells:?}"); // 6 × 0.98 = 5.88
    assert!(
        cells[1..4].iter().zip(&want).all(|(cell, want)| cell.starts_with(want)),
        "{cells:?} for {want:?}"
    );
    assert!(
        cells[4].starts_with(&format!("{:.0}<", 100.0 * above as f64 / peaks.len() as f64)),
        "{cells:?}"
    );
}

#[test]
fn the_curves_of_the_page_come_from_the_tables() {
    let folder = TempDir::new().unwrap();
    let at = folder.path();
    assert_eq!(replay_in(at, &["--report", "r.html", "--breaths", "b.csv"]).code, 0);
    let page = fs::read_to_string(at.join("r.html")).unwrap();
    let data = page.split("id=\"data\">").nth(1).unwrap().split("</script>").next().unwrap();
    let data: Value = serde_json::from_str(data).unwrap();
    let bin = data["bin"].as_f64().unwrap();
    let breaths = table(at, "b.csv");
    let curves = [
        ("Rate", "rate_per_min", 1.0),
        ("Mean airway pressure", "mean_cmH2O", 1.0),
        ("Compliance", "compliance_ml_per_cmH2O", 1.0),
    ];
    for (name, column, each) in curves {
        let line =
            data["lines"].as_array().unwrap().iter().find(|line| line["name"] == name).unwrap();
        let values = line["values"].as_array().unwrap();
        let mut known = 0;
        for (i, value) in values.iter().enumerate() {
            let within = |row: &&Row| {
                let at = number(row, "onset_us").unwrap() / 1e6;
                (at / bin) as usize == i && row["flags"].is_empty()
            };
            let seen: Vec<f64> = breaths
                .iter()
                .filter(within)
                .filter_map(|row| Some(number(row, column)? / each))
                .collect();
            if seen.len() < 3 {
                assert!(value.is_null(), "{name} {i}: {value} of {} breaths", seen.len());
                continue;
            }
            let (got, expected) = (value.as_f64().unwrap(), quantile(seen, 0.5));
            assert!((got - expected).abs() < 0.011, "{name}, bin {i}: {got} instead of {expected}");
            known += 1;
        }
        assert!(known >= 10, "{name}: {known} bins");
    }
}
