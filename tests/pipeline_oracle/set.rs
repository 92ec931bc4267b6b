//! The settings of a run, for the monitor and for the oracle.

use tidevane::leak::{Law, LeakPath};
use tidevane::mechanics::Fit;
use tidevane::monitor::Settings;
use tidevane::quantity::{Drive, Flow, Pressure, Rate, Share, Span, Volume};
use tidevane::signal::Gate;
use tidevane::trigger::Threshold;
use tidevane::volume::{Limiter, Proposal};

#[derive(Debug, Clone, Copy)]
pub(crate) struct Set {
    pub(crate) settings: Settings,
    pub(crate) gate: Gate,
    pub(crate) law: Law,
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
    /// A threshold in mL/s, a set rate, and a volume limit.
    pub(crate) fn new(laminar: bool, threshold: f64, rate: f64, limit: f64) -> Self {
        let law = if laminar { Law::Laminar } else { Law::Orifice };
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
            .leak_path(LeakPath::new(law, Drive::from_int(1)).unwrap())
            .threshold(Threshold::new(threshold).unwrap())
            .set_rate(rate)
            .limiter(Limiter::new(limit, Span::from_millis(20)).unwrap())
            .proposal(proposal.unwrap())
            .fit(Fit::default().with_bend())
            .build()
            .unwrap();
        let float = crate::oracle::float;
        Self {
            settings,
            gate: Gate::default(),
            law,
            threshold: float(threshold.to_bits()),
            rate: float(rate.to_bits()),
            limit: float(limit.to_bits()),
        }
    }

    /// What drives the leak at a pressure.
    pub(crate) fn drive(&self, pressure: f64) -> f64 {
        match self.law {
            Law::Orifice => pressure.abs().sqrt() * pressure.signum(),
            Law::Laminar => pressure,
        }
    }
}
