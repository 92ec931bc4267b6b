//! The units that quantities are in.

use core::fmt::Debug;
use core::hash::Hash;

/// A unit. No other crate adds one.
pub trait Unit: sealed::Sealed + Copy + Ord + Hash + Default + Debug + 'static {
    /// As it is written behind a number.
    const SYMBOL: &'static str;
}

mod sealed {
    pub trait Sealed {}
}

macro_rules! units {
    ($($(#[$doc:meta])* $name:ident = $symbol:literal,)*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
        pub struct $name;

        impl sealed::Sealed for $name {}
        impl Unit for $name {
            const SYMBOL: &'static str = $symbol;
        }
    )*};
}
units! {
    /// mL/s.
    MlPerS = "mL/s",
    /// mL.
    Ml = "mL",
    /// mL/min for each kilogram.
    MlPerMinKg = "mL/min/kg",
    /// cmH2O.
    CmH2O = "cmH2O",
    /// A minute.
    PerMinute = "/min",
    /// No unit.
    One = "of 1",
    /// mL/cmH2O.
    MlPerCmH2O = "mL/cmH2O",
    /// cmH2O·s/L.
    CmH2OSecondPerL = "cmH2O*s/L",
    /// cmH2O/mL.
    CmH2OPerMl = "cmH2O/mL",
    /// cmH2O/(mL·L).
    CmH2OPerMlL = "cmH2O/(mL*L)",
    /// √cmH2O.
    RootCmH2O = "√cmH2O",
    /// mL/s/cmH2O.
    MlPerSCmH2O = "mL/s/cmH2O",
    /// mL/s/√cmH2O.
    MlPerSRootCmH2O = "mL/s/√cmH2O",
}
