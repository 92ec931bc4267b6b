//! One breath as a row of a table.

use super::column::{Cell, Column};
use tidevane::alarm::BreathKind;
use tidevane::breath::Kind;
use tidevane::leak::{Leak, LungVolume};
use tidevane::mechanics::{Emptying, FitOutcome, exhaled_share};
use tidevane::monitor::BreathReport;
use tidevane::quantity::{Duration, Instant, Saturated, Volume};
use tidevane::trigger::{Cause, ThresholdVerdict};

/// How a column gets its cells.
enum From {
    Time(fn(&BreathReport) -> Instant),
    Number(fn(&BreathReport) -> Option<f64>),
    Word(fn(&BreathReport) -> String),
}

const fn time(name: &'static str, of: fn(&BreathReport) -> Instant) -> (Column, From) {
    (Column::time(name), From::Time(of))
}

const fn word(name: &'static str, of: fn(&BreathReport) -> String) -> (Column, From) {
    (Column::text(name), From::Word(of))
}

const fn number(
    name: &'static str,
    unit: &'static str,
    places: usize,
    of: fn(&BreathReport) -> Option<f64>,
) -> (Column, From) {
    (Column::number(name, unit, places), From::Number(of))
}

/// The columns; an empty cell is not known.
const TABLE: [(Column, From); 29] = [
    time("onset_us", |r| r.breath.onset),
    time("end_insp_us", |r| r.breath.end_insp),
    time("end_us", |r| r.breath.end),
    word("kind", |r| kind(r.breath.kind).into()),
    word("initiation", |r| r.initiation.map_or("", |i| i.cause.name()).into()),
    number("insp_ml", "mL", 3, |r| exact(r.breath.inspired)),
    number("exp_ml", "mL", 3, |r| exact(r.breath.expired)),
    number("leak_share", "1", 4, |r| leak(r.leak)),
    number("corrected_ml", "mL", 3, |r| lung(r.lung).map(|(volume, _)| volume)),
    number("corrected_sd_ml", "mL", 3, |r| lung(r.lung).map(|(_, sd)| sd)),
    number("peak_cmH2O", "cmH2O", 2, |r| Some(r.breath.peak.get().to_num())),
    number("baseline_cmH2O", "cmH2O", 2, |r| Some(r.breath.baseline.get().to_num())),
    number("mean_cmH2O", "cmH2O", 2, |r| r.breath.mean_pressure().map(|p| p.get().to_num())),
    number("compliance_ml_per_cmH2O", "mL/cmH2O", 3, |r| fit(r.mechanics).map(|fit| fit[0])),
    number("resistance_cmH2O_s_per_l", "cmH2O/(L/s)", 1, |r| fit(r.mechanics).map(|fit| fit[1])),
    number("fit_r2", "1", 4, |r| fit(r.mechanics).map(|fit| fit[2])),
    word("flags", |r| r.breath.flags.to_string()),
    time("time_us", |r| r.time),
    word("support", |r| support(r.kind).into()),
    number("lag_ms", "ms", 0, |r| r.lag.map(|lag| lag.to_us() as f64 / 1e3)),
    number("insp_s", "s", 3, |r| Some(seconds(r.breath.insp_time()))),
    number("rate_per_min", "1/min", 2, |r| r.rate.map(|rate| rate.get().to_num())),
    number("minute_ml", "mL/min", 2, |r| r.minute_volume.map(|volume| volume.get().to_num())),
    word("threshold_verdict", |r| r.trigger.map_or("", |check| verdict(check.verdict)).into()),
    number("margin_l_per_min", "L/min", 3, |r| Some(r.trigger?.clearance?.to_l_per_min().to_num())),
    number("delay_ms", "ms", 0, |r| delay(r).map(|delay| 1e3 * seconds(delay))),
    word("emptying", |r| r.emptying.map_or("", emptying).into()),
    number("left_share", "1", 4, |r| left(r.emptying?)),
    number("insp_flow_left_share", "1", 4, insp_flow_left),
];

fn seconds(span: Duration) -> f64 {
    span.to_us() as f64 / 1e6
}

const fn verdict(verdict: ThresholdVerdict) -> &'static str {
    match verdict {
        ThresholdVerdict::Clear => "clear",
        ThresholdVerdict::InNoise => "in-noise",
        ThresholdVerdict::AboveLeak => "above-leak",
        ThresholdVerdict::BelowLeak => "below-leak",
        ThresholdVerdict::Unknown => "",
    }
}

/// From the beginning of an effort to that of the inflation which it set off.
fn delay(report: &BreathReport) -> Option<Duration> {
    let cause = report.initiation?.cause;
    (cause == Cause::Effort).then(|| report.breath.lead.until.since(report.breath.onset))
}

/// Whether three time constants passed, after which less than a twentieth is left.
const fn emptying(emptying: Emptying) -> &'static str {
    match emptying {
        Emptying::Complete => "complete",
        Emptying::Short { .. } => "short",
        Emptying::Unknown => "",
    }
}

/// What of the volume had not come out when the next breath began, where that was a twentieth and more.
fn left(emptying: Emptying) -> Option<f64> {
    match emptying {
        Emptying::Short { left } => Some(left.get().to_num()),
        Emptying::Complete | Emptying::Unknown => None,
    }
}

