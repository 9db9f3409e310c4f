/* diagnosis_run.h - a house of the bench lived through, second by second, by the engine and the
 * findings as the daemon runs them; and what came of it, judged by the house's own truth. */
#ifndef SLUICE_BENCH_DIAGNOSIS_RUN_H
#define SLUICE_BENCH_DIAGNOSIS_RUN_H

#include <stdio.h>

#include "diagnosis_case.h"
#include "terms/finding.h"

enum { RUN_TOLD_MAX = 64, RUN_IN_TIME_DAYS = 3 };

/* A finding that began to stand. */
struct run_told {
    struct finding finding;
    int64_t at_s;        /* after the beginning */
    int32_t heated_days; /* since the onset, days with a run ordered, the present one included */
    bool right;          /* names what failed, or what cannot be told from it */
    bool follows;        /* is true all the same: what the fault brings, or the house shows */
};

struct diagnosis_run {
    struct run_told told[RUN_TOLD_MAX];
    uint16_t told_count;
    int64_t seconds, sound_seconds;               /* the latter: before the onset */
    int64_t onset_s;                              /* when it really failed; -1: it has not */
    int32_t heated_days;                          /* after that, with a run ordered */
    int64_t at_risk, at_risk_missed, missed;      /* guarantees: so told; missed though; in all */
    int64_t met, met_without_heat;                /* guarantees told as met */
    int64_t openings, satisfied, satisfied_wrong; /* thermostats' true ones; told as proven */
    int64_t switchings;
};

/* `trace` may be NULL: gets what was switched, shown and told, from trace_from_s on. */
void diagnosis_run(const struct diagnosis_case *given, struct diagnosis_run *run, FILE *trace,
                   int64_t trace_from_s);

#endif
