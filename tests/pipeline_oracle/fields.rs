//! Every number that a value prints, with the path to it: a public number cannot be forgotten.

use std::collections::BTreeMap;
use std::fmt::Debug;

/// Numbers by path, as `breath.quiet.flow` or `lung.Known.volume`.
pub(crate) type Fields = BTreeMap<String, f64>;

/// The numbers of a value. Newtypes and `Some` add nothing to a path, variants that hold something
/// add their name.
pub(crate) fn of(value: &impl Debug) -> Fields {
    let text = format!("{value:?}");
    let mut out = Fields::new();
    let rest = Reader { text: &text, out: &mut out }.value("");
    assert!(rest.trim().is_empty(), "{text} is not read to its end: {rest}");
    out
}

struct Reader<'a> {
    text: &'a str,
    out: &'a mut Fields,
}

impl<'a> Reader<'a> {
    fn value(&mut self, path: &str) -> &'a str {
        self.text = self.text.trim_start();
        let end =
            self.text.find(['(', ')', '{', '}', '[', ']', ',', ' ']).unwrap_or(self.text.len());
        let (word, rest) = self.text.split_at(end);
        self.text = rest.trim_start();
        if self.text.starts_with('{') && !word.is_empty() {
            self.fields(path, word);
        } else if self.text.starts_with('(') || self.text.starts_with('[') {
            let bare = self.text[1..].starts_with(|c: char| c.is_ascii_digit() || c == '-');
            let name = if bare || matches!(word, "Some" | "") { "" } else { word };
            self.items(&join(path, name));
        } else if let Ok(number) = word.parse() {
            self.out.insert(path.to_owned(), number);
        }
        self.text
    }

    /// A struct's own name adds nothing, a variant's does: those are not the type of a field.
    fn fields(&mut self, path: &str, name: &str) {
        let variant = matches!(name, "Known" | "Peak" | "Short" | "Gap" | "ClockReset");
        let path = join(path, if variant { name } else { "" });
        self.text = &self.text[1..];
        while !self.text.trim_start().starts_with('}') {
            let (field, rest) = self.text.split_once(':').expect("a field");
            self.text = rest;
            self.value(&join(&path, field.trim_matches([' ', ','])));
            self.text = self.text.trim_start_matches([',', ' ']);
        }
        self.text = &self.text.trim_start()[1..];
    }

    fn items(&mut self, path: &str) {
        self.text = &self.text[1..];
        while !self.text.trim_start().starts_with([')', ']']) {
            self.value(path);
            self.text = self.text.trim_start_matches([',', ' ']);
        }
        self.text = &self.text.trim_start()[1..];
    }
}

fn join(path: &str, name: &str) -> String {
    match (path.is_empty(), name.is_empty()) {
        (_, true) => path.to_owned(),
        (true, false) => name.to_owned(),
        (false, false) => format!("{path}.{name}"),
    }
}
