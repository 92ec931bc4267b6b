//! The settings of a run, for the monitor and for the oracle.

use fixed::types::I16F16;
use tidevane::leak::{LeakPath, Tube};
use tidevane::mechanics::{Fit, TubeResistance};
use tidevane::monitor::Settings;
use tidevane::quantity::{Duration, Flow, Mass, Pressure, Rate, Resistance, Share, Volume};
use tidevane::signal::Gate;
use tidevane::trigger::Threshold;
use tidevane::volume::{Limiter, Proposal};

/// What is known of the tube.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Known {
    Nothing,
    Measured,
    Weight,
}

#[derive(Debug, Clone, Copy)]
pub(crate) struct Set {
    pub(crate) settings: Settings,
    pub(crate) gate: Gate,
    /// Coefficients, and what part of the loss is in doubt.
    pub(crate) tube: [i16; 2],
    pub(crate) doubt: f64,
    pub(crate) threshold: f64,
    pub(crate) rate: f64,
    pub(crate) limit: f64,
}

pub(crate) const TARGET: f64 = 5.0;
pub(crate) const STEP: f64 = 3.0;
pub(crate) const CEILING: f64 = 22.0;
pub(crate) const LEAST_RISE: f64 = 2.0;
pub(crate) const MOST_LEAK: f64 = 0.5;
pub(crate) const DELAY: f64 = 0.02;

fn whole(x: f64) -> i16 {
    x as i16
}

impl Set {
    /// Whether the tube is known, a threshold in mL/s, a set rate, and a volume limit.
    pub(crate) fn new(tube: Known, threshold: f64, rate: f64, limit: f64) -> Self {
        let ([k1, k2], doubt) = match tube {
            Known::Nothing => ([0, 0], 0.0),
            Known::Measured => ([30, 700], 0.125),
            // Of an infant of 1 kg.
            Known::Weight => ([22, 500], 0.5),
        };
        let rohrer =
            || TubeResistance::new(Resistance::from_int(k1), I16F16::from_num(k2)).unwrap();
        let leak_path = match tube {
            Known::Nothing => LeakPath::default(),
            Known::Measured => LeakPath::default().with_tube(Tube::Measured(rohrer())),
            Known::Weight => {
                let weighed = Settings::builder().weight(Mass::from_grams(1_000).unwrap());
                weighed.build().unwrap().leak_path()
            }
        };
        let milli = |x: f64| (x * 1e3).round() as i32;
        let threshold = Flow::from_milli(milli(threshold)).value;
        let rate = Rate::from_milli(milli(rate)).value;
        let limit = Volume::from_milli(milli(limit)).value;
        let cmh2o = |x| Pressure::from_int(whole(x));
        let proposal = Proposal::new(
            Volume::from_int(whole(TARGET)),
            cmh2o(STEP),
            cmh2o(CEILING),
            cmh2o(LEAST_RISE),
            Share::from_percent(50),
        );
        let settings = Settings::builder()
            .leak_path(leak_path)
            .threshold(Threshold::new(threshold).unwrap())
            .set_rate(rate)
            .limiter(Limiter::new(limit, Duration::from_millis(20)).unwrap())
            .proposal(proposal.unwrap())
            .fit(Fit::default().with_bend())
            .build()
            .unwrap();
        let float = crate::oracle::float;
        Self {
            settings,
            gate: Gate::default(),
            tube: [k1, k2],
            doubt,
            threshold: float(threshold.to_bits()),
            rate: float(rate.to_bits()),
            limit: float(limit.to_bits()),
        }
    }

    /// The pressure at the tip of the tube, K1 in cmH2O·s/L and K2 in cmH2O·s²/L².
    pub(crate) fn tip(&self, pressure: f64, flow: f64) -> f64 {
        pressure - self.loss(flow)
    }

    /// What the tube takes.
    pub(crate) fn loss(&self, flow: f64) -> f64 {
        let [k1, k2] = self.tube.map(f64::from);
        flow / 1e3 * (k1 + k2 * (flow / 1e3).abs())
    }
}
