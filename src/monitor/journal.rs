//! What a shift leaves behind: settings, steps, alarms, verdicts and times that nothing could be told of,
//! in bounded memory.

use super::{Event, Report};
use crate::quantity::{Duration, Ring};
use crate::record;

record! {
    /// One line of the journal.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub struct JournalEntry {
        /// Counts up from 0 by one for each entry, without a gap; wraps after 4·10⁹.
        pub number: u32,
        /// What happened, and when.
        pub event: Event,
    }
}

record! {
    /// The latest `N` entries. Give it every report of the monitor:
    ///
    /// ```
    /// use tidevane::monitor::{Journal, Monitor, Settings};
    /// use tidevane::quantity::{Instant, Rate};
    ///
    /// let mut monitor = Monitor::new(Settings::default());
    /// let mut journal = Journal::<16>::new();
    /// let weaned = monitor.settings().change().set_rate(Rate::from_int(30)).build()?;
    /// journal.take(&monitor.settings_changed(Instant::from_us(5_000_000), weaned));
    /// let entry = journal.pop().unwrap();
    /// assert_eq!((entry.number, entry.event.what.name()), (0, "wean-step"));
    /// # Ok::<(), tidevane::quantity::SettingError>(())
    /// ```
    ///
    /// Gaps, refusals and reached limits come in swarms: one that follows another of its kind within a
    /// minute is not kept. Where it is full the oldest entry makes room and is counted as lost; sequence numbers show the
    /// same to whoever reads. 56 bytes an entry.
    #[derive(Debug, Clone, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct Journal<const N: usize> {
        /// Each place is taken by `Some`.
        entries: Ring<Option<JournalEntry>, N>,
        next: u32,
        lost: u32,
    }
}

const MINUTE: Duration = Duration::from_millis(60_000);

impl<const N: usize> Default for Journal<N> {
    fn default() -> Self {
        Self::new()
    }
}

impl<const N: usize> Journal<N> {
    /// An empty journal.
    #[must_use]
    pub const fn new() -> Self {
        Self { entries: Ring::new(None), next: 0, lost: 0 }
    }

    /// Keeps what [belongs into a journal](super::EventKind::is_for_journal).
    pub fn take(&mut self, report: &Report) {
        report.events.iter().filter(|event| event.what.is_for_journal()).for_each(|event| {
            if !self.has_lately(event) {
                self.add(*event);
            }
        });
    }

    /// Whether the journal tells of the same thing shortly before: what comes in swarms makes one line
    /// a minute.
    fn has_lately(&self, event: &Event) -> bool {
        let name = event.what.name();
        event.what.may_swarm()
            && self.entries().map(|entry| &entry.event).any(|other| {
                // A clock that was set back begins anew.
                let is_near = event.at >= other.at && event.at.since(other.at) < MINUTE;
                other.what.name() == name && is_near
            })
    }

    fn add(&mut self, event: Event) {
        let entry = JournalEntry { number: self.next, event };
        self.next = self.next.wrapping_add(1);
        if self.entries.push(Some(entry)).is_some() {
            self.lost = self.lost.saturating_add(1);
        }
    }

    /// The oldest entry, taken out.
    pub fn pop(&mut self) -> Option<JournalEntry> {
        self.entries.pop()?
    }

    /// The entries, oldest first.
    pub fn entries(&self) -> impl Iterator<Item = &JournalEntry> {
        self.entries.iter().flatten()
    }

    /// How many entries are held.
    #[must_use]
    pub const fn len(&self) -> usize {
        self.entries.len()
    }

    /// Whether none is held.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }

    /// How many entries made room for later ones before anyone took them out; ends at 4·10⁹.
    #[must_use]
    pub const fn lost(&self) -> u32 {
        self.lost
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::monitor::{EventKind, MachineSettings};
    use crate::quantity::Instant;
    use crate::signal::Refusal;
    use std::vec::Vec;

    fn report(us: u64) -> Report {
        let mut report = Report::default();
        let at = Instant::from_us(us);
        report.add(Event { at, what: EventKind::Stuck });
        report.add(Event { at, what: EventKind::WeanStep(MachineSettings::default()) });
        report
    }

    #[test]
    fn the_oldest_makes_room_and_is_counted() {
        let mut journal = Journal::<3>::default();
        for us in 0..5 {
            journal.take(&report(us));
        }
        assert_eq!((journal.len(), journal.lost()), (3, 2));
        let kept: Vec<_> = journal.entries().map(|e| (e.number, e.event.at.to_us())).collect();
        assert_eq!(kept, [(2, 2), (3, 3), (4, 4)]);
        assert_eq!(journal.pop().map(|e| e.number), Some(2));
        journal.take(&report(9));
        assert_eq!((journal.len(), journal.lost()), (3, 2));
        while journal.pop().is_some() {}
        assert!(journal.is_empty());
    }

    #[test]
    fn what_comes_in_swarms_makes_one_line_a_minute() {
        let mut journal = Journal::<8>::new();
        for s in 0..=60 {
            let at = Instant::from_us(s * 1_000_000);
            let mut report = Report::default();
            report.add(Event { at, what: EventKind::Refused(Refusal::FlowOutOfRange) });
            report.add(Event { at, what: EventKind::Gap { since: at, cut: false } });
            journal.take(&report);
        }
        // At 0 and at 60 s, each of both.
        let kept: Vec<_> =
            journal.entries().map(|e| (e.event.what.name(), e.event.at.to_us())).collect();
        let want =
            [("out-of-range", 0), ("gap", 0), ("out-of-range", 60_000_000), ("gap", 60_000_000)];
        assert_eq!(kept, want);
    }

    #[test]
    fn a_journal_of_no_places_loses_all_and_says_so() {
        let mut journal = Journal::<0>::new();
        journal.take(&report(1));
        assert_eq!((journal.len(), journal.lost(), journal.pop()), (0, 1, None));
    }
}
