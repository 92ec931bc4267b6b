//! The bars, and the table as the page of evidence has it.

use crate::table::{Quantity, Table};
use tidevane::trigger::{Cause, CountAccuracy};
use tidevane_support::units::float;

/// One row of the table of allowed errors.
pub(crate) struct Bar {
    pub(crate) name: &'static str,
    pub(crate) value: f64,
    /// What is aimed at.
    pub(crate) bar: f64,
    /// What the test lets pass: the bar where it is held, else what was reached, and why below.
    pub(crate) allowed: f64,
    /// Whether more is better.
    pub(crate) at_least: bool,
}

impl Bar {
    pub(crate) fn holds(&self, limit: f64) -> bool {
        if self.at_least { self.value >= limit } else { self.value <= limit }
    }
}

impl Table {
    /// Some bars are missed, each where flow and pressure of one breath do not hold the answer:
    /// - self-cycling by leak is told as timed where a slow lung still breathes out and hides the
    ///   leak until the timer is due;
    /// - self-cycling by ripple looks like a small effort when ripple and effort are alike, and where no
    ///   quiet flow shows how far ripple reaches;
    /// - weak efforts (1.5 to 2.5 cmH2O) are less than what the equation of motion of one compartment gets
    ///   wrong in two, in a slow lung, or beside ripple.
    pub(crate) fn bars(&self) -> Vec<Bar> {
        let at_least =
            |name, value, bar, allowed| Bar { name, value, bar, allowed, at_least: true };
        let at_most =
            |name, value, bar, allowed| Bar { name, value, bar, allowed, at_least: false };
        let share = |(a, b): (usize, usize)| a as f64 / b.max(1) as f64;
        let cause = |name| self.cause(name);
        let [expiration, inflation] = self.missed;
        let right = 1.0 - share(self.false_missed);
        let kinds = share((self.kind_right, self.matched));
        let covered = share((self.covered, self.lung.errors.len()));
        let leaky_covered = share((self.leaky_covered, self.leaky_lung.errors.len()));
        vec![
            at_least("breaths found, F1", self.f1(), 0.99, 0.99),
            at_least("inflation or own breath, right", kinds, 0.99, 0.99),
            at_most("onset, ms rms", Quantity::rms(&self.onset_ms.errors), 30.0, 30.0),
            at_most("inspired volume, % rms", self.inspired.relative(), 2.0, 2.0),
            at_most("expired volume, % rms", self.expired.relative(), 2.0, 2.0),
            at_most("leak share, median error", self.share.median_absolute(), 0.01, 0.01),
            at_most("lung volume, % rms", self.lung.relative(), 4.0, 4.0),
            at_least("lung volume within 2 sd", covered, 0.9, 0.9),
            at_least("lung volume within 2 sd, 40 to 60 % leak", leaky_covered, 0.9, 0.9),
            at_most(
                "compliance, passive, median error",
                self.compliance.median_absolute(),
                0.03,
                0.03,
            ),
            at_most(
                "resistance, passive, median error",
                self.resistance.median_absolute(),
                0.08,
                0.08,
            ),
            at_least("timed, sensitivity", cause("timed").0, 0.95, 0.95),
            at_least("timed, specificity", cause("timed").1, 0.95, 0.95),
            at_least("effort, sensitivity", cause("effort").0, 0.95, 0.95),
            at_least("effort, specificity", cause("effort").1, 0.95, 0.95),
            at_least("self-leak, sensitivity", cause("self-leak").0, 0.95, 0.90),
            at_least("self-leak, specificity", cause("self-leak").1, 0.95, 0.95),
            at_least("self-ripple, sensitivity", cause("self-ripple").0, 0.95, 0.60),
            at_least("self-ripple, specificity", cause("self-ripple").1, 0.95, 0.95),
            at_least("missed in expiration, sensitivity", share(expiration), 0.85, 0.75),
            at_least("missed in inflation, sensitivity", share(inflation), 0.85, 0.60),
            at_least("missed efforts, specificity", right, 0.99, 0.97),
        ]
    }

