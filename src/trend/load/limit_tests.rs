//! The limits that count a minute, one event on either side of each.

use super::*;
use crate::alarm::BreathKind;
use crate::quantity::Duration;
use crate::quantity::Instant;
use crate::trend::TrendBreath;
use crate::trend::tally::tests::breath;

/// What the window of seven minutes shows after three minutes of breaths a second apart, against three like them: each is made
/// of its place in its 180, and so many efforts are missed.
fn shown(
    then: impl Fn(u32, TrendBreath) -> TrendBreath,
    now: impl Fn(u32, TrendBreath) -> TrendBreath,
    missed: [u32; 2],
) -> Result<LoadSigns, NoVerdict> {
    let (trend, mut minutes) = (Trend::default(), TrendState::default());
    // The first begins the time; a minute settles, then come three minutes twice.
    for second in 0..=420 {
        let plain = breath(BreathKind::Own, 1_000, 4_000);
        let made = match second {
            0..=60 => plain,
            61..=240 => then(second - 61, plain),
            _ => now(second - 241, plain),
        };
        let missing = [(61, missed[0]), (241, missed[1])];
        let missing = missing.iter().find(|(at, _)| *at == second).map_or(0, |(_, n)| *n);
        (0..missing).for_each(|_| trend.missed(&mut minutes));
        trend.breath(&mut minutes, Instant::from_us(u64::from(second) * 1_000_000), &made);
    }
    LoadCriteria::default().present(&trend, &minutes).map(|(signs, _)| signs)
}

#[test]
fn limits_a_minute_count_from_where_they_are_reached() {
    // In three minutes fifteen are five a minute, six are two and three are one.
    let plain = |_, b| b;
    let pause = |most| {
        move |i, b| {
            let expiration = Duration::from_millis(if i < most { 5_000 } else { 500 });
            TrendBreath { expiration, ..b }
        }
    };
    for (was, is, want) in [
        (0, 2, LoadSigns::NONE),
        (0, 3, LoadSigns::PAUSES),
        (4, 5, LoadSigns::NONE),
        (4, 6, LoadSigns::PAUSES),
    ] {
        assert_eq!(shown(pause(was), pause(is), [0, 0]), Ok(want), "{was}, then {is} pauses");
    }
    for (was, is, want) in [
        (0, 14, LoadSigns::NONE),
        (0, 15, LoadSigns::MISSED),
        (3, 17, LoadSigns::NONE),
        (3, 18, LoadSigns::MISSED),
    ] {
        assert_eq!(shown(plain, plain, [was, is]), Ok(want), "{was}, then {is} missed");
    }
    let cycled = |most| move |i, b| TrendBreath { self_cycled: i < most, ..b };
    assert_eq!(shown(plain, cycled(14), [0, 0]), Ok(LoadSigns::NONE));
    assert_eq!(shown(plain, cycled(15), [0, 0]), Err(NoVerdict::SelfCycling));
    let own = |most| move |i, b| TrendBreath { by_infant: i < most, ..b };
    for (was, is, want) in [
        (180, 91, Ok(LoadSigns::NONE)),
        (180, 90, Ok(LoadSigns::FEWER_OWN)),
        (15, 0, Ok(LoadSigns::FEWER_OWN)),
        (14, 0, Err(NoVerdict::NotBreathing)),
        (0, 14, Err(NoVerdict::NotBreathing)),
        (0, 15, Ok(LoadSigns::NONE)),
    ] {
        assert_eq!(shown(own(was), own(is), [0, 0]), want, "{was}, then {is} by the infant");
    }
}
