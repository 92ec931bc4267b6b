//! Which parts the digests take, and in which order.
//!
//! A row is the path to a part. Where a field or variant is renamed its row follows, at the same
//! place, and the digest stays as it was; a new part gets a row at the end of its table.

/// A report: its breath and its events.
pub(crate) const REPORT: &[&str] = &[
    "breath",
    "breath.bend",
    "breath.bend.Known.baseline",
    "breath.bend.Known.c20",
    "breath.bend.Known.c20.Known.bends",
    "breath.bend.Known.c20.Known.ratio",
    "breath.bend.Known.c20.Unknown",
    "breath.bend.Known.curvature",
    "breath.bend.Known.elastance",
    "breath.bend.Known.goodness",
    "breath.bend.Known.resistance",
    "breath.bend.Known.share",
    "breath.bend.Unknown",
    "breath.breath.baseline",
    "breath.breath.early_out",
    "breath.breath.end",
    "breath.breath.end_insp",
    "breath.breath.end_insp_pressure",
    "breath.breath.expiration.drive",
    "breath.breath.expiration.flow",
    "breath.breath.expiration.known",
    "breath.breath.expiration.pressure",
    "breath.breath.expiration.saturated",
    "breath.breath.expiration.span",
    "breath.breath.flags",
    "breath.breath.inspiration.drive",
    "breath.breath.inspiration.flow",
    "breath.breath.inspiration.known",
    "breath.breath.inspiration.pressure",
    "breath.breath.inspiration.saturated",
    "breath.breath.inspiration.span",
    "breath.breath.kind",
    "breath.breath.lead.peak",
    "breath.breath.lead.until",
    "breath.breath.onset",
    "breath.breath.peak",
    "breath.breath.peak_exp_flow",
    "breath.breath.peak_insp_flow",
    "breath.breath.pressure_rise",
    "breath.breath.quiet",
    "breath.breath.quiet.flow",
    "breath.breath.quiet.high",
    "breath.breath.quiet.low",
    "breath.breath.quiet.pressure",
    "breath.breath.quiet.residual",
    "breath.breath.quiet.span",
    "breath.breath.quiet.spread",
    "breath.emptying",
    "breath.emptying.Short.left",
    "breath.initiation",
    "breath.initiation.cause",
    "breath.initiation.cause.Unknown",
    "breath.initiation.evidence",
    "breath.initiation.evidence.deflection",
    "breath.initiation.evidence.ended_by_infant",
    "breath.initiation.evidence.interval",
    "breath.initiation.evidence.lead",
    "breath.initiation.evidence.leak",
    "breath.initiation.evidence.noise.reach",
    "breath.initiation.evidence.noise.spread",
    "breath.initiation.evidence.on_time",
    "breath.initiation.evidence.sensed",
    "breath.initiation.evidence.threshold",
    "breath.kind",
    "breath.leak",
    "breath.leak.Negative",
    "breath.leak.Share",
    "breath.leak.Unknown",
    "breath.leak_window",
    "breath.leak_window.Negative",
    "breath.leak_window.Share",
    "breath.leak_window.Unknown",
    "breath.lung",
    "breath.lung.Known.sd",
    "breath.lung.Known.volume",
    "breath.lung.Unknown",
    "breath.mechanics",
    "breath.mechanics.Known.baseline",
    "breath.mechanics.Known.compliance",
    "breath.mechanics.Known.goodness",
    "breath.mechanics.Known.resistance",
    "breath.mechanics.Known.time_constant",
    "breath.mechanics.Unknown",
    "breath.minute_volume",
    "breath.proposal",
    "breath.proposal.Hold",
    "breath.proposal.Peak.bound",
    "breath.proposal.Peak.peak",
    "breath.proposal.Peak.short",
    "breath.rate",
    "breath.trigger",
    "breath.trigger.clearance",
    "breath.trigger.floor",
    "breath.trigger.floor.leak",
    "breath.trigger.floor.noise",
    "breath.trigger.floor.noise.reach",
    "breath.trigger.floor.noise.spread",
    "breath.trigger.floor.pressure",
    "breath.trigger.margin",
    "breath.trigger.threshold",
    "breath.trigger.verdict",
    "events",
    "events.at",
    "events.what",
    "events.what.Alarm.at",
    "events.what.Alarm.change",
    "events.what.Alarm.condition",
    "events.what.Alarm.condition.CannotKnow",
    "events.what.Alarm.condition.CannotKnow.Volume",
    "events.what.Alarm.condition.High",
    "events.what.Alarm.condition.High.Volume",
    "events.what.Alarm.condition.Low",
    "events.what.Alarm.condition.Low.Volume",
    "events.what.Alarm.priority",
    "events.what.Alarm.value",
    "events.what.Alarm.value.Pressure",
    "events.what.Alarm.value.Rate",
    "events.what.Alarm.value.Share",
    "events.what.Alarm.value.Span",
    "events.what.Alarm.value.Volume",
    "events.what.ClockReset.since",
    "events.what.Gap.cut",
    "events.what.Gap.since",
    "events.what.LimitReached.saturated",
    "events.what.LimitReached.value",
    "events.what.Load",
    "events.what.Load.CannotTell",
    "events.what.Load.Hold",
    "events.what.Load.StepBack",
    "events.what.MissedEffort.at",
    "events.what.MissedEffort.during",
    "events.what.MissedEffort.size",
    "events.what.Refused",
    "events.what.SettingsChanged.peak",
    "events.what.SettingsChanged.set_rate",
    "events.what.SettingsChanged.support_peak",
    "events.what.SettingsChanged.threshold",
    "events.what.WeanStep.peak",
    "events.what.WeanStep.set_rate",
    "events.what.WeanStep.support_peak",
    "events.what.WeanStep.threshold",
    "events.what.ZeroDrift",
    "breath.breath.inspired.value",
    "breath.breath.inspired.saturated",
    "breath.breath.expired.value",
    "breath.breath.expired.saturated",
    "breath.breath.out_until",
    "breath.implausible",
    "events.what.Implausible",
    "events.what.Tiring",
];

