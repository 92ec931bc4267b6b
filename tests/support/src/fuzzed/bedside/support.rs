//! Inflations, their grid, and support as a share.
//!
//! - A share's sum is the exact one, half away from zero; on the grid it is the nearest setting, held between
//!   baseline and peak, and says by what.
//! - The share of a sum is that share again.
//! - More share is no less support.

use crate::fuzzed::arguments::{STEP, float, near, number};
use crate::fuzzed::bytes::Bytes;
use crate::fuzzed::refused::held;
use crate::fuzzed::whole::rounded;
use crate::fuzzed::words::said;
use fixed::types::I16F16;
use tidevane::bedside::{Inflation, Percent, PressureGrid, Support, SupportBound, SupportShare};
use tidevane::mechanics::TubeResistance;
use tidevane::quantity::{Flow, Pressure, Problem, Resistance, SettingError};

const CMH2O: i32 = 65_536;

pub(super) fn inflation(bytes: &mut Bytes<'_>) -> Option<Result<Inflation, SettingError>> {
    let (peak, baseline) = (number(bytes)?, number(bytes)?);
    let made = Inflation::new(Pressure::from_bits(peak), Pressure::from_bits(baseline));
    held(
        &made,
        &[
            ("baseline", !(0..=30 * CMH2O).contains(&baseline)),
            ("peak", !(0..=80 * CMH2O).contains(&peak) || peak <= baseline),
        ],
    );
    if let Ok(full) = made {
        assert_eq!((full.peak().to_bits(), full.baseline().to_bits()), (peak, baseline));
        assert_eq!(raw_rise(full), peak - baseline);
    }
    Some(made)
}

pub(super) fn any_grid(bytes: &mut Bytes<'_>) -> Option<PressureGrid> {
    let milli = bytes.u16()? % 6_000;
    let grid = PressureGrid::from_milli(milli);
    held(&grid, &[("step_milli", !(100..=5_000).contains(&milli))]);
    let Ok(grid) = grid else { return Some(PressureGrid::default()) };
    let step = rounded(i128::from(milli) * 65_536, 1_000);
    assert_eq!(i128::from(grid.step().to_bits()), step);
    Some(grid)
}

/// The nearest setting of a grid: no other is nearer, the middle goes up, one step short of it too.
pub(super) fn grid(bytes: &mut Bytes<'_>) -> Option<()> {
    let milli = 100 + bytes.u16()? % 4_901;
    let grid = PressureGrid::from_milli(milli).unwrap();
    let (bits, more) = (bytes.i32()?, bytes.u16()?);
    let got = grid.nearest(Pressure::from_bits(bits));
    // In thousandths of a step of 1/65 536: which multiple of the grid's step lies at or below the middle.
    let (step, value) = (i128::from(milli) * 65_536, (i128::from(bits) + 1) * 1_000);
    let count = (2 * value + step).div_euclid(2 * step);
    let want = rounded(count * step, 1_000);
    let (least, most) = (i128::from(i32::MIN), i128::from(i32::MAX));
    assert_eq!(i128::from(got.value.to_bits()), want.clamp(least, most), "{bits} by {milli}");
    assert_eq!(got.saturated, want < least || want > most);
    if !got.saturated {
        assert_eq!(grid.nearest(got.value), got, "a setting is its own");
    }
    let above = grid.nearest(Pressure::from_bits(bits.saturating_add(more.into())));
    assert!(above.value >= got.value, "a higher pressure, a lower setting");
    Some(())
}

/// What both ways of counting share.
struct Way {
    hundredths: u16,
    support: Support,
    more: Support,
    /// The pressure that the share is of, and the sum.
    whole: i32,
    exact: i128,
    again: Result<u16, SettingError>,
}

pub(super) fn share(bytes: &mut Bytes<'_>) -> Option<()> {
    let (hundredths, percent) = (bytes.u16()? % 12_000, bytes.u8()?);
    let (full, grid) = (inflation(bytes)?, any_grid(bytes)?);
    let part = Pressure::from_bits(number(bytes)?);
    let (k1, k2, flow) = (bytes.u8()?, bytes.u8()?, number(bytes)?);
    held(&Percent::from_percent(percent), &[("percent", !(1..=100).contains(&percent))]);
    let made = Percent::from_hundredths(hundredths);
    held(&made, &[("hundredths", !(1..=10_000).contains(&hundredths))]);
    if let (Ok(percent), hundred) = (Percent::from_percent(percent), u16::from(percent) * 100) {
        assert_eq!(Percent::from_hundredths(hundred), Ok(percent));
    }
    let (Ok(made), Ok(full)) = (made, full) else { return Some(()) };
    plain(made, hundredths);
    let more = Percent::from_hundredths((hundredths + 1).min(10_000)).unwrap();
    let (peak, rise) = (i128::from(full.peak().to_bits()), i128::from(raw_rise(full)));
    let base = i128::from(full.baseline().to_bits());
    let ways = [
        Way {
            hundredths,
            support: SupportShare::OfPeak(made).support(&full, grid),
            more: SupportShare::OfPeak(more).support(&full, grid),
            whole: full.peak().to_bits(),
            exact: rounded(peak * i128::from(hundredths), 10_000),
            again: Percent::of_peak(SupportShare::OfPeak(made).support(&full, grid).exact, &full)
                .map(in_hundredths),
        },
        Way {
            hundredths,
            support: SupportShare::OfRise(made).support(&full, grid),
            more: SupportShare::OfRise(more).support(&full, grid),
            whole: raw_rise(full),
            exact: base + rounded(rise * i128::from(hundredths), 10_000),
            again: Percent::of_rise(SupportShare::OfRise(made).support(&full, grid).exact, &full)
                .map(in_hundredths),
        },
    ];
    for way in &ways {
        way.check(&full, grid);
        tube(&way.support, (k1, k2), Flow::from_bits(flow));
    }
    back(part, &full);
    Some(())
}

