//! Weaning sums against independent oracles: decimal arithmetic in whole numbers, and doubles.

use fixed::types::I16F16;
use proptest::prelude::*;
use tidevane::alarm::VitalSigns;
use tidevane::bedside::{
    Inflation, Measurements, NoSufficiency, Percent, Plan, PlanStep, Present, PressureGrid,
    RapidShallow, SHALLOW_CUTOFFS, StepSizes, Stopping, Sufficiency, Support, SupportBound,
    SupportShare, TrialOutcome, WeaningPath,
};
use tidevane::quantity::{Duration, Instant, Mass, MinuteVolumePerKg, Pressure, Rate, Volume};
use tidevane::trend::{Before, Readiness, ReadinessState};
use tidevane_support::units::float;

fn milli(thousandths: i64) -> Pressure {
    Pressure::from_milli(thousandths as i32).value
}

/// Peak and baseline in tenths of a cmH2O, at least one tenth apart.
fn tenths() -> impl Strategy<Value = (i64, i64)> {
    (0..=300_i64).prop_flat_map(|baseline| (baseline + 1..=800, Just(baseline)))
}

/// What stands on the grid, in thousandths, counted in whole numbers.
fn oracle(exact: i64, peak: i64, baseline: i64, step: i64) -> (i64, SupportBound) {
    let nearest = (2 * exact + step).div_euclid(2 * step) * step;
    if exact <= baseline {
        (baseline, SupportBound::BelowBaseline)
    } else if nearest <= baseline {
        (baseline, SupportBound::RoundedToBaseline)
    } else if nearest > peak {
        (peak, SupportBound::FullPeak)
    } else {
        (nearest, SupportBound::Free)
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1_024))]

    /// Every whole percentage of every setting in tenths lands on the setting that decimal
    /// arithmetic gives, ties up.
    #[test]
    fn percentages_land_where_decimals_do(
        (peak, baseline) in tenths(), percent in 1_u8..=100,
        step in prop::sample::select(vec![100_u16, 200, 250, 300, 500, 1_000, 2_000, 5_000]),
    ) {
        let full = Inflation::new(milli(peak * 100), milli(baseline * 100)).unwrap();
        let grid = PressureGrid::from_milli(step).unwrap();
        let share = i64::from(percent);
        // tenths × percent are thousandths
        let of_peak = (SupportShare::OfPeak(Percent::from_percent(percent).unwrap()).support(&full, grid), peak * share);
        let rise = baseline * 100 + (peak - baseline) * share;
        let of_rise = (SupportShare::OfRise(Percent::from_percent(percent).unwrap()).support(&full, grid), rise);
        for (got, exact) in [of_peak, of_rise] {
            let (want, held) = oracle(exact, peak * 100, baseline * 100, step.into());
            prop_assert_eq!((got.peak, got.held), (milli(want), held), "{} {}", exact, got);
            prop_assert!((got.exact.to_bits() - milli(exact).to_bits()).abs() <= 1);
            let above = float(got.above.to_bits()) - (want - baseline * 100) as f64 / 1_000.0;
            prop_assert!(above.abs() < 2e-5, "{above}");
        }
    }

    /// A share's own sum gives the share back, to the hundredth of a percent.
    #[test]
    fn shares_come_back((peak, baseline) in tenths(), hundredths in 1_u16..=10_000) {
        prop_assume!(peak - baseline >= 10);
        let full = Inflation::new(milli(peak * 100), milli(baseline * 100)).unwrap();
        let grid = PressureGrid::default();
        let percent = Percent::from_hundredths(hundredths).unwrap();
        let exact = |share: SupportShare| share.support(&full, grid).exact;
        let of_peak = Percent::of_peak(exact(SupportShare::OfPeak(percent)), &full);
        let of_rise = Percent::of_rise(exact(SupportShare::OfRise(percent)), &full);
        prop_assert_eq!((of_peak, of_rise), (Ok(percent), Ok(percent)));
    }

    /// More share, never less support; never outside baseline and full peak.
    #[test]
    fn support_rises_with_the_share(
        peak in 1_i32..=80 << 16, below in 1_i32..=80 << 16, low in 1_u16..=10_000, more in 0_u16..10_000,
        step in 100_u16..=5_000,
    ) {
        let baseline = (peak - below).clamp(0, 30 << 16);
        prop_assume!(baseline < peak);
        let (top, bottom) = (Pressure::from_bits(peak), Pressure::from_bits(baseline));
        let full = Inflation::new(top, bottom).unwrap();
        let grid = PressureGrid::from_milli(step).unwrap();
        let high = (low + more).min(10_000);
        let pair = |f: &dyn Fn(u16) -> Support| (f(low), f(high));
        for (less, more) in [
            pair(&|p| SupportShare::OfPeak(Percent::from_hundredths(p).unwrap()).support(&full, grid)),
            pair(&|p| SupportShare::OfRise(Percent::from_hundredths(p).unwrap()).support(&full, grid)),
        ] {
            prop_assert!(less.peak <= more.peak && less.exact <= more.exact);
            for support in [less, more] {
                prop_assert!(support.peak >= bottom && support.peak <= top);
                prop_assert_eq!(support.is_left(), support.peak > bottom);
                let none = matches!(support.held, SupportBound::BelowBaseline | SupportBound::RoundedToBaseline);
                prop_assert_eq!(support.is_left(), !none);
            }
        }
    }

    /// A setting is its own nearest, and no pressure is further than half a step from its own.
    #[test]
    fn the_grid_is_near(bits in any::<i32>(), step in 100_u16..=5_000) {
        let grid = PressureGrid::from_milli(step).unwrap();
        let Some(on) = grid.nearest(Pressure::from_bits(bits)).within() else { return Ok(()) };
        prop_assert_eq!(grid.nearest(on).within(), Some(on));
        let off = float(on.to_bits()) - float(bits);
        prop_assert!(off.abs() <= f64::from(step) / 2_000.0 + 2.0 / 65_536.0, "{off}");
    }

    /// The index in doubles.
    #[test]
    fn an_index_is_what_doubles_say(
        rate in 1_i32..9_830_400, tidal in 1_i32..131_072_000, grams in 200_u32..=200_000,
    ) {
        let mass = Mass::from_grams(grams).unwrap();
        let (r, v) = (Rate::from_bits(rate), Volume::from_bits(tidal));
        let (fr, fv, kg) = (float(rate), float(tidal), f64::from(grams) / 1_000.0);
        let (value, want) = (RapidShallow::of(r, v, mass).unwrap().value, fr * kg / fv);
        prop_assert_eq!(value.saturated, want * 65_536.0 > 2_147_483_647.4, "{}", want);
        let near = (float(value.value.to_bits()) - want).abs() <= 0.51 / 65_536.0 + 3e-9 * want;
        prop_assert!(value.saturated || near, "{value:?} {want}");
    }
}

