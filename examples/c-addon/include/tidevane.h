/* tidevane for C callers. Advisory only; not a medical device: nothing here may act on a patient.
 * Made by cbindgen from src/lib.rs; do not edit. */

#ifndef TIDEVANE_H
#define TIDEVANE_H

#include <stddef.h>
#include <stdint.h>

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
 There is none.
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
 `tube`: what is known of the tube's resistance. That of its size is likely, one by weight is found by the
 monitor.
 */
#define TV_TUBE_UNKNOWN 0

#define TV_TUBE_MEASURED 1

#define TV_TUBE_LIKELY 2

/*
 `kind`: whose breath it was.
 */
#define TV_BREATH_OWN 0

#define TV_BREATH_SUPPORTED 1

#define TV_BREATH_ASSURED 2

/*
 `cause`: what started an inflation.
 */
#define TV_CAUSE_TIMED 0

#define TV_CAUSE_EFFORT 1

#define TV_CAUSE_LEAK 2

#define TV_CAUSE_RIPPLE 3

#define TV_CAUSE_UNKNOWN 4

/*
 No inflation.
 */
#define TV_CAUSE_NONE 255

/*
 `threshold`: the trigger threshold against leak, noise and ripple.
 */
#define TV_THRESHOLD_CLEAR 0

#define TV_THRESHOLD_IN_NOISE 1

#define TV_THRESHOLD_ABOVE_LEAK 2

#define TV_THRESHOLD_BELOW_LEAK 3

#define TV_THRESHOLD_UNKNOWN 4

/*
 No threshold is set.
 */
#define TV_THRESHOLD_NONE 255

/*
 `verdict`: whether the infant bears the present step.
 */
#define TV_LOAD_NO_SIGN 0

#define TV_LOAD_HOLD 1

#define TV_LOAD_STEP_BACK 2

#define TV_LOAD_CANNOT_TELL 3

/*
 A place in `limits`, and what is added to `TV_ALARM_LOW`, `TV_ALARM_HIGH` and `TV_ALARM_CANNOT_KNOW`.
 */
#define TV_OWN_VOLUME 0

#define TV_SUPPORTED_VOLUME 1

#define TV_ASSURED_VOLUME 2

#define TV_MINUTE_VOLUME 3

#define TV_RATE 4

#define TV_PRESSURE 5

#define TV_LEAK 6

/*
 `alarm`: what rings. The place in `priorities`.
 */
#define TV_ALARM_APNOEA 0

#define TV_ALARM_DISCONNECTION 1

#define TV_ALARM_SENSOR_FAULT 2

#define TV_ALARM_LOW 3

#define TV_ALARM_HIGH 10

#define TV_ALARM_CANNOT_KNOW 17

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
 */
#define TV_EVENT_GAP 0

#define TV_EVENT_STUCK 1

#define TV_EVENT_CLIPPED 2

#define TV_EVENT_REFUSED 3

#define TV_EVENT_CLOCK_RESET 4

#define TV_EVENT_MISSED_EFFORT 5

#define TV_EVENT_ZERO_DRIFT 6

#define TV_EVENT_SETTINGS 7

#define TV_EVENT_WEAN_STEP 8

#define TV_EVENT_LOAD 9

#define TV_EVENT_ALARM 10

#define TV_EVENT_DOUBLE_TRIGGER 11

#define TV_EVENT_LIMIT_REACHED 12

#define TV_EVENT_LIMIT_UNKNOWN 13

#define TV_EVENT_IMPLAUSIBLE 14

#define TV_EVENT_TIRING 15

#define TV_EVENT_OPEN_CIRCUIT 16

#define TV_EVENT_LUNG_CHANGED 17

#define TV_EVENT_REVERSE_TRIGGER 18

/*
 None, or of a later version.
 */
#define TV_EVENT_OTHER 255

/*
 Bits of `flags`: what was wrong with a breath; none where its numbers can be believed.
 */
#define TV_FLAG_GAP 1

#define TV_FLAG_OUT_OF_RANGE 2

#define TV_FLAG_DISORDER 4

#define TV_FLAG_STUCK 8

#define TV_FLAG_CLIPPED 16

#define TV_FLAG_SATURATED 32

