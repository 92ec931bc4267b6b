//! The verdict on the load against signs counted again in `f64`.
//!
//! Where a comparison is nearer than its rounding, or its limit is not in the documents, a sign may be there or
//! not: each has two counts, one as if it never were, one as if it always were, and the verdict lies between.

use super::dead_space;
use super::minutes::Kept;
use crate::fuzzed::arguments::{STEP, float};
use crate::fuzzed::words::said;
use tidevane::alarm::VitalSigns;
use tidevane::mechanics::TubeResistance;
use tidevane::quantity::{Mass, Volume};
use tidevane::trend::{LoadCriteria, LoadSigns, LoadState, LoadVerdict, NoVerdict, Tally};

/// Those of which one alone speaks for a step back.
const STRONG: [LoadSigns; 7] = [
    LoadSigns::RAPID_SHALLOW,
    LoadSigns::LESS_VOLUME,
    LoadSigns::FEWER_OWN,
    LoadSigns::LITTLE_VOLUME,
    LoadSigns::LESS_ALVEOLAR,
    LoadSigns::SLOW_HEART,
    LoadSigns::LOW_SATURATION,
];

/// Signs that are certainly there, and those that may be.
#[derive(Debug, Clone, Copy, Default)]
struct Signs {
    sure: LoadSigns,
    maybe: LoadSigns,
}

impl Signs {
    fn add(&mut self, sign: LoadSigns, sure: bool, maybe: bool) {
        self.sure = self.sure.with(when(sign, sure));
        self.maybe = self.maybe.with(when(sign, sure || maybe));
    }
}

pub(super) struct Judged {
    criteria: LoadCriteria,
    state: LoadState,
    change: f64,
    sustain: u8,
    tube: Option<TubeResistance>,
    mass: Option<Mass>,
    /// How long each sign has lasted at least, and at most.
    lasted: [[u8; 2]; 12],
    shown: LoadSigns,
    showing: LoadSigns,
}

impl Judged {
    pub(super) fn new(
        criteria: LoadCriteria,
        (change, sustain): (u8, u8),
        (tube, mass): (Option<TubeResistance>, Option<Mass>),
    ) -> Self {
        Self {
            criteria,
            state: LoadState::default(),
            change: f64::from(change) / 100.0,
            sustain,
            tube,
            mass,
            lasted: [[0; 2]; 12],
            shown: LoadSigns::NONE,
            showing: LoadSigns::NONE,
        }
    }

    pub(super) fn signs(&mut self, signs: VitalSigns) {
        self.criteria.set_vital_signs(&mut self.state, signs);
        let slow = signs.heart_rate.is_some_and(|rate| rate < 100);
        let low = signs.saturation.is_some_and(|percent| percent < 85);
        self.showing = when(LoadSigns::SLOW_HEART, slow).with(when(LoadSigns::LOW_SATURATION, low));
        self.shown = self.shown.with(self.showing);
    }

    pub(super) fn rebase(&mut self) {
        self.criteria.rebase(&mut self.state);
        self.lasted = [[0; 2]; 12];
        assert_eq!(self.state.verdict(), LoadVerdict::CannotTell(NoVerdict::TooSoon));
    }

    pub(super) fn minute(&mut self, kept: &Kept) {
        let before = self.state.verdict();
        let told = self.criteria.judge(&mut self.state, &kept.trend, &kept.state);
        let verdict = self.state.verdict();
        assert_eq!(told, (verdict != before).then_some(verdict));
        let words = said(&verdict);
        assert!(words.starts_with(verdict.name()), "{words}");
        let shown = std::mem::replace(&mut self.shown, self.showing);
        match self.present(kept) {
            Err(why) if shown == LoadSigns::NONE => {
                self.lasted = [[0; 2]; 12];
                assert_eq!(verdict, LoadVerdict::CannotTell(why));
            }
            Err(_) => self.weigh(verdict, Signs { sure: shown, maybe: shown }),
            Ok(signs) => {
                let with = |signs: LoadSigns| signs.with(shown);
                self.weigh(verdict, Signs { sure: with(signs.sure), maybe: with(signs.maybe) });
            }
        }
    }

