//! Dates and times as microseconds since 1970 in UTC.

use super::calendar::{First, Order, of_day};
use super::layout::{Hour, Layout};
use crate::text::quoted;
use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::{AmbiguousOffset, TimeZone};

/// What is known of the dates of a recording, and the time before.
#[derive(Default)]
pub(crate) struct Dates {
    zone: Option<TimeZone>,
    order: Order,
    /// Which of two equal hours it begins in, where the caller says.
    begins_in: Option<Hour>,
    /// It began in the hour that clocks show twice, and has not shown yet in which.
    is_unsure: bool,
    /// Times have no date.
    has_none: bool,
    last: Option<i128>,
    refused: Option<String>,
}

/// A day, in microseconds.
const DAY: i128 = 86_400_000_000;
/// A line may come so late, in microseconds, and be no other hour's: 10 s.
const STRAY: i128 = 10_000_000;

impl Dates {
    pub(crate) fn new(layout: &Layout) -> Self {
        Self {
            zone: layout.zone.clone(),
            order: Order { told: layout.date_order, found: None },
            begins_in: layout.repeated_hour,
            ..Self::default()
        }
    }

    /// Why no time can be told before the caller says more.
    pub(crate) fn refused(&self) -> Option<&str> {
        self.refused.as_deref()
    }

    /// What was found without being told, in words.
    pub(crate) fn guessed(&self) -> impl Iterator<Item = String> {
        let order = self.order.found.map(|first| match first {
            First::Day => "dates with the day first",
            First::Month => "dates with the month first",
        });
        let hour = self.is_unsure.then_some(
            "it begins in the hour that clocks show twice, taken for the first; --repeated-hour second says otherwise",
        );
        let clock = self.has_none.then_some("times of day without a date");
        order.into_iter().chain(hour).chain(clock).map(str::to_owned)
    }

    /// Of a date and time, with an offset from UTC or without: as ISO 8601 writes it, or in another order.
    pub(crate) fn micros(&mut self, text: &str) -> Result<i128, String> {
        if let Some(at) = self.iso(text) {
            return at;
        }
        if let Some(at) = of_day(text).filter(|_| self.last.is_none() || self.has_none) {
            return Ok(self.micros_of_day(at));
        }
        match self.order.iso(text) {
            Ok(Some(iso)) => self.iso(&iso).unwrap_or_else(|| Err(no_date(text))),
            Ok(None) if self.last.is_none() && text.parse::<f64>().is_ok() => {
                Err(self.refuse(format!(
                    "{}; where times are numbers say their unit: --columns time=NAME:UNIT",
                    no_date(text)
                )))
            }
            Ok(None) => Err(no_date(text)),
            Err(why) if self.zone.is_none() => Err(self.refuse(format!("{why}, and --zone"))),
            Err(why) => Err(self.refuse(why)),
        }
    }

    /// Of a date beside a time, which counts alone where it is whole.
    pub(crate) fn micros_of_two(&mut self, date: &str, time: &str) -> Result<i128, String> {
        let is_clock = time.trim_start_matches(|c: char| c.is_ascii_digit()).starts_with(':');
        if is_clock { self.micros(&format!("{date} {time}")) } else { self.micros(time) }
    }

    /// Of a time of day, on the day that brings it nearest to the time before.
    fn on_from(&mut self, at: i128) -> i128 {
        let days = self.last.map_or(0, |last| (last - at + DAY / 2).div_euclid(DAY).max(0));
        self.seen(at + days * DAY)
    }

    fn iso(&mut self, text: &str) -> Option<Result<i128, String>> {
        if let Ok(instant) = text.parse::<Timestamp>() {
            return Some(Ok(self.seen(micros(instant))));
        }
        text.parse::<DateTime>().ok().map(|local| self.local(local))
    }

    fn refuse(&mut self, why: String) -> String {
        self.refused = Some(why.clone());
        why
    }

    /// Of a local time, given as microseconds since 1970 on its own clock.
    #[cfg(any(feature = "arrow", test))]
    pub(crate) fn local_micros(&mut self, us: i128) -> Result<i128, String> {
        let epoch = DateTime::constant(1970, 1, 1, 0, 0, 0, 0);
        let since = i64::try_from(us).ok().map(jiff::SignedDuration::from_micros);
        let local = since.and_then(|since| epoch.checked_add(since).ok());
        self.local(local.ok_or_else(|| format!("time {us} us is out of range"))?)
    }

    /// Of a time of day, given as microseconds since midnight.
    pub(crate) fn micros_of_day(&mut self, us: i128) -> i128 {
        self.has_none = true;
        self.on_from(us)
    }

