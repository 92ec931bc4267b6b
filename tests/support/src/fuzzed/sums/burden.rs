//! How much alarms ring, against a list of all; priorities by condition.

use crate::fuzzed::arguments::span;
use crate::fuzzed::bytes::Bytes;
use crate::fuzzed::words::said;
use std::collections::BTreeMap;
use tidevane::alarm::{AlarmEvent, Burden, Change, Condition, Priorities, Priority};
use tidevane::quantity::{Instant, Share};

pub(super) fn check(bytes: &mut Bytes<'_>) -> Option<()> {
    let watched = span(bytes)?;
    let (_, changed) = (bytes.u8()?, bytes.u8()?);
    let all: Vec<_> = Condition::all().collect();
    for (index, condition) in all.iter().enumerate() {
        assert_eq!(condition.index(), index);
    }
    let (one, priority) =
        (all[usize::from(changed) % all.len()], Priority::ALL[usize::from(changed) % 3]);
    let table = Priorities::default();
    let other = table.with(one, priority);
    for condition in &all {
        let want = if *condition == one { priority } else { table.of(*condition) };
        assert_eq!(other.of(*condition), want);
        assert!(!want.name().is_empty());
        said(condition);
    }
    let (mut burden, mut at) = (Burden::default(), 0_u64);
    let (mut began, mut ended, mut rung) = (BTreeMap::new(), Vec::new(), 0_u64);
    for _ in 0..bytes.u8()? % 32 {
        let (what, wait) = (bytes.u8()?, u64::from(bytes.u8()?));
        at += wait * wait * 4_000;
        let condition = all[usize::from(what >> 1) % 4];
        let change = if what & 1 == 0 { Change::On } else { Change::Off };
        let priority = table.of(condition);
        let value = None;
        burden.learn(&AlarmEvent { at: Instant::from_us(at), condition, priority, change, value });
        match change {
            Change::On => {
                began.insert(condition.index(), at);
                rung += 1;
            }
            Change::Off => ended.extend(began.remove(&condition.index()).map(|since| at - since)),
        }
    }
    let brief = ended.iter().filter(|us| **us < 60_000_000).count();
    let part = |a: u64, b: u64| (a << 16).checked_div(b).map(|bits| bits.min(i32::MAX as u64));
    let bits = |share: Option<i32>| share.map(|bits| bits as u64);
    assert_eq!(
        bits(burden.brief_share().map(Share::to_bits)),
        part(brief as u64, ended.len() as u64)
    );
    let want = ((u128::from(rung) * 3_600_000_000) << 16).checked_div(watched.to_us().into());
    let hour = burden.per_hour(watched).map(|n| n.to_bits() as u128);
    assert_eq!(hour, want.map(|bits| bits.min(i32::MAX as u128)), "{rung} in {watched}");
    Some(())
}
