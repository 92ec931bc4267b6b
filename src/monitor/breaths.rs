//! The sample stage alone: breaths from raw samples.

use super::Settings;
use super::sample_stage::{SampleStage, SampleState};
use crate::breath::Breath;
use crate::leak::LungVolume;
use crate::quantity::Instant;
use crate::signal::{Clock, Flags, GateOutcome, Reading, Sample};

/// Closed breaths from raw samples: clock, gate, leak path, segmenter and the drift of the zero,
/// without anything that judges a breath. What a [`Monitor`](super::Monitor) is built on, for whoever
/// needs less than the whole.
///
/// The leak share of raw samples:
///
/// ```
/// use tidevane::leak::LeakWindowState;
/// use tidevane::monitor::Breaths;
/// use tidevane::quantity::{Flow, Pressure, Share, Tick};
/// use tidevane::signal::Sample;
///
/// let (mut breaths, mut window) = (Breaths::default(), LeakWindowState::<8>::default());
/// // A breath a second; 4 mL/s leak at 15 cmH2O, 2 mL/s at 5 cmH2O.
/// for n in 0..3_000_u32 {
///     let (flow, pressure) = match i16::try_from(n % 100)? {
///         n @ 0..30 => (40 - n + 4, 15),
///         n @ 30..60 => (n - 70 + 2, 5),
///         _ => (2, 5),
///     };
///     let (flow, pressure) = (Flow::from_int(flow), Pressure::from_int(pressure));
///     let sample = Sample { tick: Tick::from_us(n * 10_000), flow, pressure };
///     if let Some(breath) = breaths.push(sample) {
///         window.learn(&breath);
///     }
/// }
/// // In: 7.65 + 1.2 mL; out: 7.65 - 0.6 - 0.8 mL; 2.6 of 8.85 mL did not come back.
/// let share = window.leak().share().unwrap();
/// assert!(share > Share::from_percent(28) && share < Share::from_percent(31));
/// # Ok::<(), core::num::TryFromIntError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Breaths {
    stage: SampleStage,
    clock: Clock,
    state: SampleState,
    /// The breath that was closed and is not learned yet, and the next slice of that.
    closing: Option<(Breath, u8)>,
}

impl Breaths {
    /// Has heard nothing yet. Of the settings gate, zero offset, leak path, weight, segmenter and drift of the zero
    /// count.
    #[must_use]
    pub fn new(settings: &Settings) -> Self {
        Self { stage: settings.sample, ..Self::default() }
    }

    /// Takes one sample with the hardware's wrapping tick, and tells a breath with all that was wrong with it: with the
    /// third sample after its end was found, lost and refused ones counted, or with the end of the next. Never panics,
    /// whatever it holds.
    #[must_use]
    pub fn push(&mut self, sample: Sample) -> Option<Breath> {
        let at = self.clock.unwrap_tick(sample.tick);
        let reading = Reading { flow: sample.flow, pressure: sample.pressure };
        let (breath, gap_since) = self.hear(at, reading);
        if gap_since.is_some_and(|since| since >= at) {
            self.clock.reset_to(sample.tick, at);
        }
        breath
    }

    /// Takes one reading at a moment that does not wrap: for recordings. Use one of the two ways,
    /// not both.
    #[must_use]
    pub fn push_at(&mut self, at: Instant, reading: Reading) -> Option<Breath> {
        self.hear(at, reading).0
    }

    /// The breath that is told, and the last usable sample before a gap: not before this one where the clock was set
    /// back.
    fn hear(&mut self, at: Instant, reading: Reading) -> (Option<Breath>, Option<Instant>) {
        match self.stage.hear(&mut self.state, at, reading) {
            GateOutcome::Start => {
                self.stage.start(&mut self.state, at, reading);
                (None, None)
            }
            GateOutcome::Step(interval) => {
                let breath = match self.stage.turn(&mut self.state, &interval) {
                    Some(ended) => {
                        let told = self.complete();
                        self.begin(|stage, state, closed| {
                            stage.close(state, &interval, ended, closed)
                        });
                        told
                    }
                    None => self.slice(),
                };
                (breath, interval.flags.has(Flags::GAP).then(|| interval.start()))
            }
            GateOutcome::Cut { since, flags } => {
                let breath = self.complete();
                self.begin(|stage, state, closed| stage.cut(state, flags, closed));
                self.stage.start(&mut self.state, at, reading);
                (breath, Some(since))
            }
            GateOutcome::Refused(_) => (self.slice(), None),
        }
    }