    fn weigh(&mut self, verdict: LoadVerdict, present: Signs) {
        let mut lasting = Signs::default();
        for ([least, most], &(sign, _)) in self.lasted.iter_mut().zip(LoadSigns::ALL) {
            for (count, here) in [(&mut *least, present.sure), (&mut *most, present.maybe)] {
                let next = if here.has(sign) { *count + 1 } else { count.saturating_sub(1) };
                *count = next.min(self.sustain * 2);
            }
            lasting.add(sign, *least >= self.sustain, *most >= self.sustain);
        }
        let strong = STRONG.into_iter().fold(LoadSigns::NONE, LoadSigns::with);
        let asks = |signs: LoadSigns| !signs.and(strong).is_empty() || signs.count() >= 2;
        let seen = (present.sure.and(strong), present.maybe.and(strong));
        let all = (lasting, present, verdict);
        match verdict {
            LoadVerdict::NoSign => {
                assert!(lasting.sure.is_empty() && seen.0.is_empty(), "{all:?}");
            }
            LoadVerdict::Hold(signs) => {
                assert!(!asks(lasting.sure) && !signs.is_empty(), "{all:?}");
                assert!(signs.has(lasting.sure.with(seen.0)), "{all:?}");
                assert!(lasting.maybe.with(seen.1).has(signs), "{all:?}");
            }
            LoadVerdict::StepBack(signs) => {
                assert!(asks(signs) && signs.has(lasting.sure), "{all:?}");
                assert!(lasting.maybe.has(signs), "{all:?}");
            }
            LoadVerdict::CannotTell(_) => panic!("{all:?}"),
        }
    }

    fn present(&self, kept: &Kept) -> Result<Signs, NoVerdict> {
        let recent = kept.state.recent().filter(|_| kept.is_past_baseline());
        let (now, then) = (&recent.ok_or(NoVerdict::TooSoon)?, kept.state.baseline());
        let both = [now, then];
        if both.iter().any(|t| t.implausible() > t.breaths()) {
            return Err(NoVerdict::Implausible);
        }
        if both.iter().any(|t| t.known() <= t.unknown()) {
            return Err(NoVerdict::TooLittleKnown);
        }
        // In millionths of an event, so that nothing is rounded: at least n a minute.
        let often =
            |t: &Tally, count: u16, n: u64| u64::from(count) * 60_000_000 >= n * t.known().to_us();
        if often(now, now.self_cycled(), 5) {
            return Err(NoVerdict::SelfCycling);
        }
        if !often(now, now.by_infant(), 5) && !often(then, then.by_infant(), 5) {
            return Err(NoVerdict::NotBreathing);
        }
        let usual = Comparison::of(now, then).ok_or(NoVerdict::NoVolume)?;
        let mut signs = Signs::default();
        let rate = |t: &Tally, count: u16| f64::from(count) * 6e7 / t.known().to_us() as f64;
        let (own, owned) = (rate(now, now.by_infant()), rate(then, then.by_infant()));
        let fewer = owned >= 5.0;
        let half = 2.0 * STEP;
        let (sure, maybe) = (own <= owned / 2.0 - half, own <= owned / 2.0 + half);
        signs.add(LoadSigns::FEWER_OWN, fewer && sure, fewer && maybe);
        let many = often(now, now.pauses(), 2);
        let more = rate(now, now.pauses()) > rate(then, then.pauses());
        signs.add(LoadSigns::PAUSES, many, more);
        let more = rate(now, now.missed()) > rate(then, then.missed());
        signs.add(LoadSigns::MISSED, false, more);
        let (sure, maybe) = self.draws_harder(now, then);
        signs.add(LoadSigns::TUBE_LOSS, sure, maybe);
        let (sure, maybe) = usual.is_rapid_shallow(self.change);
        signs.add(LoadSigns::RAPID_SHALLOW, sure, maybe);
        let (mut sure, mut maybe) = usual.has_less(2.0 * self.change);
        if let Some(step) = kept.state.before().and_then(|before| Comparison::of(now, before)) {
            let (costly, or) = step.is_rapid_shallow(2.0 * self.change);
            signs.add(LoadSigns::COSTLY_STEP, costly, or);
            let far = step.has_less(2.0 * self.change);
            (sure, maybe) = (sure || far.0, maybe || far.1);
        }
        signs.add(LoadSigns::LESS_VOLUME, sure, maybe);
        self.by_weight(now, [Some(then), kept.state.before()], &mut signs);
        Ok(signs)
    }