/// A slow heart on and off in turn, at rising whole seconds.
fn turns() -> impl Strategy<Value = Vec<u32>> {
    prop::collection::vec(1_u32..25, 0..25).prop_map(|gaps| {
        let later = |t: &mut u32, gap| {
            *t += gap;
            Some(*t)
        };
        gaps.into_iter().scan(0, later).collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1_024))]

    /// A trial's end, found by looking over the whole list of slow spells at once.
    #[test]
    fn trials_end_as_their_rule_says(turns in turns(), last in 1_u32..60) {
        let (readiness, mut state) = (Readiness::default(), ReadinessState::default());
        let at = |s: u32| Instant::from_us(u64::from(s) * 1_000_000);
        let shown = |heart| VitalSigns { heart_rate: Some(heart), saturation: Some(94) };
        readiness.begin(&mut state, at(0), Before::default(), shown(150));
        let (mut spells, mut slow) = (Vec::new(), None);
        let over = turns.last().unwrap_or(&0) + last;
        for &t in &turns {
            if let Some(since) = slow.take() {
                spells.push((since, t));
            } else {
                slow = Some(t);
            }
            let heart = if slow.is_some() { 99 } else { 100 };
            readiness.set_vital_signs(&mut state, at(t), shown(heart));
        }
        // Shown again, to let time pass.
        let heart = if slow.is_some() { 98 } else { 101 };
        readiness.set_vital_signs(&mut state, at(over), shown(heart));
        readiness.end(&mut state, at(over));
        spells.extend(slow.map(|since| (since, u32::MAX)));

        let covering = spells.iter().find(|(from, to)| *from < 180 && *to >= 180);
        let end = covering.map_or(180, |(_, to)| *to);
        let by_heart = spells
            .iter()
            .find(|(from, to)| *from < 180 && (*to).min(over) - from > 15)
            .map(|(from, _)| from + 15);
        match by_heart {
            Some(t) => prop_assert_eq!(state.trial(), TrialOutcome::Failed { at: at(t) }),
            None if over >= end => prop_assert_eq!(state.trial(), TrialOutcome::Completed),
            None => {
                let after = Duration::from_millis(over * 1_000);
                prop_assert_eq!(state.trial(), TrialOutcome::Stopped(after));
            }
        }
        prop_assert!(state.slow_heart() <= state.lasted());
    }

    /// No order of signs, however wild, stops or lets a trial that is over go on.
    #[test]
    fn anything_may_be_shown(
        shown in prop::collection::vec((any::<u64>(), 0_u16..200, 0_u8..101, 0_u32..50), 0..60)
    ) {
        let (readiness, mut state) = (Readiness::default(), ReadinessState::default());
        readiness.begin(&mut state, Instant::from_us(0), Before::default(), VitalSigns::default());
        for (us, heart, saturation, shift) in shown {
            let before = state.trial();
            let heart_rate = (heart > 9).then_some(heart);
            let signs = VitalSigns { heart_rate, saturation: (saturation > 9).then_some(saturation) };
            readiness.set_vital_signs(&mut state, Instant::from_us(us >> shift), signs);
            let ended = !matches!(before, TrialOutcome::Running(_));
            prop_assert!(!ended || state.trial() == before);
        }
    }
}

