//! The steps from the present settings to those where weaning stops, and what each would mean.
//!
//! A table to think about, worked out from what is set and measured now. It steers nothing, it
//! knows neither blood gas nor effort, and nobody should go down it without looking at the infant
//! after each step.

mod mark;
mod settings;
#[cfg(test)]
mod tests;

pub use mark::{Measurements, NoSufficiency, Sufficiency};
pub use settings::{Present, StepSizes, Stopping, WeaningPath};

use super::{Inflation, PressureGrid, Support, SupportShare};
use crate::quantity::{MinuteVolumePerKg, Pressure, Rate, Saturated, SettingError, Volume};
use core::fmt;
use core::iter::FusedIterator;

/// A plan: settings now, a way, an end, and what was measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Plan {
    present: Present,
    way: WeaningPath,
    stop: Stopping,
    sizes: StepSizes,
    grid: PressureGrid,
    measured: Measurements,
}

/// A step of a plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct PlanStep {
    /// Its number, from 1 on; 0 is now.
    pub number: u16,
    /// Set rate.
    pub rate: Rate,
    /// Peak pressure of the set inflations.
    pub peak: Pressure,
    /// Support of the breaths beyond them; `None` where they get none.
    pub support: Option<Support>,
    /// What the set inflations alone would move in a minute: the present volume × (rate ÷ present rate) ×
    /// (rise ÷ present rise), as if the lung stayed as stiff as it is, half away from zero; `None` where
    /// that is not known.
    pub assured: Option<Saturated<Volume>>,
    /// The same for each kilogram; `None` without a body mass, too.
    pub assured_per_kg: Option<Saturated<MinuteVolumePerKg>>,
    /// Whether what was measured carries the step.
    pub mark: Sufficiency,
}

/// What a plan has come down to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct At {
    number: u16,
    rate: Rate,
    peak: Pressure,
    share: Option<SupportShare>,
}

/// The steps of a plan, in order.
#[derive(Debug, Clone, Copy)]
struct PlanSteps<'a> {
    plan: &'a Plan,
    at: At,
    now: PlanStep,
}

impl Plan {
    /// A plan. Pressures of support stand on `grid`; the peak goes down from the present one by the
    /// step, whatever the grid.
    ///
    /// # Errors
    /// A present rate outside 0 to 150/min (`rate`); a stopping peak that is not above the baseline
    /// (`stop_peak`); no share of support where the way needs one (`support`, `stop_support`), or a
    /// stopping share of the other way of counting (`stop_support`).
    pub fn new(
        present: Present,
        way: WeaningPath,
        stop: Stopping,
        sizes: StepSizes,
        grid: PressureGrid,
        measured: Measurements,
    ) -> Result<Self, SettingError> {
        settings::check(way, &present, &stop)?;
        Ok(Self { present, way, stop, sizes, grid, measured })
    }

    /// Where the plan starts, as step 0. Six wide divides.
    #[must_use]
    pub fn now(&self) -> PlanStep {
        self.step(&self.start(), None)
    }

