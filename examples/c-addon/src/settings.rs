//! What the monitor is set to.

use crate::checks::{bits, ms, named, on, scaled, set, short, too_large};
use crate::codes::{
    TV_PRIORITY_HIGH, TV_PRIORITY_LOW, TV_PRIORITY_MEDIUM, TV_TUBE_LIKELY, TV_TUBE_MEASURED,
    TV_TUBE_UNKNOWN,
};
use crate::limits::{LIMITS, TvLimits};
use crate::memory::code;
use tidevane::alarm::{
    Alarms, Apnoea, Condition, Disconnection, Priorities, Priority, SensorAlarm, ShortApnoea,
};
use tidevane::breath::Segmenter;
use tidevane::fixed::types::I16F16;
use tidevane::leak::{LeakPath, Tube, ZeroDriftDetector};
use tidevane::mechanics::{Fit, TubeResistance};
use tidevane::monitor::Settings;
use tidevane::quantity::{
    Duration, Flow, Mass, Pressure, Rate, Resistance, SettingError, Share, Volume,
};
use tidevane::signal::Gate;
use tidevane::trend::{LoadCriteria, Trend};
use tidevane::trigger::{EffortWatch, Threshold, ThresholdGrid, TriggerKind};
use tidevane::volume::{Limiter, Proposal};

