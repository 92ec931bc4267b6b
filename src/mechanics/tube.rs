//! Pressure lost in a tracheal tube, by the user's own coefficients.

use crate::quantity::{
    Flow, Pressure, Problem, Resistance, Rohrer, Saturated, SettingError, Share, SquareResistance,
    setting,
};
use fixed::types::I16F16;

/// Flow beyond which a tube's loss is not computed.
const MOST_FLOW: Flow = Flow::from_int(3_000);
const MOST_K1: Resistance = Resistance::from_int(1_000);
const MOST_K2: SquareResistance = SquareResistance::from_int(10_000);

/// A tube that loses K1·Q + K2·Q·|Q| (Rohrer 1915).
///
/// The coefficients are the user's, from a bench or a publication, since they belong to one make, length and
/// connector: this type has none built in. Where none are given, the leak path takes a likely tube by
/// [weight](crate::leak::Tube::ByWeight). They hold at conventional rates, not under
/// high-frequency oscillation (Schumann 2008, Respir Physiol Neurobiol 162:132-137).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TubeResistance {
    k1: Resistance,
    k2: SquareResistance,
    both: Rohrer,
}

impl TubeResistance {
    /// From K1 (0 to 1 000 cmH2O/(L/s)) and K2 (0 to 10 000 cmH2O/(L/s)²), not both zero. Two wide
    /// divides, here and not on samples.
    ///
    /// # Errors
    /// A parameter outside its range.
    pub fn new(k1: Resistance, k2: I16F16) -> Result<Self, SettingError> {
        Self::of(k1, SquareResistance::new(k2))
    }

    fn of(k1: Resistance, k2: SquareResistance) -> Result<Self, SettingError> {
        let wrong = if k1 < Resistance::ZERO {
            Some(("k1", Problem::Negative))
        } else if k1 > MOST_K1 {
            Some(("k1", Problem::TooLarge))
        } else if k2 < SquareResistance::ZERO {
            Some(("k2", Problem::Negative))
        } else if k2 > MOST_K2 {
            Some(("k2", Problem::TooLarge))
        } else if k1 == Resistance::ZERO && k2 == SquareResistance::ZERO {
            Some(("k1", Problem::NotPositive))
        } else {
            None
        };
        match wrong {
            Some((parameter, problem)) => Err(SettingError::new(parameter, problem)),
            None => Ok(Self { k1, k2, both: Rohrer::of(k1, k2) }),
        }
    }

    /// For its record.
    const fn k1(&self) -> Resistance {
        self.k1
    }

    /// For its record.
    const fn k2_bits(&self) -> i32 {
        self.k2.to_bits()
    }

    fn of_bits(k1: Resistance, k2_bits: i32) -> Result<Self, SettingError> {
        Self::of(k1, SquareResistance::from_bits(k2_bits))
    }

    /// From the drops at two different flows above zero, the smaller flow first: K2 =
    /// (P2/Q2 − P1/Q1) ÷ (Q2 − Q1), K1 = P1/Q1 − K2·Q1. Exact up to one step in each quotient;
    /// three wide divides.
    ///
    /// # Errors
    /// A flow not above zero, flows that do not rise, or coefficients outside the ranges of
    /// [`new`](Self::new): then no such tube has these drops.
    pub fn from_points(
        (first_flow, first_drop): (Flow, Pressure),
        (second_flow, second_drop): (Flow, Pressure),
    ) -> Result<Self, SettingError> {
        if first_flow <= Flow::ZERO {
            return Err(SettingError::new("first_flow", Problem::NotPositive));
        }
        let more = second_flow.saturating_sub(first_flow).value;
        if more <= Flow::ZERO {
            return Err(SettingError::new("second_flow", Problem::NotRising));
        }
        let first: Resistance = within_range(first_drop.for_each_litre(first_flow), "first_drop")?;
        let second = within_range(second_drop.for_each_litre(second_flow), "second_drop")?;
        let rise = second.saturating_sub(first).value;
        let k2: SquareResistance = within_range(rise.for_each_litre(more), "k2")?;
        Self::of(first.saturating_sub(k2.at(first_flow).value).value, k2)
    }

    /// K1 in cmH2O/(L/s) and K2 in cmH2O/(L/s)².
    #[must_use]
    pub const fn coefficients(&self) -> (Resistance, I16F16) {
        (self.k1, self.k2.get())
    }

    /// Pressure lost at a flow, with the flow's sign; half away from zero, within one step. Flows
    /// beyond ±3 000 mL/s are cut and marked. No divide: two 64-bit products, fit for samples.
    pub fn drop(&self, flow: Flow) -> Saturated<Pressure> {
        let (flow, cut) = within(flow);
        let drop = self.both.drop(flow);
        Saturated { value: drop.value, saturated: drop.saturated || cut }
    }

    /// The pressure in the trachea: that at the airway opening less the drop.
    pub(crate) fn tracheal(&self, airway: Pressure, flow: Flow) -> Saturated<Pressure> {
        let drop = self.drop(flow);
        let rest = airway.saturating_sub(drop.value);
        Saturated { value: rest.value, saturated: rest.saturated || drop.saturated }
    }

    /// The share of a support pressure (above baseline) that the tube takes at a flow; `None` where
    /// there is no support. Above 1, the support does not even carry the tube. One wide divide.
    #[must_use]
    pub(crate) fn share_of_support(
        &self,
        support: Pressure,
        flow: Flow,
    ) -> Option<Saturated<Share>> {
        if support <= Pressure::ZERO {
            return None;
        }
        let drop = self.drop(flow);
        let share = drop.value.share_of(support)?;
        Some(Saturated { value: share.value, saturated: share.saturated || drop.saturated })
    }
}

