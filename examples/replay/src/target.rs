//! What was proposed for a target volume along a recording, and what held it.

use tidevane::volume::{Bound, Hold, Proposed};

/// The proposals so far.
#[derive(Default)]
pub(crate) struct Target {
    /// The last that is one: a breath that is cut or flagged makes none.
    pub(crate) last: Option<Proposed>,
    /// How many were made, and of inflations for which none was, because of leak or for another reason.
    pub(crate) made: usize,
    pub(crate) leak: usize,
    pub(crate) held: usize,
    /// Proposals by what bound them.
    pub(crate) bounds: [usize; BOUNDS.len()],
    /// What binds now, how many in a row, and since when, in seconds.
    run: Option<(Bound, usize, f64)>,
    /// The longest stretch in which the target needed more than the ceiling: inflations, from and to.
    pub(crate) longest: Option<(usize, f64, f64)>,
    short_from: f64,
}

/// What can bind, with the words for it.
pub(crate) const BOUNDS: [(Bound, &str); 5] = [
    (Bound::None, "by nothing"),
    (Bound::Step, "by the largest step"),
    (Bound::Ceiling, "at the ceiling"),
    (Bound::LeastRise, "by the least rise"),
    (Bound::CeilingLowered, "by a ceiling below the peak"),
];

impl Target {
    pub(crate) fn take(&mut self, proposed: Proposed, at_s: f64) {
        let (bound, short) = match proposed {
            Proposed::Hold(Hold::Leak) => {
                self.leak += 1;
                return;
            }
            Proposed::Hold(_) => {
                self.held += 1;
                return;
            }
            Proposed::Peak { bound, short, .. } => (bound, short as usize),
        };
        self.last = Some(proposed);
        self.made += 1;
        for (count, _) in self.bounds.iter_mut().zip(BOUNDS).filter(|(_, (each, _))| *each == bound)
        {
            *count += 1;
        }
        self.run = Some(match self.run {
            Some((was, n, since)) if was == bound => (bound, n + 1, since),
            _ => (bound, 1, at_s),
        });
        if short == 1 {
            self.short_from = at_s;
        }
        if short > self.longest.map_or(0, |(n, ..)| n) {
            self.longest = Some((short, self.short_from, at_s));
        }
    }

    /// What binds now.
    pub(crate) fn binds(&self) -> Option<Bound> {
        self.run.map(|(bound, ..)| bound)
    }

    /// What binds now, how many in a row, and since when, in seconds.
    pub(crate) fn now(&self) -> Option<(&'static str, usize, f64)> {
        let (bound, n, since) = self.run?;
        let words = BOUNDS.iter().find(|(each, _)| *each == bound)?.1;
        Some((words, n, since))
    }
}
