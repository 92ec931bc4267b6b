//! What a published test was worth, with the width of what a small sample can tell.

use crate::spread::interval;
use crate::text::decimals;
use tidevane::bedside::PublishedTest;

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
