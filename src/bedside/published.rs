//! What published tests of readiness were worth, and the four figures of any test.
//!
//! Data to print beside a result, never advice: each figure belongs to its own infants, unit and
//! definition of failure.

use crate::quantity::Share;
use core::fmt;

/// Counts of a test against what came true.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TwoByTwo {
    /// Test positive, and it came true.
    pub true_positive: u32,
    /// Test positive, and it did not.
    pub false_positive: u32,
    /// Test negative, and it came true all the same.
    pub false_negative: u32,
    /// Test negative, and it did not come true.
    pub true_negative: u32,
}

/// The four figures of a test, each `None` where it is not known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Figures {
    /// Of those for whom it came true, the share with a positive test.
    pub sensitivity: Option<Share>,
    /// Of those for whom it did not, the share with a negative test.
    pub specificity: Option<Share>,
    /// Of the positive tests, the share that came true (PPV).
    pub positive_value: Option<Share>,
    /// Of the negative tests, the share that did not (NPV).
    pub negative_value: Option<Share>,
}

/// A published test.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct PublishedTest {
    /// The test.
    pub name: &'static str,
    /// What a positive test foretells.
    pub foretells: &'static str,
    /// Whom it was tried on.
    pub population: &'static str,
    /// How many; `None` where not known.
    pub n: Option<u16>,
    /// The figures as printed there.
    pub figures: Figures,
    /// Counts, worked back from `n` and the figures where the publication does not print them.
    pub counts: Option<TwoByTwo>,
    /// Where, and how the figures were come by where they were not read there.
    pub source: &'static str,
}

impl TwoByTwo {
    /// From the counts of true positive, false positive, false negative and true negative, in this
    /// order.
    #[must_use]
    pub(crate) const fn new(tp: u32, fp: u32, miss: u32, tn: u32) -> Self {
        Self { true_positive: tp, false_positive: fp, false_negative: miss, true_negative: tn }
    }
}

impl fmt::Display for Figures {
    /// The figures that are known, in percent.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let named = [
            ("sensitivity", self.sensitivity),
            ("specificity", self.specificity),
            ("PPV", self.positive_value),
            ("NPV", self.negative_value),
        ];
        let mut between = "";
        for (name, share) in named {
            if let Some(share) = share {
                write!(f, "{between}{name} {:.1} %", share.to_percent().value)?;
                between = ", ";
            }
        }
        if between.is_empty() { f.write_str("no figure known") } else { Ok(()) }
    }
}

impl fmt::Display for PublishedTest {
    /// One line.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} for {}: {} ({}", self.name, self.foretells, self.figures, self.population)?;
        if let Some(n) = self.n {
            write!(f, ", n {n}")?;
        }
        write!(f, "; {})", self.source)
    }
}

