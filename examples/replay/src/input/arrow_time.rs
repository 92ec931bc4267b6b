//! Dates and times in Arrow's own types, or as text in its columns.

use super::arrow::no_time;
use super::dates::Dates;
use anyhow::{Result, bail};
use arrow_array::cast::AsArray;
use arrow_array::types::{
    ArrowPrimitiveType, Date32Type, Date64Type, Time32MillisecondType, Time32SecondType,
    Time64MicrosecondType, Time64NanosecondType, TimestampMicrosecondType,
    TimestampMillisecondType, TimestampNanosecondType, TimestampSecondType,
};
use arrow_array::{Array, ArrayRef};
use arrow_schema::{DataType, Field, TimeUnit};

/// A day, in microseconds.
const DAY: i128 = 86_400_000_000;

/// What the numbers of a column count from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Since {
    /// 1970 in UTC.
    Utc,
    /// 1970 on a clock whose zone is not told.
    Local,
    /// The same, in whole days.
    Day,
    /// The last midnight.
    Midnight,
}

/// Moments as microseconds, of a column that tells date and time, or the time of day alone.
pub(super) fn dates(
    array: &ArrayRef,
    field: &Field,
    dates: &mut Dates,
    to: &mut Vec<Result<i128, String>>,
) -> Result<()> {
    if let Some(texts) = texts(array) {
        let us =
            |text: Option<&str>| text.map_or_else(|| Err(no_time()), |text| dates.micros(text));
        to.extend(texts.into_iter().map(us));
        return Ok(());
    }
    let (name, kind) = (field.name(), array.data_type());
    let Some((since, whole)) = micros(array) else {
        bail!("column {name} is of type {kind} and has no unit; say --columns time={name}:UNIT")
    };
    if since == Since::Day {
        bail!("column {name} is of type {kind}: days alone tell no time");
    }
    to.extend(whole.into_iter().map(|us| {
        let us = us.ok_or_else(no_time)?;
        match since {
            Since::Utc => Ok(us),
            Since::Midnight => Ok(dates.micros_of_day(us)),
            Since::Local | Since::Day => dates.local_micros(us),
        }
    }));
    Ok(())
}

/// Moments as microseconds, of a column of dates and one of times, which count alone where they are whole.
pub(super) fn both(
    (days, day): (&ArrayRef, &Field),
    (times, time): (&ArrayRef, &Field),
    dates: &mut Dates,
    to: &mut Vec<Result<i128, String>>,
) -> Result<()> {
    if let (Some(days), Some(times)) = (texts(days), texts(times)) {
        to.extend(days.into_iter().zip(times).map(|(day, time)| match time {
            None => Err(no_time()),
            Some(time) => dates.micros_of_two(day.unwrap_or_default(), time),
        }));
        return Ok(());
    }
    match (micros(days), micros(times)) {
        (Some((Since::Day | Since::Local, days)), Some((Since::Midnight, of_day))) => {
            to.extend(days.into_iter().zip(of_day).map(|(day, time)| {
                let (day, time) = day.zip(time).ok_or_else(no_time)?;
                dates.local_micros(day + time)
            }));
            Ok(())
        }
        (_, Some((Since::Utc | Since::Local, _))) => self::dates(times, time, dates, to),
        _ => bail!(
            "columns {} and {} are of types {} and {}: give both as text, or as date and time of day",
            day.name(),
            time.name(),
            days.data_type(),
            times.data_type()
        ),
    }
}

/// To the nearest microsecond; `None` of a column of another kind.
fn micros(array: &ArrayRef) -> Option<(Since, Vec<Option<i128>>)> {
    let kind = array.data_type();
    let since = match kind {
        DataType::Timestamp(_, Some(_)) => Since::Utc,
        DataType::Timestamp(_, None) => Since::Local,
        DataType::Date32 | DataType::Date64 => Since::Day,
        _ => Since::Midnight,
    };
    let second = 1_000_000;
    let whole = match kind {
        DataType::Timestamp(TimeUnit::Second, _) => whole::<TimestampSecondType>(array, second, 1),
        DataType::Timestamp(TimeUnit::Millisecond, _) => {
            whole::<TimestampMillisecondType>(array, 1_000, 1)
        }
        DataType::Timestamp(TimeUnit::Microsecond, _) => {
            whole::<TimestampMicrosecondType>(array, 1, 1)
        }
        DataType::Timestamp(TimeUnit::Nanosecond, _) => {
            whole::<TimestampNanosecondType>(array, 1, 1_000)
        }
        DataType::Date32 => whole::<Date32Type>(array, DAY, 1),
        DataType::Date64 => whole::<Date64Type>(array, 1_000, 1),
        DataType::Time32(TimeUnit::Second) => whole::<Time32SecondType>(array, second, 1),
        DataType::Time32(_) => whole::<Time32MillisecondType>(array, 1_000, 1),
        DataType::Time64(TimeUnit::Microsecond) => whole::<Time64MicrosecondType>(array, 1, 1),
        DataType::Time64(_) => whole::<Time64NanosecondType>(array, 1, 1_000),
        _ => return None,
    };
    Some((since, whole))
}

/// Numbers times `up` over `down`.
fn whole<T: ArrowPrimitiveType>(array: &ArrayRef, up: i128, down: i128) -> Vec<Option<i128>>
where
    i128: From<T::Native>,
{
    let scaled = |time| (i128::from(time) * up + down / 2).div_euclid(down);
    array.as_primitive::<T>().iter().map(|time| time.map(scaled)).collect()
}

/// The cells of a column of text.
fn texts(array: &ArrayRef) -> Option<Vec<Option<&str>>> {
    match array.data_type() {
        DataType::Utf8 => Some(array.as_string::<i32>().iter().collect()),
        DataType::LargeUtf8 => Some(array.as_string::<i64>().iter().collect()),
        DataType::Utf8View => Some(array.as_string_view().iter().collect()),
        _ => None,
    }
}
