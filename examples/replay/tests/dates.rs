//! Dates and times as programs write them, which are guessed where they can mean one thing only.

mod common;

use common::recording::Folder;
use common::written::{same, text};
use std::fs;

/// The recording with its times written by a function of the seconds, in the columns of a header.
fn table(folder: &Folder, name: &str, header: &str, time: impl Fn(f64) -> String) {
    let written = text(&format!("{header},flow_ml_per_s,paw_cmH2O"), |us, flow, pressure| {
        format!("{},{flow},{pressure}", time(us as f64 / 1e6))
    });
    fs::write(folder.path(name), written).unwrap();
}

#[test]
fn days_and_months_that_can_be_told_apart_need_no_option() {
    let folder = Folder::new();
    for (date, said) in [
        ("31.03.2024", "dates with the day first"),
        ("31/3/2024", "dates with the day first"),
        ("31-03-2024", "dates with the day first"),
        ("03/31/2024", "dates with the month first"),
        ("3-31-2024", "dates with the month first"),
        ("2024/03/31", ""),
        ("2024.3.31", ""),
    ] {
        table(&folder, "d.csv", "time", |s| format!("{date} 09:00:{s:09.6}"));
        let outcome = same(&folder, &["d.csv", "--zone", "UTC"]);
        assert!(outcome.stderr.contains(said), "{}", outcome.stderr);
        // 2024-03-31T09:00:00Z: 1,711,843,200 s to its midnight and 32,400 more.
        folder.run(&["d.csv", "--zone", "UTC", "--quiet", "--breaths", "b.csv"]);
        let rows = folder.read("b.csv");
        assert!(rows.lines().nth(1).unwrap().starts_with("1711875600"), "{date}: {rows}");
    }
    // Hours of a half day, and of one figure.
    table(&folder, "pm.csv", "time", |s| format!("3/31/2024 9:00:{s:09.6} PM"));
    same(&folder, &["pm.csv", "--zone", "UTC"]);
    folder.run(&["pm.csv", "--zone", "UTC", "--quiet", "--breaths", "b.csv"]);
    assert!(folder.read("b.csv").lines().nth(1).unwrap().starts_with("1711918800"));
    // With an offset no zone is asked for.
    table(&folder, "z.csv", "time", |s| format!("31.03.2024 11:00:{s:09.6}+02:00"));
    same(&folder, &["z.csv"]);
}

#[test]
fn days_and_months_that_cannot_are_an_error_that_names_the_option() {
    let folder = Folder::new();
    let write = |date: &str| table(&folder, "d.csv", "time", |s| format!("{date} 09:00:{s:09.6}"));
    let start = |args: &[&str]| {
        same(&folder, &[&["d.csv", "--zone", "UTC"], args].concat());
        folder.run(&[&["d.csv", "--zone", "UTC", "--quiet", "--breaths", "b.csv"], args].concat());
        folder.read("b.csv").lines().nth(1).unwrap()[..10].to_owned()
    };
    write("03.04.2024");
    let refused = |args: &[&str]| {
        let outcome = folder.run(&[&["d.csv", "--breaths", "no.csv"], args].concat());
        assert_eq!(outcome.code, 2, "{}", outcome.stdout);
        assert!(!folder.names().contains(&"no.csv".into()));
        outcome.stderr
    };
    let said = refused(&["--zone", "UTC"]);
    assert!(said.contains("line 2: \"03.04.2024 09:00:00.000000\" has the day or the month first; say --date-order day-first or month-first"), "{said}");
    assert!(!said.contains("--zone"), "{said}");
    // Without a zone both options are named at once.
    let said = refused(&[]);
    assert!(said.contains("--date-order") && said.contains("--zone"), "{said}");
    // 2024-04-03 is 19,816 days after 1970, 2024-03-04 is 19,786: 86,400 s each, and 32,400.
    assert_eq!(start(&["--date-order", "day-first"]), "1712134800");
    assert_eq!(start(&["--date-order", "month-first"]), "1709542800");
    fs::write(folder.path("s.toml"), "[recording]\ndate_order = \"day-first\"\n").unwrap();
    assert_eq!(start(&["--settings", "s.toml"]), "1712134800");
    // Two figures of a year are read in the order that is said, and never without.
    write("03.04.24");
    assert!(refused(&["--zone", "UTC"]).contains("--date-order"));
    assert_eq!(start(&["--date-order", "day-first"]), "1712134800");
    // The same day either way, and then one that is not.
    table(&folder, "d.csv", "time", |s| {
        format!("{} 23:59:{:09.6}", if s < 5.0 { "03/03/2024" } else { "04/03/2024" }, s)
    });
    assert!(refused(&["--zone", "UTC"]).contains("line 502: \"04/03/2024"));
    assert!(
        folder
            .run(&["d.csv", "--date-order", "year"])
            .stderr
            .contains("none of day-first, month-first")
    );
}

