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
 The memory is too short.
 */
#define TV_TOO_SHORT -3

/*
 A setting is out of its range.
 */
#define TV_BAD_SETTING -4

/*
 The memory holds no monitor that `tv_start` has made.
 */
#define TV_NOT_STARTED -5

/*
 What the monitor is set to. Zero leaves a setting out.
 */
typedef struct {
  /*
   Weight, g.
   */
  uint32_t weight_g;
  /*
   Trigger threshold set on the machine, mL/s, times 65 536.
   */
  int32_t threshold_q16;
  /*
   Rate set on the machine, per minute, times 65 536.
   */
  int32_t set_rate_q16;
} TvSettings;

/*
 What a sample brought. Quantities are times 65 536: mL and cmH2O.
 */
typedef struct {
  /*
   When the breath began, turned outward and ended, µs.
   */
  uint64_t onset_us;
  uint64_t end_insp_us;
  uint64_t end_us;
  /*
   Volumes at the sensor.
   */
  int32_t inspired_q16;
  int32_t expired_q16;
  /*
   Largest pressure, and that before the breath.
   */
  int32_t peak_q16;
  int32_t baseline_q16;
  /*
   Share of the inspired volume that leaked, over the last breaths; look at `leak_known` first.
   */
  int32_t leak_q16;
  /*
   1 where the sample closed a breath: all above counts only then.
   */
  uint8_t breath;
  /*
   1 where the machine inflated.
   */
  uint8_t inflation;
  /*
   1 where nothing was wrong with the breath.
   */
  uint8_t trusted;
  uint8_t leak_known;
  /*
   How many events the sample brought, and how many of them began an alarm.
   */
  uint8_t events;
  uint8_t alarms_begun;
} TvOutcome;

#ifdef __cplusplus
extern "C" {
#endif // __cplusplus

/*
 How many bytes a monitor needs.
 */
uintptr_t tv_size(void);

/*
 On what boundary a monitor must stand.
 */
uintptr_t tv_alignment(void);

/*
 Makes a monitor in `bytes` of `memory`.

 # Safety
 `memory` is null, or `bytes` of it can be written and nobody else uses them; `settings` is null,
 or can be read.
 */
int32_t tv_start(void *memory, uintptr_t bytes, const TvSettings *settings);

/*
 Takes one sample: the hardware's tick in µs, which may wrap; flow in mL/s and pressure in cmH2O,
 times 65 536. Writes what it brought into `outcome`, of which `outcome_bytes` are there.

 # Safety
 `memory` and `outcome` are null, or can be written and nobody else uses them. Memory that
 `tv_start` did not fill must at least hold something, such as zeros.
 */
int32_t tv_push(void *memory,
                uint32_t tick_us,
                int32_t flow_q16,
                int32_t pressure_q16,
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
 Whoever is responsible has seen all that rings: a latching alarm stops with its condition.

 # Safety
 As `tv_push`, for `memory`.
 */
int32_t tv_acknowledge(void *memory);

/*
 Something was changed on the machine, now: what follows is judged by these settings, what was learned
 is kept. Those that are refused change nothing.

 # Safety
 As `tv_push`; `settings` is null, or can be read.
 */
int32_t tv_change(void *memory,
                  const TvSettings *settings,
                  TvOutcome *outcome,
                  uintptr_t outcome_bytes);

#ifdef __cplusplus
}  // extern "C"
#endif  // __cplusplus

#endif  /* TIDEVANE_H */
