//! What drives the leak over a breath: the pressure at the tip of the tube, steady over each phase.

use crate::breath::{Breath, PhaseIntegrals};
use crate::quantity::{Pressure, RootPressure, arith};

/// Over one phase.
#[derive(Debug, Clone, Copy)]
pub(super) struct Drive {
    /// The pressure as a doubled area.
    pub(super) tip: i64,
    us: u32,
    /// The root of its mean; `None` where that is not known.
    root: Option<RootPressure>,
}

/// Over both phases of a breath, and what flowed.
#[derive(Debug, Clone, Copy)]
pub(super) struct Drives {
    pub(super) inspiration: Drive,
    pub(super) expiration: Drive,
    /// Net and inspired flow, as doubled areas.
    pub(super) net: i64,
    pub(super) inspired: i64,
}

impl Drive {
    /// Of a summed phase. One wide divide.
    pub(super) fn of(sums: &PhaseIntegrals) -> Self {
        let root = sums.mean_tip().map(Pressure::root);
        Self { tip: sums.tip_area(), us: sums.known().to_short_us().value, root }
    }

    /// A steady value over it, as a doubled area.
    pub(super) const fn over(&self, bits: i32) -> i64 {
        arith::trapezoid(bits, bits, self.us)
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

    /// The root of the pressure over both, as a doubled area; `None` where either is not known.
    pub(super) fn root_area(&self) -> Option<i64> {
        let part = |drive: &Drive| Some(drive.over(drive.root?.to_bits()));
        Some(arith::accumulate(part(&self.inspiration)?, part(&self.expiration)?).value)
    }
}

/// The mean root of the pressure over a breath. Three wide divides.
pub(super) fn mean_root(breath: &Breath) -> Option<RootPressure> {
    let known = breath.inspiration.with(&breath.expiration).known().to_us();
    let mean = arith::mean_q16(Drives::of(breath).root_area()?, known)?;
    mean.within().map(RootPressure::from_bits)
}
