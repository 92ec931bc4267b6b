//! What a published test was worth, with the width of what a small sample can tell.

use crate::text::decimals;
use tidevane::wean::PublishedTest;

/// The figures of a test, each with its interval where the counts behind it are known.
pub(super) fn worth(test: &PublishedTest) -> String {
    let Some(c) = test.counts else { return test.figures.to_string() };
    let figures = test.figures;
    let named = [
        ("sensitivity", figures.sensitivity, c.true_positive, c.false_negative),
        ("specificity", figures.specificity, c.true_negative, c.false_positive),
        ("PPV", figures.positive_value, c.true_positive, c.false_positive),
        ("NPV", figures.negative_value, c.true_negative, c.false_negative),
    ];
    let told: Vec<_> = named
        .into_iter()
        .filter_map(|(name, share, part, rest)| {
            let share = decimals(share?.get().to_num::<f64>() * 100.0, 0);
            Some(format!("{name} {share} % ({})", interval(part, part + rest)))
        })
        .collect();
    told.join(", ")
}

/// The score interval of a share (Wilson 1927, J Am Stat Assoc 22:209-212), 95 %.
pub(super) fn interval(part: u32, whole: u32) -> String {
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
