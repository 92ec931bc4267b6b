//! All settings, validated as a whole.

mod kept;

use super::MachineSettings;
use super::sample_stage::SampleStage;
use crate::alarm::Alarms;
use crate::breath::Segmenter;
use crate::leak::{LeakPath, ZeroDriftDetector};
use crate::mechanics::Fit;
use crate::quantity::{
    ConstDefault, Flow, Mass, Pressure, Problem, Rate, SettingError, Volume, const_default,
};
use crate::signal::Gate;
use crate::trend::{LoadCriteria, Trend};
use crate::trigger::{CauseCheck, EffortWatch, Threshold, ThresholdGrid, TriggerKind};
use crate::volume::{Limiter, Proposal};

/// The settings of a [`Monitor`](super::Monitor). Every one can be read back, and goes on in
/// [`change`](Self::change). Made by [`Settings::builder`] only, so a value
/// of this type is consistent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Settings {
    pub(super) sample: SampleStage,
    pub(super) limiter: Option<Limiter>,
    pub(super) proposal: Option<Proposal>,
    pub(super) alarms: Alarms,
    pub(super) fit: Fit,
    pub(super) cause: CauseCheck,
    pub(super) effort: EffortWatch,
    pub(super) grid: ThresholdGrid,
    pub(super) trend: Trend,
    pub(super) load: LoadCriteria,
    machine: MachineSettings,
    weight: Option<Mass>,
}

const_default! {
    Settings: Self {
        sample: ConstDefault::DEFAULT,
        limiter: None,
        proposal: None,
        alarms: ConstDefault::DEFAULT,
        fit: ConstDefault::DEFAULT,
        cause: ConstDefault::DEFAULT,
        effort: ConstDefault::DEFAULT,
        grid: ConstDefault::DEFAULT,
        trend: ConstDefault::DEFAULT,
        load: ConstDefault::DEFAULT,
        machine: ConstDefault::DEFAULT,
        weight: None,
    }
}

/// No limit is meant to be above this, for each kilogram. Chosen here, no source.
const MOST: Volume = Volume::from_int(50);

impl Settings {
    /// Nothing given: as [`Default`], for a monitor in a `static`.
    pub const DEFAULT: Self = <Self as ConstDefault>::DEFAULT;

    /// Starts from the defaults of every part.
    ///
    /// ```
    /// use tidevane::monitor::Settings;
    /// use tidevane::quantity::{Flow, Mass};
    /// use tidevane::trigger::Threshold;
    ///
    /// let settings = Settings::builder()
    ///     .weight(Mass::from_grams(980)?)
    ///     .threshold(Threshold::new(Flow::from_milli_l_per_min(200).value)?)
    ///     .build()?;
    /// assert_eq!(settings.weight().map(Mass::grams), Some(980));
    /// # Ok::<(), tidevane::quantity::SettingError>(())
    /// ```
    pub const fn builder() -> SettingsBuilder {
        SettingsBuilder(Self::DEFAULT)
    }

    /// Starts from these settings, to change some.
    pub const fn change(self) -> SettingsBuilder {
        SettingsBuilder(self)
    }

    /// What is set on the machine, as far as it was given.
    #[must_use]
    pub const fn machine(&self) -> &MachineSettings {
        &self.machine
    }

    /// The patient's weight, where it was given.
    #[must_use]
    pub const fn weight(&self) -> Option<Mass> {
        self.weight
    }

    /// The target volume with its bounds, where one was given.
    #[must_use]
    pub const fn proposal(&self) -> Option<Proposal> {
        self.proposal
    }

    /// The gate that refuses and flags bad readings.
    #[must_use]
    pub const fn gate(&self) -> Gate {
        self.sample.gate
    }

    /// The segmenter.
    #[must_use]
    pub const fn segment(&self) -> Segmenter {
        self.sample.segment
    }

    /// The leak path, with what is known of the tube.
    #[must_use]
    pub const fn leak_path(&self) -> LeakPath {
        self.sample.leak_path
    }

    /// The flow sensor's zero offset.
    #[must_use]
    pub const fn flow_offset(&self) -> Flow {
        self.sample.flow_offset
    }

    /// How far the flow sensor's zero may stand off.
    #[must_use]
    pub const fn zero(&self) -> ZeroDriftDetector {
        self.sample.zero
    }

    /// The volume limit, where one was given.
    #[must_use]
    pub const fn limiter(&self) -> Option<Limiter> {
        self.limiter
    }

    /// The alarms.
    #[must_use]
    pub const fn alarms(&self) -> Alarms {
        self.alarms
    }

    /// The fit of compliance and resistance.
    #[must_use]
    pub const fn fit(&self) -> Fit {
        self.fit
    }

    /// The watch for efforts without an inflation.
    #[must_use]
    pub const fn effort(&self) -> EffortWatch {
        self.effort
    }

    /// The thresholds that can be set on the machine.
    #[must_use]
    pub const fn grid(&self) -> ThresholdGrid {
        self.grid
    }

