//! What a turn makes of the breath that it ends, and of the one that it begins.

use super::end_expiration::EndExpiration;
use super::moved::Moved;
use super::record::{Breath, Kind};
use super::segment::Open;
use super::{Phase, PhaseIntegrals, Segmenter, SegmenterState};
use crate::quantity::unit::MlPerS;
use crate::quantity::{Area, Duration, Flow, Instant, Pressure};
use crate::signal::Flags;

/// A shorter time before the first onset tells nothing of the expiration before it. Chosen here, no source.
const LEAD_IN: Duration = Duration::from_millis(50);
/// Below this no noise is remarked on, unless it is twice the usual. Chosen here, no source.
const NOISY: Flow = Flow::from_int(4);

impl SegmenterState {
    /// The flow turned outward.
    pub(super) fn turn_outward(&mut self) {
        self.open.end_insp = self.turn.confirm(&mut self.began, &mut self.open.inspiration);
        self.phase = Phase::Expiration;
        self.open.end_pressure = self.held.reference;
        self.seen.turn_outward(&self.held);
    }
}

impl Segmenter {
    /// The first breath begins.
    pub(super) fn begin(&self, state: &mut SegmenterState) {
        let mut finished = PhaseIntegrals::ZERO;
        let at = state.turn.confirm(&mut state.began, &mut finished);
        let quiet = self.quiet(state, at);
        let begun_before = quiet.is_none() && finished.span() < LEAD_IN;
        self.open(state, at, quiet);
        let flag = Flags::when(Flags::BEGUN_BEFORE, begun_before);
        state.seen.flags = state.seen.flags.with(flag);
    }

    /// Closes the breath whose end was just found, and begins the next.
    #[inline(never)]
    pub(crate) fn close(&self, state: &mut SegmenterState, closed: &mut Breath) {
        let (began, mut out) = (state.began.flow(), PhaseIntegrals::ZERO);
        let at = state.turn.confirm(&mut state.began, &mut out);
        self.write(state, at, &out, began, closed);
        let quiet = self.quiet(state, at);
        let noisy = quiet.is_some_and(|quiet| {
            let usual = state.usual.spread;
            state.usual.volume > Area::ZERO
                && quiet.spread > NOISY.max(usual.saturating_add(usual).value)
        });
        closed.flags = closed.flags.with(Flags::when(Flags::NOISY, noisy));
        self.open(state, at, quiet);
    }

    /// Closes the breath under way, if any, as one that was cut: at the end of a recording or before a long gap. Whether
    /// there was one.
    #[inline(never)]
    pub(crate) fn cut(&self, state: &mut SegmenterState, why: Flags, closed: &mut Breath) -> bool {
        self.rest(state);
        let rest = state.current();
        state.seen.flags = state.seen.flags.with(why).with(Flags::CUT);
        let (phase, now, began) = (state.phase, state.now, state.began.flow());
        match phase {
            Phase::Unknown => {}
            Phase::Inspiration => {
                state.open.inspiration = rest;
                state.open.end_insp = now;
                state.open.end_pressure = state.seen.peak;
                self.write(state, now, &PhaseIntegrals::ZERO, began, closed);
            }
            Phase::Expiration => self.write(state, now, &rest, began, closed),
        }
        state.begin_afresh();
        !matches!(phase, Phase::Unknown)
    }

    fn open(&self, state: &mut SegmenterState, onset: Instant, quiet: Option<EndExpiration>) {
        let baseline = match quiet {
            Some(quiet) => quiet.pressure,
            None => state.seen.lowest.min(state.held.reference),
        };
        state.seen = state.held;
        // Where no reading came before the rise the lead is over as it begins.
        state.seen.lead.until = state.seen.lead.until.max(onset);
        let risen = state.seen.reference.saturating_sub(baseline).value >= self.inflation_rise;
        if risen {
            // The pressure was up before the flow turned: nothing came before it.
            state.seen.rise = Some(onset);
            state.seen.lead.until = onset;
        }
        state.phase = Phase::Inspiration;
        let leak = state.held.leak;
        // In place, and none left out.
        let Open {
            onset: begun,
            end_insp,
            leak: leaked,
            inspiration,
            quiet: rest,
            baseline: below,
            swung_about,
            end_pressure,
        } = &mut state.open;
        (*begun, *end_insp, *leaked) = (onset, Instant::default(), leak);
        (*inspiration, *rest) = (PhaseIntegrals::ZERO, quiet);
        (*below, *end_pressure) = (baseline, Pressure::ZERO);
        // A quiet end's own mean is a baseline already.
        *swung_about = if quiet.is_none() { state.tail.swings_about() } else { None };
    }

