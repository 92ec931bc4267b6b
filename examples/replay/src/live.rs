//! A monitor that is given one sample after another, for callers who have no recording.

use crate::input::columns::reading;
use crate::tables::column::Cell;
use crate::tables::tabulate::Table;
use crate::tables::{breaths, events};
use tidevane::monitor::{Monitor, Report, Settings};
use tidevane::quantity::Instant;

/// What there is to say: rows of the tables of breaths and events.
type Said = Vec<(Table, Vec<Cell>)>;

/// A monitor under way.
#[derive(Debug)]
pub struct Live {
    monitor: Monitor,
    /// What a refused sample brought, which its error could not say.
    unsaid: Said,
}

impl Live {
    pub(crate) fn new(settings: Settings) -> Self {
        Self { monitor: Monitor::new(settings), unsaid: Said::new() }
    }

    /// A sample at a time in microseconds, in mL/s and cmH2O.
    ///
    /// # Errors
    /// Where a number is none or out of range; the sample then counts as lost, and what that brought is said
    /// with the next call.
    pub fn push(&mut self, us: u64, flow: f64, pressure: f64) -> Result<Said, String> {
        match reading(flow, pressure) {
            Ok(reading) => {
                let report = self.monitor.push_at(Instant::from_us(us), reading);
                Ok(self.said(&report))
            }
            Err(why) => {
                let report = self.monitor.lost();
                self.unsaid = self.said(&report);
                Err(why)
            }
        }
    }

    /// A sample that could not be had.
    pub fn lost(&mut self) -> Said {
        let report = self.monitor.lost();
        self.said(&report)
    }

    /// No sample comes any more.
    pub fn finish(&mut self) -> Said {
        let mut all = Said::new();
        loop {
            let report = self.monitor.finish();
            if report.is_silent() {
                return all;
            }
            all.extend(self.said(&report));
        }
    }

    fn said(&mut self, report: &Report) -> Said {
        let event = |(event, time)| (Table::Events, events::of(event, time).to_vec());
        let events = events::timed(report, &self.monitor).map(event);
        let breath =
            report.breath.as_ref().map(|breath| (Table::Breaths, breaths::of(breath).to_vec()));
        std::mem::take(&mut self.unsaid).into_iter().chain(events).chain(breath).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Three seconds of readings that are no numbers ring after two; the caller who only met errors meanwhile
    /// hears of it with the next sample.
    #[test]
    fn what_a_refused_sample_brought_is_said_with_the_next() {
        let mut live = Live::new(Settings::default());
        for n in 0..300 {
            assert!(live.push(n * 10_000, f64::from((n % 50) as u32) - 25.0, 5.0).is_ok());
        }
        for n in 300..600 {
            assert!(live.push(n * 10_000, f64::NAN, 5.0).is_err());
        }
        let said = live.push(6_000_000, 1.0, 5.0).unwrap();
        let text = format!("{said:?}");
        assert!(text.contains("sensor fault"), "{text}");
    }
}
