//! Lamps and bursts against a time line of their own.
//!
//! - A setting is taken exactly within the bands of its priority.
//! - A lamp is lit for its share of each period; a burst sounds in each of its pulses: three, two, a pause, three,
//!   two at high priority, the gap between the third and the fourth as if one were left out.

use crate::fuzzed::arguments::span;
use crate::fuzzed::bytes::Bytes;
use crate::fuzzed::refused::held;
use tidevane::alarm::{Bands, Burst, Flash, Priority};
use tidevane::quantity::Duration;

pub(super) fn check(bytes: &mut Bytes<'_>) -> Option<()> {
    let (what, number) = (bytes.u8()?, bytes.u8()?);
    let priority = Priority::ALL[usize::from(what) % 3];
    let bands = priority.bands();
    assert_eq!(bands.flash_period.is_none(), priority == Priority::Low);
    let (period, elapsed) = (span(bytes)?, Duration::from_millis(bytes.u32()? % 4_000_000));
    lamp(priority, &bands, (period, number), elapsed);
    let parts = [span(bytes)?, span(bytes)?, span(bytes)?, span(bytes)?];
    let usual = Burst::usual(priority);
    let usual_parts = match priority {
        Priority::High => ([150, 100, 500], 10, Some(5_000)),
        Priority::Medium => ([200, 200, 0], 3, Some(10_000)),
        Priority::Low => ([200, 200, 0], 1, None),
    };
    let (ms, pulses, interval) = usual_parts;
    line(&usual, pulses, ms.map(|ms| ms * 1_000), interval.map(|ms: u64| ms * 1_000), elapsed);
    made(priority, &bands, what, number, parts, elapsed);
    Some(())
}

fn lamp(priority: Priority, bands: &Bands, (period, duty): (Duration, u8), elapsed: Duration) {
    let flash = Flash::new(priority, period, duty);
    let outside = bands.flash_period.as_ref().is_some_and(|band| !band.contains(&period));
    held(
        &flash,
        &[
            ("priority", priority == Priority::Low),
            ("period", outside),
            ("duty_percent", !bands.duty_percent.contains(&duty)),
        ],
    );
    let usual = match priority {
        Priority::High => (500_000, 200_000),
        Priority::Medium => (1_700_000, 680_000),
        Priority::Low => (1, 1),
    };
    let lit = |(period, lit): (u64, u64)| elapsed.to_us() % period < lit;
    assert_eq!(Flash::usual(priority).is_lit(elapsed), lit(usual));
    let Ok(flash) = flash else { return };
    assert_eq!(flash.priority(), priority);
    let part = period.to_us() * u64::from(duty);
    // A percentage of a period may lie between two microseconds.
    let (is_lit, us) = (flash.is_lit(elapsed), elapsed.to_us() % period.to_us());
    assert!(is_lit == (us * 100 < part) || (us * 100).abs_diff(part) <= 100);
}

fn made(
    priority: Priority,
    bands: &Bands,
    what: u8,
    number: u8,
    [pulse, spacing, pause, interval]: [Duration; 4],
    elapsed: Duration,
) {
    let pulses = number % 12;
    let again = (what & 64 == 0).then_some(interval);
    let burst = Burst::new(priority, pulses, pulse, spacing, pause, again);
    let is_high = priority == Priority::High;
    held(
        &burst,
        &[
            ("pulses", !bands.pulses.contains(&pulses)),
            ("pulse", !bands.pulse.contains(&pulse)),
            ("spacing", !bands.spacing.contains(&spacing)),
            ("pause", is_high && !bands.pause.contains(&pause)),
            ("interval", again.is_some_and(|again| !bands.interval.contains(&again))),
            ("interval", again.is_none() && priority != Priority::Low),
        ],
    );
    let Ok(burst) = burst else { return };
    assert_eq!(burst.priority(), priority);
    let parts = [pulse, spacing, pause].map(Duration::to_us);
    line(&burst, pulses, parts, again.map(Duration::to_us), elapsed);
}

/// Each pulse from and to.
fn line(
    burst: &Burst,
    pulses: u8,
    [pulse, spacing, pause]: [u64; 3],
    interval: Option<u64>,
    elapsed: Duration,
) {
    let mut on = Vec::new();
    let mut at = 0;
    for n in 1..=pulses {
        on.push(at..at + pulse);
        at += pulse;
        at += match (burst.priority(), n) {
            _ if n == pulses => 0,
            (Priority::High, 3 | 8) => 2 * spacing + pulse,
            (Priority::High, 5) => pause,
            _ => spacing,
        };
    }
    assert_eq!(burst.length().to_us(), at);
    let us = elapsed.to_us();
    let within = interval.map_or(us, |interval| us % (at + interval));
    let want = on.iter().any(|pulse| pulse.contains(&within));
    assert_eq!(burst.is_sounding(elapsed), want, "{burst:?} after {elapsed}");
}
