//! A breath as a trend is told it, value by value.

use crate::fuzzed::made::steady;
use tidevane::alarm::BreathKind;
use tidevane::breath::{Breath, Kind};
use tidevane::quantity::{Duration, Flow, Instant, Pressure, Saturated, Volume};
use tidevane::signal::{Flags, Reading};
use tidevane::trend::TrendBreath;
use tidevane::trigger::{Cause, NoCause};

#[derive(Debug, Clone, Copy)]
pub(super) struct Taken {
    pub(super) length: Duration,
    pub(super) kind: BreathKind,
    /// Whether the infant set it off, or the machine itself; never both.
    pub(super) by_infant: bool,
    pub(super) self_cycled: bool,
    /// Neither is known, for flow comes after its pressure.
    pub(super) late: bool,
    pub(super) volume: Option<Volume>,
    /// What went in at the sensor, and came back.
    pub(super) at_sensor: Option<(Volume, Volume)>,
    pub(super) peak_flow: Flow,
    pub(super) expiration: Duration,
    pub(super) trusted: bool,
    pub(super) implausible: bool,
    /// As it counts: the trend itself tells it.
    pub(super) shallow: bool,
}

impl Taken {
    /// Through a breath that has them.
    pub(super) fn breath(&self) -> TrendBreath {
        // What stayed, in a second of steady flow.
        let stayed = self
            .at_sensor
            .map_or(Volume::ZERO, |(went_in, came_back)| went_in.saturating_sub(came_back).value);
        let flow = Flow::from_bits(stayed.to_bits());
        let second = Duration::from_millis(1_000);
        let clamped = Saturated { value: Volume::ZERO, saturated: true };
        let breath = Breath {
            onset: Instant::from_us(0),
            end_insp: Instant::from_us(self.length.to_us() - self.expiration.to_us()),
            end: Instant::from_us(self.length.to_us()),
            kind: Kind::Inflation,
            inspiration: steady(Reading { flow, pressure: Pressure::ZERO }, second),
            inspired: self.at_sensor.map_or(clamped, |(went_in, _)| Saturated::exact(went_in)),
            peak_insp_flow: self.peak_flow,
            flags: if self.trusted { Flags::NONE } else { Flags::GAP },
            ..Breath::default()
        };
        let cause = match (self.by_infant, self.self_cycled) {
            (true, _) => Cause::Effort,
            (false, true) => Cause::SelfLeak,
            (false, false) if self.late => Cause::Unknown(NoCause::FlowLate),
            (false, false) => Cause::Timed,
        };
        TrendBreath::of(&breath, self.kind, Some(cause), self.volume, self.implausible)
    }
}
