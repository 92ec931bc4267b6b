/* Reads a recording as `cargo run -p tidevane-replay -- --save-demo FILE.csv` writes it (t_us, flow in mL/s, pressure in
 * cmH2O) and prints each breath, with the reason where a number is not known, and each alarm that begins or ends:
 *
 *     c-csv FILE.csv [WEIGHT_G [THRESHOLD_ML_PER_S]]
 *
 * Advisory only; not a medical device. */
#include "tidevane.h"
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

static union {
    uint64_t align;
    unsigned char bytes[10240];
} memory;
static TvOutcome outcome;

static void ok(int32_t returned, const char *what) {
    if (returned == TV_OK) return;
    fprintf(stderr, "%s: returned %" PRId32 "\n", what, returned);
    exit(1);
}

static double seconds(uint64_t us) { return (double)us / 1e6; }

/* Whether it can be told times 65 536. */
static int fits(double x) { return x > -32768 && x < 32768; }

/* A number in its unit, or why it is not known. */
static void number(const char *what, int32_t q16, const char *unit, const char *why) {
    if (q16 != TV_UNSET) {
        printf(", %s %.2f%s", what, q16 / 65536.0, unit);
    } else if (*why) {
        printf(", %s not known: %s", what, why);
    }
}

static void print_breath(const TvBreath *b) {
    printf("%9.2f s %s breath", seconds(b->time_us), tv_breath_name(b->kind));
    if (b->cause != TV_CAUSE_NONE) printf(", cause %s", tv_cause_name(b->cause));
    if (b->no_cause != 255) printf(" (%s)", tv_no_cause_name(b->no_cause));
    number("in", b->inspired_q16, " mL", "");
    number("out", b->expired_q16, " mL", "");
    number("in the lung", b->lung_q16, " mL", tv_no_lung_name(b->no_lung));
    number("leak share", b->leak_window_q16, "", tv_no_leak_name(b->no_leak_window));
    number("compliance", b->compliance_q16, " mL/cmH2O", tv_no_fit_name(b->no_fit));
    if (b->threshold != TV_THRESHOLD_NONE) printf(", threshold %s", tv_threshold_name(b->threshold));
    for (uint32_t flag = 1; flag && !b->trusted; flag <<= 1)
        if (b->flags & flag) printf(", flag %s", tv_flag_name(flag));
    putchar('\n');
}

static void print_event(const TvEvent *e) {
    if (e->what == TV_EVENT_ALARM) {
        printf("%9.2f s alarm %s: %s, %s priority\n", seconds(e->time_us), e->begins ? "on" : "off",
               tv_alarm_name(e->alarm), tv_priority_name(e->priority));
    } else if (e->what == TV_EVENT_LOAD) {
        printf("%9.2f s load: %s", seconds(e->time_us), tv_load_name(e->verdict));
        for (uint32_t sign = 1; sign; sign <<= 1)
            if (e->signs & sign) printf(", %s", tv_sign_name(sign));
        printf("%s%s\n", e->no_verdict == 255 ? "" : ", ", tv_no_verdict_name(e->no_verdict));
    } else {
        printf("%9.2f s %s\n", seconds(e->time_us), tv_event_name(e->what));
    }
}

static void tell(void) {
    for (uint32_t i = 0; i < outcome.event_count; i++) print_event(&outcome.events[i]);
    if (outcome.has_breath) print_breath(&outcome.breath);
}

int main(int argc, char **argv) {
    TvSettings settings;
    TvNow now;
    char line[128], why[96];
    unsigned long samples = 0, left_out = 0;
    FILE *in = argc > 1 ? fopen(argv[1], "r") : NULL;
    if (!in) {
        fprintf(stderr, "c-csv FILE.csv [WEIGHT_G [THRESHOLD_ML_PER_S]]: no such file\n");
        return 1;
    }
    ok(tv_defaults(&settings, sizeof settings), "defaults");
    if (argc > 2) settings.weight_g = (uint32_t)strtoul(argv[2], NULL, 10);
    if (argc > 3 && !fits(atof(argv[3]))) ok(TV_BAD_SETTING, argv[3]);
    if (argc > 3) settings.threshold_q16 = TV_Q16(atof(argv[3]));
    settings.limits[TV_LEAK].high_q16 = TV_Q16(0.4);
    settings.limits[TV_LEAK].delay_ms = 10000;
    settings.limits[TV_RATE].high_q16 = TV_Q16(80);
    settings.limits[TV_RATE].delay_ms = 20000;
    ok(tv_refusal(&settings, sizeof settings, why, sizeof why), "settings");
    if (*why) fprintf(stderr, "%s\n", why);
    ok(tv_start(&memory, sizeof memory, &settings, sizeof settings), "start");
    while (fgets(line, sizeof line, in)) {
        uint64_t t_us;
        double flow, pressure;
        TvSample sample;
        if (sscanf(line, "%" SCNu64 ",%lf,%lf", &t_us, &flow, &pressure) != 3 || !fits(flow) || !fits(pressure)) {
            left_out++; /* The header; then a cell that is empty, or beyond all range: a sample that is lost. */
            if (samples) {
                ok(tv_lost(&memory, &outcome, sizeof outcome), "lost");
                tell();
            }
            continue;
        }
        sample.tick_us = (uint32_t)t_us; /* Wraps. */
        sample.flow_q16 = TV_Q16(flow);
        sample.pressure_q16 = TV_Q16(pressure);
        ok(tv_push(&memory, sample, &outcome, sizeof outcome), "push");
        samples++;
        tell();
    }
    fclose(in);
    do {
        ok(tv_finish(&memory, &outcome, sizeof outcome), "finish");
        tell();
    } while (outcome.has_breath || outcome.event_count);
    ok(tv_now(&memory, &now, sizeof now), "now");
    printf("%lu samples, lines left out: %lu; load: %s\n", samples, left_out, tv_load_name(now.verdict));
    return 0;
}
