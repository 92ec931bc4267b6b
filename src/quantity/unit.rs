//! The units that quantities are in.

use core::fmt::Debug;
use core::hash::Hash;

/// A unit. No other crate adds one.
pub trait Unit: sealed::Sealed + Copy + Ord + Hash + Default + Debug + 'static {}

mod sealed {
    pub trait Sealed {
        /// As it is written behind a number.
        const SYMBOL: &'static str;
    }
}

macro_rules! units {
    ($($(#[$doc:meta])* $vis:vis $name:ident = $symbol:literal,)*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
        $vis struct $name;

        impl sealed::Sealed for $name {
            const SYMBOL: &'static str = $symbol;
        }
        impl Unit for $name {}
    )*};
}
units! {
    /// mL/s.
    pub MlPerS = "mL/s",
    /// mL.
    pub Ml = "mL",
    /// mL/min for each kilogram.
    pub MlPerMinKg = "mL/min/kg",
    /// cmH2O.
    pub CmH2O = "cmH2O",
    /// A minute.
    pub PerMinute = "/min",
    /// No unit.
    pub One = "of 1",
    /// mL/cmH2O.
    pub MlPerCmH2O = "mL/cmH2O",
    /// cmH2O·s/L.
    pub CmH2OSecondPerL = "cmH2O*s/L",
    /// cmH2O/mL.
    pub CmH2OPerMl = "cmH2O/mL",
    /// cmH2O/(mL·L).
    pub CmH2OPerMlL = "cmH2O/(mL*L)",
    /// √cmH2O.
    pub(crate) RootCmH2O = "√cmH2O",
    /// mL/s/cmH2O.
    pub(crate) MlPerSCmH2O = "mL/s/cmH2O",
    /// mL/s/√cmH2O.
    pub(crate) MlPerSRootCmH2O = "mL/s/√cmH2O",
    /// cmH2O·s.
    pub(crate) CmH2OSecond = "cmH2O*s",
    /// cmH2O/(L/s)².
    pub(crate) CmH2OSquareSecondPerSquareL = "cmH2O*s2/L2",
    /// cmH2O·s/mL.
    pub(crate) CmH2OSecondPerMl = "cmH2O*s/mL",
    /// mL².
    pub(crate) SquareMl = "mL2",
    /// cmH2O/mL².
    pub(crate) CmH2OPerSquareMl = "cmH2O/mL2",
}
