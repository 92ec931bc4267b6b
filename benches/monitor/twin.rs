//! The work of the monitor in `f64`, sample by sample: what a careful port without fixed point
//! would cost. It is here to be timed, not to be trusted.

/// Flow (mL/s) and pressure (cmH2O) at a time (s).
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Sample {
    pub(crate) t: f64,
    pub(crate) flow: f64,
    pub(crate) pressure: f64,
}

/// What a closed breath brings: made, and given to the black box.
#[derive(Debug, Clone, Copy, Default)]
#[expect(dead_code, reason = "the numbers are counted, and given to a black box")]
pub(crate) struct Closed {
    pub(crate) inspired: f64,
    pub(crate) expired: f64,
    pub(crate) leak: f64,
    pub(crate) lung: f64,
    pub(crate) peak: f64,
    pub(crate) compliance: f64,
    pub(crate) resistance: f64,
    pub(crate) rate: f64,
}

/// Integrals of flow, pressure and leak drive.
#[derive(Debug, Clone, Copy, Default)]
struct PhaseIntegrals {
    flow: f64,
    pressure: f64,
    drive: f64,
    time: f64,
}

impl PhaseIntegrals {
    fn add(&mut self, o: Self) {
        self.flow += o.flow;
        self.pressure += o.pressure;
        self.drive += o.drive;
        self.time += o.time;
    }
}

/// Sums of volume, flow, pressure and their products.
#[derive(Debug, Clone, Copy, Default)]
struct Fit {
    n: f64,
    volume: f64,
    sums: [f64; 9],
}

impl Fit {
    fn add(&mut self, mean_flow: f64, span: f64, q: f64, p: f64) {
        self.volume += mean_flow * span;
        let v = self.volume;
        self.n += 1.0;
        for (sum, more) in
            self.sums.iter_mut().zip([v, q, p, v * v, v * q, q * q, v * p, q * p, p * p])
        {
            *sum += more;
        }
    }

    /// Compliance and resistance of P = P0 + V/C + R·Q.
    fn solve(&self) -> Option<(f64, f64)> {
        let [v, q, p, vv, vq, qq, vp, qp, _] = self.sums;
        let n = self.n;
        let (vv, vq, qq) = (vv - v * v / n, vq - v * q / n, qq - q * q / n);
        let (vp, qp) = (vp - v * p / n, qp - q * p / n);
        let both = vv * qq - vq * vq;
        (both > 0.0).then(|| (both / (vp * qq - qp * vq), (qp * vv - vp * vq) / both))
    }
}

/// A block of the quiet tail.
#[derive(Debug, Clone, Copy, Default)]
struct Block {
    start: f64,
    n: f64,
    flow: f64,
    squares: f64,
    lung: f64,
    pressure: f64,
    low: f64,
    high: f64,
}

#[derive(Debug, Clone, Default)]
pub(crate) struct Twin {
    last: Option<(Sample, f64, f64)>,
    inward: bool,
    k: f64,
    window: (f64, f64),
    usual_volume: f64,
    usual_flow: f64,
    current: PhaseIntegrals,
    held: PhaseIntegrals,
    page: f64,
    active: bool,
    inspiration: PhaseIntegrals,
    onset: f64,
    begun: f64,
    peak: f64,
    lowest: f64,
    peak_in: f64,
    peak_out: f64,
    fit: Fit,
    open: Block,
    tail: [Block; 8],
    frozen_since: f64,
    extreme: f64,
    smooth: f64,
    balance: f64,
    floor: f64,
    moved: f64,
    pub(crate) over_limit: u32,
    apnoea: f64,
    pub(crate) alarms: u32,
}

impl Twin {
    /// Takes one sample; the breath it closed, if it did.
    pub(crate) fn push(&mut self, s: Sample) -> Option<Closed> {
        if s.flow.abs() > 5_000.0 || s.pressure.abs() > 200.0 {
            return None;
        }
        let drive = s.pressure.abs().sqrt().copysign(s.pressure);
        let lung = s.flow - self.k * drive;
        let (from, from_lung, from_drive) = self.last.replace((s, lung, drive))?;
        let span = s.t - from.t;
        if span <= 0.0 || span > 0.1 {
            return None;
        }
        self.watch(&from, &s);
        self.quiet(&s, lung);
        let slice = PhaseIntegrals {
            flow: (from.flow + s.flow) / 2.0 * span,
            pressure: (from.pressure + s.pressure) / 2.0 * span,
            drive: (from_drive + drive) / 2.0 * span,
            time: span,
        };
        let mean = (from_lung + lung) / 2.0;
        self.fit.add(mean, span, lung, s.pressure);
        self.effort(lung, span);
        if self.inward {
            self.moved += mean * span;
            self.over_limit += u32::from(self.moved + lung.max(0.0) * 0.02 > 6.0);
        }
        self.turn(&from, &s, (from_lung, lung), slice)
    }

