//! The report's text: Markdown that reads well as it stands.

use comfy_table::{CellAlignment, Table, presets::ASCII_MARKDOWN};
use textwrap::Options;

/// Lines are no longer than this.
const WIDTH: usize = 100;

/// A text that grows section by section.
#[derive(Default)]
pub(crate) struct Doc {
    text: String,
}

impl Doc {
    pub(crate) fn new(title: &str) -> Self {
        Self { text: format!("# {title}\n") }
    }

    pub(crate) fn section(&mut self, title: &str) {
        self.text += &format!("\n## {title}\n");
    }

    /// A paragraph.
    pub(crate) fn say(&mut self, text: impl AsRef<str>) {
        self.text += &format!("\n{}\n", textwrap::fill(&plain(text.as_ref()), WIDTH));
    }

    /// A list.
    pub(crate) fn points(&mut self, points: &[String]) {
        self.text.push('\n');
        let options = Options::new(WIDTH).initial_indent("- ").subsequent_indent("  ");
        for point in points {
            self.text += &textwrap::fill(&plain(point), &options);
            self.text.push('\n');
        }
    }

    /// A table; all columns but the first stand at the right.
    pub(crate) fn table(&mut self, header: &[&str], rows: &[Vec<String>]) {
        let mut table = Table::new();
        table.load_preset(ASCII_MARKDOWN).set_header(header).add_rows(rows);
        for column in table.column_iter_mut().skip(1) {
            column.set_cell_alignment(CellAlignment::Right);
        }
        self.text += &format!("\n{table}\n");
    }

    pub(crate) fn text(&self) -> &str {
        &self.text
    }
}

/// What a name from outside may hold must not become markup.
fn plain(text: &str) -> String {
    text.replace(['<', '>'], "'").replace('|', "/").replace(['\n', '\r'], " ")
}
