//! The leak path, learned as the documents of `leak` say: a curve of a straight part and a root through
//! quiet ends and the mean of a window of whole breaths, which keeps seven eighths and is started afresh
//! after two like misfits.
//!
//! Whether a flow stands still, and whether what it lies off the line is more than noise, are decisions:
//! those are given.

use crate::quiet::EndExpiration;

/// Net flow (mL), pressure at the tip (cmH2O·s), its root (√cmH2O·s) and known time (s) of a stretch.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Stretch {
    pub(crate) flow: f64,
    pub(crate) tip: f64,
    pub(crate) root: f64,
    pub(crate) time: f64,
}

impl Stretch {
    /// Flow, pressure at the tip and time; the pressure taken as steady.
    pub(crate) fn steady(flow: f64, tip: f64, time: f64) -> Self {
        let root = if time > 0.0 { signed_root(tip / time) * time } else { 0.0 };
        Self { flow, tip, root, time }
    }

    pub(crate) fn with(self, o: Self) -> Self {
        let Self { flow, tip, root, time } = self;
        Self { flow: flow + o.flow, tip: tip + o.tip, root: root + o.root, time: time + o.time }
    }

    fn part(self, f: f64) -> Self {
        let Self { flow, tip, root, time } = self;
        Self { flow: flow * f, tip: tip * f, root: root * f, time: time * f }
    }
}

fn signed_root(x: f64) -> f64 {
    x.abs().sqrt() * x.signum()
}

/// Weighted points: Σw, Σwx, Σwx², Σwy, Σwxy.
#[derive(Debug, Clone, Copy, Default)]
struct Points([f64; 5]);

impl Points {
    fn one(w: f64, x: f64, y: f64) -> Self {
        Self([w, w * x, w * x * x, w * y, w * x * y])
    }

    fn plus(self, o: Self, part: f64) -> Self {
        Self(std::array::from_fn(|i| self.0[i] + o.0[i] * part))
    }

    fn mean(self) -> f64 {
        if self.0[0] > 0.0 { self.0[3] / self.0[0] } else { 0.0 }
    }

    /// With a flow at no drive that counts a sixteenth.
    fn held(self, prior: f64) -> [f64; 5] {
        self.plus(Self::one(0.0625, 0.0, prior), 1.0).0
    }

    /// Flow at no drive, and slope.
    fn line(self, prior: f64) -> (f64, f64) {
        let [w, x, xx, y, xy] = self.held(prior);
        let slope = ((xy - x * y / w) / (xx - x * x / w)).max(0.0);
        ((y - slope * x) / w, slope)
    }
}

/// A window of whole breaths, and quiet ends by pressure and by its root.
#[derive(Debug, Clone, Copy, Default)]
struct Evidence {
    breaths: Stretch,
    straight: Points,
    rooted: Points,
}

impl Evidence {
    /// The quiet end before a breath, of 80 ms and more: one, less where its flow still moves or flows
    /// outward as the whole breath does not, and then nearer its last block.
    fn of_quiet(quiet: Option<EndExpiration>, inspired: f64, whole: Stretch) -> Self {
        let Some(q) = quiet.filter(|q| q.span >= 80_000.0) else { return Self::default() };
        let usual = (inspired / 32.0).max(0.3);
        // Of blocks of 50 ms, over a quarter of a second.
        let span = if q.span < 90_000.0 { 40_000.0 } else { q.span - 50_000.0 };
        let outward = (-q.flow).min(whole.flow / whole.time - q.flow).max(0.0);
        let apart = q.tail * 250_000.0 / span + outward;
        let w = (1.0 + (apart / usual).powi(2)).powi(-2);
        Self::still(w, q.pressure, q.last + (q.flow - q.last) * w)
    }

    fn still(w: f64, pressure: f64, flow: f64) -> Self {
        let straight = Points::one(w, pressure, flow);
        let rooted = Points::one(w, signed_root(pressure), flow);
        Self { straight, rooted, ..Self::default() }
    }

