//! Advice on a lower limit of volume against all volumes that it was given.
//!
//! - The limit is the highest edge of the grid that enough breaths reach, held at 80 % of the median's edge and at
//!   the most that is needed, never under the floor; what keeps it is said.
//! - What it captures lies between the breaths that reach it and those beyond its own step.
//! - A rehearsal counts the latest 128 as a limit without memory does.

use crate::fuzzed::arguments::{float, number};
use crate::fuzzed::bytes::Bytes;
use crate::fuzzed::refused::held;
use crate::fuzzed::words::said;
use crate::view::View;
use tidevane::alarm::{
    BreathKind, Level, LevelAdvice, LevelBy, LimitAlarm, Limits, NoLevel, VolumeHistory,
};
use tidevane::quantity::{Duration, Instant, Pressure, Volume};

pub(super) fn check(bytes: &mut Bytes<'_>) -> Option<()> {
    let (floor, percent, most) = (number(bytes)?, bytes.u8()? % 110, bytes.u8()?);
    let advice = LevelAdvice::new(Volume::from_bits(floor), percent);
    held(&advice, &[("floor", floor <= 0), ("percent", !(50..=99).contains(&percent))]);
    let mut history = VolumeHistory::default();
    let mut seen: [Vec<Volume>; 3] = Default::default();
    let mut at = 0;
    // Enough for twenty rows of up to 255, below what makes counts fade.
    for _ in 0..bytes.u8()? % 20 {
        let (what, often) = (bytes.u8()?, bytes.u8()?);
        let (volume, step) = (i32::from(bytes.i16()?) << 8, i32::from(bytes.u8()?) << 8);
        let kind = BreathKind::ALL[usize::from(what) % 3];
        for n in 0..i32::from(often) {
            at += if what & 32 == 0 { 500_000 } else { 0 };
            let volume = Volume::from_bits(volume.saturating_add(step * n));
            let view = View {
                at: Instant::from_us(at),
                kind,
                expired: (what & 64 == 0).then_some(volume),
                trusted: what & 128 == 0,
                ..view()
            };
            let before = history.clone();
            history.learn(&view.seen());
            // One that is not later than the last of its kind changes nothing.
            if view.expired.is_some() && view.trusted && what & 32 == 0 {
                seen[kind as usize].push(volume);
            } else if what & 32 == 0 {
                assert_eq!(history, before);
            }
            if what & 32 != 0 && n > 0 {
                assert_eq!(history, before, "not later, and yet learned");
            } else if what & 32 != 0 && history != before {
                seen[kind as usize].push(volume);
            }
        }
    }
    for kind in BreathKind::ALL {
        rehearsed(&history, kind, &seen[kind as usize], floor.saturating_abs());
    }
    let Ok(mut advice) = advice else { return Some(()) };
    let most = (most >= 16).then(|| Volume::from_int(most.into()));
    if let Some(most) = most {
        advice = advice.with_most(most);
    }
    let floor = Volume::from_bits(floor);
    let levels = BreathKind::ALL.map(|kind| {
        let level = advice.advise(&history, kind);
        said(&level);
        judged(level, &seen[kind as usize], (floor, percent, most));
        level
    });
    one(advice.advise_one(&history), &levels);
    Some(())
}

fn view() -> View {
    View {
        at: Instant::default(),
        kind: BreathKind::Own,
        inspired: None,
        expired: None,
        most_out: None,
        leak: None,
        rate: None,
        minute_volume: None,
        peak: Pressure::ZERO,
        drawn: true,
        trusted: true,
    }
}

/// Eight equal steps an octave from 0.5 to 112 mL, and nothing at all below.
fn edges() -> impl Iterator<Item = f64> {
    let octave =
        |n: u32| (0..8).map(move |step| 2_f64.powi(n as i32 - 1) * (1.0 + f64::from(step) / 8.0));
    std::iter::once(0.0).chain((0..8).flat_map(octave).take_while(|edge| *edge <= 112.0))
}