/// Tests of readiness and what they were worth. A spontaneous breathing trial finds most infants
/// who will succeed and misses many who will fail.
pub const PUBLISHED_TESTS: [PublishedTest; 12] = [
    PublishedTest {
        name: "spontaneous breathing trial of 3 min",
        foretells: "72 h without the tube",
        population: "under 1250 g",
        n: Some(50),
        figures: figures(970, 730, 930, 890),
        counts: Some(TwoByTwo::new(38, 3, 1, 8)),
        source: "Kamlin 2006, Arch Dis Child Fetal Neonatal Ed 91:F180-183",
    },
    PublishedTest {
        name: "spontaneous breathing trial, then low support for 10 min",
        foretells: "success without the tube",
        population: "under 32 weeks",
        n: Some(119),
        figures: figures(980, 833, 971, 882),
        counts: Some(TwoByTwo::new(99, 3, 2, 15)),
        source: "BMC Pediatr 2022, DOI 10.1186/s12887-022-03642-2",
    },
    PublishedTest {
        name: "spontaneous breathing trial in the first three weeks",
        foretells: "success without the tube",
        population: "preterm infants",
        n: Some(49),
        figures: figures(920, 500, 880, 630),
        counts: Some(TwoByTwo::new(36, 5, 3, 5)),
        source: "Chawla 2013, Pediatr Pulmonol 48:443-448",
    },
    PublishedTest {
        name: "spontaneous breathing trials, pooled",
        foretells: "success without the tube",
        population: "preterm infants",
        n: None,
        figures: figures(950, 620, 0, 0),
        counts: None,
        source: "Teixeira 2021, review (quoted second-hand)",
    },
    PublishedTest {
        name: "events over 5 min, best combination",
        foretells: "success without the tube",
        population: "extremely preterm infants",
        n: Some(259),
        figures: figures(930, 390, 0, 0),
        counts: None,
        source: "Shalish 2020, JAMA Pediatr 174:178-185 (not checked against the paper)",
    },
    PublishedTest {
        name: "minute-volume ratio of 50 %",
        foretells: "24 h without the tube",
        population: "infants who passed it",
        n: Some(35),
        figures: figures(0, 0, 860, 0),
        counts: None,
        source: RATIO,
    },
    PublishedTest {
        name: "minute-volume ratio of 50 %",
        foretells: "24 h without the tube",
        population: "above 1250 g",
        n: None,
        figures: figures(0, 0, 890, 0),
        counts: None,
        source: RATIO,
    },
    PublishedTest {
        name: "minute-volume ratio of 50 %",
        foretells: "24 h without the tube",
        population: "below 1250 g",
        n: None,
        figures: figures(0, 0, 830, 0),
        counts: None,
        source: RATIO,
    },
    PublishedTest {
        name: "tension-time index of the diaphragm above 0.15, or of all muscles above 0.18",
        foretells: "failure without the tube",
        population: "infants",
        n: Some(20),
        figures: figures(1_000, 1_000, 0, 0),
        counts: Some(TwoByTwo::new(5, 0, 0, 15)),
        source: "Currie 2011, Arch Dis Child Fetal Neonatal Ed 96:F265",
    },
    PublishedTest {
        name: "tension-time index",
        foretells: "success without the tube",
        population: "term infants of 44 infants",
        n: None,
        figures: figures(940, 0, 0, 0),
        counts: None,
        source: "Eur Respir J 2014, 44 suppl 58:277",
    },
    PublishedTest {
        name: "tension-time index",
        foretells: "success without the tube",
        population: "preterm infants of 44 infants",
        n: None,
        figures: figures(720, 0, 0, 0),
        counts: None,
        source: "Eur Respir J 2014, 44 suppl 58:277",
    },
    PublishedTest {
        name: "modified rapid-shallow index below 6.7",
        foretells: "success without the tube",
        population: "children",
        n: Some(75),
        figures: figures(971, 857, 985, 750),
        counts: Some(TwoByTwo::new(66, 1, 2, 6)),
        source: "JSTMU 2024 (view/321)",
    },
];

const RATIO: &str = "Wilson 1998, J Perinatol 18:436-439; Pediatr Res 1998 abstract (nature.com/articles/pr19981927)";

/// Figures in thousandths; none is published as zero, which stands for not known.
const fn figures(sensitivity: i32, specificity: i32, ppv: i32, npv: i32) -> Figures {
    Figures {
        sensitivity: milli(sensitivity),
        specificity: milli(specificity),
        positive_value: milli(ppv),
        negative_value: milli(npv),
    }
}

