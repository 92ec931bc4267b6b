//! What an alarm sees of a breath, value by value.

use crate::parts::{self, Part};
use tidevane::alarm::{BreathKind, BreathView};
use tidevane::breath::Breath;
use tidevane::quantity::{Instant, Pressure, Rate, Saturated, Share, Volume};
use tidevane::signal::Flags;

/// The values; `None` where one is not known.
#[derive(Debug, Clone, Copy)]
#[expect(missing_docs, reason = "named as what they become")]
pub struct View {
    pub at: Instant,
    pub kind: BreathKind,
    pub inspired: Option<Volume>,
    pub expired: Option<Volume>,
    pub most_out: Option<Volume>,
    pub leak: Option<Share>,
    pub rate: Option<Rate>,
    pub minute_volume: Option<Volume>,
    pub peak: Pressure,
    /// Whether breath was drawn for certain, and whether nothing was wrong: then it was drawn, too.
    pub drawn: bool,
    pub trusted: bool,
}

impl View {
    /// Through a breath that has them.
    pub fn seen(&self) -> BreathView {
        let clamped = Saturated { value: Volume::MAX, saturated: true };
        let volume = |known: Option<Volume>| known.map_or(clamped, Saturated::exact);
        let breath = Breath {
            end: self.at,
            inspired: volume(self.inspired),
            expired: volume(self.expired),
            most_out: volume(self.most_out),
            peak: self.peak,
            flags: match (self.trusted, self.drawn) {
                (true, _) => Flags::NONE,
                (false, true) => Flags::GAP,
                (false, false) => Flags::CUT,
            },
            ..Breath::default()
        };
        BreathView::of(&breath, self.kind, self.leak, self.rate, self.minute_volume)
    }
}

/// Whether an alarm takes a breath for one that was drawn for certain.
pub fn is_drawn(view: &BreathView) -> bool {
    parts::of(view)["drawn"] == [Part::Code(1)]
}
