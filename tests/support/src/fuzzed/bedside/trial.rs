//! The book of a breathing trial against a second book, which keeps every event and reads them all again.
//!
//! - It fails with the first heart that was slow for longer than the limit, or with a low saturation despite
//!   oxygen, whichever comes first; else it lasts its time and says what hides whether it failed.
//! - Once it is over nothing but a new begin changes it; what comes too early changes nothing but the doubt.

use crate::fuzzed::arguments::span;
use crate::fuzzed::bytes::Bytes;
use crate::fuzzed::refused::{held, long};
use crate::fuzzed::words::said;
use tidevane::bedside::{
    BreathingTrial, FailReason, NoTrialOutcome, TrialEvent, TrialOutcome, TrialState, TrialTotals,
};
use tidevane::quantity::{Duration, Instant};

const EVENTS: [TrialEvent; 11] = [
    TrialEvent::TimePasses,
    TrialEvent::Begins,
    TrialEvent::SlowHeartBegins,
    TrialEvent::SlowHeartEnds,
    TrialEvent::LowSaturationBegins,
    TrialEvent::LowSaturationEnds,
    TrialEvent::LowDespiteOxygen,
    TrialEvent::Stimulated,
    TrialEvent::WatchLost,
    TrialEvent::WatchBack,
    TrialEvent::Stops,
];

pub(super) fn check(bytes: &mut Bytes<'_>) -> Option<()> {
    let (lasting, slow) = (span(bytes)?, span(bytes)?);
    let made = BreathingTrial::new(lasting, slow);
    held(
        &made,
        &[("lasting", long(lasting, 60_000, 7_200_000)), ("slow_heart", long(slow, 1_000, 60_000))],
    );
    let (trial, lasting, slow) = match made {
        Ok(trial) => (trial, lasting, slow),
        Err(_) => {
            let seconds = |n: u32| Duration::from_millis(n * 1_000);
            (BreathingTrial::default(), seconds(180), seconds(15))
        }
    };
    let mut book = Book { lasting: lasting.to_us(), slow: slow.to_us(), told: None, doubt: None };
    let (mut state, mut at) = (TrialState::default(), 1_000_000_000_u64);
    for _ in 0..bytes.u8()? % 32 {
        let (what, wait) = (bytes.u8()?, u64::from(bytes.u8()?) * 250_000);
        let event = EVENTS[usize::from(what) % EVENTS.len()];
        // Every eighth or so comes from before.
        at = if what >= 224 { at.saturating_sub(wait) } else { at + wait };
        let before = state;
        let got = trial.step(&mut state, Instant::from_us(at), event);
        assert_eq!(got, state.outcome());
        said(&got);
        let over = !matches!(before.outcome(), TrialOutcome::Running(_));
        if over && event != TrialEvent::Begins {
            assert_eq!(state, before, "{event:?} changed what is over");
            continue;
        }
        let (want, totals) = book.take(at, event);
        assert_eq!(got, want, "{event:?} at {at} of {:?}", book.told);
        assert_eq!(state.totals(), totals, "{event:?} at {at} of {:?}", book.told);
    }
    Some(())
}

struct Book {
    lasting: u64,
    slow: u64,
    /// Since the begin, and the begin itself.
    told: Option<Vec<(u64, TrialEvent)>>,
    doubt: Option<NoTrialOutcome>,
}

/// What is on at a moment, and since when.
#[derive(Default)]
struct On {
    slow: Option<u64>,
    low: Option<u64>,
    unwatched: Option<u64>,
}

impl Book {
    /// What the trial has come to, by all that was told.
    fn take(&mut self, at: u64, event: TrialEvent) -> (TrialOutcome, TrialTotals) {
        if event == TrialEvent::Begins {
            (self.told, self.doubt) = (Some(vec![(at, event)]), None);
        } else if let Some(told) = &mut self.told {
            let last = told.last().map_or(0, |(at, _)| *at);
            if at >= last {
                told.push((at, event));
            } else if event != TrialEvent::TimePasses {
                let now = self.doubts();
                self.doubt = now.or(Some(NoTrialOutcome::OutOfOrder));
            }
        }
        self.all()
    }

    /// The first doubt, of an event that was left out or one that was taken.
    fn doubts(&self) -> Option<NoTrialOutcome> {
        self.doubt.or_else(|| self.read().2)
    }

    fn all(&self) -> (TrialOutcome, TrialTotals) {
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
        let (mut now, end) = (began, began + self.lasting);
        for &(at, event) in told {
            if let Some(fails) = on.slow.map(|since| since + self.slow).filter(|fails| at > *fails)
            {
                on.last(&mut totals, fails - now);
                let (why, at) = (FailReason::SlowHeart, Instant::from_us(fails));
                return (Some(TrialOutcome::Failed { why, at }), totals, doubt);
            }
            if on.slow.is_none() && at >= end {
                on.last(&mut totals, end.max(now) - now);
                return (None, totals, doubt);
            }
            on.last(&mut totals, at - now);
            now = at;
            let mut ended = |was: Option<u64>| {
                if was.is_none() {
                    doubt.get_or_insert(NoTrialOutcome::BeginMissed);
                }
            };
            match event {
                TrialEvent::SlowHeartBegins => on.slow = on.slow.or(Some(at)),
                TrialEvent::SlowHeartEnds => ended(on.slow.take()),
                TrialEvent::LowSaturationBegins => on.low = on.low.or(Some(at)),
                TrialEvent::LowSaturationEnds => ended(on.low.take()),
                TrialEvent::WatchLost => {
                    on.unwatched = on.unwatched.or(Some(at));
                    doubt.get_or_insert(NoTrialOutcome::Unwatched);
                }
                TrialEvent::WatchBack => ended(on.unwatched.take()),
                TrialEvent::Stimulated => totals.stimulations += 1,
                TrialEvent::LowDespiteOxygen => {
                    let (why, at) = (FailReason::LowDespiteOxygen, Instant::from_us(at));
                    return (Some(TrialOutcome::Failed { why, at }), totals, doubt);
                }
                TrialEvent::Stops => {
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
        add(&mut totals.lasted, true);
        add(&mut totals.slow_heart, self.slow.is_some());
        add(&mut totals.low_saturation, self.low.is_some());
        add(&mut totals.unwatched, self.unwatched.is_some());
    }
}
