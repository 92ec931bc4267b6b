//! Gas conditions: what a volume measured here would be there.
//!
//! The factors are those of the ATS/ERS lung-function standards, with 273.15 K and the tabled
//! vapour pressure, so that 37 °C saturated gas has a factor of exactly one to BTPS.

use crate::quantity::{Pressure, Problem, Saturated, SettingError, Share, arith};

/// Vapour pressure of water in hundredths of a pascal at 0, 1, … 40 °C.
/// Source: CRC Handbook of Chemistry and Physics, 1992-93 edition. (One reprint gives 6.6398 kPa
/// at 38 °C; the second differences show that 6.6298 is right.)
const VAPOUR_CENTI_PA: [u32; 41] = [
    61_129, 65_716, 70_605, 75_813, 81_359, 87_260, 93_537, 100_210, 107_300, 114_820, 122_810,
    131_290, 140_270, 149_790, 159_880, 170_560, 181_850, 193_800, 206_440, 219_780, 233_880,
    248_770, 264_470, 281_040, 298_500, 316_900, 336_290, 356_700, 378_180, 400_780, 424_550,
    449_530, 475_780, 503_350, 532_290, 562_670, 594_530, 627_950, 662_980, 699_690, 738_140,
];

/// A temperature in degrees Celsius, 0 to 40, in hundredths.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Celsius(u16);

impl Celsius {
    /// Body temperature.
    const BODY: Self = Self(3_700);

    /// From hundredths of a degree.
    ///
    /// # Errors
    /// Above 40 °C, where the vapour table ends.
    pub const fn from_hundredths(hundredths: u16) -> Result<Self, SettingError> {
        if hundredths > 4_000 {
            Err(SettingError::new("temperature", Problem::TooLarge))
        } else {
            Ok(Self(hundredths))
        }
    }

    /// Hundredths of a kelvin.
    fn kelvin(self) -> i32 {
        i32::from(self.0).saturating_add(27_315)
    }

    /// Pressure of water vapour over water at this temperature: a straight line between the whole
    /// degrees of the table, within 0.1 % of the Buck (1996) form over 0 to 40 °C.
    #[must_use]
    fn vapour_pressure(self) -> Pressure {
        let (degree, hundredths) = arith::split_hundred(self.0);
        let low = VAPOUR_CENTI_PA.get(usize::from(degree)).copied().unwrap_or(738_140);
        let next = degree.saturating_add(1);
        let high = VAPOUR_CENTI_PA.get(usize::from(next)).copied().unwrap_or(low);
        Pressure::between_centi_pascals(low, high, hundredths)
    }
}

/// The state that a gas volume is measured in or stated for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct GasState {
    dry: Pressure,
    kelvin: i32,
}

impl GasState {
    /// Gas at an absolute pressure with a stated vapour pressure.
    fn new(
        absolute: Pressure,
        temperature: Celsius,
        vapour: Pressure,
    ) -> Result<Self, SettingError> {
        let (least, most) = (Pressure::from_int(500), Pressure::from_int(1_200));
        SettingError::within("absolute", absolute, least, most)?;
        if vapour < Pressure::ZERO {
            Err(SettingError::new("vapour", Problem::Negative))
        } else if vapour > Pressure::from_int(100) {
            Err(SettingError::new("vapour", Problem::TooLarge))
        } else {
            let dry = absolute.saturating_sub(vapour).value;
            Ok(Self { dry, kelvin: temperature.kelvin() })
        }
    }

    /// ATPS: ambient temperature and pressure, saturated with vapour.
    ///
    /// # Errors
    /// `absolute` outside 500 to 1 200 cmH2O.
    pub fn saturated(absolute: Pressure, temperature: Celsius) -> Result<Self, SettingError> {
        Self::new(absolute, temperature, temperature.vapour_pressure())
    }

    /// ATPD: ambient temperature and pressure, dry.
    ///
    /// # Errors
    /// `absolute` outside 500 to 1 200 cmH2O.
    pub fn dry(absolute: Pressure, temperature: Celsius) -> Result<Self, SettingError> {
        Self::new(absolute, temperature, Pressure::ZERO)
    }

    /// BTPS: body temperature, ambient pressure, saturated.
    ///
    /// # Errors
    /// `absolute` outside 500 to 1 200 cmH2O.
    pub fn btps(absolute: Pressure) -> Result<Self, SettingError> {
        Self::saturated(absolute, Celsius::BODY)
    }

    /// STPD: 0 °C, 760 mmHg (1 033.23 cmH2O), dry.
    #[must_use]
    pub const fn stpd() -> Self {
        Self { dry: Pressure::from_milli(1_033_227).value, kelvin: 27_315 }
    }

