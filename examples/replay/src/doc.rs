//! The report as it is put together: sections of paragraphs, lists and tables.

use comfy_table::{CellAlignment, Table, presets::ASCII_MARKDOWN};
use textwrap::Options;

/// Lines of text are no longer than this.
const WIDTH: usize = 100;

/// A piece of a section.
pub(crate) enum Block {
    Say(String),
    /// How a figure comes about, and what it was measured to be worth.
    Method(String),
    Points(Vec<String>),
    /// The first column and those of `prose` stand at the left, numbers at the right.
    Table {
        caption: String,
        header: Vec<String>,
        rows: Vec<Vec<String>>,
        prose: Vec<usize>,
    },
}

/// A section with its name within the document.
pub(crate) struct Section {
    pub(crate) id: &'static str,
    pub(crate) title: String,
    pub(crate) blocks: Vec<Block>,
}

/// A document that grows section by section.
#[derive(Default)]
pub(crate) struct Doc {
    sections: Vec<Section>,
}

impl Doc {
    pub(crate) fn section(&mut self, id: &'static str, title: &str) {
        self.sections.push(Section { id, title: title.into(), blocks: Vec::new() });
    }

    fn push(&mut self, block: Block) {
        if let Some(section) = self.sections.last_mut() {
            section.blocks.push(block);
        }
    }

    /// A paragraph.
    pub(crate) fn say(&mut self, text: impl Into<String>) {
        self.push(Block::Say(text.into()));
    }

    /// A paragraph on the method.
    pub(crate) fn method(&mut self, text: impl Into<String>) {
        self.push(Block::Method(text.into()));
    }

    /// A list.
    pub(crate) fn points(&mut self, points: &[String]) {
        self.push(Block::Points(points.into()));
    }

    /// A table whose first column names what the numbers are of.
    pub(crate) fn table(&mut self, caption: &str, header: &[&str], rows: Vec<Vec<String>>) {
        self.prose_table(caption, header, rows, &[]);
    }

    /// A table with columns of prose.
    pub(crate) fn prose_table(
        &mut self,
        caption: &str,
        header: &[&str],
        rows: Vec<Vec<String>>,
        prose: &[usize],
    ) {
        self.push(Block::Table {
            caption: caption.into(),
            header: header.iter().map(|&name| name.into()).collect(),
            rows,
            prose: prose.into(),
        });
    }

    pub(crate) fn sections(&self) -> &[Section] {
        &self.sections
    }

    /// As Markdown that reads well as it stands.
    pub(crate) fn markdown(&self) -> String {
        let mut text = String::new();
        for section in &self.sections {
            text += &format!("\n## {}\n", section.title);
            section.blocks.iter().for_each(|block| text += &block.markdown());
        }
        text
    }
}

impl Block {
    pub(crate) fn markdown(&self) -> String {
        match self {
            Self::Say(text) | Self::Method(text) => {
                format!("\n{}\n", textwrap::fill(&plain(text), WIDTH))
            }
            Self::Points(points) => {
                let options = Options::new(WIDTH).initial_indent("- ").subsequent_indent("  ");
                let lines = points.iter().map(|point| textwrap::fill(&plain(point), &options));
                format!("\n{}\n", lines.collect::<Vec<_>>().join("\n"))
            }
            Self::Table { header, rows, prose, .. } => {
                let mut table = Table::new();
                table.load_preset(ASCII_MARKDOWN).set_header(header).add_rows(rows);
                for (i, column) in table.column_iter_mut().enumerate().skip(1) {
                    if !prose.contains(&i) {
                        column.set_cell_alignment(CellAlignment::Right);
                    }
                }
                format!("\n{table}\n")
            }
        }
    }
}

/// What a name from outside may hold must not become markup.
fn plain(text: &str) -> String {
    text.replace(['<', '>'], "'").replace('|', "/").replace(['\n', '\r'], " ")
}
