//! Closed breaths made of bytes, as the segmenter could make them or worse.

use super::bytes::Bytes;
use tidevane::breath::{Breath, EndExpiration, Kind, PhaseIntegrals, TriggerPhase};
use tidevane::quantity::{Duration, Flow, Instant, Pressure, Saturated, Volume};
use tidevane::signal::{End, Flags, Interval, Reading};

/// What one breath is made of.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Made {
    pub(crate) breath: Breath,
    /// Flow and pressure, steady over each phase.
    pub(crate) inward: (Reading, Duration),
    pub(crate) outward: (Reading, Duration),
}

/// Of a steady flow and pressure.
pub(crate) fn steady(reading: Reading, span: Duration) -> PhaseIntegrals {
    let Reading { flow, pressure } = reading;
    let end = End { flow, lung: flow, pressure, tip: pressure };
    PhaseIntegrals::of(&Interval { span, from: end, to: end, ..Interval::default() })
}

/// Sixteen bytes a breath; it begins where the one before ended.
pub(crate) fn breath(bytes: &mut Bytes<'_>, onset: Instant) -> Option<Made> {
    let kind = bytes.u8()?;
    let (ti, te) = (u32::from(bytes.u8()?) * 4 + 1, u32::from(bytes.u8()?) * 8 + 1);
    let lead = u32::from(bytes.u8()?);
    let flow = |raw: i16| Flow::from_bits(i32::from(raw) << 12);
    let pressure = |raw: i16| Pressure::from_bits(i32::from(raw) << 8);
    let (inflow, outflow) = (flow(bytes.i16()?), flow(bytes.i16()?));
    let (high, low) = (pressure(bytes.i16()?), pressure(bytes.i16()?));
    let (leak, reach) = (flow(bytes.i16()?), flow(bytes.i16()?.saturating_abs()));
    let inward = (Reading { flow: inflow, pressure: high }, Duration::from_millis(ti));
    let outward = (Reading { flow: outflow, pressure: low }, Duration::from_millis(te));
    let end_insp = onset.after(inward.1);
    let quiet = EndExpiration {
        span: Duration::from_millis(te),
        flow: leak,
        residual: Flow::ZERO,
        tail: Flow::from_bits(reach.to_bits() >> 2),
        last: leak,
        spread: Flow::from_bits(reach.to_bits() >> 1),
        low: leak.saturating_sub(reach).value,
        high: leak.saturating_add(reach).value,
        pressure: low,
    };
    let (inspiration, expiration) = (steady(inward.0, inward.1), steady(outward.0, outward.1));
    let [inspired, returned] = Breath::volumes(&inspiration, &expiration);
    // A steady flow: all of it has come out at the end, or none ever.
    let is_out = returned.value > Volume::ZERO;
    let expired = if is_out { returned } else { Saturated::exact(Volume::ZERO) };
    let breath = Breath {
        onset,
        end_insp,
        end: end_insp.after(outward.1),
        kind: if kind & 1 == 0 { Kind::Inflation } else { Kind::Own },
        inspiration,
        expiration,
        inspired,
        expired,
        out_until: if is_out { end_insp.after(outward.1) } else { end_insp },
        most_out: expired,
        peak: high.max(low),
        baseline: low,
        peak_insp_flow: inflow.max(Flow::ZERO),
        peak_exp_flow: Flow::ZERO.saturating_sub(outflow).value.max(Flow::ZERO),
        // One in eight has its pressure up before its flow.
        pressure_rise: (kind & 1 == 0).then_some(if kind & 0x38 == 0 { onset } else { end_insp }),
        lead: TriggerPhase {
            until: onset.after(Duration::from_millis(lead)),
            peak: inflow.max(Flow::ZERO),
        },
        end_insp_pressure: high,
        early_out: if kind & 2 == 0 { Flow::ZERO } else { Flow::from_int(20) },
        quiet: (kind & 4 == 0).then_some(quiet),
        flags: if kind >= 224 { Flags::NOISY } else { Flags::NONE },
    };
    let clamped = breath.inspired.saturated || breath.expired.saturated;
    let flags = breath.flags.with(if clamped { Flags::SATURATED } else { Flags::NONE });
    Some(Made { breath: Breath { flags, ..breath }, inward, outward })
}
