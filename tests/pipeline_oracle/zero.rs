//! A zero that is off: by the line through quiet flow and mean flow in roots of pressure, by quiet flow
//! outward, or by how a quiet flow moved.

use crate::quiet::EndExpiration;
use crate::shape::Shape;

#[derive(Debug, Default)]
pub(crate) struct Zero {
    usual: Option<TypicalBreath>,
    change: Option<Change>,
    /// A tail stood just at the border: whether that breath counted is not known here.
    pub(crate) is_unsure: bool,
}

/// Quiet flow and the root of its pressure, mean flow and the mean root at the tip.
type TypicalBreath = [f64; 4];

/// What is usual of the quiet flow, of what escapes beside it, and of the pressure above its own.
#[derive(Debug, Clone, Copy, Default)]
struct Change {
    quiet: f64,
    /// What is always left of the expiration.
    tail: f64,
    escaped: f64,
    pressed: f64,
    spread: f64,
    evidence: f64,
    moved: f64,
    told: bool,
    breaths: u32,
}

fn toward(from: f64, to: f64) -> f64 {
    from + (to - from) / 8.0
}

/// A mean is cut to one step, and a tail is between two of them.
const CUT: f64 = 2.0 / 65_536.0;

impl Zero {
    /// The leak has become another one.
    pub(crate) fn restart(&mut self) {
        self.usual = None;
    }

    /// A breath, with the quiet end of 150 ms and more before it. How the quiet flow moved is weighed each time; the
    /// line is of those in which the expiration was over: moving by less than 0.5 mL/s or a 32nd of the inspired
    /// volume a second.
    pub(crate) fn learn(&mut self, shape: &Shape) {
        let Some(q) = shape.quiet.filter(|q| q.span >= 150_000.0) else { return };
        let beyond = q.tail - (shape.inspired / 32.0).max(0.5);
        self.is_unsure |= beyond.abs() < CUT;
        let is_over = beyond <= 0.0;
        if self.step(shape, &q, is_over) {
            self.usual = None;
        }
        if !is_over {
            return;
        }
        let [flow, time] = [shape.all[0], shape.all[3]];
        let now =
            [q.flow, q.pressure.abs().sqrt(), flow / time, shape.whole.root / shape.whole.time];
        let was = self.usual.unwrap_or(now);
        self.usual = Some(std::array::from_fn(|i| toward(was[i], now[i])));
    }

    /// What an offset may be by each of the three.
    pub(crate) fn offsets(&self) -> Vec<f64> {
        let line = |[quiet, quiet_root, mean, root]: TypicalBreath| {
            let slope = (mean - quiet).max(0.0) / (root - quiet_root);
            [quiet, quiet - slope * quiet_root]
        };
        self.usual.iter().flat_map(|u| line(*u)).chain(self.change.map(|c| c.moved)).collect()
    }

    /// Weighs a drift against a leak; whether it was a leak.
    fn step(&mut self, shape: &Shape, q: &EndExpiration, is_over: bool) -> bool {
        let time = shape.all[3];
        let (escaped, pressed) = (shape.all[0] - q.flow * time, shape.all[2] - q.pressure * time);
        let (quiet, tail) = (q.flow, q.tail);
        let first = Change { quiet, tail, escaped, pressed, spread: 0.3, ..Change::default() };
        let Some(c) = &mut self.change else {
            self.change = Some(first);
            return false;
        };
        c.breaths += 1;
        let by = q.flow - c.quiet;
        let expected = if c.pressed == 0.0 { c.escaped } else { c.escaped * pressed / c.pressed };
        let rest = escaped - expected;
        if by.abs() < (shape.inspired / 16.0).max(0.6) + (q.tail - c.tail).abs() {
            (c.evidence, c.told) = (0.0, false);
            c.quiet = toward(c.quiet, q.flow);
            c.tail = toward(c.tail, q.tail);
            let near = rest.clamp(-2.0 * c.spread, 2.0 * c.spread);
            c.escaped = toward(c.escaped, expected + near);
            c.pressed = toward(c.pressed, pressed);
            c.spread = toward(c.spread, rest.abs().min(2.0 * c.spread));
            return false;
        }
        let on = c.told && (by > 0.0) == (c.moved > 0.0);
        c.moved = if on { c.moved + (by - c.moved) / 4.0 } else { by };
        // A leak would lose at least so much more; both in standard deviations.
        let root = q.pressure.max(0.3).sqrt();
        let leak = by * (shape.whole.root / shape.whole.time - root) / root * time;
        let sd = c.spread.hypot(shape.inspired / 32.0).hypot(0.05);
        let sign = if leak < 0.0 { -1.0 } else { 1.0 };
        let (rest, leak) =
            ((rest / sd).clamp(-30.0, 30.0) * sign, (leak / sd).clamp(-30.0, 30.0) * sign);
        let nearer = rest.min(leak);
        let said = ((leak - nearer).powi(2) - nearer.powi(2)) / 2.0;
        // An expiration that was not over speaks for neither where flow and balance move against each other.
        let mut said = if rest < -1.0 && !is_over { 0.0 } else { said.clamp(-2.6, 2.6) };
        if q.flow + q.tail < -0.8 && q.pressure > 1.0 && (said > 0.0 || is_over) {
            said = (said + 2.6).min(2.6);
        }
        c.evidence += said;
        if c.evidence < -5.0 {
            *c = Change { breaths: 5, ..first };
            return true;
        }
        c.told |= c.evidence > 5.0 && c.breaths > 5 && c.moved.abs() > 0.8;
        false
    }
}
