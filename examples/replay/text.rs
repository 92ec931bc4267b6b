//! How text and numbers are printed.

/// How much of a quoted text is printed.
const QUOTED: usize = 40;

/// In quotes; the end of a long text is cut off, and what is not printable is escaped.
pub(crate) fn quoted(text: &str) -> String {
    let shown: String = text.chars().take(QUOTED).flat_map(char::escape_debug).collect();
    let more = if text.chars().nth(QUOTED).is_some() { "…" } else { "" };
    format!("\"{shown}{more}\"")
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