    fn plus(self, o: Self, part: f64) -> Self {
        Self {
            breaths: self.breaths.with(o.breaths.part(part)),
            straight: self.straight.plus(o.straight, part),
            rooted: self.rooted.plus(o.rooted, part),
        }
    }

    /// The window counts the square of its time, 16 s² at most.
    fn points(self) -> (Points, Points) {
        let Stretch { flow, tip, root, time } = self.breaths;
        if time <= 0.0 {
            return (self.straight, self.rooted);
        }
        let with = |quiet: Points, drive: f64| {
            quiet.plus(Points::one(time.powi(2).min(16.0), drive / time, flow / time), 1.0)
        };
        (with(self.straight, tip), with(self.rooted, root))
    }

    /// Offset, slope, and what goes with the root: straight where that has no flow at no pressure, or
    /// less; else so much of a root that it has none.
    fn curve(self) -> Option<[f64; 3]> {
        let (straight, rooted) = self.points();
        if straight.0[0] <= 0.0 {
            return None;
        }
        let mean = straight.mean();
        let (offset, slope) = straight.line(mean * 3.0 / 8.0);
        if slope <= 0.0 {
            return Some([self.straight.plus(Points::one(0.5, 0.0, mean), 1.0).mean(), 0.0, 0.0]);
        }
        let (below, root) = rooted.line(0.0);
        let share = match (offset <= 0.0, below >= 0.0) {
            (true, _) => 0.0,
            (_, true) => 1.0,
            _ => offset / (offset - below),
        };
        Some([offset + (below - offset) * share, slope * (1.0 - share), root * share])
    }

    fn doubt(self, tip: f64) -> f64 {
        let [w, x, xx, ..] = self.points().0.held(0.0);
        (1.0 / w + (tip - x / w).powi(2) / (xx - x * x / w)).sqrt()
    }
}

#[derive(Debug, Clone, Default)]
pub(crate) struct Leak {
    curve: Option<[f64; 3]>,
    points: Evidence,
    previous: Evidence,
    inspired: f64,
    pub(crate) misfit: i8,
    pub(crate) scatter: f64,
    still: Option<(f64, f64)>,
    bent: f64,
    lift: f64,
    breaths: u32,
    beginning: Beginning,
}

/// What the time before the first breath says.
#[derive(Debug, Clone, Default)]
struct Beginning {
    bounds: Option<(f64, f64)>,
    sums: Stretch,
    /// When the next guess is due, in microseconds of clear time.
    next_us: u64,
    clear_us: u64,
    moved: bool,
}

impl Leak {
    pub(crate) fn is_guessing(&self) -> bool {
        self.breaths == 0
    }

    pub(crate) fn is_known(&self) -> bool {
        self.curve.is_some()
    }

    /// The flow past the lung at a pressure at the tip.
    pub(crate) fn at(&self, tip: f64) -> f64 {
        self.curve.map_or(0.0, |[offset, slope, root]| {
            offset + self.lift + slope * tip + root * signed_root(tip)
        })
    }

    /// What passes the lung over a stretch.
    pub(crate) fn past(&self, s: Stretch) -> f64 {
        self.curve.map_or(0.0, |[offset, slope, root]| {
            (offset + self.lift) * s.time + slope * s.tip + root * s.root
        })
    }

    /// How much of the law is a guess: half beside half a quiet end.
    pub(crate) fn guessed(&self) -> f64 {
        0.5 / (self.points.straight.0[0] + 0.5)
    }

    /// How far the curve is in doubt at a pressure, as a factor to a quiet end's own.
    pub(crate) fn doubt(&self, tip: f64) -> f64 {
        self.points.doubt(tip)
    }