/// Everything that a plan is made of, in whole numbers.
#[derive(Debug, Clone)]
struct Made {
    rate: i16,
    peak: i16,
    baseline: i16,
    stop: (i16, i16),
    sizes: (i16, u16, u16),
    shares: (u16, u16),
    of_peak: bool,
    way: WeaningPath,
    volumes: (i16, i16),
    grams: u32,
    step: u16,
}

fn made() -> impl Strategy<Value = Made> {
    let settings = (0_i16..=150, 0_i16..=30, 1_i16..=50, 0_i16..=150, 1_i16..=40);
    let sizes = (1_i16..=30, 1_u16..=10, 1_u16..=50, 1_u16..=10_000, 1_u16..=10_000);
    let way = prop::sample::select(vec![
        WeaningPath::InTurn,
        WeaningPath::SupportDown,
        WeaningPath::RateUnderSupport,
    ]);
    let rest = (any::<bool>(), way, 0_i16..2_000, 0_i16..2_000, 300_u32..5_000, 100_u16..=5_000);
    (settings, sizes, rest).prop_map(|(settings, sizes, rest)| {
        let (rate, baseline, rise, stop_rate, stop_rise) = settings;
        Made {
            rate,
            peak: baseline + rise,
            baseline,
            stop: (stop_rate, baseline + stop_rise),
            sizes: (sizes.0, sizes.1, sizes.2 * 100),
            shares: (sizes.3, sizes.4),
            of_peak: rest.0,
            way: rest.1,
            volumes: (rest.2, rest.3),
            grams: rest.4,
            step: rest.5,
        }
    })
}

impl Made {
    fn share(&self, hundredths: u16) -> SupportShare {
        if self.of_peak {
            SupportShare::OfPeak(Percent::from_hundredths(hundredths).unwrap())
        } else {
            SupportShare::OfRise(Percent::from_hundredths(hundredths).unwrap())
        }
    }

    fn plan(&self) -> Plan {
        let p = Pressure::from_int;
        let present = Present {
            rate: Rate::from_int(self.rate),
            inflation: Inflation::new(p(self.peak), p(self.baseline)).unwrap(),
            support: Some(self.share(self.shares.0)),
        };
        let stop_share = Some(self.share(self.shares.1));
        let stop = Stopping::new(Rate::from_int(self.stop.0), p(self.stop.1), stop_share).unwrap();
        let peak = milli(i64::from(self.sizes.1) * 500);
        let sizes = StepSizes::new(Rate::from_int(self.sizes.0), peak, self.sizes.2).unwrap();
        let grid = PressureGrid::from_milli(self.step).unwrap();
        let measured = Measurements {
            own: Some(Volume::from_int(self.volumes.0)),
            assured: Some(Volume::from_int(self.volumes.1)),
            mass: Some(Mass::from_grams(self.grams).unwrap()),
            needed: Some(MinuteVolumePerKg::from_int(240)),
        };
        Plan::new(present, self.way, stop, sizes, grid, measured).unwrap()
    }
}

