//! A curve of flow into the lung and pressure, point by point, as a fit takes it.

use tidevane::breath::Totals;
use tidevane::mechanics::FitSums;
use tidevane::quantity::{Duration, Flow, Pressure};
use tidevane::signal::{End, Interval, Reading};

/// The sums so far.
#[derive(Debug, Clone, Copy, Default)]
pub struct Curve {
    /// What the fit takes.
    pub sums: FitSums,
    totals: Totals,
    last: Option<End>,
}

impl Curve {
    /// A point so long after the one before.
    pub fn add(&mut self, span: Duration, flow: Flow, pressure: Pressure) {
        let to = End::from(Reading { flow, pressure });
        if let Some(from) = self.last.replace(to) {
            let interval = Interval { span, from, to, ..Interval::default() };
            self.totals.add(&interval);
            self.sums.add(&interval, &self.totals);
        }
    }
}
