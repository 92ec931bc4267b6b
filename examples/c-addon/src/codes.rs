//! The numbers that calls return and structures hold.

/// The call did what it says.
pub const TV_OK: i32 = 0;
/// A pointer is null.
pub const TV_NULL: i32 = -1;
/// A pointer does not stand on the boundary that its type needs.
pub const TV_MISALIGNED: i32 = -2;
/// The memory is too short, or a structure is of another size than here: was the header built with the library?
pub const TV_WRONG_SIZE: i32 = -3;
/// A setting is out of its range, or contradicts another: `tv_refusal` tells which.
pub const TV_BAD_SETTING: i32 = -4;
/// The memory holds no monitor that `tv_start` of this very build has made.
pub const TV_NOT_STARTED: i32 = -5;
/// Two of the places overlap.
pub const TV_OVERLAP: i32 = -6;
/// There is none: no entry in the journal, or nothing that could be resumed.
pub const TV_NONE: i32 = -7;
/// The bytes are no snapshot of this build.
pub const TV_BAD_SNAPSHOT: i32 = -8;

/// A setting that is left out, and a number that is not known.
pub const TV_UNSET: i32 = i32::MIN;
/// A moment that is not known.
pub const TV_NO_TIME: u64 = u64::MAX;

/// What `version` means here.
pub const TV_VERSION: u32 = 0x0000_0100;

/// `trigger`: what the machine's trigger watches.
pub const TV_TRIGGER_FLOW: u32 = 0;
pub const TV_TRIGGER_PRESSURE: u32 = 1;
pub const TV_TRIGGER_SLOPE: u32 = 2;
pub const TV_TRIGGER_VOLUME: u32 = 3;
pub const TV_TRIGGER_OTHER: u32 = 4;

/// `tube`: its coefficients are not known, were measured on this tube, or are those of its size. Where they are not
/// known and a weight is, those of a tube that such an infant usually has are taken.
pub const TV_TUBE_UNKNOWN: u32 = 0;
pub const TV_TUBE_MEASURED: u32 = 1;
pub const TV_TUBE_LIKELY: u32 = 2;

/// `kind`: whose breath it was. How it was set, not who began it: that is `cause`.
/// The infant's alone.
pub const TV_BREATH_OWN: u8 = 0;
/// An inflation without an assured volume or rate.
pub const TV_BREATH_SUPPORTED: u8 = 1;
/// An inflation that the machine assures.
pub const TV_BREATH_ASSURED: u8 = 2;

/// `cause`: what started an inflation.
/// The machine's timer.
pub const TV_CAUSE_TIMED: u8 = 0;
/// The infant.
pub const TV_CAUSE_EFFORT: u8 = 1;
/// The machine itself: gas that leaks passed the threshold.
pub const TV_CAUSE_LEAK: u8 = 2;
/// The machine itself: heartbeat, water or noise passed it.
pub const TV_CAUSE_RIPPLE: u8 = 3;
/// It cannot be told.
pub const TV_CAUSE_UNKNOWN: u8 = 4;
/// No inflation.
pub const TV_CAUSE_NONE: u8 = 255;

/// `threshold`: the trigger threshold against leak, noise and ripple.
/// Above leak, noise and ripple.
pub const TV_THRESHOLD_CLEAR: u8 = 0;
/// Above the leak, but noise or ripple reach it.
pub const TV_THRESHOLD_IN_NOISE: u8 = 1;
/// Above the leak; noise and ripple are not known.
pub const TV_THRESHOLD_ABOVE_LEAK: u8 = 2;
/// At or below the leak: the machine triggers itself.
pub const TV_THRESHOLD_BELOW_LEAK: u8 = 3;
/// Neither leak nor noise is known.
pub const TV_THRESHOLD_UNKNOWN: u8 = 4;
/// No threshold is set.
pub const TV_THRESHOLD_NONE: u8 = 255;

/// `verdict`: whether the infant bears the present step.
/// No sign of too much load in what flow shows.
pub const TV_LOAD_NO_SIGN: u8 = 0;
/// Hold: `signs` speak against a step.
pub const TV_LOAD_HOLD: u8 = 1;
/// A step back is asked for.
pub const TV_LOAD_STEP_BACK: u8 = 2;
/// It cannot be told.
pub const TV_LOAD_CANNOT_TELL: u8 = 3;

/// A place in `limits`, and what is added to `TV_ALARM_LOW`, `TV_ALARM_HIGH` and `TV_ALARM_CANNOT_KNOW`.
pub const TV_VOLUME_OWN: u32 = 0;
pub const TV_VOLUME_SUPPORTED: u32 = 1;
pub const TV_VOLUME_ASSURED: u32 = 2;
pub const TV_MINUTE_VOLUME: u32 = 3;
pub const TV_RATE: u32 = 4;
pub const TV_PRESSURE: u32 = 5;
pub const TV_LEAK: u32 = 6;

