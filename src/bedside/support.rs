//! Pressure support given as a percentage, in the two ways that the trade has.
//!
//! 50 % of 20 over 5 cmH2O is a support of 5 or of 7.5 cmH2O, as the percentage is of the peak or
//! of the rise. So a share says which it is, and neither turns into the other.

use super::{Inflation, PressureGrid};
use crate::mechanics::TubeResistance;
use crate::quantity::{Flow, Pressure, Problem, Saturated, SettingError, Share, arith};
use core::fmt;

/// What a share of a full inflation leaves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[must_use]
pub struct Support {
    /// The peak that the sum gives, to 1/65 536 cmH2O; may lie below the baseline.
    pub exact: Pressure,
    /// The peak on the grid, from the baseline to the full peak.
    pub peak: Pressure,
    /// The peak on the grid less the baseline; never below zero.
    pub above: Pressure,
    /// What holds the peak.
    pub held: SupportBound,
}

/// What holds a supported peak.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum SupportBound {
    /// Nothing: the setting nearest to the sum stands.
    Free,
    /// The sum lies at or below the baseline, or 1/65 536 cmH2O above it, which is rounding: no
    /// support is left.
    BelowBaseline,
    /// The sum lies above the baseline, but the setting nearest to it does not: no support is left.
    RoundedToBaseline,
    /// The setting nearest to the sum lies above the full peak, which stands instead.
    FullPeak,
}

/// What rounding may have added to a sum.
const LEAST: Pressure = Pressure::STEP;

/// A percentage above 0, to 100 %; held in hundredths of a percent, so that it is exact.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Percent(u16);

/// A share of support in either of its two ways.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum SupportShare {
    /// Of the full peak, counted from zero: supported peak = p × peak. Small ones lie below the baseline
    /// and leave no support.
    OfPeak(Percent),
    /// Of the full rise: supported peak = baseline + p × (peak − baseline).
    OfRise(Percent),
}

impl Percent {
    /// From whole percent, 1 to 100.
    ///
    /// # Errors
    /// `percent` outside that range.
    pub const fn from_percent(percent: u8) -> Result<Self, SettingError> {
        if percent == 0 {
            Err(SettingError::new("percent", Problem::NotPositive))
        } else if percent > 100 {
            Err(SettingError::new("percent", Problem::TooLarge))
        } else {
            Ok(Self(arith::percent_parts(percent)))
        }
    }

    /// From hundredths of a percent, 1 to 10 000.
    ///
    /// # Errors
    /// `hundredths` outside that range.
    pub const fn from_hundredths(hundredths: u16) -> Result<Self, SettingError> {
        if hundredths == 0 {
            Err(SettingError::new("hundredths", Problem::NotPositive))
        } else if hundredths > arith::WHOLE_PARTS {
            Err(SettingError::new("hundredths", Problem::TooLarge))
        } else {
            Ok(Self(hundredths))
        }
    }

    /// As a share of 1, half away from zero.
    #[must_use]
    pub const fn share(self) -> Share {
        Share::ONE.parts(self.0)
    }

    /// What a supported peak is of the full peak, to the nearest hundredth of a percent. One wide divide.
    ///
    /// # Errors
    /// `peak` not above zero, or less than 1/20 000 of the whole; above the full one.
    pub fn of_peak(peak: Pressure, full: &Inflation) -> Result<Self, SettingError> {
        Self::of_part(peak, full.peak())
    }

    /// What the rise to a supported peak is of the full rise: (peak − baseline) ÷ (full peak − baseline), to
    /// the nearest hundredth of a percent. One wide divide.
    ///
    /// # Errors
    /// `peak` not above the baseline, or by less than 1/20 000 of the whole; above the full one.
    pub fn of_rise(peak: Pressure, full: &Inflation) -> Result<Self, SettingError> {
        Self::of_part(peak.saturating_sub(full.baseline()).value, full.rise())
    }

