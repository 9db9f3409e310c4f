/* record.h - a run as it goes, written down as a result. */
#ifndef SLUICE_TRIAL_RECORD_H
#define SLUICE_TRIAL_RECORD_H

#include "result/result.h"
#include "trial/run.h"

/* What a load has really taken since a floor's last deadline. */
struct record_took {
    double j;
    int64_t drew_ms, until_ms;
};

struct record_load {
    bool on;
    struct record_took took[RULES_FLOORS_MAX];
    struct reason reason; /* the last one written */
};

/* The caller fills in what stands before the line. The result has its zone, its days' bounds
 * and, named, a track for each load of the home. */
struct record {
    struct result *result;
    const struct trial_home *home;
    const struct rules_settings *rules; /* of sluice; else NULL */
    int64_t piece_ms;                   /* divides a quarter of an hour */
    /* One day for its sheet: pieces of it alone, and all reasons; what was on is found from
     * the events. Otherwise all days, with their runs. */
    bool one_day;

    struct record_load load[TRIAL_LOADS_MAX];
    int64_t piece_end_ms;
};

/* A trial_trace; the context is the record. */
void record_span(void *context, const struct trial_span *span);

/* Whether the rules take the load to draw what it is offered. */
bool record_is_blind(const struct load_settings *load);

#endif
