//! What happened, in order.

use crate::doc::Doc;
use crate::figures::Summary;
use tidevane::monitor::JournalEntry;

/// So many entries are printed.
const SHOWN: usize = 60;

pub(super) fn write(doc: &mut Doc, summary: &Summary) {
    doc.section("journal", "What happened, in order");
    let journal = &summary.journal;
    if journal.is_empty() {
        return doc.say("No setting was changed, no alarm rang, and no verdict was made.");
    }
    let left_out = journal.len().saturating_sub(SHOWN);
    let rows: Vec<_> = journal.entries().skip(left_out).map(|entry| row(entry, summary)).collect();
    doc.prose_table("The journal", &["no.", "time", "what", "detail"], rows, &[1, 2, 3]);
    let lost = u64::from(journal.lost()) + left_out as u64;
    if lost > 0 {
        doc.say(format!("{lost} earlier entries are not shown; --events writes all."));
    }
}

fn row(entry: &JournalEntry, summary: &Summary) -> Vec<String> {
    let at = summary.wall.seconds_of(entry.event.at);
    vec![
        entry.number.to_string(),
        summary.clock(at),
        entry.event.what.name().into(),
        entry.event.to_string(),
    ]
}
