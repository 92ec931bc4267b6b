//! Whether a quiet flow that has moved is a zero that drifted or a leak that changed.
//!
//! Where the zero moves by d, the balance of a breath moves by d × T and the quiet flow explains it all.
//! Where the leak moves, more escapes at the peak than at rest: by the root of the pressure at least,
//! d·∫(√P ÷ √P₀ − 1). Each breath is weighed for the one against the other, and the logarithms of both
//! likelihoods' ratio are added up (A. Wald, "Sequential tests of statistical hypotheses", Ann Math Stat
//! 16:117-186, 1945).

use super::drive::mean_root;
use crate::breath::{Breath, EndExpiration, PhaseIntegrals};
use crate::quantity::unit::CmH2OSecond;
use crate::quantity::{Flow, Integrates, Magnitude, Pressure, Quantity, Share, Volume};
use crate::record;

record! {
    #[const_default]
    /// What is usual, and what speaks for a drift so far.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct Change {
        /// The usual quiet flow, and how far the expiration still goes on in it; none before the first breath.
        quiet: Option<Flow>,
        tail: Flow,
        breaths: u8,
        /// What escapes beside the quiet flow, and the pressure above that of the quiet end, in mL and in
        /// cmH2O·s a breath.
        escaped: Volume,
        pressed: Quantity<CmH2OSecond>,
        /// By how much a breath strays from that.
        spread: Volume,
        /// Logarithm of the likelihood of a drift over that of a leak.
        evidence: Share,
        /// How far the quiet flow has moved.
        moved: Flow,
        told: bool,
    }
}

/// What one breath told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Moved {
    /// Nothing that is certain.
    No,
    /// The zero: by this.
    Zero(Flow),
    /// The leak.
    Leak,
}

/// The least move that is looked at, and the least that is told. These and the next are chosen here, no
/// source.
const LEAST: [Flow; 2] = [Flow::from_milli(600).value, Flow::from_milli(800).value];
/// The most that one breath says, and what is believed, e⁵ to one: two breaths that are certain.
const MOST: Share = Share::from_percent(260);
const ENOUGH: Share = Share::from_percent(500);
/// Breaths before what is usual is known.
const USUAL: u8 = 5;

/// A steady value over the known time of a stretch.
fn over<U: Integrates>(value: Quantity<U>, sums: &PhaseIntegrals) -> Quantity<U::Integral> {
    value.over(sums.known().to_short_us().value).in_seconds().value
}

impl Change {
    /// Weighs a breath with its quiet end, and whether the expiration was over in it. Some ten wide divides.
    pub(super) fn step(&mut self, breath: &Breath, quiet: &EndExpiration, is_over: bool) -> Moved {
        let whole = breath.inspiration.with(&breath.expiration);
        let inspired = breath.inspired.value;
        let net = whole.volume().value;
        let escaped = net.saturating_sub(over(quiet.flow, &whole)).value;
        let pressed = whole.tip_area().in_seconds().value;
        let pressed = pressed.saturating_sub(over(quiet.pressure, &whole)).value;
        let Some(usual) = self.quiet else {
            (self.quiet, self.escaped, self.pressed) = (Some(quiet.flow), escaped, pressed);
            self.tail = quiet.tail;
            self.spread = Volume::from_milli(300).value;
            return Moved::No;
        };
        self.breaths = self.breaths.saturating_add(1);
        let by = quiet.flow.saturating_sub(usual).value;
        // What the usual leak would have lost beside the quiet flow at this breath's pressure.
        let expected = pressed
            .share_of(self.pressed)
            .map_or(self.escaped, |more| self.escaped.times(more.value).value);
        let rest = escaped.saturating_sub(expected).value;
        let [least, tellable] = LEAST;
        let sixteenth = inspired.halved(4).each_second();
        // What is always left of the expiration moves nothing.
        let other = quiet.tail.saturating_sub(self.tail).value.saturating_abs();
        let still = least.max(sixteenth).saturating_add(other).value;
        if by.saturating_abs() < still {
            self.keep(quiet, expected, pressed, rest);
            return Moved::No;
        }
        let on = self.told && (by > Flow::ZERO) == (self.moved > Flow::ZERO);
        self.moved = if on { self.moved.lowpass(by, 2) } else { by };
        let mut said = self.weigh(breath, quiet, is_over, (by, rest)).unwrap_or(Share::ZERO);
        let outward = Flow::ZERO.saturating_sub(tellable).value;
        if quiet.flow.saturating_add(quiet.tail).value < outward
            && quiet.pressure > Pressure::from_int(1)
            && (said > Share::ZERO || is_over)
        {
            // Outward while the pressure stands above ambient: no leak does that.
            said = said.saturating_add(MOST).value.min(MOST);
        }
        self.evidence = self.evidence.saturating_add(said).value;
        if self.evidence < Share::ZERO.saturating_sub(ENOUGH).value {
            *self = Self { quiet: Some(quiet.flow), breaths: USUAL, ..Self::default() };
            (self.escaped, self.pressed, self.tail) = (escaped, pressed, quiet.tail);
            self.spread = Volume::from_milli(300).value;
            return Moved::Leak;
        }
        if self.evidence > ENOUGH && self.breaths > USUAL && self.moved.saturating_abs() > tellable
        {
            self.told = true;
        }
        if self.told { Moved::Zero(self.moved) } else { Moved::No }
    }

