//! A report in words, and what can be worked out of a closed breath alone.
//!
//! - Each event, verdict and outcome has a text that reads as one.
//! - Mean pressure lies between those of the phases; rate and ratio are those of the times.

use super::words::said;
use tidevane::alarm::BreathView;
use tidevane::mechanics::FitOutcome;
use tidevane::monitor::{BreathReport, Report};
use tidevane::quantity::{Duration, Flow, Rate, Saturated};
use tidevane::signal::Flags;
use tidevane::trigger::CountAccuracy;

pub(crate) fn check(report: &Report) {
    assert_eq!(report.is_silent(), report.breath.is_none() && report.events.is_empty());
    for event in &report.events {
        said(event);
        assert!(event.what.name().chars().all(|c| c.is_ascii_lowercase() || c == '-'));
    }
    if let Some(closed) = &report.breath {
        words(closed);
        alone(closed);
    }
}

fn words(closed: &BreathReport) {
    for leak in [closed.leak, closed.leak_window] {
        said(&leak);
        let other = leak.of_expired().and_then(|other| other.of_inspired());
        assert!(other.is_none() || leak.share().is_some());
    }
    said(&closed.lung);
    if let Some(proposal) = &closed.proposal {
        said(proposal);
    }
    if let Some(check) = &closed.trigger {
        assert!(said(check).starts_with("threshold "));
    }
    if let Some(why) = &closed.implausible {
        said(why);
    }
    if let FitOutcome::Unknown(why) = closed.mechanics {
        said(&why);
    }
    let flags = closed.breath.flags;
    // Nothing to remark is nothing to say.
    let names = flags.to_string();
    let here = Flags::ALL.iter().filter(|(flag, _)| flags.has(*flag));
    assert_eq!(names.split(';').filter(|name| !name.is_empty()).count(), here.count());
    if let Some(initiation) = closed.initiation {
        said(&initiation);
        let cause = initiation.cause;
        assert_eq!(cause.name() == "unknown", CountAccuracy::of_cause(cause).is_none());
    }
    let share = closed.leak_window.share();
    let view =
        BreathView::of(&closed.breath, closed.kind, share, closed.rate, closed.minute_volume);
    assert_eq!(closed.view(), view);
}

fn alone(closed: &BreathReport) {
    let b = &closed.breath;
    let (first, second) = (b.inspiration.mean_pressure(), b.expiration.mean_pressure());
    if let Some((mean, (first, second))) = b.mean_pressure().zip(first.zip(second)) {
        let (low, high) = (first.min(second).to_bits(), first.max(second).to_bits());
        assert!((low - 1..=high + 1).contains(&mean.to_bits()), "{mean} of {first} and {second}");
    }
    let length = b.end.since(b.onset);
    assert_eq!(b.rate(), per_minute(length));
    assert!(b.is_ended_by_infant(Flow::from_bits(i32::MIN)) || !b.is_ended_by_infant(Flow::MAX));
}

/// Toward zero, or clamped and said to be.
fn per_minute(period: Duration) -> Option<Saturated<Rate>> {
    let bits = (60_000_000_u64 << 16).checked_div(period.to_us())?;
    let (value, saturated) = i32::try_from(bits).map_or((i32::MAX, true), |bits| (bits, false));
    Some(Saturated { value: Rate::from_bits(value), saturated })
}
