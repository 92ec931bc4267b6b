//! Time as alarms and trend see it: it does not go back with the recording's clock, and passes while
//! nothing usable is heard. What of it is only guessed may be taken back; the alarms then wait.

use crate::quantity::{Duration, Instant, Ring};
use crate::record;
use crate::signal::{Flags, Interval};

/// How often the alarms are told of the time. These six are all chosen here, no source.
const ALARM_TICK: Duration = Duration::from_millis(100);
/// How many of the latest intervals the usual one is taken from.
const USUAL: usize = 8;
/// What an interval is taken for before any was heard.
const FIRST: Duration = Duration::from_millis(10);
/// A timer is believed at once up to this far ahead.
const TICK_LEAP: Duration = Duration::from_millis(60_000);
/// What is told so often in a row is believed.
const IN_ORDER: u8 = 7;
/// Times that are not believed yet tell of what passed between them up to this.
const AHEAD: Duration = Duration::from_millis(10_000);
/// Over a gap, or from a sensor that stands still, nothing is heard.
const UNUSABLE: Flags = Flags::GAP.with(Flags::STUCK);

record! {
    #[const_default]
    /// How far the monitor's time is ahead of the recording's own, in µs.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub(super) struct Shift(i64);
}

impl Shift {
    /// A moment of the recording on the monitor's time.
    pub(super) fn of(self, own: Instant) -> Instant {
        Instant::from_us(own.to_us().saturating_add_signed(self.0))
    }

    /// A moment of the monitor's time as the recording has it.
    pub(super) fn own(self, at: Instant) -> Instant {
        Instant::from_us(at.to_us().saturating_add_signed(self.0.saturating_neg()))
    }
}

record! {
    #[const_default]
    /// What was heard, and for how long nothing.
    ///
    /// Breaths and samples carry the recording's own time. Where that is set back, the time here goes
    /// on: the shift between the two changes, and what rings is not moved by it.
    #[derive(Debug, Clone, PartialEq)]
    pub(super) struct Hearing {
        shift: Shift,
        /// Whether anything was heard, and whether a reading or a tick told the time.
        begun: bool,
        timed: bool,
        /// The latest accepted reading or tick.
        latest: Instant,
        /// The latest that ended a usable interval, at first what was heard first.
        usable: Instant,
        /// When the alarms are to be told of the time next.
        due: Instant,
        /// Time since the latest that is only guessed: an interval for each sample that did not count.
        guessed: Duration,
        /// The latest time far ahead that is not believed yet (zero for none), and how many in a row a
        /// timer told.
        ahead: Instant,
        ticks_ahead: u8,
        /// The latest usable interval in µs, not noted yet; 0 for none.
        interval: u32,
        /// Usable intervals noted with the alarms' tick, in µs.
        intervals: Ring<u32, USUAL>,
    }
}

impl Hearing {
    /// A moment of the recording on this time.
    pub(super) fn of(&self, own: Instant) -> Instant {
        self.shift.of(own)
    }

    /// A moment of this time as the recording has it now.
    pub(super) fn own(&self, at: Instant) -> Instant {
        self.shift.own(at)
    }

    /// Between the two as they stand now.
    pub(super) const fn shift(&self) -> Shift {
        self.shift
    }

    /// Now; `None` before anything was heard.
    pub(super) fn now(&self) -> Option<Instant> {
        self.begun.then(|| self.latest.after(self.guessed))
    }

    /// The latest moment that was told by a reading or a tick.
    pub(super) fn heard(&self) -> Instant {
        self.latest
    }

    /// A moment of the recording on this time where it lies within a second after the latest; else now.
    /// `None` before anything was heard.
    pub(super) fn near(&self, own: Instant) -> Option<Instant> {
        let (now, at) = (self.now()?, self.of(own));
        Some(if at >= now && at.since(now) <= Duration::from_millis(1_000) { at } else { now })
    }

    /// For how long nothing usable was heard.
    pub(super) fn blind(&self) -> Duration {
        self.latest.after(self.guessed).since(self.usable)
    }

    /// An interval was accepted. One over a gap or of a sensor that stands still is not usable.
    pub(super) fn accept(&mut self, interval: &Interval) {
        (self.ticks_ahead, self.ahead) = (0, Instant::default());
        self.latest = self.of(interval.at).max(self.latest);
        self.guessed = Duration::ZERO;
        if interval.flags.and(UNUSABLE).is_empty() {
            self.usable = self.latest;
            self.interval = interval.span.to_short_us().value;
        }
    }

