/* bench_house.h - a small house on the bench, for tests that read as sentences.
 *
 * One line, up to three loads, a meter that shows `rest_w` (household minus roof)
 * plus what the loads draw, and outputs that answer a second after they are told.
 * Time passes second by second; it is a Monday, 1 June 2026, and UTC unless a test
 * says otherwise. */
#ifndef SLUICE_TESTS_BENCH_HOUSE_H
#define SLUICE_TESTS_BENCH_HOUSE_H

#include "rules/rules.h"

#include <check.h>

enum { BENCH_EXPERIMENTS = 16 };
enum { BENCH_LOADS = 3, HEATER = 0, PUMP = 1, CHARGER = 2 };

struct bench_load {
    bool told_on, is_on; /* output: ordered, and what the contactor does */
    bool thermostat_open, broken;
    bool dead, welded;   /* takes nothing; takes its power whatever is ordered */
    enum load_held held; /* by its switch at the board, or its supply */
    int32_t told_w, level_w;
    int answer_s, answer_in; /* seconds until the output answers */
    int32_t draw_w;          /* when on and the thermostat is closed; 0: the level */
};

struct bench {
    struct rules_settings settings;
    struct load_settings load[BENCH_LOADS];
    uint16_t order[BENCH_LOADS];
    struct rules_memory memory;
    struct load_memory loads[BENCH_LOADS];
    struct bench_load at[BENCH_LOADS];
    struct moment now;
    int32_t rest_w, battery_w;
    int32_t solar_w;                   /* of the roof; what of it the grid's meter sees */
    int solar_every_s, solar_offset_s; /* its meter is read at these seconds; 0: each */
    bool solar_silent;
    bool meter_silent, meter_held, battery_silent, throttled, islanded;
    struct reading reading;
    struct decision decision[BENCH_LOADS];
    struct rules_outcome outcome;
    struct command order_given;
    bool has_order;
    struct confirmation found; /* besides the outputs' own answers, where has_found */
    bool has_found;
    int events[EVENT_DAY_ENDED + 1];
    bool own_meters; /* loads that are `metered` are read */
    struct load_reading own[BENCH_LOADS];
    struct experiment experiment[BENCH_EXPERIMENTS]; /* the first ones, in their order */
    int experiments;                                 /* all of them */
};

/* A house of `count` loads of 3.6 kW on spare power: settling 2 min and 1 min,
 * minimum on and off 5 min, priorities as numbered. Change it, then begin. */
void bench_make(struct bench *bench, uint16_t count);

/* Begins at an hour of the day; the outputs have answered, all rests are over. */
void bench_begin(struct bench *bench, int32_t second_of_day);
/* Begins, and nothing has happened yet: outputs unknown, minimum off from now. */
void bench_begin_cold(struct bench *bench, int32_t second_of_day);

/* After bench_begin: its thermostat was seen to open three days ago, so that an opening can
 * be compared with one. */
void bench_opened_before(struct bench *bench, uint16_t load);

void bench_pass(struct bench *bench, int64_t seconds);
/* Until a load is on (or off), at most `seconds`; how long it took, -1: it did not. */
int64_t bench_until(struct bench *bench, uint16_t load, bool on, int64_t seconds);
void bench_order(struct bench *bench, struct command order);
/* In the next second the output has this to say, and is so from then on. */
void bench_find(struct bench *bench, uint16_t load, enum output_health health, int32_t level_w);

bool bench_on(const struct bench *bench, uint16_t load);
enum basis bench_basis(const struct bench *bench, uint16_t load);
enum reason_code bench_reason(const struct bench *bench, uint16_t load);
struct local bench_local(const struct bench *bench);

/* So many hours of drawing by a second of each day, with half an hour's reserve. */
struct floor_settings bench_hours_by(int64_t hours, int32_t by_s);
/* The heater's only floor. */
void bench_floor(struct bench *bench, struct floor_settings floor);
/* An order with flag true, ending `minutes` from now. */
struct command bench_command(const struct bench *bench, enum command_kind kind, uint16_t load,
                             int64_t minutes);

/* A whole Check run; what main returns. */
int bench_run_tests(const char *name, const TTest *const tests[], size_t count);

#endif
