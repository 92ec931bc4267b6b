//! Plans of weaning.
//!
//! - What a plan refuses is what its documents name.
//! - Each step lowers what its way lowers, by its size or to the stop, and nothing else; in turn means in turn.
//! - The last step stands at the stops, and there are no more steps than a plan can have.
//! - What the set inflations alone would move, and whether that and the infant's own suffice, against `f64`.

use super::support::{any_grid, inflation, raw_rise};
use crate::fuzzed::arguments::{STEP, float, mass, near, number};
use crate::fuzzed::bytes::Bytes;
use crate::fuzzed::refused::held;
use crate::fuzzed::words::said;
use tidevane::bedside::{
    Measurements, NoSufficiency, Percent, Plan, PlanStep, Present, PressureGrid, StepSizes,
    Stopping, Sufficiency, SupportShare, WeaningPath,
};
use tidevane::quantity::{MinuteVolumePerKg, Pressure, Rate, Volume};

const ONE: i32 = 65_536;

/// All that a plan is made of.
struct Made {
    plan: Plan,
    present: Present,
    way: WeaningPath,
    stop: (Rate, Pressure, Option<SupportShare>),
    sizes: (Rate, Pressure, u16),
    grid: PressureGrid,
    measured: Measurements,
}

pub(super) fn check(bytes: &mut Bytes<'_>) -> Option<()> {
    let Some(made) = made(bytes)? else { return Some(()) };
    let now = made.plan.now();
    assert_eq!(
        (now.number, now.rate, now.peak),
        (0, made.present.rate, made.present.inflation.peak())
    );
    made.numbers(&now, made.present.support);
    let (mut before, mut share, mut steps) = (now, made.present.support, 0);
    let mut turns = Vec::new();
    for step in made.plan.steps() {
        steps += 1;
        assert_eq!(step.number, steps);
        assert!(steps <= 310);
        turns.push(made.lowered(&before, &step, &mut share));
        made.numbers(&step, share);
        made.mark(&now, &step);
        before = step;
    }
    made.in_turn(&turns);
    assert!(made.is_at_end(&before, share), "it ends before its stops: {before:?}");
    Some(())
}

fn share(bytes: &mut Bytes<'_>) -> Option<Option<SupportShare>> {
    let (what, hundredths) = (bytes.u8()?, bytes.u16()? % 10_000 + 1);
    Some(match what % 3 {
        0 => None,
        1 => Percent::from_hundredths(hundredths).ok().map(SupportShare::OfPeak),
        _ => Percent::from_hundredths(hundredths).ok().map(SupportShare::OfRise),
    })
}

/// The outer `None` where too little is left, the inner where something was refused.
fn made(bytes: &mut Bytes<'_>) -> Option<Option<Made>> {
    let (what, known) = (bytes.u8()?, bytes.u8()?);
    let (rate, support, full, grid) =
        (Rate::from_bits(number(bytes)?), share(bytes)?, inflation(bytes)?, any_grid(bytes)?);
    let stop =
        (Rate::from_bits(number(bytes)?), Pressure::from_bits(number(bytes)?), share(bytes)?);
    let sizes = (
        Rate::from_bits(number(bytes)?),
        Pressure::from_bits(number(bytes)?),
        bytes.u16()? % 6_000,
    );
    let volume = |bytes: &mut Bytes<'_>, bit: u8| {
        number(bytes).map(|bits| (known & 1 << bit != 0).then_some(bits))
    };
    let measured = Measurements {
        own: volume(bytes, 0)?.map(Volume::from_bits),
        assured: volume(bytes, 1)?.map(Volume::from_bits),
        mass: mass(bytes).map(|mass| (known & 4 != 0).then_some(mass))?,
        needed: volume(bytes, 3)?.map(MinuteVolumePerKg::from_bits),
    };
    let way = [WeaningPath::InTurn, WeaningPath::SupportDown, WeaningPath::RateUnderSupport]
        [usize::from(what % 3)];
    let out = |bits: i32, low: i32, high: i32| !(low..=high).contains(&bits);
    let stopping = Stopping::new(stop.0, stop.1, stop.2);
    held(
        &stopping,
        &[
            ("stop_rate", out(stop.0.to_bits(), 0, 150 * ONE)),
            ("stop_peak", out(stop.1.to_bits(), ONE, 80 * ONE)),
        ],
    );
    let step_sizes = StepSizes::new(sizes.0, sizes.1, sizes.2);
    held(
        &step_sizes,
        &[
            ("rate_step", out(sizes.0.to_bits(), ONE, 30 * ONE)),
            ("peak_step", out(sizes.1.to_bits(), ONE / 2, 5 * ONE)),
            ("support_step", !(100..=5_000).contains(&sizes.2)),
        ],
    );
    let (Ok(inflation), Ok(stopping), Ok(step_sizes)) = (full, stopping, step_sizes) else {
        return Some(None);
    };
    let present = Present { rate, inflation, support };
    let plan = Plan::new(present, way, stopping, step_sizes, grid, measured);
    let is_down = way == WeaningPath::SupportDown;
    let alike = |now: SupportShare, stop: SupportShare| {
        matches!(now, SupportShare::OfPeak(_)) == matches!(stop, SupportShare::OfPeak(_))
    };
    held(
        &plan,
        &[
            ("rate", out(rate.to_bits(), 0, 150 * ONE)),
            ("stop_peak", way == WeaningPath::InTurn && stop.1 <= inflation.baseline()),
            ("support", way != WeaningPath::InTurn && support.is_none()),
            ("stop_support", is_down && !support.zip(stop.2).is_some_and(|(a, b)| alike(a, b))),
        ],
    );
    Some(plan.ok().map(|plan| Made { plan, present, way, stop, sizes, grid, measured }))
}

