//! What a quantity makes of another: which units' product is which.

use super::unit::{
    CmH2O, CmH2OPerMl, CmH2OPerSquareMl, CmH2OSecond, CmH2OSecondPerL, CmH2OSecondPerMl,
    CmH2OSquareSecondPerSquareL, Ml, MlPerS, MlPerSCmH2O, MlPerSRootCmH2O, RootCmH2O, SquareMl,
    Unit,
};
use super::{Quantity, Saturated, Slope, arith};

/// A unit that times another is a third.
pub(crate) trait Times<V: Unit>: Unit {
    /// That.
    type Product: Unit;
}

/// A unit of what a litre a second makes: times mL/s it is a thousandth of another.
pub(crate) trait EachLitre: Unit {
    /// That.
    type Product: Unit;
}

/// A unit that times a second is another.
pub(crate) trait Integrates: Unit {
    /// That.
    type Integral: Unit;
}

macro_rules! products {
    ($($factor:ident * $by:ident = $product:ident),* $(,)?) => {$(
        impl Times<$by> for $factor {
            type Product = $product;
        }
    )*};
}
products! {
    MlPerSCmH2O * CmH2O = MlPerS,
    MlPerSRootCmH2O * RootCmH2O = MlPerS,
    CmH2OPerMl * Ml = CmH2O,
    CmH2OPerSquareMl * SquareMl = CmH2O,
    CmH2OSecondPerMl * MlPerS = CmH2O,
}

impl EachLitre for CmH2OSecondPerL {
    type Product = CmH2O;
}

impl EachLitre for CmH2OSquareSecondPerSquareL {
    type Product = CmH2OSecondPerL;
}

impl Integrates for MlPerS {
    type Integral = Ml;
}

impl Integrates for CmH2O {
    type Integral = CmH2OSecond;
}

impl<U: Unit> Quantity<U> {
    /// The product with a quantity of another unit, half up; clamps, and says so.
    pub(crate) const fn by<V: Unit>(self, other: Quantity<V>) -> Saturated<Quantity<U::Product>>
    where
        U: Times<V>,
    {
        Quantity::limited(arith::mul_q16(self.to_bits(), other.to_bits()))
    }

    /// So much for each of another unit, toward zero; `None` for none of that. One wide divide.
    #[must_use]
    pub(crate) const fn per<V: Unit, F: Times<V, Product = U>>(
        self,
        other: Quantity<V>,
    ) -> Option<Saturated<Quantity<F>>> {
        let ratio = arith::ratio_q16(arith::widen(self.to_bits()), arith::widen(other.to_bits()));
        match ratio {
            Some(ratio) => Some(Quantity::limited(ratio)),
            None => None,
        }
    }

    /// So much for each litre a second, toward zero; `None` for no flow. One wide divide.
    #[must_use]
    pub(crate) const fn for_each_litre<F: EachLitre<Product = U>>(
        self,
        flow: Quantity<MlPerS>,
    ) -> Option<Saturated<Quantity<F>>> {
        match arith::per_litre_ratio(self.to_bits(), flow.to_bits()) {
            Some(ratio) => Some(Quantity::limited(ratio)),
            None => None,
        }
    }

    /// What a flow makes of it, half away from zero; clamps, and says so.
    pub(crate) const fn at(self, flow: Quantity<MlPerS>) -> Saturated<Quantity<U::Product>>
    where
        U: EachLitre,
    {
        Quantity::limited(arith::drop_per_litre(self.to_bits(), flow.to_bits()))
    }

    /// A quotient of two sums of products, times a number and a power of two, half away from zero, 2⁻³⁰
    /// relative; `None` where the divisor is zero.
    #[must_use]
    pub(crate) const fn of_quotient(
        top: i128,
        bottom: i128,
        times: u32,
        exponent: i32,
    ) -> Option<Saturated<Self>> {
        match arith::quotient(top, bottom, times, exponent) {
            Some(quotient) => Some(Self::limited(quotient)),
            None => None,
        }
    }

    /// Raw bits with so many fraction bits fewer (1 to 16), half up: for sums of products.
    #[must_use]
    #[inline]
    pub(crate) const fn coarse(self, missing: u32) -> i32 {
        arith::coarse(self.to_bits(), missing)
    }

    /// From raw bits that have up to 16 fraction bits fewer; clamps.
    #[must_use]
    #[inline]
    pub(crate) const fn of_coarse(bits: i32, missing: u32) -> Self {
        Self::from_bits(arith::finer(bits, missing))
    }

