//! The top of the page: what to look at first, the eight answers, and four lists.

use crate::answer::{Answer, Standing, Top};
use maud::{Markup, html};

pub(super) fn write(top: &Top) -> Markup {
    let lists = [
        ("Now", "the last three minutes", &top.now),
        ("What changed", "the latest first", &top.changed),
        ("Watch", "over all of it", &top.watch),
        ("Not known", "because", &top.unknown),
    ];
    html! {
        @for alert in &top.alerts { p.alarm role="alert" { (alert) } }
        p.lead { (top.lead) }
        ol.answers { @for answer in &top.answers { (row(answer)) } }
        .lists {
            @for (head, beside, list) in lists {
                section {
                    h2 { (head) " " small { (beside) } }
                    ul { @for line in list { li { (line) } } }
                }
            }
        }
    }
}

fn row(answer: &Answer) -> Markup {
    let standing = answer.standing;
    html! {
        li class=(class(standing)) {
            span.sign { (sign(standing)) span.word { (standing.name()) } }
            a.question href={ "#" (answer.question.id()) } { (answer.question.short()) }
            span.answer { (answer.word) }
            span.number { (answer.number) }
            span.why { (answer.why) }
        }
    }
}

fn class(standing: Standing) -> &'static str {
    match standing {
        Standing::Look => "look",
        Standing::Watch => "watch",
        Standing::Unknown => "unknown",
        Standing::NoSign => "no-sign",
    }
}

/// A vane: the more ink, the sooner to look.
fn sign(standing: Standing) -> Markup {
    html! {
        svg width="22" height="22" viewBox="0 0 22 22" aria-hidden="true" {
            @match standing {
                Standing::Look => { path.mast d="M5 2V21" {} path.full d="M5 2L21 7.5L5 13z" {} },
                Standing::Watch => { path.mast d="M5 2V21" {} path.open d="M5 3L19 7.5L5 12z" {} },
                Standing::Unknown => { path.dotted d="M5 2V21" {} text x="10" y="14" { "?" } },
                Standing::NoSign => { path.mast d="M5 13V21" {} },
            }
        }
    }
}

/// What the signs mean.
pub(super) fn legend() -> Markup {
    html! {
        p.legend {
            @for standing in Standing::ALL {
                span class=(class(standing)) { (sign(standing)) (standing.name()) }
            }
            "What shows no sign may be wrong all the same."
        }
    }
}
