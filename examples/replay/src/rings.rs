//! When alarms would have rung, from when to when.

use crate::text::{length, times};
use crate::timeline::seconds;
use std::collections::BTreeMap;
use tidevane::alarm::{AlarmEvent, Change, Condition};
use tidevane::quantity::{Duration, Instant};

/// One ring.
#[derive(Debug)]
pub(crate) struct Ring {
    condition: Condition,
    pub(crate) name: String,
    /// Along the recording, in seconds.
    pub(crate) from_s: f64,
    to_s: f64,
    /// On the monitor's own time, which no cut of the recording shortens.
    began: Instant,
    lasted: Duration,
    is_on: bool,
}

/// How often an alarm rang, for how long, and whether it still does at the end.
#[derive(Debug, Default)]
pub(crate) struct Total {
    count: u64,
    lasted: Duration,
    is_on: bool,
}

/// All of them, in the order they began.
#[derive(Debug, Default)]
pub(crate) struct Rings {
    all: Vec<Ring>,
}

impl Rings {
    /// Takes an event of a time along the recording, in seconds.
    pub(crate) fn learn(&mut self, alarm: &AlarmEvent, at_s: f64) {
        match alarm.change {
            Change::On => self.all.push(Ring {
                condition: alarm.condition,
                name: alarm.condition.to_string(),
                from_s: at_s,
                to_s: at_s,
                began: alarm.at,
                lasted: Duration::ZERO,
                is_on: true,
            }),
            Change::Off => {
                let is_it = |ring: &&mut Ring| ring.is_on && ring.condition == alarm.condition;
                if let Some(ring) = self.all.iter_mut().rev().find(is_it) {
                    ring.to_s = at_s;
                    ring.lasted = alarm.at.since(ring.began);
                    ring.is_on = false;
                }
            }
        }
    }

    /// The recording ends: what rings still has rung up to here.
    pub(crate) fn finish(&mut self, end: Option<Instant>, end_s: f64) {
        for ring in self.all.iter_mut().filter(|ring| ring.is_on) {
            ring.to_s = end_s;
            let along = Duration::from_us(((end_s - ring.from_s).max(0.0) * 1e6) as u64);
            ring.lasted = end.map_or(along, |end| end.since(ring.began));
        }
    }

    pub(crate) fn iter(&self) -> impl DoubleEndedIterator<Item = &Ring> + ExactSizeIterator {
        self.all.iter()
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.all.is_empty()
    }

    /// Those that rang in a time along the recording, whenever they began.
    pub(crate) fn between(&self, from_s: f64, to_s: f64) -> impl Iterator<Item = &Ring> {
        self.iter().filter(move |ring| ring.from_s <= to_s && ring.to_s >= from_s)
    }

    fn by_name(&self) -> BTreeMap<&str, Total> {
        let mut names: BTreeMap<&str, Total> = BTreeMap::new();
        for ring in self.iter() {
            let total = names.entry(&ring.name).or_default();
            total.count += 1;
            total.lasted = total.lasted.saturating_add(ring.lasted);
            total.is_on |= ring.is_on;
        }
        names
    }

    /// Each alarm with how often and how long it rang.
    pub(crate) fn told(&self) -> String {
        let told = self.by_name().into_iter().map(|(name, total)| {
            let in_all = if total.count > 1 { " in all" } else { "" };
            let on = if total.is_on { " (still at the end)" } else { "" };
            let lasted = length(seconds(total.lasted));
            format!("{name} {} for {lasted}{in_all}{on}", times(total.count))
        });
        told.collect::<Vec<_>>().join(", ")
    }

    /// Those that ring at the end.
    pub(crate) fn at_end(&self) -> Vec<&str> {
        self.by_name().into_iter().filter(|(_, total)| total.is_on).map(|(name, _)| name).collect()
    }

    /// What part of so many seconds at least one of them rang.
    pub(crate) fn share(&self, of_s: f64) -> f64 {
        // In the order they began: what one rings on beyond those before it.
        let (mut until, mut rang) = (0.0_f64, 0.0);
        for ring in self.iter() {
            rang += (ring.to_s - ring.from_s.max(until)).max(0.0);
            until = until.max(ring.to_s);
        }
        rang / of_s.max(1e-6)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tidevane::alarm::Priority;

    fn rings(events: &[(u64, Condition, Change)]) -> Rings {
        let mut rings = Rings::default();
        for (at, condition, change) in events.iter().copied() {
            let at_us = Instant::from_us(at * 1_000_000);
            let event =
                AlarmEvent { at: at_us, condition, priority: Priority::High, change, value: None };
            rings.learn(&event, at as f64);
        }
        rings.finish(Some(Instant::from_us(200_000_000)), 200.0);
        rings
    }

    #[test]
    fn a_ring_counts_while_it_rings() {
        let rings = rings(&[
            (10, Condition::NoInput, Change::On),
            (20, Condition::Apnoea, Change::On),
            (40, Condition::Apnoea, Change::Off),
            (100, Condition::Apnoea, Change::On),
            (105, Condition::Apnoea, Change::Off),
        ]);
        // 20 and 5 s; 10 s to 200 s.
        let told = "apnoea twice for 25 s in all, no input from the sensor once for 3.2 min (still at the end)";
        assert_eq!(rings.told(), told);
        assert_eq!(rings.at_end(), ["no input from the sensor"]);
        let names =
            |from, to| rings.between(from, to).map(|r| (&*r.name, r.from_s)).collect::<Vec<_>>();
        assert_eq!(names(0.0, 9.9), []);
        let no_input = ("no input from the sensor", 10.0);
        assert_eq!(names(41.0, 99.0), [no_input]);
        assert_eq!(names(30.0, 35.0), [no_input, ("apnoea", 20.0)]);
        assert_eq!(rings.share(200.0), 0.95);
    }

    #[test]
    fn what_rings_apart_adds_up_and_what_rings_at_once_does_not() {
        let rings = rings(&[
            (10, Condition::Apnoea, Change::On),
            (15, Condition::NoInput, Change::On),
            (20, Condition::Apnoea, Change::Off),
            (30, Condition::NoInput, Change::Off),
            (50, Condition::Apnoea, Change::On),
            (60, Condition::Apnoea, Change::Off),
        ]);
        // 10 to 30 s and 50 to 60 s.
        assert_eq!(rings.share(100.0), 0.3);
        assert!(rings.at_end().is_empty());
    }
}
