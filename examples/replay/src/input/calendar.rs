//! Dates that are not in the order of ISO 8601, brought into it.

use crate::text::quoted;

/// What comes first in a date that ends with its year.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum First {
    Day,
    Month,
}

/// Which it is, as the caller says, or as the first date that can mean one thing only.
#[derive(Debug, Default)]
pub(super) struct Order {
    pub(super) told: Option<First>,
    pub(super) found: Option<First>,
}

impl Order {
    /// A date and time as ISO 8601 has them; `None` of what is no such date.
    ///
    /// # Errors
    /// Where day and month could be either way round.
    pub(super) fn iso(&mut self, text: &str) -> Result<Option<String>, String> {
        let is_behind = |c: char| !(c.is_ascii_digit() || "./-".contains(c));
        let Some((date, time)) = text.find(is_behind).map(|at| text.split_at(at)) else {
            return Ok(None);
        };
        let Some((a, b, c)) = parts(date) else { return Ok(None) };
        let (year, month, day) = match (a.len(), c.len()) {
            (4, 1..=2) => (number(a), number(b), number(c)),
            (1..=2, 4 | 2) => match self.order(number(a), number(b), c.len() == 4) {
                Ok(Some(First::Day)) => (year(c), number(b), number(a)),
                Ok(Some(First::Month)) => (year(c), number(a), number(b)),
                Ok(None) => return Ok(None),
                Err(()) => {
                    return Err(format!(
                        "{} has the day or the month first; say --date-order day-first or month-first",
                        quoted(text)
                    ));
                }
            },
            _ => return Ok(None),
        };
        Ok(clock(time).map(|time| format!("{year:04}-{month:02}-{day:02}T{time}")))
    }

    /// What comes first; `None` where neither makes a date.
    fn order(&mut self, a: u32, b: u32, is_whole_year: bool) -> Result<Option<First>, ()> {
        if let Some(known) = self.told.or(self.found) {
            return Ok(Some(known));
        }
        let only = match (a <= 12, b <= 12) {
            _ if !is_whole_year => return Err(()),
            (false, true) => First::Day,
            (true, false) => First::Month,
            (false, false) => return Ok(None),
            (true, true) if a == b => return Ok(Some(First::Day)),
            (true, true) => return Err(()),
        };
        self.found = Some(only);
        Ok(Some(only))
    }
}

/// Three numbers with the same mark between.
fn parts(date: &str) -> Option<(&str, &str, &str)> {
    let mark = date.chars().find(|c| !c.is_ascii_digit())?;
    let mut parts = date.split(mark);
    let three = (parts.next()?, parts.next()?, parts.next()?);
    let is_number = |part: &str| {
        (1..=4).contains(&part.len()) && part.bytes().all(|byte| byte.is_ascii_digit())
    };
    let all = parts.next().is_none() && [three.0, three.1, three.2].into_iter().all(is_number);
    (all && three.1.len() <= 2).then_some(three)
}

/// Of digits alone.
fn number(digits: &str) -> u32 {
    digits.bytes().fold(0, |sum, digit| sum * 10 + u32::from(digit - b'0'))
}

/// Of two figures in this century.
fn year(digits: &str) -> u32 {
    if digits.len() == 2 { 2_000 + number(digits) } else { number(digits) }
}

/// A time of day with two figures of the hour, of 24; `None` where none is there.
fn clock(text: &str) -> Option<String> {
    let text = text.trim_start_matches(['T', 't', ',', ' ']).to_ascii_lowercase();
    let half = |word: &str| text.strip_suffix(word).map(str::trim_end);
    let (time, pm) = match (half("am"), half("pm")) {
        (Some(time), _) => (time, Some(false)),
        (_, Some(time)) => (time, Some(true)),
        _ => (&*text, None),
    };
    let (hour, rest) = time.split_once(':')?;
    let hour = hour.parse::<u32>().ok()?;
    let hour = match pm {
        None => hour,
        Some(pm) if (1..=12).contains(&hour) => hour % 12 + 12 * u32::from(pm),
        Some(_) => return None,
    };
    Some(format!("{hour:02}:{rest}"))
}

/// Microseconds of hours, minutes and seconds, as in 9:05:00.25; of more than a day where they count from a start.
pub(super) fn of_day(text: &str) -> Option<i128> {
    let is_plain = |byte: u8| byte.is_ascii_digit() || b":.,".contains(&byte);
    if text.len() > 24 || !text.bytes().all(is_plain) {
        return None;
    }
    let mut parts = text.split(':');
    let (hours, minutes, seconds) = (parts.next()?, parts.next()?, parts.next()?);
    let seconds = seconds.replacen(',', ".", 1).parse::<f64>().ok().filter(|s| *s < 60.0)?;
    let hours = hours.parse::<u32>().ok().filter(|hours| *hours < 100_000)?;
    let minutes = minutes.parse::<u32>().ok().filter(|minutes| *minutes < 60)?;
    let whole = i128::from(hours * 3_600) + i128::from(minutes * 60);
    parts.next().is_none().then(|| whole * 1_000_000 + (seconds * 1e6).round() as i128)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_of_day_are_microseconds() {
        // 9 h 5 min are 32,700 s.
        assert_eq!(of_day("9:05:00.25"), Some(32_700_250_000));
        assert_eq!(of_day("09:05:00,25"), Some(32_700_250_000));
        assert_eq!(
            (of_day("00:00:00"), of_day("99999:59:59")),
            (Some(0), Some(359_999_999_000_000))
        );
        for none in [
            "",
            "9:05",
            "9:60:00",
            "9:05:60",
            "9:05:00:1",
            "-1:00:00",
            "1:2:3.4.5",
            "100000:0:0",
            ":::",
        ] {
            assert_eq!(of_day(none), None, "{none}");
        }
    }

    #[test]
    fn dates_are_brought_into_order() {
        let iso = |text| Order::default().iso(text).unwrap();
        assert_eq!(iso("31.12.2024 1:02:03").as_deref(), Some("2024-12-31T01:02:03"));
        assert_eq!(iso("12/31/2024 12:02:03.5 AM").as_deref(), Some("2024-12-31T00:02:03.5"));
        assert_eq!(iso("12/31/2024, 12:02 pm").as_deref(), Some("2024-12-31T12:02"));
        assert_eq!(iso("2024/1/2 03:04:05").as_deref(), Some("2024-01-02T03:04:05"));
        assert_eq!(iso("05.05.2024 03:04").as_deref(), Some("2024-05-05T03:04"));
        for none in [
            "",
            "31.12.2024",
            "13/13/2024 1:00",
            "1.2 3:00",
            "1.2.3.4 5:00",
            "31.12/2024 1:00",
            "31.12.2024 13:00 pm",
            "0x 1:00",
            "99999.1.2 3:00",
        ] {
            assert_eq!(iso(none), None, "{none}");
        }
        assert!(Order::default().iso("01.02.2024 1:00").is_err());
        assert!(Order::default().iso("31.12.24 1:00").is_err());
        // What one date told holds for those that follow.
        let mut order = Order::default();
        order.iso("13.2.2024 1:00").unwrap();
        assert_eq!(order.iso("1.3.2024 1:00").unwrap().as_deref(), Some("2024-03-01T01:00"));
    }
}