    /// The steps, at most 310; none where everything that the way moves is at or
    /// below its stop. The last one stands at the stops. About ten wide divides a step.
    ///
    /// ```
    /// use tidevane::bedside::{
    ///     Inflation, Measurements, Plan, PressureGrid, Present, StepSizes, Stopping, WeaningPath,
    /// };
    /// use tidevane::quantity::{Mass, MinuteVolumePerKg, Pressure, Rate, Volume};
    ///
    /// let present = Present {
    ///     rate: Rate::from_int(30),
    ///     inflation: Inflation::new(Pressure::from_int(17), Pressure::from_int(5))?,
    ///     support: None,
    /// };
    /// let measured = Measurements {
    ///     own: Some(Volume::from_int(120)),
    ///     assured: Some(Volume::from_int(150)),
    ///     mass: Some(Mass::from_grams(1_000)?),
    ///     needed: Some(MinuteVolumePerKg::from_int(240)),
    /// };
    /// let (stop, sizes, grid) = (Stopping::default(), StepSizes::default(), PressureGrid::default());
    /// let plan = Plan::new(present, WeaningPath::InTurn, stop, sizes, grid, measured)?;
    /// let lines: Vec<_> = plan.steps().map(|step| step.to_string()).collect();
    /// assert_eq!(lines, [
    ///     "1: 25 /min, peak 17.0 cmH2O; alone 125 mL/min; carried by what was measured",
    ///     "2: 25 /min, peak 16.0 cmH2O; alone 115 mL/min; not carried by what was measured: \
    ///      5 mL/min/kg short",
    ///     "3: 20 /min, peak 16.0 cmH2O; alone 92 mL/min; not carried by what was measured: \
    ///      28 mL/min/kg short",
    /// ]);
    /// # Ok::<(), tidevane::quantity::SettingError>(())
    /// ```
    #[must_use]
    pub fn steps(&self) -> impl FusedIterator<Item = PlanStep> + '_ {
        PlanSteps { plan: self, at: self.start(), now: self.now() }
    }

    const fn start(&self) -> At {
        let (rate, peak) = (self.present.rate, self.present.inflation.peak());
        At { number: 0, rate, peak, share: self.present.support }
    }

    fn step(&self, at: &At, now: Option<&PlanStep>) -> PlanStep {
        let full = Inflation::new(at.peak, self.present.inflation.baseline());
        let full = full.unwrap_or(self.present.inflation);
        let support = at.share.map(|share| share.support(&full, self.grid));
        let assured = self.measured.assured_at(&self.present, (at.rate, at.peak));
        let before = now.map_or(support, |now| now.support);
        PlanStep {
            number: at.number,
            rate: at.rate,
            peak: at.peak,
            support,
            assured: assured.map(|assured| assured.minute),
            assured_per_kg: assured.and_then(|assured| assured.per_kg),
            mark: self.measured.mark(assured, [before, support]),
        }
    }

    /// What comes after; the same where the plan is at its end.
    fn after(&self, at: &At) -> At {
        let lower_rate = || at.rate.saturating_sub(self.sizes.rate).value.max(self.stop.rate);
        let rate = lower_rate().min(at.rate);
        let lower_peak = at.peak.saturating_sub(self.sizes.peak).value.max(self.stop.peak);
        let peak = lower_peak.min(at.peak);
        let number = at.number.saturating_add(1);
        match self.way {
            WeaningPath::RateUnderSupport => At { number, rate, ..*at },
            WeaningPath::SupportDown => {
                let least = self.stop.support.or(at.share);
                let share = at.share.zip(least);
                let share = share.map(|(now, least)| now.lowered(self.sizes.hundredths, least));
                At { number, share, ..*at }
            }
            // The rate at even numbers so far; what has come to its stop leaves its turn.
            WeaningPath::InTurn
                if peak == at.peak || (rate != at.rate && at.number.is_multiple_of(2)) =>
            {
                At { number, rate, ..*at }
            }
            WeaningPath::InTurn => At { number, peak, ..*at },
        }
    }
}

impl Iterator for PlanSteps<'_> {
    type Item = PlanStep;

    fn next(&mut self) -> Option<PlanStep> {
        let next = self.plan.after(&self.at);
        if (At { number: self.at.number, ..next }) == self.at {
            return None;
        }
        self.at = next;
        Some(self.plan.step(&next, Some(&self.now)))
    }
}

impl FusedIterator for PlanSteps<'_> {}

impl fmt::Display for PlanStep {
    /// One line.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {:.0}, peak {:.1}", self.number, self.rate, self.peak)?;
        if let Some(support) = self.support {
            write!(f, ", support {support}")?;
        }
        if let Some(assured) = self.assured {
            write!(f, "; alone {:.0}/min", assured.value)?;
        }
        write!(f, "; {}", self.mark)
    }
}