    /// Whether nothing usable was heard for so long that the alarms want to be told.
    pub(super) fn is_silent(&self) -> bool {
        self.blind() >= ALARM_TICK
    }

    /// Whether the alarms are to be told of the time again.
    pub(super) fn is_due(&self) -> bool {
        self.begun && self.latest.after(self.guessed) >= self.due
    }

    /// Now, for the alarms; `None` before anything was heard. Keeps the latest usable interval as one of
    /// those that the usual one is taken from.
    pub(super) fn look(&mut self) -> Option<Instant> {
        let now = self.now()?;
        self.due = now.after(ALARM_TICK);
        if self.interval > 0 {
            self.intervals.push(core::mem::take(&mut self.interval));
        }
        Some(now)
    }

    /// A reading was accepted that nothing lies before: it makes no interval.
    pub(super) fn begin(&mut self, own: Instant) {
        self.hear(own);
    }

    /// Time passed without a reading, as a timer tells; whether it is believed. It is not while it
    /// stands behind what was heard, or more than a minute ahead of it and not eight times in a row.
    pub(super) fn tick(&mut self, own: Instant) -> bool {
        let at = self.of(own);
        if self.timed && at > self.latest.after(TICK_LEAP) && self.ticks_ahead < IN_ORDER {
            self.ticks_ahead = self.ticks_ahead.saturating_add(1);
            self.far_ahead(own);
            return false;
        }
        if !self.timed || at > self.latest {
            self.hear(own);
            return true;
        }
        if at < self.latest {
            // The timer was set back: it tells that time passes, and not how much.
            self.miss();
        }
        false
    }

    /// A time was told that is too far ahead to be believed yet: what passed since the latest such,
    /// or as long as usual.
    pub(super) fn far_ahead(&mut self, own: Instant) {
        let before = core::mem::replace(&mut self.ahead, own);
        let since = own.since(before);
        if before == Instant::default() || since.is_zero() || since > AHEAD {
            self.miss();
        } else {
            self.guessed = self.guessed.saturating_add(since);
        }
    }

    /// A sample was lost, refused or sent again: as long as usual passed, until something tells better.
    pub(super) fn miss(&mut self) {
        self.begun = true;
        self.guessed = self.guessed.saturating_add(self.usual());
    }

    /// The recording's own time was set back to this: here the usual interval passed.
    pub(super) fn restart(&mut self, own: Instant) {
        let now = self.now().map_or(own, |now| now.after(self.usual()));
        self.count_from(now, own);
    }

    /// From now on this moment of the recording is this one here.
    fn count_from(&mut self, now: Instant, own: Instant) {
        let shift = now.to_us().cast_signed().saturating_sub(own.to_us().cast_signed());
        self.shift = Shift(shift);
    }

    fn hear(&mut self, own: Instant) {
        if !core::mem::replace(&mut self.timed, true) {
            if self.begun {
                // So far losses alone: time goes on from there.
                self.count_from(Instant::default().after(self.guessed), own);
            } else {
                (self.begun, self.usable) = (true, own);
            }
        }
        self.latest = self.of(own).max(self.latest);
        self.guessed = Duration::ZERO;
        (self.ticks_ahead, self.ahead) = (0, Instant::default());
    }

