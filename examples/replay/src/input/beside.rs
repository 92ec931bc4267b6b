//! Times that stand beside a rate that was told.

/// So many rows tell; the rates may differ by this part. Chosen here, no source.
const ENOUGH: u64 = 100;
const PART: f64 = 0.05;

/// How the times went so far.
#[derive(Debug, Default)]
pub(super) struct Beside {
    last: Option<(i128, u64)>,
    /// Steps onward together, over so many rows, and the least of them.
    passed: i128,
    rows: u64,
    least: Option<i128>,
    /// How often they went back.
    backward: u64,
}

impl Beside {
    /// A time in microseconds, and its row.
    pub(super) fn take(&mut self, us: i128, row: u64) {
        if let Some((last, before)) = self.last.replace((us, row)) {
            let step = us.saturating_sub(last);
            self.rows += row.saturating_sub(before);
            self.backward += u64::from(step < 0);
            if step > 0 {
                self.passed = self.passed.saturating_add(step);
                self.least = Some(self.least.map_or(step, |least| least.min(step)));
            }
        }
    }

    /// Why the rate of samples so many microseconds apart cannot be, where the times tell another. Times that stand
    /// still, or go back more than now and then, tell none; rounded ones are two steps off at most.
    pub(super) fn refused(&self, interval_us: f64) -> Option<String> {
        let least = self.least? as f64;
        if self.rows < ENOUGH || 100 * self.backward > self.rows {
            return None;
        }
        let (told, passed) = (interval_us * self.rows as f64, self.passed as f64);
        let differs = (told - passed).abs() > PART * passed + 2.0 * least;
        differs.then(|| {
            let hz = |us: f64| crate::text::decimals(1e6 * self.rows as f64 / us, 1);
            format!(
                "--rate-hz says {} samples a second, and the column of the time {}: leave --rate-hz away, or say the \
                 rate that is right",
                hz(told),
                hz(passed)
            )
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(times: impl Iterator<Item = i128>) -> Option<String> {
        let mut beside = Beside::default();
        times.zip(0..).for_each(|(us, row)| beside.take(us, row));
        beside.refused(10_000.0)
    }

    #[test]
    fn times_contradict_a_rate_or_are_rounded() {
        // Each 10 ms, or rounded to whole seconds over half a minute: 100 a second.
        assert_eq!(refused((0..200).map(|n| n * 10_000)), None);
        assert_eq!(refused((0..3_000).map(|n| n / 100 * 1_000_000)), None);
        // All the same, or back as often as on: they tell nothing.
        assert_eq!(refused((0..3_000).map(|_| 7)), None);
        assert_eq!(refused((0..3_000).map(|n| n % 2 * 10_000)), None);
        // Each row twice: 200 a second, less the half row at the end.
        let twice = refused((0..2_000).map(|n| n / 2 * 10_000)).unwrap();
        assert!(
            twice.contains("says 100.0 samples a second, and the column of the time 200.1"),
            "{twice}"
        );
    }
}
