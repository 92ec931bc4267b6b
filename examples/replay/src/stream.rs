//! The lines of a source, with the time that passes where it is silent.

use crate::input::recording::Line;
use crate::source::Source;
use anyhow::Result;
use std::collections::VecDeque;
use tidevane::quantity::{Duration, Instant};
use tidevane::signal::Reading;

/// What comes next.
pub(crate) enum Step {
    /// A line that could not be read.
    Lost,
    /// Time passes up to this moment, and nothing is recorded.
    Silent(Instant),
    Reading(Instant, Reading),
}

/// How often time passes where a recording is silent: finely while alarms may still begin, then in larger steps,
/// so that a silence costs little however long it is.
const TICKS: [(Duration, Duration); 3] = [
    (Duration::from_millis(120_000), Duration::from_millis(100)),
    (Duration::from_millis(3_600_000), Duration::from_millis(1_000)),
    (LONGEST, Duration::from_millis(60_000)),
];
/// So much of a silence is gone through.
const LONGEST: Duration = Duration::from_us(24 * 3_600_000_000);
/// So many readings in a row the gate takes to believe a time far ahead, less the first.
const IN_ORDER: usize = 7;

/// Goes through a source. A silence is longer than it takes to cut the recording, and the rows after it
/// go on from there: a stray time makes none.
pub(crate) struct Stream<'a> {
    source: &'a mut Source,
    cut: Duration,
    last: Option<Instant>,
    /// Time that passes before the next line, up to a moment.
    silence: Option<(Instant, Instant)>,
    /// Lines that were looked at ahead, and where each stands.
    held: VecDeque<(Line, String)>,
    place: Option<String>,
}

impl<'a> Stream<'a> {
    pub(crate) fn new(source: &'a mut Source, cut: Duration) -> Self {
        Self { source, cut, last: None, silence: None, held: VecDeque::new(), place: None }
    }

    pub(crate) fn next(&mut self) -> Result<Option<Step>> {
        if let Some((now, until)) = self.silence.take_if(|(now, until)| now < until) {
            let passed = now.since(self.last.unwrap_or(now));
            let tick = TICKS.iter().find(|(within, _)| passed < *within).unwrap_or(&TICKS[2]).1;
            self.silence = Some((now.after(tick), until));
            return Ok(Some(Step::Silent(now)));
        }
        let line = match self.held.pop_front() {
            Some((line, place)) => {
                self.place = Some(place);
                line
            }
            None => {
                self.place = None;
                let Some(line) = self.source.next()? else { return Ok(None) };
                line
            }
        };
        let Line::Good(at, reading) = line else { return Ok(Some(Step::Lost)) };
        let silent = self.last.filter(|last| at.since(*last) > self.cut && self.silence.is_none());
        if let Some(last) = silent {
            let place = self.place();
            if self.goes_on_from(at)? {
                self.held.push_front((line, place));
                self.silence = Some((last.after(TICKS[0].1), at.min(last.after(LONGEST))));
                return self.next();
            }
        } else {
            self.last = Some(at);
        }
        self.silence = None;
        Ok(Some(Step::Reading(at, reading)))
    }

    /// Where the latest line stands.
    pub(crate) fn place(&self) -> String {
        self.place.clone().unwrap_or_else(|| self.source.place())
    }

    /// Whether the readings to come go on from a time.
    fn goes_on_from(&mut self, at: Instant) -> Result<bool> {
        while self.held.len() < IN_ORDER {
            let Some(line) = self.source.next()? else { break };
            let place = self.source.place();
            self.held.push_back((line, place));
        }
        let mut last = at;
        let times = self.held.iter().filter_map(|(line, _)| match line {
            Line::Good(at, _) => Some(*at),
            Line::Bad => None,
        });
        Ok(times.take(IN_ORDER).all(|at| std::mem::replace(&mut last, at) <= at))
    }
}
