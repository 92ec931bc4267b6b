/* tidevane for C callers. Advisory only; not a medical device: nothing here may act on a patient.
 * Made by cbindgen from src/lib.rs; do not edit. */

#ifndef TIDEVANE_H
#define TIDEVANE_H

#include <stddef.h>
#include <stdint.h>

/* A number from -32 768 to below 32 768 in its unit as the fields that end with _q16 want it: TV_Q16(0.4). */
#define TV_Q16(x) ((int32_t)((x) * 65536))

/*
 The call did what it says.
 */
#define TV_OK 0

/*
 A pointer is null.
 */
#define TV_NULL -1

/*
 A pointer does not stand on the boundary that its type needs.
 */
#define TV_MISALIGNED -2

/*
 The memory is too short, or a structure is of another size than here: was the header built with the library?
 */
#define TV_WRONG_SIZE -3

/*
 A setting is out of its range, or contradicts another: `tv_refusal` tells which.
 */
#define TV_BAD_SETTING -4

/*
 The memory holds no monitor that `tv_start` of this very build has made.
 */
#define TV_NOT_STARTED -5

/*
 Two of the places overlap.
 */
#define TV_OVERLAP -6

/*
 There is none: no entry in the journal, or nothing that could be resumed.
 */
#define TV_NONE -7

/*
 The bytes are no snapshot of this build.
 */
#define TV_BAD_SNAPSHOT -8

/*
 A setting that is left out, and a number that is not known.
 */
#define TV_UNSET INT32_MIN

/*
 A moment that is not known.
 */
#define TV_NO_TIME UINT64_MAX

/*
 What `version` means here.
 */
#define TV_VERSION 256

/*
 `trigger`: what the machine's trigger watches.
 */
#define TV_TRIGGER_FLOW 0

#define TV_TRIGGER_PRESSURE 1

#define TV_TRIGGER_SLOPE 2

#define TV_TRIGGER_VOLUME 3

#define TV_TRIGGER_OTHER 4

/*
 `tube`: its coefficients are not known, were measured on this tube, or are those of its size. Where they are not
 known and a weight is, those of a tube that such an infant usually has are taken.
 */
#define TV_TUBE_UNKNOWN 0

#define TV_TUBE_MEASURED 1

#define TV_TUBE_LIKELY 2

/*
 `kind`: whose breath it was. How it was set, not who began it: that is `cause`.
 The infant's alone.
 */
#define TV_BREATH_OWN 0

/*
 An inflation without an assured volume or rate.
 */
#define TV_BREATH_SUPPORTED 1

/*
 An inflation that the machine assures.
 */
#define TV_BREATH_ASSURED 2

/*
 `cause`: what started an inflation.
 The machine's timer.
 */
#define TV_CAUSE_TIMED 0

/*
 The infant.
 */
#define TV_CAUSE_EFFORT 1

/*
 The machine itself: gas that leaks passed the threshold.
 */
#define TV_CAUSE_LEAK 2

/*
 The machine itself: heartbeat, water or noise passed it.
 */
#define TV_CAUSE_RIPPLE 3

/*
 It cannot be told.
 */
#define TV_CAUSE_UNKNOWN 4

/*
 No inflation.
 */
#define TV_CAUSE_NONE 255

/*
 `threshold`: the trigger threshold against leak, noise and ripple.
 Above leak, noise and ripple.
 */
#define TV_THRESHOLD_CLEAR 0

/*
 Above the leak, but noise or ripple reach it.
 */
#define TV_THRESHOLD_IN_NOISE 1

/*
 Above the leak; noise and ripple are not known.
 */
#define TV_THRESHOLD_ABOVE_LEAK 2

/*
 At or below the leak: the machine triggers itself.
 */
#define TV_THRESHOLD_BELOW_LEAK 3

/*
 Neither leak nor noise is known.
 */
#define TV_THRESHOLD_UNKNOWN 4

/*
 No threshold is set.
 */
#define TV_THRESHOLD_NONE 255

/*
 `verdict`: whether the infant bears the present step.
 No sign of too much load in what flow shows.
 */
#define TV_LOAD_NO_SIGN 0

/*
 Hold: `signs` speak against a step.
 */
#define TV_LOAD_HOLD 1

/*
 A step back is asked for.
 */
#define TV_LOAD_STEP_BACK 2

/*
 It cannot be told.
 */
#define TV_LOAD_CANNOT_TELL 3

/*
 A place in `limits`, and what is added to `TV_ALARM_LOW`, `TV_ALARM_HIGH` and `TV_ALARM_CANNOT_KNOW`.
 */
#define TV_VOLUME_OWN 0

#define TV_VOLUME_SUPPORTED 1

#define TV_VOLUME_ASSURED 2

