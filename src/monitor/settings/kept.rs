//! Settings as they are kept and brought back: through the builder, as a whole.

use super::{Settings, SettingsBuilder};
use crate::alarm::Alarms;
use crate::breath::Segmenter;
use crate::leak::{LeakPath, ZeroDriftDetector};
use crate::mechanics::Fit;
use crate::monitor::MachineSettings;
use crate::monitor::sample_stage::SampleStage;
use crate::quantity::{Flow, Mass, Problem, SettingError, setting};
use crate::record;
use crate::signal::Gate;
use crate::trend::{LoadCriteria, Trend};
use crate::trigger::{CauseCheck, EffortWatch, ThresholdGrid};
use crate::volume::{Limiter, Proposal};

record! {
    /// How settings are laid out where they are kept, told first, so that a later layout can read this one. A
    /// change that bytes of before do not fit adds a code and reads both.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    enum Layout {
        First = 1,
    }
}

impl Settings {
    /// What the weight of the whole brings to a part is not kept twice.
    fn own_leak_path(&self) -> LeakPath {
        if self.weight.is_some() {
            self.sample.leak_path.without_weight()
        } else {
            self.sample.leak_path
        }
    }

    fn own_trend(&self) -> Trend {
        if self.weight.is_some() { self.trend.without_weight() } else { self.trend }
    }

    fn own_load(&self) -> LoadCriteria {
        if self.weight.is_some() { self.load.without_weight() } else { self.load }
    }

    const fn layout(&self) -> Layout {
        Layout::First
    }

    const fn machine_settings(&self) -> MachineSettings {
        self.machine
    }

    #[expect(clippy::too_many_arguments, reason = "one for each part")]
    fn of_parts(
        Layout::First: Layout,
        gate: Gate,
        flow_offset: Flow,
        leak_path: LeakPath,
        segment: Segmenter,
        zero: ZeroDriftDetector,
        limiter: Option<Limiter>,
        proposal: Option<Proposal>,
        alarms: Alarms,
        fit: Fit,
        effort: EffortWatch,
        grid: ThresholdGrid,
        trend: Trend,
        load: LoadCriteria,
        machine: MachineSettings,
        weight: Option<Mass>,
    ) -> Result<Self, SettingError> {
        let sample =
            SampleStage { gate, flow_offset, leak_path, segment, zero, ..SampleStage::default() };
        let cause = CauseCheck::default();
        // Two weights, or one that is lost without a word.
        if weight.is_some()
            && (leak_path, trend, load)
                != (leak_path.without_weight(), trend.without_weight(), load.without_weight())
        {
            return Err(SettingError::new("weight", Problem::Contradiction));
        }
        SettingsBuilder(Self {
            sample,
            limiter,
            proposal,
            alarms,
            fit,
            cause,
            effort,
            grid,
            trend,
            load,
            machine,
            weight,
        })
        .build()
    }
}

setting! {
    Settings = of_parts {
        layout: Layout,
        gate: Gate,
        flow_offset: Flow,
        leak_path(own_leak_path): LeakPath,
        segment: Segmenter,
        zero: ZeroDriftDetector,
        limiter: Option<Limiter>,
        proposal: Option<Proposal>,
        alarms: Alarms,
        fit: Fit,
        effort: EffortWatch,
        grid: ThresholdGrid,
        trend(own_trend): Trend,
        load(own_load): LoadCriteria,
        machine(machine_settings): MachineSettings,
        weight: Option<Mass>,
    }
}
