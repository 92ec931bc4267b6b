//! What a call brought.

use crate::codes::{TV_CAUSE_NONE, TV_THRESHOLD_NONE, TV_UNSET};
use crate::event::TvEvent;
use crate::memory::{bits, code};
use tidevane::breath::Kind;
use tidevane::leak::{Leak, LungVolume};
use tidevane::mechanics::{C20OverC, Emptying, FitOutcome, NonlinearElastance};
use tidevane::monitor::{BreathReport, Event, EventKind, Monitor, Report};
use tidevane::quantity::{Duration, Rate, Volume};
use tidevane::trigger::Cause;
use tidevane::volume::Proposed;

/// How many events a call may bring.
pub const TV_EVENTS: usize = 22;

/// A closed breath. Quantities are times 65 536: mL, mL/s, cmH2O, per minute, shares of 1; `TV_UNSET` where one is
/// not known.
#[repr(C)]
#[derive(Debug, Clone, Copy)]
pub struct TvBreath {
    /// When it began, turned outward and ended, and the reading at which its end was found, in µs of the ticks: they jump
    /// where the counter does.
    pub onset_us: u64,
    pub end_insp_us: u64,
    pub end_us: u64,
    pub found_us: u64,
    /// When it began on the monitor's own time, which a counter set back does not move: the `time_us` of events.
    pub time_us: u64,
    /// `TV_FLAG_...`: what was wrong with it.
    pub flags: u32,
    /// Volumes at the sensor.
    pub inspired_q16: i32,
    pub expired_q16: i32,
    /// Largest pressure, and that before the breath; largest flows in and out.
    pub peak_q16: i32,
    pub baseline_q16: i32,
    pub peak_in_q16: i32,
    pub peak_out_q16: i32,
    /// Share of the inspired volume that leaked, of this breath and over the last trusted ones; below zero where
    /// more came out than went in.
    pub leak_q16: i32,
    pub leak_window_q16: i32,
    /// The volume that reached the lung, and its standard deviation.
    pub lung_q16: i32,
    pub lung_sd_q16: i32,
    /// Breaths and expired volume a minute over the last eight trusted ones.
    pub rate_q16: i32,
    pub minute_volume_q16: i32,
    /// Of a passive breath: mL/cmH2O, cmH2O/(L/s), r squared, and C20/C of the bent fit.
    pub compliance_q16: i32,
    pub resistance_q16: i32,
    pub goodness_q16: i32,
    pub c20_q16: i32,
    /// Gas left in the lung as a share of the breath; 0 where it emptied.
    pub left_q16: i32,
    /// The peak pressure that the target volume needs.
    pub proposed_q16: i32,
    /// Threshold less leak, and less leak and reach of noise and ripple.
    pub margin_q16: i32,
    pub clearance_q16: i32,
    /// How far flow was taken to lag behind pressure, µs.
    pub lag_us: i32,
    /// 1 where the machine inflated; whose breath it was (`TV_BREATH_...`); 1 where nothing was wrong with it.
    pub inflation: u8,
    pub kind: u8,
    pub trusted: u8,
    /// `TV_CAUSE_...` and `TV_THRESHOLD_...`.
    pub cause: u8,
    pub threshold: u8,
    /// Why a number is `TV_UNSET`, or a cause unknown: `TV_NO_LEAK_...` of this breath's leak and of the last ones',
    /// `TV_NO_LUNG_...`, `TV_NO_FIT_...`, `TV_NO_CAUSE_...`; 255 where it is known.
    pub no_leak: u8,
    pub no_leak_window: u8,
    pub no_lung: u8,
    pub no_fit: u8,
    pub no_cause: u8,
}

/// What this call brought, and nothing of earlier ones: at most one closed breath, and events. Written only where the call
/// returns `TV_OK`.
#[repr(C)]
#[derive(Debug, Clone, Copy)]
pub struct TvOutcome {
    /// 1 where a breath was closed: `breath` counts only then.
    pub has_breath: u32,
    /// How many of `events` there are, in the order in which they were noticed.
    pub event_count: u32,
    pub breath: TvBreath,
    pub events: [TvEvent; TV_EVENTS],
}

impl TvOutcome {
    pub(crate) fn of(report: &Report, monitor: &Monitor) -> Self {
        let mut events = [TvEvent::NONE; TV_EVENTS];
        // What a counter that was set back cuts off ended where the new time begins.
        let is_reset = |event: &Event| matches!(event.what, EventKind::ClockReset { .. });
        let mut reset = report.events.iter().rev().find(|event| is_reset(event));
        for (place, event) in events.iter_mut().zip(&report.events) {
            *place = TvEvent::of(event, Some(monitor.time_of(reset.unwrap_or(event).at)));
            reset = reset.filter(|reset| !core::ptr::eq(*reset, event));
        }
        Self {
            has_breath: report.breath.is_some().into(),
            event_count: u32::try_from(report.events.len()).unwrap_or(0),
            breath: report.breath.as_ref().map_or(TvBreath::NONE, TvBreath::of),
            events,
        }
    }
}