/// A clamped value, or two.
pub(crate) const VOLUMES: &[&str] = &["", "saturated", "value"];

/// A plain value.
pub(crate) const VALUE: &[&str] = &[""];

/// Inspiratory to expiratory time.
pub(crate) const RATIO: &[&str] = &["", "OneTo", "ToOne"];

/// What a trend takes of a breath.
pub(crate) const TREND_BREATH: &[&str] = &[
    "at_sensor",
    "by_infant",
    "expiration",
    "kind",
    "length",
    "peak_flow",
    "self_cycled",
    "trusted",
    "volume",
    "implausible",
    "shallow",
];

/// What is made of a step.
pub(crate) const LOAD: &[&str] = &["", "CannotTell", "Hold", "StepBack"];

/// Whether the leak explains the flow.
pub(crate) const LEAK_FIT: &[&str] = &["", "Drift", "Steeper"];

/// The threshold advised.
pub(crate) const ADVICE: &[&str] = &[
    "",
    "AboveFloor.missed_at_least",
    "AboveFloor.missed_at_most",
    "AboveFloor.self_cycling",
    "AboveFloor.threshold",
    "None",
    "Set.missed_at_least",
    "Set.missed_at_most",
    "Set.self_cycling",
    "Set.threshold",
];

/// Counts and delays.
pub(crate) const SYNCHRONY: &[&str] = &[
    "delay.count",
    "delay.late",
    "delay.longest",
    "delay.shortest",
    "delay.sum_us",
    "double",
    "effort",
    "inspirations",
    "inspiratory_us",
    "last",
    "last.by_infant",
    "last.expiration",
    "missed",
    "own",
    "self_leak",
    "self_ripple",
    "timed",
    "unknown",
];

/// Sums over minutes.
pub(crate) const TALLY: &[&str] = &[
    "",
    "by_infant",
    "counts",
    "expired",
    "inspired",
    "known_us",
    "measured",
    "missed",
    "pauses",
    "peaks",
    "self_cycled",
    "unknown_us",
    "volumes",
    "implausible",
    "shallow",
];

/// What a threshold would mean.
pub(crate) const EXPECTED: &[&str] =
    &["missed_at_least", "missed_at_most", "self_cycling", "threshold"];

/// A level that is advised.
pub(crate) const LEVEL: &[&str] =
    &["", "None", "None.UnderDeadSpace.would_be", "Set.captures", "Set.level"];

/// What a level would have done.
pub(crate) const REHEARSAL: &[&str] = &["below", "breaths", "rang", "runs"];

/// Counts of alarms.
pub(crate) const BURDEN: &[&str] = &["began", "brief", "ended", "longest", "rung"];
