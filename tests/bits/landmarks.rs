//! Where in a stream the digest first differs, and by which number: the digest so far at some breaths, and all parts
//! of a few of them, as they stood when the digest was taken. `LANDMARKS=save` writes them anew.

use std::fmt::Write;
use std::fs;
use std::path::PathBuf;
use tidevane::quantity::Record;
use tidevane_support::parts::{self, Part};

/// A line each: what it is of, the digest up to there, and of some all parts.
#[derive(Debug, Default)]
pub(crate) struct Landmarks(Vec<String>);

impl Landmarks {
    /// The digest up to here.
    pub(crate) fn pass(&mut self, place: &str, digest: u64) {
        self.0.push(format!("{place}\t{digest:016x}"));
    }

    /// The same, with every part of a record.
    pub(crate) fn stop(&mut self, place: &str, digest: u64, value: &impl Record) {
        let mut line = format!("{place}\t{digest:016x}");
        for (path, parts) in parts::of(value) {
            for part in parts {
                let _ = match part {
                    Part::Number(bits, fraction) => write!(line, "\t{path}={bits}/{fraction}"),
                    Part::Code(code) => write!(line, "\t{path}={code}"),
                };
            }
        }
        self.0.push(line);
    }

    /// Holds a digest against the known one; where it is another, says from where on, and the first number of the
    /// first landmark that differs.
    pub(crate) fn hold(&self, name: &str, digest: u64, known: u64) {
        let path =
            PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(format!("tests/bits/{name}.landmarks"));
        let text: String = self.0.iter().map(|line| format!("{line}\n")).collect();
        if std::env::var("LANDMARKS").is_ok_and(|what| what == "save") {
            fs::write(&path, &text).unwrap();
        }
        let before = fs::read_to_string(&path).unwrap_or_default();
        if digest == known {
            assert!(
                before == text,
                "{name}: {} is stale; LANDMARKS=save writes it",
                path.display()
            );
            return;
        }
        panic!(
            "{name}: the digest is now {digest:#018x}, not {known:#018x}. {}\nWhich of them is right the \
             oracles tell: `cargo test --test pipeline_oracle --test oracle`.",
            first_difference(&before, &text)
        );
    }
}

fn first_difference(before: &str, now: &str) -> String {
    let mut last = "the beginning";
    let mut passed = None;
    for (was, is) in before.lines().zip(now.lines()) {
        let (mut was, mut is) = (was.split('\t'), is.split('\t'));
        let (place, here) = (was.next().unwrap_or_default(), is.next().unwrap_or_default());
        if place != here {
            return format!("Behind {last} it tells {here} where {place} was told.");
        }
        if was.next() != is.next() {
            let from =
                passed.get_or_insert_with(|| format!("It differs between {last} and {place}."));
            if let Some((old, new)) = was.zip(is).find(|(old, new)| old != new) {
                return format!("{from} At {place}: {} where {} was.", said(new), said(old));
            }
        }
        last = place;
    }
    passed.unwrap_or_else(|| format!("It differs behind {last}, or in what is told at the end."))
}

/// A part with its value beside its bits.
fn said(part: &str) -> String {
    let value = part.split_once('=').and_then(|(_, number)| {
        let (bits, fraction) = number.split_once('/')?;
        Some(bits.parse::<f64>().ok()? / 2_f64.powi(fraction.parse().ok()?))
    });
    value.map_or(part.to_owned(), |value| format!("{part} ({value:.5})"))
}

#[test]
fn a_number_that_differs_is_named() {
    let was = "breath 1\t00\nbreath 2\t01\ta=65536/16\tb=131072/16\n";
    let now = "breath 1\t00\nbreath 2\t02\ta=65536/16\tb=98304/16\n";
    let told = "It differs between breath 1 and breath 2. At breath 2: b=98304/16 (1.50000) where b=131072/16 \
                (2.00000) was.";
    assert_eq!(first_difference(was, now), told);
    let unmarked = "breath 1\t07\nbreath 2\t01\ta=65536/16\tb=131072/16\n";
    assert!(first_difference(was, unmarked).contains("between the beginning and breath 1"));
}
