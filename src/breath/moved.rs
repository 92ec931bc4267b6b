//! What a breath moved at the sensor.

use super::extremes::Extremes;
use super::{Breath, PhaseIntegrals};
use crate::quantity::unit::MlPerS;
use crate::quantity::{Area, Duration, Instant, Saturated, Volume};

/// Volumes at the sensor.
pub(super) struct Moved {
    pub(super) inspired: Saturated<Volume>,
    pub(super) expired: Saturated<Volume>,
    pub(super) out_until: Instant,
    pub(super) most_out: Saturated<Volume>,
}

/// A longer rest at the end of expiration is a pause: what leaks in during it is no part of what a breath
/// gives back, which would near nothing in any apnoea. Chosen here, no source.
const PAUSE: Duration = Duration::from_millis(2_000);

impl Moved {
    /// The volumes of a breath that closes, by its phases and the total of flow where the last began. Gas that still
    /// goes in at the sensor after the lung has turned is inspired; what comes back is all of the rest, but
    /// for what leaks in over a pause. Nothing was `seen` to come out of one that was cut before its turn.
    pub(super) fn of(
        (inspiration, expiration): (&PhaseIntegrals, &PhaseIntegrals),
        began: Area<MlPerS>,
        seen: Option<&Extremes>,
        (end_insp, end): (Instant, Instant),
    ) -> Self {
        let inward = inspiration.flow_area();
        let [inspired, returned] = Breath::volumes(inspiration, expiration);
        let Some(seen) = seen else {
            let none = Saturated { value: Volume::ZERO, saturated: returned.saturated };
            return Self { inspired, expired: none, out_until: end_insp, most_out: none };
        };
        let more = seen.top.wrapping_sub(began).max(Area::ZERO);
        let back = Area::ZERO.saturating_sub(expiration.flow_area()).saturating_add(more);
        let top = began.wrapping_add(more);
        let least = if more > Area::ZERO { seen.out } else { seen.least() };
        let most = top.wrapping_sub(least.flow);
        let paused = end.since(least.at) > PAUSE;
        let most_out = most.max(back).max(Area::ZERO).in_seconds();
        let out = if paused || most <= back { most_out } else { back.max(Area::ZERO).in_seconds() };
        let into =
            if more > Area::ZERO { inward.saturating_add(more).in_seconds() } else { inspired };
        Self {
            inspired: Saturated { saturated: into.saturated || inspired.saturated, ..into },
            expired: Saturated { saturated: out.saturated || returned.saturated, ..out },
            out_until: if most > Area::ZERO { least.at } else { end_insp },
            most_out: Saturated { saturated: most_out.saturated || returned.saturated, ..most_out },
        }
    }
}