    /// What counts as a sign of too much load.
    #[must_use]
    pub const fn load(&self) -> LoadCriteria {
        self.load
    }

    /// How a step's beginning is taken.
    #[must_use]
    pub const fn trend(&self) -> Trend {
        self.trend
    }
}

/// Collects settings; [`build`](Self::build) checks them together.
#[derive(Debug, Clone, Copy)]
#[must_use]
pub struct SettingsBuilder(Settings);

impl SettingsBuilder {
    /// The gate that refuses and flags bad readings.
    pub const fn gate(mut self, gate: Gate) -> Self {
        self.0.sample.gate = gate;
        self
    }

    /// The segmenter.
    pub const fn segment(mut self, segment: Segmenter) -> Self {
        self.0.sample.segment = segment;
        self
    }

    /// The leak path, with what is known of the tube.
    pub const fn leak_path(mut self, leak_path: LeakPath) -> Self {
        self.0.sample.leak_path = leak_path;
        self
    }

    /// The flow sensor's zero offset, as captured; taken off every reading.
    pub const fn flow_offset(mut self, offset: Flow) -> Self {
        self.0.sample.flow_offset = offset;
        self
    }

    /// The trigger threshold set on the machine; `None` where it is not known.
    pub fn threshold(mut self, threshold: impl Into<Option<Threshold>>) -> Self {
        self.0.machine.threshold = threshold.into();
        self
    }

    /// What the machine's trigger watches, where that is not flow.
    pub const fn trigger(mut self, kind: TriggerKind) -> Self {
        self.0.machine.trigger = kind;
        self
    }

    /// The watch for efforts without an inflation.
    pub const fn effort(mut self, effort: EffortWatch) -> Self {
        self.0.effort = effort;
        self
    }

    /// The thresholds that can be set on the machine.
    pub const fn grid(mut self, grid: ThresholdGrid) -> Self {
        self.0.grid = grid;
        self
    }

    /// How far the flow sensor's zero may stand off.
    pub const fn zero(mut self, zero: ZeroDriftDetector) -> Self {
        self.0.sample.zero = zero;
        self
    }

    /// A volume limit to hold every inspiration against, own breaths too; `None` for none.
    pub fn limiter(mut self, limiter: impl Into<Option<Limiter>>) -> Self {
        self.0.limiter = limiter.into();
        self
    }

    /// A target volume to propose peak pressures for; `None` for none.
    pub fn proposal(mut self, proposal: impl Into<Option<Proposal>>) -> Self {
        self.0.proposal = proposal.into();
        self
    }

    /// The fit of compliance and resistance.
    pub const fn fit(mut self, fit: Fit) -> Self {
        self.0.fit = fit;
        self
    }

    /// The alarms: by default apnoea, disconnection, sensor fault and no input; no limits.
    pub const fn alarms(mut self, alarms: Alarms) -> Self {
        self.0.alarms = alarms;
        self
    }

    /// The rate set on the machine; 0 where none is assured, `None` where it is not known.
    pub fn set_rate(mut self, rate: impl Into<Option<Rate>>) -> Self {
        self.0.machine.set_rate = rate.into();
        self
    }

    /// The patient's weight; `None` where it is not known: then what was made of it goes, too. With it an own breath that
    /// moved less than a quarter of the dead space ends no apnoea: a heart moves as much.
    pub fn weight(mut self, weight: impl Into<Option<Mass>>) -> Self {
        self.0.weight = weight.into();
        if self.0.weight.is_none() {
            self.0.sample.leak_path = self.0.sample.leak_path.without_weight();
            self.0.trend = self.0.trend.without_weight();
            self.0.load = self.0.load.without_weight();
        }
        self
    }

    /// The peak pressure set for assured inflations; `None` where it is not known.
    pub fn peak(mut self, peak: impl Into<Option<Pressure>>) -> Self {
        self.0.machine.peak = peak.into();
        self
    }

    /// How a step's beginning is taken.
    pub const fn trend(mut self, trend: Trend) -> Self {
        self.0.trend = trend;
        self
    }

    /// What counts as a sign of too much load.
    pub const fn load(mut self, load: LoadCriteria) -> Self {
        self.0.load = load;
        self
    }

    /// The peak pressure set for supported breaths: tells them from assured ones. Without it (`None`)
    /// every inflation counts as assured.
    pub fn support_peak(mut self, peak: impl Into<Option<Pressure>>) -> Self {
        self.0.machine.support_peak = peak.into();
        self
    }

