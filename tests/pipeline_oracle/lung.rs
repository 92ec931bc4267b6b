//! The volume in the lung, compliance and resistance, and the proposed peak.

use crate::fields::Fields;
use crate::oracle::Oracle;
use crate::set::{CEILING, LEAST_RISE, MOST_LEAK, STEP, Set, TARGET};
use crate::shape::{Shape, stretch};
use crate::solve::fit;
use tidevane::mechanics::{FitOutcome, NonlinearElastance};
use tidevane::monitor::BreathReport;

/// Inspired volume less the modelled leak, with its uncertainty: the doubt of the line, that of the
/// tube's loss, 1 %, half of what is guessed to leak in the expiration, and for a breath that misses the
/// line how far its own balance lies from it.
pub(crate) fn volume(oracle: &Oracle, set: &Set, shape: &Shape, out: &mut Fields) -> Option<f64> {
    let leak = &oracle.leak;
    if !leak.is_known() || leak.is_guessing() {
        return None;
    }
    let insp = stretch(shape.insp);
    let volume = insp.flow - leak.past(insp);
    let [i, e] = [insp.tip, shape.all[2] - insp.tip];
    let apart = if leak.misfit != 0 && i >= 0.0 && e >= 0.0 && i + e > 0.0 {
        let lost = shape.inspired - shape.returned;
        (shape.inspired - i / (i + e) * lost - volume).abs()
    } else {
        0.0
    };
    let one = (shape.inspired / 16.0).max(leak.scatter);
    let line = one * leak.doubt(insp.tip / insp.time) * insp.time;
    let (tip, loss) = (insp.tip / insp.time, set.loss(insp.flow / insp.time) * set.doubt);
    let tube = (leak.at(tip + loss) - leak.at(tip)) * insp.time;
    let exp = stretch(std::array::from_fn(|i| shape.all[i] - shape.insp[i]));
    let law = leak.past(exp).max(0.0) * leak.guessed() / 2.0;
    let sd = [apart, line, tube, law, volume / 100.0].iter().map(|x| x * x).sum::<f64>().sqrt();
    if sd > volume / 2.0 {
        return None;
    }
    out.insert("lung.Known.volume".into(), volume);
    out.insert("lung.Known.sd".into(), sd);
    Some(volume)
}

/// P = P0 + V/C + R·Q over the readings from one closing to the next, and the bent curve beside it.
/// Whether the infant was passive is a decision.
pub(crate) fn mechanics(oracle: &mut Oracle, closed: &BreathReport, out: &mut Fields) {
    let lag = closed.lag.map_or(0, |lag| lag.to_us());
    if oracle.lag < 1_000 {
        // Pressures are kept from here on: the interval before the first reading counts.
        oracle.delayed_from = oracle.fit_from;
    }
    oracle.lag = lag;
    let kept = oracle.track.kept(oracle.delayed_from);
    let points = &oracle.track.points[oracle.fit_from..];
    let mut volume = 0.0;
    let mut rows = Vec::new();
    for (i, p) in points.iter().enumerate() {
        if i > 0 {
            let last = &points[i - 1];
            volume += (last.lung + p.lung) / 2.0 * (p.us - last.us) as f64 / 1e6;
        }
        let pressure = oracle.track.delayed(oracle.fit_from + i, lag, &kept);
        rows.push((volume, p.lung, pressure));
    }
    if let FitOutcome::Known { .. } = closed.mechanics {
        let straight: Vec<_> = rows.iter().map(|&(v, q, p)| ([v, q], p)).collect();
        let ([elastance, resistance], baseline, goodness) = fit(&straight).expect("apart");
        oracle.tau = Some(resistance / elastance);
        for (name, value) in [
            ("baseline", baseline),
            ("compliance", 1.0 / elastance),
            ("resistance", resistance * 1e3),
            ("goodness", goodness),
            ("time_constant", resistance / elastance * 1e6),
        ] {
            out.insert(format!("mechanics.Known.{name}"), value);
        }
    }
    if let NonlinearElastance::Known { .. } = closed.bend {
        let bent: Vec<_> = rows.iter().map(|&(v, q, p)| ([v, v * v, q], p)).collect();
        let ([elastance, curvature, resistance], baseline, goodness) = fit(&bent).expect("apart");
        let top = rows.iter().map(|row| row.0).fold(0.0, f64::max);
        let share = curvature * top / (elastance + curvature * top);
        // Where the curve (1 − e)x + e·x² of a share e reaches four fifths of its rise.
        let x = if share == 0.0 {
            0.8
        } else {
            let a = 1.0 - share;
            (-a + (a * a + 3.2 * share).sqrt()) / (2.0 * share)
        };
        for (name, value) in [
            ("baseline", baseline),
            ("elastance", elastance),
            ("curvature", curvature * 1e3),
            ("resistance", resistance * 1e3),
            ("goodness", goodness),
            ("share", share),
        ] {
            out.insert(format!("bend.Known.{name}"), value);
        }
        if matches!(
            closed.bend,
            NonlinearElastance::Known { c20: tidevane::mechanics::C20OverC::Known { .. }, .. }
        ) {
            out.insert("bend.Known.c20.Known.ratio".into(), 5.0 * (1.0 - x));
        }
    }
}

/// Baseline + rise × target ÷ volume, held by the step, the least rise, the ceiling.
pub(crate) fn proposal(
    oracle: &mut Oracle,
    closed: &BreathReport,
    shape: &Shape,
    lung: Option<f64>,
    out: &mut Fields,
) {
    let volume = lung.unwrap_or(shape.expired);
    let rise = shape.peak - shape.baseline;
    let leaks = oracle.window_share().is_none_or(|share| share > MOST_LEAK);
    if !closed.breath.is_trusted() || leaks || volume <= 0.0 || rise <= 0.0 {
        return;
    }
    let needed = shape.baseline + rise * TARGET / volume;
    let mut peak = needed.clamp(shape.peak - STEP, shape.peak + STEP);
    peak = peak.max(shape.baseline + LEAST_RISE);
    oracle.short = if needed > CEILING { oracle.short + 1.0 } else { 0.0 };
    out.insert("proposal.Peak.peak".into(), peak.min(CEILING));
    out.insert("proposal.Peak.short".into(), oracle.short);
}
