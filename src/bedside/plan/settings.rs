//! Where a plan starts, which way it goes, where it stops and how large its steps are.

use crate::bedside::{Inflation, SupportShare};
use crate::quantity::{Pressure, Problem, Rate, SettingError};

const MOST_RATE: Rate = Rate::from_int(150);

/// The settings now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Present {
    /// Set rate, 0 to 150/min.
    pub rate: Rate,
    /// Peak and baseline.
    pub inflation: Inflation,
    /// Share of support of the breaths beyond the set rate; `None` where they get none.
    pub support: Option<SupportShare>,
}

/// Which way a plan goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum WeaningPath {
    /// Rate and peak pressure in turn, the rate first. A share of support stays, so that its
    /// pressure falls with the peak.
    InTurn,
    /// The share of support, with rate and peak as they are.
    SupportDown,
    /// The rate, with peak and support as they are.
    RateUnderSupport,
}

/// Where a plan stops. What is at or below it already is left as it is: nothing is ever raised.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Stopping {
    pub(super) rate: Rate,
    pub(super) peak: Pressure,
    pub(super) support: Option<SupportShare>,
}

/// How large the steps are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct StepSizes {
    pub(super) rate: Rate,
    pub(super) peak: Pressure,
    pub(super) hundredths: u16,
}

impl Present {
    pub(super) fn check(&self) -> Result<(), SettingError> {
        SettingError::within("rate", self.rate, Rate::ZERO, MOST_RATE)
    }
}

impl Default for Stopping {
    /// 20/min and 16 cmH2O, the median settings at extubation of 21 trials (range 12 to 35 and 12
    /// to 20; Giaccone 2014, Arch Dis Child Fetal Neonatal Ed 99:F124-127), and no share of support.
    fn default() -> Self {
        Self { rate: Rate::from_int(20), peak: Pressure::from_int(16), support: None }
    }
}

impl Stopping {
    /// A rate of 0 to 150/min, a peak of 1 to 80 cmH2O, and a share of support for the way that
    /// lowers it.
    ///
    /// # Errors
    /// Names the parameter outside its range.
    pub fn new(
        rate: Rate,
        peak: Pressure,
        support: Option<SupportShare>,
    ) -> Result<Self, SettingError> {
        SettingError::within("stop_rate", rate, Rate::ZERO, MOST_RATE)?;
        SettingError::within("stop_peak", peak, Pressure::from_int(1), Pressure::from_int(80))?;
        Ok(Self { rate, peak, support })
    }
}

impl Default for StepSizes {
    /// 5/min and 1 cmH2O: the smaller ends of 5 to 10/min and 1 to 2 cmH2O (Sant'Anna & Keszler
    /// 2012, Clin Perinatol 39:543-562, from memory); and 10 percentage points of support (common
    /// practice, no source).
    fn default() -> Self {
        Self { rate: Rate::from_int(5), peak: Pressure::from_int(1), hundredths: 1_000 }
    }
}

impl StepSizes {
    /// Steps of 1 to 30/min, 0.5 to 5 cmH2O, and 100 to 5 000 hundredths of a percent (1 to 50
    /// percentage points) of support.
    ///
    /// # Errors
    /// Names the parameter outside its range.
    pub fn new(rate: Rate, peak: Pressure, support_hundredths: u16) -> Result<Self, SettingError> {
        SettingError::within("rate_step", rate, Rate::from_int(1), Rate::from_int(30))?;
        let (least, most) = (Pressure::from_milli(500).value, Pressure::from_int(5));
        SettingError::within("peak_step", peak, least, most)?;
        SettingError::within("support_step", support_hundredths, 100, 5_000)?;
        Ok(Self { rate, peak, hundredths: support_hundredths })
    }
}

/// What a way needs of the settings that it starts and stops at.
pub(super) fn check(
    way: WeaningPath,
    present: &Present,
    stop: &Stopping,
) -> Result<(), SettingError> {
    present.check()?;
    let wrong = |name| Err(SettingError::new(name, Problem::Contradiction));
    match (way, present.support, stop.support) {
        (WeaningPath::InTurn, _, _) if stop.peak <= present.inflation.baseline() => {
            wrong("stop_peak")
        }
        (WeaningPath::SupportDown | WeaningPath::RateUnderSupport, None, _) => wrong("support"),
        (WeaningPath::SupportDown, Some(_), None) => wrong("stop_support"),
        (WeaningPath::SupportDown, Some(now), Some(stop)) if !now.is_like(stop) => {
            wrong("stop_support")
        }
        _ => Ok(()),
    }
}