    /// Stuck and clipped readings, extremes, the apnoea clock.
    fn watch(&mut self, from: &Sample, s: &Sample) {
        if from.flow != s.flow || from.pressure != s.pressure {
            self.frozen_since = s.t;
        }
        if s.flow.abs() > self.extreme.abs() {
            self.extreme = s.flow;
        }
        self.alarms += u32::from(s.t - self.frozen_since > 0.5);
        self.alarms += u32::from(s.t - self.apnoea > 20.0);
        self.peak = self.peak.max(s.pressure);
        self.lowest = self.lowest.min(s.pressure);
        self.peak_in = self.peak_in.max(s.flow);
        self.peak_out = self.peak_out.max(-s.flow);
    }

    fn quiet(&mut self, s: &Sample, lung: f64) {
        if self.open.n > 0.0 && s.t - self.open.start >= 0.05 {
            self.tail.rotate_right(1);
            self.tail[0] = self.open;
            self.open = Block::default();
        }
        let b = &mut self.open;
        if b.n == 0.0 {
            (b.start, b.low, b.high) = (s.t, s.flow, s.flow);
        }
        b.n += 1.0;
        b.flow += s.flow;
        b.squares += s.flow * s.flow;
        b.lung += lung;
        b.pressure += s.pressure;
        b.low = b.low.min(s.flow);
        b.high = b.high.max(s.flow);
    }

    fn effort(&mut self, lung: f64, span: f64) {
        let share = (span / 0.015).min(1.0);
        self.smooth += (lung - self.smooth) * share;
        self.balance += (lung + self.smooth * span - self.balance) * share;
        self.floor = (self.floor + (self.balance - self.floor) * span / 0.3).min(self.balance);
    }

    fn turn(
        &mut self,
        from: &Sample,
        s: &Sample,
        lung: (f64, f64),
        slice: PhaseIntegrals,
    ) -> Option<Closed> {
        let sign = if self.inward { -1.0 } else { 1.0 };
        let (a, b) = (lung.0 * sign, lung.1 * sign);
        let level = (self.usual_flow / 128.0).max(1.0);
        let needed = (self.usual_volume / 16.0).max(0.25) / if self.inward { 2.0 } else { 1.0 };
        if !self.active {
            if b <= level / 4.0 {
                self.current.add(slice);
                return None;
            }
            self.active = true;
            self.begun = from.t + (s.t - from.t) * (level / 4.0 - a).max(0.0) / (b - a).max(1e-9);
            self.page = 0.0;
            self.held = PhaseIntegrals::default();
        }
        self.page = (self.page + ((a + b) / 2.0 - level) * slice.time).max(0.0);
        self.held.add(slice);
        if self.page == 0.0 && b <= level / 4.0 {
            self.current.add(self.held);
            self.active = false;
            return None;
        }
        if self.page < needed {
            return None;
        }
        self.active = false;
        let finished = std::mem::replace(&mut self.current, self.held);
        self.inward = !self.inward;
        if !self.inward {
            self.inspiration = finished;
            return None;
        }
        let closed = self.close(finished);
        (self.onset, self.apnoea, self.moved) = (self.begun, self.begun, 0.0);
        (self.peak, self.lowest, self.peak_in, self.peak_out) = (s.pressure, s.pressure, 0.0, 0.0);
        self.fit = Fit::default();
        Some(closed)
    }

    fn close(&mut self, expiration: PhaseIntegrals) -> Closed {
        let (i, e) = (self.inspiration, expiration);
        self.window.0 = self.window.0 * 0.875 + i.flow + e.flow;
        self.window.1 = self.window.1 * 0.875 + i.drive + e.drive;
        if self.window.1 > 0.0 {
            self.k = self.window.0 / self.window.1;
        }
        let (inspired, expired) = (i.flow, -e.flow);
        self.usual_volume += (inspired.min(expired) - self.usual_volume) / 4.0;
        self.usual_flow += (self.peak_in - self.usual_flow) / 4.0;
        let (compliance, resistance) = self.fit.solve().unwrap_or_default();
        Closed {
            inspired,
            expired,
            leak: (inspired - expired) / inspired,
            lung: inspired - self.k * i.drive,
            peak: self.peak,
            compliance,
            resistance,
            rate: 60.0 / (self.begun - self.onset),
        }
    }
}