/// As numbers and as words.
fn plain(made: Percent, n: u16) {
    let want = rounded(i128::from(n) * 65_536, 10_000);
    assert_eq!(i128::from(made.share().to_bits()), want);
    assert_eq!(said(&made), format!("{}.{:02} %", n / 100, n % 100));
}

impl Way {
    fn check(&self, full: &Inflation, grid: PressureGrid) {
        let Support { exact, peak, above, held } = self.support;
        assert_eq!(i128::from(exact.to_bits()), self.exact);
        let (baseline, nearest) = (full.baseline(), grid.nearest(exact).value);
        let none = self.exact <= i128::from(baseline.to_bits()) + 1;
        // What each bound means, whichever was asked first.
        let (want, holds) = match held {
            SupportBound::BelowBaseline => (baseline, none),
            SupportBound::RoundedToBaseline => (baseline, !none && nearest <= baseline),
            SupportBound::FullPeak => (full.peak(), nearest > full.peak()),
            SupportBound::Free => (nearest, nearest > baseline && nearest <= full.peak()),
        };
        assert!(holds && peak == want, "{:?}", self.support);
        assert_eq!(above.to_bits(), peak.to_bits() - baseline.to_bits());
        assert_eq!(self.support.is_left(), peak > baseline);
        assert_eq!(said(&self.support).starts_with("no support is left"), !self.support.is_left());
        assert!(self.more.peak >= peak && self.more.exact >= exact, "more share, less support");
        // Half a step of the sum is less than half a hundredth of a percent where the whole is larger than this.
        if self.whole > 10_000 {
            assert_eq!(self.again, Ok(self.hundredths));
        }
    }
}

/// Of a pressure, not of a sum.
fn back(part: Pressure, full: &Inflation) {
    let base = full.baseline();
    let sum = part.to_bits().saturating_add(base.to_bits());
    let of_rise = Percent::of_rise(Pressure::from_bits(sum), full).map(in_hundredths);
    let of_peak = Percent::of_peak(part, full).map(in_hundredths);
    let above = SettingError { parameter: "peak", problem: Problem::TooLarge };
    let clamped = i64::from(sum) != i64::from(part.to_bits()) + i64::from(base.to_bits());
    for (got, whole) in [(of_peak, full.peak()), (of_rise, Pressure::from_bits(raw_rise(*full)))] {
        let (p, w) = (i64::from(part.to_bits()), i64::from(whole.to_bits()));
        if clamped {
            assert!(got == Err(above) || p < w, "{part} of {whole}");
            continue;
        }
        match got {
            Ok(n) => {
                assert!(p > 0 && p <= w && (1..=10_000).contains(&n));
                let off = (i64::from(n) * w - p * 10_000).abs();
                assert!(off * 2 <= w, "{n} hundredths for {part} of {whole}");
            }
            Err(why) if why == above => {
                assert!(p > w, "{part} of {whole}");
                said(&why);
            }
            Err(why) => {
                assert!(p * 20_000 <= w, "{part} of {whole}");
                said(&why);
            }
        }
    }
}

/// What a tube takes of it.
fn tube(support: &Support, (k1, k2): (u8, u8), flow: Flow) {
    let tube =
        TubeResistance::new(Resistance::from_int(k1.into()), I16F16::from_num(u16::from(k2) * 8));
    let Ok(tube) = tube else { return };
    let above = float(support.above.to_bits());
    let q = float(flow.to_bits()) / 1_000.0;
    let cut = q.clamp(-3.0, 3.0);
    let drop = cut * (f64::from(k1) + f64::from(k2) * 8.0 * cut.abs());
    let share = support.tube_share(&tube, flow);
    assert_eq!(share.is_some(), support.is_left());
    let is_cut = q.abs() > 3.0;
    assert!(!is_cut || share.is_none_or(|share| share.saturated));
    if is_cut {
        return;
    }
    let slack = 2.0 * STEP + drop.abs() * 1e-6;
    if let Some(share) = share {
        let share = share.map(|share| share.to_bits());
        near(share, drop / above, 2.0 * STEP + slack / above);
    }
}

/// Peak less baseline, in raw bits; beyond their range its end.
pub(super) fn raw_rise(of: Inflation) -> i32 {
    of.peak().to_bits().saturating_sub(of.baseline().to_bits())
}

/// Which print as "63.19 %".
pub(super) fn in_hundredths(of: Percent) -> u16 {
    of.to_string().chars().filter(char::is_ascii_digit).collect::<String>().parse().unwrap()
}
