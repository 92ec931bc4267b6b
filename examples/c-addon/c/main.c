/* Pushes the samples of a recording and prints each breath; before that, looks whether bad pointers
 * are refused. The same on a board and on the host. */
#include "door.h"
#include "tidevane.h"
#include <stdint.h>

/* An item of the recording: a kind, a moment, and four values times 65 536: flow and pressure of a
 * sample; of a change on the machine its threshold and rate, and two that are not used here. */
struct item {
    uint32_t kind;
    uint32_t us_low, us_high;
    int32_t values[4];
};
enum { SAMPLE, LOST, MACHINE };
_Static_assert(sizeof(struct item) == 28, "an item is 28 bytes");

/* Room for a monitor, which says itself how much it needs. */
static union {
    uint64_t align;
    unsigned char bytes[8192];
} memory;

static void print_hex(uint64_t value) {
    char text[18];
    int at = 17;
    text[at] = 0;
    do {
        text[--at] = "0123456789abcdef"[value & 15];
        value >>= 4;
    } while (value);
    text[--at] = ' ';
    door_print(text + at);
}

static void print_breath(const TvOutcome *breath) {
    door_print("breath");
    print_hex(breath->onset_us);
    print_hex(breath->end_insp_us);
    print_hex(breath->end_us);
    print_hex((uint32_t)breath->inspired_q16);
    print_hex((uint32_t)breath->expired_q16);
    print_hex((uint32_t)breath->peak_q16);
    print_hex((uint32_t)breath->baseline_q16);
    print_hex((uint32_t)breath->leak_q16);
    print_hex(breath->inflation);
    print_hex(breath->trusted);
    print_hex(breath->leak_known);
    door_print("\n");
}

static int wrong(const char *what) {
    door_print("not refused as it should be: ");
    door_print(what);
    door_print("\n");
    return 1;
}

static int refusals(void) {
    const size_t size = tv_size();
    const TvSettings good = {980, 2 << 16, 40 << 16};
    const TvSettings heavy = {0xffffffff, 0, 0};
    const TvSettings slower = {980, 2 << 16, 30 << 16};
    union {
        uint64_t align;
        unsigned char bytes[sizeof(TvOutcome) + 8];
    } out;
    TvOutcome *outcome = (TvOutcome *)(void *)out.bytes;
    void *odd = memory.bytes + 1;
    if (size > sizeof memory.bytes || tv_alignment() > 8) return wrong("a monitor too large");
    if (tv_start(NULL, size, &good) != TV_NULL) return wrong("no memory");
    if (tv_start(odd, size, &good) != TV_MISALIGNED) return wrong("memory askew");
    if (tv_start(&memory, size - 1, &good) != TV_TOO_SHORT) return wrong("short memory");
    if (tv_start(&memory, size, NULL) != TV_NULL) return wrong("no settings");
    if (tv_start(&memory, size, (const TvSettings *)(const void *)(out.bytes + 1)) != TV_MISALIGNED)
        return wrong("settings askew");
    if (tv_start(&memory, size, &heavy) != TV_BAD_SETTING) return wrong("a weight of 4295 t");
    if (tv_push(&memory, 0, 0, 0, outcome, sizeof *outcome) != TV_NOT_STARTED)
        return wrong("a monitor not started");
    if (tv_lost(NULL, outcome, sizeof *outcome) != TV_NULL) return wrong("a loss of nothing");
    if (tv_tick(NULL, 0, outcome, sizeof *outcome) != TV_NULL) return wrong("time for nothing");
    if (tv_acknowledge(&memory) != TV_NOT_STARTED) return wrong("nothing to acknowledge");
    if (tv_change(&memory, &good, outcome, sizeof *outcome) != TV_NOT_STARTED)
        return wrong("a change of nothing");
    if (tv_start(&memory, size, &good) != TV_OK) return wrong("what is right");
    if (tv_change(&memory, NULL, outcome, sizeof *outcome) != TV_NULL) return wrong("no change");
    if (tv_change(&memory, &heavy, outcome, sizeof *outcome) != TV_BAD_SETTING)
        return wrong("a change to 4295 t");
    if (tv_change(&memory, &slower, outcome, sizeof *outcome) != TV_OK || outcome->events != 1)
        return wrong("a change that is right");
    if (tv_acknowledge(&memory) != TV_OK) return wrong("an acknowledgement");
    if (tv_push(NULL, 0, 0, 0, outcome, sizeof *outcome) != TV_NULL) return wrong("no monitor");
    if (tv_push(odd, 0, 0, 0, outcome, sizeof *outcome) != TV_MISALIGNED)
        return wrong("a monitor askew");
    if (tv_push(&memory, 0, 0, 0, NULL, sizeof *outcome) != TV_NULL) return wrong("no outcome");
    if (tv_push(&memory, 0, 0, 0, (TvOutcome *)(void *)(out.bytes + 1), sizeof *outcome) !=
        TV_MISALIGNED)
        return wrong("an outcome askew");
    if (tv_push(&memory, 0, 0, 0, outcome, sizeof *outcome - 1) != TV_TOO_SHORT)
        return wrong("a short outcome");
    door_print("refused: null, askew, short, out of range, not started\n");
    return 0;
}

int run(void) {
    const TvSettings settings = {980, 2 << 16, 40 << 16};
    TvOutcome outcome;
    struct item item;
    unsigned long breaths = 0;
    if (refusals()) return 1;
    if (tv_start(&memory, sizeof memory, &settings) != TV_OK) return 1;
    while (door_read(&item, sizeof item) == sizeof item) {
        if (item.kind == LOST) {
            if (tv_lost(&memory, &outcome, sizeof outcome) != TV_OK) return 1;
        } else if (item.kind == MACHINE) {
            const TvSettings changed = {980, item.values[0], item.values[1]};
            if (tv_change(&memory, &changed, &outcome, sizeof outcome) != TV_OK) return 1;
        } else if (item.kind == SAMPLE) {
            if (tv_push(&memory, item.us_low, item.values[0], item.values[1], &outcome,
                        sizeof outcome) != TV_OK)
                return 1;
            if (outcome.breath) {
                print_breath(&outcome);
                breaths++;
            }
        }
    }
    return breaths == 0;
}