/// The lower, the worse.
fn rank(mark: Sufficiency) -> u8 {
    match mark {
        Sufficiency::Carried => 2,
        Sufficiency::CannotTell(NoSufficiency::Effort) => 1,
        Sufficiency::NotCarried(_) => 0,
        Sufficiency::CannotTell(why) => panic!("{why}"),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1_024))]

    /// Nothing rises along a plan, nothing goes below the baseline, every step is one, and the last
    /// stands exactly at the stops of what the way moves.
    #[test]
    fn plans_only_go_down(made in made()) {
        let plan = made.plan();
        let steps: Vec<PlanStep> = plan.steps().take(2_000).collect();
        prop_assert!(steps.len() <= 310);
        let baseline = Pressure::from_int(made.baseline);
        let mut before = plan.now();
        for (i, step) in steps.iter().enumerate() {
            prop_assert_eq!(usize::from(step.number), i + 1);
            prop_assert!(step.rate <= before.rate && step.peak <= before.peak && step.peak > baseline);
            let (was, is) = (before.support.unwrap(), step.support.unwrap());
            prop_assert!(is.exact <= was.exact && is.peak <= was.peak && is.peak >= baseline);
            let lower_rate = before.rate.saturating_sub(step.rate).value;
            let lower_peak = before.peak.saturating_sub(step.peak).value;
            prop_assert!(lower_rate <= Rate::from_int(made.sizes.0));
            prop_assert!(lower_peak <= milli(i64::from(made.sizes.1) * 500));
            match made.way {
                WeaningPath::InTurn => prop_assert!((lower_rate > Rate::ZERO) != (lower_peak > Pressure::ZERO)),
                WeaningPath::SupportDown => prop_assert!(is.exact < was.exact),
                WeaningPath::RateUnderSupport => prop_assert!(lower_rate > Rate::ZERO && is == was),
            }
            before = *step;
        }
        let last = steps.last().copied().unwrap_or(plan.now());
        let rate = Rate::from_int(made.rate.min(made.stop.0));
        let peak = Pressure::from_int(made.peak.min(made.stop.1));
        match made.way {
            WeaningPath::InTurn => prop_assert_eq!((last.rate, last.peak), (rate, peak)),
            WeaningPath::RateUnderSupport => prop_assert_eq!(last.rate, rate),
            WeaningPath::SupportDown => {
                let full = Inflation::new(Pressure::from_int(made.peak), baseline).unwrap();
                let grid = PressureGrid::from_milli(made.step).unwrap();
                let share = made.share(made.shares.0.min(made.shares.1));
                prop_assert_eq!(last.support, Some(share.support(&full, grid)));
                let count = made.shares.0.saturating_sub(made.shares.1).div_ceil(made.sizes.2);
                prop_assert_eq!(steps.len(), usize::from(count));
            }
        }
    }

    /// The volume of the machine alone and the marks, in doubles; marks never get better.
    #[test]
    fn marks_are_what_doubles_say(made in made()) {
        prop_assume!(made.rate > 0);
        let plan = made.plan();
        let now = plan.now();
        let (own, assured) = (f64::from(made.volumes.0), f64::from(made.volumes.1));
        let kg = f64::from(made.grams) / 1_000.0;
        let rise = |peak: Pressure| float(peak.to_bits()) - f64::from(made.baseline);
        let above = |step: &PlanStep| float(step.support.unwrap().above.to_bits());
        let mut worst = rank(now.mark);
        for step in plan.steps() {
            let (rate, peak) = (float(step.rate.to_bits()) / f64::from(made.rate), rise(step.peak));
            let want = assured * rate * peak / rise(now.peak);
            let got = step.assured.unwrap();
            let near = |bits: i32, want: f64| (float(bits) - want).abs() < 1e-4 + 1e-8 * want;
            prop_assert!(near(got.value.to_bits(), want), "{} {want}", got.value);
            let per_kg = step.assured_per_kg.unwrap();
            prop_assert!(near(per_kg.value.to_bits(), want / kg) && !per_kg.saturated);
            let part = if above(&now) > 0.0 { above(&step) / above(&now) } else { 1.0 };
            let (least, most) = ((want + own * part) / kg, (want + own) / kg);
            let clear = |x: f64| (x - 240.0).abs() > 1e-3;
            if clear(least) && clear(most) {
                let want = u8::from(least >= 240.0) + u8::from(most >= 240.0);
                prop_assert_eq!(rank(step.mark), want, "{}", step);
            }
            if let Sufficiency::NotCarried(short) = step.mark {
                prop_assert!(near(short.to_bits(), 240.0 - most));
            }
            prop_assert!(rank(step.mark) <= worst, "{step}");
            worst = rank(step.mark);
        }
    }
}

#[test]
fn an_index_stands_beside_both_cut_offs() {
    // 60 breaths of 5 mL in 1 kg are 12. Cut-offs of Thiagarajan 1999 and Baumeister 1997 (from memory), 8
    // and 11; 50 breaths are 10.
    let mass = Mass::from_grams(1_000).unwrap();
    let index = |rate| RapidShallow::of(Rate::from_int(rate), Volume::from_int(5), mass).unwrap();
    assert_eq!(index(60).value.within(), Some(I16F16::from_num(12)));
    assert_eq!(SHALLOW_CUTOFFS.map(|c| c.is_below(&index(60))), [true, true]);
    assert_eq!(SHALLOW_CUTOFFS.map(|c| c.is_below(&index(50))), [true, false]);
}
