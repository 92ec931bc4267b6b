//! Tells a leak from a sensor that is off.
//!
//! A leak needs pressure, an offset does not. Two places show both: the quiet end of expiration and the
//! mean over whole breaths. In the root of the pressure a leak round a tube makes a line through zero,
//! and any other leak one that falls below zero; only an offset lifts it above. And no leak lets more
//! out than in.

use super::change::{Change, Moved};
use super::drive::mean_root;
use crate::breath::{Breath, EndExpiration};
use crate::quantity::{
    Flow, RootConductance, RootPressure, Saturated, SettingError, Share, Volume, const_default,
    setting,
};
use crate::record;
use crate::signal::Flags;
use core::fmt;

/// How far an offset may go before it is called drift.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ZeroDriftDetector {
    limit: Flow,
}

const_default! {
    /// 1 mL/s (0.06 L/min): chosen here, no source.
    ZeroDriftDetector: Self { limit: Flow::from_int(1) }
}

record! {
    #[const_default]
    /// The quiet flow over recent breaths, and the verdict.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[doc(hidden)]
    pub struct ZeroDriftState {
        /// Quiet flow, mean flow of whole breaths, and the roots of both pressures.
        usual: Option<TypicalBreath>,
        breaths: u8,
        change: Change,
        fit: LeakConsistency,
    }
}

record! {
    #[const_default]
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    struct TypicalBreath {
        quiet: Flow,
        quiet_root: RootPressure,
        mean: Flow,
        mean_root: RootPressure,
        /// What escaped beside the quiet flow, and what was inspired.
        escaped: Volume,
        inspired: Volume,
    }
}

record! {
    #[const_default(Unknown)]
    /// Whether a leak explains the flow.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[non_exhaustive]
    pub enum LeakConsistency {
        /// Too few breaths with a quiet end, or pressures too alike to tell.
        Unknown = 0,
        /// A leak round the tube explains both the quiet flow and the whole.
        Good = 1,
        /// Flow where no pressure drives it: the sensor's zero stands this far off. Above zero it fakes
        /// a leak, below zero it hides one.
        Drift(Flow) = 2,
        /// The flow grows faster with pressure than that of a leak round the tube: the leak opens only
        /// above the baseline, or the zero stands this far below. Flow alone cannot tell which; the volume
        /// in the lung is right either way.
        Steeper(Flow) = 3,
        /// More comes out than went in beside a quiet flow that is no leak inward: the sensor reads
        /// outward flow too large, or inward flow too small, by this share.
        Gain(Share) = 4,
    }
}

/// Breaths with a quiet end before a verdict. Chosen here, no source.
const LEAST_BREATHS: u8 = 8;
/// The mean root must stand this far above the baseline's for the two to be told apart. Chosen here, no source.
const LEAST_SWING: RootPressure = RootPressure::from_milli(150).value;
/// A smaller share is noise. Chosen here, no source.
const LEAST_GAIN: Share = Share::from_percent(3);

impl ZeroDriftDetector {
    /// A watch for offsets beyond `limit` (0.1 to 100 mL/s).
    ///
    /// # Errors
    /// `limit` outside its range.
    pub fn new(limit: Flow) -> Result<Self, SettingError> {
        SettingError::within(
            "zero_limit",
            limit,
            Flow::from_milli(100).value,
            Flow::from_int(100),
        )?;
        Ok(Self { limit })
    }

    /// How far the zero may stand off.
    #[must_use]
    pub const fn limit(&self) -> Flow {
        self.limit
    }

    /// Learns from a closed breath; one whose measurement was flagged, or that had no quiet end before
    /// it, changes nothing. Some sixteen wide divides.
    #[inline(never)]
    #[doc(hidden)]
    pub fn learn(&self, state: &mut ZeroDriftState, breath: &Breath) {
        if !breath.is_measured() {
            return;
        }
        let Some(quiet) = breath.quiet.filter(|quiet| quiet.span >= EndExpiration::LONG_ENOUGH)
        else {
            return;
        };
        let is_over = is_over(breath, &quiet);
        let moved = state.change.step(breath, &quiet, is_over);
        match moved {
            Moved::Leak => state.restart(),
            Moved::Zero(by) => state.fit = LeakConsistency::Drift(by),
            Moved::No => {}
        }
        if !is_over {
            return;
        }
        let Some(now) = TypicalBreath::of(breath, &quiet) else { return };
        state.usual = Some(state.usual.map_or(now, |usual| usual.toward(&now)));
        state.breaths = state.breaths.saturating_add(1);
        if matches!(moved, Moved::Zero(_)) {
            return;
        }
        if state.breaths >= LEAST_BREATHS {
            state.fit = state.usual.map_or(LeakConsistency::Unknown, |usual| self.fit(&usual));
        } else if matches!(state.fit, LeakConsistency::Drift(_)) {
            state.fit = LeakConsistency::Unknown;
        }
    }

