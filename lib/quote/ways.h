/* ways.h - the ways of heating a home's water: each one's plan, its runs, and the figures
 * that came of them. */
#ifndef SLUICE_QUOTE_WAYS_H
#define SLUICE_QUOTE_WAYS_H

#include "quote/quote.h"
#include "trial/run.h"

enum compare_way {
    WAY_ALWAYS_ON,
    WAY_TIMER,
    WAY_CONTROLLED, /* where the tariff has one */
    WAY_DIVERTER,
    WAY_SLUICE, /* as configured */
    WAY_TUNED,
    WAY_FORESIGHT_SWITCHED, /* the least that an on/off element can cost */
    WAY_FORESIGHT_PROPORTIONAL,
    WAY_COUNT,
};

enum { COMPARE_SAMPLES_MAX = 16, COMPARE_SEEDS_MAX = 16 };

/* So many more spoilt showers a year than with always on are let pass. */
enum { SPOILT_MORE_PER_YEAR = 3 };

/* Of a year. Money counts what heat is left in the tank at the end, or lacks. */
struct compare_figures {
    double bill;
    double cost; /* the bill, and what was wanted and not hot at its price */
    double sun_kwh, grid_kwh;
    double spoilt;    /* showers */
    double coldest_c; /* NAN: not known */
    double cycles;
    double share; /* of the possible saving, 0..1; NAN: not to be told */
};

struct compare_result {
    bool there;
    struct compare_figures sample[COMPARE_SAMPLES_MAX];
    struct compare_figures mean; /* coldest_c: the coldest of all */
};

/* The same home with other people, or under another sky: shares of what was told. */
struct compare_variant {
    const char *what; /* "a quarter more hot water" */
    double water, sun, use;
};
enum { COMPARE_VARIANTS = 4 };
extern const struct compare_variant compare_variants[COMPARE_VARIANTS];

struct compare_wish {
    const struct trial_home *home; /* its tariff may have a controlled supply */
    const struct days *days;
    const struct rules_settings *rules; /* one load */
    const struct quote_settings *quote;
    bool reads_tank_temperature;
    int seeds; /* of days that are refined */
    bool tune;
    void (*progress)(void *context, const char *what, int done, int of); /* may be NULL */
    void *context;
};

struct compare {
    struct compare_wish wish;
    struct trial_home home; /* without the controlled supply */
    struct tariff tariff;   /* likewise */
    struct rules_settings rules, tuned_rules;
    struct load_settings load, tuned_load;
    struct days sample[COMPARE_SAMPLES_MAX];
    int sample_count, years, seeds;
    bool refined;
    struct days flat;                              /* a view of the first year, not made finer */
    double spare_kwh, flat_spare_kwh;              /* a year: of the first sample, and of `flat` */
    struct compare_figures flat_result[WAY_COUNT]; /* where refined */
    double days_long;                              /* of all the days */
    double left_price;                             /* of a kWh in the tank */
    struct hours timer_hours;
    struct trial_boost boost;
    bool timer_tried, boost_tried; /* chosen here, not told by the quote */
    struct compare_result result[WAY_COUNT];
    struct compare_figures varied[COMPARE_VARIANTS][WAY_COUNT]; /* on the first sample */
    int tune_runs;
    struct compare_figures tune_best; /* of the settings taken, on the samples tuned on */
    struct compare_figures tune_cold; /* the warmest of those with a smaller bill,
                                         too cold; spoilt INFINITY: none */
};

/* The plan of a way that is one of the strategies, for a run of its own. `home` is the one
 * to run it in. */
struct trial_plan compare_plan(const struct compare *compare, enum compare_way way,
                               struct trial_home *home);

bool compare_is_bound(enum compare_way way);

/* The bound that the shares of a way refer to; that of any power where the element has no
 * switch of its own. */
enum compare_way compare_bound_of(const struct compare *compare, enum compare_way way);

/* ---- runs ------------------------------------------------------------------------------------ */

/* One run of a plan, as a job: plain values and pointers that outlive it. */
struct compare_job {
    enum compare_way way; /* for the home and, of the bounds, the element */
    int sample;
    bool flat;                             /* in the days as told, not made finer */
    const struct compare_variant *variant; /* NULL: as told */
    struct trial_plan plan;
};

/* As the way's plan has it, on the days of that sample. */
struct compare_job compare_job_of(const struct compare *compare, enum compare_way way, int sample);

/* Runs them on both cores and tells figures, shares apart. */
bool compare_do(const struct compare *compare, const char *what, const struct compare_job jobs[],
                int count, struct compare_figures figures[], struct trouble *trouble);

#endif