#define TV_MINUTE_VOLUME 3

#define TV_RATE 4

#define TV_PRESSURE 5

#define TV_LEAK 6

/*
 `alarm`: what rings. The place in `priorities`.
 No inspiration for too long.
 */
#define TV_ALARM_APNOEA 0

/*
 Gas goes in and none comes back, or the circuit stands open.
 */
#define TV_ALARM_DISCONNECTION 1

/*
 Technical: the sensor gives no usable reading.
 */
#define TV_ALARM_SENSOR_FAULT 2

/*
 And a place in `limits`: below its lower limit.
 */
#define TV_ALARM_LOW 3

/*
 And a place in `limits`: above its upper limit.
 */
#define TV_ALARM_HIGH 10

/*
 And a place in `limits`, technical: what has limits cannot be known.
 */
#define TV_ALARM_CANNOT_KNOW 17

/*
 Technical: for so long nothing usable has come that nothing is watched.
 */
#define TV_ALARM_NO_INPUT 24

/*
 `priority`.
 */
#define TV_PRIORITY_LOW 0

#define TV_PRIORITY_MEDIUM 1

#define TV_PRIORITY_HIGH 2

/*
 Nothing rings.
 */
#define TV_PRIORITY_NONE 255

/*
 `what`: what happened.
 No usable sample came for too long.
 */
#define TV_EVENT_GAP 0

/*
 The readings stopped changing.
 */
#define TV_EVENT_STUCK 1

/*
 The flow sits at one extreme value.
 */
#define TV_EVENT_CLIPPED 2

/*
 A reading was refused (the first of a row).
 */
#define TV_EVENT_REFUSED 3

/*
 Ticks went back and stayed back; counting began afresh.
 */
#define TV_EVENT_CLOCK_RESET 4

/*
 An effort got no inflation of its own: `value` is its size, cmH2O.
 */
#define TV_EVENT_MISSED_EFFORT 5

/*
 The zero of the flow sensor has drifted by `value`, mL/s.
 */
#define TV_EVENT_ZERO_DRIFT 6

/*
 Something set on the machine was changed that is no step.
 */
#define TV_EVENT_SETTINGS 7

/*
 Rate, peak or support was changed.
 */
#define TV_EVENT_WEAN_STEP 8

/*
 What is made of the present step has changed: `verdict`, `signs`.
 */
#define TV_EVENT_LOAD 9

/*
 An alarm began or ended: `alarm`, `priority`, `begins`, `value`.
 */
#define TV_EVENT_ALARM 10

/*
 A second inflation on one effort.
 */
#define TV_EVENT_DOUBLE_TRIGGER 11

/*
 The inspiration under way has moved the limit: `value`, mL.
 */
#define TV_EVENT_LIMIT_REACHED 12

/*
 Readings were missing in it: whether it does is not known.
 */
#define TV_EVENT_LIMIT_UNKNOWN 13

/*
 What breaths are like cannot be: a unit, a weight, a sensor the wrong way round.
 */
#define TV_EVENT_IMPLAUSIBLE 14

/*
 The infant breathes faster and smaller: `signs`.
 */
#define TV_EVENT_TIRING 15

/*
 The circuit stands open, or suction draws.
 */
#define TV_EVENT_OPEN_CIRCUIT 16

/*
 Compliance or resistance has changed at once.
 */
#define TV_EVENT_LUNG_CHANGED 17

/*
 A timed inflation brought about an effort, as those before it did.
 */
#define TV_EVENT_REVERSE_TRIGGER 18

/*
 None, or of a later version of the library.
 */
#define TV_EVENT_OTHER 255

/*
 Bits of `flags`: what was wrong with a breath; none where its numbers can be believed.
 Samples were missing for too long.
 */
#define TV_FLAG_GAP 1

/*
 A reading beyond the range was refused.
 */
#define TV_FLAG_OUT_OF_RANGE 2

/*
 A reading came with a time not after the one before.
 */
#define TV_FLAG_DISORDER 4

/*
 The readings did not change.
 */
#define TV_FLAG_STUCK 8

/*
 The flow sat at one extreme value.
 */
#define TV_FLAG_CLIPPED 16

/*
 A number was clamped.
 */
#define TV_FLAG_SATURATED 32

/*
 Nothing is known of what came before.
 */
#define TV_FLAG_BEGUN_BEFORE 64

/*
 It was cut short by a gap or the end.
 */
#define TV_FLAG_CUT 128

/*
 Noise far beyond the usual, as water makes.
 */
#define TV_FLAG_NOISY 256

/*
 The flow sensor's zero has drifted.
 */
#define TV_FLAG_ZERO_DRIFT 512

/*
 It was cut out with a leak that has just turned out wrong.
 */