fn hundredths(share: Option<SupportShare>) -> Option<u16> {
    share.map(|share| match share {
        SupportShare::OfPeak(share) | SupportShare::OfRise(share) => {
            super::support::in_hundredths(share)
        }
    })
}

/// What a step lowered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Turn {
    Rate,
    Peak,
    Share,
}

impl Made {
    /// One thing by its size or to its stop, the others as they were.
    fn lowered(
        &self,
        before: &PlanStep,
        step: &PlanStep,
        share: &mut Option<SupportShare>,
    ) -> Turn {
        let lower = |now: i32, size: i32, stop: i32| (now - size).max(stop);
        if self.way == WeaningPath::SupportDown {
            assert_eq!((step.rate, step.peak), (before.rate, before.peak));
            let (now, stop) = (hundredths(*share).unwrap(), hundredths(self.stop.2).unwrap());
            assert!(now > stop);
            let next = now.saturating_sub(self.sizes.2).max(stop);
            *share = share.map(|share| match share {
                SupportShare::OfPeak(_) => {
                    SupportShare::OfPeak(Percent::from_hundredths(next).unwrap())
                }
                SupportShare::OfRise(_) => {
                    SupportShare::OfRise(Percent::from_hundredths(next).unwrap())
                }
            });
            return Turn::Share;
        }
        let (rate, size, stop) =
            (before.rate.to_bits(), self.sizes.0.to_bits(), self.stop.0.to_bits());
        if step.rate != before.rate {
            assert_eq!(step.peak, before.peak, "two at once");
            assert!(rate > stop);
            assert_eq!(step.rate.to_bits(), lower(rate, size, stop));
            return Turn::Rate;
        }
        assert_eq!(self.way, WeaningPath::InTurn);
        let (peak, size, stop) =
            (before.peak.to_bits(), self.sizes.1.to_bits(), self.stop.1.to_bits());
        assert!(peak > stop);
        assert_eq!(step.peak.to_bits(), lower(peak, size, stop));
        Turn::Peak
    }

    /// The rate first, and in turn for as long as both have a way to go.
    fn in_turn(&self, turns: &[Turn]) {
        if self.way != WeaningPath::InTurn {
            return;
        }
        let last = |turn| turns.iter().rposition(|t| *t == turn);
        let Some((rate, peak)) = last(Turn::Rate).zip(last(Turn::Peak)) else { return };
        for (i, turn) in turns.iter().enumerate().take(rate.min(peak) + 1) {
            assert_eq!(*turn, if i % 2 == 0 { Turn::Rate } else { Turn::Peak }, "{turns:?}");
        }
    }

