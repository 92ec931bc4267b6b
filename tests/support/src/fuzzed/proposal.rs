//! The proposed peak pressure against `f64`.
//!
//! - Settings are taken exactly where their ranges say.
//! - The ceiling always holds; else the least rise; else the step.
//! - Unbound, it is baseline + rise × target ÷ volume.
//! - Inflations short of the target at the ceiling are counted.

use super::arguments::float;
use super::bytes::Bytes;
use tidevane::breath::Breath;
use tidevane::quantity::{Pressure, Share, Volume};
use tidevane::signal::Flags;
use tidevane::volume::{Bound, Hold, Proposal, ProposalState, Proposed};

#[derive(Clone, Copy)]
struct Set {
    target: Volume,
    step: Pressure,
    ceiling: Pressure,
    rise: Pressure,
    leak: Share,
}

struct LastBreath {
    volume: Volume,
    peak: Pressure,
    baseline: Pressure,
    leak: Option<Share>,
    trusted: bool,
}

impl LastBreath {
    fn asked(&self, proposal: &Proposal, state: &mut ProposalState) -> Proposed {
        let flags = if self.trusted { Flags::NONE } else { Flags::GAP };
        let (peak, baseline) = (self.peak, self.baseline);
        let breath = Breath { peak, baseline, flags, ..Breath::default() };
        proposal.step(state, &breath, self.volume, self.leak)
    }
}

/// Holds all of the above.
///
/// # Panics
/// Where one of them does not hold.
pub fn check(data: &[u8]) {
    let mut bytes = Bytes(data);
    let Some(set) = head(&mut bytes) else { return };
    let Set { target, step, ceiling, rise, leak } = set;
    let proposal = Proposal::new(target, step, ceiling, rise, leak);
    let between = |bits: i32, low: f64, high: f64| (low..=high).contains(&float(bits));
    // Bounds in thousandths are rounded to the nearest step: 0.1 cmH2O is 6 554/65 536.
    let valid = between(target.to_bits(), 0.5, 2_000.0)
        && step.to_bits() >= 6_554
        && between(step.to_bits(), 0.0, 10.0)
        && between(ceiling.to_bits(), 1.0, 80.0)
        && between(rise.to_bits(), 0.5, 20.0)
        && between(leak.to_bits(), 0.0, 1.0)
        && rise < ceiling;
    assert_eq!(proposal.is_ok(), valid, "{proposal:?}");
    let Ok(proposal) = proposal else { return };
    let (mut state, mut short) = (ProposalState::default(), 0);
    while let Some(last) = last(&mut bytes) {
        let mut clone = state;
        let proposed = last.asked(&proposal, &mut state);
        assert_eq!((last.asked(&proposal, &mut clone), clone), (proposed, state));
        short = judge(&set, &last, proposed, short);
    }
}

fn head(bytes: &mut Bytes<'_>) -> Option<Set> {
    let pressure = |raw: i16| Pressure::from_bits(i32::from(raw) << 9);
    Some(Set {
        target: Volume::from_bits(bytes.i32()?),
        step: Pressure::from_bits(i32::from(bytes.u16()?) << 4),
        ceiling: pressure(bytes.i16()?),
        rise: pressure(bytes.i16()?),
        leak: Share::from_bits(i32::from(bytes.i16()?) << 2),
    })
}

fn last(bytes: &mut Bytes<'_>) -> Option<LastBreath> {
    let kind = bytes.u8()?;
    let wide = kind & 4 != 0;
    let mut value = || {
        if wide { bytes.i32() } else { bytes.i16().map(|raw| i32::from(raw) << 8) }
    };
    Some(LastBreath {
        volume: Volume::from_bits(value()?),
        peak: Pressure::from_bits(value()?),
        baseline: Pressure::from_bits(value()?),
        leak: if kind & 1 == 0 { Some(Share::from_bits(i32::from(kind) << 8)) } else { None },
        trusted: kind & 2 == 0,
    })
}

fn judge(set: &Set, last: &LastBreath, proposed: Proposed, short: u32) -> u32 {
    let rise = float(last.peak.to_bits()) - float(last.baseline.to_bits());
    let leaks = last.leak.is_none_or(|leak| leak > set.leak);
    let (peak, bound, now_short) = match proposed {
        Proposed::Hold(Hold::Flagged) => {
            assert!(!last.trusted);
            return short;
        }
        Proposed::Hold(Hold::Leak) => {
            assert!(leaks);
            return short;
        }
        Proposed::Hold(Hold::NoVolume) => {
            assert!(last.volume <= Volume::ZERO || rise <= 0.0 || rise >= 32_767.9);
            return short;
        }
        Proposed::Hold(other) => panic!("{other:?}"),
        Proposed::Peak { peak, bound, short } => (peak, bound, short),
    };
    assert!(last.trusted && !leaks && last.volume > Volume::ZERO && rise > 0.0);
    let share = float(set.target.to_bits()) / float(last.volume.to_bits());
    let want = float(last.baseline.to_bits()) + rise * share;
    // The share to one step, the product to half a step.
    let allowed = rise / 65_536.0 + 2.0 / 65_536.0;
    // What lies beyond the range of a pressure is held at its end, on the way too.
    let range = |x: f64| x.clamp(-32_768.0, 32_768.0 - 1.0 / 65_536.0);
    let beyond = share >= 32_767.0 || want.abs() >= 32_767.0;
    let last_peak = float(last.peak.to_bits());
    let (up, down) = (
        range(last_peak + float(set.step.to_bits())),
        range(last_peak - float(set.step.to_bits())),
    );
    let least = range(float(last.baseline.to_bits()) + float(set.rise.to_bits()));
    let ceiling = float(set.ceiling.to_bits());
    let needed = if beyond && (share >= 32_767.0 || want > 0.0) { range(1e9) } else { range(want) };
    // By the step, by the least rise, by the ceiling.
    let stepped = needed.clamp(down, up);
    let risen = stepped.max(least);
    let wanted = risen.min(ceiling);
    let peak = float(peak.to_bits());
    assert!(
        (peak - wanted).abs() <= allowed,
        "{peak} cmH2O for {wanted} ({needed} needed): {bound:?}"
    );
    assert!(peak <= ceiling, "{peak} cmH2O above the ceiling of {ceiling}");
    // What held it last, where no border is so near that a step decides.
    let near = |a: f64, b: f64| (a - b).abs() <= 2.0 * allowed;
    let borders =
        [(needed, up), (needed, down), (stepped, least), (risen, ceiling), (needed, ceiling)];
    if !borders.iter().any(|(a, b)| near(*a, *b)) {
        let of = if risen > ceiling && needed > ceiling {
            Bound::Ceiling
        } else if risen > ceiling {
            Bound::CeilingLowered
        } else if stepped < least {
            Bound::LeastRise
        } else if needed > up || needed < down {
            Bound::Step
        } else {
            Bound::None
        };
        assert_eq!(bound, of, "{peak} cmH2O, needed {needed}, step {down} to {up}, least {least}");
    }
    // Short of it is what needs more than the ceiling, whatever holds the next peak.
    if !near(needed, ceiling) {
        assert_eq!(now_short, if needed > ceiling { short + 1 } else { 0 }, "needed {needed}");
    }
    now_short
}
