//! A section of the page: its figure first, then what is said, the method folded away.

use crate::doc::{Block, Section};
use maud::{Markup, html};

pub(super) fn write(section: &Section, figure: Option<Markup>) -> Markup {
    let (method, said): (Vec<_>, Vec<_>) =
        section.blocks.iter().partition(|block| matches!(block, Block::Method(_)));
    html! {
        section id=(section.id) {
            h2 { (section.title) }
            @if let Some(figure) = figure { (figure) }
            @for block in said { (write_block(block)) }
            @if !method.is_empty() {
                details {
                    summary { "How this comes about" }
                    @for block in method { (write_block(block)) }
                }
            }
        }
    }
}

fn write_block(block: &Block) -> Markup {
    match block {
        Block::Say(text) | Block::Method(text) => html! { p { (text) } },
        Block::Points(points) => html! { ul { @for point in points { li { (point) } } } },
        Block::Table { caption, header, rows, prose } => html! {
            .scroll tabindex="0" role="region" aria-label=(caption) {
                table {
                    caption { (caption) }
                    thead { tr { @for (i, name) in header.iter().enumerate() {
                        th scope="col" class=[class(i, prose)] { (name) }
                    } } }
                    tbody { @for row in rows { tr { @for (i, cell) in row.iter().enumerate() {
                        @if i == 0 { th scope="row" { (cell) } } @else { td class=[class(i, prose)] { (cell) } }
                    } } } }
                }
            }
        },
    }
}

/// Numbers stand at the right.
fn class(column: usize, prose: &[usize]) -> Option<&'static str> {
    (column > 0 && !prose.contains(&column)).then_some("number")
}
