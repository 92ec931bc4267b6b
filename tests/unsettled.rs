//! Before a leak is known its flow is taken for breaths; what was cut out so far is told, and no more.

use tidevane::monitor::Breaths;
use tidevane::quantity::{Flow, Instant, Pressure};
use tidevane::signal::Reading;

/// A breath each second from the first sample on: 0.3 s in, 0.3 s out, 0.4 s of rest, over a leak of 2 mL/s at 5 cmH2O
/// and 4 at 15.
fn leaky_from_the_first(n: u64) -> Reading {
    let (flow, pressure) = match i16::try_from(n % 100).unwrap() {
        k @ 0..30 => (40 - k + 4, 15),
        k @ 30..60 => (k - 70 + 2, 5),
        _ => (2, 5),
    };
    Reading { flow: Flow::from_int(flow), pressure: Pressure::from_int(pressure) }
}

/// The breath that shows it is flagged, and so is the one whose onset was found by the same guess.
#[test]
fn no_trusted_breath_begins_where_a_wrong_leak_put_it() {
    let mut breaths = Breaths::default();
    let (mut told, mut flagged) = (0, 0);
    for n in 0..2_000_u64 {
        let at = Instant::from_us(n * 10_000);
        let Some(breath) = breaths.push_at(at, leaky_from_the_first(n)) else { continue };
        let late = (breath.onset.to_us() + 50_000) % 1_000_000;
        let of =
            format!("onset {} us of a breath each second, {}", breath.onset.to_us(), breath.flags);
        assert!(!breath.is_trusted() || late <= 100_000, "{of}");
        (told, flagged) = (told + 1, flagged + usize::from(!breath.is_trusted()));
    }
    assert!(told > 15 && flagged <= 4, "{flagged} of {told} flagged");
}
