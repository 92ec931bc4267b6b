//! The verdict on the load against signs told from the breaths themselves, by their documents, in `f64`.
//!
//! Where a comparison is nearer than its rounding a sign may be there or not: each has two counts, one as if it
//! never were, one as if it always were, and the verdict lies between.

use super::dead_space;
use super::minutes::Kept;
use super::window::{Range, Told, Window};
use crate::fuzzed::arguments::{STEP, float};
use crate::fuzzed::words::said;
use tidevane::alarm::VitalSigns;
use tidevane::mechanics::TubeResistance;
use tidevane::quantity::Mass;
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
    /// As each sign is told.
    fn of(told: impl Fn(LoadSigns) -> Told) -> Self {
        let mut signs = Self::default();
        for &(sign, _) in LoadSigns::ALL {
            let Told { sure, maybe } = told(sign);
            signs.add(sign, sure, maybe);
        }
        signs
    }

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

/// Of most of its breaths it is not known who began them.
fn is_late(window: &Window) -> bool {
    2 * window.of(|breath| breath.late) > window.count()
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
        // Whether the breaths may be nobody's is another room's to know.
        let doubtful = kept.now().is_some_and(|now| now.count() % 4 == 3);
        let told = self.criteria.judge(&mut self.state, &kept.trend, &kept.state, || doubtful);
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
            Err(_) => self.weigh(verdict, Signs { sure: shown, maybe: shown }, false),
            Ok(signs) => {
                let with = |signs: LoadSigns| signs.with(shown);
                let late = kept.now().is_some_and(|now| is_late(&now)) || is_late(&kept.then());
                self.weigh(
                    verdict,
                    Signs { sure: with(signs.sure), maybe: with(signs.maybe) },
                    late || doubtful,
                );
            }
        }
    }

    fn weigh(&mut self, verdict: LoadVerdict, present: Signs, late: bool) {
        let mut lasting = Signs::default();
        for ([least, most], &(sign, _)) in self.lasted.iter_mut().zip(LoadSigns::ALL) {
            for (count, here) in [(&mut *least, present.sure), (&mut *most, present.maybe)] {
                let next = if here.has(sign) { *count + 1 } else { count.saturating_sub(1) };
                *count = next.min(self.sustain * 2);
            }
            lasting.add(sign, *least >= self.sustain, *most >= self.sustain);
        }
        let strong = STRONG.into_iter().fold(LoadSigns::NONE, LoadSigns::with);
        let asks = |signs: LoadSigns| both(signs, strong) != LoadSigns::NONE || count(signs) >= 2;
        let seen = (both(present.sure, strong), both(present.maybe, strong));
        let all = (lasting, present, verdict);
        match verdict {
            // Nothing speaks against the step, and who began most breaths is not known.
            LoadVerdict::CannotTell(NoVerdict::TooLittleKnown) if late => {
                assert!(lasting.sure == LoadSigns::NONE && seen.0 == LoadSigns::NONE, "{all:?}");
            }
            LoadVerdict::NoSign => {
                assert!(!late, "{all:?}");
                assert!(lasting.sure == LoadSigns::NONE && seen.0 == LoadSigns::NONE, "{all:?}");
            }
            LoadVerdict::Hold(signs) => {
                assert!(!asks(lasting.sure) && signs != LoadSigns::NONE, "{all:?}");
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

    /// What speaks against the step in the window that ended last, or why nothing can be said.
    fn present(&self, kept: &Kept) -> Result<Signs, NoVerdict> {
        let now = kept.now().filter(|_| kept.is_past_baseline()).ok_or(NoVerdict::TooSoon)?;
        let (then, before) = (kept.then(), kept.before());
        let either = |is: &dyn Fn(&Window) -> bool| is(&now) || is(&then);
        let infants = |w: &Window| w.of(|breath| breath.by_infant);
        let breathes = |w: &Window| w.is_often(infants(w), 5);
        let cycled = now.of(|breath| breath.self_cycled);
        let late = either(&is_late);
        for (is, why) in [
            (either(&|w| w.implausible() > w.count()), NoVerdict::Implausible),
            (either(&|w| w.known_us() <= w.unknown_us()), NoVerdict::TooLittleKnown),
            (now.is_often(cycled, 5), NoVerdict::SelfCycling),
            (!either(&breathes) && late, NoVerdict::TooLittleKnown),
            (!either(&breathes), NoVerdict::NotBreathing),
        ] {
            if is {
                return Err(why);
            }
        }
        let known = has_volume(&now) & has_volume(&then);
        // Where a minute volume lies at the end of the range, rounding decides.
        let asked = [kept.state.recent(), Some(*kept.state.baseline())];
        let has = |tally: Option<Tally>| tally.is_some_and(|tally| tally.minute_volume().is_some());
        let is_known = known.sure || (known.maybe && asked.into_iter().all(has));
        if !is_known {
            return Err(NoVerdict::NoVolume);
        }
        Ok(Signs::of(|sign| match sign {
            LoadSigns::RAPID_SHALLOW => rapid_shallow(&now, &then, self.change),
            LoadSigns::LESS_VOLUME => {
                let far = |was: &Window| {
                    fallen(&now, was, 0.0, 2.0 * self.change) & not(self.came_down(&now, was))
                };
                far(&then) | before.as_ref().map_or(NO, |was| has_volume(was) & far(was))
            }
            LoadSigns::FEWER_OWN => {
                let own = |w: &Window| w.a_minute(infants(w));
                let half = own(&then).times(Range::about(0.5, 0.0));
                Told::from(breathes(&then) && !late) & half.is_least(own(&now))
            }
            LoadSigns::PAUSES => {
                let pauses = |w: &Window| w.of(|breath| breath.expiration.to_us() >= 5_000_000);
                let many = now.is_often(pauses(&now), 2);
                Told::from(many) | is_more(&now, &then, pauses, 1.0)
            }
            LoadSigns::MISSED => is_more(&now, &then, |w| w.missed, 5.0),
            LoadSigns::TUBE_LOSS => self.draws_harder(&now, &then),
            LoadSigns::COSTLY_STEP => before
                .as_ref()
                .map_or(NO, |was| has_volume(was) & rapid_shallow(&now, was, 2.0 * self.change)),
            _ => self.mass.map_or(NO, |mass| {
                self.by_weight(sign, &now, [Some(&then), before.as_ref()], mass)
            }),
        }))
    }

    /// Half a cmH2O more lost in the tube, and a quarter of what was lost.
    fn draws_harder(&self, now: &Window, then: &Window) -> Told {
        let Some(tube) = self.tube else { return NO };
        let (k1, k2) = tube.coefficients();
        let (k1, k2) = (float(k1.to_bits()), float(k2.to_bits()));
        let constant = |x: f64| Range::about(x, 0.0);
        let loss = |w: &Window| {
            let flow = w.peak_flow()?.times(constant(1e-3));
            Some(flow.times(constant(k1).plus(flow.times(constant(k2)))))
        };
        let Some((now, then)) = loss(now).zip(loss(then)) else { return NO };
        let more = now.less(then);
        more.is_least(constant(0.5)) & more.is_least(then.times(constant(0.25)))
    }

    /// By so much that it counts, from above 360 mL/kg a minute to 240 at least.
    fn came_down(&self, now: &Window, was: &Window) -> Told {
        let Some(mass) = self.mass else { return NO };
        let kg = f64::from(mass.grams()) / 1_000.0;
        let limit = |per_kg: f64| Range::about(per_kg * kg, STEP);
        let both = now.minute_volume(0.0).zip(was.minute_volume(0.0));
        let usual =
            |(now, was): (Range, Range)| was.is_above(limit(360.0)) & now.is_least(limit(240.0));
        fallen(now, was, 0.0, 2.0 * self.change) & both.map_or(NO, usual)
    }

    /// Signs that need the weight.
    fn by_weight(
        &self,
        sign: LoadSigns,
        now: &Window,
        [then, before]: [Option<&Window>; 2],
        mass: Mass,
    ) -> Told {
        let kg = f64::from(mass.grams()) / 1_000.0;
        let space = float(dead_space(mass).to_bits());
        let under = |got: Option<Range>, per_kg: f64| {
            let limit = Range::about(per_kg * kg, STEP);
            got.map_or(NO, |got| got.fits() & limit.is_above(got))
        };
        match sign {
            LoadSigns::LITTLE_VOLUME => under(now.minute_volume(0.0), 125.0),
            LoadSigns::SMALL => {
                let shallow = now.of(|breath| breath.shallow);
                under(now.mean_volume(), 2.5) | (shallow * 2 > now.count()).into()
            }
            LoadSigns::LESS_ALVEOLAR => {
                let far = |was: Option<&Window>, by: f64| {
                    was.map_or(NO, |was| {
                        fallen(now, was, space, by) & not(self.came_down(now, was))
                    })
                };
                under(now.minute_volume(space), 30.0)
                    | far(then, 2.0 * self.change)
                    | far(before, 0.5)
            }
            _ => NO,
        }
    }
}

const NO: Told = Told { sure: false, maybe: false };

fn not(told: Told) -> Told {
    Told { sure: !(told.sure || told.maybe), maybe: !told.sure }
}

/// Half of the breaths have a volume, and what they make a minute is one.
fn has_volume(window: &Window) -> Told {
    window.minute_volume(0.0).map_or(NO, Range::fits)
}

/// A share of 1 more or less by so much, in its steps.
fn part(of_one: f64) -> Range {
    Range::about(of_one, STEP)
}

/// Breaths have become more frequent, and smaller: those that the machine does not assure where both windows
/// have ten of them with a volume, else all.
fn rapid_shallow(now: &Window, then: &Window, by: f64) -> Told {
    let free = now.free_volume().zip(then.free_volume());
    let Some((is, was)) = free.or(now.mean_volume().zip(then.mean_volume())) else { return NO };
    now.rate().is_least(then.rate().times(part(1.0 + by))) & was.times(part(1.0 - by)).is_least(is)
}

/// What goes beyond a volume of each breath has fallen so far from what was more than nothing.
fn fallen(now: &Window, then: &Window, beyond: f64, by: f64) -> Told {
    let both = now.minute_volume(beyond).zip(then.minute_volume(beyond));
    let Some((is, was)) = both else { return NO };
    let is_some = if beyond > 0.0 { was.is_above(Range::about(0.0, 0.0)) } else { true.into() };
    is.fits() & was.fits() & is_some & was.times(part(1.0 - by)).is_least(is)
}

/// So many a minute more than then.
fn is_more(now: &Window, then: &Window, count: impl Fn(&Window) -> u64, by: f64) -> Told {
    let limit = then.a_minute(count(then)).plus(Range::about(by, 0.0));
    now.a_minute(count(now)).is_least(limit)
}

fn when(sign: LoadSigns, is_here: bool) -> LoadSigns {
    if is_here { sign } else { LoadSigns::NONE }
}

fn both(some: LoadSigns, others: LoadSigns) -> LoadSigns {
    let here = LoadSigns::ALL.iter().filter(|(sign, _)| some.has(*sign) && others.has(*sign));
    here.fold(LoadSigns::NONE, |set, (sign, _)| set.with(*sign))
}

fn count(signs: LoadSigns) -> usize {
    LoadSigns::ALL.iter().filter(|(sign, _)| signs.has(*sign)).count()
}