    fn fit(&self, usual: &TypicalBreath) -> LeakConsistency {
        let below = Flow::ZERO.saturating_sub(self.limit).value;
        if usual.quiet <= below && usual.quiet_root > RootPressure::from_int(1) {
            // Outward while the pressure stands above ambient: no leak does that.
            return LeakConsistency::Drift(usual.quiet);
        }
        let lost = usual.escaped.share_of(usual.inspired).and_then(Saturated::within);
        if let Some(more) = lost.map(|lost| Share::ZERO.saturating_sub(lost).value)
            && more >= LEAST_GAIN
        {
            return LeakConsistency::Gain(more);
        }
        match usual.offset() {
            Some(offset) if offset >= self.limit => LeakConsistency::Drift(offset),
            Some(offset) if offset <= below => LeakConsistency::Steeper(offset),
            Some(_) => LeakConsistency::Good,
            None => LeakConsistency::Unknown,
        }
    }
}

impl ZeroDriftState {
    /// [`Flags::ZERO_DRIFT`] where the zero stands off: no volume at the sensor is to be trusted.
    #[must_use]
    #[doc(hidden)]
    pub const fn judge(&self) -> Flags {
        Flags::when(Flags::ZERO_DRIFT, matches!(self.fit, LeakConsistency::Drift(_)))
    }

    /// The leak has changed in a step: what the quiet flow was says nothing of what it is.
    pub fn restart(&mut self) {
        *self = Self { change: self.change, ..Self::default() };
    }

    /// The verdict so far.
    #[must_use]
    pub const fn fit(&self) -> LeakConsistency {
        self.fit
    }
}

/// Whether an expiration was over in a quiet end that is long enough.
fn is_over(breath: &Breath, quiet: &EndExpiration) -> bool {
    let least = Flow::from_milli(500).value;
    let part = breath.inspired.value.halved(5).each_second();
    quiet.tail <= least.max(part)
}

impl TypicalBreath {
    fn of(breath: &Breath, quiet: &EndExpiration) -> Option<Self> {
        let whole = breath.inspiration.with(&breath.expiration);
        let quietly = quiet.flow.over(whole.known().to_short_us().value);
        let escaped = whole.flow_area().saturating_sub(quietly).in_seconds().value;
        Some(Self {
            quiet: quiet.flow,
            quiet_root: quiet.pressure.root(),
            mean: whole.mean_flow()?,
            mean_root: mean_root(breath)?,
            escaped,
            inspired: breath.inspired.value,
        })
    }

    /// An eighth of the way.
    fn toward(self, to: &Self) -> Self {
        Self {
            quiet: self.quiet.learned(to.quiet),
            quiet_root: self.quiet_root.learned(to.quiet_root),
            mean: self.mean.learned(to.mean),
            mean_root: self.mean_root.learned(to.mean_root),
            escaped: self.escaped.learned(to.escaped),
            inspired: self.inspired.learned(to.inspired),
        }
    }

    /// The line through both places, where no pressure drives; `None` where their pressures are too alike.
    fn offset(&self) -> Option<Flow> {
        let swing = self.mean_root.saturating_sub(self.quiet_root).value;
        if swing < LEAST_SWING {
            return None;
        }
        let more = self.mean.saturating_sub(self.quiet).value.max(Flow::ZERO);
        let slope: RootConductance = more.per(swing)?.within()?;
        let leak = slope.by(self.quiet_root);
        Saturated::within(self.quiet.saturating_sub(leak.within()?))
    }
}

impl fmt::Display for LeakConsistency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unknown => f.write_str("not known whether the leak explains the flow"),
            Self::Good => f.write_str("the leak explains the flow"),
            Self::Drift(offset) if *offset > Flow::ZERO => {
                write!(f, "the flow sensor's zero stands {offset:.1} off: that fakes a leak")
            }
            Self::Drift(offset) => {
                write!(f, "the flow sensor's zero stands {offset:.1} off: that hides a leak")
            }
            Self::Steeper(offset) => write!(
                f,
                "the leak grows faster with pressure than one round a tube: it opens above the \
                 baseline, or the flow sensor's zero stands {offset:.1} off"
            ),
            Self::Gain(share) => write!(
                f,
                "more comes out than went in, by {:.0} %: the flow sensor reads the two unequally",
                share.to_percent().value
            ),
        }
    }
}

setting! { ZeroDriftDetector = new { limit: Flow } }

#[cfg(test)]
mod tests {
    use super::*;
    use crate::breath::PhaseIntegrals;
    use crate::quantity::{Duration, Pressure};

    /// 8 mL in over 0.4 s at one pressure and out over 0.6 s at another, with what flows past the lung at either in
    /// thousandths of a mL/s, and a quiet end of 0.3 s at the lower.
    fn breath((high, low): (i16, i16), (leak, quiet): (i32, i32)) -> Breath {
        let (inspiration, expiration) = (
            PhaseIntegrals::steady(20_000 + leak, high, 400),
            PhaseIntegrals::steady(quiet - 13_333, low, 600),
        );
        let [inspired, expired] = Breath::volumes(&inspiration, &expiration);
        let flow = Flow::from_milli(quiet).value;
        let (span, pressure) = (Duration::from_millis(300), Pressure::from_int(low));
        let quiet = EndExpiration { span, flow, last: flow, pressure, ..EndExpiration::default() };
        let quiet = Some(quiet);
        Breath { inspiration, expiration, inspired, expired, quiet, ..Breath::plain() }
    }

