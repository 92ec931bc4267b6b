//! One number of a record, by the path to it.

use super::{Record, Sink};

/// A number as a record holds it: its value is `bits` ÷ 2^`fraction`, in the unit of its type.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Number {
    /// Raw bits; those of an unsigned 64-bit number as the signed one of the same bits.
    pub bits: i64,
    /// How many of them are fraction bits: 16 for quantities, none for times (µs) and counts.
    pub fraction: u8,
}

/// The first number at a path of names with dots between, as `"breath.lead.peak"` of a report's breath
/// or `"lung.Known.volume"`; `None` where none stands there now. Newtypes, `Some` and places in a row
/// add nothing to a path. Walks the whole record.
///
/// ```
/// use tidevane::leak::LungVolume;
/// use tidevane::quantity::{Volume, number_at};
///
/// let known = LungVolume::Known { volume: Volume::from_int(5), sd: Volume::from_int(1) };
/// let volume = number_at(&known, "Known.volume").unwrap();
/// assert_eq!((volume.bits, volume.fraction), (5 << 16, 16));
/// assert_eq!(number_at(&known, "Known.error"), None);
/// ```
#[must_use]
pub fn number_at(record: &impl Record, path: &str) -> Option<Number> {
    let mut find =
        Find { rest: path, left: path.is_empty(), astray: 0, open: 0, path, found: None };
    record.save(&mut find);
    find.found
}

/// Follows a path through a walk.
struct Find<'a> {
    path: &'a str,
    /// What of the path is still ahead.
    rest: &'a str,
    /// The path has been followed to its end.
    left: bool,
    /// How many doors deep the walk is beside the path.
    astray: u32,
    /// For each door on the path, from the lowest bit on, whether it took a name from it.
    open: u64,
    found: Option<Number>,
}

impl<'a> Find<'a> {
    fn open(&mut self, took: bool) {
        self.open = self.open.wrapping_shl(1) | u64::from(took);
    }

    /// What is ahead after a name, if the path goes through it.
    fn after(&self, name: &str) -> Option<&'a str> {
        let rest = self.rest.strip_prefix(name)?;
        if rest.is_empty() { Some(rest) } else { rest.strip_prefix('.') }
    }
}

impl Sink for Find<'_> {
    fn number(&mut self, bits: i64, fraction: u8) {
        if self.left && self.astray == 0 && self.found.is_none() {
            self.found = Some(Number { bits, fraction });
        }
    }

    fn code(&mut self, _: u8) {}

    fn enter(&mut self, name: &'static str) {
        if self.astray > 0 || self.left {
            self.astray = self.astray.saturating_add(1);
        } else if let Some(rest) = self.after(name) {
            (self.rest, self.left) = (rest, rest.is_empty());
            self.open(true);
        } else {
            self.astray = 1;
        }
    }

    fn enter_item(&mut self, _: usize) {
        if self.astray > 0 {
            self.astray = self.astray.saturating_add(1);
        } else {
            self.open(false);
        }
    }

    fn leave(&mut self) {
        if self.astray > 0 {
            self.astray = self.astray.saturating_sub(1);
            return;
        }
        let took = self.open & 1 == 1;
        self.open = self.open.wrapping_shr(1);
        if took {
            // Back by one name: what is behind ends where what is ahead began.
            let behind = self.path.len().saturating_sub(self.rest.len());
            let behind = self.path.get(..behind).unwrap_or_default().trim_end_matches('.');
            let start = behind.rfind('.').map_or(0, |dot| dot.saturating_add(1));
            (self.rest, self.left) = (self.path.get(start..).unwrap_or_default(), false);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Flow, Span};
    use crate::record;

    record! {
        struct Inner { flow: Flow, row: [(Flow, Span); 2] }
    }

    record! {
        enum Choice { Plain = 0, Inner(Inner) = 1, Pair { flow: Flow, other: Flow } = 2 }
    }

    record! {
        struct Outer { flow: Flow, maybe: Option<Choice>, floor: Inner, last: Choice }
    }

    fn bits(outer: &Outer, path: &str) -> Option<i64> {
        number_at(outer, path).map(|number| number.bits)
    }

    #[test]
    fn a_path_leads_to_its_number_and_no_other() {
        let ml_s = Flow::from_int;
        let inner = |n| Inner {
            flow: ml_s(n),
            row: [(ml_s(n + 1), Span::from_us(9)), (ml_s(n + 2), Span::ZERO)],
        };
        let mut outer = Outer {
            flow: ml_s(1),
            maybe: Some(Choice::Inner(inner(10))),
            floor: inner(20),
            last: Choice::Pair { flow: ml_s(30), other: ml_s(31) },
        };
        let whole = |n: i64| Some(n << 16);
        assert_eq!(bits(&outer, "flow"), whole(1));
        assert_eq!(bits(&outer, "maybe.Inner.flow"), whole(10));
        assert_eq!(bits(&outer, "maybe.Inner.row"), whole(11)); // the first of a row
        assert_eq!(bits(&outer, "floor.flow"), whole(20));
        assert_eq!(bits(&outer, "last.Pair.other"), whole(31));
        for wrong in
            ["", "fl", "flow.flow", "floor", "last.Pair", "last.Inner.flow", "other", "floor.", "."]
        {
            assert_eq!(bits(&outer, wrong), None, "{wrong}");
        }
        outer.maybe = None;
        assert_eq!(bits(&outer, "maybe.Inner.flow"), None);
        outer.last = Choice::Plain;
        assert_eq!(bits(&outer, "last.Pair.flow"), None);
        assert_eq!(number_at(&ml_s(7), ""), Some(Number { bits: 7 << 16, fraction: 16 }));
    }
}
