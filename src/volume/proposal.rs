//! The peak pressure that would reach a target volume, inside its bounds.
//!
//! A proposal to think about, breath by breath; it steers nothing. What a breath moved and the rise
//! that moved it give the dynamic compliance, and from that follows the rise that the target needs:
//! (target ÷ VTe) × (peak − baseline).

use crate::breath::Breath;
use crate::quantity::{Pressure, Problem, SettingError, Share, Volume, setting};
use crate::record;
use core::fmt;

/// Target and bounds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Proposal {
    target: Volume,
    step: Pressure,
    ceiling: Pressure,
    least_rise: Pressure,
    most_leak: Share,
}

/// What of the last breath counts.
#[derive(Debug, Clone, Copy)]
struct LastBreath {
    volume: Volume,
    peak: Pressure,
    baseline: Pressure,
    leak: Option<Share>,
    trusted: bool,
}

record! {
    #[const_default]
    /// For how long the target has needed more than the ceiling.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct ProposalState {
        short: u32,
    }
}

record! {
    /// The proposal for the next inflation.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[must_use]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum Proposed {
        /// This peak pressure, and what bounds it.
        Peak {
            /// The pressure.
            peak: Pressure,
            /// What holds it.
            bound: Bound,
            /// Inflations in a row whose target needs more than the ceiling, this one included.
            short: u32,
        } = 0,
        /// No change, and why.
        Hold(Hold) = 1,
    }
}

record! {
    /// What holds a proposal.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    #[non_exhaustive]
    pub enum Bound {
        /// Nothing: the target needs just this.
        None = 0,
        /// The largest change from one breath to the next.
        Step = 1,
        /// The ceiling: the target needs more.
        Ceiling = 2,
        /// The least rise above baseline.
        LeastRise = 3,
        /// The ceiling, set lower than the last peak by more than the step: the target needs no more.
        CeilingLowered = 4,
    }
}

record! {
    /// Why nothing is proposed.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[non_exhaustive]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum Hold {
        /// The breath carries a flag.
        Flagged = 0,
        /// The leak is above the limit, or not known.
        Leak = 1,
        /// The breath moved nothing, or had no rise in pressure to take a compliance from.
        NoVolume = 2,
    }
}

impl Proposal {
    /// Bounds for a target (0.5 to 2 000 mL):
    ///
    /// - `pressure_step` (0.1 to 10 cmH2O): the largest change from one breath to the next; 2 cmH2O, say (chosen
    ///   here, no source).
    /// - `ceiling` (1 to 80 cmH2O): the highest peak. Five to ten above the working peak is an
    ///   audit's rule (Biomed Res Int 2015:719497).
    /// - `least_rise` (0.5 to 20 cmH2O, below the ceiling): the smallest rise above baseline.
    /// - `most_leak` (0 to 1): above it no volume is worth aiming at; up to about 50 % volume
    ///   targeting still works (Klingenberg 2011, J Perinatol 31:575-585).
    ///
    /// # Errors
    /// Names the first parameter outside its range.
    pub fn new(
        target: Volume,
        pressure_step: Pressure,
        ceiling: Pressure,
        least_rise: Pressure,
        most_leak: Share,
    ) -> Result<Self, SettingError> {
        let cmh2o = |name, value, low, high| {
            let bound = |thousandths| Pressure::from_milli(thousandths).value;
            SettingError::within(name, value, bound(low), bound(high))
        };
        let (least, most) = (Volume::from_milli(500).value, Volume::from_int(2_000));
        SettingError::within("target", target, least, most)?;
        cmh2o("pressure_step", pressure_step, 100, 10_000)?;
        cmh2o("ceiling", ceiling, 1_000, 80_000)?;
        cmh2o("least_rise", least_rise, 500, 20_000)?;
        SettingError::within("most_leak", most_leak, Share::ZERO, Share::ONE)?;
        if least_rise >= ceiling {
            return Err(SettingError::new("least_rise", Problem::Contradiction));
        }
        Ok(Self { target, step: pressure_step, ceiling, least_rise, most_leak })
    }

    /// The step in which the peak pressure is set.
    #[must_use]
    pub const fn pressure_step(&self) -> Pressure {
        self.step
    }

    /// The least rise above the baseline.
    #[must_use]
    pub const fn least_rise(&self) -> Pressure {
        self.least_rise
    }

    /// The leak beyond which nothing is proposed.
    #[must_use]
    pub const fn most_leak(&self) -> Share {
        self.most_leak
    }