#define TV_FLAG_BEGUN_BEFORE 64

#define TV_FLAG_CUT 128

#define TV_FLAG_NOISY 256

#define TV_FLAG_ZERO_DRIFT 512

#define TV_FLAG_UNSETTLED 1024

#define TV_FLAG_IMPLAUSIBLE 2048

#define TV_FLAG_OPEN 4096

/*
 How many events a call may bring.
 */
#define TV_EVENTS 22

/*
 Limits of an alarm, times 65 536; `TV_UNSET` for none.
 */
typedef struct {
  int32_t low_q16;
  int32_t high_q16;
  /*
   How far inside a value must stand to end it.
   */
  int32_t hysteresis_q16;
  /*
   How long a violation must last.
   */
  uint32_t delay_ms;
  /*
   1 where it rings until it is acknowledged.
   */
  uint32_t latching;
} TvLimits;

/*
 What the monitor is set to. `tv_defaults` fills it; change what is known. `_q16` are times 65 536: mL, mL/s,
 cmH2O, per minute, shares of 1.
 */
typedef struct {
  /*
   Weight, g; 0 where it is not known.
   */
  uint32_t weight_g;
  /*
   What the machine's trigger watches (`TV_TRIGGER_...`), and its threshold of flow, mL/s, or `TV_UNSET`.
   */
  uint32_t trigger;
  int32_t threshold_q16;
  /*
   Rate set on the machine, 0 where none is assured; peak pressures of assured inflations and of supported
   breaths; `TV_UNSET` where not known, or where nothing is supported.
   */
  int32_t set_rate_q16;
  int32_t peak_q16;
  int32_t support_peak_q16;
  /*
   The flow sensor's captured zero, taken off every reading.
   */
  int32_t flow_offset_q16;
  /*
   Readings beyond these are refused.
   */
  int32_t flow_limit_q16;
  int32_t pressure_limit_q16;
  /*
   The longest wait that is bridged; beyond `cut_ms` counting starts afresh; how long readings may stand
   still.
   */
  uint32_t gap_ms;
  uint32_t cut_ms;
  uint32_t frozen_ms;
  /*
   Flow and volume that make a turn, and the rise of pressure that makes an inflation.
   */
  int32_t min_flow_q16;
  int32_t min_volume_q16;
  int32_t inflation_rise_q16;
  /*
   How far the flow sensor's zero may stand off; the least muscle pressure that is an effort.
   */
  int32_t zero_limit_q16;
  int32_t least_effort_q16;
  /*
   What is known of the tube (`TV_TUBE_...`), and its coefficients, cmH2O/(L/s) and cmH2O/(L/s)^2.
   */
  uint32_t tube;
  int32_t tube_k1_q16;
  int32_t tube_k2_q16;
  /*
   Say when an inspiration has moved this volume; `TV_UNSET` for no limit.
   */
  int32_t limit_q16;
  uint32_t limit_delay_ms;
  /*
   A target volume, or `TV_UNSET`, and the bounds of pressure that it is held against.
   */
  int32_t target_q16;
  int32_t target_step_q16;
  int32_t target_ceiling_q16;
  int32_t target_least_rise_q16;
  int32_t target_most_leak_q16;
  /*
   The fit of compliance and resistance; 1 for the bent fit, too.
   */
  uint32_t fit_least_samples;
  int32_t fit_least_goodness_q16;
  uint32_t fit_bend;
  /*
   The thresholds that can be set on the machine.
   */
  int32_t grid_lowest_q16;
  int32_t grid_step_q16;
  uint32_t grid_count;
  /*
   Minutes after a step that are not counted, and those that its beginning is taken over.
   */
  uint32_t settle_minutes;
  uint32_t baseline_minutes;
  /*
   The change that is a sign of load, and in how many minutes on end.
   */
  int32_t load_change_q16;
  uint32_t load_sustain_minutes;
  /*
   The pause that rings; one with a slow heart or a low saturation, 0 for none.
   */
  uint32_t apnoea_ms;
  uint32_t apnoea_latching;
  uint32_t short_apnoea_ms;
  uint32_t heart_below;
  uint32_t saturation_below;
  /*
   The share of what went in that must be missing, how far below that it ends, in how many breaths.
   */
  int32_t disconnection_level_q16;
  int32_t disconnection_hysteresis_q16;
  uint32_t disconnection_breaths;
  uint32_t disconnection_latching;
  /*
   How long a sensor may say nothing usable, and how long until nothing is watched.
   */
  uint32_t sensor_fault_ms;
  uint32_t no_input_ms;
  /*
   By `TV_OWN_VOLUME` to `TV_LEAK`.
   */
  TvLimits limits[7];
  /*
   `TV_PRIORITY_...` of each `TV_ALARM_...`.
   */
  uint8_t priorities[25];
} TvSettings;

