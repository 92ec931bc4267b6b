/* Pushes the samples of a recording and prints each breath and event; before that, looks whether bad
 * pointers and settings are refused. The same on a board and on the host. */
#include "door.h"
#include "tidevane.h"
#include <stdint.h>

/* An item of the recording: a kind, a moment, and four values times 65 536: flow and pressure of a
 * sample; of a change on the machine its threshold, rate, peak and support (TV_UNSET for none). */
struct item {
    uint32_t kind;
    uint32_t us_low, us_high;
    int32_t values[4];
};
enum { SAMPLE, LOST, MACHINE };
enum { BLOCK = 8 };
_Static_assert(sizeof(struct item) == 28, "an item is 28 bytes");

/* Room for a monitor, which says itself how much it needs, and for its snapshot. */
static union {
    uint64_t align;
    unsigned char bytes[10240];
} memory;
static unsigned char kept[8192];
static TvOutcome outcome;

static void print_number(int64_t value, int base) {
    char text[24];
    int at = 23;
    uint64_t left = value < 0 && base == 10 ? (uint64_t)-value : (uint64_t)value;
    text[at] = 0;
    do {
        text[--at] = "0123456789abcdef"[left % (unsigned)base];
        left /= (unsigned)base;
    } while (left);
    if (value < 0 && base == 10) text[--at] = '-';
    text[--at] = ' ';
    door_print(text + at);
}

static void print_hex(uint64_t value) { print_number((int64_t)value, 16); }

static void print_q16(int32_t value) {
    if (value == TV_UNSET) {
        door_print(" -");
    } else {
        print_hex((uint32_t)value);
    }
}

static void print_breath(const TvBreath *b) {
    door_print("breath");
    print_hex(b->onset_us);
    print_hex(b->end_insp_us);
    print_hex(b->end_us);
    print_hex(b->flags);
    print_q16(b->inspired_q16);
    print_q16(b->expired_q16);
    print_q16(b->peak_q16);
    print_q16(b->baseline_q16);
    print_q16(b->leak_window_q16);
    print_q16(b->lung_q16);
    print_q16(b->lung_sd_q16);
    print_q16(b->minute_volume_q16);
    print_q16(b->compliance_q16);
    print_q16(b->resistance_q16);
    print_q16(b->c20_q16);
    print_q16(b->left_q16);
    print_q16(b->proposed_q16);
    print_q16(b->clearance_q16);
    print_hex(b->inflation);
    print_hex(b->kind);
    print_hex(b->trusted);
    print_hex(b->cause);
    print_hex(b->threshold);
    print_hex(b->no_leak);
    print_hex(b->no_leak_window);
    print_hex(b->no_lung);
    print_hex(b->no_fit);
    print_hex(b->no_cause);
    door_print("\n");
}

static void print_event(const TvEvent *event) {
    door_print("event");
    print_hex(event->at_us);
    print_number(event->what, 10);
    print_q16(event->value);
    print_number(event->alarm, 10);
    print_number(event->priority, 10);
    print_number(event->begins, 10);
    print_number(event->verdict, 10);
    print_hex(event->signs);
    door_print("\n");
}

static int wrong(const char *what) {
    door_print("not as it should be: ");
    door_print(what);
    door_print("\n");
    return 1;
}

/* Whether a call returned another number than it should; both are said. */
static int differs(int32_t got, int32_t want, const char *what) {
    if (got == want) return 0;
    door_print("returned");
    print_number(got, 10);
    door_print(", not");
    print_number(want, 10);
    door_print("; ");
    return wrong(what);
}

static int same_text(const char *one, const char *other) {
    while (*one && *one == *other) one++, other++;
    return *one == *other;
}

/* Whether a text is another than it should be; both are said. */
static int reads(const char *got, const char *want) {
    if (same_text(got, want)) return 0;
    door_print("reads \"");
    door_print(got);
    door_print("\", not \"");
    door_print(want);
    door_print("\"; ");
    return wrong("a text");
}

/* The infant of the recording, with limits to ring. */
static TvSettings infant(void) {
    TvSettings settings;
    tv_defaults(&settings, sizeof settings);
    settings.weight_g = 980;
    settings.threshold_q16 = TV_Q16(10.0 / 3);
    settings.set_rate_q16 = TV_Q16(40);
    settings.peak_q16 = TV_Q16(17);
    settings.support_peak_q16 = TV_Q16(12);
    settings.target_q16 = TV_Q16(5);
    settings.limit_q16 = TV_Q16(7);
    settings.fit_bend = 1;
    settings.limits[TV_RATE].high_q16 = TV_Q16(80);
    settings.limits[TV_VOLUME_OWN].low_q16 = TV_Q16(3);
    settings.limits[TV_VOLUME_OWN].delay_ms = 5000;
    return settings;
}

