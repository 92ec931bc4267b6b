//! Jumps of compliance and resistance along rows of passive breaths.
//!
//! What is usual lies between the least and the most of the breaths that are: where a breath is off, or not, against
//! both, its place in a row is certain, and so is what must be told. Where it is not the row ends.

use crate::fuzzed::bytes::Bytes;
use crate::fuzzed::words::said;
use tidevane::mechanics::{FitOutcome, Jump, Jumps, NoFit};
use tidevane::quantity::{Compliance, Duration, Instant, Pressure, Resistance, Share};

/// A jump, as its numbers: since when, from what and to what.
type Told = Option<(Instant, i32, i32)>;

/// One value of the two.
struct Course {
    /// What counts as off.
    percent: i64,
    seen: u32,
    /// Least and most of what may be usual.
    usual: (i64, i64),
    last_usual: Instant,
    /// Those in a row that lie off, all to one side.
    row: Vec<i64>,
}

pub(super) fn check(bytes: &mut Bytes<'_>) -> Option<()> {
    let (mut stiff, mut narrow) =
        (i32::from(bytes.u16()?) * 8 + 64, i32::from(bytes.u16()?) * 800 + 800);
    let (mut jumps, mut at) = (Jumps::default(), 0_u64);
    let mut courses = [Course::new(15), Course::new(20)];
    for place in 0..bytes.u8()? {
        let (what, by) = (bytes.u8()?, i64::from(bytes.u8()?));
        at += 1_000 * (u64::from(what) + 1);
        let onset = Instant::from_us(at);
        if what % 8 == 7 {
            let before = jumps;
            assert_eq!(jumps.step(onset, &FitOutcome::Unknown(NoFit::NotPassive)), [None; 2]);
            assert_eq!(jumps, before, "a breath of which nothing is known");
            continue;
        }
        // From 36 to 164 % of what came before, or all of it, from one breath on or in it alone.
        let percent = if what & 8 == 0 || place < 6 { 100 } else { 36 + by / 2 };
        let part = |of: i32| i32::try_from(i64::from(of) * percent / 100).unwrap().max(1);
        let (c, r) = match what % 3 {
            0 => (part(stiff), narrow),
            1 => (stiff, part(narrow)),
            _ => (part(stiff), part(narrow)),
        };
        if what & 16 != 0 {
            (stiff, narrow) = (c.clamp(64, 200 << 16), r.clamp(800, 2_000 << 16));
        }
        let got = jumps.step(onset, &passive(c, r));
        let [stiffer, narrower] = &mut courses;
        let of_compliance = numbers(got[0], |jump| match jump {
            Jump::Compliance { since, before, after } => {
                Some((since, before.to_bits(), after.to_bits()))
            }
            Jump::Resistance { .. } => None,
        });
        let of_resistance = numbers(got[1], |jump| match jump {
            Jump::Resistance { since, before, after } => {
                Some((since, before.to_bits(), after.to_bits()))
            }
            Jump::Compliance { .. } => None,
        });
        stiffer.step(onset, c.into(), of_compliance)?;
        narrower.step(onset, r.into(), of_resistance)?;
    }
    Some(())
}

fn passive(compliance: i32, resistance: i32) -> FitOutcome {
    FitOutcome::Known {
        baseline: Pressure::ZERO,
        compliance: Compliance::from_bits(compliance),
        resistance: Resistance::from_bits(resistance),
        goodness: Share::ONE,
        time_constant: Duration::ZERO,
    }
}

fn numbers(jump: Option<Jump>, of: impl Fn(Jump) -> Told) -> Told {
    let jump = jump?;
    assert!(said(&jump).starts_with("passive breaths: "));
    Some(of(jump).expect("a jump of the other kind"))
}

impl Course {
    fn new(percent: i64) -> Self {
        let (seen, row) = (0, Vec::new());
        Self { percent, seen, usual: (i64::MAX, i64::MIN), last_usual: Instant::default(), row }
    }

    /// None where it cannot be certain what must be told.
    fn step(&mut self, onset: Instant, value: i64, told: Told) -> Option<()> {
        let (least, most) = self.usual;
        // Six make a usual value.
        let (above, below, within) = if self.seen < 6 {
            (false, false, true)
        } else {
            // More than so many percent of what is usual, a step of rounding aside: of the value's, and of the share's,
            // which is held in 1/65 536.
            let far = |usual: i64, steps: i64| {
                usual * self.percent + steps * (100 + usual * 100 / 65_536)
            };
            (
                (value - most) * 100 > far(most, 1),
                (least - value) * 100 > far(least, 1),
                (value - least) * 100 <= far(least, -1) && (most - value) * 100 <= far(most, -1)
                    || (least == value && most == value),
            )
        };
        self.seen += 1;
        if within {
            assert_eq!(told, None, "{value} is usual: {:?}", self.usual);
            self.usual = (least.min(value), most.max(value));
            (self.last_usual, self.row) = (onset, Vec::new());
            return Some(());
        }
        if !above && !below {
            return None;
        }
        if self.row.first().is_some_and(|first| (*first > most) != above) {
            self.row.clear();
        }
        self.row.push(value);
        if self.row.len() < 4 {
            assert_eq!(told, None, "{:?} in a row, against {:?}", self.row, self.usual);
            return Some(());
        }
        let (since, before, after) = told.expect("the fourth in a row");
        let mean = self.row.iter().sum::<i64>() / 4;
        assert_eq!((since, i64::from(after)), (self.last_usual, mean), "{:?}", self.row);
        assert!(
            (least..=most).contains(&i64::from(before)),
            "{before} was not usual: {:?}",
            self.usual
        );
        (self.usual, self.last_usual) = ((mean, mean), onset);
        self.row.clear();
        Some(())
    }
}