fn reaching(seen: &[Volume], level: f64) -> usize {
    seen.iter().filter(|volume| level <= 0.0 || float(volume.to_bits()) >= level).count()
}

/// The highest edge that so many percent reach.
fn reached_by(seen: &[Volume], percent: usize) -> f64 {
    let reached = |edge: &f64| reaching(seen, *edge) * 100 >= percent * seen.len();
    edges().filter(reached).fold(0.0, f64::max)
}

fn judged(level: Level, seen: &[Volume], (floor, percent, most): (Volume, u8, Option<Volume>)) {
    let floor = float(floor.to_bits());
    let (edge, median) = (reached_by(seen, percent.into()), reached_by(seen, 50) * 0.8);
    match level {
        Level::None(NoLevel::TooFewBreaths) => assert!(seen.len() < 30),
        Level::None(NoLevel::UnderDeadSpace { would_be }) => {
            assert!(edge < floor && float(would_be.to_bits()) == edge, "{would_be}, not {edge}");
        }
        Level::None(other) => panic!("{other:?}"),
        Level::Set { level, captures, by } => {
            assert!(seen.len() >= 30 && edge >= floor);
            let need = most.map_or(f64::MAX, |most| float(most.to_bits()));
            let want = edge.min(median).min(need).max(floor);
            let got = float(level.to_bits());
            // 80 % is a share in steps of 1/65 536.
            let slack = 2.0 / 65_536.0 + median * 1e-5;
            assert!((got - want).abs() <= slack, "{got}, not {want}");
            let kept = match by {
                LevelBy::Breaths => edge,
                LevelBy::Median => median,
                LevelBy::Need => need,
                LevelBy::Floor => floor,
            };
            assert!((got - kept).abs() <= slack, "{by:?}: {got}, not {kept}");
            let share = |n: usize| ((n << 16) / seen.len()) as i32;
            let next = edges().find(|edge| *edge >= got).unwrap_or(f64::MAX);
            let (least, most) = (share(reaching(seen, next)), share(reaching(seen, got)));
            assert!((least..=most).contains(&captures.to_bits()), "{captures}: {least} to {most}");
        }
    }
}

/// The lowest of those that were set; none where one kind hardly breathes.
fn one(got: Level, levels: &[Level; 3]) {
    let under = |level: &&Level| matches!(level, Level::None(NoLevel::UnderDeadSpace { .. }));
    if let Some(under) = levels.iter().find(under) {
        assert_eq!(&got, under);
        return;
    }
    let limit = |level: &Level| match level {
        Level::Set { level, .. } => Some(*level),
        Level::None(_) => None,
    };
    assert_eq!(limit(&got), levels.iter().filter_map(limit).min());
    assert!(limit(&got).is_some() || got == Level::None(NoLevel::TooFewBreaths));
}

fn rehearsed(history: &VolumeHistory, kind: BreathKind, seen: &[Volume], low: i32) {
    let low = Volume::from_bits(low);
    let limits = Limits::new(Some(low), None).unwrap();
    // So many are kept.
    const HISTORY: usize = 128;
    let latest = &seen[seen.len().saturating_sub(HISTORY)..];
    let below: Vec<_> = latest.iter().map(|volume| *volume < low).collect();
    let runs =
        below.iter().enumerate().filter(|(n, is)| **is && (*n == 0 || !below[n - 1])).count();
    for (delay, hysteresis) in [(0, 0), (0, 1), (2_000, 0)] {
        let delay = Duration::from_millis(delay);
        let alarm = LimitAlarm::new(limits, delay, Volume::from_int(hysteresis), true).unwrap();
        let told = history.rehearse(kind, &alarm);
        let counts = [told.breaths, told.below, told.runs].map(|n| n as usize);
        let under = below.iter().filter(|is| **is).count();
        assert_eq!(counts, [latest.len(), under, runs]);
        let plain = delay == Duration::ZERO && hysteresis == 0;
        assert!(told.rang <= told.runs && (!plain || told.rang == told.runs), "{told:?}");
    }
}