    /// The median of the latest usable intervals: the one that half of them do not exceed.
    fn usual(&self) -> Duration {
        let latest = Some(self.interval).filter(|us| *us > 0);
        let spans = || self.intervals.iter().copied().chain(latest);
        // How many do not exceed it, less how many do.
        let rank = |span: u32| {
            spans()
                .fold(0_i32, |rank, other| rank.saturating_add(if other <= span { 1 } else { -1 }))
        };
        let usual = spans().filter(|span| rank(*span) >= 0).min();
        usual.map_or(FIRST, |us| Duration::from_us(us.into()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn interval(ms: u64, span: u32, flags: Flags) -> Interval {
        let (at, span) = (Instant::from_us(ms * 1_000), Duration::from_millis(span));
        Interval { at, span, flags, ..Interval::default() }
    }

    #[test]
    fn what_does_not_count_makes_time_pass_without_input() {
        let mut hearing = Hearing::default();
        assert_eq!((hearing.now(), hearing.blind()), (None, Duration::ZERO));
        hearing.begin(Instant::from_us(0));
        // Intervals of 5, 5 and 20 ms: the usual one is 5.
        for (at, span) in [(5, 5), (10, 5), (30, 20)] {
            hearing.accept(&interval(at, span, Flags::NONE));
            let _ = hearing.look();
        }
        hearing.miss();
        hearing.miss();
        assert_eq!(hearing.blind(), Duration::from_millis(10));
        // The next reading sets it right, but a gap is not input yet.
        hearing.accept(&interval(230, 200, Flags::GAP));
        assert_eq!(hearing.blind(), Duration::from_millis(200));
        hearing.accept(&interval(235, 5, Flags::STUCK));
        assert_eq!(hearing.blind(), Duration::from_millis(205));
        hearing.accept(&interval(240, 5, Flags::NONE));
        assert_eq!(hearing.blind(), Duration::ZERO);
    }

    #[test]
    fn time_goes_on_where_the_recordings_is_set_back() {
        let mut hearing = Hearing::default();
        hearing.begin(Instant::from_us(60_000_000));
        hearing.accept(&interval(60_010, 10, Flags::NONE));
        hearing.restart(Instant::from_us(0));
        hearing.begin(Instant::from_us(0));
        // 60.010 s and the usual 10 ms later.
        assert_eq!(hearing.now(), Some(Instant::from_us(60_020_000)));
        assert_eq!(hearing.own(Instant::from_us(60_020_000)), Instant::from_us(0));
        hearing.accept(&interval(10, 10, Flags::NONE));
        assert_eq!(hearing.now(), Some(Instant::from_us(60_030_000)));
    }

    #[test]
    fn losses_from_power_up_on_are_no_input_and_the_first_reading_goes_on_from_there() {
        let mut hearing = Hearing::default();
        for _ in 0..300 {
            hearing.miss();
        }
        // 300 × 10 ms
        assert_eq!(hearing.blind(), Duration::from_millis(3_000));
        hearing.begin(Instant::from_us(90_000_000));
        assert_eq!(hearing.now(), Some(Instant::from_us(3_000_000)));
        assert_eq!(hearing.own(Instant::from_us(3_000_000)), Instant::from_us(90_000_000));
        assert_eq!(hearing.blind(), Duration::from_millis(3_000));
        hearing.accept(&interval(90_010, 10, Flags::NONE));
        assert_eq!(
            (hearing.now(), hearing.blind()),
            (Some(Instant::from_us(3_010_000)), Duration::ZERO)
        );
    }

    #[test]
    fn the_first_time_far_ahead_passes_as_long_as_usual_and_the_next_what_lies_between() {
        let mut hearing = Hearing::default();
        hearing.begin(Instant::from_us(0));
        hearing.far_ahead(Instant::from_us(4_600_000));
        assert_eq!(hearing.blind(), FIRST);
        hearing.far_ahead(Instant::from_us(7_600_000));
        assert_eq!(hearing.blind(), Duration::from_millis(3_010));
    }

    #[test]
    fn silence_from_the_first_tick_on_is_no_input() {
        let mut hearing = Hearing::default();
        hearing.tick(Instant::from_us(1_000_000));
        hearing.tick(Instant::from_us(13_000_000));
        assert!(!hearing.tick(Instant::from_us(13_000_000))); // not later: nothing new
        assert_eq!(hearing.blind(), Duration::from_millis(12_000));
        hearing.tick(Instant::from_us(1_000)); // set back: time passes all the same
        assert_eq!(hearing.blind(), Duration::from_millis(12_010));
    }

    #[test]
    fn a_timer_far_ahead_is_believed_at_its_eighth_tick() {
        let minute = Instant::from_us(60_000_000);
        let begun = || {
            let mut hearing = Hearing::default();
            hearing.begin(Instant::from_us(0));
            hearing
        };
        // Just a minute ahead it is believed at once; with 1 us more after seven that were not.
        assert!(begun().tick(minute));
        let mut hearing = begun();
        let told = [(); 8].map(|()| hearing.tick(minute.after(Duration::from_us(1))));
        assert_eq!(told, [false, false, false, false, false, false, false, true]);
    }
}