    /// A sample is known to be lost or unreadable: the interval to the next good one is a gap.
    #[must_use]
    pub fn lost(&mut self) -> Option<Breath> {
        self.stage.lost(&mut self.state);
        self.slice()
    }

    /// Closes the breath under way, flagged as cut: at the end of a recording. What comes afterwards
    /// begins afresh but keeps what was learned. Where the breath before is not told yet it tells that one:
    /// call it until there is none.
    #[must_use]
    pub fn finish(&mut self) -> Option<Breath> {
        if self.closing.is_none() {
            self.begin(|stage, state, closed| stage.cut(state, Flags::NONE, closed));
            self.stage.forget_last(&mut self.state);
        }
        self.complete()
    }

    /// The volume of a breath that it has just closed that reached the lung. About six wide divides.
    pub fn lung_volume(&self, breath: &Breath) -> LungVolume {
        self.stage.lung_volume(&self.state, breath)
    }

    /// A breath is closed, if there is one.
    fn begin(&mut self, close: impl Fn(&SampleStage, &mut SampleState, &mut Breath) -> bool) {
        let mut breath = Breath::default();
        if close(&self.stage, &mut self.state, &mut breath) {
            self.closing = Some((breath, 0));
        }
    }

    /// Learns all that is left of the breath that was closed.
    fn complete(&mut self) -> Option<Breath> {
        (0..SampleStage::SLICES).find_map(|_| self.slice())
    }

    /// Learns a slice of the breath that was closed; the breath after the last.
    fn slice(&mut self) -> Option<Breath> {
        let (breath, slice) = self.closing.as_mut()?;
        let _ = self.stage.learn(&mut self.state, breath, *slice);
        *slice = slice.saturating_add(1);
        if *slice < SampleStage::SLICES { None } else { self.closing.take().map(|(b, _)| b) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::leak::NoLungVolume;
    use crate::monitor::{EventKind, Monitor, Settings};
    use crate::quantity::{Flow, Pressure, Tick};

    /// A breath of 0.6 s each second at 100 Hz; samples are missing, wild or set back here and there.
    fn samples() -> impl Iterator<Item = Sample> {
        (0..6_000_u32).filter(|n| !(1_500..1_530).contains(n) && !(2_500..2_700).contains(n)).map(
            |n| {
                let phase = i16::try_from(n % 100).unwrap();
                let (flow, pressure) = match phase {
                    0..30 => (44 - phase, 15),
                    30..60 => (phase - 68, 5),
                    _ => (2 + phase % 2, 5),
                };
                let flow = if n == 3_333 { 6_000 } else { flow };
                let back = if n >= 4_000 { 30_000_000 } else { 0 };
                Sample {
                    tick: Tick::from_us((n * 10_000).wrapping_sub(back)),
                    flow: Flow::from_int(flow),
                    pressure: Pressure::from_int(pressure),
                }
            },
        )
    }

    #[test]
    fn it_hears_what_a_monitor_hears() {
        let (mut breaths, mut monitor) = (Breaths::default(), Monitor::new(Settings::default()));
        let mut gaps = std::vec::Vec::new();
        let (mut ours, mut theirs) = (std::vec::Vec::new(), std::vec::Vec::new());
        for sample in samples() {
            let (heard, report) = (breaths.push(sample), monitor.push(sample));
            ours.extend(heard.map(|breath| (breath, breaths.lung_volume(&breath))));
            theirs.extend(report.breath.map(|closed| (closed.breath, closed.lung)));
            for event in &report.events {
                match event.what {
                    EventKind::Gap { cut, .. } => gaps.push(cut),
                    EventKind::ClockReset { .. } => gaps.push(true),
                    _ => {}
                }
            }
        }
        // 0.3 s missing is a gap; 2.01 s cut, and the clock set back does, each once seven samples were
        // refused; one reading of 6 000 mL/s is refused.
        assert_eq!(gaps, [false, true, true]);
        let flagged = LungVolume::Unknown(NoLungVolume::Flagged);
        ours.extend(std::iter::from_fn(|| breaths.finish()).map(|breath| (breath, flagged)));
        let rest = std::iter::from_fn(|| monitor.finish().breath);
        theirs.extend(rest.map(|closed| (closed.breath, closed.lung)));
        assert!(ours.len() > 50, "{}", ours.len());
        assert_eq!(ours, theirs);
    }
}
