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

/* ---- plans ------------------------------------------------------------------- */

static const enum strategy strategies[WAY_COUNT] = {
    [WAY_ALWAYS_ON] = STRATEGY_ALWAYS_ON, [WAY_REFITTED] = STRATEGY_ALWAYS_ON,
    [WAY_TIMER] = STRATEGY_TIMER,         [WAY_CONTROLLED] = STRATEGY_CONTROLLED,
    [WAY_DIVERTER] = STRATEGY_DIVERTER,   [WAY_SLUICE] = STRATEGY_SLUICE,
    [WAY_TUNED] = STRATEGY_SLUICE,        [WAY_CONTACTOR] = STRATEGY_SLUICE,
    [WAY_STAGES] = STRATEGY_SLUICE,       [WAY_REGULATOR] = STRATEGY_SLUICE,
};

bool compare_is_bound(enum compare_way way)
{
    return way == WAY_FORESIGHT_SWITCHED || way == WAY_FORESIGHT_PROPORTIONAL;
}

bool compare_is_sluice(enum compare_way way)
{
    return !compare_is_bound(way) && strategies[way] == STRATEGY_SLUICE;
}

/* Where the thermostat is set anew the tank begins as hot as it lets it be. */
static void fit_home(const struct compare *compare, const struct hardware *hardware,
                     struct trial_home *home)
{
    struct trial_tank *tank = &home->tank[0];
    if (hardware->element_w != compare->present.element_w) {
        tank->heater.element_w = hardware->element_w;
        home->load[0].power_w = 0;
    }
    if (hardware->set_mc != compare->present.set_mc)
        tank->start_c = tank->heater.set_c = hardware->set_mc / 1000.0;
}

void compare_prepare(const struct compare *compare, enum compare_way way,
                     const struct compare_fit *fit, struct compare_ready *ready)
{
    ready->home = compare->home;
    ready->rules = compare->rules;
    ready->rules.loads = &fit->load;
    fit_home(compare, &fit->hardware, &ready->home);
    if (way == WAY_CONTROLLED)
        ready->home.tariff = compare->wish.home->tariff;
    ready->plan = (struct trial_plan){
        .strategy = strategies[way],
        .hours = fit->hours,
        .boost = fit->boost,
        .rules = &ready->rules,
        .reads_tank_temperature = fit->hardware.sensor,
        .seed = 1,
    };
}

double compare_net(const struct compare *compare, const struct hardware *hardware,
                   const struct compare_figures *figures, const struct compare_figures *always)
{
    const struct quote_settings *quote = compare->wish.quote;
    return (always->cost - figures->cost) * quote->years -
           hardware_price(quote, &compare->present, hardware);
}

enum compare_way compare_bound_of(const struct compare *compare, enum compare_way way)
{
    bool switched = compare->rules.loads[0].kind == LOAD_SWITCHED;
    switch (way) {
    case WAY_TIMER:
    case WAY_CONTACTOR:
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
    return (struct compare_job){.way = way, .sample = sample, .fit = &compare->fit[way]};
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
        .cool_kwh = outcome->cool_kwh * year,
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
    struct compare_ready ready;
    struct trial_outcome outcome;
    compare_prepare(compare, job->way, job->fit, &ready);
    if (job->variant)
        vary(&ready.home, job->variant);
    result->good =
        trial_run(&ready.home, days, &ready.plan, NULL, NULL, &outcome, &result->trouble);
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