    /// What a volume in this state is multiplied by to state it for another:
    /// (dry pressure here ÷ there) × (absolute temperature there ÷ here). Error below 5·10⁻⁵. Two
    /// wide divides: prepare it once, not per sample.
    pub fn factor_to(self, other: Self) -> Saturated<Share> {
        let here = self.dry.multiplied(other.kelvin);
        let there = other.dry.multiplied(self.kelvin);
        // Both dry pressures are at least 400 cmH2O, so the divisor is not zero.
        let unknown = Saturated { value: Share::ZERO, saturated: true };
        here.share_of(there).unwrap_or(unknown)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use fixed::types::I16F16;

    /// 1 mmHg = 133.322387 Pa ÷ 98.0665 Pa = 1.359510 cmH2O (conventional value).
    fn mmhg(value: f64) -> Pressure {
        Pressure::new(I16F16::from_num(value * 133.322_387 / 98.066_5))
    }

    /// 1 kPa = 1 000 ÷ 98.0665 cmH2O.
    fn kpa(value: f64) -> Pressure {
        Pressure::new(I16F16::from_num(value * 1_000.0 / 98.066_5))
    }

    fn celsius(hundredths: u16) -> Celsius {
        Celsius::from_hundredths(hundredths).unwrap()
    }

    fn value(factor: Saturated<Share>) -> f64 {
        factor.within().unwrap().to_f64()
    }

    fn close(got: f64, want: f64, tolerance: f64) {
        assert!((got - want).abs() <= tolerance, "{got} against {want} ± {tolerance}");
    }

    /// Buck 1981, J Appl Meteorol 20:1527-1532, with the constants in use since 1996; kPa.
    fn buck(t: f64) -> f64 {
        0.611_21 * ((18.678 - t / 234.5) * (t / (257.14 + t))).exp()
    }

    #[test]
    fn vapour_pressure_agrees_with_the_buck_form() {
        // Buck at 37 °C is 6.2799 kPa, the CRC table 6.2795; both within 0.0005.
        let at_37 = Celsius::BODY.vapour_pressure().to_f64() * 0.098_066_5;
        close(at_37, 6.279_9, 0.000_5);
        close(buck(37.0), 6.279_9, 0.000_05);
        // 20 °C is 17.54 mmHg (CRC table).
        let at_20 = celsius(2_000).vapour_pressure().to_f64();
        close(at_20 * 98.066_5 / 133.322_387, 17.54, 0.01);
        // At the table's own degrees within 0.03 %; between them the straight line adds
        // at most an eighth of the second difference, so 0.1 % in all.
        for hundredths in 0..=4_000_u16 {
            let got = celsius(hundredths).vapour_pressure().to_f64();
            let want = buck(f64::from(hundredths) / 100.0) / 0.098_066_5;
            let allowed = if hundredths % 100 == 0 { 0.000_3 } else { 0.001 };
            close(got / want, 1.0, allowed);
        }
    }

    #[test]
    fn factors_match_the_published_tables() {
        let btps = GasState::btps(mmhg(760.0)).unwrap();
        let atps = |t| GasState::saturated(mmhg(760.0), celsius(t)).unwrap();
        // 20 °C 1.1017 (table 1.102; ATS 1994 spirometry update, formula with 273/310/47).
        close(value(atps(2_000).factor_to(btps)), 1.101_7, 0.000_5);
        // 25 °C 1.0742 by the same formula (that table: 1.075).
        close(value(atps(2_500).factor_to(btps)), 1.075, 0.001);
        // Saturated gas at body temperature needs no factor: exactly one.
        assert_eq!(GasState::btps(mmhg(760.0)).unwrap().factor_to(btps).within(), Some(Share::ONE));
        // Dry gas of 25 °C, 1.1088 (ERJ DLCO task-force table's form).
        let dry = GasState::dry(mmhg(760.0), celsius(2_500)).unwrap();
        close(value(dry.factor_to(btps)), 1.108_8, 0.000_5);
        // STPD → BTPS 1.2104 and back 0.8262 (arithmetic from the ATPD form).
        close(value(GasState::stpd().factor_to(btps)), 1.210_4, 1e-4);
        close(value(btps.factor_to(GasState::stpd())), 0.826_2, 1e-4);
    }

    #[test]
    fn barometer_matters_little() {
        // Johns 2004, Respirology 9:406-408: +0.143 % and -0.122 % against 101.3 kPa.
        let factor = |pressure| {
            let from = GasState::saturated(pressure, celsius(2_000)).unwrap();
            value(from.factor_to(GasState::btps(pressure).unwrap()))
        };
        let usual = factor(kpa(101.3));
        close((factor(kpa(98.0)) / usual - 1.0) * 100.0, 0.143, 0.005);
        close((factor(kpa(104.3)) / usual - 1.0) * 100.0, -0.122, 0.005);
    }

    #[test]
    fn a_worked_example_with_its_own_vapour_pressure() {
        // A teaching page of mvls.gla.ac.uk gives 9.4 L/min ATPS at 761 mmHg, 25 °C, vapour 20.835 mmHg;
        // (761 − 20.835)/760 × 273/298 × 9.4 = 8.387 L/min STPD.
        let from = GasState::new(mmhg(761.0), celsius(2_500), mmhg(20.835)).unwrap();
        close(value(from.factor_to(GasState::stpd())) * 9.4, 8.387, 0.002);
    }

    #[test]
    fn impossible_gas_is_refused() {
        let at = |p, v| GasState::new(Pressure::from_int(p), Celsius::BODY, Pressure::from_int(v));
        assert_eq!(at(499, 0).unwrap_err().parameter, "absolute");
        assert_eq!(at(1_201, 0).unwrap_err().problem, Problem::TooLarge);
        assert_eq!(at(1_033, -1).unwrap_err().parameter, "vapour");
        // 100 cmH2O itself is still one, and a step more is not.
        let bit = Pressure::STEP;
        let wet = |vapour| GasState::new(Pressure::from_int(1_033), Celsius::BODY, vapour).is_ok();
        let most = Pressure::from_int(100);
        assert!(wet(most) && !wet(most.saturating_add(bit).value));
        assert!(Celsius::from_hundredths(4_001).is_err());
    }
}