    /// Writes a breath that ends at a moment, whose expiration is summed, and whose last phase began with that
    /// total of flow. In place, field by field: a whole would be built elsewhere and copied here.
    fn write(
        &self,
        state: &SegmenterState,
        at: Instant,
        out: &PhaseIntegrals,
        began: Area<MlPerS>,
        closed: &mut Breath,
    ) {
        let (open, seen) = (&state.open, &state.seen);
        let (mut lowest, mut risen) = (open.baseline, seen.rise);
        if seen.flags.has(Flags::BEGUN_BEFORE) && matches!(state.phase, Phase::Expiration) {
            // What came before its first reading is not known: how low the pressure fell after it is.
            lowest = lowest.min(seen.lowest);
            let above = seen.peak.saturating_sub(lowest).value;
            let all = (above >= self.inflation_rise).then_some(open.onset);
            risen = risen.filter(|at| *at < open.end_insp).or(all);
        }
        let risen = self.machine_rise(open, lowest, risen);
        let seen_out = matches!(state.phase, Phase::Expiration).then_some(seen);
        let moved = Moved::of((&open.inspiration, out), began, seen_out, (open.end_insp, at));
        let saturated = moved.inspired.saturated || moved.expired.saturated;
        // None is left out: that of the breath before would stand there.
        let Breath {
            onset,
            end_insp,
            end,
            kind,
            inspiration,
            expiration,
            inspired,
            expired,
            out_until,
            most_out,
            peak,
            baseline,
            peak_insp_flow,
            peak_exp_flow,
            pressure_rise,
            lead,
            end_insp_pressure,
            early_out,
            quiet,
            flags,
        } = closed;
        (*onset, *end_insp, *end) = (open.onset, open.end_insp, at);
        *kind = if risen.is_some() { Kind::Inflation } else { Kind::Own };
        *inspiration = open.inspiration;
        *expiration = *out;
        *inspired = moved.inspired;
        *expired = moved.expired;
        (*out_until, *most_out) = (moved.out_until, moved.most_out);
        (*peak, *baseline) = (seen.peak, lowest);
        (*peak_insp_flow, *peak_exp_flow) = (seen.peak_in, outward(seen.most_out));
        (*pressure_rise, *lead) = (risen, seen.lead);
        *end_insp_pressure = open.end_pressure;
        *early_out = match state.phase {
            Phase::Expiration => outward(seen.early_out),
            Phase::Unknown | Phase::Inspiration => Flow::ZERO,
        };
        *quiet = open.quiet;
        *flags = seen.flags.with(Flags::when(Flags::SATURATED, saturated));
    }

    /// An inflation shows in all three: a pressure that rose during inspiration, its mean, and gas that
    /// went in. Bubbles raise no mean above the one before.
    fn machine_rise(
        &self,
        open: &Open,
        baseline: Pressure,
        rise: Option<Instant>,
    ) -> Option<Instant> {
        if open.inspiration.flow_area() <= Area::ZERO {
            return None;
        }
        let mean = open.inspiration.mean_pressure()?;
        let mean_rise = mean.saturating_sub(open.swung_about.unwrap_or(baseline)).value;
        rise.filter(|rise| *rise < open.end_insp && mean_rise >= self.inflation_rise.halved(2))
    }
}

/// A flow counted the other way.
fn outward(flow: Flow) -> Flow {
    Flow::ZERO.saturating_sub(flow).value
}
