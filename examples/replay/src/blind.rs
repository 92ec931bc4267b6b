//! For how long in all nothing usable was heard.

use crate::text::length;
use crate::timeline::seconds;
use tidevane::monitor::Monitor;
use tidevane::quantity::{Duration, Instant};

/// What is shorter is a sample lost, or times that are rounded: chosen here, no source.
const LEAST: Duration = Duration::from_millis(100);
/// From this part of the whole time on, or from so long a stretch, the check was blind: chosen here, no source.
const PART: f64 = 0.1;
const STRETCH: Duration = Duration::from_millis(600_000);

/// What was not heard so far, on the monitor's own time, which no cut of the recording shortens.
#[derive(Debug, Default)]
pub(crate) struct Blind {
    /// The first moment that was usable, what was not before it, and the latest.
    first: Option<Instant>,
    before: Duration,
    usable: Option<Instant>,
    /// The stretch under way, of which some may be guessed.
    under_way: Duration,
    all: Duration,
    longest: Duration,
}

impl Blind {
    /// The monitor took the reading of a moment, or heard that time passed without one.
    pub(crate) fn follow(&mut self, reading: Option<Instant>, monitor: &Monitor) {
        let blind = monitor.blind();
        let Some(at) = reading.filter(|_| blind == Duration::ZERO) else {
            self.under_way = self.under_way.max(blind);
            return;
        };
        let at = monitor.time_of(at);
        if self.under_way > Duration::ZERO {
            // No more than passed by the recording: what was guessed may not have.
            let passed = self.usable.map_or(self.under_way, |usable| at.since(usable));
            self.count(self.under_way.min(passed));
        }
        if self.first.is_none() {
            (self.first, self.before) = (Some(at), self.all);
        }
        self.usable = Some(at);
    }

    /// The recording ends; gives when, on the monitor's own time, where anything was usable.
    pub(crate) fn finish(&mut self, monitor: &Monitor) -> Option<Instant> {
        self.count(monitor.blind());
        self.usable = self.usable.map(|usable| usable.after(monitor.blind()));
        self.usable
    }

    fn count(&mut self, stretch: Duration) {
        self.under_way = Duration::ZERO;
        if stretch >= LEAST {
            self.all = self.all.saturating_add(stretch);
            self.longest = self.longest.max(stretch);
        }
    }

    /// From the start to the latest usable moment.
    fn whole(&self) -> Duration {
        let heard = self.usable.zip(self.first).map(|(latest, first)| latest.since(first));
        heard.map_or(self.all, |heard| heard.saturating_add(self.before))
    }

    /// In all, in seconds.
    pub(crate) fn seconds(&self) -> f64 {
        seconds(self.all)
    }

    /// In all and at one stretch.
    pub(crate) fn told(&self) -> Option<String> {
        (self.all > Duration::ZERO).then(|| {
            format!(
                "{} in all, {} at one stretch",
                length(self.seconds()),
                length(seconds(self.longest))
            )
        })
    }

    /// Where that is much of a recording.
    fn is_long(&self) -> bool {
        self.longest >= STRETCH || seconds(self.all) >= PART * seconds(self.whole()).max(1e-6)
    }

    /// Then, how much of it.
    pub(crate) fn part(&self) -> Option<String> {
        self.is_long()
            .then(|| format!("{} of {}", length(self.seconds()), length(seconds(self.whole()))))
    }

    /// And in a sentence.
    pub(crate) fn alert(&self) -> Option<String> {
        self.part().map(|part| {
            let longest = Some(self.longest).filter(|longest| *longest != self.all);
            let longest = longest.map_or(String::new(), |longest| {
                format!(", {} at one stretch", length(seconds(longest)))
            });
            format!("The check was blind for {part}{longest}: what happened then is not known.")
        })
    }
}
