//! Accounts for every accepted reading: which breath it belongs to, and what flowed meanwhile.
//!
//! A second gate with the same settings says what was accepted. The breaths' borders are the
//! crate's own; all that lies between them is counted here again, in `f64`.

use super::setup::Setup;
use tidevane::breath::Breath;
use tidevane::monitor::BreathReport;
use tidevane::quantity::{Duration, Flow, Instant, Saturated, Volume};
use tidevane::signal::{End, Flags, GateOutcome, GateState, Interval, Reading};

/// The readings since the last fresh start, and where the next breath must begin.
#[derive(Debug, Default)]
pub(crate) struct Account {
    gate: GateState,
    steps: Vec<Interval>,
    /// Net volume up to the end of each step, mL.
    volume: Vec<f64>,
    begun: Option<Instant>,
    expected: Option<Instant>,
    /// A whole run ended before this reading: its last moment.
    pub(crate) cut: Option<Instant>,
    time: Heard,
}

/// What is known of the time: a timer is believed up to a minute ahead of it, or the eighth time in a row.
#[derive(Debug, Default, Clone, Copy)]
struct Heard {
    latest: Option<Instant>,
    ahead: u8,
    /// The latest is a reading's, and nothing was lost, refused or told since.
    of_reading: bool,
}

impl Heard {
    fn reading(&mut self, at: Instant) {
        let latest = self.latest.map_or(at, |latest| latest.max(at));
        *self = Self { latest: Some(latest), ahead: 0, of_reading: latest == at };
    }

    /// Whether it is believed.
    fn tick(&mut self, at: Instant) -> bool {
        self.of_reading = false;
        let Some(latest) = self.latest else {
            self.latest = Some(at);
            return true;
        };
        let far = at > latest.after(Duration::from_millis(60_000));
        if far && self.ahead < 7 {
            self.ahead += 1;
            return false;
        }
        if at > latest {
            (self.latest, self.ahead) = (Some(at), 0);
        }
        at > latest
    }
}

fn ml_s(reading: End) -> f64 {
    f64::from(reading.flow.to_bits()) / 65_536.0
}

fn seconds(us: u64) -> f64 {
    us as f64 / 1e6
}

impl Account {
    /// Takes what the monitor takes.
    pub(crate) fn take(&mut self, setup: &Setup, at: Instant, reading: Reading) {
        let flow = reading.flow.saturating_sub(setup.offset).value;
        let reading = Reading { flow, ..reading };
        self.cut = None;
        match setup.gate.step(&mut self.gate, at, reading) {
            GateOutcome::Start => {
                self.begun = Some(at);
                self.time.reading(at);
            }
            GateOutcome::Step(step) => {
                self.time.reading(at);
                let gap = step.flags.has(Flags::GAP);
                let mean = (ml_s(step.from) + ml_s(step.to)) / 2.0;
                let more = if gap { 0.0 } else { mean * seconds(step.span.to_us()) };
                self.volume.push(self.volume.last().unwrap_or(&0.0) + more);
                self.steps.push(step);
            }
            GateOutcome::Cut { since, .. } => {
                if at < since {
                    // The clock was set back: time is counted from here.
                    self.time = Heard::default();
                }
                self.time.reading(at);
                self.cut = Some(self.last());
                // What is told with it is checked first, by the caller.
            }
            GateOutcome::Refused(_) => self.time.of_reading = false,
        }
    }

    pub(crate) fn lost(&mut self, setup: &Setup) {
        setup.gate.lost(&mut self.gate);
        self.time.of_reading = false;
    }

    /// A timer told the time.
    pub(crate) fn tell(&mut self, setup: &Setup, at: Instant) {
        if self.time.tick(at) {
            setup.gate.tell(&mut self.gate, at);
        }
    }

    /// The last reading, where nothing is known of a later time.
    pub(crate) fn latest_reading(&self) -> Option<Instant> {
        let latest = self.time.latest.filter(|_| self.time.of_reading)?;
        (self.begun.is_some() && latest == self.last()).then_some(latest)
    }

    /// Nothing before this moment counts any more; `None` where nothing has been heard since. What was
    /// counted up to it.
    pub(crate) fn restart(&mut self, begun: Option<Instant>) -> Self {
        let gate = if begun.is_some() { self.gate } else { GateState::default() };
        let time = self.time;
        std::mem::replace(self, Self { gate, begun, time, ..Self::default() })
    }

    /// Whether a breath has begun that was not told yet.
    pub(crate) fn is_under_way(&self) -> bool {
        self.expected.is_some()
    }

    /// The last accepted moment.
    pub(crate) fn last(&self) -> Instant {
        self.steps.last().map_or(self.begun.unwrap_or_default(), |step| step.at)
    }

