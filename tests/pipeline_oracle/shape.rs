//! A breath's own numbers: volumes, means, extremes, its rise and the lead before it.

use crate::fields::Fields;
use crate::leak::Stretch;
use crate::oracle::{Oracle, float};
use crate::quiet::EndExpiration;
use crate::track::{Point, Track};
use tidevane::breath::Breath;
use tidevane::signal::Flags;

/// What later stages need.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Shape {
    pub(crate) inspired: f64,
    /// What came back by the end, before a pause the most that had; and all of it.
    pub(crate) expired: f64,
    pub(crate) returned: f64,
    pub(crate) whole: Stretch,
    /// Integrals over inspiration, and over the whole breath.
    pub(crate) insp: [f64; 4],
    pub(crate) all: [f64; 4],
    pub(crate) peak: f64,
    pub(crate) baseline: f64,
    pub(crate) lead_peak: f64,
    pub(crate) lead_us: u64,
    pub(crate) length: f64,
    pub(crate) expiratory_time: f64,
    /// The quiet end before the breath.
    pub(crate) quiet: Option<EndExpiration>,
}

pub(crate) fn of(oracle: &Oracle, b: &Breath, out: &mut Fields) -> Shape {
    let track = &oracle.track;
    let (onset, turn, end) = (b.onset.to_us(), b.end_insp.to_us(), b.end.to_us());
    let (insp, exp) = (track.between(onset, turn), track.between(turn, end));
    for (name, sums, us) in [("inspiration", insp, turn - onset), ("expiration", exp, end - turn)] {
        // Doubled areas in steps of 1/65 536 × 1 µs.
        let doubled = |x: f64| x * 2.0 * 65_536.0 * 1e6;
        for (field, value) in [
            ("flow", doubled(sums[0])),
            ("pressure", doubled(sums[1])),
            ("tip", doubled(sums[2])),
            ("span", us as f64),
            ("known", sums[3] * 1e6),
        ] {
            out.insert(format!("breath.{name}.{field}"), value);
        }
    }
    // The reading before each crossing, and the last of this breath. The one before the onset counts
    // for the pressure, not for flows; one that ends a gap tells nothing of the time before it and
    // counts for neither.
    let (first, turned, last) = (track.at(onset), track.at(turn), track.at(end));
    let points = &track.points[first..=last];
    let later = || points[1..].iter().filter(|p| !p.gap);
    let peak = later().map(|p| p.pressure).fold(points[0].pressure, f64::max);
    let quiet = b.quiet.and_then(|quiet| {
        let given = (float(quiet.flow.to_bits()), float(quiet.pressure.to_bits()));
        oracle.blocks.lasting(onset, quiet.span.to_us(), given)
    });
    let opened = quiet.map_or_else(|| oracle.lowest_before(first), |quiet| quiet.pressure);
    let mut baseline = opened;
    // Where the recording began in the breath, what the pressure falls to after it counts too.
    if b.flags.has(Flags::BEGUN_BEFORE) && b.end > b.end_insp {
        let after = track.points[turned..=last].iter().filter(|p| !p.gap);
        baseline = after.map(|p| p.pressure).fold(baseline, f64::min);
    }
    let mut put = |name: &str, value: f64| {
        out.insert(format!("breath.{name}"), value);
    };
    let (more, top) = still_in(track, b);
    let inspired = insp[0] + more;
    put("inspired.value", inspired);
    // A rest of more than 2 s is a pause: what leaks in meanwhile counts for nothing.
    let returned = more - exp[0];
    let paused = end - b.out_until.to_us() > 2_000_000;
    let inside = track.points.iter().filter(|p| p.us > top && p.us <= end);
    let out = inside.map(|p| more - track.between(turn, p.us)[0]);
    let most_out = out.fold(returned.max(0.0), f64::max);
    let expired = if paused { most_out } else { returned.max(0.0) };
    put("most_out.value", most_out);
    put("expired.value", expired);
    put("peak", peak);
    put("baseline", baseline);
    put("peak_insp_flow", later().map(|p| p.flow).fold(0.0, f64::max));
    put("peak_exp_flow", later().map(|p| -p.flow).fold(0.0, f64::max));
    // An inspiration that was cut short has no turn.
    let cut_short = b.flags.has(Flags::CUT) && b.end_insp == b.end;
    let turn_pressure = if cut_short { peak } else { track.points[turned].pressure };
    put("end_insp_pressure", turn_pressure);
    let out = &track.points[turned..=last];
    put("early_out", if cut_short { 0.0 } else { early_out(out) });
    let TriggerPhase { peak: lead_peak, until, rise } = lead(points, turned - first, opened, onset);
    put("lead.peak", lead_peak);
    put("lead.until", until as f64);
    if b.pressure_rise.is_some() {
        rise.iter().for_each(|rise| put("pressure_rise", *rise as f64));
    }
    if let Some(quiet) = quiet {
        for (name, value) in [
            ("span", quiet.span),
            ("flow", quiet.flow),
            ("residual", quiet.residual),
            ("tail", quiet.tail),
            ("last", quiet.last),
            ("spread", quiet.spread),
            ("low", quiet.low),
            ("high", quiet.high),
            ("pressure", quiet.pressure),
        ] {
            put(&format!("quiet.{name}"), value);
        }
    }
    let seconds = |us: u64| us as f64 / 1e6;
    let all = std::array::from_fn(|i| insp[i] + exp[i]);
    Shape {
        inspired,
        expired,
        returned,
        whole: stretch(insp).with(stretch(exp)),
        insp,
        all,
        peak,
        baseline,
        lead_peak,
        lead_us: until - onset,
        length: seconds(end - onset),
        expiratory_time: seconds(end - turn),
        quiet,
    }
}

