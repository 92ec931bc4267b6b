//! The top of the report as Markdown.

use super::Top;
use crate::doc::Block;

impl Top {
    /// The lead, the answers as a table, and the lists under it.
    pub(crate) fn markdown(&self) -> String {
        let mut blocks = vec![Block::Say(self.lead.clone())];
        let rows = self.answers.iter().map(|answer| {
            vec![
                answer.standing.name().into(),
                answer.question.short().into(),
                answer.word.clone(),
                answer.number.clone(),
            ]
        });
        blocks.push(Block::Table {
            caption: String::new(),
            header: ["", "question", "answer", "number"].map(Into::into).into(),
            rows: rows.collect(),
            prose: vec![1, 2, 3],
        });
        let whys = self.answers.iter().map(|a| format!("{} {}.", a.question.short(), a.why));
        blocks.push(Block::Points(whys.collect()));
        let text: String = blocks.iter().map(Block::markdown).collect();
        let lists = [
            ("Now", &self.now),
            ("What changed", &self.changed),
            ("Watch", &self.watch),
            ("Not known", &self.unknown),
        ];
        lists.into_iter().fold(text, |text, (head, list)| {
            text + &format!("\n### {head}\n") + &Block::Points(list.clone()).markdown()
        })
    }
}