fn known<T>(value: Option<T>, bits: impl FnOnce(T) -> i32) -> i32 {
    value.map_or(TV_UNSET, bits)
}

/// The share, and why there is none.
fn share(leak: Leak) -> (i32, u8) {
    match leak {
        Leak::Share(share) | Leak::Negative(share) => (share.to_bits(), u8::MAX),
        Leak::Unknown(why) => (TV_UNSET, code(&why)),
    }
}

impl TvBreath {
    const NONE: Self = Self {
        onset_us: 0,
        end_insp_us: 0,
        end_us: 0,
        found_us: 0,
        time_us: 0,
        flags: 0,
        inspired_q16: TV_UNSET,
        expired_q16: TV_UNSET,
        peak_q16: TV_UNSET,
        baseline_q16: TV_UNSET,
        peak_in_q16: TV_UNSET,
        peak_out_q16: TV_UNSET,
        leak_q16: TV_UNSET,
        leak_window_q16: TV_UNSET,
        lung_q16: TV_UNSET,
        lung_sd_q16: TV_UNSET,
        rate_q16: TV_UNSET,
        minute_volume_q16: TV_UNSET,
        compliance_q16: TV_UNSET,
        resistance_q16: TV_UNSET,
        goodness_q16: TV_UNSET,
        c20_q16: TV_UNSET,
        left_q16: TV_UNSET,
        proposed_q16: TV_UNSET,
        margin_q16: TV_UNSET,
        clearance_q16: TV_UNSET,
        lag_us: TV_UNSET,
        inflation: 0,
        kind: 0,
        trusted: 0,
        cause: TV_CAUSE_NONE,
        threshold: TV_THRESHOLD_NONE,
        no_leak: u8::MAX,
        no_leak_window: u8::MAX,
        no_lung: u8::MAX,
        no_fit: u8::MAX,
        no_cause: u8::MAX,
    };

    fn of(closed: &BreathReport) -> Self {
        let (breath, mut out) = (&closed.breath, Self::NONE);
        (out.onset_us, out.end_insp_us) = (breath.onset.to_us(), breath.end_insp.to_us());
        (out.end_us, out.found_us) = (breath.end.to_us(), closed.found.to_us());
        out.time_us = closed.time.to_us();
        out.flags = bits(&breath.flags);
        out.inspired_q16 = breath.inspired.value.to_bits();
        out.expired_q16 = breath.expired.value.to_bits();
        (out.peak_q16, out.baseline_q16) = (breath.peak.to_bits(), breath.baseline.to_bits());
        out.peak_in_q16 = breath.peak_insp_flow.to_bits();
        out.peak_out_q16 = breath.peak_exp_flow.to_bits();
        (out.leak_q16, out.no_leak) = share(closed.leak);
        (out.leak_window_q16, out.no_leak_window) = share(closed.leak_window);
        match closed.lung {
            LungVolume::Known { volume, sd } => {
                (out.lung_q16, out.lung_sd_q16) = (volume.to_bits(), sd.to_bits());
            }
            LungVolume::Unknown(why) => out.no_lung = code(&why),
        }
        out.rate_q16 = known(closed.rate, Rate::to_bits);
        out.minute_volume_q16 = known(closed.minute_volume, Volume::to_bits);
        match closed.mechanics {
            FitOutcome::Known { compliance, resistance, goodness, .. } => {
                out.compliance_q16 = compliance.to_bits();
                out.resistance_q16 = resistance.to_bits();
                out.goodness_q16 = goodness.to_bits();
            }
            FitOutcome::Unknown(why) => out.no_fit = code(&why),
        }
        if let NonlinearElastance::Known { c20: C20OverC::Known { ratio, .. }, .. } = closed.bend {
            out.c20_q16 = ratio.to_bits();
        }
        out.left_q16 = match closed.emptying {
            Some(Emptying::Complete) => 0,
            Some(Emptying::Short { left }) => left.to_bits(),
            Some(Emptying::Unknown) | None => TV_UNSET,
        };
        if let Some(Proposed::Peak { peak, .. }) = closed.proposal {
            out.proposed_q16 = peak.to_bits();
        }
        if let Some(check) = closed.trigger {
            out.threshold = code(&check.verdict);
            out.margin_q16 = known(check.margin, |margin| margin.to_bits());
            out.clearance_q16 = known(check.clearance, |clearance| clearance.to_bits());
        }
        out.lag_us =
            known(closed.lag.map(Duration::to_us), |us| i32::try_from(us).unwrap_or(i32::MAX));
        out.inflation = u8::from(breath.kind == Kind::Inflation);
        out.kind = code(&closed.kind);
        out.trusted = u8::from(breath.is_trusted());
        if let Some(initiation) = closed.initiation {
            out.cause = code(&initiation.cause);
            if let Cause::Unknown(why) = initiation.cause {
                out.no_cause = code(&why);
            }
        }
        out
    }
}
