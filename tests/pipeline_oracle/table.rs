//! The allowed error of every public number, and what was found.

use crate::fields::Fields;
use std::collections::BTreeMap;

/// One step of a quantity.
const STEP: f64 = 1.0 / 65_536.0;
/// 0.001 mL, or cmH2O·s, as a doubled area.
const AREA: f64 = 1e-3 * 2.0 * 65_536.0 * 1e6;

/// A leak in mL/s: points keep 12 fraction bits and weights 12, half a step is 1.2·10⁻⁴, and where quiet ends
/// count little their curve carries that to the baseline and the peak many times as large.
const LEAK: f64 = 1e-2;

/// Path, allowed error, and the same as a share of the value: the larger counts. Spans are in µs.
///
/// Where the errors come from: a mean is cut to one step, and so is a share; a crossing is known to one microsecond; spreads
/// square 8 fraction bits; C and R are promised to 2·10⁻⁴ by the fit, and the leak adds as much; two
/// volumes of 0.3 mL and more are cut to half a step each.
const ROWS: &[(&str, f64, f64)] = &[
    ("bend.Known.baseline", 5e-3, 0.0),
    ("bend.Known.c20.Known.ratio", 1e-3, 1e-3),
    ("bend.Known.curvature", 1.0, 0.01),
    ("bend.Known.elastance", 1e-3, 1e-3),
    ("bend.Known.goodness", 1e-4, 0.0),
    ("bend.Known.resistance", 0.02, 5e-4),
    ("bend.Known.share", 1e-3, 5e-3),
    ("breath.baseline", 1.5 * STEP, 0.0),
    ("breath.early_out", LEAK, 1e-4),
    ("breath.end_insp_pressure", STEP / 2.0, 0.0),
    ("breath.expiration.tip", AREA, 1e-4),
    ("breath.expiration.flow", AREA, 2e-5),
    ("breath.expiration.known", 1.0, 0.0),
    ("breath.expiration.pressure", AREA, 2e-5),
    ("breath.expiration.span", 0.0, 0.0),
    ("breath.expired.value", 1e-3, 2e-5),
    ("breath.inspiration.tip", AREA, 1e-4),
    ("breath.inspiration.flow", AREA, 2e-5),
    ("breath.inspiration.known", 1.0, 0.0),
    ("breath.inspiration.pressure", AREA, 2e-5),
    ("breath.inspiration.span", 0.0, 0.0),
    ("breath.inspired.value", 1e-3, 2e-5),
    ("breath.lead.peak", STEP / 2.0, 0.0),
    ("breath.lead.until", 0.0, 0.0),
    ("breath.most_out.value", 1e-3, 2e-5),
    ("breath.peak", STEP / 2.0, 0.0),
    ("breath.peak_exp_flow", STEP / 2.0, 0.0),
    ("breath.peak_insp_flow", STEP / 2.0, 0.0),
    ("breath.pressure_rise", 0.0, 0.0),
    ("breath.quiet.flow", 1.5 * STEP, 0.0),
    ("breath.quiet.high", STEP / 2.0, 0.0),
    ("breath.quiet.last", 1.5 * STEP, 0.0),
    ("breath.quiet.low", STEP / 2.0, 0.0),
    ("breath.quiet.pressure", 1.5 * STEP, 0.0),
    ("breath.quiet.residual", LEAK, 1e-4),
    ("breath.quiet.span", 0.0, 0.0),
    ("breath.quiet.spread", 0.05, 0.02),
    ("breath.quiet.tail", 2.0 * STEP, 0.0),
    ("emptying.Short.left", 1e-4, 0.0),
    ("event.LimitReached.value", LEAK, 1e-4),
    ("event.ZeroDrift", 5e-3, 0.0),
    ("initiation.evidence.deflection", LEAK, 1e-4),
    ("initiation.evidence.interval", 0.0, 0.0),
    ("initiation.evidence.lead", 0.0, 0.0),
    ("initiation.evidence.leak", LEAK, 1e-4),
    ("initiation.evidence.noise.reach", 1e-3, 0.0),
    ("initiation.evidence.noise.spread", 0.05, 0.02),
    ("initiation.evidence.sensed", STEP / 2.0, 0.0),
    ("initiation.evidence.threshold", STEP / 2.0, 0.0),
    ("leak.Negative", 4.0 * STEP, 4e-5),
    ("leak.Share", 4.0 * STEP, 2e-5),
    ("leak_window.Negative", 3.0 * STEP, 2e-5),
    ("leak_window.Share", 3.0 * STEP, 2e-5),
    ("lung.Known.sd", 4e-3, 4e-3),
    ("lung.Known.volume", LEAK, 1e-4),
    ("mechanics.Known.baseline", 4e-3, 0.0),
    ("mechanics.Known.compliance", 1e-4, 4e-4),
    ("mechanics.Known.goodness", 1e-4, 0.0),
    ("mechanics.Known.resistance", 0.01, 5e-4),
    ("mechanics.Known.time_constant", 10.0, 4e-4),
    ("minute_volume", 3e-3, 1e-5),
    ("proposal.Peak.peak", 8e-3, 0.0),
    ("proposal.Peak.short", 0.0, 0.0),
    ("rate", 1e-4, 1e-5),
    ("trigger.clearance", LEAK, 1e-4),
    ("trigger.floor.leak", LEAK, 1e-4),
    ("trigger.floor.noise.reach", 1e-3, 0.0),
    ("trigger.floor.noise.spread", 0.05, 0.02),
    ("trigger.floor.pressure", 1.5 * STEP, 0.0),
    ("trigger.margin", LEAK, 1e-4),
    ("trigger.threshold", STEP / 2.0, 0.0),
];

