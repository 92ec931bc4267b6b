//! Every number that a record holds, with the path to it: a public number cannot be forgotten.

use std::collections::BTreeMap;
use tidevane::quantity::Record;
use tidevane_support::parts::{self, Part};

/// Numbers by path, as `breath.quiet.flow` or `lung.Known.volume`.
pub(crate) type Fields = BTreeMap<String, f64>;

/// The numbers of a value, in its own unit.
pub(crate) fn of(value: &impl Record) -> Fields {
    let number = |part: &Part| match *part {
        Part::Number(bits, fraction) => Some(bits as f64 / 2_f64.powi(fraction.into())),
        Part::Code(_) => None,
    };
    let last = |parts: Vec<Part>| parts.iter().rev().find_map(number);
    parts::of(value).into_iter().filter_map(|(path, parts)| Some((path, last(parts)?))).collect()
}
