//! Every constructor of settings over any numbers.
//!
//! - A value is taken exactly where the documented range says; the refusal names one that is out
//!   of it, the first in the order of the documents.
//! - Settings that were built once are built again unchanged.

use super::arguments::{number, span};
use super::bytes::Bytes;
use super::refused::{held, long, off};
use super::setters;
use tidevane::alarm::{Apnoea, Disconnection, LimitAlarm, Limits, ShortApnoea};
use tidevane::breath::Segmenter;
use tidevane::leak::ZeroDriftDetector;
use tidevane::mechanics::Fit;
use tidevane::monitor::{Monitor, Settings};
use tidevane::quantity::{Flow, Mass, Pressure, Rate, Share, Volume};
use tidevane::signal::{FlowTable, Gate, ZeroCapture};
use tidevane::trend::{LoadCriteria, Trend};
use tidevane::trigger::{EffortWatch, Threshold};
use tidevane::volume::Limiter;

/// Holds all of the above.
///
/// # Panics
/// Where one of them does not hold.
pub fn check(data: &[u8]) {
    let mut bytes = Bytes(data);
    while one(&mut bytes).is_some() {}
}

fn one(bytes: &mut Bytes<'_>) -> Option<()> {
    let what = bytes.u8()?;
    let (a, b, c) = (number(bytes)?, number(bytes)?, number(bytes)?);
    let (s, t, u) = (span(bytes)?, span(bytes)?, span(bytes)?);
    let (m, n) = (bytes.u8()?, bytes.u8()?);
    let count = u32::from(bytes.u16()?);
    let (flow, pressure, volume) =
        (Flow::from_bits(a), Pressure::from_bits(b), Volume::from_bits(c));
    let share = Share::from_bits(b);
    match what % 16 {
        0 => held(
            &Gate::new(flow, pressure, s, t, u),
            &[
                ("flow_limit", a <= 0),
                ("pressure_limit", b <= 0),
                ("gap", long(s, 5, 1_000)),
                ("cut", long(t, 5, 30_000)),
                ("frozen", long(u, 50, 10_000)),
                ("cut", t < s),
            ],
        ),
        1 => held(
            &Segmenter::new(flow, volume, pressure),
            &[
                ("min_flow", off(a, 100, 1_000_000)),
                ("min_volume", off(c, 50, 1_000_000)),
                ("inflation_rise", off(b, 500, 20_000)),
            ],
        ),
        2 => {
            held(&ZeroDriftDetector::new(flow), &[("zero_limit", off(a, 100, 100_000))]);
            held(&EffortWatch::new(pressure), &[("least", off(b, 500, 20_000))]);
        }
        3 => held(
            &ZeroCapture::new(count * 4, flow),
            &[("samples", !(10..=100_000).contains(&(count * 4))), ("spread_limit", a <= 0)],
        ),
        4 => held(
            &Fit::new(count, share),
            &[
                ("least_samples", !(4..=60_000).contains(&count)),
                ("least_goodness", !(32_768..=65_536).contains(&b)),
            ],
        ),
        5 => held(
            &Trend::new(m, n),
            &[("settle_minutes", m > 10), ("baseline_minutes", !(1..=10).contains(&n))],
        ),
        6 => held(
            &LoadCriteria::new(share, n),
            &[
                // From whole percent: 5 % is 3 276.8/65 536, rounded.
                ("change", !(3_277..=32_768).contains(&b)),
                ("sustain", !(1..=10).contains(&n)),
            ],
        ),
        7 => held(&Limiter::new(volume, s), &[("limit", c <= 0), ("delay", s.to_us() > 500_000)]),
        8 => {
            let limits = Limits::new(Some(Rate::from_bits(a)), Some(Rate::from_bits(b)));
            held(&limits, &[("low", a < 0), ("high", b < 0), ("low", a > b)]);
            if let Ok(limits) = limits {
                held(
                    &LimitAlarm::new(limits, s, Rate::from_bits(c), false),
                    &[
                        ("delay", s.to_us() > 600_000_000),
                        ("hysteresis", c < 0),
                        ("hysteresis", i64::from(a) + i64::from(c) > i64::from(b) && a != i32::MAX),
                    ],
                );
            }
        }
        // No longer asked; a number of its own, so that a seed keeps its meaning.
        9 => {}
        10 => {
            held(&Apnoea::new(s, false), &[("after", long(s, 10_000, 20_000))]);
            let count = u16::try_from(count).unwrap_or(u16::MAX);
            held(
                &ShortApnoea::new(s, count, m),
                &[
                    ("after", long(s, 3_000, 20_000)),
                    ("heart_below", !(40..=150).contains(&count)),
                    ("saturation_below", !(50..=95).contains(&m)),
                ],
            );
        }
        11 => held(
            &Disconnection::new(Share::from_bits(a), share, m, true),
            &[
                ("level", !(32_768..=65_536).contains(&a)),
                ("hysteresis", !(0..=32_768).contains(&b)),
                ("breaths", !(1..=16).contains(&m)),
            ],
        ),
        12 => held(
            &Mass::from_grams(count * 4),
            &[("weight_g", !(200..=200_000).contains(&(count * 4)))],
        ),
        14 => table([(a, Flow::from_bits(b)), (c, Flow::from_int(m.into()))], count),
        _ => together(a, b, c, m, n),
    }
    Some(())
}

/// Counts and flows must rise.
fn table(points: [(i32, Flow); 2], counts: u32) {
    let table = FlowTable::new(points);
    let rising = points[0].0 < points[1].0 && points[0].1 < points[1].1;
    assert_eq!(table.is_ok(), rising, "{points:?}");
    let Ok(table) = table else { return };
    let counts = i32::try_from(counts).unwrap_or(0).saturating_mul(1 << 15).saturating_sub(1 << 30);
    let got = table.flow(counts);
    assert!(got.value >= points[0].1 && got.value <= points[1].1, "{got:?}");
    assert_eq!(got.saturated, counts < points[0].0 || counts > points[1].0);
}

/// The settings of a monitor, as a whole.
fn together(a: i32, b: i32, c: i32, m: u8, n: u8) {
    let (rate, offset) = (Rate::from_bits(a), Flow::from_bits(b));
    let (peak, support) = (Pressure::from_bits(c), Pressure::from_bits(c / 256 * i32::from(n)));
    let threshold = Threshold::new(Flow::from_int(i16::from(m) * 3 + 1)).unwrap();
    let builder = Settings::builder().set_rate(rate).flow_offset(offset).peak(peak);
    let built = builder.support_peak(support).threshold(threshold).build();
    let wrong_peak = |p: Pressure| off(p.to_bits(), 1, 100_000);
    held(
        &built,
        &[
            ("set_rate", !(0..=150 << 16).contains(&a)),
            ("peak", wrong_peak(peak)),
            ("support_peak", wrong_peak(support) || support > peak),
            ("flow_offset", b.unsigned_abs() > 50 << 16),
        ],
    );
    if let Ok(settings) = built {
        assert_eq!(settings.change().build(), Ok(settings));
        assert_eq!(Monitor::new(settings).settings(), &settings);
        assert_eq!(settings.machine().set_rate, Some(rate));
        setters::check(settings, n);
    }
}
