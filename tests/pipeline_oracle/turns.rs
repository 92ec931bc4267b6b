//! Where breaths begin and turn, found again from the flow into the lung in `f64`, by what the segmenter's page says:
//! its own turns, its own usual breath. No border is given to it. Where the page is silent it follows the code, and
//! cannot speak against it: what came again confirms no turn before the next reading, a level before breaths are known
//! takes the peak before the turn, and the reach of a quiet end is the monitor's own.

use crate::quiet::Blocks;
use crate::track::Point;

/// mL/s and mL.
const MIN_FLOW: f64 = 1.0;
const MIN_VOLUME: f64 = 0.25;
/// The flow may creep from a quarter of the level up to it for so long, µs.
const CREEP: f64 = 40_000.0;
/// A bubble's gas may have come so long ago, µs.
const MOMENT_AGO: f64 = 145_000.0;

/// Which way the gas goes.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
enum Way {
    #[default]
    Unknown,
    In,
    Out,
}

/// A turn that may be under way.
#[derive(Debug, Clone, Copy, Default)]
struct Turn {
    /// Where the flow crossed a quarter of the level, and where it did so again while that stood.
    crossing: Crossing,
    second: Option<Crossing>,
    /// Volume beyond the level.
    sum: f64,
    below: bool,
    /// It came to nothing, and the gas is still there.
    waits: bool,
    /// The largest flow inward before it, and what leaked where it began.
    peak: f64,
    leak: f64,
}

/// When the flow crossed a quarter of the level, the end of that interval, and the volume since.
#[derive(Debug, Clone, Copy, Default)]
struct Crossing {
    at: f64,
    after: f64,
    since: f64,
}

impl Crossing {
    /// No longer than a moment ago, and more of its gas is still there.
    fn stays(&self, end: f64, least: f64) -> bool {
        end - self.after <= MOMENT_AGO && self.since > least
    }
}

impl Turn {
    /// Whether its crossing stays, or else the second, which is then the turn's.
    fn stays(&mut self, end: f64, least: f64) -> bool {
        if !self.crossing.stays(end, least) {
            match self.second.take() {
                Some(second) if second.stays(end, least) => self.crossing = second,
                _ => return false,
            }
        }
        true
    }
}

/// A breath of its own: onset, end of inspiration, end (µs).
pub(crate) type Borders = [f64; 3];

#[derive(Debug, Default)]
pub(crate) struct Turns {
    way: Way,
    turn: Option<Turn>,
    onset: f64,
    turned: f64,
    /// What leaked at the onset, and whether a quiet end lay before it.
    leak: f64,
    is_quiet: bool,
    /// The lowest pressure of a block just before that.
    baseline: f64,
    /// The largest flow inward of the breath under way.
    peak: f64,
    /// Net volume since the onset at which it turned, and now.
    inward: f64,
    moved: f64,
    usual_volume: f64,
    usual_flow: f64,
    ripple: f64,
    /// All that closed.
    pub(crate) closed: Vec<Borders>,
    /// Volumes in and out of the latest, and what was told of it, whichever comes first.
    volumes: Option<[f64; 2]>,
    told: Option<Told>,
}

/// What is told of a breath that closed.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Told {
    pub(crate) is_trusted: bool,
    pub(crate) peak: f64,
    /// How far its quiet end reached above its mean, where it had one.
    pub(crate) reach: Option<f64>,
}

impl Turns {
    /// After a cut: what breaths are like is kept.
    pub(crate) fn restart(&mut self) {
        let Self { usual_volume, usual_flow, ripple, .. } = *self;
        let closed = std::mem::take(&mut self.closed);
        *self = Self { usual_volume, usual_flow, ripple, closed, ..Self::default() };
    }