    /// The settings, if they fit together.
    ///
    /// # Errors
    /// - `set_rate` below 0 or above 150/min;
    /// - `flow_offset` beyond ±50 mL/s, or half the gate's range: a sensor to replace, not correct;
    /// - `peak` or `support_peak` not above 0 or above 100 cmH2O, or the second above the first;
    /// - `threshold` above the gate's flow range: it could never be reached;
    /// - `trigger` that watches no flow, beside a `threshold` of flow;
    /// - `limit` above 50 mL/kg of the weight given: one of the two is a slip of the pen.
    pub fn build(self) -> Result<Settings, SettingError> {
        let mut settings = self.0;
        let machine = settings.machine;
        if machine.set_rate.is_some_and(|rate| rate > Rate::from_int(150)) {
            return Err(SettingError::new("set_rate", Problem::TooLarge));
        }
        settings.cause = CauseCheck::new(machine.threshold.map(Threshold::flow), machine.set_rate)?;
        for (name, peak) in [("peak", machine.peak), ("support_peak", machine.support_peak)] {
            let (least, most) = (Pressure::from_milli(1).value, Pressure::from_int(100));
            peak.map_or(Ok(()), |peak| SettingError::within(name, peak, least, most))?;
        }
        if let (Some(support), Some(peak)) = (machine.support_peak, machine.peak)
            && support > peak
        {
            return Err(SettingError::new("support_peak", Problem::Contradiction));
        }
        if machine.trigger != TriggerKind::Flow && machine.threshold.is_some() {
            return Err(SettingError::new("trigger", Problem::Contradiction));
        }
        let SampleStage { gate, flow_offset, leak_path, segment, zero, .. } = settings.sample;
        settings.sample = SampleStage::new(gate, flow_offset, leak_path, segment, zero)?;
        if let Some(weight) = settings.weight {
            settings.sample = settings.sample.with_weight(weight);
            settings.trend = settings.trend.with_weight(weight);
            settings.load = settings.load.with_weight(weight);
        }
        if machine.threshold.is_some_and(|threshold| threshold.flow() > gate.flow_limit()) {
            return Err(SettingError::new("threshold", Problem::Contradiction));
        }
        if let (Some(limiter), Some(weight)) = (settings.limiter, settings.weight)
            && limiter.limit() > MOST.for_each_kg(weight).value
        {
            return Err(SettingError::new("limit", Problem::Contradiction));
        }
        Ok(settings)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Duration;

    #[test]
    fn what_does_not_fit_together_is_refused() {
        let err = |b: SettingsBuilder| b.build().unwrap_err();
        let e = err(Settings::builder().set_rate(Rate::from_int(151)));
        assert_eq!((e.parameter, e.problem), ("set_rate", Problem::TooLarge));
        let e = err(Settings::builder().set_rate(Rate::from_int(-1)));
        assert_eq!((e.parameter, e.problem), ("set_rate", Problem::Negative));
        let e = err(Settings::builder().flow_offset(Flow::from_int(-51)));
        assert_eq!(e.parameter, "flow_offset");
        // 1 kg × 50 mL/kg = 50 mL: 51 is a slip, 50 is not.
        let limit = |ml| Limiter::new(Volume::from_int(ml), Duration::ZERO).unwrap();
        let infant = Settings::builder().weight(Mass::from_grams(1_000).unwrap());
        let e = err(infant.limiter(limit(51)));
        assert_eq!((e.parameter, e.problem), ("limit", Problem::Contradiction));
        assert!(infant.limiter(limit(50)).build().is_ok());
        let gate = Gate::new(
            Flow::from_int(100),
            Pressure::from_int(100),
            Duration::from_millis(100),
            Duration::from_millis(1_000),
            Duration::from_millis(500),
        )
        .unwrap();
        let threshold = Threshold::new(Flow::from_int(101)).unwrap();
        let e = err(Settings::builder().gate(gate).threshold(threshold));
        assert_eq!((e.parameter, e.problem), ("threshold", Problem::Contradiction));
        // Just the sensor's range is one that it can read.
        let threshold = Threshold::new(Flow::from_int(100)).unwrap();
        assert!(Settings::builder().gate(gate).threshold(threshold).build().is_ok());
        let threshold = Threshold::new(Flow::from_int(4)).unwrap();
        let e = err(Settings::builder().threshold(threshold).trigger(TriggerKind::Pressure));
        assert_eq!((e.parameter, e.problem), ("trigger", Problem::Contradiction));
    }

    #[test]
    fn what_was_set_can_be_unset() {
        let threshold = Threshold::new(Flow::from_int(4)).unwrap();
        let full = Settings::builder()
            .weight(Mass::from_grams(980).unwrap())
            .threshold(threshold)
            .set_rate(Rate::from_int(40))
            .peak(Pressure::from_int(16))
            .support_peak(Pressure::from_int(12))
            .limiter(Limiter::new(Volume::from_int(6), Duration::ZERO).unwrap())
            .build()
            .unwrap();
        assert_eq!(full.limiter().map(|limiter| limiter.limit()), Some(Volume::from_int(6)));
        assert_eq!(full.machine().threshold, Some(threshold));
        let some =
            full.change().weight(None).limiter(None).threshold(None).peak(None).support_peak(None);
        let none = some.set_rate(None).proposal(None).build();
        assert_eq!(none, Ok(Settings::default()));
        // The tube that a weight made likely goes with it, the one that was given stays.
        let light = Settings::builder().weight(Mass::from_grams(980).unwrap()).build().unwrap();
        assert_ne!(light.leak_path(), LeakPath::default());
        assert_eq!(light.change().weight(None).build(), Ok(Settings::default()));
    }
}
