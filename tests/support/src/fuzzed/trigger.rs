//! The floor, the threshold over it, causes, and the threshold advised.
//!
//! - Margins are differences, to the bit, or said to be at the end of their range.
//! - A higher threshold is never worse, a higher leak never better.
//! - A flagged breath teaches nothing and has no cause; a verdict agrees with its evidence.
//! - Where flow comes late nobody but the infant is named.
//! - The advised threshold is the lowest of the grid that floors leave alone.

use super::bytes::Bytes;
use super::made::{Made, breath};
use tidevane::breath::{Breath, Kind};
use tidevane::quantity::{Duration, Flow, Instant, Pressure, Rate, Share};
use tidevane::trigger::{
    Cause, CauseCheck, CauseState, NoCause, NoiseFloor, NoiseFloorState, Pull, Threshold,
    ThresholdAdvice, ThresholdAdviceState, ThresholdGrid, ThresholdVerdict, TriggerCheck,
};

/// Holds all of the above.
///
/// # Panics
/// Where one of them does not hold.
pub fn check(data: &[u8]) {
    let mut bytes = Bytes(data);
    let Some((set, rate, grid)) = head(&mut bytes) else { return };
    let threshold = Threshold::new(set);
    assert_eq!(threshold.is_ok(), set > Flow::ZERO && set <= Flow::from_int(1_000));
    let causes = CauseCheck::new(threshold.ok().map(Threshold::flow), rate);
    assert_eq!(causes.is_ok(), rate.is_none_or(|rate| rate >= Rate::ZERO));
    let (Ok(causes), Ok(threshold)) = (causes, threshold) else { return };
    let (mut floors, mut cause) = (NoiseFloorState::default(), CauseState::default());
    let (mut advice, mut lates) = (ThresholdAdviceState::default(), Late::default());
    let mut onset = Instant::from_us(1_000_000);
    while let Some(made) = breath(&mut bytes, onset) {
        let b = &made.breath;
        onset = b.end;
        let modelled = (b.peak_exp_flow > Flow::from_int(100))
            .then_some(Flow::from_bits(b.peak_exp_flow.to_bits() >> 4));
        let (was, knew) = (floors, advice);
        floors.learn(b, modelled);
        let floor = floors.floor();
        // Any muscle pressure, or none known.
        let pull =
            Pull { size: b.end_insp_pressure, ripple: Pressure::from_bits(b.peak.to_bits() >> 5) };
        let pull = (b.peak_insp_flow > Flow::from_int(20)).then_some(pull);
        // Any lag up to 25 ms.
        let lag = Duration::from_us(b.inspiration.span().to_us() % 26_000);
        let initiation = causes.step(&mut cause, b, floor, pull, Some(lag));
        let late = lates.take(b);
        advice.learn(&grid, b, initiation, floor);
        if !b.is_trusted() {
            assert_eq!((floors, advice), (was, knew), "a flagged breath teaches nothing");
        }
        let due = initiation.and_then(|i| i.evidence).and_then(|e| e.on_time) == Some(true);
        let pulled = !due
            && lag.to_us() >= 5_000
            && pull.is_some_and(|pull| pull.size >= Pressure::from_int(1));
        judged(&made, initiation.map(|i| i.cause), floor, (late, pulled));
        if let Some(evidence) = initiation.and_then(|i| i.evidence) {
            assert_eq!((evidence.threshold, evidence.pull), (Some(threshold.flow()), pull));
            assert!(evidence.deflection >= Flow::ZERO);
            let due = evidence.sensed.to_bits() < threshold.flow().to_bits() >> 1
                && evidence.on_time == Some(true);
            let said = initiation.map(|i| i.cause);
            let timed = late.map_or(Cause::Timed, Cause::Unknown);
            assert!(!due || said == Some(timed), "{evidence:?}");
        }
        margins(threshold, floor);
        advised(&grid, &advice, floor);
    }
}

fn head(bytes: &mut Bytes<'_>) -> Option<(Flow, Option<Rate>, ThresholdGrid)> {
    let set = Flow::from_bits(bytes.i32()?);
    let rate = bytes.i16()?;
    let rate = (rate != 0).then_some(Rate::from_bits(i32::from(rate) << 10));
    let (lowest, step) = (i32::from(bytes.u16()?) << 4, i32::from(bytes.u16()?) << 2);
    let count = usize::from(bytes.u8()?);
    let grid = ThresholdGrid::new(Flow::from_bits(lowest), Flow::from_bits(step), count);
    assert_eq!(grid.is_ok(), lowest > 0 && step > 0 && (1..=16).contains(&count));
    Some((set, rate, grid.unwrap_or_default()))
}

/// A second count of inflations whose pressure was up before quiet flow turned, and of those that flowed at three quarters
/// of their peak before it rose by 8 cmH2O: three in a row, or one in five.
#[derive(Default)]
struct Late([i32; 2]);

