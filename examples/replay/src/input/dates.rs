//! Dates and times as microseconds since 1970 in UTC.

use crate::text::quoted;
use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::{AmbiguousOffset, TimeZone};

/// The zone of times that have none, and the time before.
#[derive(Default)]
pub(crate) struct Dates {
    zone: Option<TimeZone>,
    last: Option<i128>,
    refused: Option<String>,
}

/// A line may come so late, in microseconds, and be no other hour's: 10 s.
const STRAY: i128 = 10_000_000;

impl Dates {
    pub(crate) fn new(zone: Option<TimeZone>) -> Self {
        Self { zone, last: None, refused: None }
    }

    /// Why no time can be told before the caller says more.
    pub(crate) fn refused(&self) -> Option<&str> {
        self.refused.as_deref()
    }

    /// Of a date and time as ISO 8601 writes it, with an offset from UTC or without.
    pub(crate) fn micros(&mut self, text: &str) -> Result<i128, String> {
        if let Ok(instant) = text.parse::<Timestamp>() {
            return Ok(self.seen(micros(instant)));
        }
        let local = text.parse::<DateTime>();
        self.local(local.map_err(|_| format!("{} is no date with a time", quoted(text)))?)
    }

    /// Of a local time, given as microseconds since 1970 on its own clock.
    #[cfg(any(feature = "arrow", test))]
    pub(crate) fn local_micros(&mut self, us: i64) -> Result<i128, String> {
        let local = DateTime::constant(1970, 1, 1, 0, 0, 0, 0);
        let local = local.checked_add(jiff::SignedDuration::from_micros(us));
        self.local(local.map_err(|_| format!("time {us} us is out of range"))?)
    }

    /// Of the two times that clocks show twice when they are put back, the first, unless the time before is
    /// later: a recording that runs on, or pauses, loses nothing.
    fn local(&mut self, local: DateTime) -> Result<i128, String> {
        let Some(zone) = &self.zone else {
            let why =
                format!("time {local} has no zone; say --zone UTC or a name such as Europe/Berlin");
            self.refused = Some(why.clone());
            return Err(why);
        };
        let at = |offset: jiff::tz::Offset| {
            let instant = offset.to_timestamp(local);
            instant.map(micros).map_err(|_| format!("time {local} is out of range"))
        };
        let us = match zone.to_ambiguous_timestamp(local).offset() {
            AmbiguousOffset::Unambiguous { offset } => at(offset)?,
            AmbiguousOffset::Fold { before, after } => {
                let (first, second) = (at(before)?, at(after)?);
                if self.last.is_none_or(|last| last - first <= STRAY) { first } else { second }
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
    fn a_change_of_summer_time_loses_nothing() {
        // Clocks in Berlin: 2024-03-31 from 02:00 to 03:00, 2024-10-27 from 03:00 to 02:00.
        let zone = TimeZone::get("Europe/Berlin").unwrap();
        let mut dates = Dates::new(Some(zone));
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
        let mut dates = Dates::new(TimeZone::get("Europe/Berlin").ok());
        let before = dates.micros("2024-10-27T02:50:00").unwrap();
        assert_eq!(dates.micros("2024-10-27T02:30:00"), Ok(before + 2_400 * second));
        // 2024-10-27T03:00:00 as microseconds of its own clock: 2,400 + 1,800 s after 02:50 by summer time.
        assert_eq!(dates.local_micros(1_729_998_000_000_000), Ok(before + 4_200 * second));
    }
}