/// Public numbers without a row, by the beginning of their path, and why.
const ELSEWHERE: &[(&str, &str)] = &[
    ("breath.onset", "a decision, given; borders have a looser rule"),
    ("breath.end", "a decision, given"),
    ("breath.end_insp", "a decision, given"),
    ("breath.flags", "a decision, given"),
    ("breath.out_until", "where the flow rests any reading may be the one: its volume is counted"),
    ("event.Implausible", "`src/breath/plausible` has its own"),
    ("found", "a reading's own time: `tests/closing.rs`"),
    ("time", "the onset, where no clock is set back: `tests/blind.rs`"),
    ("implausible", "`src/breath/plausible` has its own"),
    ("event.Gap", "a reading's own time"),
    ("event.ClockReset", "a reading's own time"),
    ("lag", "learned of sixteen breaths, given: `tests/mechanics.rs` against the simulated one"),
    ("event.ReverseTrigger", "found or not: `tests/reverse.rs`"),
    (
        "event.LungChanged",
        "`src/mechanics/jump.rs` has its own, `tests/jumps.rs` the simulated ones",
    ),
    ("event.MissedEffort", "found or not, and when: `tests/accuracy`; no claim on its size"),
    (
        "initiation.evidence.pull",
        "against the simulated infants' own muscle pressure: `tests/muscle.rs`",
    ),
    ("event.Alarm", "`tests/alarms` has an oracle of its own"),
    ("event.SettingsChanged", "what the caller gave"),
    ("event.WeanStep", "what the caller gave"),
];

/// In so few breaths the bar may be missed, for what begins with these: a turn that comes to nothing
/// counts from its own first reading, and a turn inside a gap from what is left, which moves the
/// rise, the lead, the baseline and the floor under it; in volumes of a mL or two the square of
/// the bent curve has few bits; and a misfit or a slope of the leak just at its border goes the other way
/// here, and stays in the window for some breaths.
const RARE: &[&str] = &[
    "bend.",
    "breath.baseline",
    "breath.early_out",
    "breath.lead.",
    "breath.expired",
    "breath.most_out",
    "breath.peak",
    "breath.pressure_rise",
    "breath.quiet.",
    "emptying.",
    "event.LimitReached",
    "initiation.evidence.",
    "leak.",
    "leak_window.",
    "lung.",
    "mechanics.",
    "minute_volume",
    "proposal.",
    "trigger.clearance",
    "trigger.floor.",
    "trigger.margin",
];
const RARE_SHARE: f64 = 0.003;

/// Where a value stands at a border (a share of nothing, an uncertainty of half, three time
/// constants) one side may have a number and the other none.
const FORK_SHARE: f64 = 0.01;

/// Trusted breaths whose borders fail the looser rule.
const BORDER_SHARE: f64 = 0.02;

/// Onsets and turns of trusted breaths that the oracle's own segmentation finds elsewhere: of recordings in which
/// less than half leaks away, and of the others, where the level hangs on a leak that either side learns by itself.
const AGAIN_SHARE: [f64; 2] = [0.01, 0.04];

#[derive(Debug, Default, Clone)]
struct Found {
    count: u64,
    /// Largest error as a share of the allowed one, the error itself, the value, and the seed.
    largest: (f64, f64, f64, u64),
    beyond: u64,
    /// One side has a number and the other has none, and the last seed with that.
    forks: (u64, u64),
}

#[derive(Debug, Default)]
pub(crate) struct Table {
    found: BTreeMap<String, Found>,
    without_row: BTreeMap<String, u64>,
    breaths: u64,
    borders: (u64, u64),
    again: [(u64, u64); 2],
}

