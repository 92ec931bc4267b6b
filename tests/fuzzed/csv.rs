//! The reader of recordings: lines, cells, columns and clock.
//!
//! - Every line is a reading or a refusal with a reason; a line never spills into the next.
//! - The other end of line, blank lines between and blanks around change nothing but numbers.
//! - A reading written out in decimals comes back to the bit.
//! - Moments never run backwards by a turn of the counter.

use crate::cells::Cells;
use crate::clock::Clock;
use crate::columns::Columns;
use crate::lines::{LONGEST, Lines, Raw};
use std::io::Cursor;
use tidevane::quantity::Moment;
use tidevane::signal::Reading;

type Row = Result<(Moment, Reading), String>;

/// What a recording says, line by line; `None` where its head says nothing.
fn read(text: &[u8]) -> Option<Vec<Row>> {
    let mut lines = Lines::new(Cursor::new(text.to_vec())).ok()?;
    let mut cells = Cells::new();
    let Raw::Line(head) = lines.next().unwrap()? else { return None };
    let columns = cells.split(head).and_then(Columns::of).ok()?;
    assert!(columns.count >= 3);
    let (mut clock, mut rows, mut number) = (Clock::default(), Vec::new(), lines.number);
    while let Some(raw) = lines.next().unwrap() {
        let row = match raw {
            Raw::TooLong => Err("too long".to_owned()),
            Raw::Line(line) => {
                assert!(line.len() <= LONGEST + 1 && !line.trim_ascii().is_empty());
                cells.split(line).and_then(|record| {
                    assert_eq!(record.iter().count(), record.len());
                    let (us, reading) = columns.parse(record)?;
                    let at = clock.moment(us);
                    Ok((at.ok_or("out of range")?, reading))
                })
            }
        };
        assert!(row.as_ref().err().is_none_or(|why| !why.is_empty()));
        assert!(lines.number > number, "a line without a number");
        number = lines.number;
        rows.push(row);
    }
    Some(rows)
}

pub(crate) fn check(data: &[u8]) {
    let Some(rows) = read(data) else { return };
    for (_, reading) in rows.iter().flatten() {
        again(*reading);
    }
    // A quote or a lone carriage return may cut lines elsewhere.
    if data.iter().all(|byte| !matches!(byte, b'\r' | b'"')) && data.is_ascii() {
        let ends: Vec<u8> = data.iter().flat_map(|&b| with(b, b"\r\n")).collect();
        assert_eq!(read(&ends).as_ref(), Some(&rows), "ends of lines");
        let blanks: Vec<u8> = data.iter().flat_map(|&b| with(b, b" \n\n\t\n ")).collect();
        assert_eq!(read(&blanks).as_ref(), Some(&rows), "blank lines");
    }
}

/// A byte, or what stands in the place of an end of line.
fn with(byte: u8, end: &[u8]) -> Vec<u8> {
    if byte == b'\n' { end.to_vec() } else { vec![byte] }
}

/// The reading, written out as doubles, which hold it exactly, and read again.
fn again(reading: Reading) {
    let exact = |bits: i32| f64::from(bits) / 65_536.0;
    let (flow, pressure) = (exact(reading.flow.to_bits()), exact(reading.pressure.to_bits()));
    let text = format!("t_us,flow_ml_per_s,paw_cmH2O\n7,{flow},{pressure}\n");
    let rows = read(text.as_bytes()).expect("a head");
    assert_eq!(rows, [Ok((Moment::from_us(7), reading))], "{text}");
}
