//! The top of the report as text: no more lines than a terminal shows at once.

use super::{Standing, Top};
use textwrap::Options;

/// No line is longer than this.
const WIDTH: usize = 100;
/// So many lines, and one that says where the rest is.
const LINES: usize = 24;
/// Where the text of an entry of a list begins, and that of an answer.
const ENTRY: usize = 11;
const ANSWER: usize = 39;

impl Top {
    /// At most 25 lines: what makes all doubtful first. Of the lists each entry stands whole or not at all, the first of
    /// each list before the second of any.
    pub(crate) fn text(&self, name: &str, caution: &str) -> String {
        let mut lines = vec![cut(&format!("tidevane: second check of {name}")), caution.to_owned()];
        let first = self.alerts.iter().chain([&self.lead]);
        lines.extend(first.flat_map(|text| textwrap::wrap(text, WIDTH)).map(Into::into));
        lines.push(String::new());
        for answer in &self.answers {
            // Why there is no answer stands where the answer would.
            let said = match (answer.standing, answer.number.as_str()) {
                (Standing::Unknown, _) => answer.why.clone(),
                (_, "") => answer.word.clone(),
                (_, number) => format!("{}; {number}", answer.word),
            };
            let question = answer.question.short();
            lines.extend(below(
                &format!("{:<9}  {question:<26}  ", answer.standing.name()),
                ANSWER,
                &said,
            ));
        }
        lines.push(String::new());
        let lists = [
            ("now", &self.now, 4),
            ("changed", &self.changed, 2),
            ("watch", &self.watch, 2),
            ("unknown", &self.unknown, 2),
        ];
        let mut left = LINES.saturating_sub(lines.len());
        let mut chosen = [const { Vec::new() }; 4];
        for round in 0..4 {
            for ((head, list, most), chosen) in lists.iter().zip(&mut chosen) {
                let Some(entry) = list.get(round).filter(|_| round < *most) else { continue };
                let head = if chosen.is_empty() { head } else { "" };
                let entry = below(&format!("{head:<9}  "), ENTRY, entry);
                if entry.len() <= left {
                    left -= entry.len();
                    chosen.extend(entry);
                }
            }
        }
        lines.extend(chosen.into_iter().flatten());
        lines.truncate(LINES);
        lines.push("All of it: --full, or --report FILE.html".into());
        lines.join("\n") + "\n"
    }
}

/// A text behind its head, what does not fit below it.
fn below(head: &str, indent: usize, text: &str) -> Vec<String> {
    let indent = " ".repeat(indent);
    let options = Options::new(WIDTH).initial_indent(head).subsequent_indent(&indent);
    textwrap::wrap(text, options).into_iter().map(Into::into).collect()
}

/// As much of a name as stands in a line.
fn cut(line: &str) -> String {
    if line.chars().count() <= WIDTH {
        return line.to_owned();
    }
    let mut short: String = line.chars().take(WIDTH - 1).collect();
    short.truncate(short.trim_end().len());
    short + "…"
}