    /// The target.
    #[must_use]
    pub const fn target(&self) -> Volume {
        self.target
    }

    /// The highest peak.
    #[must_use]
    pub const fn ceiling(&self) -> Pressure {
        self.ceiling
    }

    /// The next peak pressure, after an inflation. Its `volume` is the expired one, or that in the lung
    /// where it is known; `leak` is a share of the inspired volume, `None` where it is not known. Clamped
    /// in this order: by the step, by the least rise, by the ceiling, so the ceiling always holds. One
    /// wide divide.
    pub fn step(
        &self,
        state: &mut ProposalState,
        breath: &Breath,
        volume: Volume,
        leak: Option<Share>,
    ) -> Proposed {
        let Breath { peak, baseline, .. } = *breath;
        let trusted = breath.is_trusted();
        self.after(state, &LastBreath { volume, peak, baseline, leak, trusted })
    }

    fn after(&self, state: &mut ProposalState, last: &LastBreath) -> Proposed {
        let Some(needed) = self.needed(last) else { return Proposed::Hold(self.why(last)) };
        let up = last.peak.saturating_add(self.step).value;
        let down = last.peak.saturating_sub(self.step).value;
        let least = last.baseline.saturating_add(self.least_rise).value;
        let (mut peak, mut bound) = (needed, Bound::None);
        if peak > up {
            (peak, bound) = (up, Bound::Step);
        } else if peak < down {
            (peak, bound) = (down, Bound::Step);
        }
        if peak < least {
            (peak, bound) = (least, Bound::LeastRise);
        }
        if peak >= self.ceiling && needed > self.ceiling {
            (peak, bound) = (self.ceiling, Bound::Ceiling);
        } else if peak > self.ceiling {
            (peak, bound) = (self.ceiling, Bound::CeilingLowered);
        }
        state.short = if needed > self.ceiling { state.short.saturating_add(1) } else { 0 };
        Proposed::Peak { peak, bound, short: state.short }
    }

    /// The peak that the target needs; `None` where the breath does not tell.
    fn needed(&self, last: &LastBreath) -> Option<Pressure> {
        let leaks = last.leak.is_none_or(|leak| leak > self.most_leak);
        let rise = last.peak.saturating_sub(last.baseline).within()?;
        if !last.trusted || leaks || last.volume <= Volume::ZERO || rise <= Pressure::ZERO {
            return None;
        }
        let share = self.target.share_of(last.volume)?;
        // A share out of range asks for more than any pressure, and so does what lies beyond: the step holds
        // it.
        if share.saturated {
            return Some(Pressure::MAX);
        }
        Some(last.baseline.between(last.peak, share.value))
    }

    fn why(&self, last: &LastBreath) -> Hold {
        if !last.trusted {
            Hold::Flagged
        } else if last.leak.is_none_or(|leak| leak > self.most_leak) {
            Hold::Leak
        } else {
            Hold::NoVolume
        }
    }
}

impl fmt::Display for Proposed {
    /// One sentence.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Peak { peak, bound, short } => {
                write!(f, "{peak:.1} would be the next peak pressure")?;
                match bound {
                    Bound::None => Ok(()),
                    Bound::Step => f.write_str(", held by the largest step"),
                    Bound::LeastRise => f.write_str(", held by the least rise above baseline"),
                    Bound::Ceiling => write!(
                        f,
                        ", the ceiling: the target needed more for {short} inflations in a row"
                    ),
                    Bound::CeilingLowered => f.write_str(
                        ", the ceiling, which lies below the last peak; the target needs no more",
                    ),
                }
            }
            Self::Hold(Hold::Flagged) => f.write_str("no proposal: the breath carries a flag"),
            Self::Hold(Hold::Leak) => f.write_str("no proposal: too much leak to aim at a volume"),
            Self::Hold(Hold::NoVolume) => f.write_str("no proposal: the breath moved nothing"),
        }
    }
}

