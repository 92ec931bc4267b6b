//! Numbers as text.

use super::columns::Column;
use super::layout::Decimal;
use super::missing::Missing;
use crate::text::quoted;
use fixed::types::I16F16;
use std::borrow::Cow;

/// What decimals are written with: as the caller says, or as the first of them is.
#[derive(Debug, Clone)]
pub(crate) struct Decimals {
    pub(crate) mark: Option<Decimal>,
    pub(crate) told: bool,
    /// Of each column by its place: numbers that group thousands do so in their own.
    grouped: Vec<(usize, Grouped)>,
}

/// Whether what looks like decimals may group thousands: numbers with a mark have all three digits behind it, and
/// beside them stand whole numbers of three digits, ever another. A sensor that dies, or a number that stands for
/// none, is always the same.
#[derive(Debug, Clone, Copy, Default)]
struct Grouped {
    marked: u32,
    hundreds: u32,
    last: i64,
    /// They are decimals.
    no: bool,
}

impl Grouped {
    /// So many of each are no chance.
    const ENOUGH: u32 = 20;

    fn learn(&mut self, Plain { digits, places }: Plain) {
        match places {
            _ if self.no => {}
            0 if (100..1_000).contains(&digits.abs()) => {
                self.hundreds += u32::from(digits != self.last);
                self.last = digits;
            }
            0 => {}
            3 if (1_000..1_000_000).contains(&digits.abs()) => self.marked += 1,
            _ => self.no = true,
        }
    }

    fn is_likely(self) -> bool {
        !self.no && self.marked >= Self::ENOUGH && self.hundreds >= Self::ENOUGH
    }
}

/// Whether three digits stand behind each mark but the last of two kinds.
fn groups_thousands(text: &str) -> bool {
    let first = text.find(['.', ',']).unwrap_or(text.len());
    let (before, marked) = text.split_at(first);
    let mark = marked.chars().next().unwrap_or('.');
    let other = if mark == '.' { ',' } else { '.' };
    let whole = marked.split(other).next().unwrap_or_default();
    let is_group = |group: &str| group.len() == 3 && group.bytes().all(|b| b.is_ascii_digit());
    !before.is_empty() && before.len() <= 4 && whole.split(mark).skip(1).all(is_group)
}

fn thousands(text: &str) -> String {
    format!(
        "{} has a mark between thousands, which is not read: write the number without",
        quoted(text)
    )
}

impl Decimals {
    pub(crate) fn new(told: Option<Decimal>) -> Self {
        Self { mark: told, told: told.is_some(), grouped: Vec::new() }
    }

    /// The number with a point, or why it cannot be one.
    fn pointed<'a>(&mut self, text: &'a str) -> Result<Cow<'a, str>, String> {
        let mark = match (text.contains('.'), text.contains(',')) {
            (false, false) => return Ok(text.into()),
            (true, false) => Decimal::Point,
            (false, true) => Decimal::Comma,
            (true, true) if groups_thousands(text) => return Err(thousands(text)),
            (true, true) => return Err(format!("{} is not a number", quoted(text))),
        };
        if *self.mark.get_or_insert(mark) != mark {
            if groups_thousands(text) {
                return Err(thousands(text));
            }
            let (written, other) = match mark {
                Decimal::Point => ("comma", "point"),
                Decimal::Comma => ("point", "comma"),
            };
            return Err(format!(
                "{} is not a number where decimals are written with a {written}; say --decimal {other} \
                 where they are not",
                quoted(text)
            ));
        }
        Ok(match mark {
            Decimal::Point => text.into(),
            Decimal::Comma => text.replacen(',', ".", 1).into(),
        })
    }

    fn learn(&mut self, plain: Plain, at: usize) {
        match self.grouped.iter_mut().find(|(place, _)| *place == at) {
            Some((_, grouped)) => grouped.learn(plain),
            // The first of a column tells nothing alone.
            None => self.grouped.push((at, Grouped::default())),
        }
    }

    /// Whether it cannot be told if marks stand before decimals or between thousands.
    pub(crate) fn are_ambiguous(&self) -> bool {
        !self.told && self.grouped.iter().any(|(_, grouped)| grouped.is_likely())
    }

    /// A number in its unit, rounded to the nearest 1/65 536: of a cell that is what nearly all are, or `None`.
    pub(crate) fn plain(&mut self, cell: &[u8], column: Column) -> Option<I16F16> {
        if self.mark != Some(Decimal::Point) || column.factor != 1.0 {
            return None;
        }
        let plain = Plain::read(cell)?;
        self.learn(plain, column.at);
        plain.nearest()
    }

    /// A number in its unit, rounded to the nearest 1/65 536; none where it stands for a missing one.
    pub(crate) fn value(
        &mut self,
        text: &str,
        column: Column,
        missing: &mut Missing,
    ) -> Result<I16F16, String> {
        let text = self.pointed(text)?;
        // The library's own way from text is one bit off for one in 400 of seven decimals.
        let plain = Plain::read(text.as_bytes());
        if let Some(plain) = plain {
            self.learn(plain, column.at);
        }
        if let Some(value) = plain.filter(|_| column.factor == 1.0).and_then(Plain::nearest) {
            return missing.number(value.to_num(), column).map(|()| value);
        }
        let value = float(&text)?;
        missing.number(value, column)?;
        let value = value * column.factor;
        I16F16::checked_from_num(value).ok_or_else(|| format!("{} is out of range", quoted(&text)))
    }

    /// A time in whole microseconds of a cell that is what nearly all are, or `None`.
    pub(crate) fn plain_micros(cell: &[u8], column: Column) -> Option<i128> {
        let whole = Plain::read(cell).filter(|plain| plain.places == 0 && column.factor == 1.0)?;
        (cell.last() != Some(&b'.')).then_some(whole.digits.into())
    }

    /// A time in microseconds.
    pub(crate) fn micros(&mut self, text: &str, column: Column) -> Result<i128, String> {
        if column.factor == 1.0
            && let Ok(us) =
                text.parse::<i64>().map(i128::from).or_else(|_| text.parse::<u64>().map(i128::from))
        {
            return Ok(us);
        }
        let text = self.pointed(text)?;
        let us = float(&text).map_err(|why| format!("time {why}"))? * column.factor;
        whole_micros(us).ok_or_else(|| format!("time {} is out of range", quoted(&text)))
    }
}