/// Flow, pressure at the tip and known time of integrals.
pub(crate) fn stretch(sums: [f64; 4]) -> Stretch {
    Stretch::steady(sums[0], sums[2], sums[3])
}

/// The most that still goes in at the sensor after the lung has turned, up to the first reading at which
/// flow goes out, and when that was.
fn still_in(track: &Track, b: &Breath) -> (f64, u64) {
    let (turn, end) = (b.end_insp.to_us(), b.end.to_us());
    let inside = track.points.iter().filter(|p| p.us > turn && p.us <= end && !p.gap);
    let mut most = (0.0_f64, turn);
    for p in inside {
        let more = track.between(turn, p.us)[0];
        if more > most.0 {
            most = (more, p.us);
        }
        if p.flow <= 0.0 {
            break;
        }
    }
    most
}

struct TriggerPhase {
    peak: f64,
    until: u64,
    rise: Option<u64>,
}

/// What came before the pressure stood 2 cmH2O above that at the onset: readings of less than 0.3.
/// Once the flow has turned, the pressure there is what is counted from.
fn lead(points: &[Point], turned: usize, baseline: f64, onset: u64) -> TriggerPhase {
    let mut lead = TriggerPhase { peak: points[0].flow.max(0.0), until: onset, rise: None };
    let mut reference = points[0].pressure;
    if reference - baseline >= 2.0 {
        return TriggerPhase { rise: Some(onset), ..lead };
    }
    for (i, p) in points.iter().enumerate().skip(1).filter(|(_, p)| !p.gap) {
        if p.pressure - reference < 0.3 {
            lead.until = p.us.max(onset);
            lead.peak = lead.peak.max(p.flow);
        }
        if p.pressure - reference >= 2.0 {
            lead.rise = Some(p.us);
            return lead;
        }
        if i == turned {
            reference = p.pressure;
        }
    }
    lead
}

/// Largest flow out of the lung before the pressure fell from where the flow turned, by 0.3 cmH2O.
fn early_out(points: &[Point]) -> f64 {
    let from = points[0].pressure;
    let read = points[1..].iter().filter(|p| !p.gap);
    let held = read.take_while(|p| from - p.pressure < 0.3);
    held.map(|p| -p.lung).fold(0.0, f64::max)
}