const fn milli(thousandths: i32) -> Option<Share> {
    if thousandths == 0 { None } else { Some(Share::from_milli(thousandths).value) }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Sensitivity, specificity and both predictive values of counts, toward zero.
    fn counted(counts: &TwoByTwo) -> Figures {
        let of =
            |part: u32, rest: u32| Share::of_counts(part.into(), u64::from(part) + u64::from(rest));
        let TwoByTwo { true_positive, false_positive, false_negative, true_negative } = *counts;
        Figures {
            sensitivity: of(true_positive, false_negative),
            specificity: of(true_negative, false_positive),
            positive_value: of(true_positive, false_positive),
            negative_value: of(true_negative, false_negative),
        }
    }

    fn total(counts: &TwoByTwo) -> u32 {
        let TwoByTwo { true_positive, false_positive, false_negative, true_negative } = *counts;
        true_positive + false_positive + false_negative + true_negative
    }

    use std::string::ToString;

    fn percents(figures: &Figures) -> [Option<f64>; 4] {
        [figures.sensitivity, figures.specificity, figures.positive_value, figures.negative_value]
            .map(|share| Some(share?.to_f64() * 100.0))
    }

    #[test]
    fn counts_give_the_published_figures() {
        // Kamlin 2006, Arch Dis Child Fetal Neonatal Ed 91:F180: 38/39, 8/11, 38/41, 8/9.
        // BMC Pediatr 2022, DOI 10.1186/s12887-022-03642-2: 99/101, 15/18, 99/102, 15/17.
        // Chawla 2013, Pediatr Pulmonol 48:443: 36/39, 5/10, 36/41, 5/8.
        // JSTMU 2024 (view/321): 66/68, 6/7, 66/67, 6/8.
        for (counts, want) in [
            (TwoByTwo::new(38, 3, 1, 8), [97.4, 72.7, 92.7, 88.9]),
            (TwoByTwo::new(99, 3, 2, 15), [98.0, 83.3, 97.1, 88.2]),
            (TwoByTwo::new(36, 5, 3, 5), [92.3, 50.0, 87.8, 62.5]),
            (TwoByTwo::new(66, 1, 2, 6), [97.06, 85.71, 98.51, 75.0]),
        ] {
            let got = percents(&counted(&counts));
            for (g, w) in got.iter().zip(want) {
                assert!((g.unwrap() - w).abs() <= 0.05, "{got:?} {want:?}");
            }
        }
    }

    #[test]
    fn every_record_agrees_with_its_counts() {
        let mut with_counts = 0;
        for test in PUBLISHED_TESTS {
            let Some(counts) = test.counts else { continue };
            with_counts += 1;
            assert_eq!(Some(total(&counts)), test.n.map(u32::from), "{test}");
            // Printed to whole percents at the coarsest.
            for (a, b) in percents(&counted(&counts)).iter().zip(percents(&test.figures)) {
                let Some(printed) = b else { continue };
                assert!((a.unwrap() - printed).abs() <= 0.51, "{test}: {a:?}");
            }
        }
        assert_eq!(with_counts, 5);
    }

    #[test]
    fn a_ratio_of_thirty_in_thirty_five() {
        // Wilson 1998, J Perinatol 18:436: 30 of 35 who passed stayed without the tube, printed as
        // 86 %; no infant who failed the test was tried.
        let figures = counted(&TwoByTwo::new(30, 5, 0, 0));
        let ppv = figures.positive_value.unwrap().to_percent().value;
        assert!((f64::from(ppv) - 85.7).abs() < 0.05);
        assert_eq!((figures.negative_value, figures.specificity), (None, Some(Share::ZERO)));
        assert_eq!(counted(&TwoByTwo::new(0, 0, 0, 0)).to_string(), "no figure known");
    }

    #[test]
    fn a_record_prints_on_one_line() {
        assert_eq!(
            PUBLISHED_TESTS[4].to_string(),
            "events over 5 min, best combination for success without the tube: sensitivity 93.0 %, \
             specificity 39.0 % (extremely preterm infants, n 259; Shalish 2020, JAMA Pediatr \
             174:178-185 (not checked against the paper))"
        );
    }

    #[test]
    fn nothing_published_as_zero_is_known() {
        let half = figures(500, 0, 1_000, 0);
        assert_eq!(half.sensitivity, Some(Share::from_percent(50)));
        assert_eq!((half.specificity, half.positive_value), (None, Some(Share::ONE)));
    }
}
