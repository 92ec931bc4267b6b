//! Captures a flow sensor's zero offset while no gas flows.

use crate::quantity::unit::MlPerS;
use crate::quantity::{Flow, Problem, SettingError, Wide};

/// Averages the flow while the user says that none flows (sensor unplugged or occluded).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ZeroCapture {
    samples: u32,
    spread_limit: Flow,
}

/// What has been seen so far of a capture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ZeroCaptureState {
    count: u32,
    sum: Wide<MlPerS>,
    low: Flow,
    high: Flow,
}

/// The flow moved too much for a zero: gas was flowing. Holds the distance from its smallest to
/// its largest value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub struct Unsteady(pub Flow);

impl ZeroCapture {
    /// A capture over `samples` (10 to 100 000) that allows the flow to move by `spread_limit`.
    ///
    /// # Errors
    /// Names the parameter outside its range.
    pub fn new(samples: u32, spread_limit: Flow) -> Result<Self, SettingError> {
        SettingError::within("samples", samples, 10, 100_000)?;
        if spread_limit <= Flow::ZERO {
            Err(SettingError::new("spread_limit", Problem::NotPositive))
        } else {
            Ok(Self { samples, spread_limit })
        }
    }

    /// Takes one reading; the mean of all (toward zero) once enough came, then starts afresh.
    ///
    /// # Errors
    /// [`Unsteady`] where the flow moved by more than the limit over the capture.
    #[must_use = "the mean is told once"]
    pub fn step(&self, state: &mut ZeroCaptureState, flow: Flow) -> Option<Result<Flow, Unsteady>> {
        if state.count == 0 {
            (state.low, state.high) = (flow, flow);
        }
        state.low = state.low.min(flow);
        state.high = state.high.max(flow);
        state.count = state.count.saturating_add(1);
        state.sum = state.sum.saturating_add(flow.widened());
        if state.count < self.samples {
            return None;
        }
        let done = *state;
        *state = ZeroCaptureState::default();
        let moved = done.high.saturating_sub(done.low).value;
        Some(if moved > self.spread_limit {
            Err(Unsteady(moved))
        } else {
            Ok(done.sum.mean(done.count))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_mean_of_a_still_sensor_is_its_offset() {
        let capture = ZeroCapture::new(10, Flow::from_int(2)).unwrap();
        let mut state = ZeroCaptureState::default();
        let mut result = None;
        for i in 0..10 {
            // 1 and 2 mL/s in turn: mean 1.5
            result = capture.step(&mut state, Flow::from_int(1 + i % 2));
        }
        assert_eq!(result, Some(Ok(Flow::from_milli(1_500).value)));
        assert_eq!(state, ZeroCaptureState::default());
    }

    #[test]
    fn a_breath_is_no_zero() {
        let capture = ZeroCapture::new(10, Flow::from_int(2)).unwrap();
        let mut state = ZeroCaptureState::default();
        let last = (0..10).filter_map(|i| capture.step(&mut state, Flow::from_int(i))).last();
        assert_eq!(last, Some(Err(Unsteady(Flow::from_int(9)))));
    }

    #[test]
    fn settings_are_checked() {
        assert!(ZeroCapture::new(9, Flow::from_int(1)).is_err());
        assert!(ZeroCapture::new(100_001, Flow::from_int(1)).is_err());
        assert!(ZeroCapture::new(10, Flow::ZERO).is_err());
    }
}
