//! What a tally says against sums in whole numbers and `f64`.

use crate::fuzzed::arguments::{STEP, float};
use tidevane::alarm::BreathKind;
use tidevane::bedside::{Form, RapidShallow};
use tidevane::quantity::{Mass, Rate, Share, Volume};
use tidevane::trend::{Tally, TrendBreath};

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
    pub(super) fn take(&mut self, breath: &TrendBreath) {
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
        self.pauses += u64::from(breath.expiration.to_us() >= 5_000_000);
        self.shallow += u64::from(breath.shallow);
        if let Some((inspired, expired)) = breath.at_sensor {
            self.inspired += float(inspired.to_bits());
            self.expired += float(expired.to_bits());
        }
        if breath.kind != BreathKind::Assured {
            self.peaks += float(breath.peak_flow.to_bits());
        }
        let sums = [self.inspired, self.expired, self.peaks, self.inspired - self.expired];
        let all = self.volumes.iter().sum::<f64>();
        for sum in sums.into_iter().chain(self.volumes).chain([all]) {
            self.most = self.most.max(sum.abs());
        }
    }

    pub(super) fn holds(&self, tally: &Tally) {
        let few = |n: u64| u16::try_from(n).unwrap_or(u16::MAX);
        let all = self.breaths.iter().sum::<u64>();
        assert_eq!(tally.breaths(), few(all));
        for kind in BreathKind::ALL {
            assert_eq!(tally.count(kind), few(self.breaths[kind as usize]));
        }
        for (got, want) in [
            (tally.by_infant(), self.by_infant),
            (tally.self_cycled(), self.self_cycled),
            (tally.missed(), self.missed),
            (tally.pauses(), self.pauses),
            (tally.implausible(), self.implausible),
            (tally.shallow(), self.shallow),
        ] {
            assert_eq!(got, few(want), "{self:?}");
        }
        let short = |us: u64| us.min(u32::MAX.into());
        assert_eq!(tally.known().to_us(), short(self.known_us));
        assert_eq!(tally.unknown().to_us(), short(self.unknown_us));
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
        let free = tally.free_volume();
        let n = self.measured[0] + self.measured[1];
        assert_eq!(free.map_or(0, |(_, n)| u64::from(n)), n);
        if let Some((mean, _)) = free {
            near(float(mean.to_bits()), self.volumes[0] + self.volumes[1], n);
        }
        let (all, measured) = (self.breaths.iter().sum::<u64>(), self.measured.iter().sum::<u64>());
        let mean = tally.mean_volume();
        assert_eq!(mean.is_some(), measured > 0 && measured * 2 >= all);
        if let Some(mean) = mean {
            near(float(mean.to_bits()), self.volumes.iter().sum(), measured);
        }
        let free = self.breaths[0] + self.breaths[1];
        let peak = tally.peak_flow();
        assert_eq!(peak.is_some(), free > 0);
        if let Some(peak) = peak {
            near(float(peak.to_bits()), self.peaks, free);
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
        for kind in BreathKind::ALL {
            check(tally.volume_share(kind), self.volumes[kind as usize], all);
        }
        check(tally.infant_share(), own + supported, all);
        check(tally.leak(), self.inspired - self.expired, self.inspired);
    }

    /// What follows from mean volume and rate.
    fn minute(&self, tally: &Tally, rate: Option<Rate>) {
        let both = tally.mean_volume().zip(rate);
        let product = |volume: Volume, rate: Rate| float(volume.to_bits()) * float(rate.to_bits());
        let close = |got: Option<Volume>, want: f64| match got {
            Some(got) => assert!((float(got.to_bits()) - want).abs() <= STEP, "{got}, not {want}"),
            None => assert!(want.abs() > 32_767.9, "{want} is in range"),
        };
        let space = Volume::from_int(2);
        let Some((mean, rate)) = both else {
            assert_eq!(tally.minute_volume(), None);
            assert_eq!(tally.alveolar_volume(space), None);
            return;
        };
        close(tally.minute_volume(), product(mean, rate));
        close(tally.alveolar_volume(space), product(mean.saturating_sub(space).value, rate));
        let mass = Mass::from_grams(1_500).unwrap();
        for (form, want) in [
            (Form::PerMl, RapidShallow::of(Form::PerMl, rate, mean, mass)),
            (Form::PerMlPerKg, RapidShallow::of(Form::PerMlPerKg, rate, mean, mass)),
            (Form::PerLitre, RapidShallow::of(Form::PerLitre, rate, mean, mass)),
        ] {
            assert_eq!(tally.rapid_shallow(form, mass), want.ok());
        }
    }
}