/// What is left at the end of inspiration of the flow that fills a passive lung under a steady pressure, by this breath's
/// own time constant: e^(-Ti/τ), common practice, no source; of a passive breath alone, whose time constant is known.
fn insp_flow_left(report: &BreathReport) -> Option<f64> {
    let FitOutcome::Known { time_constant, .. } = report.mechanics else { return None };
    let filled = exhaled_share(report.breath.insp_time(), time_constant)?;
    Some(1.0 - filled.get().to_num::<f64>())
}

fn leak(leak: Leak) -> Option<f64> {
    match leak {
        Leak::Share(share) | Leak::Negative(share) => Some(share.get().to_num()),
        Leak::Unknown(_) => None,
    }
}

/// Volume and standard deviation.
fn lung(lung: LungVolume) -> Option<(f64, f64)> {
    match lung {
        LungVolume::Known { volume, sd, .. } => Some((volume.get().to_num(), sd.get().to_num())),
        LungVolume::Unknown(_) => None,
    }
}

/// Compliance, resistance and goodness.
fn fit(fit: FitOutcome) -> Option<[f64; 3]> {
    match fit {
        FitOutcome::Known { compliance, resistance, goodness, .. } => {
            Some([compliance.get().to_num(), resistance.get().to_num(), goodness.get().to_num()])
        }
        FitOutcome::Unknown(_) => None,
    }
}

const fn kind(kind: Kind) -> &'static str {
    match kind {
        Kind::Inflation => "inflation",
        Kind::Own => "own",
    }
}

/// What the machine did for it.
const fn support(kind: BreathKind) -> &'static str {
    match kind {
        BreathKind::Own => "none",
        BreathKind::Supported => "supported",
        BreathKind::Assured => "assured",
    }
}

/// A volume that was not clamped.
fn exact(volume: Saturated<Volume>) -> Option<f64> {
    volume.within().map(|volume| volume.get().to_num())
}

/// The columns alone.
pub(crate) const COLUMNS: [Column; TABLE.len()] = {
    let mut columns = [Column::time(""); TABLE.len()];
    let mut i = 0;
    while i < columns.len() {
        columns[i] = TABLE[i].0;
        i += 1;
    }
    columns
};

/// The cells of a breath.
pub(crate) fn of(report: &BreathReport) -> [Cell; COLUMNS.len()] {
    TABLE.map(|(_, from)| match from {
        From::Time(of) => Cell::Time(of(report).to_us()),
        From::Number(of) => Cell::Number(of(report)),
        From::Word(of) => Cell::Text(of(report)),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use tidevane::monitor::{Monitor, Settings};
    use tidevane::quantity::{Flow, Pressure};
    use tidevane::signal::Reading;
    use tidevane::trigger::Threshold;
    use tidevane_sim::{Simulator, demo};

    /// The beginning of the demo shift, a passive breath and one with more out than in fill every column.
    #[test]
    fn every_column_is_filled() {
        let mut filled = [false; COLUMNS.len()];
        let mut take = |report: Option<BreathReport>| {
            let Some(closed) = report else { return };
            for ((filled, cell), column) in filled.iter_mut().zip(of(&closed)).zip(&COLUMNS) {
                *filled |= !cell.text(column).is_empty();
            }
        };
        let threshold = Threshold::new(Flow::from_milli_l_per_min(200).value).unwrap();
        let settings = Settings::builder().threshold(threshold).build().unwrap();
        let (mut monitor, mut simulator) =
            (Monitor::new(settings), Simulator::new(&demo::shift()).unwrap());
        for _ in 0..30_000 {
            let output = simulator.step();
            let Some(sample) = output.sample else { continue };
            let (flow, pressure) = (sample.flow_bits(), sample.pressure_bits());
            let reading =
                Reading { flow: Flow::from_bits(flow), pressure: Pressure::from_bits(pressure) };
            take(monitor.push_at(Instant::from_us(output.at_us), reading).breath);
        }
        for out in [0.9, 1.1] {
            let mut monitor = Monitor::new(Settings::default());
            for n in 0..6_000_u64 {
                // At last too fast to empty: 0.1 s for a lung of 0.05 s.
                let length = if n < 4_800 { 200 } else { 100 };
                let t = (n % length) as f64 * 0.005;
                // A lung of 50 ms under 10 cmH2O: 1 mL/cmH2O, 50 cmH2O*s/L; noise so that it lives.
                let (way, t, pressure) = if t < 0.4 { (1.0, t, 15) } else { (-out, t - 0.4, 5) };
                let flow = way * 200.0 * (-t / 0.05).exp() + (n % 3) as f64 * 0.05;
                let reading = Reading {
                    flow: Flow::from_bits((flow * 65_536.0) as i32),
                    pressure: Pressure::from_int(pressure),
                };
                take(monitor.push_at(Instant::from_us(n * 5_000), reading).breath);
            }
        }
        let empty: Vec<_> = COLUMNS.iter().zip(filled).filter(|(_, filled)| !filled).collect();
        // Kinds of inflation are told, flags and causes of a few.
        assert!(empty.is_empty(), "{empty:?}");
    }
}
