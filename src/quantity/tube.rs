//! Flow in a tube.

use super::{Flow, Pressure, Resistance, Saturated, Share, SquareResistance, arith};

/// The coefficients of a tube that loses K1·Q + K2·Q·|Q| (Rohrer 1915) in cmH2O/(mL/s), 30 fraction bits, and
/// in cmH2O/(mL/s)², 40 fraction bits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(crate) struct Rohrer {
    linear: i64,
    square: i64,
}

impl Rohrer {
    /// From K1 (0 to 1 000) and K2 (0 to 10 000). Two wide divides.
    #[must_use]
    #[inline]
    pub(crate) const fn of(k1: Resistance, k2: SquareResistance) -> Self {
        Self {
            linear: arith::linear_per_ml(k1.to_bits()),
            square: arith::square_per_ml(k2.to_bits()),
        }
    }

    /// What is lost at a flow of up to ±3 000 mL/s, half away from zero. No divide.
    #[inline]
    pub(crate) const fn drop(&self, flow: Flow) -> Saturated<Pressure> {
        let resistance = arith::resistance_q30(self.linear, self.square, flow.to_bits());
        Pressure::limited(arith::resistive_drop(resistance, flow.to_bits()))
    }
}

/// A Reynolds number with 16 fraction bits.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Reynolds(u64);

impl Reynolds {
    /// The nearest whole number.
    #[must_use]
    pub(crate) const fn whole(self) -> u32 {
        arith::nearest_whole(self.0)
    }

    /// How much more laminar flow loses in a bore of so many tenths of a millimetre once it is bent to this radius.
    pub(crate) fn bend_ratio(self, tenths: u8, bend_mm: u16) -> Saturated<Share> {
        Share::limited(arith::bend_ratio_q16(arith::dean_q16(self.0, tenths, bend_mm)))
    }
}

impl Flow {
    /// Its Reynolds number in a bore of so many tenths of a millimetre. One wide divide.
    #[must_use]
    pub(crate) const fn reynolds(self, tenths: u8) -> Reynolds {
        Reynolds(arith::reynolds_q16(self.to_bits(), tenths))
    }
}

impl Resistance {
    /// Poiseuille's, of a bore of so many tenths of a millimetre and so many millimetres. One wide divide.
    #[must_use]
    pub(crate) const fn of_bore(tenths: u8, length_mm: u16) -> Self {
        Self::from_bits(arith::poiseuille_q16(tenths, length_mm))
    }
}

impl Pressure {
    /// What turbulent flow loses in such a bore, by Blasius, with the flow's sign.
    pub(crate) const fn of_blasius(flow: Flow, tenths: u8, length_mm: u16) -> Saturated<Self> {
        Self::limited(arith::blasius_q16(flow.to_bits(), tenths, length_mm))
    }

    /// A point between two pressures in hundredths of a pascal.
    #[must_use]
    pub(crate) const fn between_centi_pascals(low: u32, high: u32, hundredths: u16) -> Self {
        Self::from_bits(arith::centi_pascal_to_q16(low, high, hundredths))
    }
}