    /// The mean of `count` values (above zero) of a sum that has `missing` fewer fraction bits; clamps.
    #[must_use]
    pub(crate) const fn of_mean(sum: i64, count: u32, missing: u32) -> Self {
        Self::from_bits(arith::mean_finer(sum, count, missing))
    }
}

impl<U: Unit> Slope<U> {
    /// As [`Quantity::of_quotient`]; for a value of its unit the exponent is that of a quantity and 8 more.
    #[must_use]
    pub(crate) const fn of_quotient(
        top: i128,
        bottom: i128,
        exponent: i32,
    ) -> Option<Saturated<Self>> {
        match arith::quotient(top, bottom, 1, exponent) {
            Some(Saturated { value, saturated }) => {
                Some(Saturated { value: Self::new(value), saturated })
            }
            None => None,
        }
    }

    /// The product with a quantity of another unit, half up, clamped.
    #[must_use]
    pub(crate) const fn by<V: Unit>(self, other: Quantity<V>) -> Quantity<U::Product>
    where
        U: Times<V>,
    {
        Quantity::from_bits(arith::weighted(other.to_bits(), self.0))
    }
}

#[cfg(test)]
mod tests {
    use super::super::{
        Area, Conductance, Flow, Magnitude, Pressure, Resistance, RootConductance, RootPressure,
        SquareResistance, Volume,
    };
    use super::*;

    #[test]
    fn products_are_those_of_their_units() {
        // 2 mL/s/cmH2O at 5 cmH2O are 10 mL/s, 3 mL/s/√cmH2O at √16 are 12; 12 at 4 are 3 for each.
        let flow = Flow::from_int(12);
        assert_eq!(
            Conductance::from_int(2).by(Pressure::from_int(5)),
            Saturated::exact(Flow::from_int(10))
        );
        let (three, four) = (RootConductance::from_int(3), RootPressure::from_int(4));
        assert_eq!(three.by(four), Saturated::exact(flow));
        assert_eq!(flow.per(four), Some(Saturated::exact(three)));
        assert_eq!(flow.per::<_, MlPerSRootCmH2O>(RootPressure::ZERO), None);
        // 250 cmH2O/(L/s)² at 0.1 L/s are 25 cmH2O/(L/s), and those lose 2.5 cmH2O.
        let (square, slow) = (SquareResistance::from_int(250), Flow::from_int(100));
        let resistance = Resistance::from_int(25);
        assert_eq!(square.at(slow), Saturated::exact(resistance));
        assert_eq!(resistance.at(slow), Saturated::exact(Pressure::milli::<2_500>()));
        assert_eq!(resistance.for_each_litre(slow), Some(Saturated::exact(square)));
        // 1 000 × 40 cmH2O is more than 32 768.
        assert!(Conductance::from_int(1_000).by(Pressure::from_int(40)).saturated);
    }

    #[test]
    fn a_value_over_time_is_a_volume_and_its_mean_itself() {
        // 12 mL/s for 0.5 s are 6 mL; 4 cmH2O for as long at 3 mL/s/cmH2O as much.
        let area = Flow::from_int(12).over(500_000);
        assert_eq!(area.in_seconds(), Saturated::exact(Volume::from_int(6)));
        assert_eq!(Volume::from_int(12).each_second(), Flow::from_int(12));
        assert_eq!(area.mean(500_000), Some(Saturated::exact(Flow::from_int(12))));
        assert_eq!((area.mean(0), Area::<MlPerS>::ZERO.share_of(Area::ZERO)), (None, None));
        let pressed = Pressure::from_int(4).over(500_000);
        assert_eq!(pressed.by(Conductance::from_int(3)), Saturated::exact(area));
    }

    #[test]
    fn the_smallest_quantity_has_a_size() {
        // 2³¹ steps, one more than the largest has; clamped only where it must be a quantity again.
        assert!(Flow::MIN.magnitude() > Flow::MAX.magnitude());
        assert_eq!(Flow::MIN.saturating_abs(), Flow::MAX);
        let apart = Flow::MIN.apart(Flow::MAX);
        assert_eq!((apart, apart.doubled()), (Magnitude::MAX, Magnitude::MAX));
        // 3² + 4² = 5².
        let parts = [3, -4].map(|ml| Volume::from_int(ml).magnitude());
        assert_eq!(Magnitude::root_of_squares(parts), Volume::from_int(5));
        // A hundredth of −7 mL is 0.07: 4 587.52 steps, toward zero.
        assert_eq!(Volume::from_int(-7).hundredth(), Volume::from_bits(4_587).magnitude());
    }
}
