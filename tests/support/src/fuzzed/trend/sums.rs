//! What a tally says against sums in whole numbers and `f64`.

use super::taken::Taken;
use crate::fuzzed::arguments::{STEP, float};
use crate::parts::{self, Part};
use fixed::types::I16F16;
use tidevane::alarm::BreathKind;
use tidevane::quantity::{Mass, Rate, Share};
use tidevane::trend::Tally;

/// Volumes keep 8 fraction bits.
const COARSE: f64 = 1.0 / 256.0;

/// Sums of volumes end at 8.3 L times a thousand: 2³¹ ÷ 256 mL.
const MOST_ML: f64 = 8_388_607.0;

#[derive(Debug, Default, Clone)]
pub(super) struct Sums {
    breaths: [u64; 3],
    measured: [u64; 3],
    volumes: [f64; 3],
    by_infant: u64,
    self_cycled: u64,
    late: u64,
    pub(super) missed: u64,
    pauses: u64,
    implausible: u64,
    shallow: u64,
    inspired: f64,
    expired: f64,
    peaks: f64,
    known_us: u64,
    unknown_us: u64,
    /// The most that any sum of volumes or flows ever came to, and of how many.
    most: f64,
    terms: u64,
}

impl Sums {
    pub(super) fn take(&mut self, breath: &Taken) {
        if !breath.trusted {
            self.implausible += u64::from(breath.implausible);
            self.unknown_us += breath.length.to_us();
            return;
        }
        let kind = breath.kind as usize;
        self.terms += 1;
        self.known_us += breath.length.to_us();
        self.breaths[kind] += 1;
        if let Some(volume) = breath.volume {
            self.measured[kind] += 1;
            self.volumes[kind] += float(volume.to_bits());
        }
        self.by_infant += u64::from(breath.by_infant);
        self.self_cycled += u64::from(breath.self_cycled);
        self.late += u64::from(breath.late);
        self.pauses += u64::from(breath.expiration.to_us() >= 5_000_000);
        self.shallow += u64::from(breath.shallow);
        if let Some((inspired, expired)) = breath.at_sensor {
            self.inspired += float(inspired.to_bits());
            self.expired += float(expired.to_bits());
        }
        if breath.kind != BreathKind::Assured {
            self.peaks += float(breath.peak_flow.to_bits());
        }
        self.reach();
    }

    fn reach(&mut self) {
        let sums = [self.inspired, self.expired, self.peaks, self.inspired - self.expired];
        let all = self.volumes.iter().sum::<f64>();
        for sum in sums.into_iter().chain(self.volumes).chain([all]) {
            self.most = self.most.max(sum.abs());
        }
    }

    /// Whether there is a trusted breath.
    pub(super) fn is_any(&self) -> bool {
        self.terms > 0
    }

    /// Of several stretches together.
    pub(super) fn joined(stretches: &[Self]) -> Self {
        let mut sum = Self::default();
        for one in stretches {
            for kind in 0..3 {
                sum.breaths[kind] += one.breaths[kind];
                sum.measured[kind] += one.measured[kind];
                sum.volumes[kind] += one.volumes[kind];
            }
            sum.by_infant += one.by_infant;
            sum.self_cycled += one.self_cycled;
            sum.late += one.late;
            sum.missed += one.missed;
            sum.pauses += one.pauses;
            sum.implausible += one.implausible;
            sum.shallow += one.shallow;
            sum.inspired += one.inspired;
            sum.expired += one.expired;
            sum.peaks += one.peaks;
            sum.known_us += one.known_us;
            sum.unknown_us += one.unknown_us;
            sum.terms += one.terms;
            sum.most = sum.most.max(one.most);
            sum.reach();
        }
        sum
    }