/// A coefficient, where it is one and within its range.
fn within_range<T>(ratio: Option<Saturated<T>>, name: &'static str) -> Result<T, SettingError> {
    ratio.and_then(Saturated::within).ok_or(SettingError::new(name, Problem::TooLarge))
}

fn within(flow: Flow) -> (Flow, bool) {
    let lowest = Flow::ZERO.saturating_sub(MOST_FLOW).value;
    (flow.clamp(lowest, MOST_FLOW), flow > MOST_FLOW || flow < lowest)
}

setting! { TubeResistance = of_bits { k1: Resistance, k2_bits: i32 } }

#[cfg(test)]
mod tests {
    use super::*;

    fn whole(k1: i16, k2: i16) -> Result<TubeResistance, SettingError> {
        TubeResistance::new(Resistance::from_int(k1), I16F16::from_num(k2))
    }

    #[test]
    fn drops_follow_rohrer() {
        // Rohrer 1915: K1 30, K2 250; 0.02, 0.05, 0.1 L/s → 0.6 + 0.1 = 0.700,
        // 1.5 + 0.625 = 2.125, 3 + 2.5 = 5.500. Reached: one step of 1/65 536.
        let tube = whole(30, 250).unwrap();
        for (ml, drop) in [(20, 0.7), (50, 2.125), (100, 5.5)] {
            let flow = Flow::from_int(ml);
            let got = tube.drop(flow).within().unwrap();
            assert!((got.to_f64() - drop).abs() < 1.6e-5, "{got}");
            let back = tube.drop(Flow::from_int(-ml)).within().unwrap();
            assert_eq!(back, Pressure::ZERO.saturating_sub(got).value);
        }
        let airway = Pressure::from_int(20);
        let trachea = tube.tracheal(airway, Flow::from_int(-100)).within().unwrap();
        assert!((trachea.to_f64() - 25.5).abs() < 1.6e-5);
    }

    #[test]
    fn two_points_give_the_coefficients() {
        // Arithmetic: 42.5 and 55 at 0.05 and 0.1 L/s: K2 = 12.5/0.05 = 250, K1 = 42.5 −
        // 12.5 = 30. Exact.
        let at = |ml, milli| (Flow::from_int(ml), Pressure::from_milli(milli).value);
        assert_eq!(TubeResistance::from_points(at(50, 2_125), at(100, 5_500)), whole(30, 250));
        let wrong = |a, b| TubeResistance::from_points(a, b).map_err(|e| (e.parameter, e.problem));
        assert_eq!(wrong(at(0, 1), at(5, 2)), Err(("first_flow", Problem::NotPositive)));
        assert_eq!(wrong(at(5, 1), at(5, 2)), Err(("second_flow", Problem::NotRising)));
        // resistance that falls with flow
        assert_eq!(wrong(at(50, 5_000), at(100, 5_000)), Err(("k2", Problem::Negative)));
    }

    #[test]
    fn a_tube_eats_its_share_of_support() {
        // Arithmetic on K1 30, K2 250: 5.5 of 10 cmH2O at 0.1 L/s is 55 %.
        let tube = whole(30, 250).unwrap();
        let share = tube.share_of_support(Pressure::from_int(10), Flow::from_int(100)).unwrap();
        assert!((share.within().unwrap().to_f64() - 0.55).abs() < 1.6e-5);
        assert_eq!(tube.share_of_support(Pressure::ZERO, Flow::from_int(100)), None);
    }

    #[test]
    fn ends_of_the_range_do_not_wrap() {
        let most = whole(1_000, 10_000).unwrap();
        // 3 L/s: 3 000 + 90 000 cmH2O is beyond the range
        assert!(most.drop(MOST_FLOW).saturated && most.drop(Flow::MIN).saturated);
        assert_eq!(most.drop(MOST_FLOW).value, Pressure::MAX);
        let wrong = |a, b| whole(a, b).map_err(|e| (e.parameter, e.problem));
        assert_eq!(wrong(-1, 0), Err(("k1", Problem::Negative)));
        assert_eq!(wrong(1_001, 0), Err(("k1", Problem::TooLarge)));
        assert_eq!(wrong(0, -1), Err(("k2", Problem::Negative)));
        assert_eq!(wrong(0, 10_001), Err(("k2", Problem::TooLarge)));
        assert_eq!(wrong(0, 0), Err(("k1", Problem::NotPositive)));
    }

    #[test]
    fn flows_up_to_three_litres_a_second_are_followed() {
        // K1 30, K2 250 lose 90 + 2 250 cmH2O at 3 L/s; a step more is cut to that, either way.
        let (tube, bit) = (whole(30, 250).unwrap(), Flow::STEP);
        let over = MOST_FLOW.saturating_add(bit).value;
        let back = |flow| Flow::ZERO.saturating_sub(flow).value;
        for (flow, cut) in
            [(MOST_FLOW, false), (over, true), (back(MOST_FLOW), false), (back(over), true)]
        {
            let drop = tube.drop(flow);
            let size = drop.value.saturating_abs();
            assert_eq!((size, drop.saturated), (Pressure::from_int(2_340), cut), "{flow}");
            assert_eq!(tube.tracheal(Pressure::from_int(20), flow).saturated, cut, "{flow}");
            let share = tube.share_of_support(Pressure::from_int(10), flow);
            assert_eq!(share.map(|share| share.saturated), Some(cut), "{flow}");
        }
        // 32 000 - -2 340 cmH2O, though the loss itself is within its range; a share of 1/65 536 cmH2O is not.
        assert!(tube.tracheal(Pressure::from_int(32_000), back(MOST_FLOW)).saturated);
        assert!(tube.share_of_support(Pressure::STEP, MOST_FLOW).unwrap().saturated);
    }
}