/// A number of a few digits and a point, as nearly all are: digits, and how many stand behind it.
#[derive(Debug, Clone, Copy)]
struct Plain {
    digits: i64,
    places: usize,
}

/// So many digits times 2^16 are a 64-bit number.
const DIGITS: usize = 14;

const TENS: [i64; DIGITS + 1] = {
    let mut tens = [1; DIGITS + 1];
    let mut i = 1;
    while i <= DIGITS {
        tens[i] = tens[i - 1] * 10;
        i += 1;
    }
    tens
};

impl Plain {
    fn read(text: &[u8]) -> Option<Self> {
        let (negative, text) = match text {
            [b'-', rest @ ..] => (true, rest),
            _ => (false, text),
        };
        let (mut digits, mut point) = (0_i64, None);
        if text.len() > DIGITS {
            return None;
        }
        for (at, byte) in text.iter().enumerate() {
            match byte {
                // No more than 14 of them.
                b'0'..=b'9' => {
                    digits = digits.wrapping_mul(10).wrapping_add(i64::from(byte & 0x0f));
                }
                b'.' if point.is_none() => point = Some(at),
                _ => return None,
            }
        }
        let places = point.map_or(0, |at| text.len() - at - 1);
        // A point alone, or nothing, is no number; a sign alone neither.
        if text.len() == usize::from(point.is_some()) {
            return None;
        }
        Some(Self { digits: if negative { -digits } else { digits }, places })
    }

    /// To the nearest 1/65 536, of two as near the even one; `None` out of range.
    fn nearest(self) -> Option<I16F16> {
        let (scaled, ten) = (self.digits << 16, TENS[self.places]);
        let (whole, rest) = (scaled.div_euclid(ten), scaled.rem_euclid(ten));
        let up = 2 * rest > ten || 2 * rest == ten && whole % 2 != 0;
        i32::try_from(whole + i64::from(up)).ok().map(I16F16::from_bits)
    }
}

/// To the nearest; `None` beyond 2^53 µs, 285 years, where microseconds are no longer exact.
pub(crate) fn whole_micros(us: f64) -> Option<i128> {
    (us.abs() <= 9_007_199_254_740_992.0).then(|| us.round() as i128)
}

fn float(text: &str) -> Result<f64, String> {
    let value = text.parse::<f64>().ok().filter(|value| !value.is_nan());
    value.ok_or_else(|| format!("{} is not a number", quoted(text)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bits(text: &str) -> Option<i32> {
        Plain::read(text.as_bytes())?.nearest().map(I16F16::to_bits)
    }

    #[test]
    fn plain_numbers_are_rounded_to_the_nearest() {
        assert_eq!(bits("1.5"), Some(98_304));
        assert_eq!((bits(".5"), bits("5."), bits("-0")), (Some(32_768), Some(327_680), Some(0)));
        // x 65,536: 10,224,931.4975 and 914,289.497 and 3,427,687.4977
        assert_eq!(bits("156.0200729"), Some(10_224_931));
        assert_eq!((bits("13.95095060"), bits("52.302360500")), (Some(914_289), Some(3_427_687)));
        // Halves of a step go to the even one: 0.5, 1.5 and -0.5 steps.
        let half = |text| bits(text);
        assert_eq!((half("0.000007629394"), half("0.000007629395")), (Some(0), Some(1)));
        assert_eq!(
            (bits("32767.99999"), bits("32767.999993"), bits("-32768")),
            (Some(i32::MAX), None, Some(i32::MIN))
        );
        for odd in [
            "",
            "-",
            ".",
            "-.",
            "+1",
            "1e3",
            "1.2.3",
            "--1",
            "0x1",
            "nan",
            "32768",
            "123456789012345",
        ] {
            assert_eq!(bits(odd), None, "{odd}");
        }
    }

    /// Doubles hold numbers of five decimals so closely that no rounding can differ.
    #[test]
    fn and_as_doubles_round_them() {
        let mut state = 1_u64;
        for _ in 0..100_000 {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            let (number, places) = ((state >> 33) as i64 - (1 << 30), (state >> 20) % 6);
            let text = format!("{:.*}", places as usize, number as f64 / 32_768.0);
            let double: f64 = text.parse().unwrap();
            assert_eq!(bits(&text), Some((double * 65_536.0).round_ties_even() as i32), "{text}");
        }
    }
}