/// What the monitor is set to. `tv_defaults` fills it; change what is known. `_q16` are times 65 536 (`TV_Q16`). Settings
/// that are on or off are 1 or 0.
#[repr(C)]
#[derive(Debug, Clone, Copy)]
pub struct TvSettings {
    /// Weight, 200 to 200,000 g; 0 where it is not known (default 0).
    pub weight_g: u32,
    /// What the machine's trigger watches: `TV_TRIGGER_...` (default 0, flow).
    pub trigger: u32,
    /// The threshold of a flow trigger, 0.1 to 1,000 mL/s, or `TV_UNSET` (default none). 1 L/min is 16.6667 mL/s.
    pub threshold_q16: i32,
    /// Rate set on the machine, 0.1 to 150 a minute, 0 where none is assured; `TV_UNSET` where not known (default none).
    pub set_rate_q16: i32,
    /// Peak pressure of assured inflations, 0.1 to 100 cmH2O; `TV_UNSET` where not known (default none).
    pub peak_q16: i32,
    /// Peak pressure of supported breaths, 0.1 to 100 cmH2O; `TV_UNSET` where nothing is supported (default none).
    pub support_peak_q16: i32,
    /// The flow sensor's captured zero, within 50 mL/s, taken off every reading (default 0).
    pub flow_offset_q16: i32,
    /// A flow beyond this, either way, is refused: above 0 mL/s (default 5,000).
    pub flow_limit_q16: i32,
    /// A pressure beyond this, either way, is refused: above 0 cmH2O (default 200).
    pub pressure_limit_q16: i32,
    /// A longer wait, or a sample that `tv_lost` tells of, is a gap: the breath in it is flagged (5 to 1,000; default
    /// 100).
    pub gap_ms: u32,
    /// Beyond it counting starts afresh (up to 30,000, not below the gap; default 1,000).
    pub cut_ms: u32,
    /// How long readings may stand still (50 to 10,000; default 500).
    pub frozen_ms: u32,
    /// Flow that makes a turn, mL/s (0.1 to 1,000; default 1).
    pub min_flow_q16: i32,
    /// Volume that makes a turn, mL (0.05 to 1,000; default 0.25).
    pub min_volume_q16: i32,
    /// Rise of pressure that makes an inflation, cmH2O (0.5 to 20; default 2).
    pub inflation_rise_q16: i32,
    /// How far the flow sensor's zero may stand off, mL/s (0.1 to 100; default 1).
    pub zero_limit_q16: i32,
    /// The least muscle pressure that is an effort, cmH2O (0.5 to 20; default 1).
    pub least_effort_q16: i32,
    /// What is known of the tube: `TV_TUBE_...` (default 0, nothing).
    pub tube: u32,
    /// Its first coefficient, cmH2O/(L/s) (default 0).
    pub tube_k1_q16: i32,
    /// Its second, cmH2O/(L/s)^2 (default 0).
    pub tube_k2_q16: i32,
    /// Say when an inspiration has moved this volume: 0.1 mL to 50 mL/kg; `TV_UNSET` for no limit (default none).
    pub limit_q16: i32,
    /// The delay of a stop, 0 to 500 (default 0).
    pub limit_delay_ms: u32,
    /// A target volume, 0.5 to 2,000 mL, or `TV_UNSET` (default none).
    pub target_q16: i32,
    /// It is held against these: the step of pressure, cmH2O (0.1 to 10; default 2),
    pub target_step_q16: i32,
    /// the ceiling, cmH2O (1 to 80; default 22),
    pub target_ceiling_q16: i32,
    /// the least rise, cmH2O (0.5 to 20; default 2),
    pub target_least_rise_q16: i32,
    /// and the share of leak beyond which nothing is proposed (0 to 1; default 0.5).
    pub target_most_leak_q16: i32,
    /// The fit of compliance and resistance: samples (4 to 60,000; default 20),
    pub fit_least_samples: u32,
    /// and r squared (0.5 to 1; default 0.99).
    pub fit_least_goodness_q16: i32,
    /// 1 for the bent fit, too (default 0).
    pub fit_bend: u32,
    /// The thresholds that can be set on the machine, mL/s: the lowest (default 1.6667, which is 0.1 L/min),
    pub grid_lowest_q16: i32,
    /// their step (default 1.6667),
    pub grid_step_q16: i32,
    /// and how many there are (1 to 16; default 16).
    pub grid_count: u32,
    /// Minutes after a step that are not counted (0 to 10; default 1).
    pub settle_minutes: u32,
    /// Minutes that its beginning is taken over (1 to 10; default 3).
    pub baseline_minutes: u32,
    /// The change that is a sign of load, a share (0.05 to 0.5; default 0.15).
    pub load_change_q16: i32,
    /// In how many minutes on end (1 to 10; default 2).
    pub load_sustain_minutes: u32,
    /// The pause that rings (10,000 to 20,000; default 20,000).
    pub apnoea_ms: u32,
    /// 1 where that rings until it is acknowledged (default 0).
    pub apnoea_latching: u32,
    /// A pause with a slow heart or a low saturation rings sooner (3,000 to 20,000), 0 for none (default 0).
    pub short_apnoea_ms: u32,
    /// A heart rate below it is slow, a minute (40 to 150; default 0).
    pub heart_below: u32,
    /// A saturation below it is low, percent (50 to 95; default 0).
    pub saturation_below: u32,
    /// The share of what went in that must be missing to ring as a disconnection (0.5 to 1; default 0.95).
    pub disconnection_level_q16: i32,
    /// How far below that it ends (0 to 0.5; default 0.05).
    pub disconnection_hysteresis_q16: i32,
    /// In how many breaths (1 to 16; default 3).
    pub disconnection_breaths: u32,
    /// 1 where that rings until it is acknowledged (default 0).
    pub disconnection_latching: u32,
    /// How long a sensor may say nothing usable until it rings (500 to 10,000; default 2,000).
    pub sensor_fault_ms: u32,
    /// How long until nothing is watched (not below that, to 10,000; default 10,000).
    pub no_input_ms: u32,
    /// By `TV_VOLUME_OWN` to `TV_LEAK`; none is set by default.
    pub limits: [TvLimits; 7],
    /// `TV_PRIORITY_...` of each `TV_ALARM_...`. By default high for apnoea, disconnection, no input, a low minute volume
    /// and a high pressure; low for a high rate, a high leak and what cannot be known; medium for the rest.
    pub priorities: [u8; 25],
}