    pub(super) fn holds(&self, tally: &Tally) {
        let few = |n: u64| u16::try_from(n).unwrap_or(u16::MAX);
        let all = self.breaths.iter().sum::<u64>();
        assert_eq!(tally.breaths(), few(all));
        for kind in BreathKind::ALL {
            assert_eq!(tally.count(kind), few(self.breaths[kind as usize]));
        }
        assert_eq!(
            (tally.self_cycled(), tally.missed()),
            (few(self.self_cycled), few(self.missed))
        );
        let short = |us: u64| us.min(u32::MAX.into());
        let parts = parts::of(tally);
        for (name, want) in [
            ("by_infant", few(self.by_infant).into()),
            ("pauses", few(self.pauses).into()),
            ("late", few(self.late).into()),
            ("implausible", few(self.implausible).into()),
            ("shallow", few(self.shallow).into()),
            ("known_us", short(self.known_us)),
            ("unknown_us", short(self.unknown_us)),
        ] {
            assert_eq!(parts[name], [Part::Number(want as i64, 0)], "{name} of {self:?}");
        }
        if all > u64::from(u16::MAX)
            || self.known_us > u64::from(u32::MAX)
            || self.most >= MOST_ML - 1e3
        {
            return;
        }
        let rate = ((u128::from(all) * 60_000_000) << 16).checked_div(self.known_us.into());
        let rate = rate.and_then(|bits| i32::try_from(bits).ok()).map(Rate::from_bits);
        assert_eq!(tally.rate(), rate);
        self.means(tally);
        self.shares(tally);
        self.minute(tally, rate);
    }

    fn means(&self, tally: &Tally) {
        let near = |got: f64, sum: f64, n: u64| {
            assert!(
                (got - sum / n as f64).abs() <= COARSE + STEP,
                "{got}, not {sum} ÷ {n}: {self:?}"
            );
        };
        for kind in BreathKind::ALL {
            let (sum, n) = (self.volumes[kind as usize], self.measured[kind as usize]);
            let got = tally.volume(kind);
            assert_eq!(got.is_some(), n > 0);
            if let Some(got) = got {
                near(float(got.to_bits()), sum, n);
            }
        }
    }

    fn shares(&self, tally: &Tally) {
        // Each term may be off by half of 1/256.
        let off = self.terms as f64 * COARSE;
        let check = |got: Option<Share>, part: f64, whole: f64| match got {
            Some(got) => {
                let (got, want) = (float(got.to_bits()), part / whole);
                assert!(whole > -off);
                let slack = STEP + (off + off * want.abs()) / whole;
                assert!(whole <= off || (got - want).abs() <= slack, "{got}, not {want}: {self:?}");
            }
            None => assert!(whole <= off || (part / whole).abs() > 32_000.0, "{self:?}"),
        };
        let [own, supported, assured] = self.volumes;
        let all = own + supported + assured;
        check(tally.infant_share(), own + supported, all);
        check(tally.leak(), self.inspired - self.expired, self.inspired);
    }

    /// What follows from mean volume and rate.
    fn minute(&self, tally: &Tally, rate: Option<Rate>) {
        let (all, measured) = (self.breaths.iter().sum::<u64>(), self.measured.iter().sum::<u64>());
        let Some(rate) = rate.filter(|_| measured > 0 && measured * 2 >= all) else {
            assert_eq!(tally.minute_volume(), None);
            return;
        };
        let (rate, mean) =
            (float(rate.to_bits()), self.volumes.iter().sum::<f64>() / measured as f64);
        let (want, slack) = (mean * rate, (COARSE + STEP) * rate + STEP);
        match tally.minute_volume() {
            Some(got) => assert!((float(got.to_bits()) - want).abs() <= slack, "{got}, not {want}"),
            None => assert!(want.abs() > 32_767.9 - slack, "{want} is in range"),
        }
        let index = tally.rapid_shallow(Mass::from_grams(1_500).unwrap());
        // From 1 mL on a step of the mean is small beside it.
        if mean >= 1.0 {
            let index = index.unwrap().value.within().map(float_of);
            let want = rate * 1.5 / mean;
            assert!(index.is_none_or(|got| (got - want).abs() <= want * 0.01 + STEP), "{want}");
        }
    }
}

fn float_of(index: I16F16) -> f64 {
    float(index.to_bits())
}
