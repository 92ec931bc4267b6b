//! The record of one breath.

use super::{EndExpiration, PhaseIntegrals};
use crate::quantity::{Duration, Flow, Instant, Pressure, Rate, Saturated, Volume};
use crate::record;
use crate::signal::Flags;

record! {
    #[const_default(Own)]
    /// Whether the machine raised the pressure.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum Kind {
        /// The machine raised the pressure above baseline during inspiration.
        Inflation = 0,
        /// It did not: the infant breathed alone.
        Own = 1,
    }
}

record! {
    #[const_default]
    /// The time between a breath's onset and the first sign of a machine-made rise in pressure.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub struct TriggerPhase {
        /// The last reading with the pressure less than 0.3 cmH2O above that at the onset; the onset
        /// itself where no reading came before the rise.
        pub until: Instant,
        /// Largest flow at the sensor from the reading before the onset up to then; zero where it never
        /// was inward.
        pub peak: Flow,
    }
}

impl TriggerPhase {
    /// The machine's own flow can run ahead of its pressure for so long. Chosen here, no source.
    pub(crate) const LEAST_LEAD: Duration = Duration::from_millis(15);

    pub(super) fn with(self, later: Self) -> Self {
        Self { until: self.until.max(later.until), peak: self.peak.max(later.peak) }
    }
}

record! {
    #[const_default]
    /// One closed breath, from onset to the next onset.
    ///
    /// Volumes are net flow at the sensor, leak included; nothing here is corrected for leak. What went in
    /// less what came out is the breath's whole balance, unless a pause of more than two seconds ended it:
    /// what leaks in during that makes no expired volume smaller.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub struct Breath {
        /// Where the flow into the lung turned inward, dated back to the crossing.
        pub onset: Instant,
        /// Where it turned outward.
        pub end_insp: Instant,
        /// The next breath's onset.
        pub end: Instant,
        /// Inflation or own breath.
        pub kind: Kind,
        /// Sums over inspiration.
        pub inspiration: PhaseIntegrals,
        /// Sums over expiration.
        pub expiration: PhaseIntegrals,
        /// Inspired volume at the sensor: all that went in since the onset, also what still does after the
        /// lung has turned.
        pub inspired: Saturated<Volume>,
        /// Expired volume at the sensor, as a positive number: what came out from then to the end of the
        /// breath, less what leaked in; before a pause of more than two seconds the most that had. Never
        /// below zero.
        pub expired: Saturated<Volume>,
        /// When the most had come out: from then on it was quiet, or gas leaked in.
        pub out_until: Instant,
        /// How much that was. It is the expired volume and what leaked in since.
        pub most_out: Saturated<Volume>,
        /// Largest pressure of the breath.
        pub peak: Pressure,
        /// Pressure at the quiet end of the expiration before (PEEP), or the lowest of that expiration
        /// where it had no quiet end.
        pub baseline: Pressure,
        /// Largest inward flow at the sensor.
        pub peak_insp_flow: Flow,
        /// Largest outward flow at the sensor, as a positive number.
        pub peak_exp_flow: Flow,
        /// When the pressure first stood above that at the onset by the inflation rise of the settings;
        /// `None` in own breaths.
        pub pressure_rise: Option<Instant>,
        /// What came before the rise: of an inflation, the infant's own effort if there was one; of an
        /// own breath, all of it.
        pub lead: TriggerPhase,
        /// Pressure where the flow turned outward.
        pub end_insp_pressure: Pressure,
        /// Largest flow out of the lung before the pressure fell from there.
        pub early_out: Flow,
        /// The quiet end of the expiration before this breath, where there was one.
        pub quiet: Option<EndExpiration>,
        /// What was wrong. A breath with any flag feeds no window, fit or advice.
        pub flags: Flags,
    }
}

impl Breath {
    /// Net volume of two phases, the second as a positive number: half away from zero. Two wide
    /// divides.
    pub const fn volumes(
        inspiration: &PhaseIntegrals,
        expiration: &PhaseIntegrals,
    ) -> [Saturated<Volume>; 2] {
        [inspiration.volume(), Self::outward(expiration)]
    }

