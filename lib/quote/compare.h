/* compare.h - the same home and days under every way of heating its water, priced.
 *
 * Days in hours are refined by several seeds, several years are taken one by one: each
 * such sample is a run of its own under every way, and their spread says how sure a
 * difference is. Alternatives are shown at their best: where the quote does not fix a
 * timer's or a diverter's hours, some usual ones are tried.
 *
 * One heater in the home, and in the rules. Allocates; the caller's data stays the caller's. */
#ifndef SLUICE_QUOTE_COMPARE_H
#define SLUICE_QUOTE_COMPARE_H

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

/* False: `trouble` says why. */
bool compare_run(struct compare *compare, const struct compare_wish *wish, struct trouble *trouble);
void compare_free(struct compare *compare);

/* The plan of a way that is one of the strategies, for a run of its own. `home` is the one
 * to run it in. */
struct trial_plan compare_plan(const struct compare *compare, enum compare_way way,
                               struct trial_home *home);

bool compare_is_bound(enum compare_way way);

/* The bound that the shares of a way refer to; that of any power where the element has no
 * switch of its own. */
enum compare_way compare_bound_of(const struct compare *compare, enum compare_way way);

/* ---- which to buy ---------------------------------------------------------- */

struct compare_offer {
    bool there;
    bool hot;     /* showers as good as always on, or at most three a year worse */
    double cost;  /* to buy */
    double saves; /* a year, against always on; mean */
    double saves_least, saves_most; /* over the samples */
    double payback_years;           /* INFINITY: never */
    double net;                     /* over the quote's years, purchase taken off; mean */
};

enum compare_turn_by {
    TURN_NONE,   /* the advice stays */
    TURN_COLD,   /* showers get too cold with what is advised */
    TURN_UNPAID, /* it does not pay for itself, and nothing else does */
    TURN_BEATEN, /* something else leaves more */
};

/* What would be bought in another home, and why not what is advised. */
struct compare_turn {
    enum compare_way first;
    enum compare_turn_by reason;
    double by;             /* money that it lacks, or that the first leaves more */
    double spoilt, always; /* showers a year, with what is advised and with always on */
};

enum compare_sure {
    SURE_ALIKE,     /* the order holds in all samples and in all variants */
    SURE_THIS_HOME, /* in all samples, but not in all variants */
    SURE_NOT,       /* too close to call */
};

struct compare_verdict {
    struct compare_offer offer[WAY_COUNT]; /* those that can be bought; always on costs nothing */
    enum compare_way buy, second;          /* by net; buy may be WAY_ALWAYS_ON: nothing pays */
    double lead, lead_least, lead_most;    /* net of the first over the second */
    int first_in;                          /* samples in which it came first */
    struct compare_turn with[COMPARE_VARIANTS];
    enum compare_sure sure; /* as far as these days tell */
};

bool compare_same_purchase(enum compare_way a, enum compare_way b);

void compare_judge(const struct compare *compare, struct compare_verdict *verdict);

#endif
