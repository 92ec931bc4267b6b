//! The top of the report as text: no more lines than a terminal shows at once.

use super::{Standing, Top};

/// No line is longer than this.
const WIDTH: usize = 100;

impl Top {
    /// At most 25 lines: what makes all doubtful first, and what does not fit of the lists is left out.
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
            lines.push(cut(&format!("{:<9}  {question:<26}  {said}", answer.standing.name())));
        }
        lines.push(String::new());
        let lists = [
            ("now", &self.now, 4),
            ("changed", &self.changed, 2),
            ("watch", &self.watch, 2),
            ("unknown", &self.unknown, 2),
        ];
        for (head, list, most) in lists {
            for (i, line) in list.iter().take(most).enumerate() {
                lines.push(cut(&format!("{:<9}  {line}", if i == 0 { head } else { "" })));
            }
        }
        lines.truncate(24);
        lines.push("All of it: --full, or --report FILE.html".into());
        lines.join("\n") + "\n"
    }
}

/// As much as stands in a line.
fn cut(line: &str) -> String {
    if line.chars().count() <= WIDTH {
        return line.to_owned();
    }
    let mut short: String = line.chars().take(WIDTH - 1).collect();
    short.truncate(short.trim_end().len());
    short + "…"
}