fn row(path: &str) -> Option<(f64, f64)> {
    ROWS.iter().find(|row| row.0 == path).map(|row| (row.1, row.2))
}

fn is_elsewhere(path: &str) -> bool {
    ELSEWHERE.iter().any(|(prefix, _)| {
        path.strip_prefix(prefix).is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
    })
}

impl Table {
    /// The numbers of a breath against those of the oracle.
    pub(crate) fn compare(&mut self, seed: u64, got: &Fields, want: &Fields) {
        self.breaths += 1;
        for (path, value) in got.iter().filter(|(path, _)| !is_elsewhere(path)) {
            match want.get(path) {
                Some(want) => self.one(seed, path, *value, *want),
                None => self.fork(seed, path),
            }
        }
        for path in want.keys().filter(|path| !got.contains_key(*path)) {
            self.fork(seed, path);
        }
    }

    fn fork(&mut self, seed: u64, path: &str) {
        self.known(path);
        let forks = &mut self.found.entry(path.to_owned()).or_default().forks;
        *forks = (forks.0 + 1, seed);
    }

    fn known(&mut self, path: &str) {
        if row(path).is_none() && !is_elsewhere(path) {
            *self.without_row.entry(path.to_owned()).or_default() += 1;
        }
    }

    /// One number against the oracle's.
    pub(crate) fn one(&mut self, seed: u64, path: &str, got: f64, want: f64) {
        self.known(path);
        let (absolute, relative) = row(path).unwrap_or_default();
        let allowed = absolute.max(relative * want.abs());
        let error = (got - want).abs();
        let used = match error {
            0.0 => 0.0,
            error if error.is_finite() => error / allowed,
            _ => f64::INFINITY,
        };
        let found = self.found.entry(path.to_owned()).or_default();
        found.count += 1;
        found.beyond += u64::from(used > 1.0);
        if used > found.largest.0 {
            found.largest = (used, error, want, seed);
        }
    }

    /// The numbers of an event: each needs a row.
    pub(crate) fn event(&mut self, got: &Fields) {
        got.keys().for_each(|path| self.known(&format!("event.{path}")));
    }

    /// Whether a breath's borders hold by the looser rule.
    pub(crate) fn border(&mut self, holds: bool) {
        self.borders = (self.borders.0 + u64::from(!holds), self.borders.1 + 1);
    }

    /// Whether an onset or a turn was found again without it; whether half and more leaks away.
    pub(crate) fn found_again(&mut self, is_found: bool, leaks: bool) {
        let (apart, all) = &mut self.again[usize::from(leaks)];
        *apart += u64::from(!is_found);
        *all += 1;
    }

    /// Prints the table and holds it against what is allowed.
    pub(crate) fn judge(&self, scenarios: u64) {
        println!("{scenarios} scenarios, {} breaths", self.breaths);
        println!(
            "{:<34}{:>9}{:>12}{:>14}{:>9}{:>7}",
            "quantity", "checked", "largest", "at", "of bar", "beyond"
        );
        let mut wrong = Vec::new();
        for (path, f) in &self.found {
            let (used, error, value, seed) = f.largest;
            println!(
                "{path:<34}{:>9}{error:>12.2e}{value:>14.5e}{used:>9.2}{:>7}",
                f.count, f.beyond
            );
            let all = (f.count + f.forks.0) as f64;
            let rare = RARE.iter().any(|beginning| path.starts_with(beginning));
            let most = if rare { RARE_SHARE * all } else { 0.0 };
            if f.beyond as f64 > most {
                wrong.push(format!("{path}: {} beyond the bar, worst at seed {seed}", f.beyond));
            }
            if f.forks.0 as f64 > FORK_SHARE * all {
                wrong.push(format!("{path}: {} forks, one at seed {}", f.forks.0, f.forks.1));
            }
        }
        let (bad, all) = self.borders;
        println!("borders that fail the looser rule: {bad} of {all}");
        println!("onsets and turns not found again within a sample: {:?}", self.again);
        assert!(wrong.is_empty(), "{wrong:#?}");
        for ((apart, all), share) in self.again.iter().zip(AGAIN_SHARE) {
            assert!(
                *apart as f64 <= share * *all as f64,
                "{apart} of {all} borders, {share} at most"
            );
        }
        assert!(self.without_row.is_empty(), "no row: {:?}", self.without_row);
        assert!((bad as f64) <= BORDER_SHARE * all as f64, "{bad} of {all} borders");
        for (path, ..) in ROWS {
            let met = self.found.get(*path).is_some_and(|found| found.count > 0);
            assert!(met || scenarios < 100, "{path} was never met");
        }
    }
}
