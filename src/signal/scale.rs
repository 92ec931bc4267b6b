//! Sensor counts to flow by a table of straight lines.

use crate::quantity::{Flow, Problem, Saturated, SettingError};

/// A piecewise-linear calibration of `N` points, counts against flow.
///
/// Slopes are worked out when the table is made, so a conversion costs one search of at most `N`
/// steps and one wide multiply, no divide. Error: below two steps of 1/65 536 mL/s inside the
/// table. Counts beyond the ends give the end's flow and are marked as saturated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct FlowTable<const N: usize> {
    points: [(i32, Flow); N],
    slopes: [i64; N],
}

impl<const N: usize> FlowTable<N> {
    /// A table from points in rising order of counts, with flow that rises too.
    ///
    /// # Errors
    /// Fewer than two points, or points that do not rise in both.
    pub fn new(points: [(i32, Flow); N]) -> Result<Self, SettingError> {
        if N < 2 {
            return Err(SettingError::new("points", Problem::TooFew));
        }
        let mut slopes = [0; N];
        let pairs = points.iter().zip(points.iter().skip(1));
        for (slope, (&(c0, f0), &(c1, f1))) in slopes.iter_mut().zip(pairs) {
            if c1 <= c0 || f1 <= f0 {
                return Err(SettingError::new("points", Problem::NotRising));
            }
            *slope = f0.rise_to(f1, c0, c1);
        }
        Ok(Self { points, slopes })
    }

    /// The flow of a count.
    pub fn flow(&self, counts: i32) -> Saturated<Flow> {
        let mut found = Saturated { value: Flow::ZERO, saturated: true };
        for (&(count, flow), &slope) in self.points.iter().zip(&self.slopes) {
            if counts < count {
                // Below the first point: its flow. Between two: what the line before gave.
                if found.saturated {
                    found.value = flow;
                }
                return found;
            }
            found = Saturated::exact(flow.along(slope, counts, count));
        }
        // At or beyond the last point, whose slope is zero.
        let beyond = self.points.last().is_some_and(|&(last, _)| counts > last);
        Saturated { value: found.value, saturated: beyond }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_between_points_and_ends_that_say_so() {
        let table = FlowTable::new([
            (-1_000, Flow::from_int(-200)),
            (0, Flow::ZERO),
            (500, Flow::from_int(50)),
        ])
        .unwrap();
        // -1000..0 has 0.2 mL/s a count; 0..500 has 0.1
        for (counts, milli, saturated) in [
            (-1_001, -200_000, true),
            (-1_000, -200_000, false),
            (-500, -100_000, false),
            (0, 0, false),
            (250, 25_000, false),
            (500, 50_000, false),
            (501, 50_000, true),
            (i32::MAX, 50_000, true),
            (i32::MIN, -200_000, true),
        ] {
            let got = table.flow(counts);
            let want = Flow::from_milli(milli).value;
            assert!(got.value.apart(want) <= Flow::STEP.magnitude().doubled(), "{counts}: {got:?}");
            assert_eq!(got.saturated, saturated, "{counts}");
        }
    }

    #[test]
    fn points_must_rise() {
        let up = Flow::from_int(1);
        assert!(FlowTable::new([(0, up)]).is_err_and(|e| e.problem == Problem::TooFew));
        assert!(FlowTable::new([(0, up), (0, Flow::from_int(2))]).is_err());
        assert!(FlowTable::new([(0, up), (1, up)]).is_err());
    }

    #[test]
    fn the_widest_table_does_not_overflow() {
        let table = FlowTable::new([(i32::MIN, Flow::MIN), (i32::MAX, Flow::MAX)]).unwrap();
        assert!(table.flow(0).value.magnitude() <= Flow::STEP.magnitude().doubled());
        assert!(!table.flow(i32::MAX).saturated);
    }
}
