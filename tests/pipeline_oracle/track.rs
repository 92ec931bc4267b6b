//! The readings since the last fresh start, in `f64`, and integrals between any two moments.

/// One reading and the interval that ends with it.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Point {
    pub(crate) us: u64,
    pub(crate) flow: f64,
    pub(crate) pressure: f64,
    /// Pressure at the tip of the tube.
    pub(crate) tip: f64,
    /// Flow into the lung by the leak known just before.
    pub(crate) lung: f64,
    /// Nothing is known of the interval before.
    pub(crate) gap: bool,
}

/// Integrals from the first reading on: flow (mL), pressure, pressure at the tip, known time (s).
type PhaseIntegrals = [f64; 4];

#[derive(Debug, Default)]
pub(crate) struct Track {
    pub(crate) points: Vec<Point>,
    sums: Vec<PhaseIntegrals>,
}

fn seconds(us: u64) -> f64 {
    us as f64 / 1e6
}

fn values(point: &Point) -> PhaseIntegrals {
    [point.flow, point.pressure, point.tip, 1.0]
}

impl Track {
    pub(crate) fn push(&mut self, point: Point) {
        let mut sums = self.sums.last().copied().unwrap_or_default();
        if let Some(last) = self.points.last()
            && !point.gap
        {
            let span = seconds(point.us - last.us);
            let (from, to) = (values(last), values(&point));
            for (i, sum) in sums.iter_mut().enumerate() {
                *sum += (from[i] + to[i]) / 2.0 * span;
            }
        }
        self.points.push(point);
        self.sums.push(sums);
    }

    /// The last reading at or before a moment.
    pub(crate) fn at(&self, us: u64) -> usize {
        self.points.partition_point(|p| p.us <= us).saturating_sub(1)
    }

    fn until(&self, us: u64) -> PhaseIntegrals {
        let i = self.at(us);
        let mut sums = self.sums[i];
        let (from, Some(next)) = (&self.points[i], self.points.get(i + 1)) else { return sums };
        if next.gap || us == from.us {
            return sums;
        }
        let (part, whole) = (seconds(us - from.us), seconds(next.us - from.us));
        let (a, b) = (values(from), values(next));
        for (i, sum) in sums.iter_mut().enumerate() {
            let here = a[i] + (b[i] - a[i]) * part / whole;
            *sum += (a[i] + here) / 2.0 * part;
        }
        sums
    }

    /// Readings from one on of which the pressure is kept: 3 ms apart or more.
    pub(crate) fn kept(&self, from: usize) -> Vec<usize> {
        let mut kept = vec![from];
        for i in from + 1..self.points.len() {
            if self.points[i].us - self.points[*kept.last().expect("the first")].us >= 3_000 {
                kept.push(i);
            }
        }
        kept
    }

    /// The pressure so long before a reading, on straight lines between those kept; that of the first where
    /// none lies before.
    pub(crate) fn delayed(&self, i: usize, lag: u64, kept: &[usize]) -> f64 {
        let point = &self.points[i];
        if lag < 1_000 {
            return point.pressure;
        }
        let at = point.us.saturating_sub(lag.min(25_000));
        let before = &kept[..kept.partition_point(|k| *k < i)];
        let mut later = point;
        for p in before.iter().rev().map(|k| &self.points[*k]) {
            if p.us <= at {
                let part = seconds(at - p.us) / seconds(later.us - p.us);
                return p.pressure + (later.pressure - p.pressure) * part;
            }
            later = p;
        }
        later.pressure
    }

    /// Integrals between two moments.
    pub(crate) fn between(&self, from: u64, to: u64) -> PhaseIntegrals {
        let (a, b) = (self.until(from), self.until(to));
        std::array::from_fn(|i| b[i] - a[i])
    }
}
