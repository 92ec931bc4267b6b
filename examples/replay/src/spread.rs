//! How far values spread, and how wide what was counted can be taken.

use crate::text::decimals;

/// No more values than these are held at once.
const HELD: usize = 1 << 18;

/// The value under which a share of all lies (nearest rank); `None` for nothing.
pub(crate) fn quantile(mut values: impl Iterator<Item = f64> + Clone, share: f64) -> Option<f64> {
    let nearest = |count: usize| (share * count as f64).ceil().max(1.0) as usize - 1;
    let first: Vec<_> = values.clone().take(HELD + 1).collect();
    if first.len() <= HELD {
        return ranked(first, nearest);
    }
    drop(first);
    // By the leading bits that all of those left have in common, sixteen more each time.
    let (mut lead, mut rank) = (0, None);
    for shift in [48, 32, 16, 0] {
        let is_left = |key: &u64| shift == 48 || key >> (shift + 16) == lead;
        let mut counts = vec![0_usize; 1 << 16];
        for key in values.clone().map(ordered).filter(is_left) {
            counts[usize::from((key >> shift) as u16)] += 1;
        }
        let mut before = rank.unwrap_or_else(|| nearest(counts.iter().sum()));
        let next = counts.iter().position(|count| {
            let is_here = before < *count;
            before -= if is_here { 0 } else { *count };
            is_here
        })?;
        (lead, rank) = (lead << 16 | next as u64, Some(before));
        if counts[next] <= HELD {
            let left = values.filter(|value| ordered(*value) >> shift == lead);
            return ranked(left.collect(), |_| before);
        }
    }
    // All that are left are the same.
    values.find(|value| ordered(*value) == lead)
}

fn ranked(mut values: Vec<f64>, rank: impl Fn(usize) -> usize) -> Option<f64> {
    let rank = rank(values.len());
    (rank < values.len()).then(|| *values.select_nth_unstable_by(rank, f64::total_cmp).1)
}

/// A number whose order is that of the values.
fn ordered(value: f64) -> u64 {
    let bits = value.to_bits();
    if bits >> 63 == 0 { bits | 1 << 63 } else { !bits }
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
    fn of_many_values_the_same_is_found_as_of_few() {
        // 600,000 whole numbers from -200,000 on, in an order that jumps: the rank of a share is the number itself.
        let count = 600_000_u64;
        let number = |i: u64| (i * 7_919 % count) as f64 - 200_000.0;
        let at = |share| quantile((0..count).map(number), share);
        assert_eq!(at(0.5), Some(99_999.0));
        assert_eq!((at(0.0), at(1.0)), (Some(-200_000.0), Some(399_999.0)));
        // The nearest rank to 0.1 of them is the 60,000th.
        assert_eq!(at(0.1), Some(-140_001.0));
        // Of nothing but two values each is found, up to the last of its half.
        let two = |share| quantile((0..count).map(|i| if i % 2 == 0 { 0.1 } else { -0.1 }), share);
        assert_eq!((two(0.5), two(0.500_01)), (Some(-0.1), Some(0.1)));
    }

    #[test]
    fn a_small_sample_has_a_wide_interval() {
        // 30 of 35: (0.857 + 0.0549) ÷ 1.1098 = 0.822 in the middle, ± 0.116: 71 to 94 %.
        assert_eq!(interval(30, 35), "71 to 94");
        // None of ten: 0 to 3.84 ÷ 13.84 = 28 %.
        assert_eq!(interval(0, 10), "0 to 28");
    }
}