    /// Of the two times that clocks show twice when they are put back, the first, unless the time before is
    /// later: a recording that runs on, or pauses, loses nothing.
    fn local(&mut self, local: DateTime) -> Result<i128, String> {
        let Some(zone) = &self.zone else {
            let why = "has no zone; say --zone UTC or a name such as Europe/Berlin";
            return Err(self.refuse(format!("time {local} {why}")));
        };
        let at = |offset: jiff::tz::Offset| {
            let instant = offset.to_timestamp(local);
            instant.map(micros).map_err(|_| format!("time {local} is out of range"))
        };
        let us = match zone.to_ambiguous_timestamp(local).offset() {
            AmbiguousOffset::Unambiguous { offset } => {
                let us = at(offset)?;
                // Those before were the second hour, or the first and then silence for one.
                if self.is_unsure && self.last.is_some_and(|last| us > last) {
                    return Err(self.refuse(format!(
                        "the recording begins in the hour that clocks show twice and is past it at {local}; say which \
                         it begins in: --repeated-hour first or second"
                    )));
                }
                us
            }
            AmbiguousOffset::Fold { before, after } => {
                let (first, second) = (at(before)?, at(after)?);
                let is_second = match self.last {
                    None => {
                        self.is_unsure = self.begins_in.is_none();
                        self.begins_in == Some(Hour::Second)
                    }
                    Some(last) => last - first > STRAY,
                };
                self.is_unsure &= !is_second;
                if is_second { second } else { first }
            }
            AmbiguousOffset::Gap { .. } => {
                let zone = zone.iana_name().unwrap_or("this zone");
                return Err(format!(
                    "time {local} is left out in {zone}, where clocks are put forward"
                ));
            }
        };
        Ok(self.seen(us))
    }

    fn seen(&mut self, us: i128) -> i128 {
        self.last = Some(us);
        us
    }
}

fn no_date(text: &str) -> String {
    format!("{} is no date with a time", quoted(text))
}

fn micros(instant: Timestamp) -> i128 {
    // To the nearest: times in nanoseconds do not fall on one.
    (instant.as_nanosecond() + 500).div_euclid(1_000)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_offset_is_taken_off() {
        let mut dates = Dates::default();
        // 2024-03-31 00:00 UTC is 19,813 days after 1970: 1,711,843,200 s
        let midnight = 1_711_843_200_000_000;
        assert_eq!(dates.micros("2024-03-31T00:00:00Z"), Ok(midnight));
        assert_eq!(dates.micros("2024-03-31T01:30:00.25+01:30"), Ok(midnight + 250_000));
        assert_eq!(dates.micros("2024-03-31 00:00:00.0000014Z"), Ok(midnight + 1));
        assert!(dates.micros("2024-03-31T00:00:00").unwrap_err().contains("--zone"));
        assert!(dates.micros("31.03.2024").unwrap_err().contains("no date"));
    }

    #[test]
    fn times_of_day_go_on_past_midnight() {
        let mut dates = Dates::default();
        let mut at = |text| dates.micros(text).unwrap() / 1_000_000;
        // 23:59:58 is 86,398 s after midnight; one that comes late stays where it belongs.
        assert_eq!(
            [at("23:59:58"), at("0:00:01"), at("23:59:59"), at("0:00:02")],
            [86_398, 86_401, 86_399, 86_402]
        );
        // The next midnight, from 22:00:00 on.
        assert_eq!([at("11:00:00"), at("22:00:00"), at("0:00:00")], [126_000, 165_600, 172_800]);
    }

    fn berlin() -> Dates {
        Dates { zone: TimeZone::get("Europe/Berlin").ok(), ..Dates::default() }
    }

    #[test]
    fn a_change_of_summer_time_loses_nothing() {
        // Clocks in Berlin: 2024-03-31 from 02:00 to 03:00, 2024-10-27 from 03:00 to 02:00.
        let mut dates = berlin();
        let second = 1_000_000;
        let before = dates.micros("2024-03-31T01:59:59").unwrap();
        assert_eq!(dates.micros("2024-03-31T03:00:00"), Ok(before + second));
        assert!(dates.micros("2024-03-31T02:30:00").unwrap_err().contains("left out"));
        let first = dates.micros("2024-10-27T02:59:59").unwrap();
        assert_eq!(dates.micros("2024-10-27T02:00:00"), Ok(first + second));
        // one that comes late stays where it belongs
        assert_eq!(dates.micros("2024-10-27T02:00:00"), Ok(first + second));
        assert_eq!(dates.micros("2024-10-27T03:00:00"), Ok(first + 3_601 * second));
        // A pause of 40 min over the change: 02:50, and 02:30 as it comes again.
        let mut dates = berlin();
        let before = dates.micros("2024-10-27T02:50:00").unwrap();
        assert_eq!(dates.micros("2024-10-27T02:30:00"), Ok(before + 2_400 * second));
        // 2024-10-27T03:00:00 as microseconds of its own clock: 2,400 + 1,800 s after 02:50 by summer time.
        assert_eq!(dates.local_micros(1_729_998_000_000_000), Ok(before + 4_200 * second));
    }
}