    fn draws_harder(&self, now: &Tally, then: &Tally) -> (bool, bool) {
        let Some(tube) = self.tube else { return (false, false) };
        let (k1, k2) = tube.coefficients();
        let loss = |t: &Tally| {
            let flow = float(t.peak_flow()?.to_bits()) / 1_000.0;
            Some(flow * (float(k1.to_bits()) + float(k2.to_bits()) * flow.abs()))
        };
        let Some((now, then)) = loss(now).zip(loss(then)) else { return (false, false) };
        let (more, slack) = (now - then, 4.0 * STEP + now.abs() * 1e-5);
        let by = |limit: f64| more >= limit;
        let harder = |slack: f64| by(0.5 + slack) && by(then / 4.0 + slack);
        (harder(slack), harder(-slack))
    }

    fn by_weight(&self, now: &Tally, then: [Option<&Tally>; 2], signs: &mut Signs) {
        let Some(mass) = self.mass else { return };
        let space = dead_space(mass);
        let kg = f64::from(mass.grams()) / 1_000.0;
        let under = |got: Option<Volume>, least: f64| {
            let got = got.map(|v| float(v.to_bits()));
            let by = |slack: f64| got.is_some_and(|got| got < least * kg + slack);
            (by(-STEP), by(STEP))
        };
        let (sure, maybe) = under(now.minute_volume(), 125.0);
        signs.add(LoadSigns::LITTLE_VOLUME, sure, maybe);
        let (sure, maybe) = under(now.mean_volume(), 2.5);
        let most = u32::from(now.shallow()) * 2 > u32::from(now.breaths());
        signs.add(LoadSigns::SMALL, sure || most, maybe || most);
        let beyond = now.alveolar_volume(space);
        let (sure, maybe) = under(beyond, 30.0);
        // By far more than the whole: how far is not in the documents.
        let fallen = then
            .into_iter()
            .flatten()
            .any(|then| then.alveolar_volume(space).zip(beyond).is_some_and(|(was, is)| is < was));
        signs.add(LoadSigns::LESS_ALVEOLAR, sure, maybe || fallen);
    }
}

/// Now and then, in `f64`.
struct Comparison {
    rate: (f64, f64),
    volume: (f64, f64),
    minute: (f64, f64),
}

impl Comparison {
    fn of(now: &Tally, then: &Tally) -> Option<Self> {
        let free = |t: &Tally| t.free_volume().filter(|(_, n)| *n >= 10).map(|(volume, _)| volume);
        let volume = free(now).zip(free(then)).or(now.mean_volume().zip(then.mean_volume()))?;
        let of = |(a, b): (Volume, Volume)| (float(a.to_bits()), float(b.to_bits()));
        let rate = now.rate().zip(then.rate())?;
        Some(Self {
            rate: (float(rate.0.to_bits()), float(rate.1.to_bits())),
            volume: of(volume),
            minute: of(now.minute_volume().zip(then.minute_volume())?),
        })
    }

    fn is_rapid_shallow(&self, by: f64) -> (bool, bool) {
        let slack = self.rate.1 * 2.0 * STEP + 2.0 * STEP;
        let faster = |slack: f64| self.rate.0 >= self.rate.1 * (1.0 + by) + slack;
        let (sure, maybe) = is_less(self.volume, by);
        (faster(slack) && sure, faster(-slack) && maybe)
    }

    fn has_less(&self, by: f64) -> (bool, bool) {
        is_less(self.minute, by)
    }
}

/// Surely, and maybe: a share has steps of 1/65 536.
fn is_less((now, then): (f64, f64), by: f64) -> (bool, bool) {
    let slack = then.abs() * 2.0 * STEP + 2.0 * STEP;
    let limit = then * (1.0 - by);
    (now <= limit - slack, now <= limit + slack)
}

fn when(sign: LoadSigns, is_here: bool) -> LoadSigns {
    if is_here { sign } else { LoadSigns::NONE }
}
