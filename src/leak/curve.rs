//! How the flow past the lung grows with the pressure at the tip of the tube.
//!
//! Two kinds of points tell: the flow of a quiet end at its pressure, and the mean flow over a window of
//! whole breaths at its mean pressure, since over that the lung returns to its volume (over a single breath
//! it may not: an inflation leaves gas that the own breath after it lets out). A leak that grows with
//! the pressure, and one that grows with its root, can both pass through them; but no leak flows where no
//! pressure drives. So the curve is a straight line where that has no flow there, or less (a leak that
//! opens with pressure, or a zero that stands below); where it has some, so much of a root is mixed in as
//! takes it away (F. Rohrer, "Der Strömungswiderstand in den menschlichen Atemwegen", Pflügers Arch
//! 162:225-299, 1915, has a resistance of two such parts).

use super::drive::{Drive, Drives};
use super::line::Points;
use crate::breath::{Breath, EndExpiration, PhaseIntegrals};
use crate::quantity::unit::{CmH2O, MlPerS, RootCmH2O, Unit};
use crate::quantity::{
    Area, Conductance, Duration, Flow, Pressure, RootConductance, Saturated, Share, Weight, arith,
};
use crate::record;

record! {
    #[const_default]
    /// Whole breaths over a time in µs, and quiet ends by pressure and by its root.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct Evidence {
        flow: Area<MlPerS>,
        tip: Area<CmH2O>,
        root: Area<RootCmH2O>,
        time: i64,
        straight: Points,
        rooted: Points,
    }
}

record! {
    /// Flow = offset + slope × pressure + rooted × √pressure.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct Curve {
        offset: Flow,
        slope: Conductance,
        rooted: RootConductance,
    }
}

/// A shorter quiet may be the tail of the expiration.
const TWO_BLOCKS: Duration = Duration::from_millis(80);
/// A quiet end whose flow still moves by this part of the inspired volume a second counts a quarter. This and
/// the next are chosen here, no source.
const TAIL: u32 = 5;
/// So does one that moves by this, however small the breath.
const NOISE: Flow = Flow::from_milli(300).value;
const WHOLE: Share = Share::from_percent(100);
/// Half a quiet end.
const LITTLE: Weight = Weight::part(1);

impl Evidence {
    /// A quiet flow.
    fn still(weight: Weight, tip: Pressure, flow: Flow) -> Self {
        let straight = Points::one(weight, tip, flow);
        let rooted = Points::one(weight, tip.root(), flow);
        Self { straight, rooted, ..Self::default() }
    }

    /// A whole breath; nothing where no time was measured, or a phase has none.
    pub(super) fn of_breath(breath: &Breath, drives: &Drives) -> Self {
        let whole = breath.inspiration.with(&breath.expiration);
        let Some(root) = drives.root_area().filter(|_| !whole.is_saturated()) else {
            return Self::default();
        };
        let time = i64::try_from(whole.known().to_us()).unwrap_or(i64::MAX);
        Self { flow: whole.flow_area(), tip: whole.tip_area(), root, time, ..Self::default() }
    }

    /// The mean of a stretch in which nobody breathed, or all of it that is known; it counts as one quiet
    /// end.
    pub(super) fn of_mean(sums: &PhaseIntegrals) -> Self {
        let (Some(flow), Some(tip)) = (sums.mean_flow(), sums.mean_tip()) else {
            return Self::default();
        };
        Self::still(Weight::ONE, tip, flow)
    }

    /// The quiet end before a breath; nothing where it had none. The more it still moves, the less
    /// it counts, and the nearer it is taken to its last block.
    ///
    /// No leak flows outward while the pressure stands above ambient: a quiet end that does, beside a
    /// breath's mean that does less, is the tail of a slow lung.
    pub(super) fn of_quiet(breath: &Breath) -> Self {
        let Some(quiet) = breath.quiet.filter(|quiet| quiet.span >= TWO_BLOCKS) else {
            return Self::default();
        };
        let usual = breath.inspired.value.halved(TAIL).each_second().max(NOISE);
        let apart = tail(&quiet).saturating_add(outward(breath, &quiet)).value;
        let weight = Weight::of_outlier(apart, usual);
        Self::still(weight, quiet.pressure, quiet.last.toward(quiet.flow, weight.share()))
    }

