/* turns.h - findings turned by hand: a load, a meter, and what they show. */
#ifndef SLUICE_TESTS_OBSERVE_TURNS_H
#define SLUICE_TESTS_OBSERVE_TURNS_H

#include "core/suite.h"

#include "observe/findings.h"

enum { LOADS = 2, POWER_W = 3600, VOLTAGE_MV = 230000, HOUR = MS_PER_HOUR };

struct bench {
    struct findings_load_settings load_settings[LOADS];
    struct findings_settings settings;
    struct findings_memory memory;
    struct findings_load_memory load_memory[LOADS];
    struct findings_load load[LOADS];
    struct reading reading;
    struct background background;
    int32_t window_ms, voltage_mv;
    struct moment now;
    uint32_t sequence;
    struct finding found[32];
    uint16_t count;
};

/* Two water heaters of 3.6 kW on L1, their tanks of some 300 L, in a house that was seen for
 * some days: a kettle of 2.2 kW four times a day, small steps all the time. */
void bench_begin(struct bench *bench);
/* The same, with the house's steps as a new installation has them. */
void bench_begin_new(struct bench *bench);

void bench_wait(struct bench *bench, int64_t ms);
/* The meter answers every ten seconds, always the same. */
void bench_meter_stands_still(struct bench *bench, int64_t ms);
/* An empty turn, now. */
void bench_turn(struct bench *bench);
/* What load 0 did showed as `step_w`, clearly; `change` may be NULL or alter it before. */
void bench_step(struct bench *bench, enum experiment_kind kind, int32_t step_w, bool drew);
void bench_experiment(struct bench *bench, struct experiment experiment);
struct experiment bench_experiment_of(const struct bench *bench, enum experiment_kind kind,
                                      int32_t step_w, bool drew);

/* A whole run that ends with the thermostat open, proven. */
void bench_heat_up(struct bench *bench, int64_t run_ms);
/* So many days: each heats up, twelve hours after the last. */
void bench_days(struct bench *bench, int days);

/* The finding of this kind, or NULL. */
const struct finding *bench_find(struct bench *bench, enum finding_kind kind);
/* Its enum finding_standing; -1: it is not suspected enough. */
int bench_standing(const struct bench *bench, enum finding_kind kind);
/* Nothing is found at all. */
void bench_nothing(struct bench *bench);
const char *bench_all(struct bench *bench);

#endif