impl TvSettings {
    pub(crate) fn checked(&self) -> Result<Settings, SettingError> {
        named(
            self.unnamed(),
            &[
                ("flow_limit", "flow_limit_q16"),
                ("pressure_limit", "pressure_limit_q16"),
                ("gap", "gap_ms"),
                ("cut", "cut_ms"),
                ("frozen", "frozen_ms"),
                ("min_flow", "min_flow_q16"),
                ("min_volume", "min_volume_q16"),
                ("inflation_rise", "inflation_rise_q16"),
                ("flow_offset", "flow_offset_q16"),
                ("zero_limit", "zero_limit_q16"),
                ("least", "least_effort_q16"),
                ("k1", "tube_k1_q16"),
                ("k2", "tube_k2_q16"),
                ("least_samples", "fit_least_samples"),
                ("least_goodness", "fit_least_goodness_q16"),
                ("lowest", "grid_lowest_q16"),
                ("count", "grid_count"),
                ("change", "load_change_q16"),
                ("sustain", "load_sustain_minutes"),
                ("after", "apnoea_ms"),
                ("level", "disconnection_level_q16"),
                ("breaths", "disconnection_breaths"),
                ("fault", "sensor_fault_ms"),
                ("no_input", "no_input_ms"),
                ("set_rate", "set_rate_q16"),
                ("peak", "peak_q16"),
                ("support_peak", "support_peak_q16"),
                ("threshold", "threshold_q16"),
                ("limit", "limit_q16"),
                ("delay", "limit_delay_ms"),
                ("target", "target_q16"),
                ("ceiling", "target_ceiling_q16"),
                ("least_rise", "target_least_rise_q16"),
                ("most_leak", "target_most_leak_q16"),
            ],
        )
    }

    fn unnamed(&self) -> Result<Settings, SettingError> {
        let mut settings = Settings::builder()
            .gate(Gate::new(
                Flow::from_bits(self.flow_limit_q16),
                Pressure::from_bits(self.pressure_limit_q16),
                Duration::from_millis(self.gap_ms),
                Duration::from_millis(self.cut_ms),
                Duration::from_millis(self.frozen_ms),
            )?)
            .segment(Segmenter::new(
                Flow::from_bits(self.min_flow_q16),
                Volume::from_bits(self.min_volume_q16),
                Pressure::from_bits(self.inflation_rise_q16),
            )?)
            .flow_offset(Flow::from_bits(self.flow_offset_q16))
            .zero(ZeroDriftDetector::new(Flow::from_bits(self.zero_limit_q16))?)
            .effort(EffortWatch::new(Pressure::from_bits(self.least_effort_q16))?)
            .leak_path(LeakPath::default().with_tube(self.tube()?))
            .fit(self.fit()?)
            .grid(named(self.grid(), &[("step", "grid_step_q16")])?)
            .trend(Trend::new(short(self.settle_minutes), short(self.baseline_minutes))?)
            .load(self.load()?)
            .trigger(self.trigger()?)
            .alarms(self.alarms()?);
        if self.weight_g != 0 {
            settings = settings.weight(Mass::from_grams(self.weight_g)?);
        }
        for (parameter, value) in [
            ("threshold", self.threshold_q16),
            ("set_rate", self.set_rate_q16),
            ("peak", self.peak_q16),
            ("support_peak", self.support_peak_q16),
            ("limit", self.limit_q16),
        ] {
            scaled(parameter, value)?;
        }
        if let Some(threshold) = set(self.threshold_q16) {
            settings = settings.threshold(Threshold::new(Flow::from_bits(threshold))?);
        }
        if let Some(rate) = set(self.set_rate_q16) {
            settings = settings.set_rate(Rate::from_bits(rate));
        }
        if let Some(peak) = set(self.peak_q16) {
            settings = settings.peak(Pressure::from_bits(peak));
        }
        if let Some(peak) = set(self.support_peak_q16) {
            settings = settings.support_peak(Pressure::from_bits(peak));
        }
        if let Some(limit) = set(self.limit_q16) {
            let delay = Duration::from_millis(self.limit_delay_ms);
            settings = settings.limiter(Limiter::new(Volume::from_bits(limit), delay)?);
        }
        if let Some(target) = set(self.target_q16) {
            let proposal = Proposal::new(
                Volume::from_bits(target),
                Pressure::from_bits(self.target_step_q16),
                Pressure::from_bits(self.target_ceiling_q16),
                Pressure::from_bits(self.target_least_rise_q16),
                Share::from_bits(self.target_most_leak_q16),
            );
            settings = settings.proposal(named(proposal, &[("pressure_step", "target_step_q16")])?);
        }
        settings.build()
    }

    fn grid(&self) -> Result<ThresholdGrid, SettingError> {
        ThresholdGrid::new(
            Flow::from_bits(self.grid_lowest_q16),
            Flow::from_bits(self.grid_step_q16),
            usize::try_from(self.grid_count).unwrap_or(usize::MAX),
        )
    }

