//! The book of a breathing trial: every event is kept, and all are read again for each answer.
//!
//! - It fails with the first heart that was slow for longer than the limit; else it lasts its time and says what
//!   hides whether it failed.
//! - Once it is over nothing but a new begin changes it; what comes too early changes nothing but the doubt.

use tidevane::bedside::{NoTrialOutcome, TrialOutcome};
use tidevane::quantity::{Duration, Instant};

const LASTING_US: u64 = 180_000_000;
const SLOW_US: u64 = 15_000_000;

#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Event {
    Begins,
    TimePasses,
    /// A slow heart, a low saturation, nobody who watches: it begins, or ends.
    Slow(bool),
    Low(bool),
    Unwatched(bool),
    Stops,
}

/// Times with a slow heart and a low saturation.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct TrialTotals {
    pub(super) slow_heart: Duration,
    pub(super) low_saturation: Duration,
}

#[derive(Default)]
pub(super) struct Book {
    /// Since the begin, and the begin itself.
    told: Option<Vec<(u64, Event)>>,
    doubt: Option<NoTrialOutcome>,
    is_over: bool,
}

/// What is on at a moment, and since when.
#[derive(Default)]
struct On {
    slow: Option<u64>,
    low: Option<u64>,
}

impl Book {
    pub(super) fn take(&mut self, at: Instant, event: Event) {
        let at = at.to_us();
        if event == Event::Begins {
            *self = Self { told: Some(vec![(at, event)]), ..Self::default() };
        } else if let Some(told) = self.told.as_mut().filter(|_| !self.is_over) {
            let last = told.last().map_or(0, |(at, _)| *at);
            if at >= last {
                told.push((at, event));
            } else if event != Event::TimePasses {
                let now = self.doubts();
                self.doubt = now.or(Some(NoTrialOutcome::OutOfOrder));
            }
        }
        self.is_over = !matches!(self.all().0, TrialOutcome::Running(_));
    }

    /// The first doubt, of an event that was left out or one that was taken.
    fn doubts(&self) -> Option<NoTrialOutcome> {
        self.doubt.or_else(|| self.read().2)
    }

    /// What the trial has come to, by all that was told.
    pub(super) fn all(&self) -> (TrialOutcome, TrialTotals) {
        let (outcome, totals, _) = self.read();
        let lasted = || self.doubts().map_or(TrialOutcome::Completed, TrialOutcome::Unknown);
        (outcome.unwrap_or_else(lasted), totals)
    }

    /// Through all events again: the end, `None` where the time is over; times and counts; and the first doubt of
    /// what was taken.
    fn read(&self) -> (Option<TrialOutcome>, TrialTotals, Option<NoTrialOutcome>) {
        let (mut totals, mut doubt) = (TrialTotals::default(), None);
        let Some(told) = &self.told else { return (Some(TrialOutcome::NotBegun), totals, None) };
        let (mut on, began) = (On::default(), told[0].0);
        let (mut now, end) = (began, began + LASTING_US);
        for &(at, event) in told {
            if let Some(fails) = on.slow.map(|since| since + SLOW_US).filter(|fails| at > *fails) {
                on.last(&mut totals, fails - now);
                let at = Instant::from_us(fails);
                return (Some(TrialOutcome::Failed { at }), totals, doubt);
            }
            if on.slow.is_none() && at >= end {
                on.last(&mut totals, end.max(now) - now);
                return (None, totals, doubt);
            }
            on.last(&mut totals, at - now);
            now = at;
            match event {
                Event::Slow(true) => on.slow = on.slow.or(Some(at)),
                Event::Slow(false) => on.slow = None,
                Event::Low(true) => on.low = on.low.or(Some(at)),
                Event::Low(false) => on.low = None,
                Event::Unwatched(true) => {
                    doubt.get_or_insert(NoTrialOutcome::Unwatched);
                }
                Event::Stops => {
                    let after = Duration::from_us(at - began);
                    return (Some(TrialOutcome::Stopped(after)), totals, doubt);
                }
                _ => {}
            }
            // A slow heart that has ended after the time lets it end at once.
            if on.slow.is_none() && now >= end {
                return (None, totals, doubt);
            }
        }
        let left = Duration::from_us(end.saturating_sub(now));
        (Some(TrialOutcome::Running(left)), totals, doubt)
    }
}

impl On {
    fn last(&self, totals: &mut TrialTotals, us: u64) {
        let add = |span: &mut Duration, is_on| {
            *span = Duration::from_us(span.to_us() + if is_on { us } else { 0 });
        };
        add(&mut totals.slow_heart, self.slow.is_some());
        add(&mut totals.low_saturation, self.low.is_some());
    }
}