    /// Adds one part in 2^`shift` of more.
    pub(super) fn add(&mut self, more: &Self, shift: u32) {
        let Self { flow, tip, root, time, straight, rooted } = self;
        flow.add_part(&more.flow, shift);
        tip.add_part(&more.tip, shift);
        root.add_part(&more.root, shift);
        arith::add_part(time, &more.time, shift);
        straight.add(&more.straight, shift);
        rooted.add(&more.rooted, shift);
    }

    /// Leaves seven eighths.
    pub(super) fn fade(&mut self) {
        let Self { flow, tip, root, time, straight, rooted } = self;
        flow.fade();
        tip.fade();
        root.fade();
        arith::fade(time);
        straight.fade();
        rooted.fade();
    }

    /// Quiet ends and the whole breaths, driven by what has this area: these are one point, whose weight grows
    /// with the square of the time, for what the lung kept is spread over it.
    #[inline(never)]
    fn points<D: Unit>(&self, quiet: &Points, drive: Area<D>) -> Points {
        let time = self.time.unsigned_abs();
        let mut all = *quiet;
        if let (Some(flow), Some(drive)) = (self.flow.mean(time), drive.mean(time)) {
            all.add(&Points::one(Weight::of_time(time), drive.value, flow.value), 0);
        }
        all
    }

    /// The curve; `None` without a point. Where the points say no more it is a root: a chord of that has
    /// some three eighths of its mean flow where no pressure drives.
    #[inline(never)]
    pub(super) fn curve(&self) -> Option<Curve> {
        let straight = self.points(&self.straight, self.tip);
        let mean = straight.mean();
        let chord = mean.halved(2).saturating_add(mean.halved(3)).value;
        let (offset, slope): (_, Conductance) = straight.line::<CmH2O, _>(chord)?;
        if slope <= Conductance::ZERO {
            // Less escapes than flows at rest: no leak does that. Then the quiet ends say what does.
            let little = Points::one(LITTLE, Pressure::ZERO, mean);
            let mut quiet = self.straight;
            quiet.add(&little, 0);
            return Some(Curve::level(quiet.mean()));
        }
        let roots = self.points(&self.rooted, self.root);
        let (below, rooted): (_, RootConductance) = roots.line::<RootCmH2O, _>(Flow::ZERO)?;
        let share = if offset <= Flow::ZERO {
            Share::ZERO
        } else if below >= Flow::ZERO {
            WHOLE
        } else {
            let apart = offset.saturating_sub(below).value;
            offset.share_of(apart).map_or(WHOLE, |share| share.value)
        };
        let rest = WHOLE.saturating_sub(share).value;
        Some(Curve {
            offset: offset.toward(below, share),
            slope: slope.times(rest).value,
            rooted: rooted.times(share).value,
        })
    }

    /// How much of the curve's course is a guess: without a quiet end nothing tells what leaks at rest. Half of
    /// it beside half a quiet end, chosen here, no source.
    pub(super) fn guessed(&self) -> Share {
        self.straight.share_beside(LITTLE)
    }

    /// How far the curve is in doubt at a pressure, as a factor to a quiet end's own doubt.
    pub(super) fn doubt(&self, tip: Pressure) -> Share {
        self.points(&self.straight, self.tip).doubt(tip)
    }
}

/// What the tail of a quiet end makes over a quarter of a second.
fn tail(quiet: &EndExpiration) -> Flow {
    quiet.tail.tail_over(quiet.span)
}

/// How far a quiet end flows outward that the whole breath does not.
fn outward(breath: &Breath, quiet: &EndExpiration) -> Flow {
    let whole = breath.inspiration.with(&breath.expiration);
    let outward = Flow::ZERO.saturating_sub(quiet.flow).value;
    let beside = whole.mean_flow().map_or(Flow::ZERO, |mean| mean.saturating_sub(quiet.flow).value);
    outward.min(beside).max(Flow::ZERO)
}

impl Curve {
    /// The same flow at any pressure.
    pub(super) const fn level(offset: Flow) -> Self {
        Self { offset, slope: Conductance::ZERO, rooted: RootConductance::ZERO }
    }

    /// The flow at a pressure. Clamps, and says so.
    pub(super) fn at(&self, tip: Pressure) -> Saturated<Flow> {
        let grown = self.slope.by(tip);
        let straight = self.offset.saturating_add(grown.value);
        let saturated = grown.saturated || straight.saturated;
        if self.rooted == RootConductance::ZERO {
            return Saturated { value: straight.value, saturated };
        }
        let root = self.rooted.by(tip.root());
        let flow = straight.value.saturating_add(root.value);
        Saturated { value: flow.value, saturated: saturated || root.saturated || flow.saturated }
    }