    /// Nothing moved: learns what is usual. A breath that strays far may be the first of another leak, whose
    /// quiet end was before it.
    fn keep(
        &mut self,
        quiet: &EndExpiration,
        expected: Volume,
        pressed: Quantity<CmH2OSecond>,
        rest: Volume,
    ) {
        (self.evidence, self.told) = (Share::ZERO, false);
        self.quiet = self.quiet.map(|usual| usual.learned(quiet.flow));
        self.tail = self.tail.learned(quiet.tail);
        let most = self.spread.saturating_add(self.spread).value;
        let near = rest.max(Volume::ZERO.saturating_sub(most).value).min(most);
        self.escaped = self.escaped.learned(expected.saturating_add(near).value);
        self.pressed = self.pressed.learned(pressed);
        let apart = rest.saturating_abs();
        self.spread = self.spread.learned(apart.min(most));
    }

    /// The logarithm of how much likelier a breath is under a drift than under a leak.
    fn weigh(
        &self,
        breath: &Breath,
        quiet: &EndExpiration,
        is_over: bool,
        (by, rest): (Flow, Volume),
    ) -> Option<Share> {
        let whole = breath.inspiration.with(&breath.expiration);
        let root = quiet.pressure.max(Pressure::from_milli(300).value).root();
        let more = mean_root(breath)?.saturating_sub(root).value.share_of(root)?.value;
        // At least so much more a leak would lose.
        let leak = over(by.times(more).value, &whole);
        let noise = [
            self.spread.magnitude(),
            breath.inspired.value.halved(5).magnitude(),
            Volume::from_milli(50).value.magnitude(),
        ];
        let sd = Magnitude::root_of_squares(noise);
        let in_sd = |volume: Volume| {
            let most = Share::from_percent(3_000);
            let share = volume.share_of(sd)?.value;
            Some(share.clamp(Share::ZERO.saturating_sub(most).value, most))
        };
        let (mut rest, mut leak) = (in_sd(rest)?, in_sd(leak)?);
        if leak < Share::ZERO {
            rest = Share::ZERO.saturating_sub(rest).value;
            leak = Share::ZERO.saturating_sub(leak).value;
        }
        // An expiration that was not over moves the quiet flow, and its balance the other way: neither.
        if rest < Share::ZERO.saturating_sub(Share::ONE).value && !is_over {
            return Some(Share::ZERO);
        }
        // Half the squares of the distance from the leak's and from the drift's.
        let short = leak.saturating_sub(rest.min(leak)).value;
        let over = rest.min(leak);
        let said = short.times(short).value.saturating_sub(over.times(over).value).value.halved(1);
        Some(said.clamp(Share::ZERO.saturating_sub(MOST).value, MOST))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Duration;

    use std::vec::Vec;

    /// 8 mL in over 0.4 s at 15 cmH2O and out over 0.6 s at 5; thousandths of what leaks at either.
    fn breath(high: i32, low: i32) -> (Breath, EndExpiration) {
        let (inspiration, expiration) = (
            PhaseIntegrals::steady(20_000 + high, 15, 400),
            PhaseIntegrals::steady(low - 13_333, 5, 600),
        );
        let [inspired, _] = Breath::volumes(&inspiration, &expiration);
        let flow = Flow::from_milli(low).value;
        let span = Duration::from_millis(300);
        let quiet = EndExpiration {
            span,
            flow,
            pressure: Pressure::from_int(5),
            ..EndExpiration::default()
        };
        (Breath { inspiration, expiration, inspired, ..Breath::plain() }, quiet)
    }

    /// Twelve breaths of a leak of 1 mL/s at 5 cmH2O, √3 as much at 15; then three others.
    fn after(high: i32, low: i32) -> Vec<Moved> {
        let mut change = Change::default();
        let usual = breath(1_732, 1_000);
        for _ in 0..12 {
            assert_eq!(change.step(&usual.0, &usual.1, true), Moved::No);
        }
        let (other, quiet) = breath(high, low);
        (0..3).map(|_| change.step(&other, &quiet, true)).collect()
    }

    #[test]
    fn a_zero_that_moved_and_a_leak_that_opened_are_told_apart() {
        // 3 mL/s more at rest. By a leak of √P there would escape 3 × (√3 × 0.4 + 0.6 − 1) = 0.88 mL more
        // beside that, three times the noise: e to the ±4, of which a breath says 2.6 at most. Told beyond 5.
        let drift = after(4_732, 4_000);
        assert_eq!(drift[0], Moved::No);
        let Moved::Zero(by) = drift[1] else { panic!("{drift:?}") };
        assert_eq!(by.halved(12), Flow::from_int(3).halved(12), "{by}, not 3");
        assert_eq!(after(6_928, 4_000)[..2], [Moved::No, Moved::Leak]);
    }

    #[test]
    fn a_breath_between_both_leaks_moves_nothing() {
        // Its quiet end is of the old leak, its balance of the new one.
        let mut change = Change::default();
        let (usual, other) = (breath(1_732, 1_000), breath(6_928, 4_000));
        for _ in 0..12 {
            let _ = change.step(&usual.0, &usual.1, true);
        }
        let was = change.escaped;
        let _ = change.step(&other.0, &usual.1, true);
        let moved = change.escaped.saturating_sub(was).value;
        assert!(moved < Volume::from_milli(150).value, "{moved} learned");
    }

    fn usual() -> Change {
        let (mut change, usual) = (Change::default(), breath(1_732, 1_000));
        for _ in 0..12 {
            assert_eq!(change.step(&usual.0, &usual.1, true), Moved::No);
        }
        change
    }

    #[test]
    fn what_is_usual_is_counted_beside_the_quiet_end() {
        let mut change = Change::default();
        let (first, quiet) = breath(1_732, 1_000);
        assert_eq!(change.step(&first, &quiet, true), Moved::No);
        // 15 x 0.4 + 5 x 0.6 less 5 x 1 = 4 cmH2O s; 1.732 x 0.4 + 1 x 0.6 less 1 x 1 = 0.293 mL.
        let near = |got: f64, want: f64| assert!((got - want).abs() < 0.0015, "{got}, not {want}");
        near(change.pressed.to_f64(), 4.0);
        near(change.escaped.to_f64(), 0.293);
        // 0.5 mL/s more at the peak are 0.2 mL more a breath, which comes to be usual.
        let mut change = usual();
        let (more, quiet) = breath(2_232, 1_000);
        for _ in 0..40 {
            assert_eq!(change.step(&more, &quiet, true), Moved::No);
        }
        let moved = change.escaped.saturating_sub(Volume::from_milli(293).value).value;
        assert!(moved > Volume::from_milli(150).value, "{moved:.3} of 0.2 mL learned");
    }

    /// How many breaths until a drift is told of, three at most.
    fn breaths_until_told(high: i32, low: i32, tail: Flow, is_over: bool) -> Option<usize> {
        let mut change = usual();
        let (drifted, quiet) = breath(high, low);
        let quiet = EndExpiration { tail, ..quiet };
        (1..=3).find(|_| matches!(change.step(&drifted, &quiet, is_over), Moved::Zero(_)))
    }

    #[test]
    fn outward_flow_under_pressure_is_told_a_breath_sooner() {
        // By 1.9 mL/s outward, to -0.9 at rest under 5 cmH2O. A leak would have lost 1.9 x 0.293 = 0.56 mL less, 2.1
        // times the noise of 0.26: 2.2 for the drift. Since no leak does that it is the 2.6 that a breath says at
        // most, and more than 5 with the second.
        assert_eq!(breaths_until_told(-168, -900, Flow::ZERO, true), Some(2));
        // So it is where the expiration was not over, for it speaks for the drift by itself.
        assert_eq!(breaths_until_told(-168, -900, Flow::ZERO, false), Some(2));
        // A tail that takes it to -0.8 leaves it at the bound: it takes three. In 65,536ths 58,982 less 6,553 are
        // 52,429.
        assert_eq!(breaths_until_told(-168, -900, Flow::from_bits(6_553), true), Some(3));
        assert_eq!(breaths_until_told(-168, -900, Flow::from_bits(6_552), true), Some(2));
    }

    #[test]
    fn what_is_always_left_of_an_expiration_hides_no_drift() {
        // A lung that empties slowly, and is not done: 2 mL/s of tail in every quiet end. The zero by 3 mL/s, with the same tail.
        let tailed = |(high, low)| {
            let (breath, quiet) = breath(high, low);
            (breath, EndExpiration { tail: Flow::from_int(2), ..quiet })
        };
        let (usual, drifted) = (tailed((1_732, 1_000)), tailed((4_732, 4_000)));
        let mut change = Change::default();
        for _ in 0..12 {
            assert_eq!(change.step(&usual.0, &usual.1, false), Moved::No);
        }
        let mut hurried = change;
        let told = [(); 2].map(|()| change.step(&drifted.0, &drifted.1, false));
        assert!(matches!(told, [Moved::No, Moved::Zero(_)]), "{told:?}");
        // Less time to breathe out: at rest 3 mL/s less, which come out with the next breath: neither zero nor
        // leak, though both are nearer to the one.
        let (mut breath, quiet) = tailed((1_732, -2_000));
        breath.expiration = usual.0.expiration;
        let told = [(); 4].map(|()| hurried.step(&breath, &quiet, false));
        assert_eq!(told, [Moved::No; 4]);
    }

    #[test]
    fn evidence_of_just_the_bound_tells_nothing_yet() {
        // A breath says 2.6 at most: 2.4 before it make 5, and a bit more is told.
        let least = ENOUGH.saturating_sub(MOST).value;
        let bit = Share::STEP;
        for (before, told) in [(least, false), (least.saturating_add(bit).value, true)] {
            let mut change = Change { evidence: before, ..usual() };
            let (drifted, quiet) = breath(4_732, 4_000);
            let is_told = matches!(change.step(&drifted, &quiet, true), Moved::Zero(_));
            assert_eq!(is_told, told, "{before:?} before");
            let evidence = Share::ZERO.saturating_sub(before).value;
            let mut change = Change { evidence, ..usual() };
            let (opened, quiet) = breath(6_928, 4_000);
            let is_told = change.step(&opened, &quiet, true) == Moved::Leak;
            assert_eq!(is_told, told, "{evidence:?} before");
        }
    }

    #[test]
    fn a_zero_that_moved_down_is_a_drift_too() {
        // From 5 mL/s at 5 cmH2O and 8.66 at 15, down by 3 at both: still inward at rest.
        let mut change = Change::default();
        let usual = breath(8_660, 5_000);
        for _ in 0..12 {
            assert_eq!(change.step(&usual.0, &usual.1, true), Moved::No);
        }
        let (drifted, quiet) = breath(5_660, 2_000);
        let told = [(); 2].map(|()| change.step(&drifted, &quiet, true));
        assert_eq!(told[0], Moved::No);
        let Moved::Zero(by) = told[1] else { panic!("{told:?}") };
        assert_eq!(by.halved(12), Flow::from_int(-3).halved(12), "{by}, not -3");
    }

    #[test]
    fn an_expiration_that_was_not_over_says_nothing_though_its_end_flows_outward() {
        // At rest -2 mL/s for 1, which is more than 0.8 outward under 5 cmH2O, and a balance that strays the other way.
        let mut change = usual();
        let (mut hurried, quiet) = breath(1_732, -2_000);
        hurried.expiration = breath(1_732, 1_000).0.expiration;
        let told = [(); 4].map(|()| change.step(&hurried, &quiet, false));
        assert_eq!((told, change.evidence), ([Moved::No; 4], Share::ZERO));
    }

    #[test]
    fn a_balance_that_strays_by_just_the_noise_still_says_something() {
        // 3 mL/s more at rest and at the peak of a breath that takes 24.7 x 0.4 = 9.9 mL, with a spread of none: the
        // noise is of a 32nd, 0.31 mL, and of 0.05.
        let change = Change { spread: Volume::ZERO, ..usual() };
        let (drifted, quiet) = breath(4_732, 4_000);
        let noise = [drifted.inspired.value.halved(5), Volume::from_milli(50).value];
        let sd = Magnitude::root_of_squares(noise.map(Volume::magnitude));
        let said = |rest: Volume| {
            let moved = (Flow::from_int(3), Volume::ZERO.saturating_sub(rest).value);
            change.weigh(&drifted, &quiet, false, moved)
        };
        // The leak's own is 0.88 mL, 2.8 times the noise: 3.8 squared less 1, halved, is more than 2.6.
        assert_eq!(
            (said(sd), said(sd.times(Share::from_percent(101)).value)),
            (Some(MOST), Some(Share::ZERO))
        );
    }

    #[test]
    fn a_drift_is_told_beyond_what_is_usual_and_tellable() {
        // All evidence but a bit is there. Of the fifth breath nothing is told, of the sixth it is.
        let told = |breaths, high, low| {
            let mut change = Change { evidence: ENOUGH, breaths, ..usual() };
            let (drifted, quiet) = breath(high, low);
            matches!(change.step(&drifted, &quiet, true), Moved::Zero(_))
        };
        assert!(!told(USUAL - 1, 4_732, 4_000) && told(USUAL, 4_732, 4_000));
        // By 0.8 mL/s, in 65,536ths 117,965 less 65,536 are 52,429, it is not; by a thousandth more it is.
        assert!(!told(USUAL, 2_532, 1_800) && told(USUAL, 2_533, 1_801));
        // Outward under pressure a breath says all that it may, and no more.
        let mut change = usual();
        let (outward, quiet) = breath(-168, -900);
        let _ = change.step(&outward, &quiet, true);
        assert_eq!(change.evidence, MOST);
    }

    #[test]
    fn a_move_of_the_least_is_looked_at() {
        // From 1 mL/s to 1.6 are 0.6: in 65,536ths 104,858 less 65,536 are 39,322. A thousandth less is none.
        let moved = |high, low| {
            let mut change = usual();
            let (drifted, quiet) = breath(high, low);
            let _ = change.step(&drifted, &quiet, true);
            change.moved
        };
        assert_eq!((moved(2_332, 1_600), moved(2_331, 1_599)), (LEAST[0], Flow::ZERO));
    }
}