    /// What of the inspired volume came back by the end, a pause included: what went in less this is the
    /// balance of the breath. Below zero where more leaked in than came out. One wide divide.
    pub const fn returned(&self) -> Saturated<Volume> {
        let kept = self.inspiration.with(&self.expiration).volume();
        let back = self.inspired.value.saturating_sub(kept.value);
        let saturated = kept.saturated || self.inspired.saturated || back.saturated;
        Saturated { value: back.value, saturated }
    }

    const fn outward(expiration: &PhaseIntegrals) -> Saturated<Volume> {
        let out = expiration.volume();
        let positive = Volume::ZERO.saturating_sub(out.value);
        Saturated { value: positive.value, saturated: out.saturated || positive.saturated }
    }

    /// Mean airway pressure over the whole breath; `None` where no time was measured.
    #[must_use]
    pub const fn mean_pressure(&self) -> Option<Pressure> {
        self.inspiration.with(&self.expiration).mean_pressure()
    }

    /// Whether gas left the lung, by more than `noise` and a sixteenth of the peak inward flow,
    /// while the pressure still stood in the upper quarter of its rise: the infant ended the
    /// inspiration, since no passive lung does that.
    #[must_use]
    pub fn is_ended_by_infant(&self, noise: Flow) -> bool {
        let rise = self.peak.saturating_sub(self.baseline).value;
        let short = self.peak.saturating_sub(self.end_insp_pressure).value;
        let least = noise.max(self.peak_insp_flow.halved(4));
        self.kind == Kind::Inflation && short <= rise.halved(2) && self.early_out > least
    }

    /// Inspiratory time.
    #[must_use]
    pub const fn insp_time(&self) -> Duration {
        self.end_insp.since(self.onset)
    }

    /// Expiratory time.
    #[must_use]
    pub const fn exp_time(&self) -> Duration {
        self.end.since(self.end_insp)
    }

    /// The rate that breaths of this length would have.
    #[must_use]
    pub const fn rate(&self) -> Option<Saturated<Rate>> {
        Rate::of_period(self.end.since(self.onset))
    }

    /// Whether nothing was wrong with the measurement, whatever its leak: it may teach the leak's own
    /// learners.
    #[must_use]
    pub(crate) const fn is_measured(&self) -> bool {
        Flags::is_empty(self.flags.and(Flags::MEASUREMENT))
    }

    /// Whether breath was drawn for certain, whatever its numbers are worth: it is not noise, not cut,
    /// not of a sensor that stands still, and none of its numbers is one that no breath has.
    #[must_use]
    pub(crate) const fn is_drawn(&self) -> bool {
        Flags::is_empty(self.flags.and(Flags::NO_BREATH))
    }

    /// Whether nothing was wrong.
    #[must_use]
    pub const fn is_trusted(&self) -> bool {
        self.flags.is_empty()
    }
}

#[cfg(test)]
impl Breath {
    /// A second of nothing, trusted: for tests to change.
    pub(crate) fn plain() -> Self {
        let [inspired, expired] = Self::volumes(&PhaseIntegrals::ZERO, &PhaseIntegrals::ZERO);
        Self {
            onset: Instant::from_us(0),
            end_insp: Instant::from_us(400_000),
            end: Instant::from_us(1_000_000),
            kind: Kind::Own,
            inspiration: PhaseIntegrals::ZERO,
            expiration: PhaseIntegrals::ZERO,
            inspired,
            expired,
            out_until: Instant::from_us(1_000_000),
            most_out: Saturated::exact(Volume::ZERO),
            peak: Pressure::ZERO,
            baseline: Pressure::ZERO,
            peak_insp_flow: Flow::ZERO,
            peak_exp_flow: Flow::ZERO,
            pressure_rise: None,
            lead: TriggerPhase::default(),
            end_insp_pressure: Pressure::ZERO,
            early_out: Flow::ZERO,
            quiet: None,
            flags: Flags::NONE,
        }
    }
}