    fn of_part(part: Pressure, whole: Pressure) -> Result<Self, SettingError> {
        if part > whole {
            return Err(SettingError::new("peak", Problem::TooLarge));
        }
        match part.parts_of(whole) {
            Some(parts) if parts > 0 => Ok(Self(parts)),
            _ => Err(SettingError::new("peak", Problem::NotPositive)),
        }
    }

    /// So much less, but not below `least`, and never raised to it.
    const fn lowered(self, hundredths: u16, least: Self) -> Self {
        let floor = if least.0 < self.0 { least.0 } else { self.0 };
        let next = self.0.saturating_sub(hundredths);
        Self(if next > floor { next } else { floor })
    }
}

impl fmt::Display for Percent {
    /// Percent with two decimals.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (whole, rest) = arith::split_hundred(self.0);
        write!(f, "{whole}.{rest:02} %")
    }
}

impl SupportShare {
    /// What it leaves of a full inflation. Four wide divides.
    ///
    /// ```
    /// use tidevane::bedside::{Inflation, Percent, PressureGrid, SupportShare};
    /// use tidevane::quantity::Pressure;
    ///
    /// let full = Inflation::new(Pressure::from_int(20), Pressure::from_int(5))?;
    /// let grid = PressureGrid::from_milli(500)?;
    /// let half = Percent::from_percent(50)?;
    /// let of_peak = SupportShare::OfPeak(half).support(&full, grid);
    /// let of_rise = SupportShare::OfRise(half).support(&full, grid);
    /// assert_eq!((of_peak.peak, of_peak.above), (Pressure::from_int(10), Pressure::from_int(5)));
    /// assert_eq!(of_rise.to_string(), "peak 12.5 cmH2O, 7.5 cmH2O above the baseline");
    /// # Ok::<(), tidevane::quantity::SettingError>(())
    /// ```
    pub fn support(self, full: &Inflation, grid: PressureGrid) -> Support {
        let of = |whole: Pressure, part: Percent| whole.parts(part.0);
        let exact = match self {
            Self::OfPeak(part) => of(full.peak(), part),
            Self::OfRise(part) => full.baseline().saturating_add(of(full.rise(), part)).value,
        };
        Support::at(exact, full, grid)
    }

    /// Lower by some hundredths of a percent, but not below a share of the same way, and never
    /// raised to it.
    pub(super) const fn lowered(self, hundredths: u16, least: Self) -> Self {
        match (self, least) {
            (Self::OfPeak(now), Self::OfPeak(least)) => {
                Self::OfPeak(now.lowered(hundredths, least))
            }
            (Self::OfRise(now), Self::OfRise(least)) => {
                Self::OfRise(now.lowered(hundredths, least))
            }
            (Self::OfPeak(_), Self::OfRise(_)) | (Self::OfRise(_), Self::OfPeak(_)) => self,
        }
    }

    pub(super) const fn is_like(self, other: Self) -> bool {
        matches!(
            (self, other),
            (Self::OfPeak(_), Self::OfPeak(_)) | (Self::OfRise(_), Self::OfRise(_))
        )
    }
}

impl Support {
    fn at(exact: Pressure, full: &Inflation, grid: PressureGrid) -> Self {
        let (baseline, nearest) = (full.baseline(), grid.nearest(exact).value);
        let (peak, held) = if exact <= baseline.saturating_add(LEAST).value {
            (baseline, SupportBound::BelowBaseline)
        } else if nearest <= baseline {
            (baseline, SupportBound::RoundedToBaseline)
        } else if nearest > full.peak() {
            (full.peak(), SupportBound::FullPeak)
        } else {
            (nearest, SupportBound::Free)
        };
        Self { exact, peak, above: peak.saturating_sub(baseline).value, held }
    }

    /// Whether any support is left on the grid.
    #[must_use]
    pub fn is_left(&self) -> bool {
        self.above > Pressure::ZERO
    }

