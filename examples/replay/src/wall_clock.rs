//! What the recording's clock showed.

use crate::input::start::CLOCK;
use crate::timeline::{Timeline, seconds};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use tidevane::quantity::{Duration, Instant};

/// A recording of more stretches tells no time of the clock.
const MOST: usize = 4_096;
/// From this length on times have their day, in seconds.
const DAY: f64 = 86_400.0;
/// Up to this length times have their seconds.
const SHORT: f64 = 600.0;
/// No more ticks than these stand on an axis.
const TICKS: f64 = 6.5;
/// Ticks stand so many seconds apart.
const APART: [f64; 20] = [
    1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0, 1_800.0, 3_600.0, 7_200.0,
    10_800.0, 14_400.0, 21_600.0, 43_200.0, 86_400.0, 172_800.0,
];

/// How times along a recording are told: as its clock showed them, where it has one; else from its start. They are
/// given in seconds of the [`Timeline`], and told as the minute that the clock showed, or as the nearest from the start;
/// in a short recording to the second.
#[derive(Debug)]
pub(crate) struct WallClock {
    zone: TimeZone,
    /// Where each stretch begins, in seconds, and when by the recording's own time.
    stretches: Vec<(f64, Instant)>,
    end: f64,
}

impl WallClock {
    pub(crate) fn new(zone: TimeZone) -> Self {
        Self { zone, stretches: Vec::new(), end: 0.0 }
    }

    /// Takes what the timeline has come to.
    pub(crate) fn follow(&mut self, timeline: &Timeline) {
        self.end = timeline.seconds();
        let Some(stretch) = timeline.stretch() else { return };
        if self.stretches.last() != Some(&stretch) && self.stretches.len() <= MOST {
            self.stretches.push(stretch);
        }
    }

    /// Whether the times told are those of a clock.
    pub(crate) fn is_clock(&self) -> bool {
        let first = self.stretches.first().map(|(_, from)| (from.to_us() / 1_000_000) as i64);
        first.is_some_and(|first| CLOCK.contains(&first)) && self.stretches.len() <= MOST
    }

    /// The moment of a time by the recording's clock.
    fn moment(&self, seconds: f64) -> Option<Instant> {
        let place = self.stretches.partition_point(|(from, _)| *from <= seconds).max(1) - 1;
        let (from, moment) = self.stretches.get(place).filter(|_| self.is_clock())?;
        Some(moment.after(Duration::from_us(((seconds - from).max(0.0) * 1e6) as u64)))
    }

    /// As the clock showed it; what lies less than half a second before a minute is of that.
    fn written(&self, at: Instant, form: &str) -> Option<String> {
        let us = i64::try_from(at.to_us()).ok()?.checked_add(500_000)?;
        let zoned = Timestamp::from_microsecond(us).ok()?.to_zoned_datetime(self.zone.clone());
        Some(zoned.strftime(form).to_string())
    }

    fn is_long(&self) -> bool {
        let (first, last) = (self.moment(0.0), self.moment(self.end));
        first.zip(last).is_some_and(|(first, last)| seconds(last.since(first)) >= DAY)
    }

    /// A time.
    pub(crate) fn told(&self, seconds: f64) -> String {
        if self.end < SHORT {
            self.exact(seconds)
        } else {
            self.whole(self.moment(seconds), seconds)
        }
    }

    /// A time to the second.
    pub(crate) fn exact(&self, seconds: f64) -> String {
        let form = if self.is_long() { "%-d %b %H:%M:%S" } else { "%H:%M:%S" };
        let at = self.moment(seconds).and_then(|at| self.written(at, form));
        at.unwrap_or_else(|| {
            let whole = seconds.max(0.0) as u64;
            format!("{}:{:02}:{:02}", whole / 3_600, whole / 60 % 60, whole % 60)
        })
    }

    fn whole(&self, at: Option<Instant>, seconds: f64) -> String {
        let form = if self.is_long() { "%-d %b %H:%M" } else { "%H:%M" };
        let at = at.and_then(|at| self.written(at, form));
        at.unwrap_or_else(|| {
            let minutes = (seconds / 60.0).round() as u64;
            format!("{}:{:02}", minutes / 60, minutes % 60)
        })
    }

    /// A moment of the recording's own time, in seconds of the timeline.
    pub(crate) fn seconds_of(&self, at: Instant) -> f64 {
        let held = self.stretches.iter().rev().find(|(_, from)| *from <= at);
        held.map_or(0.0, |(before, from)| before + seconds(at.since(*from)))
    }

