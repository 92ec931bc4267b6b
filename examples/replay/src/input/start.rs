//! When a recording began, by a header that tells the clock of where it was made, and no zone.

use jiff::civil::DateTime;
use jiff::tz::TimeZone;

/// The clock that showed them is one where a time falls within these seconds since 1970 in UTC: from 2000 up to 2070. No
/// counter runs so long, and who removes names from a recording writes an earlier year.
pub(crate) const CLOCK: std::ops::Range<i64> = 946_684_800..3_155_760_000;

/// The start in microseconds since 1970; with what is to be said where there is one and no zone was given.
pub(super) fn of(written: &str, zone: Option<&TimeZone>) -> (i128, Option<String>) {
    let none = (0, None);
    let Ok(local) = written.parse::<DateTime>() else { return none };
    let Some(zone) = zone else {
        let is_clock = (2000..2070).contains(&local.year());
        let said = format!("times from its start, since --zone is not given for {local}");
        return (0, is_clock.then_some(said));
    };
    let Ok(began) = zone.to_ambiguous_timestamp(local).compatible() else { return none };
    if CLOCK.contains(&began.as_second()) { (began.as_microsecond().into(), None) } else { none }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_zone_makes_a_moment_of_a_local_time() {
        let of_zone = |written, zone| of(written, Some(&TimeZone::get(zone).unwrap()));
        // 2024-03-31 00:00 UTC is 19,813 days after 1970; Berlin is two hours ahead from 01:00 UTC on.
        let midnight = 19_813 * 86_400 * 1_000_000;
        assert_eq!(of_zone("2024-03-31T00:00:00", "UTC"), (midnight, None));
        let noon = midnight + 10 * 3_600 * 1_000_000;
        assert_eq!(of_zone("2024-03-31T12:00:00", "Europe/Berlin"), (noon, None));
        // Before 2000, and what is no time.
        assert_eq!(of_zone("1985-01-01T00:00:00", "UTC"), (0, None));
        assert_eq!(of_zone("no time", "UTC"), (0, None));
        let (us, said) = of("2024-03-31T12:00:00", None);
        assert_eq!(us, 0);
        assert!(said.unwrap().contains("--zone is not given for 2024-03-31T12:00:00"));
        assert_eq!(of("1985-01-01T00:00:00", None), (0, None));
    }
}