#define TV_FLAG_UNSETTLED 1024

/*
 Numbers that no breath has.
 */
#define TV_FLAG_IMPLAUSIBLE 2048

/*
 The circuit stood open, or suction drew.
 */
#define TV_FLAG_OPEN 4096

/*
 Bits of `signs`: what speaks against a step.
 Faster and smaller breaths.
 */
#define TV_SIGN_RAPID_SHALLOW 1

/*
 Less minute volume.
 */
#define TV_SIGN_LESS_VOLUME 2

/*
 The infant breathes less.
 */
#define TV_SIGN_FEWER_OWN 4

/*
 More pauses.
 */
#define TV_SIGN_PAUSES 8

/*
 More missed efforts.
 */
#define TV_SIGN_MISSED 16

/*
 More pressure is lost in the tube.
 */
#define TV_SIGN_TUBE_LOSS 32

/*
 Faster and smaller than a loss of support explains.
 */
#define TV_SIGN_COSTLY_STEP 64

/*
 Little minute volume.
 */
#define TV_SIGN_LITTLE_VOLUME 128

/*
 Less volume beyond the dead space.
 */
#define TV_SIGN_LESS_ALVEOLAR 256

/*
 Small breaths.
 */
#define TV_SIGN_SMALL 512

/*
 A slow heart.
 */
#define TV_SIGN_SLOW_HEART 1024

/*
 A low saturation.
 */
#define TV_SIGN_LOW_SATURATION 2048

/*
 Why a leak is not known.
 Nothing went in.
 */
#define TV_NO_LEAK_NOTHING_INSPIRED 0

/*
 A volume was clamped.
 */
#define TV_NO_LEAK_OUT_OF_RANGE 1

/*
 The breath carries a flag.
 */
#define TV_NO_LEAK_FLAGGED 2

/*
 No trusted breath was heard yet, or none since the leak turned out to be another one (`TV_FLAG_UNSETTLED`).
 */
#define TV_NO_LEAK_NO_BREATH 3

/*
 Why the volume in the lung is not known; 2 is not used.
 The breath carries a flag.
 */
#define TV_NO_LUNG_FLAGGED 0

/*
 No breath has taught the leak yet.
 */
#define TV_NO_LUNG_NO_LEAK_PATH 1

/*
 The uncertainty is above half of the volume.
 */
#define TV_NO_LUNG_TOO_UNCERTAIN 3

/*
 The volume was clamped.
 */
#define TV_NO_LUNG_OUT_OF_RANGE 4

/*
 Why compliance and resistance are not known.
 Fewer samples than the settings ask for.
 */
#define TV_NO_FIT_TOO_FEW_SAMPLES 0

/*
 An own breath; or the infant took part in an inflation; or volume and flow do not explain the pressure.
 */
#define TV_NO_FIT_NOT_PASSIVE 1

/*
 Volume and flow do not move apart.
 */
#define TV_NO_FIT_DEGENERATE 2

/*
 The time constant is shorter than three samples.
 */
#define TV_NO_FIT_TOO_COARSE 3

/*
 Outside the range of lungs.
 */
#define TV_NO_FIT_OUT_OF_RANGE 4

/*
 The breath carries a flag.
 */
#define TV_NO_FIT_FLAGGED 5

/*
 The fit was not asked for; never told of compliance and resistance.
 */
#define TV_NO_FIT_NOT_ASKED 6

/*
 The time constant is longer than the breath.
 */
#define TV_NO_FIT_TOO_SLOW 7

/*
 Why a cause is not known.
 The breath carries a flag.
 */
#define TV_NO_CAUSE_FLAGGED 0

/*
 No threshold was given, and nothing else tells.
 */
#define TV_NO_CAUSE_NO_THRESHOLD 1

/*
 No quiet flow was seen and no leak is known yet.
 */
#define TV_NO_CAUSE_NO_FLOOR 2

/*
 Flow comes after its pressure: what the trigger saw is not known.
 */
#define TV_NO_CAUSE_FLOW_LATE 3

/*
 Pressure comes after its flow: all of it looks like effort.
 */
#define TV_NO_CAUSE_PRESSURE_LATE 4

/*
 Why there is no verdict on the load.
 The step is too young.
 */
#define TV_NO_VERDICT_TOO_SOON 0

/*
 Half of the time or more lies in flagged breaths, or it is not known who began most breaths.
 */
#define TV_NO_VERDICT_TOO_LITTLE_KNOWN 1

/*
 Too few volumes can be believed.
 */
#define TV_NO_VERDICT_NO_VOLUME 2

/*
 The machine sets itself off.
 */
#define TV_NO_VERDICT_SELF_CYCLING 3

