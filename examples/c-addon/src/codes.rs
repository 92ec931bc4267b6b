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
/// There is none.
pub const TV_NONE: i32 = -7;
/// The bytes are no snapshot of this build.
pub const TV_BAD_SNAPSHOT: i32 = -8;

/// A setting that is left out, and a number that is not known.
pub const TV_UNSET: i32 = i32::MIN;

/// What `version` means here.
pub const TV_VERSION: u32 = 0x0000_0100;

/// `trigger`: what the machine's trigger watches.
pub const TV_TRIGGER_FLOW: u32 = 0;
pub const TV_TRIGGER_PRESSURE: u32 = 1;
pub const TV_TRIGGER_SLOPE: u32 = 2;
pub const TV_TRIGGER_VOLUME: u32 = 3;
pub const TV_TRIGGER_OTHER: u32 = 4;

/// `tube`: what is known of the tube's resistance. That of its size is likely, one by weight is found by the
/// monitor.
pub const TV_TUBE_UNKNOWN: u32 = 0;
pub const TV_TUBE_MEASURED: u32 = 1;
pub const TV_TUBE_LIKELY: u32 = 2;

/// `kind`: whose breath it was.
pub const TV_BREATH_OWN: u8 = 0;
pub const TV_BREATH_SUPPORTED: u8 = 1;
pub const TV_BREATH_ASSURED: u8 = 2;

/// `cause`: what started an inflation.
pub const TV_CAUSE_TIMED: u8 = 0;
pub const TV_CAUSE_EFFORT: u8 = 1;
pub const TV_CAUSE_LEAK: u8 = 2;
pub const TV_CAUSE_RIPPLE: u8 = 3;
pub const TV_CAUSE_UNKNOWN: u8 = 4;
/// No inflation.
pub const TV_CAUSE_NONE: u8 = 255;

/// `threshold`: the trigger threshold against leak, noise and ripple.
pub const TV_THRESHOLD_CLEAR: u8 = 0;
pub const TV_THRESHOLD_IN_NOISE: u8 = 1;
pub const TV_THRESHOLD_ABOVE_LEAK: u8 = 2;
pub const TV_THRESHOLD_BELOW_LEAK: u8 = 3;
pub const TV_THRESHOLD_UNKNOWN: u8 = 4;
/// No threshold is set.
pub const TV_THRESHOLD_NONE: u8 = 255;

/// `verdict`: whether the infant bears the present step.
pub const TV_LOAD_NO_SIGN: u8 = 0;
pub const TV_LOAD_HOLD: u8 = 1;
pub const TV_LOAD_STEP_BACK: u8 = 2;
pub const TV_LOAD_CANNOT_TELL: u8 = 3;

/// A place in `limits`, and what is added to `TV_ALARM_LOW`, `TV_ALARM_HIGH` and `TV_ALARM_CANNOT_KNOW`.
pub const TV_OWN_VOLUME: u32 = 0;
pub const TV_SUPPORTED_VOLUME: u32 = 1;
pub const TV_ASSURED_VOLUME: u32 = 2;
pub const TV_MINUTE_VOLUME: u32 = 3;
pub const TV_RATE: u32 = 4;
pub const TV_PRESSURE: u32 = 5;
pub const TV_LEAK: u32 = 6;

/// `alarm`: what rings. The place in `priorities`.
pub const TV_ALARM_APNOEA: u32 = 0;
pub const TV_ALARM_DISCONNECTION: u32 = 1;
pub const TV_ALARM_SENSOR_FAULT: u32 = 2;
pub const TV_ALARM_LOW: u32 = 3;
pub const TV_ALARM_HIGH: u32 = 10;
pub const TV_ALARM_CANNOT_KNOW: u32 = 17;
pub const TV_ALARM_NO_INPUT: u32 = 24;

/// `priority`.
pub const TV_PRIORITY_LOW: u8 = 0;
pub const TV_PRIORITY_MEDIUM: u8 = 1;
pub const TV_PRIORITY_HIGH: u8 = 2;
/// Nothing rings.
pub const TV_PRIORITY_NONE: u8 = 255;

/// `what`: what happened.
pub const TV_EVENT_GAP: u8 = 0;
pub const TV_EVENT_STUCK: u8 = 1;
pub const TV_EVENT_CLIPPED: u8 = 2;
pub const TV_EVENT_REFUSED: u8 = 3;
pub const TV_EVENT_CLOCK_RESET: u8 = 4;
pub const TV_EVENT_MISSED_EFFORT: u8 = 5;
pub const TV_EVENT_ZERO_DRIFT: u8 = 6;
pub const TV_EVENT_SETTINGS: u8 = 7;
pub const TV_EVENT_WEAN_STEP: u8 = 8;
pub const TV_EVENT_LOAD: u8 = 9;
pub const TV_EVENT_ALARM: u8 = 10;
pub const TV_EVENT_DOUBLE_TRIGGER: u8 = 11;
pub const TV_EVENT_LIMIT_REACHED: u8 = 12;
pub const TV_EVENT_LIMIT_UNKNOWN: u8 = 13;
pub const TV_EVENT_IMPLAUSIBLE: u8 = 14;
pub const TV_EVENT_TIRING: u8 = 15;
pub const TV_EVENT_OPEN_CIRCUIT: u8 = 16;
pub const TV_EVENT_LUNG_CHANGED: u8 = 17;
pub const TV_EVENT_REVERSE_TRIGGER: u8 = 18;
/// None, or of a later version.
pub const TV_EVENT_OTHER: u8 = 255;

/// Bits of `flags`: what was wrong with a breath; none where its numbers can be believed.
pub const TV_FLAG_GAP: u32 = 1;
pub const TV_FLAG_OUT_OF_RANGE: u32 = 2;
pub const TV_FLAG_DISORDER: u32 = 4;
pub const TV_FLAG_STUCK: u32 = 8;
pub const TV_FLAG_CLIPPED: u32 = 16;
pub const TV_FLAG_SATURATED: u32 = 32;
pub const TV_FLAG_BEGUN_BEFORE: u32 = 64;
pub const TV_FLAG_CUT: u32 = 128;
pub const TV_FLAG_NOISY: u32 = 256;
pub const TV_FLAG_ZERO_DRIFT: u32 = 512;
pub const TV_FLAG_UNSETTLED: u32 = 1_024;
pub const TV_FLAG_IMPLAUSIBLE: u32 = 2_048;
pub const TV_FLAG_OPEN: u32 = 4_096;