    /// What the times are, in words.
    pub(crate) fn name(&self) -> String {
        let zone = self.moment(0.0).and_then(|at| self.written(at, "%Z"));
        match zone {
            Some(zone) if self.is_long() => format!("day and clock time, {zone}"),
            Some(zone) => format!("clock time, {zone}"),
            None if self.end < SHORT => "hours:minutes:seconds from the start".into(),
            None => "hours:minutes from the start".into(),
        }
    }

    /// From when to when, with the day; `None` where no clock was recorded.
    pub(crate) fn span(&self) -> Option<String> {
        let written = |s| self.written(self.moment(s)?, "%-d %B %Y, %H:%M");
        Some(format!("{} to {}", written(0.0)?, written(self.end)?))
    }

    /// Round times for an axis of the whole recording, each with how it is told.
    pub(crate) fn ticks(&self) -> Vec<(f64, String)> {
        self.ticks_between(0.0, self.end)
    }

    /// Of a part of it.
    pub(crate) fn ticks_between(&self, begin: f64, end: f64) -> Vec<(f64, String)> {
        let wide = (end - begin) / TICKS;
        let step =
            APART.into_iter().find(|step| *step >= wide).unwrap_or((wide / DAY).ceil() * DAY);
        let mut ticks: Vec<(f64, String)> = Vec::new();
        let ends = self.stretches.iter().skip(1).map(|s| s.0).chain([self.end]);
        for ((from, moment), to) in self.stretches.iter().zip(ends) {
            let past = self.since_midnight(*moment).map_or(*from, |past| past) % step;
            let mut at = from + (step - past) % step;
            at += ((begin - at) / step).ceil().max(0.0) * step;
            while at <= to.min(end) {
                if ticks.last().is_none_or(|last| at - last.0 >= 0.7 * step) {
                    ticks.push((at, self.tick(at, step)));
                }
                at += step;
            }
        }
        ticks
    }

    /// Days alone where only they differ.
    fn tick(&self, seconds: f64, step: f64) -> String {
        if step < 60.0 {
            return self.exact(seconds);
        }
        let day = || {
            let at = self.moment(seconds).filter(|_| self.is_long())?;
            let past = self.since_midnight(at)?;
            let is_midnight = past.min(DAY - past) < 1.0 || step >= DAY;
            self.written(at, if is_midnight { "%-d %b" } else { "%H:%M" })
        };
        day().unwrap_or_else(|| self.told(seconds))
    }