    /// What flows over a stretch in which the pressure is steady; `more` flows on top.
    pub(super) fn over(&self, drive: &Drive, more: Flow) -> Saturated<Area<MlPerS>> {
        let root = self.rooted.by(drive.root());
        let lifted = self.offset.saturating_add(more);
        let level = lifted.value.saturating_add(root.value);
        let grown = drive.tip.by(self.slope);
        let flow = grown.value.plus(drive.over(level.value));
        let clamped = root.saturated || lifted.saturated || level.saturated;
        Saturated { value: flow.value, saturated: clamped || grown.saturated || flow.saturated }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn steady(flow: i16, pressure: i16) -> PhaseIntegrals {
        PhaseIntegrals::steady(1_000 * i32::from(flow), pressure, 1_000)
    }

    /// A second at 16 cmH2O and one at 4, net of the lung; and eight quiet ends at 4.
    fn curve(high: i16, low: i16, quiet: i16) -> Curve {
        let (inspiration, expiration) = (steady(high, 16), steady(low, 4));
        let breath = Breath { inspiration, expiration, ..Breath::plain() };
        let rest = (Pressure::from_int(4), Flow::from_int(quiet));
        let quiet = Evidence::still(Weight::whole(8), rest.0, rest.1);
        let mut evidence = Evidence::of_breath(&breath, &Drives::of(&breath));
        evidence.add(&quiet, 0);
        evidence.curve().unwrap()
    }

    fn holds(curve: &Curve, flows: &[(i16, f64)]) {
        for &(pressure, want) in flows {
            let got = curve.at(Pressure::from_int(pressure)).value.to_f64();
            // What flows at no pressure counts a sixteenth of a quiet end.
            assert!((got - want).abs() < 0.15, "{got} mL/s at {pressure} cmH2O, not {want}");
        }
    }

    #[test]
    fn a_leak_of_either_law_and_one_that_opens_are_followed() {
        // 2 × √P: 8 at 16, 4 at 4; and so 6 at 9, 10 at 25.
        holds(&curve(8, 4, 4), &[(16, 8.0), (4, 4.0), (9, 6.0), (25, 10.0)]);
        // P ÷ 2: 8 and 2; 5 at 10.
        holds(&curve(8, 2, 2), &[(16, 8.0), (4, 2.0), (10, 5.0)]);
        // Nothing at 4 and 10 at 16: (10 − 0) ÷ 12 for each cmH2O, 5 at 10.
        holds(&curve(10, 0, 0), &[(16, 10.0), (4, 0.0), (10, 5.0)]);
    }

    #[test]
    fn less_than_flows_at_rest_is_no_leak() {
        // On average 0, at rest 1: by (4 × 0 + 8 × 1) ÷ 12 = 0.667, which counts half a quiet end,
        // (8 × 1 + 0.5 × 0.667) ÷ 8.5 = 0.98 at any pressure.
        holds(&curve(-1, 1, 1), &[(16, 0.98), (4, 0.98), (0, 0.98)]);
    }

    #[test]
    fn a_curve_says_that_it_is_clamped_whichever_part_is() {
        let none = Curve::level(Flow::ZERO);
        let (slope, rooted) = (Conductance::from_int(1_000), RootConductance::from_int(10_000));
        // 1 000 x 40 = 40 000; 10 000 x 4 = 40 000; 20 000 and 1 000 x 16 or 10 000 x 4.
        let part = Flow::from_int(20_000);
        for (what, curve, pressure, clamped) in [
            ("nothing", Curve { slope, ..none }, 30, false),
            ("straight", Curve { slope, ..none }, 40, true),
            ("root", Curve { rooted, ..none }, 16, true),
            (
                "root, and less below",
                Curve { rooted, offset: Flow::from_int(-9_000), ..none },
                16,
                true,
            ),
            ("offset and straight", Curve { offset: part, slope, ..none }, 16, true),
            ("offset and root", Curve { offset: part, rooted, ..none }, 4, true),
            ("offset, straight and root", Curve { offset: part, slope, rooted }, 1, false),
        ] {
            let at = curve.at(Pressure::from_int(pressure));
            assert_eq!(at.saturated, clamped, "{what}: {at:?}");
            // The same over a second: a doubled area holds all but the parts that are flows.
            let drive = Drive::of(&steady(0, pressure));
            let over = curve.over(&drive, Flow::ZERO);
            let holds = clamped && (what.contains("root"));
            assert_eq!(over.saturated, holds, "{what} over a second: {over:?}");
        }
    }

    #[test]
    fn a_lift_beyond_the_range_is_said() {
        // 20,000 mL/s and as much on top are more than 32,768; with the lift alone nothing is clamped.
        let drive = Drive::of(&steady(0, 4));
        let lift = Flow::from_int(20_000);
        for (offset, beyond) in [(lift, true), (Flow::ZERO, false)] {
            let over = Curve::level(offset).over(&drive, lift);
            assert_eq!(over.saturated, beyond, "{offset:?} and {lift:?}: {over:?}");
        }
    }

    #[test]
    fn a_quiet_end_counts_the_less_the_more_it_moves() {
        // 4 mL/s at 9 cmH2O for 300 ms.
        let quiet = EndExpiration {
            span: Duration::from_millis(300),
            flow: Flow::from_int(4),
            last: Flow::from_int(2),
            pressure: Pressure::from_int(9),
            ..EndExpiration::default()
        };
        let with = |quiet| Evidence::of_quiet(&Breath { quiet: Some(quiet), ..Breath::plain() });
        let still = Evidence::still(Weight::ONE, quiet.pressure, quiet.flow);
        assert_eq!(with(quiet), still);
        assert_eq!(with(EndExpiration { span: TWO_BLOCKS, ..quiet }), still);
        let short = EndExpiration { span: Duration::from_millis(79), ..quiet };
        assert_eq!(with(short), Evidence::default());
        assert_eq!(Evidence::of_quiet(&Breath::plain()), Evidence::default());
        // A tail of 0.3 mL/s over the 250 ms between its blocks is the least usual: a quarter, and a quarter of the way
        // from its last block, 2, to 4.
        let moves = EndExpiration { tail: NOISE, ..quiet };
        let quarter = with(moves);
        assert_eq!(quarter.straight.mean(), Flow::from_milli(2_500).value);
        let weight = Evidence::still(Weight::part(2), quiet.pressure, quarter.straight.mean());
        assert_eq!(quarter, weight);
        // The mean of a stretch is worth one still end.
        let mean = Evidence::of_mean(&steady(4, 9));
        assert_eq!(mean, still);
        assert_eq!(Evidence::of_mean(&PhaseIntegrals::ZERO), Evidence::default());
    }

    #[test]
    fn a_quiet_end_that_flows_outward_is_held_against_the_breaths_mean() {
        let outward = |quiet: i16, mean: i16| {
            let (inspiration, expiration) = (steady(mean, 5), steady(mean, 5));
            let breath = Breath { inspiration, expiration, ..Breath::plain() };
            let flow = Flow::from_int(quiet);
            outward(&breath, &EndExpiration { flow, ..EndExpiration::default() })
        };
        // 2 outward beside 1 inward, beside 1 outward, beside as much, and beside more; 1 inward.
        for (quiet, mean, want) in [(-2, 1, 2), (-2, -1, 1), (-2, -2, 0), (-2, -3, 0), (1, 5, 0)] {
            assert_eq!(outward(quiet, mean), Flow::from_int(want), "{quiet} beside {mean} mL/s");
        }
    }

    #[test]
    fn evidence_fades_by_an_eighth_and_its_doubt_grows() {
        let breath =
            Breath { inspiration: steady(8, 16), expiration: steady(4, 4), ..Breath::plain() };
        let mut evidence = Evidence::of_breath(&breath, &Drives::of(&breath));
        evidence
            .add(&Evidence::still(Weight::whole(8), Pressure::from_int(4), Flow::from_int(4)), 0);
        let (was, doubt) = (evidence, evidence.doubt(Pressure::from_int(16)));
        evidence.fade();
        for (now, then) in [
            (evidence.flow.total(), was.flow.total()),
            (evidence.tip.total(), was.tip.total()),
            (evidence.root.total(), was.root.total()),
            (evidence.time, was.time),
        ] {
            assert!((now - then / 8 * 7).abs() <= 8, "{now} of {then}");
        }
        let faded = evidence.doubt(Pressure::from_int(16));
        assert!(faded > doubt && doubt > Share::ZERO, "{doubt}, then {faded}");
        // Eight still ends at the place: 1 / root of 8 and what counts a little where no pressure drives.
        let near = evidence.doubt(Pressure::from_int(4)).to_f64();
        assert!((0.3..0.45).contains(&near), "{near} of a quiet end's doubt");
    }
}
