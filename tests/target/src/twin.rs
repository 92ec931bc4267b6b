//! The core of the check counted in floating point, plainly: leak taken off, trapezoids summed,
//! breaths cut where the flow turns, the leak path learned, compliance and resistance fitted.
//!
//! It knows no gate, no flags, no ripple, no saturation and no effort. It is here to be compared
//! with, never to be believed.

use core::ops::{Add, Div, Mul, Neg, Sub};

/// `f32` or `f64`.
pub trait Real:
    Copy
    + Default
    + PartialOrd
    + From<i16>
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Neg<Output = Self>
{
    /// From a fixed-point value's bits.
    fn of_bits(bits: i32) -> Self;
    /// The square root of a number not below zero.
    fn root(self) -> Self;
}

impl Real for f32 {
    fn of_bits(bits: i32) -> Self {
        bits as f32 / 65_536.0
    }

    fn root(self) -> Self {
        // Newton's steps from a guess that halves the exponent: each doubles the digits.
        let mut root = f32::from_bits((self.to_bits() >> 1) + 0x1fbd_1df5);
        for _ in 0..3 {
            root = 0.5 * (root + self / root);
        }
        root
    }
}

impl Real for f64 {
    fn of_bits(bits: i32) -> Self {
        f64::from(bits) / 65_536.0
    }

    fn root(self) -> Self {
        let mut root = f64::from_bits((self.to_bits() >> 1) + 0x1ff7_a3be_a91d_9b1b);
        for _ in 0..4 {
            root = 0.5 * (root + self / root);
        }
        root
    }
}

/// A closed breath.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Breath<R> {
    /// Volume in and out at the sensor.
    pub inspired: R,
    /// Volume out, as a positive number.
    pub expired: R,
    /// Mean pressure.
    pub pressure: R,
    /// What did not come back.
    pub leak_share: R,
    /// Compliance and resistance, where the fit has an answer.
    pub fit: Option<(R, R)>,
}

/// Areas under flow, pressure and leak drive, and the time.
#[derive(Debug, Clone, Copy, Default)]
struct Sums<R> {
    flow: R,
    pressure: R,
    drive: R,
    time: R,
}

impl<R: Real> Sums<R> {
    fn with(self, other: Self) -> Self {
        Self {
            flow: self.flow + other.flow,
            pressure: self.pressure + other.pressure,
            drive: self.drive + other.drive,
            time: self.time + other.time,
        }
    }
}

/// A reading with the leak taken off.
#[derive(Debug, Clone, Copy, Default)]
struct Point<R> {
    flow: R,
    pressure: R,
    drive: R,
    lung: R,
}

/// Sums of V, Q, P and of their products.
#[derive(Debug, Clone, Copy, Default)]
struct Fit<R> {
    count: R,
    volume: R,
    sums: [R; 9],
}

impl<R: Real> Fit<R> {
    fn add(&mut self, moved: R, q: R, p: R) {
        self.volume = self.volume + moved;
        self.count = self.count + R::from(1);
        let v = self.volume;
        let more = [v, q, p, v * v, v * q, q * q, v * p, q * p, p * p];
        for (sum, more) in self.sums.iter_mut().zip(more) {
            *sum = *sum + more;
        }
    }

    fn solve(&self) -> Option<(R, R)> {
        let n = self.count;
        let [v, q, p, vv, vq, qq, vp, qp, pp] = self.sums;
        let moment = |xy: R, x: R, y: R| xy - x * y / n;
        let (vv, qq, vq) = (moment(vv, v, v), moment(qq, q, q), moment(vq, v, q));
        let (vp, qp, pp) = (moment(vp, v, p), moment(qp, q, p), moment(pp, p, p));
        let both = vv * qq - vq * vq;
        let zero = R::from(0);
        if n < R::from(20) || both <= zero {
            return None;
        }
        let (elastance, resistance) = ((vp * qq - qp * vq) / both, (qp * vv - vp * vq) / both);
        let explained = (elastance * vp + resistance * qp) / pp;
        let enough = explained >= R::from(99) / R::from(100);
        (enough && elastance > zero).then(|| (R::from(1) / elastance, resistance))
    }
}

/// All that is remembered.
#[derive(Debug, Clone, Copy, Default)]
pub struct Twin<R> {
    last: Point<R>,
    begun: bool,
    inward: bool,
    /// The phase under way, the turn that may be, and the inspiration before.
    current: Sums<R>,
    held: Sums<R>,
    inspiration: Sums<R>,
    turning: R,
    usual: R,
    window: Sums<R>,
    conductance: R,
    fit: Fit<R>,
}

impl<R: Real> Twin<R> {
    /// Takes a sample `us` after the last.
    pub fn push(&mut self, us: u32, flow: i32, pressure: i32) -> Option<Breath<R>> {
        let (flow, pressure) = (R::of_bits(flow), R::of_bits(pressure));
        let zero = R::from(0);
        let drive = if pressure < zero { -(-pressure).root() } else { pressure.root() };
        let to = Point { flow, pressure, drive, lung: flow - self.conductance * drive };
        let from = core::mem::replace(&mut self.last, to);
        if !self.begun {
            self.begun = true;
            return None;
        }
        let time = R::from(us.min(30_000) as i16) / (R::from(1_000) * R::from(1_000));
        let half = time / R::from(2);
        let slice = Sums {
            flow: (from.flow + to.flow) * half,
            pressure: (from.pressure + to.pressure) * half,
            drive: (from.drive + to.drive) * half,
            time,
        };
        let moved = (from.lung + to.lung) * half;
        self.fit.add(moved, to.lung, to.pressure);
        self.cut(slice, if self.inward { -moved } else { moved })
    }

    /// Holds what flows the new way until it is enough to be a turn.
    fn cut(&mut self, slice: Sums<R>, new_way: R) -> Option<Breath<R>> {
        let zero = R::from(0);
        self.turning = self.turning + new_way;
        if self.turning <= zero {
            self.turning = zero;
            self.current = self.current.with(self.held).with(slice);
            self.held = Sums::default();
            return None;
        }
        self.held = self.held.with(slice);
        let least = R::from(1) / R::from(4);
        let part = self.usual / R::from(16);
        if self.turning < if part > least { part } else { least } {
            return None;
        }
        let finished = core::mem::replace(&mut self.current, self.held);
        (self.held, self.turning) = (Sums::default(), zero);
        self.inward = !self.inward;
        if !self.inward {
            self.inspiration = finished;
            return None;
        }
        Some(self.close(finished))
    }

    fn close(&mut self, expiration: Sums<R>) -> Breath<R> {
        let whole = self.inspiration.with(expiration);
        let eighth = R::from(7) / R::from(8);
        let faded = |x: R| x * eighth;
        self.window.flow = faded(self.window.flow) + whole.flow;
        self.window.drive = faded(self.window.drive) + whole.drive;
        self.conductance = self.window.flow / self.window.drive;
        self.usual = self.usual + (self.inspiration.flow - self.usual) / R::from(8);
        let fit = core::mem::take(&mut self.fit).solve();
        Breath {
            inspired: self.inspiration.flow,
            expired: -expiration.flow,
            pressure: whole.pressure / whole.time,
            leak_share: whole.flow / self.inspiration.flow,
            fit,
        }
    }
}