static int refusals(void) {
    const size_t size = tv_size();
    const TvSettings good = infant();
    const TvSample sample = {0, 0, 0};
    const size_t each = sizeof(TvSettings), out = sizeof outcome;
    TvSettings heavy = infant(), slower = infant(), hasty = infant();
    TvSettings *odd_settings = (TvSettings *)(void *)(kept + 1);
    void *odd = memory.bytes + 1;
    char why[96];
    size_t used = 0;
    heavy.weight_g = 0xffffffff;
    slower.set_rate_q16 = TV_Q16(30);
    hasty.limits[TV_LEAK].delay_ms = 0xffffffff;
    if (differs(tv_version(), TV_VERSION, "the version")) return 1;
    if (size > sizeof memory.bytes || tv_alignment() > 8) return wrong("a monitor too large");
    if (tv_snapshot_size() > sizeof kept) return wrong("a snapshot too large");
    if (differs(tv_start(NULL, size, &good, each), TV_NULL, "no memory")) return 1;
    if (differs(tv_start(odd, size, &good, each), TV_MISALIGNED, "memory askew")) return 1;
    if (differs(tv_start(&memory, size - 1, &good, each), TV_WRONG_SIZE, "short memory")) return 1;
    if (differs(tv_start(&memory, size, NULL, each), TV_NULL, "no settings")) return 1;
    if (differs(tv_start(&memory, size, odd_settings, each), TV_MISALIGNED, "settings askew")) return 1;
    if (differs(tv_start(&memory, size, &good, each - 4), TV_WRONG_SIZE, "older settings")) return 1;
    if (differs(tv_start(&memory, size, &good, each + 4), TV_WRONG_SIZE, "newer settings")) return 1;
    if (differs(tv_start(&memory, sizeof memory, (TvSettings *)(void *)memory.bytes, each), TV_OVERLAP,
                "settings in the monitor's memory"))
        return 1;
    if (differs(tv_start(&memory, size, &heavy, each), TV_BAD_SETTING, "a weight of 4295 t")) return 1;
    if (differs(tv_refusal(&heavy, each, why, sizeof why), TV_OK, "a refusal") ||
        reads(why, "weight_g is above the largest allowed value"))
        return 1;
    if (differs(tv_refusal(&hasty, each, why, 8), TV_OK, "a refusal cut short") || reads(why, "limits["))
        return 1;
    if (differs(tv_refusal(&good, each, why, sizeof why), TV_OK, "no refusal") || reads(why, "")) return 1;
    if (differs(tv_push(&memory, sample, &outcome, out), TV_NOT_STARTED, "not started")) return 1;
    if (differs(tv_lost(NULL, &outcome, out), TV_NULL, "a loss of nothing")) return 1;
    if (differs(tv_tick(NULL, 0, &outcome, out), TV_NULL, "time for nothing")) return 1;
    if (differs(tv_acknowledge(&memory), TV_NOT_STARTED, "nothing to acknowledge")) return 1;
    if (differs(tv_resume(&memory, 0), TV_NOT_STARTED, "nothing to resume")) return 1;
    if (differs(tv_vital_signs(&memory, 150, 92), TV_NOT_STARTED, "signs of nobody")) return 1;
    if (differs(tv_change(&memory, &good, each, &outcome, out), TV_NOT_STARTED, "a change of nothing")) return 1;
    if (differs(tv_start(&memory, size, &good, each), TV_OK, "what is right")) return 1;
    if (differs(tv_change(&memory, NULL, each, &outcome, out), TV_NULL, "no change")) return 1;
    if (differs(tv_change(&memory, &heavy, each, &outcome, out), TV_BAD_SETTING, "a change to 4295 t")) return 1;
    if (tv_change(&memory, &slower, each, &outcome, out) != TV_OK || outcome.event_count != 1 ||
        outcome.events[0].what != TV_EVENT_WEAN_STEP)
        return wrong("a change that is right");
    if (tv_settings(&memory, &heavy, each) != TV_OK || heavy.set_rate_q16 != TV_Q16(30) || heavy.weight_g != 980 ||
        heavy.limits[TV_RATE].high_q16 != TV_Q16(80) || heavy.peak_q16 != TV_Q16(17))
        return wrong("settings read back");
    if (differs(tv_vital_signs(&memory, 150, 92), TV_OK, "signs")) return 1;
    if (differs(tv_acknowledge(&memory), TV_OK, "an acknowledgement")) return 1;
    if (differs(tv_push(NULL, sample, &outcome, out), TV_NULL, "no monitor")) return 1;
    if (differs(tv_push(odd, sample, &outcome, out), TV_MISALIGNED, "a monitor askew")) return 1;
    if (differs(tv_push(&memory, sample, NULL, out), TV_NULL, "no outcome")) return 1;
    if (differs(tv_push(&memory, sample, (TvOutcome *)(void *)(kept + 1), out), TV_MISALIGNED,
                "an outcome askew"))
        return 1;
    if (differs(tv_push(&memory, sample, &outcome, out - 8), TV_WRONG_SIZE, "a short outcome")) return 1;
    if (differs(tv_push(&memory, sample, (TvOutcome *)(void *)memory.bytes, out), TV_OVERLAP,
                "an outcome in the monitor's memory"))
        return 1;
    if (differs(tv_push_block(&memory, &sample, 1, NULL, &outcome, out), TV_NULL, "nowhere to count")) return 1;
    if (differs(tv_push_block(&memory, NULL, 1, &used, &outcome, out), TV_NULL, "no block")) return 1;
    if (differs(tv_snapshot(&memory, kept, 10, &used), TV_WRONG_SIZE, "a short snapshot")) return 1;
    if (differs(tv_snapshot(&memory, memory.bytes, 100, &used), TV_OVERLAP, "a snapshot of itself")) return 1;
    if (differs(tv_snapshot(&memory, kept, sizeof kept, &used), TV_OK, "a snapshot")) return 1;
    kept[20] ^= 1;
    if (differs(tv_restore(&memory, kept, used), TV_BAD_SNAPSHOT, "a damaged snapshot")) return 1;
    door_print("refused: null, askew, short, overlapping, out of range, not started, damaged\n");
    return 0;
}

