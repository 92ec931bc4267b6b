//! The eight questions at the bedside: each answered by a word and a number, and how much it asks for a look.

mod asked;
mod brief;
mod drift;
mod late;
mod leak;
mod levels;
mod load;
mod markdown;
mod support;
mod threshold;
mod told;
mod top;
mod tube;
mod volume;

use crate::config::Setup;
use crate::figures::Summary;
pub(crate) use top::{Top, alerts};

/// How much an answer asks for a look, the most first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Standing {
    Look,
    Watch,
    /// It cannot be told: above what shows no sign, since it may hide one.
    Unknown,
    /// No sign was seen, which is not the same as none.
    NoSign,
}

impl Standing {
    pub(crate) const ALL: [Self; 4] = [Self::Look, Self::Watch, Self::Unknown, Self::NoSign];

    /// As it stands before the question.
    pub(crate) const fn name(self) -> &'static str {
        match self {
            Self::Look => "look",
            Self::Watch => "watch",
            Self::Unknown => "not known",
            Self::NoSign => "no sign",
        }
    }
}

/// The questions, in the order of the sections that go into them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Question {
    Threshold,
    Asked,
    Leak,
    Volume,
    Support,
    Levels,
    Load,
    Tube,
}

impl Question {
    /// In few words.
    pub(crate) const fn short(self) -> &'static str {
        match self {
            Self::Threshold => "Is the threshold right?",
            Self::Asked => "Did the infant ask for it?",
            Self::Leak => "How much gas escapes?",
            Self::Volume => "What reaches the lung?",
            Self::Support => "What does support give?",
            Self::Levels => "Which alarm level?",
            Self::Load => "Is the load carried?",
            Self::Tube => "Can the tube come out?",
        }
    }

    /// The section that answers it at length.
    pub(crate) const fn id(self) -> &'static str {
        match self {
            Self::Threshold => "threshold",
            Self::Asked => "asked",
            Self::Leak => "leak",
            Self::Volume => "volume",
            Self::Support => "support",
            Self::Levels => "levels",
            Self::Load => "load",
            Self::Tube => "tube",
        }
    }
}

/// Where there is no answer.
const UNKNOWN: &str = "not known";

/// An answer.
#[derive(Debug)]
pub(crate) struct Answer {
    pub(crate) question: Question,
    pub(crate) standing: Standing,
    /// The answer in a word or two, or why there is none.
    pub(crate) word: String,
    /// The number behind it, with what it spreads over.
    pub(crate) number: String,
    /// What it rests on.
    pub(crate) why: String,
}

impl Answer {
    fn new(
        question: Question,
        standing: Standing,
        word: impl Into<String>,
        number: impl Into<String>,
        why: impl Into<String>,
    ) -> Self {
        Self { question, standing, word: word.into(), number: number.into(), why: why.into() }
    }

    fn unknown(question: Question, why: impl Into<String>) -> Self {
        Self::new(question, Standing::Unknown, UNKNOWN, "", why)
    }
}

/// All eight, the one to look at first before the others; of two that ask alike, what the infant bears stands before
/// what is set.
pub(crate) fn all(summary: &Summary, setup: &Setup) -> Vec<Answer> {
    let mut answers = vec![
        load::answer(summary),
        leak::answer(summary),
        volume::answer(summary, &setup.bedside),
        asked::answer(summary),
        threshold::answer(summary),
        tube::answer(summary),
        support::answer(summary, &setup.bedside),
        levels::answer(summary, &setup.bedside),
    ];
    if let Some(why) = late::silence(summary) {
        // What is not heard now shows no sign either: no comfort, and no advice, from the time before.
        let stands = |answer: &&mut Answer| {
            answer.question != Question::Load || answer.standing != Standing::Look
        };
        for answer in answers.iter_mut().filter(stands) {
            if answer.standing == Standing::Unknown {
                let of_now = [Question::Leak, Question::Volume, Question::Asked];
                if of_now.contains(&answer.question) {
                    answer.why.clone_from(&why);
                }
                continue;
            }
            let was = std::mem::replace(&mut answer.word, UNKNOWN.into());
            answer.standing = Standing::Unknown;
            answer.number.clear();
            answer.why = format!("{why}; before that: {was}");
        }
    }
    if !summary.doubts.is_empty() {
        // The numbers themselves are in doubt: no comfort from them.
        let comforts = |a: &&mut Answer| matches!(a.standing, Standing::NoSign | Standing::Watch);
        for answer in answers.iter_mut().filter(comforts) {
            let was = std::mem::replace(&mut answer.word, UNKNOWN.into());
            answer.standing = Standing::Unknown;
            answer.number.clear();
            answer.why = format!("the recording is in doubt; by its numbers: {was}");
        }
    }
    answers.sort_by_key(|answer| answer.standing);
    answers
}