/*
 The infant does not breathe.
 */
#define TV_NO_VERDICT_NOT_BREATHING 4

/*
 Nothing usable comes from the sensor.
 */
#define TV_NO_VERDICT_NO_INPUT 5

/*
 More breaths have numbers that no breath has than are trusted.
 */
#define TV_NO_VERDICT_IMPLAUSIBLE 6

/*
 How many events a call may bring.
 */
#define TV_EVENTS 22

/*
 Limits of an alarm in its unit times 65 536 (`TV_Q16`): mL for the three volumes, mL a minute for
 `TV_MINUTE_VOLUME`, breaths a minute for `TV_RATE`, cmH2O for `TV_PRESSURE`, a share of 1 for `TV_LEAK` (0.4 is 40 %).
 A number that was not scaled is refused: 0 or at least 0.1 of its unit, and for the leak at most 1.
 */
typedef struct {
  /*
   Below it rings; `TV_UNSET` for none (default none).
   */
  int32_t low_q16;
  /*
   Above it rings; `TV_UNSET` for none (default none).
   */
  int32_t high_q16;
  /*
   How far inside a value must stand to end it (default 0).
   */
  int32_t hysteresis_q16;
  /*
   How long a violation must last, up to 600,000 ms (default 0). A value that is not known for as long rings as
   `TV_ALARM_CANNOT_KNOW`: with 0 every flagged breath does so, the one that `tv_finish` cuts among them, and rate
   and minute volume until eight breaths were heard.
   */
  uint32_t delay_ms;
  /*
   1 where it rings until it is acknowledged and over, 0 where it ends by itself (default 0).
   */
  uint32_t latching;
} TvLimits;

/*
 What the monitor is set to. `tv_defaults` fills it; change what is known. `_q16` are times 65 536 (`TV_Q16`). Settings
 that are on or off are 1 or 0.
 */
