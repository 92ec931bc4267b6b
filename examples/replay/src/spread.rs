//! How far values spread, and how wide what was counted can be taken.

use crate::text::decimals;

/// The value under which a share of all lies (nearest rank); `None` for nothing.
pub(crate) fn quantile(values: impl Iterator<Item = f64>, share: f64) -> Option<f64> {
    let mut all: Vec<_> = values.collect();
    let rank = (share * all.len() as f64).ceil().max(1.0) as usize - 1;
    (rank < all.len()).then(|| *all.select_nth_unstable_by(rank, f64::total_cmp).1)
}

/// Median with the middle half beside it where that differs, as `5.1 (4.8 to 5.4)`.
pub(crate) fn spread(values: impl Iterator<Item = f64> + Clone, places: usize) -> Option<String> {
    let at = |share| Some(decimals(quantile(values.clone(), share)?, places));
    let (low, median, high) = (at(0.25)?, at(0.5)?, at(0.75)?);
    Some(if low == high { median } else { format!("{median} ({low} to {high})") })
}

/// The score interval of a share (Wilson 1927, J Am Stat Assoc 22:209-212), 95 %.
pub(crate) fn interval(part: u32, whole: u32) -> String {
    const Z: f64 = 1.96;
    let n = f64::from(whole.max(1));
    let p = f64::from(part) / n;
    let spread = Z * Z / n;
    let middle = (p + spread / 2.0) / (1.0 + spread);
    let half = Z * (p * (1.0 - p) / n + spread / (4.0 * n)).sqrt() / (1.0 + spread);
    let percent = |share: f64| decimals(100.0 * share, 0);
    format!("{} to {}", percent(middle - half), percent(middle + half))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_small_sample_has_a_wide_interval() {
        // 30 of 35: (0.857 + 0.0549) ÷ 1.1098 = 0.822 in the middle, ± 0.116: 71 to 94 %.
        assert_eq!(interval(30, 35), "71 to 94");
        // None of ten: 0 to 3.84 ÷ 13.84 = 28 %.
        assert_eq!(interval(0, 10), "0 to 28");
    }
}