#[test]
fn date_and_time_may_stand_in_two_columns() {
    let folder = Folder::new();
    table(&folder, "two.csv", "Date,Time", |s| format!("31.03.2024,10:00:{s:09.6}"));
    let outcome = same(&folder, &["two.csv", "--zone", "Europe/Berlin"]);
    assert!(outcome.stderr.contains("time = \"Date\" and \"Time\" in dates"), "{}", outcome.stderr);
    // Past midnight.
    table(&folder, "night.csv", "Time,Date", |s| {
        if s < 5.0 {
            format!("23:59:{:09.6},2024-03-31", s + 55.0)
        } else {
            format!("00:00:{:09.6},2024-04-01", s - 5.0)
        }
    });
    same(&folder, &["night.csv", "--zone", "UTC"]);
    table(&folder, "named.csv", "Tag,Uhr", |s| format!("2024-03-31,10:00:{s:09.6}Z"));
    same(&folder, &["named.csv", "--columns", "date=Tag,time=Uhr"]);
    // A time that is whole, or a number, needs no date.
    table(&folder, "whole.csv", "Date,Time", |s| format!("x,2024-03-31T10:00:{s:09.6}Z"));
    same(&folder, &["whole.csv"]);
    table(&folder, "number.csv", "Date,Time (s)", |s| format!("31.03.2024,{s}"));
    same(&folder, &["number.csv"]);
    // One column that has both, however it is called.
    for name in ["Timestamp", "DateTime", "Date/Time", "date"] {
        table(&folder, "one.csv", name, |s| format!("2024-03-31T10:00:{s:09.6}Z"));
        same(&folder, &["one.csv"]);
    }
    table(&folder, "three.csv", "Date,date,Time", |s| format!("31.03.2024,1,10:00:{s:09.6}"));
    let outcome = folder.run(&["three.csv", "--zone", "UTC"]);
    assert!(
        outcome
            .stderr
            .contains("\"Date\" and \"date\" both give the date; say which: --columns date="),
        "{}",
        outcome.stderr
    );
}

/// Times of day, or from the start, need neither a date nor a zone; past midnight they go on.
#[test]
fn times_may_have_no_date() {
    let folder = Folder::new();
    let start = |row: usize| {
        folder.run(&["c.csv", "--quiet", "--breaths", "b.csv"]);
        folder.read("b.csv").lines().nth(row).unwrap().split(',').next().unwrap().to_owned()
    };
    table(&folder, "c.csv", "Time", |s| format!("9:59:{:09.6}", s + 50.0));
    let said = same(&folder, &["c.csv"]).stderr;
    assert!(said.contains("times of day without a date"), "{said}");
    // 9:59:50 is 35,990 s after midnight.
    assert_eq!(start(1), "35990000000");
    table(&folder, "c.csv", "Time", |s| {
        if s < 5.0 { format!("23:59:{:09.6}", s + 55.0) } else { format!("00:00:{:09.6}", s - 5.0) }
    });
    same(&folder, &["c.csv"]);
    // The seventh breath begins 6 s later, as near as samples tell.
    assert_eq!((start(1), start(7)[..5].to_owned()), ("86395000000".into(), "86400".into()));
    // Hours from the start may be many.
    table(&folder, "c.csv", "t", |s| {
        if s < 5.0 { format!("23:59:{:09.6}", s + 55.0) } else { format!("24:00:{:09.6}", s - 5.0) }
    });
    same(&folder, &["c.csv"]);
    // A row whose time is none is a gap, as any other.
    table(&folder, "c.csv", "t", |s| {
        if s == 5.5 { "0:61:00".into() } else { format!("0:00:{s:09.6}") }
    });
    let said = folder.run(&["c.csv", "--quiet"]).stderr;
    assert!(
        said.contains("c.csv:552: \"0:61:00\" is no date with a time; taken as a gap"),
        "{said}"
    );
    // A date once, and then none, is not guessed at.
    table(&folder, "c.csv", "t", |s| {
        if s < 5.0 { format!("2024-03-31T00:00:{s:09.6}Z") } else { format!("0:00:{s:09.6}") }
    });
    let said = folder.run(&["c.csv", "--quiet"]).stderr;
    assert!(said.contains("500 of 1000 could not be read"), "{said}");
}

