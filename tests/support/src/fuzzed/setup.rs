//! Settings by number: the default first, then ones that switch on all that can be.

use fixed::types::I16F16;
use tidevane::alarm::{Alarms, Apnoea, Disconnection, LimitAlarm, Limits, ShortApnoea};
use tidevane::breath::Segmenter;
use tidevane::leak::{LeakPath, Tube};
use tidevane::mechanics::{Fit, TubeResistance};
use tidevane::monitor::Settings;
use tidevane::quantity::{Duration, Flow, Mass, Pressure, Rate, Resistance, Share, Volume};
use tidevane::signal::Gate;
use tidevane::trigger::{EffortWatch, Threshold, ThresholdGrid};
use tidevane::volume::{Limiter, Proposal};

/// Settings, and what a second look at the stream needs to know of them.
#[derive(Debug, Clone, Copy)]
pub struct Setup {
    /// What the monitor is made with.
    pub settings: Settings,
    /// The gate among them.
    pub gate: Gate,
    /// The sensor's zero among them.
    pub offset: Flow,
    /// The highest pressure that may be proposed, where a target is set.
    pub ceiling: Option<Pressure>,
}

fn ms(millis: u32) -> Duration {
    Duration::from_millis(millis)
}

/// Alarms by number: the default, without limits, for every fourth; else all that can be set,
/// latching where the number is odd.
pub fn alarms(number: u8) -> Alarms {
    if number.is_multiple_of(4) { Alarms::default() } else { all_alarms(number % 2 == 1) }
}

fn all_alarms(latching: bool) -> Alarms {
    let volume = |low, high| {
        let limits =
            Limits::new(Some(Volume::from_int(low)), Some(Volume::from_int(high))).unwrap();
        LimitAlarm::new(limits, Duration::ZERO, Volume::ZERO, latching).unwrap()
    };
    let rate = Limits::new(Some(Rate::from_int(30)), Some(Rate::from_int(60))).unwrap();
    let pressure = Limits::new(Some(Pressure::from_int(8)), Some(Pressure::from_int(18))).unwrap();
    let leak = Limits::new(None, Some(Share::from_percent(30))).unwrap();
    Alarms {
        apnoea: Apnoea::new(ms(10_000), latching).unwrap().with_short(ShortApnoea::default()),
        disconnection: Disconnection::new(Share::from_percent(50), Share::ZERO, 1, latching)
            .unwrap(),
        own_volume: volume(3, 6),
        supported_volume: volume(4, 5),
        assured_volume: volume(4, 9),
        minute_volume: volume(100, 300),
        rate: LimitAlarm::new(rate, ms(500), Rate::from_int(1), latching).unwrap(),
        pressure: LimitAlarm::new(pressure, Duration::ZERO, Pressure::ZERO, latching).unwrap(),
        leak: LimitAlarm::new(leak, Duration::ZERO, Share::ZERO, latching).unwrap(),
        ..Alarms::default()
    }
}

/// The settings of a number; there are eight.
///
/// # Panics
/// Never: all its values are in range.
pub fn setup(number: u8) -> Setup {
    let gate = Gate::default();
    let base = Setup { settings: Settings::default(), gate, offset: Flow::ZERO, ceiling: None };
    let narrow = |flow, gap, cut| {
        Gate::new(Flow::from_int(flow), Pressure::from_int(40), ms(gap), ms(cut), ms(50)).unwrap()
    };
    let threshold = Threshold::new(Flow::from_milli(3_500).value).unwrap();
    let ceiling = Pressure::from_int(22);
    let proposal = Proposal::new(
        Volume::from_int(5),
        Pressure::from_int(3),
        ceiling,
        Pressure::from_int(2),
        Share::from_percent(50),
    );
    let limiter = Limiter::new(Volume::from_int(6), ms(20)).unwrap();
    let full = base
        .settings
        .change()
        .threshold(threshold)
        .set_rate(Rate::from_int(40))
        .peak(Pressure::from_int(16))
        .support_peak(Pressure::from_int(12))
        .weight(Mass::from_grams(980).unwrap())
        .limiter(limiter)
        .proposal(proposal.unwrap())
        .fit(Fit::default().with_bend());
    let (settings, gate, offset, ceiling) = match number % 8 {
        0 => return base,
        1 => (full, gate, Flow::ZERO, Some(ceiling)),
        2 => (full.alarms(all_alarms(false)), gate, Flow::ZERO, Some(ceiling)),
        3 => {
            let narrow =
                TubeResistance::new(Resistance::from_int(1_000), I16F16::from_num(10_000)).unwrap();
            let narrow = LeakPath::default().with_tube(Tube::Measured(narrow));
            let least = Segmenter::new(
                Flow::from_milli(100).value,
                Volume::from_milli(50).value,
                Pressure::from_milli(500).value,
            );
            (
                base.settings.change().leak_path(narrow).segment(least.unwrap()),
                gate,
                Flow::ZERO,
                None,
            )
        }
        4 => (full.alarms(all_alarms(true)), narrow(300, 5, 5), Flow::ZERO, Some(ceiling)),
        5 => (base.settings.change(), narrow(32_000, 1_000, 30_000), Flow::from_int(-50), None),
        6 => (base.settings.change(), narrow(20, 100, 1_000), Flow::from_milli(2_500).value, None),
        _ => {
            let least = Flow::from_milli(100).value;
            let effort = EffortWatch::new(Pressure::from_milli(500).value).unwrap();
            let grid = ThresholdGrid::new(least, least, 16).unwrap();
            let change = base.settings.change().effort(effort).grid(grid);
            (change.set_rate(Rate::ZERO), gate, Flow::ZERO, None)
        }
    };
    let settings = settings.gate(gate).flow_offset(offset).build().unwrap();
    Setup { settings, gate, offset, ceiling }
}