    fn trigger(&self) -> Result<TriggerKind, SettingError> {
        TriggerKind::ALL
            .into_iter()
            .nth(usize::try_from(self.trigger).unwrap_or(usize::MAX))
            .ok_or(too_large("trigger"))
    }

    fn coefficients(&self) -> Result<TubeResistance, SettingError> {
        TubeResistance::new(
            Resistance::from_bits(self.tube_k1_q16),
            I16F16::from_bits(self.tube_k2_q16),
        )
    }

    fn tube(&self) -> Result<Tube, SettingError> {
        match self.tube {
            TV_TUBE_UNKNOWN => Ok(Tube::Unknown),
            TV_TUBE_MEASURED => self.coefficients().map(Tube::Measured),
            TV_TUBE_LIKELY => self.coefficients().map(Tube::Likely),
            _ => Err(too_large("tube")),
        }
    }

    fn fit(&self) -> Result<Fit, SettingError> {
        let fit = Fit::new(self.fit_least_samples, Share::from_bits(self.fit_least_goodness_q16))?;
        Ok(if on("fit_bend", self.fit_bend)? { fit.with_bend() } else { fit })
    }

    fn load(&self) -> Result<LoadCriteria, SettingError> {
        let change = Share::from_bits(self.load_change_q16);
        let load = LoadCriteria::new(change, short(self.load_sustain_minutes))?;
        Ok(match self.tube()? {
            Tube::Measured(tube) => load.with_tube(tube),
            _ => load,
        })
    }

    fn alarms(&self) -> Result<Alarms, SettingError> {
        let latching = on("apnoea_latching", self.apnoea_latching)?;
        let mut apnoea = Apnoea::new(Duration::from_millis(self.apnoea_ms), latching)?;
        if self.short_apnoea_ms != 0 {
            let heart = u16::try_from(self.heart_below).unwrap_or(u16::MAX);
            let after = Duration::from_millis(self.short_apnoea_ms);
            let signs = ShortApnoea::new(after, heart, short(self.saturation_below));
            apnoea = apnoea.with_short(named(signs, &[("after", "short_apnoea_ms")])?);
        }
        let [own, supported, assured, minute_volume, rate, pressure, leak] = &self.limits;
        let [a, b, c, d, e, f, g] = &LIMITS;
        let mut priorities = Priorities::default();
        for (condition, priority) in Condition::all().zip(self.priorities) {
            let priority = match priority {
                TV_PRIORITY_LOW => Priority::Low,
                TV_PRIORITY_MEDIUM => Priority::Medium,
                TV_PRIORITY_HIGH => Priority::High,
                _ => return Err(too_large("priorities")),
            };
            priorities = priorities.with(condition, priority);
        }
        let disconnection = Disconnection::new(
            Share::from_bits(self.disconnection_level_q16),
            Share::from_bits(self.disconnection_hysteresis_q16),
            short(self.disconnection_breaths),
            on("disconnection_latching", self.disconnection_latching)?,
        );
        Ok(Alarms {
            apnoea,
            disconnection: named(disconnection, &[("hysteresis", "disconnection_hysteresis_q16")])?,
            sensor: SensorAlarm::new(
                Duration::from_millis(self.sensor_fault_ms),
                Duration::from_millis(self.no_input_ms),
            )?,
            own_volume: own.checked(a)?,
            supported_volume: supported.checked(b)?,
            assured_volume: assured.checked(c)?,
            minute_volume: minute_volume.checked(d)?,
            rate: rate.checked(e)?,
            pressure: pressure.checked(f)?,
            leak: leak.checked_shares(g)?,
            priorities,
        })
    }