    /// The share of the support that a tube alone takes at an infant's peak flow; `None` where no
    /// support is left. Above 1, the support does not even carry the tube. One wide divide.
    #[must_use]
    pub fn tube_share(&self, tube: &TubeResistance, peak_flow: Flow) -> Option<Saturated<Share>> {
        tube.share_of_support(self.above, peak_flow)
    }
}

impl fmt::Display for Support {
    /// The peak on the grid, and what holds it.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.held {
            SupportBound::Free | SupportBound::FullPeak => {
                write!(f, "peak {:.1}, {:.1} above the baseline", self.peak, self.above)
            }
            SupportBound::BelowBaseline => {
                write!(f, "no support is left: {:.1} is not above the baseline", self.exact)
            }
            SupportBound::RoundedToBaseline => write!(
                f,
                "no support is left: the setting nearest to {:.1} is not above the baseline",
                self.exact
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Resistance;
    use fixed::types::I16F16;
    use std::string::ToString;

    fn cmh2o(milli: i32) -> Pressure {
        Pressure::from_milli(milli).value
    }

    fn full(peak: i32, baseline: i32) -> Inflation {
        Inflation::new(cmh2o(peak), cmh2o(baseline)).unwrap()
    }

    fn of_peak(percent: u8, full: &Inflation, step: u16) -> Support {
        let grid = PressureGrid::from_milli(step).unwrap();
        SupportShare::OfPeak(Percent::from_percent(percent).unwrap()).support(full, grid)
    }

    fn of_rise(percent: u8, full: &Inflation, step: u16) -> Support {
        let grid = PressureGrid::from_milli(step).unwrap();
        SupportShare::OfRise(Percent::from_percent(percent).unwrap()).support(full, grid)
    }

    #[test]
    fn a_share_of_the_peak_on_whole_cmh2o() {
        // Common practice, no source: 80 % of 16 = 12.8, shown as 13; 60 % = 9.6, shown as 10.
        let full = full(16_000, 5_000);
        let eighty = of_peak(80, &full, 1_000);
        assert_eq!((eighty.exact, eighty.peak), (cmh2o(12_800), cmh2o(13_000)));
        assert_eq!((eighty.above, eighty.held), (cmh2o(8_000), SupportBound::Free));
        let sixty = of_peak(60, &full, 1_000);
        assert_eq!((sixty.exact, sixty.peak), (cmh2o(9_600), cmh2o(10_000)));
        // 70 % of 15 is exactly 10.5 and goes up, which a share held in 1/65 536 would miss.
        assert_eq!(
            of_peak(70, &Inflation::new(cmh2o(15_000), cmh2o(5_000)).unwrap(), 1_000).peak,
            cmh2o(11_000)
        );
    }

    #[test]
    fn one_percentage_two_supports() {
        // Percent of the rise as in Reyes 2006, Pediatrics 118:1409-1417 (from memory), percent of
        // the peak common practice, no source; 20 over 5: 0.5 × 15 = 7.5, peak 12.5; 0.5 × 20 = 10,
        // 5.0 above the baseline.
        let full = full(20_000, 5_000);
        let rise = of_rise(50, &full, 100);
        assert_eq!((rise.peak, rise.above), (cmh2o(12_500), cmh2o(7_500)));
        let peak = of_peak(50, &full, 100);
        assert_eq!((peak.peak, peak.above), (cmh2o(10_000), cmh2o(5_000)));
    }

    #[test]
    fn a_support_gives_its_share() {
        // Settings of Osorio 2005, J Perinatol (PMID 15843812): 16.3 over 4.3 cmH2O, support 6
        // and 3: 6 ÷ 12 = 50 %, 3 ÷ 12 = 25 %. Of the peak: 10.3 ÷ 16.3 = 63.19 %.
        let full = full(16_300, 4_300);
        for (above, percent) in [(6_000, 50), (3_000, 25)] {
            let got = Percent::of_rise(cmh2o(4_300 + above), &full);
            assert_eq!(got, Percent::from_percent(percent));
        }
        let got = Percent::of_peak(cmh2o(10_300), &full).unwrap();
        assert_eq!(got.to_string(), "63.19 %");
        let none = Err(SettingError::new("peak", Problem::NotPositive));
        let above = Err(SettingError::new("peak", Problem::TooLarge));
        assert_eq!(Percent::of_rise(cmh2o(4_300), &full), none);
        assert_eq!(Percent::of_rise(cmh2o(4_000), &full), none);
        assert_eq!(Percent::of_rise(cmh2o(16_400), &full), above);
        assert_eq!(Percent::of_peak(Pressure::ZERO, &full), none);
        // The least step is 100 ÷ (16.3 × 65 536) %, less than half a hundredth.
        assert_eq!(Percent::of_peak(Pressure::STEP, &full), none);
        assert_eq!(Percent::of_peak(full.peak(), &full), Percent::from_percent(100));
        assert_eq!(Percent::of_peak(Pressure::MAX, &full), above);
    }

    #[test]
    fn no_support_is_told() {
        // 20 % of 20 = 4, below 5; 25 % = 5, at it; 26 % = 5.2 goes to 5 on whole cmH2O.
        let full = full(20_000, 5_000);
        for (percent, held) in [
            (20, SupportBound::BelowBaseline),
            (25, SupportBound::BelowBaseline),
            (26, SupportBound::RoundedToBaseline),
            (28, SupportBound::Free),
        ] {
            let got = of_peak(percent, &full, 1_000);
            assert_eq!((got.held, got.is_left()), (held, held == SupportBound::Free));
            assert!(got.peak >= full.baseline());
        }
        let none = of_peak(20, &full, 1_000).to_string();
        assert_eq!(none, "no support is left: 4.0 cmH2O is not above the baseline");
        // 25 % of 19.6 is 4.9, at the baseline; in 1/65 536 the sum comes out one part above it, and
        // whole cmH2O would make 5 of that.
        let at = of_peak(25, &Inflation::new(cmh2o(19_600), cmh2o(4_900)).unwrap(), 1_000);
        assert_eq!((at.peak, at.held), (cmh2o(4_900), SupportBound::BelowBaseline));
        // The full peak on the grid holds itself.
        let whole = of_rise(100, &full, 1_000);
        assert_eq!((whole.peak, whole.held), (full.peak(), SupportBound::Free));
        // 12.6 goes to 13, above itself.
        let odd = Inflation::new(cmh2o(12_600), cmh2o(5_000)).unwrap();
        let all = of_rise(100, &odd, 1_000);
        assert_eq!((all.peak, all.held), (cmh2o(12_600), SupportBound::FullPeak));
    }

    #[test]
    fn a_tube_takes_its_part() {
        // Rohrer 1915 with K1 30, K2 250: 5.5 cmH2O at 0.1 L/s; of 5 above the baseline that is
        // 110 %. Reached: two steps of 1/65 536.
        let tube = TubeResistance::new(Resistance::from_int(30), I16F16::from_num(250)).unwrap();
        let support = of_peak(50, &full(20_000, 5_000), 1_000);
        let flow = Flow::from_int(100);
        let share = support.tube_share(&tube, flow).unwrap().within().unwrap();
        let apart = share.apart(Share::from_percent(110));
        assert!(apart <= Share::STEP.magnitude().doubled(), "{share}");
        assert_eq!(of_peak(10, &full(20_000, 5_000), 1_000).tube_share(&tube, flow), None);
    }

    #[test]
    fn shares_are_checked() {
        let wrong = |percent| Percent::from_percent(percent).map_err(|e| e.problem);
        assert_eq!(wrong(0), Err(Problem::NotPositive));
        assert_eq!(wrong(101), Err(Problem::TooLarge));
        assert_eq!(Percent::from_hundredths(0).map_err(|e| e.problem), Err(Problem::NotPositive));
        assert!(Percent::from_hundredths(10_001).is_err());
        assert_eq!(Percent::from_percent(100).map(Percent::share), Ok(Share::ONE));
        assert_eq!(Percent::from_hundredths(3_750).unwrap().to_string(), "37.50 %");
    }
}
