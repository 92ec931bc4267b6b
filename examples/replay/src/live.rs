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
pub struct Live(Monitor);

impl Live {
    pub(crate) fn new(settings: Settings) -> Self {
        Self(Monitor::new(settings))
    }

    /// A sample at a time in microseconds, in mL/s and cmH2O.
    ///
    /// # Errors
    /// Where a number is none or out of range; the sample then counts as lost.
    pub fn push(&mut self, us: u64, flow: f64, pressure: f64) -> Result<Said, String> {
        match reading(flow, pressure) {
            Ok(reading) => {
                let report = self.0.push_at(Instant::from_us(us), reading);
                Ok(self.said(&report))
            }
            Err(why) => {
                self.0.lost();
                Err(why)
            }
        }
    }

    /// A sample that could not be had.
    pub fn lost(&mut self) -> Said {
        let report = self.0.lost();
        self.said(&report)
    }

    /// No sample comes any more.
    pub fn finish(&mut self) -> Said {
        let mut all = Said::new();
        loop {
            let report = self.0.finish();
            if report.is_silent() {
                return all;
            }
            all.extend(self.said(&report));
        }
    }

    fn said(&self, report: &Report) -> Said {
        let event = |(event, time)| (Table::Events, events::of(event, time).to_vec());
        let events = events::timed(report, &self.0).map(event);
        let breath =
            report.breath.as_ref().map(|breath| (Table::Breaths, breaths::of(breath).to_vec()));
        events.chain(breath).collect()
    }
}
