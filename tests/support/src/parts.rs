//! The parts of a record by the path to each.

use std::collections::BTreeMap;
use tidevane::quantity::{Record, Sink};

/// Numbers with their fraction bits and codes of variants, in the order of the walk.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Part {
    /// A number's bits and how many of them are fraction bits.
    Number(i64, u8),
    /// A variant, a yes or a no.
    Code(u8),
}

/// The parts of a value by path, as `breath.quiet.flow` or `lung.Known.volume`. Newtypes, `Some` and
/// places in a row add nothing to a path, so a row of parts stands under one path.
pub fn of(value: &impl Record) -> BTreeMap<String, Vec<Part>> {
    let mut parts = Parts::default();
    value.save(&mut parts);
    parts.found
}

#[derive(Debug, Default)]
struct Parts {
    path: String,
    /// How long the path was at each door that is open.
    open: Vec<usize>,
    found: BTreeMap<String, Vec<Part>>,
}

impl Parts {
    fn put(&mut self, part: Part) {
        match self.found.get_mut(&self.path) {
            Some(parts) => parts.push(part),
            None => {
                self.found.insert(self.path.clone(), vec![part]);
            }
        }
    }
}

impl Sink for Parts {
    fn number(&mut self, bits: i64, fraction: u8) {
        self.put(Part::Number(bits, fraction));
    }

    fn code(&mut self, code: u8) {
        self.put(Part::Code(code));
    }

    fn enter(&mut self, name: &'static str) {
        self.open.push(self.path.len());
        if !self.path.is_empty() {
            self.path.push('.');
        }
        self.path.push_str(name);
    }

    fn enter_item(&mut self, _: usize) {
        self.open.push(self.path.len());
    }

    fn leave(&mut self) {
        self.path.truncate(self.open.pop().expect("a door that was entered"));
    }
}