/*
 A sample: the hardware's tick in µs, which may wrap; flow in mL/s and pressure in cmH2O, times 65 536.
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
   When it began, turned outward and ended, and the reading at which its end was found, in µs of the ticks.
   */
  uint64_t onset_us;
  uint64_t end_insp_us;
  uint64_t end_us;
  uint64_t found_us;
  /*
   When it began on the monitor's own time, which a clock set back does not move: that of the events.
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
} TvBreath;

/*
 Something that happened. What else is told of it depends on `what`.
 */
typedef struct {
  /*
   When it was noticed.
   */
  uint64_t at_us;
  /*
   The value that goes with it, times 65 536: of an alarm, a zero that drifted, a limit reached, an effort
   missed (cmH2O); of an apnoea its length in ms. `TV_UNSET` for none.
   */
  int32_t value;
  /*
   Of `TV_EVENT_LOAD` and `TV_EVENT_TIRING`: the signs, bits as the library numbers them.
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
   Of `TV_EVENT_LOAD`: `TV_LOAD_...`.
   */
  uint8_t verdict;
} TvEvent;

/*
 What a call brought: at most one closed breath, and the events so far.
 */
typedef struct {
  /*
   1 where a breath was closed: `breath` counts only then.
   */
  uint32_t has_breath;
  /*
   How many events there are.
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
   The signs of load, bits as the library numbers them.
   */
  uint32_t signs;
  /*
   `TV_LOAD_...`.
   */
  uint8_t verdict;
  /*
   `TV_PRIORITY_...` of what rings highest; `TV_PRIORITY_NONE` where nothing does.
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
 Fills `settings` with the defaults: nothing is known of the machine, and no limit is set.

 # Safety
 `settings` is null, or can be written and nobody else uses it.
 */
int32_t tv_defaults(TvSettings *settings, uintptr_t bytes);

/*
 Writes why settings are refused as text that ends with a zero, cut where it is too long; an empty one where they
 are not.

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
 A sample is known to be lost: as long as usual passes without input, which can ring.

 # Safety
 As `tv_push`.
 */
int32_t tv_lost(void *memory, TvOutcome *outcome, uintptr_t outcome_bytes);

/*
 Time passed without a sample; from power-up on. Call it ten times a second where samples may stay
 away.

 # Safety
 As `tv_push`.
 */
int32_t tv_tick(void *memory, uint32_t tick_us, TvOutcome *outcome, uintptr_t outcome_bytes);

/*
 The recording ends: the breath under way is closed. Call it until it brings nothing.

 # Safety
 As `tv_push`.
 */
int32_t tv_finish(void *memory, TvOutcome *outcome, uintptr_t outcome_bytes);

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
 Whoever is responsible has seen all that rings: a latching alarm stops with its condition.

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
 Writes what the monitor remembers and how many bytes that took: a monitor that goes on from it after a reset says
 what one that was never stopped says.

 # Safety
 As `tv_push`, for `memory`, `bytes` of `to`, and `used`.
 */
int32_t tv_snapshot(void *memory,
                    uint8_t *to,
                    uintptr_t bytes,
                    uintptr_t *used);

/*
 Lets a monitor that `tv_start` made go on from a snapshot of this build, with the settings of that. One that is
 damaged or of another build changes nothing.

 # Safety
 As `tv_push`, for `memory`; `from` is null, or `bytes` of it can be read.
 */
int32_t tv_restore(void *memory,
                   const uint8_t *from,
                   uintptr_t bytes);

#ifdef __cplusplus
}  /* extern "C" */
#endif  /* __cplusplus */

#endif  /* TIDEVANE_H */
