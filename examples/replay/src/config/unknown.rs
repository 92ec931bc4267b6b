//! What is said of an entry that is not known.

use anyhow::{Error, anyhow};
use std::cmp::Reverse;

/// So many entries are proposed in the place of one.
const NEAREST: usize = 3;

/// The error of a settings text with the line, the table and the nearest entries where one is not known.
pub(super) fn explained(text: Option<&str>, error: toml::de::Error) -> Error {
    let Some((entry, known)) = unknown(error.message()) else { return error.into() };
    let place = text.zip(error.span()).map_or(String::new(), |(text, span)| {
        let before = text.get(..span.start).unwrap_or_default();
        let table = before
            .lines()
            .rev()
            .map(str::trim)
            .find(|line| line.starts_with('[') && line.ends_with(']'));
        let table = table.map_or("outside of any table".into(), |table| format!("in {table}"));
        format!(" {table}, line {}", 1 + before.matches('\n').count())
    });
    let nearest = nearest(&entry, &known);
    let instead = if nearest.is_empty() {
        format!("known are {}", known.join(", "))
    } else {
        format!("the nearest that is known: {}", nearest.join(", "))
    };
    anyhow!("unknown field `{entry}`{place}; {instead}")
}

/// The entry and those that are known, of a message of the parser.
fn unknown(message: &str) -> Option<(String, Vec<String>)> {
    let mut quoted = message.strip_prefix("unknown field ")?.split('`').skip(1).step_by(2);
    Some((quoted.next()?.into(), quoted.map(Into::into).collect()))
}

/// Those that hold it, and those that are a few letters off, the fewest first.
fn nearest<'a>(entry: &str, known: &'a [String]) -> Vec<&'a str> {
    let entry = entry.to_lowercase();
    let mut found: Vec<_> = known
        .iter()
        .map(|name| {
            let lower = name.to_lowercase();
            let holds = !entry.is_empty() && (lower.contains(&*entry) || entry.contains(&*lower));
            (Reverse(holds), distance(&entry, &lower), name)
        })
        .filter(|(holds, off, _)| holds.0 || *off <= 1 + entry.chars().count() / 3)
        .collect();
    found.sort();
    found.into_iter().take(NEAREST).map(|(.., name)| &**name).collect()
}

/// How many letters are put in, left out or changed (Levenshtein 1966, Soviet Physics Doklady 10:707-710).
fn distance(one: &str, other: &str) -> usize {
    let other: Vec<char> = other.chars().collect();
    let mut row: Vec<usize> = (0..=other.len()).collect();
    for (i, a) in one.chars().enumerate() {
        let mut diagonal = std::mem::replace(&mut row[0], i + 1);
        for (j, b) in other.iter().enumerate() {
            let changed = diagonal + usize::from(a != *b);
            diagonal = row[j + 1];
            row[j + 1] = changed.min(diagonal + 1).min(row[j] + 1);
        }
    }
    row[other.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_are_counted() {
        // kitten, sitten, sittin, sitting: three.
        assert_eq!(distance("kitten", "sitting"), 3);
        assert_eq!((distance("", "abc"), distance("low", "low")), (3, 0));
    }
}
