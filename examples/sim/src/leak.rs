//! Flow lost past the tube.

use crate::check::within;
use crate::error::ScenarioError;
use crate::position::PositionSettings;
use crate::root::root;
use crate::schedule::Schedule;

/// How leak flow depends on pressure. Below ambient pressure the flow goes the other way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LeakModel {
    /// `size × √P`, size in (mL/s)/√cmH2O.
    Orifice,
    /// `size × P`, size in (mL/s)/cmH2O.
    Laminar,
    /// `size × √(P − opening)` above the opening pressure in cmH2O (0 to 60), nothing below it.
    OpensAbove(f64),
    /// Shut until the pressure exceeds the first (0 to 60 cmH2O), then `size × √(P − second)` until it falls
    /// below the second, which is no larger.
    Snaps(f64, f64),
}

/// Which pressure drives the leak.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LeakSite {
    /// The airway pressure at the sensor.
    Sensor,
    /// The pressure behind the tube, at its tracheal end.
    Trachea,
}

/// A leak between sensor and lung.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeakSettings {
    /// How flow depends on pressure.
    pub model: LeakModel,
    /// Which pressure drives it.
    pub site: LeakSite,
    /// Size over time, 0 to 50, in the model's unit.
    pub size: Schedule,
    /// A size that is another with the head turned.
    pub position: Option<PositionSettings>,
}

impl Default for LeakSettings {
    /// An orifice of size zero, driven by the airway pressure.
    fn default() -> Self {
        Self {
            model: LeakModel::Orifice,
            site: LeakSite::Sensor,
            size: Schedule::constant(0.0),
            position: None,
        }
    }
}

impl LeakSettings {
    pub(crate) fn check(&self) -> Result<(), ScenarioError> {
        self.size.check("leak.size", 0.0, 50.0)?;
        if let Some(position) = &self.position {
            position.check()?;
        }
        match self.model {
            LeakModel::OpensAbove(p) => within("leak.model", p, 0.0, 60.0),
            LeakModel::Snaps(opens, shuts) => {
                within("leak.model", opens, 0.0, 60.0)?;
                within("leak.model", shuts, 0.0, opens)
            }
            LeakModel::Orifice | LeakModel::Laminar => Ok(()),
        }
    }
}

impl LeakModel {
    /// Whether the leak is open after it stood at a pressure.
    pub(crate) fn is_open(self, was: bool, pressure: f64) -> bool {
        match self {
            Self::Snaps(opens, shuts) => pressure > if was { shuts } else { opens },
            Self::Orifice | Self::Laminar | Self::OpensAbove(_) => true,
        }
    }

    /// Leak flow in mL/s at a pressure in cmH2O, where it is open.
    pub(crate) fn flow(self, size: f64, pressure: f64) -> f64 {
        if size <= 0.0 {
            return 0.0;
        }
        match self {
            Self::Orifice if pressure < 0.0 => -size * root(-pressure),
            Self::Orifice => size * root(pressure),
            Self::Laminar => size * pressure,
            Self::OpensAbove(opening) | Self::Snaps(_, opening) => size * root(pressure - opening),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use core::f64::consts::{FRAC_1_SQRT_2, SQRT_2};

    #[test]
    fn models_matched_at_one_pressure_part_at_others() {
        // Derived here by arithmetic: matched at 10 cmH2O with g = 0.1 (flow 1), k = 1/√10:
        // at 5 → 0.5 and √0.5 = 0.707 107; at 20 → 2 and √2 = 1.414 214.
        let k = 1.0 / 3.162_277_660_168_379_5;
        assert!((LeakModel::Laminar.flow(0.1, 5.0) - 0.5).abs() < 1e-12);
        assert!((LeakModel::Laminar.flow(0.1, 20.0) - 2.0).abs() < 1e-12);
        assert!((LeakModel::Orifice.flow(k, 5.0) - FRAC_1_SQRT_2).abs() < 1e-6);
        assert!((LeakModel::Orifice.flow(k, 20.0) - SQRT_2).abs() < 1e-6);
        assert!((LeakModel::Orifice.flow(k, -20.0) + SQRT_2).abs() < 1e-6);
    }

    #[test]
    fn a_leak_that_snaps_stays_open_until_the_lower_pressure() {
        let leak = LeakModel::Snaps(12.0, 8.0);
        assert!(!leak.is_open(false, 11.9) && leak.is_open(false, 12.1));
        assert!(leak.is_open(true, 8.1) && !leak.is_open(true, 7.9));
        // √(12 − 8)
        assert!((leak.flow(3.0, 12.0) - 6.0).abs() < 1e-12);
    }

    #[test]
    fn an_opening_leak_is_shut_below_its_pressure() {
        assert_eq!(LeakModel::OpensAbove(12.0).flow(1.0, 12.0), 0.0);
        assert_eq!(LeakModel::OpensAbove(12.0).flow(1.0, 5.0), 0.0);
        assert!((LeakModel::OpensAbove(12.0).flow(1.0, 16.0) - 2.0).abs() < 1e-12);
    }
}