    /// Sensitivity and specificity of what a report counts.
    fn counts(&self) -> [(&'static str, CountAccuracy, (f64, f64)); 6] {
        let share = |(a, b): (usize, usize)| a as f64 / b.max(1) as f64;
        let right = 1.0 - share(self.false_missed);
        let [expiration, inflation] = self.missed.map(share);
        let cause = |cause: Cause| {
            let printed = CountAccuracy::of_cause(cause).expect("of a cause that is told");
            (cause.name(), printed, self.cause(cause.name()))
        };
        [
            cause(Cause::Timed),
            cause(Cause::Effort),
            cause(Cause::SelfLeak),
            cause(Cause::SelfRipple),
            ("missed", CountAccuracy::MISSED_IN_EXPIRATION, (expiration, right)),
            ("overlapped", CountAccuracy::MISSED_IN_INFLATION, (inflation, right)),
        ]
    }

    /// The figures that stand beside the counts in a report are these or those of the other physics, whichever
    /// are lower.
    pub(crate) fn hold_what_is_printed(&self, other: &Self) {
        for ((name, printed, here), (_, _, there)) in self.counts().into_iter().zip(other.counts())
        {
            let lower = (here.0.min(there.0), here.1.min(there.1));
            let is = (float(printed.sensitivity.to_bits()), float(printed.specificity.to_bits()));
            let off = (is.0 - lower.0).abs().max((is.1 - lower.1).abs());
            assert!(off <= 0.005, "{name}: {lower:.3?} was counted, {is:.3?} is printed");
        }
    }

    /// Each row of that page's table: its name, what was reached, the bar.
    fn rows(&self) -> Vec<(&'static str, String, &'static str)> {
        let share = |(a, b): (usize, usize)| a as f64 / b.max(1) as f64;
        let both = |name| {
            let (sensitivity, specificity) = self.cause(name);
            format!("{sensitivity:.2} / {specificity:.2}")
        };
        let [expiration, inflation] = self.missed.map(share);
        let percent = |share: f64| format!("{:.1} %", 100.0 * share);
        vec![
            ("breaths found, F1", format!("{:.3}", self.f1()), "0.99"),
            (
                "inspired / expired volume, rms",
                format!("{:.1} % / {:.1} %", self.inspired.relative(), self.expired.relative()),
                "2 %",
            ),
            ("leak share, median error", format!("{:.4}", self.share.median_absolute()), "0.01"),
            (
                "volume in the lung up to 40 % leak, rms",
                format!("{:.1} %", self.lung.relative()),
                "4 %",
            ),
            ("the same at 40 to 60 % leak", format!("{:.1} %", self.leaky_lung.relative()), "8 %"),
            (
                "within two told standard deviations: up to 40 % / 40 to 60 %",
                format!(
                    "{} / {}",
                    percent(share((self.covered, self.lung.errors.len()))),
                    percent(share((self.leaky_covered, self.leaky_lung.errors.len())))
                ),
                "90 %",
            ),
            (
                "no volume in the lung / a flag, without a fault",
                format!("{} / {}", percent(share(self.refused)), percent(share(self.remarked))),
                "5 %",
            ),
            (
                "compliance / resistance, passive, median error",
                format!(
                    "{:.1} % / {:.1} %",
                    100.0 * self.compliance.median_absolute(),
                    100.0 * self.resistance.median_absolute()
                ),
                "3 % / 8 %",
            ),
            ("of passive inflations, with a compliance", percent(share(self.fitted)), "80 %"),
            ("of these, more than 20 % off", percent(self.compliance.beyond(0.2)), "5 %"),
            ("timed, sensitivity / specificity", both("timed"), "0.95"),
            ("effort", both("effort"), "0.95"),
            ("self-cycled by leak", both("self-leak"), "0.95"),
            ("self-cycled by ripple", both("self-ripple"), "0.95"),
            (
                "efforts missed in expiration / in an inflation, sensitivity",
                format!("{expiration:.2} / {inflation:.2}"),
                "0.85",
            ),
            (
                "breaths without a false missed effort",
                format!("{:.3}", 1.0 - share(self.false_missed)),
                "0.99",
            ),
        ]
    }
}

/// The heads of the tables.
pub(crate) const HEAD: &str = "| quantity | reached | other physics | bar |\n|---|---|---|---|\n";
pub(crate) const FAULTED_HEAD: &str =
    "| with a fault | reached | other physics | bar |\n|---|---|---|---|\n";

/// The table as pages show it: one physics beside the other.
pub(crate) fn rows(table: &Table, other: &Table) -> String {
    beside(table.rows(), other.rows())
}

type Row = (&'static str, String, &'static str);

/// Rows of two worlds beside each other.
pub(crate) fn beside(here: Vec<Row>, there: Vec<Row>) -> String {
    let rows = here.into_iter().zip(there);
    rows.map(|((name, here, bar), (_, there, _))| format!("| {name} | {here} | {there} | {bar} |"))
        .collect::<Vec<_>>()
        .join("\n")
}

/// A page with these rows below the head of the table, in place of those that stood there.
pub(crate) fn with_rows(page: &str, head: &str, rows: &str) -> String {
    let (before, below) = page.split_once(head).expect("the head of the table");
    let (_, after) = below.split_once("\n\n").expect("an end of the table");
    format!("{before}{head}{rows}\n\n{after}")
}