    pub(crate) fn of(settings: &Settings) -> Self {
        let (gate, segment, machine) = (settings.gate(), settings.segment(), settings.machine());
        let (fit, grid, trend, load) =
            (settings.fit(), settings.grid(), settings.trend(), settings.load());
        let (alarms, limiter) = (settings.alarms(), settings.limiter());
        let (apnoea, disconnection) = (alarms.apnoea, alarms.disconnection);
        let (tube, coefficients) = match settings.leak_path().tube() {
            Tube::Measured(tube) => (TV_TUBE_MEASURED, Some(tube)),
            Tube::Likely(tube) => (TV_TUBE_LIKELY, Some(tube)),
            Tube::Unknown | Tube::ByWeight(_) => (TV_TUBE_UNKNOWN, None),
        };
        let coefficients = coefficients.map(|tube| tube.coefficients());
        let target = settings.proposal();
        let short_apnoea = apnoea.short();
        let mut priorities = [0; 25];
        for (place, condition) in priorities.iter_mut().zip(Condition::all()) {
            *place = code(&alarms.priorities.of(condition));
        }
        Self {
            weight_g: settings.weight().map_or(0, Mass::grams),
            trigger: code(&machine.trigger).into(),
            threshold_q16: bits(machine.threshold, |threshold| threshold.flow().to_bits()),
            set_rate_q16: bits(machine.set_rate, Rate::to_bits),
            peak_q16: bits(machine.peak, Pressure::to_bits),
            support_peak_q16: bits(machine.support_peak, Pressure::to_bits),
            flow_offset_q16: settings.flow_offset().to_bits(),
            flow_limit_q16: gate.flow_limit().to_bits(),
            pressure_limit_q16: gate.pressure_limit().to_bits(),
            gap_ms: ms(gate.gap()),
            cut_ms: ms(gate.cut()),
            frozen_ms: ms(gate.frozen()),
            min_flow_q16: segment.min_flow().to_bits(),
            min_volume_q16: segment.min_volume().to_bits(),
            inflation_rise_q16: segment.inflation_rise().to_bits(),
            zero_limit_q16: settings.zero().limit().to_bits(),
            least_effort_q16: settings.effort().least().to_bits(),
            tube,
            tube_k1_q16: coefficients.map_or(0, |(k1, _)| k1.to_bits()),
            tube_k2_q16: coefficients.map_or(0, |(_, k2)| k2.to_bits()),
            limit_q16: bits(limiter, |limiter| limiter.limit().to_bits()),
            limit_delay_ms: limiter.map_or(0, |limiter| ms(limiter.delay())),
            target_q16: bits(target, |target| target.target().to_bits()),
            target_step_q16: target.map_or(Pressure::from_int(2), |t| t.pressure_step()).to_bits(),
            target_ceiling_q16: target.map_or(Pressure::from_int(22), |t| t.ceiling()).to_bits(),
            target_least_rise_q16: target
                .map_or(Pressure::from_int(2), |t| t.least_rise())
                .to_bits(),
            target_most_leak_q16: target
                .map_or(Share::from_percent(50), |t| t.most_leak())
                .to_bits(),
            fit_least_samples: fit.least_samples(),
            fit_least_goodness_q16: fit.least_goodness().to_bits(),
            fit_bend: fit.has_bend().into(),
            grid_lowest_q16: grid.lowest().to_bits(),
            grid_step_q16: grid.step().to_bits(),
            grid_count: u32::try_from(grid.count()).unwrap_or(u32::MAX),
            settle_minutes: trend.settle_minutes().into(),
            baseline_minutes: trend.baseline_minutes().into(),
            load_change_q16: load.change().to_bits(),
            load_sustain_minutes: load.sustain().into(),
            apnoea_ms: ms(apnoea.after()),
            apnoea_latching: apnoea.latching().into(),
            short_apnoea_ms: short_apnoea.map_or(0, |short| ms(short.after())),
            heart_below: short_apnoea.map_or(0, |short| short.heart_below().into()),
            saturation_below: short_apnoea.map_or(0, |short| short.saturation_below().into()),
            disconnection_level_q16: disconnection.level().to_bits(),
            disconnection_hysteresis_q16: disconnection.hysteresis().to_bits(),
            disconnection_breaths: disconnection.breaths().into(),
            disconnection_latching: disconnection.latching().into(),
            sensor_fault_ms: ms(alarms.sensor.fault()),
            no_input_ms: ms(alarms.sensor.no_input()),
            limits: [
                TvLimits::of(alarms.own_volume),
                TvLimits::of(alarms.supported_volume),
                TvLimits::of(alarms.assured_volume),
                TvLimits::of(alarms.minute_volume),
                TvLimits::of(alarms.rate),
                TvLimits::of(alarms.pressure),
                TvLimits::of(alarms.leak),
            ],
            priorities,
        }
    }
}
