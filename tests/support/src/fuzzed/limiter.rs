//! The volume limiter against a count in `i128`.
//!
//! - It stops just where moved volume and what comes during the delay reach the limit, once.
//! - A higher limit, or a shorter delay, never stops earlier.
//! - What was clamped is said; a clone goes on as the original.

use super::bytes::Bytes;
use tidevane::quantity::{Duration, Flow, Volume};
use tidevane::volume::{Limiter, LimiterOutcome, LimiterState};

/// Where it stopped.
type Stop = Option<usize>;

/// Holds all of the above.
///
/// # Panics
/// Where one of them does not hold.
pub fn check(data: &[u8]) {
    let mut bytes = Bytes(data);
    let Some((limit, delay_us, begun)) = head(&mut bytes) else { return };
    let limiter = Limiter::new(Volume::from_bits(limit), Duration::from_us(delay_us.into()));
    let Ok(limiter) = limiter else {
        assert!(limit <= 0 || delay_us > 500_000, "refused: {limit} {delay_us}");
        return;
    };
    assert!(limit > 0 && delay_us <= 500_000);
    assert_eq!(limiter.limit(), Volume::from_bits(limit));
    let mut steps = Vec::new();
    while let Some((span, to)) = step(&mut bytes) {
        steps.push((span, to));
    }
    let stop = run(&limiter, i128::from(limit), delay_us, begun, &steps);
    let never = |stop: Stop| stop.unwrap_or(usize::MAX);
    let raised = limit.saturating_add(limit / 3).saturating_add(1);
    let higher =
        Limiter::new(Volume::from_bits(raised), Duration::from_us(delay_us.into())).unwrap();
    assert!(never(run(&higher, raised.into(), delay_us, begun, &steps)) >= never(stop));
    let prompt = Limiter::new(Volume::from_bits(limit), Duration::ZERO).unwrap();
    assert!(never(run(&prompt, limit.into(), 0, begun, &steps)) >= never(stop));
}

fn head(bytes: &mut Bytes<'_>) -> Option<(i32, u32, i32)> {
    Some((bytes.i32()?, bytes.u32()? % 600_000, i32::from(bytes.i16()?) << 8))
}

/// Most spans are short; a few take the whole range.
fn step(bytes: &mut Bytes<'_>) -> Option<(Duration, i32)> {
    let kind = bytes.u8()?;
    let span = match kind {
        0..=239 => u64::from(kind) * 100,
        240..=251 => u64::from(bytes.u32()?),
        _ => bytes.u64()?,
    };
    let flow = if kind % 16 == 15 { bytes.i32()? } else { i32::from(bytes.i16()?) << 12 };
    Some((Duration::from_us(span), flow))
}

fn run(
    limiter: &Limiter,
    limit: i128,
    delay_us: u32,
    begun: i32,
    steps: &[(Duration, i32)],
) -> Stop {
    // Doubled areas, as bits × µs: 2·10⁶ are one bit × second.
    let wanted = limit * 2_000_000;
    let mut moved = i128::from(begun) * 2_000_000;
    let (mut state, mut clone) = (LimiterState::default(), None);
    assert_eq!(
        limiter.step(&mut state, Duration::ZERO, Flow::MAX, Flow::MAX),
        LimiterOutcome::Idle
    );
    limiter.begin(&mut state, Volume::from_bits(begun));
    let (mut from, mut stopped) = (0, None);
    let mut clamped = false;
    for (i, &(span, to)) in steps.iter().enumerate() {
        let before = state;
        let flows = (Flow::from_bits(from), Flow::from_bits(to));
        let outcome = limiter.step(&mut state, span, flows.0, flows.1);
        let twin = clone.get_or_insert(before);
        assert_eq!((limiter.step(twin, span, flows.0, flows.1), *twin), (outcome, state));
        if stopped.is_some() {
            assert_eq!(outcome, LimiterOutcome::Idle, "it stops once");
            continue;
        }
        let us = span.to_us().min((1 << 31) - 1);
        clamped |= us < span.to_us();
        moved += (i128::from(from) + i128::from(to)) * i128::from(us);
        from = to;
        let coming = i128::from(to.max(0)) * 2 * i128::from(delay_us);
        let reached = moved + coming >= wanted;
        match outcome {
            LimiterOutcome::Idle | LimiterOutcome::Unknown => panic!("{outcome:?} under way"),
            LimiterOutcome::Below => {
                assert!(!reached && !clamped, "{moved} of {wanted} is no stop");
            }
            LimiterOutcome::Stop { moved: said } => {
                // A span too long to count, or a sum at its end, stops too, and says so.
                let beyond = clamped || i64::try_from(moved).is_err();
                assert!(reached || beyond, "stopped at {moved} of {wanted}");
                let exact = moved as f64 / 2e6;
                let outside = exact.abs() > f64::from(i32::MAX) + 0.5;
                assert!(said.saturated || !(outside || beyond), "a clamp that is not said");
                if !said.saturated {
                    assert!((f64::from(said.value.to_bits()) - exact).abs() <= 0.501);
                }
                stopped = Some(i);
            }
        }
    }
    stopped
}