    /// Seconds by the clock of the day; `None` where no clock was recorded.
    fn since_midnight(&self, at: Instant) -> Option<f64> {
        let us = i64::try_from(at.to_us()).ok().filter(|_| self.is_clock())?;
        let time =
            Timestamp::from_microsecond(us).ok()?.to_zoned_datetime(self.zone.clone()).time();
        let minutes = 60 * i32::from(time.hour()) + i32::from(time.minute());
        Some(
            f64::from(60 * minutes + i32::from(time.second()))
                + f64::from(time.subsec_nanosecond()) / 1e9,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A recording of samples a second apart, each stretch from a second since 1970 and so long.
    fn heard(zone: &str, stretches: &[(u64, u64)]) -> WallClock {
        let mut timeline = Timeline::new(Duration::from_millis(1_000));
        let mut wall = WallClock::new(TimeZone::get(zone).unwrap());
        for (from, long) in stretches {
            for second in *from..=from + long {
                timeline.reading(Instant::from_us(second * 1_000_000));
                wall.follow(&timeline);
            }
        }
        wall
    }

    /// 2024-03-31 00:00 UTC is 19,813 days after 1970.
    const MIDNIGHT: u64 = 1_711_843_200;

    #[test]
    fn a_clock_is_told_where_there_is_one() {
        // From 22:50:30 to 02:50:30 is a night: no day beside the times. 3,570 s later it is 23:50:00.
        let wall = heard("UTC", &[(MIDNIGHT - 4_170, 14_400)]);
        assert_eq!((wall.told(3_570.0).as_str(), wall.exact(0.0).as_str()), ("23:50", "22:50:30"));
        assert_eq!(wall.name(), "clock time, UTC");
        assert_eq!(wall.span().unwrap(), "30 March 2024, 22:50 to 31 March 2024, 02:50");
        // 22:50:59.4 and 22:50:59.6.
        assert_eq!([29.4, 29.6].map(|s| wall.told(s)), ["22:50", "22:51"]);
        // 4 h in no more than 6 steps and a half: 1 h. The first full hour comes 570 s after the start.
        let ticks = wall.ticks();
        assert_eq!(ticks[0], (570.0, "23:00".into()));
        assert_eq!(
            ticks.iter().map(|t| t.1.as_str()).collect::<Vec<_>>(),
            ["23:00", "00:00", "01:00", "02:00"]
        );
    }

    #[test]
    fn a_zone_has_its_own_hours() {
        // Berlin goes from UTC+1 to UTC+2 at 01:00 UTC: 00:30 UTC is 01:30, 01:30 UTC is 03:30.
        let wall = heard("Europe/Berlin", &[(MIDNIGHT, 7_200)]);
        assert_eq!([1_800.0, 5_400.0].map(|s| wall.told(s)), ["01:30", "03:30"]);
        assert_eq!(wall.name(), "clock time, CET");
    }

    #[test]
    fn a_silence_is_no_time_of_the_recording_but_of_its_clock() {
        // 600 s from 00:00, then from 02:00: the silence counts for 1 s. At 700 s it is 02:00 and 99 s.
        let wall = heard("UTC", &[(MIDNIGHT, 600), (MIDNIGHT + 7_200, 1_200)]);
        assert_eq!((wall.told(300.0).as_str(), wall.exact(700.0).as_str()), ("00:05", "02:01:39"));
        assert_eq!(wall.seconds_of(Instant::from_us((MIDNIGHT + 7_299) * 1_000_000)), 700.0);
        // 1,801 s: every 5 min, by the clock of each stretch; 02:00 stands 1 s after 00:10 and gives way.
        let told: Vec<_> = wall.ticks().into_iter().map(|t| t.1).collect();
        assert_eq!(told, ["00:00", "00:05", "00:10", "02:05", "02:10", "02:15", "02:20"]);
    }

    #[test]
    fn a_part_has_times_of_its_own() {
        // From 22:50:30, four hours: the last 10 s begin at 02:50:20; in no more than 6 steps and a half: 2 s.
        let wall = heard("UTC", &[(MIDNIGHT - 4_170, 14_400)]);
        let ticks = wall.ticks_between(14_390.0, 14_400.0);
        assert_eq!(ticks[0], (14_390.0, "02:50:20".into()));
        assert_eq!((ticks.len(), ticks[5].1.as_str()), (6, "02:50:30"));
    }

    #[test]
    fn days_stand_beside_the_times_of_a_long_recording() {
        let wall = heard("UTC", &[(MIDNIGHT + 3_600, 2 * 86_400)]);
        assert_eq!(wall.told(0.0), "31 Mar 01:00");
        // 48 h in no more than 6 steps and a half: 12 h.
        let told: Vec<_> = wall.ticks().into_iter().map(|t| t.1).collect();
        assert_eq!(told, ["12:00", "1 Apr", "12:00", "2 Apr"]);
        assert_eq!(wall.name(), "day and clock time, UTC");
    }

    #[test]
    fn a_counter_is_told_from_its_start() {
        // One that began at 100 s, and one of ten years: no clock.
        for begun in [100, 315_360_000] {
            let wall = heard("UTC", &[(begun, 16_200)]);
            assert_eq!(
                (wall.told(8_340.0).as_str(), wall.exact(8_340.0).as_str()),
                ("2:19", "2:19:00")
            );
            assert_eq!((wall.name().as_str(), wall.span()), ("hours:minutes from the start", None));
            assert_eq!(wall.seconds_of(Instant::from_us((begun + 60) * 1_000_000)), 60.0);
            // 4.5 h: hours.
            let told: Vec<_> = wall.ticks().into_iter().map(|t| t.1).collect();
            assert_eq!(told, ["0:00", "1:00", "2:00", "3:00", "4:00"]);
        }
        // Under ten minutes a minute is too coarse.
        let wall = heard("UTC", &[(0, 45)]);
        assert_eq!(wall.told(12.4), "0:00:12");
        assert_eq!(wall.name(), "hours:minutes:seconds from the start");
        assert_eq!(wall.ticks()[1], (10.0, "0:00:10".into()));
    }

    #[test]
    fn a_clock_in_shreds_is_none() {
        let shreds: Vec<_> = (0..=MOST as u64).map(|i| (MIDNIGHT + 10 * i, 1)).collect();
        assert!(heard("UTC", &shreds[1..]).is_clock());
        assert!(!heard("UTC", &shreds).is_clock());
    }
}