    /// What is made of so many breaths that are alike.
    fn told(n: usize, breath: &Breath) -> LeakConsistency {
        let mut state = ZeroDriftState::default();
        (0..n).for_each(|_| ZeroDriftDetector::default().learn(&mut state, breath));
        let is_drift = matches!(state.fit(), LeakConsistency::Drift(_));
        assert_eq!(state.judge().has(Flags::ZERO_DRIFT), is_drift);
        state.fit()
    }

    fn near(told: LeakConsistency, want: f64) {
        let (LeakConsistency::Drift(by) | LeakConsistency::Steeper(by)) = told else {
            panic!("{told}")
        };
        let by = by.to_f64();
        assert!((by - want).abs() < 0.1, "{by} mL/s off, not {want}");
    }

    #[test]
    fn a_leak_and_a_zero_are_told_apart_once_eight_breaths_were_seen() {
        // Roots of 15 and 5 cmH2O for 0.4 and 0.6 s: 2.891 in the mean, 2.236 at rest.
        let rise = (15, 5);
        // 0.447 x the root: 1.732 and 1 mL/s.
        let leak = breath(rise, (1_732, 1_000));
        assert_eq!(told(7, &leak), LeakConsistency::Unknown);
        assert_eq!(told(8, &leak), LeakConsistency::Good);
        // 3 more at both.
        near(told(8, &breath(rise, (4_732, 4_000))), 3.0);
        // 4 at 15 and none at 5: 1.6 in the mean; a slope of 1.6 / 0.655 = 2.443, and -5.46 without pressure.
        let steeper = told(8, &breath(rise, (4_000, 0)));
        assert!(matches!(steeper, LeakConsistency::Steeper(_)), "{steeper}");
        near(steeper, -5.46);
        // 2 out at rest and as much in the mean: no leak flows outward under pressure.
        near(told(8, &breath(rise, (-2_000, -2_000))), -2.0);
        // Under 1 cmH2O it may: the root is 1.0, and the line through both places is level.
        let low = told(8, &breath((15, 1), (-2_000, -2_000)));
        assert!(matches!(low, LeakConsistency::Gain(_) | LeakConsistency::Steeper(_)), "{low}");
        // Pressures alike tell nothing.
        assert_eq!(told(8, &breath((5, 5), (1_000, 1_000))), LeakConsistency::Unknown);
    }

    #[test]
    fn a_sensor_that_reads_outward_flow_too_large_is_told() {
        // 8 mL in and 1.07 x 8 out: 7 % more, 14.267 mL/s.
        let mut gain = breath((15, 5), (0, 0));
        gain.expiration = PhaseIntegrals::steady(-14_267, 5, 600);
        let LeakConsistency::Gain(share) = told(8, &gain) else { panic!("{}", told(8, &gain)) };
        let percent = share.to_f64() * 100.0;
        assert!((percent - 7.0).abs() < 0.05, "{percent} % more out than in, not 7");
        // 2 % are noise.
        gain.expiration = PhaseIntegrals::steady(-13_600, 5, 600);
        assert_eq!(told(8, &gain), LeakConsistency::Good);
    }

    #[test]
    fn a_quiet_end_too_short_or_still_moving_teaches_nothing() {
        let leak = breath((15, 5), (4_732, 4_000));
        let with = |change: fn(&mut EndExpiration)| {
            let mut breath = leak;
            change(breath.quiet.as_mut().unwrap());
            told(8, &breath)
        };
        assert_eq!(with(|quiet| quiet.span = Duration::from_millis(149)), LeakConsistency::Unknown);
        near(with(|quiet| quiet.span = Duration::from_millis(150)), 3.0);
        // Half a mL/s, or a 32nd of the inspired volume a second: 9.9 mL and 0.31.
        assert_eq!(
            with(|quiet| quiet.tail = Flow::from_milli(501).value),
            LeakConsistency::Unknown
        );
        near(with(|quiet| quiet.tail = Flow::from_milli(500).value), 3.0);
        let flagged = Breath { flags: Flags::GAP, ..leak };
        assert_eq!(told(8, &flagged), LeakConsistency::Unknown);
    }

    #[test]
    fn what_was_usual_before_a_leak_opened_is_forgotten() {
        let (mut state, detector) = (ZeroDriftState::default(), ZeroDriftDetector::default());
        let (closed, open) = (breath((15, 5), (1_732, 1_000)), breath((15, 5), (6_928, 4_000)));
        (0..12).for_each(|_| detector.learn(&mut state, &closed));
        assert_eq!(state.fit(), LeakConsistency::Good);
        // One breath until it is told from a drift by the second, and seven more of the eight.
        let fits: std::vec::Vec<_> = (0..11)
            .map(|_| {
                detector.learn(&mut state, &open);
                state.fit()
            })
            .collect();
        assert_eq!(fits[1], LeakConsistency::Unknown, "{fits:?}");
        assert_eq!(
            (fits[7], fits[8]),
            (LeakConsistency::Unknown, LeakConsistency::Good),
            "{fits:?}"
        );
    }
}