    /// Net volume up to a moment, and by how much its border may be off: within one interval the
    /// crossing is known to 1/65 536 of it and a microsecond, and may be rounded to its start.
    fn until(&self, at: Instant) -> (f64, f64) {
        let i = self.steps.partition_point(|step| step.at < at);
        let before = if i == 0 { 0.0 } else { self.volume[i - 1] };
        let near = &self.steps[i..self.steps.len().min(i + 2)];
        let unsure = near.iter().filter(|step| !step.flags.has(Flags::GAP)).map(|step| {
            let (from, to) = (ml_s(step.from), ml_s(step.to));
            let whole = seconds(step.span.to_us());
            (to - from).abs() * (whole / 65_536.0 + 1e-6) + from.abs().max(to.abs()) * 1e-6
        });
        let unsure = unsure.sum();
        let Some(step) = near.first().filter(|step| !step.flags.has(Flags::GAP)) else {
            return (before, unsure);
        };
        let (from, to, whole) = (ml_s(step.from), ml_s(step.to), seconds(step.span.to_us()));
        let part = seconds(at.since(step.start()).to_us());
        let here = from + (to - from) * part / whole;
        (before + (from + here) / 2.0 * part, unsure)
    }

    /// A closed breath: it begins where the one before ended, its parts last as long as they say,
    /// its volumes are those of the readings inside, and what was wrong inside is remarked.
    pub(crate) fn close(&mut self, closed: &BreathReport) {
        let b = &closed.breath;
        assert!(b.onset <= b.end_insp && b.end_insp <= b.end, "{b:?}");
        match self.expected {
            Some(expected) => assert_eq!(b.onset, expected, "a gap or overlap of breaths"),
            None => assert!(Some(b.onset) >= self.begun, "a breath before the first reading"),
        }
        assert!(b.end <= self.last(), "a breath of what was not heard");
        // What was cut for the leak model's sake begins again at any later turn.
        let cut = b.flags.has(Flags::CUT);
        (self.expected, self.begun) =
            if cut { (None, Some(b.end)) } else { (Some(b.end), self.begun) };
        assert_eq!(b.inspiration.span(), b.insp_time(), "{b:?}");
        assert_eq!(b.expiration.span(), b.exp_time(), "{b:?}");
        let ((a, da), (m, dm), (e, de)) =
            (self.until(b.onset), self.until(b.end_insp), self.until(b.end));
        let (more, top) = self.still_in(b, m);
        let (returned, m) = (b.returned(), m + more);
        for (got, want, unsure) in [(b.inspired, m - a, da + dm), (returned, m - e, dm + de)] {
            if got.saturated {
                assert!(want.abs() > 32_767.0 || b.flags.has(Flags::SATURATED), "{b:?}");
                continue;
            }
            let got = f64::from(got.value.to_bits()) / 65_536.0;
            let allowed = 2.0 / 65_536.0 + unsure + want.abs() * 1e-9;
            assert!((got - want).abs() <= allowed, "{got} mL, not {want} ± {allowed}: {b:?}");
        }
        self.came_out(b, (m, top), dm + de);
        let first = self.steps.partition_point(|step| step.start() < b.onset);
        for step in &self.steps[first..] {
            if step.at <= b.end {
                assert!(b.flags.has(step.flags), "{} is not in {}: {step:?}", step.flags, b.flags);
            }
        }
    }

    /// The most that still goes in at the sensor after the turn, up to the first reading at which flow goes
    /// out, and when that was.
    fn still_in(&self, b: &Breath, turned: f64) -> (f64, Instant) {
        let mut most = (0.0_f64, b.end_insp);
        for (step, volume) in self.expiration(b).filter(|(step, _)| !step.flags.has(Flags::GAP)) {
            if volume - turned > most.0 {
                most = (volume - turned, step.at);
            }
            if step.to.flow <= Flow::ZERO {
                break;
            }
        }
        most
    }

    /// The readings of an expiration, and the net volume up to each.
    fn expiration(&self, b: &Breath) -> impl Iterator<Item = (&Interval, f64)> {
        let (from, until) = (b.end_insp, b.end);
        let steps = self.steps.iter().zip(self.volume.iter().copied());
        steps.filter(move |(step, _)| step.at > from && step.at <= until)
    }

    /// What came out after the sensor had the most in it: at no reading more than is told; and the expired
    /// volume: all that came back by the end, or before a pause of more than 2 s the most.
    fn came_out(&self, b: &Breath, (most_in, top): (f64, Instant), unsure: f64) {
        if b.expired.saturated || b.most_out.saturated {
            return;
        }
        assert!(b.end_insp <= b.out_until && b.out_until <= b.end, "{b:?}");
        let told = |volume: Saturated<Volume>| f64::from(volume.value.to_bits()) / 65_536.0;
        let (expired, most_out) = (told(b.expired), told(b.most_out));
        let allowed = |want: f64| 2.0 / 65_536.0 + unsure + want.abs() * 1e-9;
        let back = (most_in - self.until(b.end).0).max(0.0);
        // Nothing ever came out where that was the turn.
        let never = b.out_until == b.end_insp;
        let most = if never { 0.0 } else { most_in - self.until(b.out_until).0 }.max(back);
        assert!((most_out - most).abs() <= allowed(most), "{most_out} mL, not {most}: {b:?}");
        let paused = b.end.since(b.out_until) > Duration::from_millis(2_000);
        let want = if paused { most } else { back };
        assert!((expired - want).abs() <= allowed(want), "{expired} mL, not {want}: {b:?}");
        for (_, volume) in self.expiration(b).filter(|(step, _)| step.at > top) {
            let out = most_in - volume;
            assert!(most_out >= out - allowed(out), "{out} mL out: {b:?}");
        }
    }
}
