//! The figures of the page, and the times on it.

mod common;

use common::cli::replay_in;
use common::recording::{HEADER, wave};
use serde_json::Value;
use std::fs;
use std::path::Path;
use tempfile::TempDir;

/// The page of a recording under settings, and the text on the terminal.
fn page(folder: &Path, recording: &str, settings: &str) -> (String, String) {
    fs::write(folder.join("in.csv"), recording).unwrap();
    fs::write(folder.join("s.toml"), settings).unwrap();
    let outcome = replay_in(folder, &["in.csv", "--settings", "s.toml", "--report", "r.html"]);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    (fs::read_to_string(folder.join("r.html")).unwrap(), outcome.stdout)
}

fn data(page: &str) -> Value {
    let data = page.split("id=\"data\">").nth(1).unwrap().split("</script>").next().unwrap();
    serde_json::from_str(data).unwrap()
}

/// A section as far as the next.
fn section<'a>(page: &'a str, id: &str) -> &'a str {
    page.split(&format!("<section id=\"{id}\">")).nth(1).unwrap().split("<section").next().unwrap()
}

/// A figure by the name of its svg.
fn figure<'a>(page: &'a str, id: &str) -> &'a str {
    page.split(&format!("id=\"p-{id}\"")).nth(1).unwrap().split("<desc").nth(1).unwrap()
}

/// Where the line of a class stands, in percent of the width.
fn line(figure: &str, class: &str) -> Option<f64> {
    let own = figure.split("</svg>").nth(1)?;
    own.split(&format!("class=\"{class}\" x1=\"")).nth(1)?.split('%').next()?.parse().ok()
}

/// Inflations of 9 mL from 5 to 15 cmH2O, sixty a minute, of an infant of 1 kg.
const SETTINGS: &str = "weight_g = 1000\nset_rate = 60\npeak_cmH2O = 15\n";

#[test]
fn volumes_stand_beside_alarm_and_target() {
    let folder = TempDir::new().unwrap();
    let recording = HEADER.to_owned() + &wave(0, 120);
    let alarms = "[alarms]\ninflation_volume_low_ml = 4\n";
    let with = |target: &str| {
        let settings =
            format!("{SETTINGS}target_ml = {target}\ntarget_ceiling_cmH2O = 20\n{alarms}");
        page(folder.path(), &recording, &settings).0
    };
    let near = with("6");
    // The axis ends at the last alarm level tried.
    let most = data(&near)["levels"].as_array().unwrap().last().unwrap()["at"].as_f64().unwrap();
    let drawn = figure(&near, "hist-set");
    for (class, name, ml) in
        [("held-target", "target 6.0 mL", 6.0), ("held-alarm", "alarm under 4.0 mL", 4.0)]
    {
        let at = line(drawn, class).unwrap();
        assert!((at - 100.0 * ml / most).abs() < 0.02, "{class} at {at} of {most}");
        assert!(drawn.contains(name), "{name}");
    }
    assert!(drawn.contains("dead space"));
    // What lies beyond the axis is told and has no line.
    let far = with("60");
    let drawn = figure(&far, "hist-set");
    assert!(drawn.contains("target 60.0 mL, beyond") && line(drawn, "held-target").is_none());
}

#[test]
fn a_target_is_tried_in_proportion() {
    let folder = TempDir::new().unwrap();
    let recording = HEADER.to_owned() + &wave(0, 120);
    let (page, text) = page(folder.path(), &recording, SETTINGS);
    // 3 mL of 9 mL: a third of the rise of 10 above 5: 8.3; with the 0.03 that readings are above both, 8.4.
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("| 3 | 3.0 | 8.4 | 8.4 | 8.4 |"), "{text}");
    assert!(section(&page, "volume").contains("What peak each target volume would have needed"));
    let data = data(&page);
    let tried = data["targets"].as_array().unwrap();
    assert_eq!((tried.len(), data["bar"].as_str()), (40, Some("the set peak")));
    for t in tried {
        let (ml, peak) = (t["at"].as_f64().unwrap(), t["peak"][1].as_f64().unwrap());
        // Samples of 10 ms tell 9 mL within 0.15.
        let [low, high] = [9.15, 8.85].map(|moved| 5.0 + ml / moved * 10.0);
        assert!((low..high + 0.06).contains(&peak), "{ml} mL: {peak}");
        let above = t["above"].as_f64().unwrap();
        assert_eq!(above > 0.0, ml >= 9.0, "{ml} mL: {above} % above 15 cmH2O");
    }
    // Without a weight a target is tried in mL, up to twice the median.
    let (page, text) = self::page(folder.path(), &recording, "set_rate = 60\n");
    // The third of six is the median itself, of 9 mL within 0.15: it needs the peak that there is, 15 and 0.06.
    let mut rows = text.split("| target, mL |").nth(1).unwrap().lines().skip(2);
    let third = rows.nth(2).unwrap().split_whitespace().collect::<Vec<_>>();
    assert!(["8.9", "9.0", "9.1"].contains(&third[1]) && third[3] == "15.1", "{text}");
    assert!(rows.nth(2).is_some_and(|last| last.starts_with('|')), "{text}");
    assert_eq!(rows.next(), Some(""), "{text}");
    let last = self::data(&page)["targets"][39]["at"].as_f64().unwrap();
    assert!((17.5..18.5).contains(&last), "{last}");
}