typedef struct {
  /*
   Weight, 200 to 200,000 g; 0 where it is not known (default 0).
   */
  uint32_t weight_g;
  /*
   What the machine's trigger watches: `TV_TRIGGER_...` (default 0, flow).
   */
  uint32_t trigger;
  /*
   The threshold of a flow trigger, 0.1 to 1,000 mL/s, or `TV_UNSET` (default none). 1 L/min is 16.6667 mL/s.
   */
  int32_t threshold_q16;
  /*
   Rate set on the machine, 0.1 to 150 a minute, 0 where none is assured; `TV_UNSET` where not known (default none).
   */
  int32_t set_rate_q16;
  /*
   Peak pressure of assured inflations, 0.1 to 100 cmH2O; `TV_UNSET` where not known (default none).
   */
  int32_t peak_q16;
  /*
   Peak pressure of supported breaths, 0.1 to 100 cmH2O; `TV_UNSET` where nothing is supported (default none).
   */
  int32_t support_peak_q16;
  /*
   The flow sensor's captured zero, within 50 mL/s, taken off every reading (default 0).
   */
  int32_t flow_offset_q16;
  /*
   A flow beyond this, either way, is refused: above 0 mL/s (default 5,000).
   */
  int32_t flow_limit_q16;
  /*
   A pressure beyond this, either way, is refused: above 0 cmH2O (default 200).
   */
  int32_t pressure_limit_q16;
  /*
   A longer wait, or a sample that `tv_lost` tells of, is a gap: the breath in it is flagged (5 to 1,000; default
   100).
   */
  uint32_t gap_ms;
  /*
   Beyond it counting starts afresh (up to 30,000, not below the gap; default 1,000).
   */
  uint32_t cut_ms;
  /*
   How long readings may stand still (50 to 10,000; default 500).
   */
  uint32_t frozen_ms;
  /*
   Flow that makes a turn, mL/s (0.1 to 1,000; default 1).
   */
  int32_t min_flow_q16;
  /*
   Volume that makes a turn, mL (0.05 to 1,000; default 0.25).
   */
  int32_t min_volume_q16;
  /*
   Rise of pressure that makes an inflation, cmH2O (0.5 to 20; default 2).
   */
  int32_t inflation_rise_q16;
  /*
   How far the flow sensor's zero may stand off, mL/s (0.1 to 100; default 1).
   */
  int32_t zero_limit_q16;
  /*
   The least muscle pressure that is an effort, cmH2O (0.5 to 20; default 1).
   */
  int32_t least_effort_q16;
  /*
   What is known of the tube: `TV_TUBE_...` (default 0, nothing).
   */
  uint32_t tube;
  /*
   Its first coefficient, cmH2O/(L/s) (default 0).
   */
  int32_t tube_k1_q16;
  /*
   Its second, cmH2O/(L/s)^2 (default 0).
   */
  int32_t tube_k2_q16;
  /*
   Say when an inspiration has moved this volume: 0.1 mL to 50 mL/kg; `TV_UNSET` for no limit (default none).
   */
  int32_t limit_q16;
  /*
   The delay of a stop, 0 to 500 (default 0).
   */
  uint32_t limit_delay_ms;
  /*
   A target volume, 0.5 to 2,000 mL, or `TV_UNSET` (default none).
   */
  int32_t target_q16;
  /*
   It is held against these: the step of pressure, cmH2O (0.1 to 10; default 2),
   */
  int32_t target_step_q16;
  /*
   the ceiling, cmH2O (1 to 80; default 22),
   */
  int32_t target_ceiling_q16;
  /*
   the least rise, cmH2O (0.5 to 20; default 2),
   */
  int32_t target_least_rise_q16;
  /*
   and the share of leak beyond which nothing is proposed (0 to 1; default 0.5).
   */
  int32_t target_most_leak_q16;
  /*
   The fit of compliance and resistance: samples (4 to 60,000; default 20),
   */
  uint32_t fit_least_samples;
  /*
   and r squared (0.5 to 1; default 0.99).
   */
  int32_t fit_least_goodness_q16;
  /*
   1 for the bent fit, too (default 0).
   */
  uint32_t fit_bend;
  /*
   The thresholds that can be set on the machine, mL/s: the lowest (default 1.6667, which is 0.1 L/min),
   */
  int32_t grid_lowest_q16;
  /*
   their step (default 1.6667),
   */
  int32_t grid_step_q16;
  /*
   and how many there are (1 to 16; default 16).
   */
  uint32_t grid_count;
  /*
   Minutes after a step that are not counted (0 to 10; default 1).
   */
  uint32_t settle_minutes;
  /*
   Minutes that its beginning is taken over (1 to 10; default 3).
   */
  uint32_t baseline_minutes;
  /*
   The change that is a sign of load, a share (0.05 to 0.5; default 0.15).
   */
  int32_t load_change_q16;
  /*
   In how many minutes on end (1 to 10; default 2).
   */
  uint32_t load_sustain_minutes;
  /*
   The pause that rings (10,000 to 20,000; default 20,000).
   */
  uint32_t apnoea_ms;
  /*
   1 where that rings until it is acknowledged (default 0).
   */
  uint32_t apnoea_latching;
  /*
   A pause with a slow heart or a low saturation rings sooner (3,000 to 20,000), 0 for none (default 0).
   */
  uint32_t short_apnoea_ms;
  /*
   A heart rate below it is slow, a minute (40 to 150; default 0).
   */
  uint32_t heart_below;
  /*
   A saturation below it is low, percent (50 to 95; default 0).
   */
  uint32_t saturation_below;
  /*
   The share of what went in that must be missing to ring as a disconnection (0.5 to 1; default 0.95).
   */
  int32_t disconnection_level_q16;
  /*
   How far below that it ends (0 to 0.5; default 0.05).
   */
  int32_t disconnection_hysteresis_q16;
  /*
   In how many breaths (1 to 16; default 3).
   */
  uint32_t disconnection_breaths;
  /*
   1 where that rings until it is acknowledged (default 0).
   */
  uint32_t disconnection_latching;
  /*
   How long a sensor may say nothing usable until it rings (500 to 10,000; default 2,000).
   */
  uint32_t sensor_fault_ms;
  /*
   How long until nothing is watched (not below that, to 10,000; default 10,000).
   */
  uint32_t no_input_ms;
  /*
   By `TV_VOLUME_OWN` to `TV_LEAK`; none is set by default.
   */
  TvLimits limits[7];
  /*
   `TV_PRIORITY_...` of each `TV_ALARM_...`. By default high for apnoea, disconnection, no input, a low minute volume
   and a high pressure; low for a high rate, a high leak and what cannot be known; medium for the rest.
   */
  uint8_t priorities[25];
} TvSettings;

/*
 A sample: the hardware's tick in µs, which may wrap; flow at the airway opening in mL/s, positive into the infant, and
 pressure there in cmH2O above ambient, times 65 536. The two at the same moment: flow that comes 10 ms after its
 pressure, or later, leaves causes unknown (`TV_NO_CAUSE_FLOW_LATE`).
 */
typedef struct {
  uint32_t tick_us;
  int32_t flow_q16;
  int32_t pressure_q16;
} TvSample;

/*
 A closed breath. Quantities are times 65 536: mL, mL/s, cmH2O, per minute, shares of 1; `TV_UNSET` where one is
 not known.
 */