    /// An interval before the first breath: flows at its ends, its sums where it carries no flag.
    pub(crate) fn settle(&mut self, flows: (f64, f64), us: u64, sums: Option<Stretch>) {
        if !self.is_guessing() {
            return;
        }
        let b = &mut self.beginning;
        if let Some(sums) = sums {
            b.sums = b.sums.with(sums);
            b.clear_us += us;
        }
        if !b.moved {
            let (low, high) = b.bounds.unwrap_or((flows.0, flows.0));
            let (low, high) = (low.min(flows.1), high.max(flows.1));
            b.bounds = Some((low, high));
            if sums.is_none() || high - low > 4.0 {
                b.moved = true;
                b.next_us = 3_000_000;
                if b.clear_us < 600_000 {
                    *self =
                        Self { beginning: std::mem::take(&mut self.beginning), ..Self::default() };
                }
                return;
            }
        }
        if b.clear_us < b.next_us {
            return;
        }
        b.next_us = b.clear_us + if b.moved { 1_000_000 } else { 40_000 };
        let sums = b.sums;
        self.points = Evidence::still(1.0, sums.tip / sums.time, sums.flow / sums.time);
        self.conclude(None);
    }

    /// Nothing stands still any more where another has dropped that.
    pub(crate) fn drop_level_with(&mut self, other: &Self) {
        if other.still.is_none() {
            (self.still, self.lift) = (None, 0.0);
        }
    }

    /// A flow that stands still, and its pressure.
    pub(crate) fn level(&mut self, still: (f64, f64), lifted: Option<bool>) {
        self.still = Some(still);
        self.lift_line(lifted);
    }

    /// A trusted breath: its sums, what went in up to the turn and in all, and the quiet end before it;
    /// whether a level stands after it, and whether it is off the line.
    pub(crate) fn learn(
        &mut self,
        whole: Stretch,
        inward: f64,
        (quiet, inspired): (Option<EndExpiration>, f64),
        (stands, lifted): (bool, bool),
    ) {
        let mean = Evidence { breaths: whole, ..Evidence::default() };
        let new = mean.plus(Evidence::of_quiet(quiet, inspired, whole), 1.0);
        if !stands {
            (self.still, self.lift) = (None, 0.0);
        }
        let miss = if self.is_known() { whole.flow - self.past(whole) } else { 0.0 };
        let quarter = inward.max(0.0) / 4.0;
        let misfit = i8::from(miss > quarter) - i8::from(miss < -quarter);
        if self.is_guessing() || misfit != 0 && misfit == self.misfit {
            self.points = self.previous.plus(new, 1.0);
            self.misfit = 0;
        } else {
            let part = if misfit == 0 { 1.0 } else { 0.125 };
            self.points = Evidence::default().plus(self.points, 0.875).plus(new, part);
            self.misfit = misfit;
        }
        self.inspired = self.inspired * 7.0 / 8.0 + inward;
        self.scatter += (miss.abs() - self.scatter) / 4.0;
        self.previous = mean;
        self.breaths += 1;
        self.conclude(Some(lifted));
        // How far above the line a still flow usually lies.
        let Some((flow, pressure)) = self.still else { return };
        let above = flow - (self.at(pressure) - self.lift);
        if self.breaths <= 8 {
            (self.bent, self.lift) = (above, 0.0);
        } else if self.lift == 0.0 {
            self.bent += (above - self.bent) / 8.0;
        }
    }

    fn conclude(&mut self, lifted: Option<bool>) {
        self.curve = self.points.curve().or(self.curve);
        self.lift_line(lifted);
    }

    /// Off the line by more than 0.6 mL/s and a sixteenth of the usual inspired volume a second.
    fn lift_line(&mut self, lifted: Option<bool>) {
        self.lift = 0.0;
        let Some((flow, pressure)) = self.still else { return };
        let above = flow - self.at(pressure) - self.bent;
        let least = (self.inspired / 128.0).max(0.6);
        if lifted.unwrap_or(above.abs() > least) {
            self.lift = above;
        }
    }
}