#[test]
fn pauses_plan_and_flags_have_a_figure_first() {
    let folder = TempDir::new().unwrap();
    // A minute of inflations, a silence of 10 s, and ten minutes more: the breath before it is cut.
    let recording = format!("{HEADER}{}{}", wave(0, 60), wave(70, 600));
    let (page, _) = page(folder.path(), &recording, SETTINGS);
    let flags = section(&page, "sensors");
    assert!(
        flags.contains("Breaths flagged cut") && flags.find("<figure") < flags.find("<ul"),
        "{flags}"
    );
    let plan = section(&page, "plan");
    // From 60 a minute and 15 cmH2O.
    assert!(plan.contains(">60 / 15<") && plan.find("<figure") < plan.find("<table"), "{plan}");
    // Nobody was seen to begin a breath: a figure would show no pause.
    assert!(!section(&page, "pauses").contains("<figure"));
    let outcome = replay_in(folder.path(), &["--quiet", "--report", "demo.html"]);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    let demo = fs::read_to_string(folder.path().join("demo.html")).unwrap();
    let pauses = section(&demo, "pauses");
    // As the table has it of the step with any: 57, 24 and 5.
    let cells = ["57", "24", "5"].map(|n| format!("<td class=\"number\">{n}</td>")).concat();
    assert!(pauses.contains(&cells), "{pauses}");
    let told = "57 pauses of 5 s and more, 24 pauses of 10 s and more, 5 pauses of 20 s and more";
    assert!(pauses.contains(told) && pauses.matches(">×</text>").count() == 5, "{pauses}");
}

/// The recording with a date for each time, from 22:50:30 on the 30th of March 2024 in UTC.
fn dated(recording: &str) -> String {
    let mut lines = recording.lines();
    let mut text = lines.next().unwrap().replace("t_us", "time") + "\n";
    for line in lines {
        let (us, rest) = line.split_once(',').unwrap();
        let us: u64 = us.parse().unwrap();
        let (s, us) = (us / 1_000_000 + 50 * 60 + 30, us % 1_000_000);
        let (hour, minute) = (22 + s / 3_600, s / 60 % 60);
        let second = s % 60;
        text += &format!("2024-03-30T{hour}:{minute:02}:{second:02}.{us:06}Z,{rest}\n");
    }
    text
}

#[test]
fn a_recording_with_dates_is_told_by_its_clock() {
    let folder = TempDir::new().unwrap();
    let recording = dated(&(HEADER.to_owned() + &wave(0, 900)));
    let change = format!("{SETTINGS}[[changes]]\nat_s = 600.0\nset_rate = 40\n");
    let (page, text) = page(folder.path(), &recording, &change);
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        flat.contains("Times: clock time, UTC, 30 March 2024, 22:50 to 30 March 2024, 23:05."),
        "{text}"
    );
    // The change after 600 s: 23:00:30. In the steps, in the journal, on top, and on the axis.
    for said in ["| 2 | 23:00 | 5 min |", "| 1 | 23:00 | wean-step |", "23:00: set rate 60 to 40"] {
        assert!(flat.contains(said), "{said}: {text}");
    }
    // 15 min, every 5: 22:55 is 270 s after the start, 30 % of the width.
    let axis = figure(&page, "axis");
    assert!(
        axis.contains("x=\"30.00%\"")
            && axis.contains(">22:55<")
            && axis.contains(">clock time, UTC<"),
        "{axis}"
    );
    // Minutes begin with the recording: the second window 60 s later.
    assert_eq!(data(&page)["windows"]["times"][1], "22:51:30");
    // 889.99 s after 22:50:30.
    assert!(page.contains("The last ten seconds, from 23:05:20"));
    // No time of the text is left that counts from the start.
    assert!(!page.contains("from the start") && !flat.contains("0:10"), "{text}");
}

/// A zone that is given is the one that times are told in, whatever the recording's own times say.
#[test]
fn a_zone_is_followed() {
    let folder = TempDir::new().unwrap();
    let recording = dated(&(HEADER.to_owned() + &wave(0, 900)));
    let zone = format!("{SETTINGS}[recording]\nzone = \"Europe/Berlin\"\n");
    let (page, text) = page(folder.path(), &recording, &zone);
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    // 22:50 UTC is 23:50 in Berlin, an hour before its clocks go forward.
    let said = "Times: clock time, CET, 30 March 2024, 23:50 to 31 March 2024, 00:05.";
    assert!(flat.contains(said), "{text}");
    assert!(figure(&page, "axis").contains(">23:55<"), "{page}");
}

#[test]
fn a_threshold_above_every_effort_is_called_that() {
    let folder = TempDir::new().unwrap();
    let at = folder.path();
    assert_eq!(replay_in(at, &["--save-demo", "h.csv"]).code, 0);
    let flow = |line: &str| line.split(',').nth(1).and_then(|cell| cell.parse::<f64>().ok());
    let recording = fs::read_to_string(at.join("h.csv")).unwrap();
    // No effort can have more than the largest flow of all: mL/s × 0.06.
    let most = 0.06 * recording.lines().filter_map(flow).fold(0.0, f64::max);
    let told = |threshold: &str| {
        let outcome = replay_in(at, &["h.csv", "--threshold-lpm", threshold]);
        outcome.stdout.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let text = told("50");
    assert!(text.contains("It lies above every effort seen"), "{text}");
    let largest = text.split("no effort above ").nth(1).unwrap().split_whitespace().next().unwrap();
    let largest: f64 = largest.trim_matches(|c: char| !c.is_ascii_digit()).parse().unwrap();
    assert!(largest > 0.5 && largest <= most + 0.005, "{largest} of {most}");
    assert!(!told("0.3").contains("above every effort"));
}
