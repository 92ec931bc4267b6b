//! How text and numbers are printed.

use tidevane::alarm::BreathKind;

/// The kinds of breath in the order in which they are told: what the machine assures first.
pub(crate) const KINDS: [BreathKind; 3] =
    [BreathKind::Assured, BreathKind::Supported, BreathKind::Own];

/// A kind of breath as it is called.
pub(crate) const fn kind_name(kind: BreathKind) -> &'static str {
    match kind {
        BreathKind::Assured => "set-rate",
        BreathKind::Supported => "supported",
        BreathKind::Own => "own",
    }
}

/// How much of a quoted text is printed.
const QUOTED: usize = 40;

/// In quotes; the end of a long text is cut off, and what is not printable is escaped.
pub(crate) fn quoted(text: &str) -> String {
    let shown: String = text.chars().take(QUOTED).flat_map(char::escape_debug).collect();
    let more = if text.chars().nth(QUOTED).is_some() { "…" } else { "" };
    format!("\"{shown}{more}\"")
}

/// A name from outside, as text: what would move the cursor, colour or turn what follows is escaped.
#[must_use]
pub fn printable(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        if is_command(letter) { out.extend(letter.escape_unicode()) } else { out.push(letter) }
    }
    out
}

/// Control characters but the end of a line, and the marks of bidirectional text (Unicode Standard
/// Annex 9, table 1).
fn is_command(letter: char) -> bool {
    let turns = matches!(letter, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}'
        | '\u{2066}'..='\u{2069}');
    turns || (letter.is_control() && letter != '\n')
}

/// A name from outside in a Markdown text: in a code span, where nothing of it is markup.
pub(crate) fn name(text: &str) -> String {
    format!("`{}`", printable(text).replace('`', "'").replace('\n', " "))
}

/// With a fixed number of decimals, and no sign where they are all zero; a dash for no number.
pub(crate) fn decimals(value: f64, places: usize) -> String {
    if !value.is_finite() {
        return "-".into();
    }
    let text = format!("{value:.places$}");
    match text.strip_prefix('-') {
        Some(zero) if zero.bytes().all(|b| matches!(b, b'0' | b'.')) => zero.into(),
        _ => text,
    }
}

/// A length of time in the unit that suits it.
pub(crate) fn length(seconds: f64) -> String {
    let (value, unit, places) = match seconds {
        s if 0.0 < s && s < 1.0 => (s, "s", 3),
        s if s < 120.0 => (s, "s", 1),
        s if s < 7_200.0 => (s / 60.0, "min", 1),
        s => (s / 3_600.0, "h", 1),
    };
    let text = decimals(value, places);
    format!("{} {unit}", text.strip_suffix(".0").unwrap_or(&text))
}

/// As it begins a sentence.
pub(crate) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

/// How often, in words.
pub(crate) fn times(n: u64) -> String {
    match n {
        1 => "once".into(),
        2 => "twice".into(),
        n => format!("{n} times"),
    }
}

/// So many of something, in the singular where it is one.
pub(crate) fn many(n: usize, one: &str, more: &str) -> String {
    if n == 1 { format!("one {one}") } else { format!("{n} {more}") }
}

/// A share as whole percent.
pub(crate) fn percent(share: f64) -> String {
    format!("{} %", decimals(share * 100.0, 0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_text_and_no_command() {
        assert_eq!(printable("night 2.csv"), "night 2.csv");
        // red, a bell, and right-to-left so that what follows is read backwards
        assert_eq!(printable("\u{1b}[31ma\u{7}\u{202e}b"), "\\u{1b}[31ma\\u{7}\\u{202e}b");
        assert_eq!(name("[y](javascript:alert(1))`x`"), "`[y](javascript:alert(1))'x'`");
    }
}
