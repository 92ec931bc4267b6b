//! How far the pressure left over usually rises, so that what the model gets wrong each time is no effort.

use crate::quantity::{Pressure, Share};
use crate::record;

record! {
    #[const_default]
    /// A lower quarter of the rises of late, as a share of the machine's rise of pressure: three breaths in
    /// four may hold an effort and still stand out, and full inflations may alternate with supported ones.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct UsualRise {
        share: Share,
        count: u8,
    }
}

/// No more of a rise counts.
const MOST: Share = Share::from_percent(40);
/// No step is taken for more than this.
const STEP: Share = Share::from_percent(10);
/// 10 and 3 in 64: down and up balance where a quarter lies below. Chosen here, no source.
const DOWN: Share = Share::from_int(10).halved(6);
const UP: Share = Share::from_int(3).halved(6);
/// The first ones count half.
const FIRST: u8 = 6;
const ENOUGH: u8 = 4;

impl UsualRise {
    /// Takes the rise of one breath, under or after a machine's rise `of` so much; nothing where there was
    /// none. One wide divide.
    pub(super) fn take(&mut self, rise: Pressure, of: Pressure) {
        let Some(share) = rise.max(Pressure::ZERO).share_of(of) else { return };
        let share = share.value.max(Share::ZERO).min(MOST);
        let above = share.saturating_sub(self.share).value;
        self.share = if self.count == 0 {
            share
        } else if self.count < FIRST {
            self.share.lowpass(self.share.min(share), 1)
        } else if above < Share::ZERO {
            let below = Share::ZERO.saturating_sub(above).value.min(STEP);
            self.share.saturating_sub(below.times(DOWN).value).value
        } else {
            self.share.saturating_add(above.min(STEP).times(UP).value).value
        };
        self.count = self.count.saturating_add(1);
    }

    /// What stands out by a margin from what is usual for a machine's rise `of` so much; `first` until
    /// enough breaths were seen.
    pub(super) fn and(&self, of: Pressure, margin: Pressure, first: Pressure) -> Pressure {
        if self.count < ENOUGH {
            first
        } else {
            of.times(self.share).value.saturating_add(margin).value
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn milli(x: i32) -> Pressure {
        Pressure::from_milli(x).value
    }

    #[test]
    fn what_every_breath_shows_is_usual_for_its_rise() {
        let mut usual = UsualRise::default();
        let ten = Pressure::from_int(10);
        assert_eq!(usual.and(ten, milli(600), milli(2_000)), milli(2_000));
        // 1.5 after 10 cmH2O and 0.75 after 5, in turn: 15 %.
        for i in 0..20 {
            let (rise, of) = if i % 2 == 0 { (1_500, 10) } else { (750, 5) };
            usual.take(milli(rise), Pressure::from_int(of));
        }
        let level = |of| usual.and(Pressure::from_int(of), milli(600), milli(2_000)).to_f64();
        assert!((level(10) - 2.1).abs() < 1e-3 && (level(5) - 1.35).abs() < 1e-3, "{}", level(10));
        // Without a machine's rise nothing is learned.
        let before = usual;
        usual.take(milli(3_000), Pressure::ZERO);
        assert_eq!(usual, before);
    }

    #[test]
    fn what_three_breaths_in_four_show_is_not() {
        let (mut usual, ten) = (UsualRise::default(), Pressure::from_int(10));
        // 3 of 10 cmH2O in three of four, 0.2 else: down by 10/64 of the distance, of a tenth at most, and up
        // by 3/64 of that.
        for i in 0..400 {
            usual.take(if i % 4 == 0 { milli(200) } else { milli(3_000) }, ten);
        }
        let level = usual.and(ten, Pressure::ZERO, Pressure::ZERO).to_f64();
        assert!((0.2..1.5).contains(&level), "{level}");
    }

    #[test]
    fn a_step_down_and_one_up() {
        let ten = Pressure::from_int(10);
        let mut usual = UsualRise { share: Share::from_percent(20), count: FIRST };
        let level = |usual: &UsualRise| usual.and(ten, Pressure::ZERO, Pressure::ZERO).to_f64();
        usual.take(milli(500), ten);
        // 0.2 − 0.1 × 10/64 = 0.184375; then up by 0.1 × 3/64 = 0.1890625.
        assert!((level(&usual) - 1.843_75).abs() < 1e-3, "{}", level(&usual));
        usual.take(milli(9_000), ten);
        assert!((level(&usual) - 1.890_625).abs() < 1e-3, "{}", level(&usual));
    }
}