/// `alarm`: what rings. The place in `priorities`.
/// No inspiration for too long.
pub const TV_ALARM_APNOEA: u32 = 0;
/// Gas goes in and none comes back, or the circuit stands open.
pub const TV_ALARM_DISCONNECTION: u32 = 1;
/// Technical: the sensor gives no usable reading.
pub const TV_ALARM_SENSOR_FAULT: u32 = 2;
/// And a place in `limits`: below its lower limit.
pub const TV_ALARM_LOW: u32 = 3;
/// And a place in `limits`: above its upper limit.
pub const TV_ALARM_HIGH: u32 = 10;
/// And a place in `limits`, technical: what has limits cannot be known.
pub const TV_ALARM_CANNOT_KNOW: u32 = 17;
/// Technical: for so long nothing usable has come that nothing is watched.
pub const TV_ALARM_NO_INPUT: u32 = 24;

/// `priority`.
pub const TV_PRIORITY_LOW: u8 = 0;
pub const TV_PRIORITY_MEDIUM: u8 = 1;
pub const TV_PRIORITY_HIGH: u8 = 2;
/// Nothing rings.
pub const TV_PRIORITY_NONE: u8 = 255;

/// `what`: what happened.
/// No usable sample came for too long.
pub const TV_EVENT_GAP: u8 = 0;
/// The readings stopped changing.
pub const TV_EVENT_STUCK: u8 = 1;
/// The flow sits at one extreme value.
pub const TV_EVENT_CLIPPED: u8 = 2;
/// A reading was refused (the first of a row).
pub const TV_EVENT_REFUSED: u8 = 3;
/// Ticks went back and stayed back; counting began afresh.
pub const TV_EVENT_CLOCK_RESET: u8 = 4;
/// An effort got no inflation of its own: `value` is its size, cmH2O.
pub const TV_EVENT_MISSED_EFFORT: u8 = 5;
/// The zero of the flow sensor has drifted by `value`, mL/s.
pub const TV_EVENT_ZERO_DRIFT: u8 = 6;
/// Something set on the machine was changed that is no step.
pub const TV_EVENT_SETTINGS: u8 = 7;
/// Rate, peak or support was changed.
pub const TV_EVENT_WEAN_STEP: u8 = 8;
/// What is made of the present step has changed: `verdict`, `signs`.
pub const TV_EVENT_LOAD: u8 = 9;
/// An alarm began or ended: `alarm`, `priority`, `begins`, `value`.
pub const TV_EVENT_ALARM: u8 = 10;
/// A second inflation on one effort.
pub const TV_EVENT_DOUBLE_TRIGGER: u8 = 11;
/// The inspiration under way has moved the limit: `value`, mL.
pub const TV_EVENT_LIMIT_REACHED: u8 = 12;
/// Readings were missing in it: whether it does is not known.
pub const TV_EVENT_LIMIT_UNKNOWN: u8 = 13;
/// What breaths are like cannot be: a unit, a weight, a sensor the wrong way round.
pub const TV_EVENT_IMPLAUSIBLE: u8 = 14;
/// The infant breathes faster and smaller: `signs`.
pub const TV_EVENT_TIRING: u8 = 15;
/// The circuit stands open, or suction draws.
pub const TV_EVENT_OPEN_CIRCUIT: u8 = 16;
/// Compliance or resistance has changed at once.
pub const TV_EVENT_LUNG_CHANGED: u8 = 17;
/// A timed inflation brought about an effort, as those before it did.
pub const TV_EVENT_REVERSE_TRIGGER: u8 = 18;
/// None, or of a later version of the library.
pub const TV_EVENT_OTHER: u8 = 255;

/// Bits of `flags`: what was wrong with a breath; none where its numbers can be believed.
/// Samples were missing for too long.
pub const TV_FLAG_GAP: u32 = 1;
/// A reading beyond the range was refused.
pub const TV_FLAG_OUT_OF_RANGE: u32 = 2;
/// A reading came with a time not after the one before.
pub const TV_FLAG_DISORDER: u32 = 4;
/// The readings did not change.
pub const TV_FLAG_STUCK: u32 = 8;
/// The flow sat at one extreme value.
pub const TV_FLAG_CLIPPED: u32 = 16;
/// A number was clamped.
pub const TV_FLAG_SATURATED: u32 = 32;
/// Nothing is known of what came before.
pub const TV_FLAG_BEGUN_BEFORE: u32 = 64;
/// It was cut short by a gap or the end.
pub const TV_FLAG_CUT: u32 = 128;
/// Noise far beyond the usual, as water makes.
pub const TV_FLAG_NOISY: u32 = 256;
/// The flow sensor's zero has drifted.
pub const TV_FLAG_ZERO_DRIFT: u32 = 512;
/// It was cut out with a leak that has just turned out wrong.
pub const TV_FLAG_UNSETTLED: u32 = 1_024;
/// Numbers that no breath has.
pub const TV_FLAG_IMPLAUSIBLE: u32 = 2_048;
/// The circuit stood open, or suction drew.
pub const TV_FLAG_OPEN: u32 = 4_096;