impl Late {
    fn take(&mut self, b: &Breath) -> Option<NoCause> {
        if b.kind == Kind::Inflation && b.is_trusted() {
            let rise = i64::from(b.peak.to_bits()) - i64::from(b.baseline.to_bits());
            let peak = i64::from(b.peak_insp_flow.to_bits());
            let flowed = i64::from(b.lead.peak.to_bits()) >= peak - peak / 4;
            for (count, is_late) in self.0.iter_mut().zip([
                b.quiet.is_some() && b.pressure_rise == Some(b.onset),
                flowed && rise >= 8 << 16,
            ]) {
                *count = (*count + if is_late { 4 } else { -1 }).max(0);
                if is_late && *count >= 12 {
                    *count = 1_000;
                }
            }
        }
        match self.0.map(|count| count >= 12) {
            [_, true] => Some(NoCause::PressureLate),
            [true, false] => Some(NoCause::FlowLate),
            [false, false] => None,
        }
    }
}

fn judged(
    made: &Made,
    cause: Option<Cause>,
    floor: Option<NoiseFloor>,
    (late, pulled): (Option<NoCause>, bool),
) {
    let b = &made.breath;
    assert_eq!(cause.is_none(), b.kind == Kind::Own);
    let Some(cause) = cause else { return };
    if !b.is_trusted() {
        assert_eq!(cause, Cause::Unknown(NoCause::Flagged));
    } else if floor.is_none() {
        assert_eq!(cause, Cause::Unknown(NoCause::NoFloor));
    } else {
        let unknown = if pulled { late.or(Some(NoCause::FlowLate)) } else { late };
        let said = if let Cause::Unknown(why) = cause { Some(why) } else { None };
        assert!(said.is_none() || said == unknown, "{:?}", made.breath);
        let effort = cause == Cause::Effort && late == Some(NoCause::FlowLate);
        assert!(effort || late.is_none() || said == late, "{:?}", made.breath);
        let timed = cause == Cause::Timed;
        assert!(!timed || !pulled, "{:?}", made.breath);
    }
}

fn rank(verdict: ThresholdVerdict) -> u8 {
    match verdict {
        ThresholdVerdict::BelowLeak => 0,
        ThresholdVerdict::InNoise | ThresholdVerdict::AboveLeak => 1,
        ThresholdVerdict::Clear => 2,
        ThresholdVerdict::Unknown => 3,
    }
}

fn margins(threshold: Threshold, floor: Option<NoiseFloor>) {
    let check = threshold.check(floor);
    let Some(floor) = floor else {
        assert_eq!(
            (check.verdict, check.margin, check.clearance),
            (ThresholdVerdict::Unknown, None, None)
        );
        return;
    };
    let clamp = |wide: i64| {
        let clamped = wide.clamp(i64::from(i32::MIN), i64::from(i32::MAX));
        Flow::from_bits(i32::try_from(clamped).unwrap())
    };
    let bits = |flow: Flow| i64::from(flow.to_bits());
    // A leak below zero is none.
    let margin = clamp(bits(threshold.flow()) - bits(floor.leak).max(0));
    assert_eq!(check.margin, Some(margin));
    let reach = floor.noise.map(|noise| noise.reach);
    assert_eq!(check.clearance, reach.map(|reach| clamp(bits(margin) - bits(reach))));
    assert_eq!(check.verdict == ThresholdVerdict::BelowLeak, margin <= Flow::ZERO);
    let more = Threshold::new(threshold.flow().saturating_add(Flow::from_int(1)).value);
    assert!(
        more.is_ok_and(|more| rank(more.check(Some(floor)).verdict) >= rank(check.verdict))
            || more.is_err()
    );
    let leakier = NoiseFloor { leak: floor.leak.saturating_add(Flow::from_int(1)).value, ..floor };
    let leakier: TriggerCheck = threshold.check(Some(leakier));
    assert!(rank(leakier.verdict) <= rank(check.verdict) && leakier.margin <= check.margin);
}

fn advised(grid: &ThresholdGrid, advice: &ThresholdAdviceState, floor: Option<NoiseFloor>) {
    let table: Vec<_> = advice.table(grid).collect();
    assert_eq!(table.len(), grid.levels().count());
    for row in &table {
        let shares = [Some(row.self_cycling), row.missed_at_least, row.missed_at_most];
        assert!(shares.iter().flatten().all(|s| *s >= Share::ZERO && *s <= Share::ONE), "{row:?}");
        assert!(row.missed_at_most >= row.missed_at_least);
    }
    for pair in table.windows(2) {
        assert!(pair[1].threshold >= pair[0].threshold);
        assert!(pair[1].self_cycling <= pair[0].self_cycling);
        assert!(pair[1].missed_at_least >= pair[0].missed_at_least);
    }
    let two = Share::from_percent(2);
    if let ThresholdAdvice::Set(set) | ThresholdAdvice::AboveFloor(set) = advice.advise(grid, floor)
    {
        assert!(set.self_cycling <= two);
        let lowest = table.iter().find(|row| row.self_cycling <= two);
        assert_eq!(lowest, Some(&set), "not the lowest");
    }
}
