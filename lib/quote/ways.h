/* ways.h - the ways of heating a home's water: each one's plan, its runs, and the figures
 * that came of them. */
#ifndef SLUICE_QUOTE_WAYS_H
#define SLUICE_QUOTE_WAYS_H

#include "quote/hardware.h"
#include "trial/run.h"

enum compare_way {
    WAY_ALWAYS_ON, /* element and thermostat as they are */
    WAY_REFITTED,  /* likewise always on, with another element or thermostat */
    WAY_TIMER,
    WAY_CONTROLLED, /* where the tariff has one */
    WAY_DIVERTER,
    WAY_SLUICE,             /* as configured */
    WAY_TUNED,              /* the same hardware, other settings */
    WAY_CONTACTOR,          /* sluice with the contactor, element and so on that leave most */
    WAY_STAGES,             /* likewise with several contactors */
    WAY_REGULATOR,          /* likewise with a regulator of any power */
    WAY_FORESIGHT_SWITCHED, /* the least that an on/off element can cost */
    WAY_FORESIGHT_PROPORTIONAL,
    WAY_COUNT,
};

enum { COMPARE_SAMPLES_MAX = 16, COMPARE_SEEDS_MAX = 16 };

/* Of a year. Money counts what heat is left in the tank at the end, or lacks. */
struct compare_figures {
    double bill;
    double cost; /* the bill, and what was wanted and not hot at its price */
    double sun_kwh, grid_kwh;
    double spoilt;    /* showers */
    double cool_kwh;  /* of the heat at the taps, what came cooler than it is liked */
    double coldest_c; /* NAN: not known */
    double cycles;
    double share; /* of the possible saving, 0..1; NAN: not to be told */
};

struct compare_result {
    bool there, run; /* run: its samples are known */
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

/* What is bought for a way, and how it runs. */
struct compare_fit {
    struct hardware hardware;
    struct hours hours;        /* timer */
    struct trial_boost boost;  /* diverter */
    struct load_settings load; /* sluice */
    bool as_configured;        /* its start and floors, made to suit the hardware */
};

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
    struct trial_home home;      /* without the controlled supply */
    struct tariff tariff;        /* likewise */
    struct rules_settings rules; /* loads: the wish's */
    struct hardware present;     /* as always on has it */
    struct compare_fit fit[WAY_COUNT];
    struct days sample[COMPARE_SAMPLES_MAX];
    int sample_count, years, seeds;
    bool refined;
    struct days flat;                              /* a view of the first year, not made finer */
    double spare_kwh, flat_spare_kwh;              /* a year: of the first sample, and of `flat` */
    struct compare_figures flat_result[WAY_COUNT]; /* where refined */
    double days_long;                              /* of all the days */
    double left_price;                             /* of a kWh in the tank */
    int searched;                                  /* plans and hardware that were tried */
    struct compare_result result[WAY_COUNT];
    struct compare_figures varied[COMPARE_VARIANTS][WAY_COUNT]; /* on the first sample */
    int tune_runs;
};

/* What one run of a way needs: `plan` points to `rules`. */
struct compare_ready {
    struct trial_home home;
    struct rules_settings rules;
    struct trial_plan plan;
};

void compare_prepare(const struct compare *compare, enum compare_way way,
                     const struct compare_fit *fit, struct compare_ready *ready);

bool compare_is_bound(enum compare_way way);
bool compare_is_sluice(enum compare_way way);

/* What a way leaves over the quote's years: what it saves on bill and cold water against
 * `always`, less its price. */
double compare_net(const struct compare *compare, const struct hardware *hardware,
                   const struct compare_figures *figures, const struct compare_figures *always);

/* The bound that the shares of a way refer to; that of any power where the element has no
 * switch of its own. */
enum compare_way compare_bound_of(const struct compare *compare, enum compare_way way);

/* ---- runs ------------------------------------------------------------------------------------ */

/* One run, as a job: plain values and pointers that outlive it. */
struct compare_job {
    enum compare_way way;
    int sample;
    bool flat;                             /* in the days as told, not made finer */
    const struct compare_variant *variant; /* NULL: as told */
    const struct compare_fit *fit;
};

/* As the way's fit has it, on the days of that sample. */
struct compare_job compare_job_of(const struct compare *compare, enum compare_way way, int sample);

/* Runs them on both cores and tells figures, shares apart. */
bool compare_do(const struct compare *compare, const char *what, const struct compare_job jobs[],
                int count, struct compare_figures figures[], struct trouble *trouble);

#endif