typedef struct {
  /*
   When it began, turned outward and ended, and the reading at which its end was found, in µs of the ticks: they jump
   where the counter does.
   */
  uint64_t onset_us;
  uint64_t end_insp_us;
  uint64_t end_us;
  uint64_t found_us;
  /*
   When it began on the monitor's own time, which a counter set back does not move: the `time_us` of events.
   */
  uint64_t time_us;
  /*
   `TV_FLAG_...`: what was wrong with it.
   */
  uint32_t flags;
  /*
   Volumes at the sensor.
   */
  int32_t inspired_q16;
  int32_t expired_q16;
  /*
   Largest pressure, and that before the breath; largest flows in and out.
   */
  int32_t peak_q16;
  int32_t baseline_q16;
  int32_t peak_in_q16;
  int32_t peak_out_q16;
  /*
   Share of the inspired volume that leaked, of this breath and over the last trusted ones; below zero where
   more came out than went in.
   */
  int32_t leak_q16;
  int32_t leak_window_q16;
  /*
   The volume that reached the lung, and its standard deviation.
   */
  int32_t lung_q16;
  int32_t lung_sd_q16;
  /*
   Breaths and expired volume a minute over the last eight trusted ones.
   */
  int32_t rate_q16;
  int32_t minute_volume_q16;
  /*
   Of a passive breath: mL/cmH2O, cmH2O/(L/s), r squared, and C20/C of the bent fit.
   */
  int32_t compliance_q16;
  int32_t resistance_q16;
  int32_t goodness_q16;
  int32_t c20_q16;
  /*
   Gas left in the lung as a share of the breath; 0 where it emptied.
   */
  int32_t left_q16;
  /*
   The peak pressure that the target volume needs.
   */
  int32_t proposed_q16;
  /*
   Threshold less leak, and less leak and reach of noise and ripple.
   */
  int32_t margin_q16;
  int32_t clearance_q16;
  /*
   How far flow was taken to lag behind pressure, µs.
   */
  int32_t lag_us;
  /*
   1 where the machine inflated; whose breath it was (`TV_BREATH_...`); 1 where nothing was wrong with it.
   */
  uint8_t inflation;
  uint8_t kind;
  uint8_t trusted;
  /*
   `TV_CAUSE_...` and `TV_THRESHOLD_...`.
   */
  uint8_t cause;
  uint8_t threshold;
  /*
   Why a number is `TV_UNSET`, or a cause unknown: `TV_NO_LEAK_...` of this breath's leak and of the last ones',
   `TV_NO_LUNG_...`, `TV_NO_FIT_...`, `TV_NO_CAUSE_...`; 255 where it is known.
   */
  uint8_t no_leak;
  uint8_t no_leak_window;
  uint8_t no_lung;
  uint8_t no_fit;
  uint8_t no_cause;
} TvBreath;

/*
 Something that happened. What else is told of it depends on `what`.
 */
typedef struct {
  /*
   When it was noticed, in µs of the ticks as a breath's `end_us`: it jumps where the counter does. What a closed
   breath brings, such as an alarm on its volume, bears that breath's end, which may lie before events told earlier.
   */
  uint64_t at_us;
  /*
   The same on the monitor's own time, which a counter set back does not move; of `TV_EVENT_REFUSED` by the tick that
   was refused. In the journal `TV_NO_TIME` but for an alarm.
   */
  uint64_t time_us;
  /*
   The value that goes with it, times 65 536, or `TV_UNSET`: of an alarm mL (a minute for `TV_MINUTE_VOLUME`), per
   minute, cmH2O or a share, as its limit; of `TV_ALARM_DISCONNECTION` the share that leaked; of `TV_ALARM_APNOEA` the
   length of the pause in ms, not times 65 536; of other events as beside their codes.
   */
  int32_t value;
  /*
   Of `TV_EVENT_LOAD` and `TV_EVENT_TIRING`: `TV_SIGN_...`.
   */
  uint32_t signs;
  /*
   `TV_EVENT_...`.
   */
  uint8_t what;
  /*
   Of an alarm: `TV_ALARM_...`, `TV_PRIORITY_...`, and 1 where it begins, 0 where it ends.
   */
  uint8_t alarm;
  uint8_t priority;
  uint8_t begins;
  /*
   Of `TV_EVENT_LOAD`: `TV_LOAD_...`, and `TV_NO_VERDICT_...` where it cannot be told, else 255.
   */
  uint8_t verdict;
  uint8_t no_verdict;
} TvEvent;

/*
 What this call brought, and nothing of earlier ones: at most one closed breath, and events. Written only where the call
 returns `TV_OK`.
 */
typedef struct {
  /*
   1 where a breath was closed: `breath` counts only then.
   */
  uint32_t has_breath;
  /*
   How many of `events` there are, in the order in which they were noticed.
   */
  uint32_t event_count;
  TvBreath breath;
  TvEvent events[TV_EVENTS];
} TvOutcome;