#[test]
fn numbers_where_a_date_is_expected_name_the_option() {
    let folder = Folder::new();
    table(&folder, "n.csv", "time", |s| s.to_string());
    let outcome = folder.run(&["n.csv"]);
    assert_eq!(outcome.code, 2);
    assert!(outcome.stderr.contains("line 2: \"0\" is no date with a time; where times are numbers say their unit: --columns time=NAME:UNIT"), "{}", outcome.stderr);
}

/// Clocks in Berlin showed 02:00 to 03:00 twice on 2024-10-27.
#[test]
fn a_recording_that_begins_in_the_repeated_hour() {
    let folder = Folder::new();
    let zone = ["--zone", "Europe/Berlin"];
    let run = |extra: &[&str]| {
        folder.run(&[&["d.csv", "--quiet", "--breaths", "b.csv"], &zone[..], extra].concat())
    };
    let clock = |hour: u32, s: f64| {
        format!(
            "2024-10-27T{hour:02}:{:02}:{:09.6}",
            if s < 5.0 { 59 } else { 0 },
            (s + 55.0) % 60.0
        )
    };
    // It ends within: taken for the first, and said.
    table(&folder, "d.csv", "time", |s| format!("2024-10-27T02:30:{s:09.6}"));
    let outcome = run(&[]);
    assert!(outcome.code == 0 && outcome.stderr.contains("begins in the hour that clocks show twice, taken for the first; --repeated-hour second"), "{}", outcome.stderr);
    // 00:30 UTC: 1,729,987,200 s to its midnight and 1,800; an hour later by the option, which says nothing.
    assert!(folder.read("b.csv").lines().nth(1).unwrap().starts_with("1729989000"));
    let outcome = run(&["--repeated-hour", "second"]);
    assert!(
        outcome.code == 0 && outcome.stderr.matches("repeated").count() == 0,
        "{}",
        outcome.stderr
    );
    assert!(folder.read("b.csv").lines().nth(1).unwrap().starts_with("1729992600"));
    // From 02:59:55 back to 02:00: it was the first.
    table(&folder, "d.csv", "time", |s| clock(2, s));
    same(&folder, &["d.csv", "--zone", "Europe/Berlin"]);
    // From 02:59:55 on to 03:00: the second, or the first and an hour of silence. Nobody can know.
    table(&folder, "d.csv", "time", |s| clock(if s < 5.0 { 2 } else { 3 }, s));
    let outcome = run(&[]);
    assert!(
        outcome.code == 2 && outcome.stderr.contains("--repeated-hour first or second"),
        "{}",
        outcome.stderr
    );
    same(&folder, &["d.csv", "--zone", "Europe/Berlin", "--repeated-hour", "second"]);
    assert_eq!(run(&["--repeated-hour", "first"]).code, 0);
    // Half of the breaths from 02:59:55 by summer time on, half from 03:00 by winter time: 00:59:55 and 02:00 UTC.
    let rows = folder.read("b.csv");
    let onset = |row: usize| rows.lines().nth(row).unwrap()[..10].to_owned();
    assert_eq!((onset(1), onset(6)), ("1729990795".into(), "1729994400".into()), "{rows}");
}
