/* compare_inside.h - what the parts of a comparison share. */
#ifndef SLUICE_QUOTE_COMPARE_INSIDE_H
#define SLUICE_QUOTE_COMPARE_INSIDE_H

#include "quote/compare.h"

enum { CYCLES_PER_YEAR_MAX = 1500 };

/* One run of a plan, as a job: plain values and pointers that outlive it. */
struct compare_job {
    enum compare_way way; /* for the home and, of the bounds, the element */
    int sample;
    bool flat;                             /* in the days as told, not made finer */
    const struct compare_variant *variant; /* NULL: as told */
    struct trial_plan plan;
};

struct compare_jobs {
    const struct compare *compare;
    const struct compare_job *job;
};

/* Runs them on both cores and tells figures, shares apart. */
bool compare_do(const struct compare *compare, const char *what, const struct compare_job jobs[],
                int count, struct compare_figures figures[], struct trouble *trouble);

/* compare_samples.c */
bool compare_samples(struct compare *compare, struct trouble *trouble);

/* compare_bound.c: the least cost of a year, bill and missing heat together. */
bool compare_foresee(const struct compare *compare, int sample, enum compare_way way, double *cost,
                     struct trouble *trouble);

/* compare_tune.c: fills in tuned_load; `always` is of sample 0. */
bool compare_tune(struct compare *compare, const struct compare_figures *always,
                  struct trouble *trouble);

double days_year_factor(const struct days *days);

#endif