setting! {
    Proposal = new {
        target: Volume, pressure_step: Pressure, ceiling: Pressure, least_rise: Pressure, most_leak: Share,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::string::ToString;

    fn cmh2o(milli: i32) -> Pressure {
        Pressure::from_milli(milli).value
    }

    /// Target 5 mL, step 4, least rise 2 cmH2O, leak up to 50 %.
    fn proposal(ceiling: i16) -> Proposal {
        let half = Share::from_percent(50);
        let (five, four) = (Volume::from_int(5), Pressure::from_int(4));
        let two = Pressure::from_int(2);
        Proposal::new(five, four, Pressure::from_int(ceiling), two, half).unwrap()
    }

    fn last(peak: i16, volume_milli: i32) -> LastBreath {
        LastBreath {
            volume: Volume::from_milli(volume_milli).value,
            peak: Pressure::from_int(peak),
            baseline: Pressure::from_int(5),
            leak: Some(Share::from_percent(10)),
            trusted: true,
        }
    }

    /// -32 700 + 32 750 × 5/4.995 is 82.8 cmH2O, above the ceiling; -32 700 + 32 763 × 5/4.999 is 69.6, though
    /// 32 769.6 alone is out of range.
    #[test]
    fn what_is_needed_is_told_where_the_rise_alone_is_out_of_range() {
        let (mut state, proposal) = (ProposalState::default(), proposal(70));
        let mut short = |peak, volume_milli| {
            let baseline = Pressure::from_int(-32_700);
            match proposal.after(&mut state, &LastBreath { baseline, ..last(peak, volume_milli) }) {
                Proposed::Peak { short, .. } => short,
                Proposed::Hold(why) => panic!("{why:?}"),
            }
        };
        assert_eq!(short(50, 4_995), 1);
        assert_eq!(short(63, 4_999), 0);
    }

    fn proposed(ceiling: i16, peak: i16, volume_milli: i32) -> (Pressure, Bound) {
        let mut state = ProposalState::default();
        match proposal(ceiling).after(&mut state, &last(peak, volume_milli)) {
            Proposed::Peak { peak, bound, .. } => (peak, bound),
            Proposed::Hold(why) => panic!("{why:?}"),
        }
    }

    #[test]
    fn the_next_peak_follows_the_compliance_inside_its_bounds() {
        // Arithmetic: needed = 5 + (target ÷ VTe) × (peak − 5).
        // 42: 5/4 × 10 = 12.5: 17.5, inside the step of 4.
        assert_eq!(proposed(30, 15, 4_000), (cmh2o(17_500), Bound::None));
        // 43: 5/3 × 10 = 16.67: 21.667, so 15 + 4 = 19.
        assert_eq!(proposed(30, 15, 3_000), (cmh2o(19_000), Bound::Step));
        // 44: 5/7.5 × 15 = 10: 15, so 20 − 4 = 16.
        assert_eq!(proposed(30, 20, 7_500), (cmh2o(16_000), Bound::Step));
        // 45: 5/3 × 19 = 31.7: 36.7, step to 28, ceiling 25: target not met.
        assert_eq!(proposed(25, 24, 3_000), (cmh2o(25_000), Bound::Ceiling));
        // A very compliant breath: 5/50 × 3 = 0.3: 5.3, but at least 5 + 2.
        assert_eq!(proposed(30, 8, 50_000), (cmh2o(7_000), Bound::LeastRise));
    }

    #[test]
    fn a_rise_of_next_to_nothing_asks_for_a_whole_step() {
        // 1/65 536 mL moved by 1/65 536 cmH2O: 5 mL ask for 5 cmH2O, 327 680 times the rise.
        let next_to_nothing = LastBreath {
            volume: Volume::STEP,
            peak: Pressure::from_int(5).saturating_add(Pressure::STEP).value,
            ..last(5, 0)
        };
        let proposed = proposal(30).after(&mut ProposalState::default(), &next_to_nothing);
        assert!(matches!(proposed, Proposed::Peak { bound: Bound::Step, .. }), "{proposed}");
    }

    #[test]
    fn misses_at_the_ceiling_are_counted() {
        let (proposal, mut state) = (proposal(25), ProposalState::default());
        for n in 1..=3 {
            let Proposed::Peak { short, bound, .. } = proposal.after(&mut state, &last(25, 3_000))
            else {
                panic!()
            };
            assert_eq!((short, bound), (n, Bound::Ceiling));
        }
        let reached = proposal.after(&mut state, &last(25, 5_000));
        assert!(
            matches!(reached, Proposed::Peak { short: 0, bound: Bound::None, .. }),
            "{reached}"
        );
        // A held breath neither counts nor clears.
        let _ = proposal.after(&mut state, &last(25, 3_000));
        let flagged = LastBreath { trusted: false, ..last(25, 3_000) };
        assert_eq!(proposal.after(&mut state, &flagged), Proposed::Hold(Hold::Flagged));
        let again = proposal.after(&mut state, &last(25, 3_000));
        assert!(matches!(again, Proposed::Peak { short: 2, .. }));
        assert_eq!(
            again.to_string(),
            "25.0 cmH2O would be the next peak pressure, the ceiling: the target needed more for 2 \
             inflations in a row"
        );
    }

    #[test]
    fn a_ceiling_lowered_below_the_peak_is_no_miss() {
        // 6 mL at 25 over 5 cmH2O: 5/6 × 20 = 16.7, so 21.7 would do, and by a step of 4 down 21; a
        // ceiling of 20 holds lower still, and needs 21.7: a miss. 10 mL need 15: the ceiling holds
        // the step, and the target needs no more.
        assert_eq!(proposed(20, 25, 6_000), (cmh2o(20_000), Bound::Ceiling));
        let (proposal, mut state) = (proposal(20), ProposalState::default());
        let lowered = proposal.after(&mut state, &last(25, 10_000));
        assert!(matches!(lowered, Proposed::Peak { bound: Bound::CeilingLowered, short: 0, .. }));
        assert!(lowered.to_string().ends_with("the target needs no more"), "{lowered}");
        // On the way up with 30 to go the step holds, and the need passes the ceiling: that counts.
        let up = proposal.after(&mut state, &last(10, 1_000));
        assert!(matches!(up, Proposed::Peak { bound: Bound::Step, short: 1, .. }), "{up}");
    }

    #[test]
    fn nothing_is_proposed_where_the_breath_does_not_tell() {
        let hold =
            |breath: LastBreath| match proposal(30).after(&mut ProposalState::default(), &breath) {
                Proposed::Hold(why) => why,
                Proposed::Peak { .. } => panic!(),
            };
        let breath = last(15, 4_000);
        assert_eq!(hold(LastBreath { trusted: false, ..breath }), Hold::Flagged);
        assert_eq!(hold(LastBreath { leak: None, ..breath }), Hold::Leak);
        assert_eq!(hold(LastBreath { leak: Some(Share::from_percent(51)), ..breath }), Hold::Leak);
        assert_eq!(hold(LastBreath { volume: Volume::ZERO, ..breath }), Hold::NoVolume);
        assert_eq!(hold(LastBreath { peak: Pressure::from_int(5), ..breath }), Hold::NoVolume);
    }

    #[test]
    fn settings_are_checked() {
        let new = |target, step, ceiling, rise, leak| {
            let p = Pressure::from_int;
            Proposal::new(
                Volume::from_int(target),
                p(step),
                p(ceiling),
                p(rise),
                Share::from_percent(leak),
            )
            .map_err(|e| (e.parameter, e.problem))
        };
        assert_eq!(new(0, 3, 30, 2, 50), Err(("target", Problem::TooSmall)));
        assert_eq!(new(5, 11, 30, 2, 50), Err(("pressure_step", Problem::TooLarge)));
        assert_eq!(new(5, 3, 81, 2, 50), Err(("ceiling", Problem::TooLarge)));
        assert_eq!(new(5, 3, 10, 10, 50), Err(("least_rise", Problem::Contradiction)));
        assert_eq!(new(5, 3, 30, 2, 101), Err(("most_leak", Problem::TooLarge)));
        assert!(new(5, 3, 30, 2, 50).is_ok());
    }

    #[test]
    fn what_lies_just_at_a_bound_is_not_held_by_it() {
        // Over 5 cmH2O, for 5 mL: a rise of 4 that moved 10 needs half of it, the least rise; one of 8 needs 4, a step
        // down; one of 4 that moved 2.5 needs 8, a step up and, at 13, the ceiling.
        assert_eq!(proposed(30, 9, 10_000), (cmh2o(7_000), Bound::None));
        assert_eq!(proposed(30, 13, 10_000), (cmh2o(9_000), Bound::None));
        assert_eq!(proposed(30, 9, 2_500), (cmh2o(13_000), Bound::None));
        let mut state = ProposalState::default();
        let at_ceiling = proposal(13).after(&mut state, &last(9, 2_500));
        let free = Proposed::Peak { peak: cmh2o(13_000), bound: Bound::None, short: 0 };
        assert_eq!(at_ceiling, free);
        // A leak of just the most: 50 %.
        let leak = Some(Share::from_percent(50));
        let leaky = proposal(30).after(&mut state, &LastBreath { leak, ..last(9, 10_000) });
        assert_eq!(leaky, Proposed::Peak { peak: cmh2o(7_000), bound: Bound::None, short: 0 });
        let none = LastBreath { leak, ..last(9, 0) };
        assert_eq!(proposal(30).after(&mut state, &none), Proposed::Hold(Hold::NoVolume));
    }
}
