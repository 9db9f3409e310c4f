/* ways.c - the plan of each way, and its runs on both cores. */
#include "quote/ways.h"

#include <math.h>
#include <stdlib.h>

#include "quote/bound.h"
#include "quote/parallel.h"

const struct compare_variant compare_variants[COMPARE_VARIANTS] = {
    {"a quarter more hot water", 1.25, 1, 1},
    {"a quarter less hot water", 0.75, 1, 1},
    {"a fifth less sun", 1, 0.8, 1},
    {"a fifth more use of the household", 1, 1, 1.2},
};

bool compare_is_bound(enum compare_way way)
{
    return way == WAY_FORESIGHT_SWITCHED || way == WAY_FORESIGHT_PROPORTIONAL;
}

/* ---- jobs ------------------------------------------------------------------- */

struct compare_jobs {
    const struct compare *compare;
    const struct compare_job *job;
};

struct job_result {
    bool good;
    struct compare_figures figures;
    struct trouble trouble;
};
_Static_assert(sizeof(struct job_result) <= PARALLEL_RESULT_MAX, "results fit a pipe");

static struct compare_figures figures_of(const struct compare *compare, const struct days *days,
                                         const struct trial_outcome *outcome)
{
    double year = days_year_factor(days);
    double left = compare->left_price * outcome->stored_kwh;
    return (struct compare_figures){
        .bill = (outcome->bill - left) * year,
        .cost = (outcome->cost - left) * year,
        .sun_kwh = outcome->heat_sun_kwh * year,
        .grid_kwh = outcome->heat_grid_kwh * year,
        .spoilt = (double)outcome->spoilt_showers * year,
        .coldest_c = outcome->coldest_c,
        .cycles = (double)outcome->cycles * year,
        .share = NAN,
    };
}

static void vary(struct trial_home *home, const struct compare_variant *variant)
{
    home->taps.scale *= variant->water;
    home->solar_scale *= variant->sun;
    home->use_scale *= variant->use;
}

static void do_job(const void *context, int index, void *to)
{
    const struct compare_jobs *jobs = context;
    const struct compare_job *job = &jobs->job[index];
    const struct compare *compare = jobs->compare;
    const struct days *days = job->flat ? &compare->flat : &compare->sample[job->sample];
    struct job_result *result = to;
    if (compare_is_bound(job->way)) {
        result->figures = (struct compare_figures){.bill = NAN, .coldest_c = NAN, .share = 1};
        result->good = bound_of_year(&compare->home, days, job->way == WAY_FORESIGHT_SWITCHED,
                                     compare->left_price, &result->figures.cost, &result->trouble);
        return;
    }
    struct trial_home home;
    struct trial_outcome outcome;
    compare_plan(compare, job->way, &home);
    if (job->variant)
        vary(&home, job->variant);
    result->good = trial_run(&home, days, &job->plan, NULL, NULL, &outcome, &result->trouble);
    if (result->good)
        result->figures = figures_of(compare, days, &outcome);
}

struct teller {
    const struct compare *compare;
    const char *what;
    int of;
};

static void tell(void *context, int done)
{
    const struct teller *teller = context;
    const struct compare_wish *wish = &teller->compare->wish;
    if (wish->progress)
        wish->progress(wish->context, teller->what, done, teller->of);
}

bool compare_do(const struct compare *compare, const char *what, const struct compare_job jobs[],
                int count, struct compare_figures figures[], struct trouble *trouble)
{
    struct compare_jobs all = {compare, jobs};
    struct teller teller = {compare, what, count};
    struct parallel work = {.work = do_job,
                            .context = &all,
                            .result_size = sizeof(struct job_result),
                            .progress = tell,
                            .progress_context = &teller};
    struct job_result *results = calloc((size_t)count, sizeof(*results));
    if (!results)
        return trouble_set(trouble, "", "no memory for %d runs", count);
    bool good = parallel_run(&work, count, results) || trouble_set(trouble, "", "a run has failed");
    for (int k = 0; k < count && good; k++) {
        good = results[k].good;
        figures[k] = results[k].figures;
        if (!good)
            *trouble = results[k].trouble;
    }
    free(results);
    return good;
}

/* ---- plans ------------------------------------------------------------------- */

struct trial_plan compare_plan(const struct compare *compare, enum compare_way way,
                               struct trial_home *home)
{
    static const enum strategy strategies[WAY_COUNT] = {
        [WAY_ALWAYS_ON] = STRATEGY_ALWAYS_ON,   [WAY_TIMER] = STRATEGY_TIMER,
        [WAY_CONTROLLED] = STRATEGY_CONTROLLED, [WAY_DIVERTER] = STRATEGY_DIVERTER,
        [WAY_SLUICE] = STRATEGY_SLUICE,         [WAY_TUNED] = STRATEGY_SLUICE,
    };
    *home = compare->home;
    if (way == WAY_CONTROLLED)
        home->tariff = compare->wish.home->tariff;
    return (struct trial_plan){
        .strategy = strategies[way],
        .hours = compare->timer_hours,
        .boost = compare->boost,
        .rules = way == WAY_TUNED ? &compare->tuned_rules : &compare->rules,
        .reads_tank_temperature = compare->wish.reads_tank_temperature,
        .seed = 1,
    };
}

enum compare_way compare_bound_of(const struct compare *compare, enum compare_way way)
{
    bool switched = compare->rules.loads[0].kind == LOAD_SWITCHED;
    switch (way) {
    case WAY_TIMER:
        return WAY_FORESIGHT_SWITCHED;
    case WAY_SLUICE:
    case WAY_TUNED:
        return switched ? WAY_FORESIGHT_SWITCHED : WAY_FORESIGHT_PROPORTIONAL;
    case WAY_FORESIGHT_SWITCHED:
    case WAY_FORESIGHT_PROPORTIONAL:
        return way;
    default:
        return WAY_FORESIGHT_PROPORTIONAL;
    }
}

struct compare_job compare_job_of(const struct compare *compare, enum compare_way way, int sample)
{
    struct trial_home home;
    return (struct compare_job){
        .way = way, .sample = sample, .plan = compare_plan(compare, way, &home)};
}