    /// Takes an interval; blocks of 50 ms tell whether it was quiet before an onset, and whether the pressure swings
    /// as bubbles make it.
    pub(crate) fn push(&mut self, [last, point]: [&Point; 2], blocks: &Blocks) {
        if point.gap {
            return;
        }
        let (us, sign) =
            ((point.us - last.us) as f64, if self.way == Way::In { -1.0 } else { 1.0 });
        let (from, to) = (last.lung * sign, point.lung * sign);
        let moved = (from + to) / 2.0 * us / 1e6;
        self.moved += moved * sign;
        let (level, needed) = self.wants(point);
        let (foot, end) = (level / 4.0, point.us as f64);
        let came = to > foot;
        let crosses = came && self.turn.is_none_or(|turn| turn.below || turn.waits);
        let had_turn = self.turn.is_some();
        // At the height of an inflation the pressure may swing without a bubble.
        let high = self.baseline + 2.0;
        let swings = || blocks.swings_about().is_some_and(|mean| sign > 0.0 || mean <= high);
        let held = self.turn.as_mut().filter(|_| crosses);
        let stays = held.is_some_and(|turn| turn.stays(end, needed / 8.0) && swings());
        let again = crosses && had_turn && !stays;
        if let Some(turn) = &mut self.turn {
            turn.crossing.since += moved;
            turn.second.iter_mut().for_each(|second| second.since += moved);
        }
        if crosses {
            let share = if from < foot { (foot - from) / (to - from) } else { 0.0 };
            // What moved behind the crossing, on a straight line.
            let since = (from.max(foot) + to) / 2.0 * (1.0 - share) * us / 1e6;
            let crossing = Crossing { at: last.us as f64 + share * us, after: end, since };
            match &mut self.turn {
                Some(turn) if stays => {
                    if turn.second.is_none_or(|second| end - second.after > MOMENT_AGO) {
                        turn.second = Some(crossing);
                    }
                }
                turn => {
                    let sum = turn.map_or(0.0, |turn| turn.sum);
                    let peak = turn.map_or(self.peak, |turn| turn.peak);
                    let leak = last.flow - last.lung;
                    *turn = Some(Turn { crossing, sum, peak, leak, ..Turn::default() });
                }
            }
        }
        self.peak = self.peak.max(point.flow);
        let Some(turn) = &mut self.turn else { return };
        (turn.below, turn.waits) = (!came, turn.waits && !came);
        turn.sum = if turn.waits { 0.0 } else { (turn.sum + moved - level * us / 1e6).max(0.0) };
        if again {
            return;
        }
        let crept = turn.below || end - turn.crossing.after > CREEP;
        if !crosses && turn.sum == 0.0 && crept {
            turn.waits = turn.stays(end, 0.0);
            if !turn.waits {
                self.turn = None;
            }
        } else if turn.sum >= needed {
            let confirmed = *turn;
            self.turn = None;
            self.confirm(confirmed, sign, blocks);
        }
    }

    /// The level that flow must pass and the volume that a turn must move.
    fn wants(&self, point: &Point) -> (f64, f64) {
        let leak = point.flow - point.lung;
        let more = (leak - self.leak) / 4.0;
        let stray = match self.way {
            Way::Unknown => 0.0,
            _ if self.is_quiet => more,
            _ => more.max(leak / 4.0),
        };
        let known = self.usual_volume > 0.0;
        let before = self.turn.map_or(self.peak, |turn| turn.peak);
        let peak = if known { self.usual_flow } else { before };
        let level = MIN_FLOW.max(peak / 64.0).max(self.ripple).max(stray);
        let least = if known { self.usual_volume / 16.0 } else { self.peak * 0.01 };
        let needed = MIN_VOLUME.max(least).max(self.ripple * 0.1);
        // An outward turn is believed sooner.
        (level, if self.way == Way::In { needed / 2.0 } else { needed })
    }

    fn confirm(&mut self, turn: Turn, sign: f64, blocks: &Blocks) {
        let (at, leak) = (turn.crossing.at, turn.leak);
        let since = turn.crossing.since * sign;
        match self.way {
            Way::In => {
                (self.way, self.turned) = (Way::Out, at);
                self.inward = self.moved - since;
            }
            Way::Unknown | Way::Out => {
                if self.way == Way::Out {
                    self.closed.push([self.onset, self.turned, at]);
                    let out = self.inward - (self.moved - since);
                    self.volumes = Some([self.inward, out]);
                    self.learn();
                }
                self.is_quiet = blocks.was_quiet(at, self.quiet_limit());
                (self.way, self.onset, self.leak) = (Way::In, at, leak);
                (self.moved, self.peak) = (since, 0.0);
                self.baseline = blocks.pressures().map_or(0.0, |(least, ..)| least);
            }
        }
    }

    /// The mean flow that is quiet: 4 mL/s, half a usual peak, or a sixteenth of a large one.
    fn quiet_limit(&self) -> f64 {
        let peak = if self.usual_volume > 0.0 { self.usual_flow } else { self.peak };
        let few = if peak > 0.0 { 4.0_f64.min(peak / 2.0) } else { 4.0 };
        few.max(peak / 16.0)
    }

    /// What is told of the breath that the monitor closed last.
    pub(crate) fn hear(&mut self, told: Told) {
        self.told = Some(told);
        self.learn();
    }

    /// What is usual moves toward a breath that both have closed.
    fn learn(&mut self) {
        let (Some(volumes), Some(told)) = (self.volumes, self.told) else { return };
        (self.volumes, self.told) = (None, None);
        let ([inward, outward], Told { is_trusted: trusted, peak, reach }) = (volumes, told);
        let volume = inward.min(outward);
        if !trusted || volume < inward.max(outward) / 4.0 {
            return;
        }
        if let Some(reach) = reach {
            self.ripple += (reach.min(peak / 4.0) - self.ripple) / 4.0;
        }
        if self.usual_volume <= 0.0 {
            (self.usual_volume, self.usual_flow) = (volume, peak);
        } else {
            let part = if volume > self.usual_volume { 2.0 } else { 8.0 };
            self.usual_volume += (volume - self.usual_volume) / part;
            self.usual_flow += (peak - self.usual_flow) / 4.0;
        }
    }
}
