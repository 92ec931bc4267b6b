//! Minutes, load and readiness over any row of breaths, in an encoding that reaches hours.
//!
//! Eight bytes of head, then entries of twelve: what it is, how often, and what each breath is like. An entry is a
//! breath 1 to 256 times over, a step, signs, missed efforts, a pause, or the begin or end of a stretch without
//! inflations.

mod load;
mod minutes;
mod readiness;
mod sums;
mod taken;
mod trial;
mod window;

use super::arguments::mass;
use super::bytes::Bytes;
use fixed::types::I16F16;
use load::Judged;
use minutes::Kept;
use readiness::Stretch;
use taken::Taken;
use tidevane::alarm::{BreathKind, VitalSigns};
use tidevane::mechanics::TubeResistance;
use tidevane::monitor::Settings;
use tidevane::quantity::{
    Duration, Flow, Instant, Mass, Pressure, Rate, Resistance, Share, Volume,
};
use tidevane::trend::{Before, LoadCriteria, Trend};

/// More are not made of one input.
const MOST_BREATHS: u32 = 20_000;

struct Run {
    at: Instant,
    breaths: u32,
    kept: Kept,
    judged: Judged,
    stretch: Stretch,
}

/// Holds what each file says.
///
/// # Panics
/// Where one of them does not hold.
pub fn check(data: &[u8]) {
    let mut bytes = Bytes(data);
    let Some(mut run) = head(&mut bytes) else { return };
    while run.breaths < MOST_BREATHS && run.entry(&mut bytes).is_some() {}
}

fn head(bytes: &mut Bytes<'_>) -> Option<Run> {
    let (what, settle, baseline) = (bytes.u8()?, bytes.u8()? % 12, bytes.u8()? % 12);
    let (change, sustain, mass) = (bytes.u8()? % 64, bytes.u8()? % 12, mass(bytes)?);
    let size = bytes.u8()?;
    let weight = (what & 1 != 0).then_some(mass);
    let k2 = I16F16::from_num(u16::from(size) * 16);
    let tube = TubeResistance::new(Resistance::from_int(i16::from(size) / 4), k2).ok();
    let tube = tube.filter(|_| what & 2 != 0);
    let trend = Trend::new(settle, baseline);
    let wrong =
        [("settle_minutes", settle > 10), ("baseline_minutes", !(1..=10).contains(&baseline))];
    super::refused::held(&trend, &wrong);
    let criteria = LoadCriteria::new(Share::from_percent(change.into()), sustain);
    super::refused::held(
        &criteria,
        &[("change", !(5..=50).contains(&change)), ("sustain", !(1..=10).contains(&sustain))],
    );
    // The default in place of what was refused: a minute to settle, three of baseline, 15 % in two windows.
    let (mut trend, parts) = trend.map_or((Trend::default(), (1, 3)), |t| (t, (settle, baseline)));
    let (mut criteria, limits) =
        criteria.map_or((LoadCriteria::default(), (15, 2)), |c| (c, (change, sustain)));
    assert_eq!((trend.settle_minutes(), trend.baseline_minutes()), parts);
    assert_eq!(criteria.change(), Share::from_percent(limits.0.into()));
    assert_eq!(criteria.sustain(), limits.1);
    if let Some(tube) = tube {
        criteria = criteria.with_tube(tube);
    }
    if let Some(mass) = weight {
        let settings =
            Settings::builder().weight(mass).trend(trend).load(criteria).build().unwrap();
        (trend, criteria) = (settings.trend(), settings.load());
    }
    Some(Run {
        at: Instant::from_us(1_000_000),
        breaths: 0,
        kept: Kept::new(trend, parts, weight),
        judged: Judged::new(criteria, limits, (tube, weight)),
        stretch: Stretch::new(weight),
    })
}

impl Run {
    fn entry(&mut self, bytes: &mut Bytes<'_>) -> Option<()> {
        let (what, often, length, kind) = (bytes.u8()?, bytes.u8()?, bytes.u8()?, bytes.u8()?);
        let (volume, inspired, expired) = (bytes.i16()?, bytes.i16()?, bytes.i16()?);
        let (peak, late) = (bytes.u8()?, bytes.u8()?);
        let wait = Duration::from_millis(u32::from(late) * 2_500);
        match what % 16 {
            0..=9 => {
                let ml = |raw: i16| Volume::from_bits(i32::from(raw) << 7);
                let length = Duration::from_millis(u32::from(length) * 100 + 100);
                let breath = Taken {
                    length,
                    kind: BreathKind::ALL[usize::from(kind) % 3],
                    by_infant: kind & 4 != 0,
                    self_cycled: kind & 12 == 8,
                    late: kind & 76 == 64,
                    volume: (kind & 16 == 0).then_some(ml(volume)),
                    at_sensor: (kind & 32 == 0).then_some((ml(inspired), ml(expired))),
                    peak_flow: Flow::from_int(i16::from(peak) * 4),
                    expiration: Duration::from_us(length.to_us() * u64::from(late) / 256),
                    trusted: kind < 192,
                    implausible: kind >= 224,
                    shallow: false,
                };
                for _ in 0..=often {
                    self.breath(&breath);
                }
            }
            10 => {
                self.at = self.at.after(wait);
                self.kept.rebase(self.at);
                self.judged.rebase();
            }
            11 => {
                let signs = VitalSigns {
                    heart_rate: (length > 9).then_some(length.into()),
                    saturation: (kind > 9).then_some(kind % 101),
                };
                self.judged.signs(signs);
                self.stretch.signs(self.at, signs);
            }
            12 => (0..often).for_each(|_| self.kept.missed()),
            13 => self.at = self.at.after(wait),
            14 => {
                let before = Before {
                    mechanical: (kind & 1 != 0).then_some(Volume::from_int(volume)),
                    oxygen: Some(Share::from_percent(length.into())),
                    peak: Some(Pressure::from_int(peak.into())),
                    rate: (kind & 2 != 0).then_some(Rate::from_int(late.into())),
                };
                let signs = VitalSigns { heart_rate: Some(often.into()), saturation: Some(length) };
                self.stretch.begin(
                    self.at,
                    before,
                    if kind & 4 == 0 { signs } else { VitalSigns::default() },
                );
            }
            _ => self.stretch.end(self.at),
        }
        Some(())
    }

    fn breath(&mut self, breath: &Taken) {
        self.breaths += 1;
        self.at = self.at.after(breath.length);
        if self.kept.breath(self.at, breath) {
            self.judged.minute(&self.kept);
        }
        self.stretch.breath(self.at, breath);
    }
}

/// The dead space of a newborn of this weight, against which breaths are held.
fn dead_space(mass: Mass) -> Volume {
    tidevane::bedside::anatomical_dead_space(mass, Duration::ZERO).value
}
