//! Whether pressure has anything to do with flow.

/// Slower changes of pressure and flow are left out, in seconds.
const SLOW: f64 = 2.0;
/// Flow, and what it fills over these times, in seconds.
const FILLS: [f64; 3] = [0.1, 0.3, 1.0];
/// What came before so many seconds is not counted: the slow changes are not known yet.
const SETTLES: f64 = 10.0;
/// Fewer samples tell nothing.
const FEW: f64 = 500.0;
/// A longer step is a gap.
const GAP: f64 = 0.3;

/// Sums for the correlation of pressure with flow and with what flow fills.
#[derive(Debug, Default)]
pub(super) struct Follows {
    slow: Option<[f64; 2]>,
    fills: [f64; FILLS.len()],
    passed: f64,
    /// The latest step, and how far each mean goes with it: most are the same.
    weights: (f64, f64, [f64; FILLS.len()]),
    count: f64,
    pressure: [f64; 2],
    /// Of each: its sum, that of its squares, and with pressure.
    sums: [[f64; 3]; 1 + FILLS.len()],
}

impl Follows {
    /// The next sample, so many seconds after the one before.
    pub(super) fn take(&mut self, step_s: Option<f64>, flow: f64, pressure: f64) {
        let step = step_s.filter(|step| *step > 0.0 && *step <= GAP);
        let (Some(step), Some([slow_flow, slow_pressure])) = (step, &mut self.slow) else {
            self.slow.get_or_insert([flow, pressure]);
            return;
        };
        if self.weights.0 != step {
            let weight = |time: f64| (step / time).min(1.0);
            self.weights = (step, weight(SLOW), FILLS.map(weight));
        }
        let (_, slow, fills) = self.weights;
        *slow_flow += slow * (flow - *slow_flow);
        *slow_pressure += slow * (pressure - *slow_pressure);
        let (flow, pressure) = (flow - *slow_flow, pressure - *slow_pressure);
        for (fill, weight) in self.fills.iter_mut().zip(fills) {
            *fill += weight * (flow - *fill);
        }
        self.passed += step;
        if self.passed < SETTLES {
            return;
        }
        self.count += 1.0;
        self.pressure[0] += pressure;
        self.pressure[1] += pressure * pressure;
        let all = [flow].into_iter().chain(self.fills);
        for (sums, x) in self.sums.iter_mut().zip(all) {
            sums[0] += x;
            sums[1] += x * x;
            sums[2] += x * pressure;
        }
    }

    fn each(&self) -> impl Iterator<Item = f64> {
        let n = self.count.max(1.0);
        let varies = self.pressure[1] - self.pressure[0] * self.pressure[0] / n;
        self.sums.iter().map(move |[x, xx, xp]| {
            let (spread, both) = (xx - x * x / n, xp - x * self.pressure[0] / n);
            let r = both / (spread * varies).sqrt();
            if r.is_finite() { r } else { 0.0 }
        })
    }

    /// The largest correlation, near 1 where pressure drives flow, and the largest of either sign; `None` for too few
    /// samples.
    pub(super) fn most(&self) -> Option<(f64, f64)> {
        let either = self.each().fold(0.0, |most, r| r.abs().max(most));
        (self.count >= FEW).then(|| (self.each().fold(-1.0, f64::max), either))
    }
}
