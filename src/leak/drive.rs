//! What drives the leak over a breath: the pressure at the tip of the tube, steady over each phase.

use crate::breath::{Breath, PhaseIntegrals};
use crate::quantity::unit::{CmH2O, MlPerS, RootCmH2O, Unit};
use crate::quantity::{Area, Pressure, Quantity, RootPressure, Saturated};

/// Over one phase.
#[derive(Debug, Clone, Copy)]
pub(super) struct Drive {
    /// The pressure over its time.
    pub(super) tip: Area<CmH2O>,
    us: u32,
    /// The root of its mean; `None` where that is not known.
    root: Option<RootPressure>,
}

/// Over both phases of a breath, and what flowed.
#[derive(Debug, Clone, Copy)]
pub(super) struct Drives {
    pub(super) inspiration: Drive,
    pub(super) expiration: Drive,
    /// Net and inspired flow over its time.
    pub(super) net: Area<MlPerS>,
    pub(super) inspired: Area<MlPerS>,
}

impl Drive {
    /// Of a summed phase. One wide divide.
    pub(super) fn of(sums: &PhaseIntegrals) -> Self {
        let root = sums.mean_tip().map(Pressure::root);
        Self { tip: sums.tip_area(), us: sums.known().to_short_us().value, root }
    }

    /// A steady value over it.
    pub(super) const fn over<U: Unit>(&self, value: Quantity<U>) -> Area<U> {
        value.over(self.us)
    }

    /// The root of its mean; zero where that is not known.
    pub(super) fn root(&self) -> RootPressure {
        self.root.unwrap_or(RootPressure::ZERO)
    }
}

impl Drives {
    /// Of a closed breath. Two wide divides.
    pub(super) fn of(breath: &Breath) -> Self {
        let Breath { inspiration, expiration, .. } = breath;
        Self {
            inspiration: Drive::of(inspiration),
            expiration: Drive::of(expiration),
            net: inspiration.with(expiration).flow_area(),
            inspired: inspiration.flow_area(),
        }
    }

    /// The root of the pressure over both; `None` where either is not known.
    pub(super) fn root_area(&self) -> Option<Area<RootCmH2O>> {
        let part = |drive: &Drive| Some(drive.over(drive.root?));
        Some(part(&self.inspiration)?.saturating_add(part(&self.expiration)?))
    }
}

/// The mean root of the pressure over a breath. Three wide divides.
pub(super) fn mean_root(breath: &Breath) -> Option<RootPressure> {
    let known = breath.inspiration.with(&breath.expiration).known().to_us();
    Drives::of(breath).root_area()?.mean(known).and_then(Saturated::within)
}
