//! A breath's own numbers: volumes, means, extremes, its rise and the lead before it.

use crate::fields::Fields;
use crate::leak::Stretch;
use crate::oracle::Oracle;
use crate::quiet::Quiet;
use crate::set::Set;
use crate::track::Point;
use tidevane::breath::Breath;
use tidevane::signal::Flags;

/// What later stages need.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Shape {
    pub(crate) inspired: f64,
    /// The most that had come out, net, and what had by the end of the breath.
    pub(crate) expired: f64,
    pub(crate) returned: f64,
    /// What counts for a leak share.
    pub(crate) back: f64,
    pub(crate) whole: Stretch,
    /// Inspiratory integrals of pressure and drive.
    pub(crate) insp: [f64; 4],
    pub(crate) all: [f64; 4],
    pub(crate) peak: f64,
    pub(crate) baseline: f64,
    pub(crate) lead_peak: f64,
    pub(crate) lead_us: u64,
    pub(crate) length: f64,
    pub(crate) expiratory_time: f64,
    /// The quiet end before the breath, and the drive there.
    pub(crate) quiet: Option<(Quiet, f64)>,
}

pub(crate) fn of(oracle: &Oracle, set: &Set, b: &Breath, out: &mut Fields) -> Shape {
    let track = &oracle.track;
    let (onset, turn, end) = (b.onset.to_us(), b.end_insp.to_us(), b.end.to_us());
    let (insp, exp) = (track.between(onset, turn), track.between(turn, end));
    for (name, sums, us) in [("inspiration", insp, turn - onset), ("expiration", exp, end - turn)] {
        // Doubled areas in steps of 1/65 536 × 1 µs.
        let doubled = |x: f64| x * 2.0 * 65_536.0 * 1e6;
        for (field, value) in [
            ("flow", doubled(sums[0])),
            ("pressure", doubled(sums[1])),
            ("drive", doubled(sums[2])),
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
    let quiet = b.quiet.and_then(|quiet| oracle.blocks.lasting_before(onset, quiet.span.to_us()));
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
    put("inspired.value", insp[0]);
    // At each reading of the expiration, and at its end; nothing before the first.
    let inside = track.points.iter().filter(|p| p.us > turn && p.us <= end);
    let (mut expired, mut out_until) = (-exp[0], end);
    for (at, out) in inside.map(|p| (p.us, -track.between(turn, p.us)[0])) {
        if out > expired {
            (expired, out_until) = (out, at);
        }
    }
    if expired <= 0.0 {
        (expired, out_until) = (0.0, turn);
    }
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
    let Lead { peak: lead_peak, until, rise } = lead(points, turned - first, opened, onset);
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
        inspired: insp[0],
        expired,
        returned: -exp[0],
        // A rest of more than 2 s is a pause.
        back: if end - out_until > 2_000_000 { expired } else { -exp[0] },
        whole: Stretch { flow: all[0], drive: all[2], time: seconds(end - onset) },
        insp,
        all,
        peak,
        baseline,
        lead_peak,
        lead_us: until - onset,
        length: seconds(end - onset),
        expiratory_time: seconds(end - turn),
        quiet: quiet.map(|quiet| (quiet, set.drive(quiet.pressure))),
    }
}

struct Lead {
    peak: f64,
    until: u64,
    rise: Option<u64>,
}

/// What came before the pressure stood 2 cmH2O above that at the onset: readings of less than 0.3.
/// Once the flow has turned, the pressure there is what is counted from.
fn lead(points: &[Point], turned: usize, baseline: f64, onset: u64) -> Lead {
    let mut lead = Lead { peak: points[0].flow.max(0.0), until: onset, rise: None };
    let mut reference = points[0].pressure;
    if reference - baseline >= 2.0 {
        return Lead { rise: Some(onset), ..lead };
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