static unsigned long breaths, events;

static void tell(void) {
    uint32_t i;
    for (i = 0; i < outcome.event_count; i++) print_event(&outcome.events[i]);
    events += outcome.event_count;
    if (outcome.has_breath) print_breath(&outcome.breath);
    breaths += outcome.has_breath;
}

static int push(const TvSample *samples, size_t count) {
    while (count) {
        size_t taken = 0;
        if (tv_push_block(&memory, samples, count, &taken, &outcome, sizeof outcome) != TV_OK) return 1;
        if (!taken || taken > count) return wrong("samples taken");
        samples += taken;
        count -= taken;
        tell();
    }
    return 0;
}

/* A reset: the memory is lost, and the monitor goes on from what was kept. */
static int reset(void) {
    const TvSettings other = infant();
    size_t used = 0;
    if (tv_snapshot(&memory, kept, sizeof kept, &used) != TV_OK) return 1;
    if (tv_start(&memory, sizeof memory, &other, sizeof other) != TV_OK) return 1;
    return tv_restore(&memory, kept, used) != TV_OK;
}

int run(void) {
    TvSettings settings = infant();
    TvSample block[BLOCK];
    TvEntry entry;
    TvNow now;
    struct item item;
    unsigned long samples = 0, lines = 0;
    size_t held = 0;
    if (refusals()) return 1;
    if (tv_start(&memory, sizeof memory, &settings, sizeof settings) != TV_OK) return 1;
    while (door_read(&item, sizeof item) == sizeof item) {
        if (item.kind == SAMPLE) {
            block[held].tick_us = item.us_low;
            block[held].flow_q16 = item.values[0];
            block[held].pressure_q16 = item.values[1];
            held++;
            samples++;
            if (held < BLOCK) continue;
        }
        if (push(block, held)) return 1;
        held = 0;
        if (samples % 5000 == 0 && reset()) return wrong("a reset");
        if (item.kind == LOST) {
            if (tv_lost(&memory, &outcome, sizeof outcome) != TV_OK) return 1;
            tell();
        } else if (item.kind == MACHINE) {
            settings.threshold_q16 = item.values[0] ? item.values[0] : TV_UNSET;
            settings.set_rate_q16 = item.values[1];
            if (tv_change(&memory, &settings, sizeof settings, &outcome, sizeof outcome) != TV_OK) return 1;
            tell();
        }
    }
    if (push(block, held)) return 1;
    do {
        if (tv_finish(&memory, &outcome, sizeof outcome) != TV_OK) return 1;
        tell();
    } while (outcome.has_breath || outcome.event_count);
    while (tv_journal(&memory, &entry, sizeof entry) == TV_OK) lines++;
    if (tv_now(&memory, &now, sizeof now) != TV_OK) return 1;
    door_print("end");
    print_number((int64_t)lines, 10);
    print_number(now.verdict, 10);
    print_number(now.no_verdict, 10);
    print_number(now.priority, 10);
    print_number((int64_t)events, 10);
    door_print("\n");
    return breaths == 0 || lines == 0;
}
