//! What one push returns.

use super::Event;
use crate::alarm::{BreathKind, BreathView};
use crate::breath::{Breath, Implausible};
use crate::leak::{Leak, LungVolume, NoLeak, NoLungVolume};
use crate::mechanics::{Emptying, FitOutcome, NoFit, NonlinearElastance};
use crate::quantity::{ConstDefault, Duration, Instant, Rate, Share, Volume};
use crate::record;
use crate::trend::TrendBreath;
use crate::trigger::{Initiation, TriggerCheck};
use crate::volume::Proposed;
use heapless::Vec;

/// One more than a single call can cause. Most where a breath ends before all was told that the one before
/// brings: three flags (over a gap none ends), two missed efforts, one that cannot be, a drifted zero, a double trigger, two jumps
/// of the lung, four alarms, four of the time, a verdict on the load, tiring, and a limit reached.
const EVENTS: usize = 22;

record! {
    /// What the latest sample brought: at most one closed breath, and a few events.
    ///
    /// A breath is told some samples [after its end](BreathReport::found). What it brings besides, such as a
    /// missed effort or a zero that has drifted, is told as soon as it is known: up to six samples before it. The
    /// monitor's counts and its trend hold a breath that much before it is told, too.
    #[derive(Debug, Clone, PartialEq, Default)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    #[non_exhaustive]
    #[must_use = "a report that is dropped may have held an alarm"]
    pub struct Report {
        /// A breath that was closed.
        pub breath: Option<BreathReport>,
        /// What happened, in the order it was found. Never full: it has room for one more than a single call can cause.
        pub events: Vec<Event, EVENTS>,
    }
}

record! {
    /// One closed breath with what the checks make of it.
    #[derive(Debug, Clone, Copy, PartialEq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    #[non_exhaustive]
    pub struct BreathReport {
        /// The breath.
        pub breath: Breath,
        /// When it began on the monitor's own time, which a clock set back does not move: that of the
        /// alarms.
        pub time: Instant,
        /// The reading at which its end was found, on the recording's own time; of a breath that was cut, the
        /// last before that. It is told with the eighth sample after, lost and refused ones counted: 80 ms at
        /// 100 samples a second. It is told at once where another breath ends, nothing usable came for 0.1 s and
        /// a [tick](super::Monitor::tick) tells so, settings change, or a long gap or a clock set back cuts the
        /// breath after it.
        pub found: Instant,
        /// Why its numbers, or those of the breaths up to it, cannot be; it is flagged then.
        pub implausible: Option<Implausible>,
        /// Whose breath it was: own, supported or assured. How it was set, not who began it: for that see
        /// `initiation`.
        pub kind: BreathKind,
        /// Breaths a minute over the last trusted breaths, once eight were seen.
        pub rate: Option<Rate>,
        /// Expired volume a minute over the same breaths.
        pub minute_volume: Option<Volume>,
        /// Leak share of this breath alone. Gas that is still in the lung at its end counts as leak; over
        /// `leak_window` that averages out.
        pub leak: Leak,
        /// The leak share over the last trusted breaths, this one included if trusted.
        pub leak_window: Leak,
        /// The volume that reached the lung.
        pub lung: LungVolume,
        /// Compliance and resistance of a passive breath, or why they cannot be known.
        pub mechanics: FitOutcome,
        /// By how much flow lags behind pressure, from the last sixteen inflations; 1 to 25 ms are corrected in
        /// `mechanics`. `None` where it is not known. Of sensors that follow slowly 10 to 25 % too low; of those with a
        /// pure delay at most 10 ms are seen, and the resistance reads high by the rest (`tests/lag.rs`).
        pub lag: Option<Duration>,
        /// How the lung of a passive breath stiffens as it fills; asked for by a fit
        /// [with bend](crate::mechanics::Fit::with_bend).
        pub bend: NonlinearElastance,
        /// Whether the expiration was long enough to empty a lung of the latest known time constant;
        /// `None` before one is known and for flagged breaths.
        pub emptying: Option<Emptying>,
        /// What started it; `None` for an own breath.
        pub initiation: Option<Initiation>,
        /// The peak pressure that the target volume needs; `None` for an own breath or without a target.
        pub proposal: Option<Proposed>,
        /// The trigger threshold against the floor; `None` where no threshold is set.
        pub trigger: Option<TriggerCheck>,
    }
}

impl BreathReport {
    /// Nothing is known.
    pub(super) const fn blank() -> Self {
        Self {
            breath: Breath::DEFAULT,
            time: Instant::DEFAULT,
            found: Instant::DEFAULT,
            implausible: None,
            kind: BreathKind::Own,
            rate: None,
            minute_volume: None,
            leak: Leak::Unknown(NoLeak::NoBreath),
            leak_window: Leak::Unknown(NoLeak::NoBreath),
            lung: LungVolume::Unknown(NoLungVolume::NoLeakPath),
            mechanics: FitOutcome::Unknown(NoFit::NotAsked),
            lag: None,
            bend: NonlinearElastance::Unknown(NoFit::NotAsked),
            emptying: None,
            initiation: None,
            proposal: None,
            trigger: None,
        }
    }

    /// What a [trend](crate::trend::Trend) needs of the breath; the trend itself tells whether it is
    /// shallow. Its volume is that in the lung, or,
    /// where the window's leak is below 10 %, the expired one; else it is not known.
    #[must_use]
    pub fn for_trend(&self) -> TrendBreath {
        let breath = &self.breath;
        let cause = self.initiation.map(|initiation| initiation.cause);
        let tight = self.leak_window.share().is_some_and(|leak| leak < Share::from_percent(10));
        let volume = match self.lung {
            LungVolume::Known { volume, .. } => Some(volume),
            LungVolume::Unknown(_) => breath.expired.within().filter(|_| tight),
        };
        TrendBreath::of(breath, self.kind, cause, volume, self.implausible.is_some())
    }

    /// What an alarm, or a [`VolumeHistory`](crate::alarm::VolumeHistory) kept beside the monitor,
    /// needs of the breath.
    #[must_use]
    pub fn view(&self) -> BreathView {
        let leak = self.leak_window.share();
        BreathView::of(&self.breath, self.kind, leak, self.rate, self.minute_volume)
    }
}

impl Report {
    /// Whether it has nothing to say: no breath was closed and nothing happened.
    #[must_use]
    pub fn is_silent(&self) -> bool {
        self.breath.is_none() && self.events.is_empty()
    }

    /// Nothing happened.
    pub(super) fn clear(&mut self) {
        self.breath = None;
        self.events.clear();
    }

    pub(super) fn add(&mut self, event: Event) {
        // No sample reaches the bound; an event beyond it would be dropped, never a panic.
        let _ = self.events.push(event);
    }
}