    fn is_at_end(&self, last: &PlanStep, share: Option<SupportShare>) -> bool {
        let (rate, peak) = (last.rate <= self.stop.0, last.peak <= self.stop.1);
        match self.way {
            WeaningPath::InTurn => rate && peak,
            WeaningPath::RateUnderSupport => rate,
            WeaningPath::SupportDown => hundredths(share) <= hundredths(self.stop.2),
        }
    }

    /// Support and assured volume.
    fn numbers(&self, step: &PlanStep, share: Option<SupportShare>) {
        let base = self.present.inflation.baseline();
        let full = tidevane::bedside::Inflation::new(step.peak, base).unwrap();
        assert_eq!(step.support, share.map(|share| share.support(&full, self.grid)));
        let now = self.measured.assured.filter(|now| *now >= Volume::ZERO);
        let now = now.filter(|_| self.present.rate > Rate::ZERO);
        assert_eq!(step.assured.is_some(), now.is_some());
        assert!(said(step).starts_with(&format!("{}: ", step.number)));
        let Some((now, assured)) = now.zip(step.assured) else { return };
        let part = |a: i32, b: i32| f64::from(a) / f64::from(b);
        let rise = (step.peak.to_bits() - base.to_bits(), raw_rise(self.present.inflation));
        let want = float(now.to_bits())
            * part(step.rate.to_bits(), self.present.rate.to_bits())
            * part(rise.0, rise.1);
        near(assured.map(Volume::to_bits), want, STEP / 2.0 + want * 1e-9 + 1e-12);
        assert_eq!(step.assured_per_kg.is_some(), self.measured.mass.is_some());
        let Some((per_kg, mass)) = step.assured_per_kg.zip(self.measured.mass) else { return };
        assert!(per_kg.saturated || !assured.saturated);
        if !assured.saturated {
            let want = float(assured.value.to_bits()) * 1_000.0 / f64::from(mass.grams());
            near(per_kg.map(MinuteVolumePerKg::to_bits), want, STEP);
        }
    }

    /// The mark, from the step's own numbers; the support of now is that of step 0.
    fn mark(&self, now: &PlanStep, step: &PlanStep) {
        let Measurements { own, assured, mass, needed } = self.measured;
        said(&step.mark);
        let all = own.zip(step.assured).zip(mass.zip(needed));
        let Some(((own, alone), (mass, needed))) = all else {
            let why = match step.mark {
                Sufficiency::CannotTell(why) => why,
                other => panic!("{other:?} of what is not known"),
            };
            assert!(match why {
                NoSufficiency::Own => own.is_none(),
                NoSufficiency::Assured => step.assured.is_none(),
                NoSufficiency::Mass => mass.is_none(),
                NoSufficiency::Needed => needed.is_none(),
                NoSufficiency::OutOfRange =>
                    [own, assured].iter().flatten().any(|v| *v < Volume::ZERO),
                _ => false,
            });
            return;
        };
        let kg = f64::from(mass.grams()) / 1_000.0;
        let own_ml = float(own.to_bits());
        // All of it the support's work, at the least.
        let left = match (now.support, step.support) {
            (Some(before), Some(after)) if before.is_left() => {
                float(after.above.to_bits()) / float(before.above.to_bits())
            }
            _ => 1.0,
        };
        let alone = (float(alone.value.to_bits()), alone.saturated);
        let (least, most) = ((own_ml * left + alone.0) / kg, (own_ml + alone.0) / kg);
        let (needed, slack) = (float(needed.to_bits()), 2.0 * STEP / kg + 2.0 * STEP);
        match step.mark {
            Sufficiency::Carried => assert!(least >= needed - slack && most >= needed - slack),
            Sufficiency::NotCarried(short) => {
                assert!(most < needed + slack);
                let short = (float(short.to_bits()), needed - most);
                assert!((short.0 - short.1).abs() <= slack || short.1 > 32_767.0, "{short:?}");
            }
            Sufficiency::CannotTell(NoSufficiency::Effort) => {
                assert!(least < needed + slack && most >= needed - slack);
            }
            Sufficiency::CannotTell(NoSufficiency::OutOfRange) => {
                let beyond = (own_ml + alone.0).max(least).max(most) > 32_767.9;
                assert!(own_ml < 0.0 || alone.1 || beyond);
            }
            other @ Sufficiency::CannotTell(_) => panic!("{other:?} of what is known"),
        }
    }
}
