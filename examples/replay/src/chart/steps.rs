//! The steps of weaning, each with its number and what was made of it.

use super::failed;
use super::panel::Panel;
use super::style::{self, INK, Mark, PALE, Side};
use crate::steps::Step;
use anyhow::Result;
use plotters::prelude::*;
use tidevane::trend::LoadVerdict;

pub(super) const CAPTION: &str = "Steps of weaning by number; load: full = step back, half = hold, \
                                  line = no sign, nothing = cannot tell";

/// One step as it is drawn.
pub(super) struct Lane {
    from: f64,
    to: f64,
    /// From when on which verdict stood.
    verdicts: Vec<(f64, LoadVerdict)>,
}

impl From<&Step> for Lane {
    fn from(step: &Step) -> Self {
        Self { from: step.from_s, to: step.to_s, verdicts: step.verdicts.clone() }
    }
}

pub(super) fn draw(panel: &Panel<'_, '_>, lanes: &[Lane]) -> Result<()> {
    let (_, edges) = panel.edges();
    let (head, foot) = (edges.start, edges.end - 2);
    let x = |time: f64| panel.at((time, 0.0)).0;
    for (i, lane) in lanes.iter().enumerate() {
        let (left, right) = (x(lane.from), x(lane.to));
        let ends = lane.verdicts.iter().skip(1).map(|v| v.0).chain([lane.to]);
        for ((from, verdict), to) in lane.verdicts.iter().zip(ends) {
            let full = match verdict {
                LoadVerdict::StepBack(_) => foot - head,
                LoadVerdict::Hold(_) => (foot - head) / 2,
                LoadVerdict::NoSign => 3,
                LoadVerdict::CannotTell(_) => continue,
            };
            let colour = match verdict {
                LoadVerdict::NoSign => INK,
                _ => Mark::SelfLeak.colour(),
            };
            let bar = [(x(*from), foot - full), (x(to).max(x(*from) + 1), foot)];
            panel.root.draw(&Rectangle::new(bar, colour.filled())).map_err(failed)?;
        }
        style::line(panel.root, vec![(left, head), (left, foot)], INK, 1)?;
        style::line(panel.root, vec![(left, foot), (right, foot)], PALE, 1)?;
        if right - left > 22 {
            let number = (i + 1).to_string();
            style::text(panel.root, &number, (left + 5, head + 8), 16, Side::Right)?;
        }
    }
    Ok(())
}