/*
 What stands now.
 */
typedef struct {
  /*
   How long nothing usable was heard, ms.
   */
  uint32_t blind_ms;
  /*
   `TV_SIGN_...`.
   */
  uint32_t signs;
  /*
   `TV_LOAD_...`, and `TV_NO_VERDICT_...` where it cannot be told, else 255.
   */
  uint8_t verdict;
  uint8_t no_verdict;
  /*
   `TV_PRIORITY_...` of what rings highest; `TV_PRIORITY_NONE`, which is 255, where nothing does.
   */
  uint8_t priority;
} TvNow;

/*
 A line of the journal.
 */
typedef struct {
  /*
   Counts up from 0 by one for each entry; a gap tells of entries that made room.
   */
  uint32_t number;
  TvEvent event;
} TvEntry;

#ifdef __cplusplus
extern "C" {
#endif /* __cplusplus */

/*
 The library's version, as `TV_VERSION` is the header's: major, minor and patch in a byte each.
 */
uint32_t tv_version(void);

/*
 How many bytes a monitor with its journal needs.
 */
uintptr_t tv_size(void);

/*
 On what boundary it must stand.
 */
uintptr_t tv_alignment(void);

/*
 Fills `settings` with the defaults: nothing is known of the machine, and no limit is set. What rings then: an apnoea
 after 20 s, a disconnection, a sensor fault after 2 s and no input after 10 s.

 # Safety
 `settings` is null, or can be written and nobody else uses it.
 */
int32_t tv_defaults(TvSettings *settings,
                    uintptr_t bytes);

/*
 Writes why settings are refused, by the name of the field, as text that ends with a zero: an empty one where they are
 not. Returns `TV_OK` either way; 96 bytes hold any, a shorter place cuts it.

 # Safety
 `settings` is null, or can be read; `text` is null, or can be written and nobody else uses it.
 */
int32_t tv_refusal(const TvSettings *settings,
                   uintptr_t bytes,
                   char *text,
                   uintptr_t text_bytes);

/*
 Makes a monitor in `bytes` of `memory`. `settings_bytes` is `sizeof *settings`.

 # Safety
 `memory` is null, or `bytes` of it can be written and nobody else uses them; `settings` is null,
 or can be read.
 */
int32_t tv_start(void *memory,
                 uintptr_t bytes,
                 const TvSettings *settings,
                 uintptr_t settings_bytes);

/*
 Takes one sample and writes what it brought. `outcome_bytes` is `sizeof *outcome`.

 # Safety
 `memory` and `outcome` are null, or can be written and nobody else uses them. Memory that
 `tv_start` did not fill must at least hold something, such as zeros.
 */
int32_t tv_push(void *memory, TvSample sample, TvOutcome *outcome, uintptr_t outcome_bytes);

/*
 Takes samples up to and including the first that brings something, and writes how many into `taken`: go on with
 the rest. Where none brought anything all are taken.

 # Safety
 As `tv_push`; `samples` is null, or `count` of them can be read; `taken` is null, or can be written.
 */
int32_t tv_push_block(void *memory,
                      const TvSample *samples,
                      uintptr_t count,
                      uintptr_t *taken,
                      TvOutcome *outcome,
                      uintptr_t outcome_bytes);

/*
 A sample is known to be lost: its interval is a gap, which flags the breath; where many are lost a sensor fault
 rings.

 # Safety
 As `tv_push`.
 */
int32_t tv_lost(void *memory,
                TvOutcome *outcome,
                uintptr_t outcome_bytes);

/*
 Time passed without a sample; from power-up on. Call it ten times a second where samples may stay
 away.

 # Safety
 As `tv_push`.
 */
int32_t tv_tick(void *memory, uint32_t tick_us, TvOutcome *outcome, uintptr_t outcome_bytes);

/*
 The recording ends: the breath under way is closed, flagged as cut, so that a limit without delay may ring
 `TV_ALARM_CANNOT_KNOW`. Call it until it brings nothing.

 # Safety
 As `tv_push`.
 */
int32_t tv_finish(void *memory,
                  TvOutcome *outcome,
                  uintptr_t outcome_bytes);

/*
 Something was changed on the machine, now: what follows is judged by these settings, what was learned
 is kept. Those that are refused change nothing.

 # Safety
 As `tv_push`; `settings` is null, or can be read.
 */
int32_t tv_change(void *memory,
                  const TvSettings *settings,
                  uintptr_t settings_bytes,
                  TvOutcome *outcome,
                  uintptr_t outcome_bytes);

/*
 Writes what the monitor is set to.

 # Safety
 As `tv_push`, for `memory` and `settings`.
 */
int32_t tv_settings(void *memory, TvSettings *settings, uintptr_t settings_bytes);

/*
 What another monitor shows of heart rate (per minute) and saturation (percent); 0 for neither.

 # Safety
 As `tv_push`, for `memory`.
 */
int32_t tv_vital_signs(void *memory, uint16_t heart_rate, uint8_t saturation);

/*
 The tick counter began anew, as in a reset: `tick_us` is taken for the latest moment that was heard. How long it was
 off cannot be known and counts for nothing; the breath under way is flagged. It comes after `tv_restore` and before
 the first sample, with a tick below that sample's, or that sample is refused. A monitor that has heard nothing
 and was not restored has nothing to go on from: `TV_NONE`.

 # Safety
 As `tv_push`, for `memory`.
 */
int32_t tv_resume(void *memory,
                  uint32_t tick_us);

/*
 Whoever is responsible has seen all that rings: a latching alarm stops with its condition. One that does not latch
 does that by itself; for it this does nothing.

 # Safety
 As `tv_push`, for `memory`.
 */
int32_t tv_acknowledge(void *memory);

/*
 Writes what stands now.

 # Safety
 As `tv_push`, for `memory` and `now`.
 */
int32_t tv_now(void *memory, TvNow *now, uintptr_t now_bytes);

/*
 Writes the oldest entry of the journal and takes it out; `TV_NONE` where there is none. The journal keeps the
 latest sixteen.

 # Safety
 As `tv_push`, for `memory` and `entry`.
 */
int32_t tv_journal(void *memory,
                   TvEntry *entry,
                   uintptr_t entry_bytes);

/*
 How many bytes a snapshot takes at most; it is about half of that.
 */
uintptr_t tv_snapshot_size(void);

/*
 Writes what the monitor remembers, its journal with it, and how many bytes that took: a monitor that goes on from
 it after a reset says what one that was never stopped says.

 # Safety
 As `tv_push`, for `memory`, `bytes` of `to`, and `used`.
 */
int32_t tv_snapshot(void *memory,
                    uint8_t *to,
                    uintptr_t bytes,
                    uintptr_t *used);

/*
 Lets a monitor that `tv_start` made go on from a snapshot of this build, of at least the bytes that `tv_snapshot`
 told. Its settings replace those that `tv_start` was given. One that is damaged or of another build changes nothing
 (`TV_BAD_SNAPSHOT`). Where the tick counter began anew `tv_resume` comes next.

 # Safety
 As `tv_push`, for `memory`; `from` is null, or `bytes` of it can be read.
 */
int32_t tv_restore(void *memory,
                   const uint8_t *from,
                   uintptr_t bytes);

/*
 The name of `TV_EVENT_...`; empty for no such event.
 */
const char *tv_event_name(uint8_t what);

/*
 The name of `TV_ALARM_...`; empty for no such alarm.
 */
const char *tv_alarm_name(uint8_t alarm);

/*
 The name of `TV_PRIORITY_...`; empty for `TV_PRIORITY_NONE`.
 */
const char *tv_priority_name(uint8_t priority);

/*
 The name of `TV_BREATH_...`; empty for no such number, as with all below.
 */
const char *tv_breath_name(uint8_t breath);

/*
 The name of `TV_CAUSE_...`; empty for none.
 */
const char *tv_cause_name(uint8_t cause);

/*
 What `TV_THRESHOLD_...` says; empty for none.
 */
const char *tv_threshold_name(uint8_t threshold);

/*
 The name of `TV_LOAD_...`.
 */
const char *tv_load_name(uint8_t load);

/*
 Why, of `TV_NO_LEAK_...`; empty for 255, where it is known, as with all reasons.
 */
const char *tv_no_leak_name(uint8_t no_leak);

/*
 Why, of `TV_NO_LUNG_...`.
 */
const char *tv_no_lung_name(uint8_t no_lung);

/*
 Why, of `TV_NO_FIT_...`.
 */
const char *tv_no_fit_name(uint8_t no_fit);

/*
 Why, of `TV_NO_CAUSE_...`.
 */
const char *tv_no_cause_name(uint8_t no_cause);

/*
 Why, of `TV_NO_VERDICT_...`.
 */
const char *tv_no_verdict_name(uint8_t no_verdict);

/*
 The name of one `TV_FLAG_...` of `flags`; empty for none, or for several at once.
 */
const char *tv_flag_name(uint32_t flag);

/*
 The name of one `TV_SIGN_...` of `signs`; empty for none, or for several at once.
 */
const char *tv_sign_name(uint32_t sign);

#ifdef __cplusplus
}  /* extern "C" */
#endif  /* __cplusplus */

#endif  /* TIDEVANE_H */