/// Bits of `signs`: what speaks against a step.
/// Faster and smaller breaths.
pub const TV_SIGN_RAPID_SHALLOW: u32 = 1;
/// Less minute volume.
pub const TV_SIGN_LESS_VOLUME: u32 = 2;
/// The infant breathes less.
pub const TV_SIGN_FEWER_OWN: u32 = 4;
/// More pauses.
pub const TV_SIGN_PAUSES: u32 = 8;
/// More missed efforts.
pub const TV_SIGN_MISSED: u32 = 16;
/// More pressure is lost in the tube.
pub const TV_SIGN_TUBE_LOSS: u32 = 32;
/// Faster and smaller than a loss of support explains.
pub const TV_SIGN_COSTLY_STEP: u32 = 64;
/// Little minute volume.
pub const TV_SIGN_LITTLE_VOLUME: u32 = 128;
/// Less volume beyond the dead space.
pub const TV_SIGN_LESS_ALVEOLAR: u32 = 256;
/// Small breaths.
pub const TV_SIGN_SMALL: u32 = 512;
/// A slow heart.
pub const TV_SIGN_SLOW_HEART: u32 = 1_024;
/// A low saturation.
pub const TV_SIGN_LOW_SATURATION: u32 = 2_048;

/// Why a leak is not known.
/// Nothing went in.
pub const TV_NO_LEAK_NOTHING_INSPIRED: u8 = 0;
/// A volume was clamped.
pub const TV_NO_LEAK_OUT_OF_RANGE: u8 = 1;
/// The breath carries a flag.
pub const TV_NO_LEAK_FLAGGED: u8 = 2;
/// No trusted breath was heard yet, or none since the leak turned out to be another one (`TV_FLAG_UNSETTLED`).
pub const TV_NO_LEAK_NO_BREATH: u8 = 3;

/// Why the volume in the lung is not known; 2 is not used.
/// The breath carries a flag.
pub const TV_NO_LUNG_FLAGGED: u8 = 0;
/// No breath has taught the leak yet.
pub const TV_NO_LUNG_NO_LEAK_PATH: u8 = 1;
/// The uncertainty is above half of the volume.
pub const TV_NO_LUNG_TOO_UNCERTAIN: u8 = 3;
/// The volume was clamped.
pub const TV_NO_LUNG_OUT_OF_RANGE: u8 = 4;

/// Why compliance and resistance are not known.
/// Fewer samples than the settings ask for.
pub const TV_NO_FIT_TOO_FEW_SAMPLES: u8 = 0;
/// An own breath; or the infant took part in an inflation; or volume and flow do not explain the pressure.
pub const TV_NO_FIT_NOT_PASSIVE: u8 = 1;
/// Volume and flow do not move apart.
pub const TV_NO_FIT_DEGENERATE: u8 = 2;
/// The time constant is shorter than three samples.
pub const TV_NO_FIT_TOO_COARSE: u8 = 3;
/// Outside the range of lungs.
pub const TV_NO_FIT_OUT_OF_RANGE: u8 = 4;
/// The breath carries a flag.
pub const TV_NO_FIT_FLAGGED: u8 = 5;
/// The fit was not asked for; never told of compliance and resistance.
pub const TV_NO_FIT_NOT_ASKED: u8 = 6;
/// The time constant is longer than the breath.
pub const TV_NO_FIT_TOO_SLOW: u8 = 7;

/// Why a cause is not known.
/// The breath carries a flag.
pub const TV_NO_CAUSE_FLAGGED: u8 = 0;
/// No threshold was given, and nothing else tells.
pub const TV_NO_CAUSE_NO_THRESHOLD: u8 = 1;
/// No quiet flow was seen and no leak is known yet.
pub const TV_NO_CAUSE_NO_FLOOR: u8 = 2;
/// Flow comes after its pressure: what the trigger saw is not known.
pub const TV_NO_CAUSE_FLOW_LATE: u8 = 3;
/// Pressure comes after its flow: all of it looks like effort.
pub const TV_NO_CAUSE_PRESSURE_LATE: u8 = 4;

/// Why there is no verdict on the load.
/// The step is too young.
pub const TV_NO_VERDICT_TOO_SOON: u8 = 0;
/// Half of the time or more lies in flagged breaths, or it is not known who began most breaths.
pub const TV_NO_VERDICT_TOO_LITTLE_KNOWN: u8 = 1;
/// Too few volumes can be believed.
pub const TV_NO_VERDICT_NO_VOLUME: u8 = 2;
/// The machine sets itself off.
pub const TV_NO_VERDICT_SELF_CYCLING: u8 = 3;
/// The infant does not breathe.
pub const TV_NO_VERDICT_NOT_BREATHING: u8 = 4;
/// Nothing usable comes from the sensor.
pub const TV_NO_VERDICT_NO_INPUT: u8 = 5;
/// More breaths have numbers that no breath has than are trusted.
pub const TV_NO_VERDICT_IMPLAUSIBLE: u8 = 6;
