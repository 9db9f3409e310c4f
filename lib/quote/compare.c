/* compare.c - first what each way is at its best, on one sample; then every way on every
 * sample, and the bounds; then shares and means. */
#include "quote/compare.h"

#include <math.h>
#include <stdlib.h>

#include "quote/samples.h"
#include "quote/tune.h"

/* What a kWh of hot water that was wanted and not there weighs, where the home says nothing. */
#define MISSING_PER_KWH 10

/* ---- alternatives at their best ------------------------------------------------ */

#define DAILY(from, to)                                                                            \
    {                                                                                              \
        (from) * 3600, (to)*3600, WEEKDAYS_ALL                                                     \
    }

static const struct hours usual_timers[] = {
    {1, {DAILY(10, 15)}},
    {1, {DAILY(9, 16)}},
    {1, {DAILY(11, 15)}},
    {2, {DAILY(10, 15), DAILY(3, 6)}},
    {2, {DAILY(10, 15), DAILY(17, 19)}},
    {1, {DAILY(22, 6)}},
    {1, {DAILY(0, 6)}},
};
enum { TIMERS = sizeof usual_timers / sizeof usual_timers[0] };

static const struct trial_boost usual_boosts[] = {
    {.there = false},
    {.there = true, .hours = {1, {DAILY(3, 5)}}},
    {.there = true, .hours = {1, {DAILY(4, 6)}}},
    {.there = true, .hours = {1, {DAILY(4, 7)}}},
    {.there = true, .hours = {1, {DAILY(15, 17)}}},
    {.there = true, .hours = {1, {DAILY(16, 18)}}},
    {.there = true, .hours = {1, {DAILY(16, 20)}}},
    {.there = true, .hours = {1, {DAILY(18, 21)}}},
    {.there = true, .hours = {1, {DAILY(22, 6)}}},
    {.there = true, .hours = {2, {DAILY(4, 6), DAILY(15, 17)}}},
    {.there = true, .hours = {2, {DAILY(5, 6), DAILY(17, 19)}}},
    {.there = true, .hours = {2, {DAILY(5, 7), DAILY(16, 20)}}},
    /* Where there is a thermometer in the tank. */
    {.there = true, .below_c = 46, .to_c = 50, .height = 0.7},
    {.there = true, .below_c = 50, .to_c = 55, .height = 0.7},
    {.there = true, .below_c = 50, .to_c = 55, .height = 0.5},
    {.there = true, .below_c = 55, .to_c = 59, .height = 0.5},
};
enum { BOOSTS = sizeof usual_boosts / sizeof usual_boosts[0], BLIND_BOOSTS = BOOSTS - 4 };

static bool showers_suit(const struct compare_figures *figures,
                         const struct compare_figures *always)
{
    return figures->spoilt <= always->spoilt + SPOILT_MORE_PER_YEAR;
}

/* The cheapest of those with hot showers; with none of them, the cheapest. */
static int best_of(const struct compare_figures figures[], int count,
                   const struct compare_figures *always)
{
    int best = 0;
    for (int k = 1; k < count; k++) {
        bool suits = showers_suit(&figures[k], always), did = showers_suit(&figures[best], always);
        if (suits != did ? suits : figures[k].cost < figures[best].cost)
            best = k;
    }
    return best;
}

/* Fills in the hours; `always` becomes the figures of always on, on sample 0. */
static bool choose(struct compare *compare, struct compare_figures *always, struct trouble *trouble)
{
    const struct quote_settings *quote = compare->wish.quote;
    struct compare_job job[1 + TIMERS + BOOSTS];
    struct compare_figures figures[1 + TIMERS + BOOSTS];
    compare->timer_hours = quote->timer_hours;
    compare->boost = (struct trial_boost){.there = true, .hours = quote->boost_hours};
    compare->timer_tried = quote->timer_hours.count == 0;
    compare->boost_tried = quote->boost_hours.count == 0;
    job[0] = compare_job_of(compare, WAY_ALWAYS_ON, 0);
    for (int k = 0; k < TIMERS; k++) {
        job[1 + k] = compare_job_of(compare, WAY_TIMER, 0);
        job[1 + k].plan.hours = usual_timers[k];
    }
    int boosts = compare->wish.reads_tank_temperature ? BOOSTS : BLIND_BOOSTS;
    for (int k = 0; k < boosts; k++) {
        job[1 + TIMERS + k] = compare_job_of(compare, WAY_DIVERTER, 0);
        job[1 + TIMERS + k].plan.boost = usual_boosts[k];
    }
    if (!compare_do(compare, "trying usual hours", job, 1 + TIMERS + boosts, figures, trouble))
        return false;
    if (compare->timer_tried)
        compare->timer_hours = usual_timers[best_of(figures + 1, TIMERS, &figures[0])];
    if (compare->boost_tried)
        compare->boost = usual_boosts[best_of(figures + 1 + TIMERS, boosts, &figures[0])];
    *always = figures[0];
    return true;
}

/* ---- all ---------------------------------------------------------------------- */

static bool run_all(struct compare *compare, struct trouble *trouble)
{
    struct compare_job job[WAY_COUNT * COMPARE_SAMPLES_MAX];
    struct compare_figures figures[WAY_COUNT * COMPARE_SAMPLES_MAX];
    int count = 0, at = 0;
    for (int way = 0; way < WAY_COUNT; way++)
        for (int s = 0; s < compare->sample_count && compare->result[way].there; s++)
            job[count++] = compare_job_of(compare, (enum compare_way)way, s);
    if (!compare_do(compare, "comparing", job, count, figures, trouble))
        return false;
    for (int way = 0; way < WAY_COUNT; way++)
        for (int s = 0; s < compare->sample_count && compare->result[way].there; s++)
            compare->result[way].sample[s] = figures[at++];
    return true;
}

/* Does the order hold in a home that is a little different? */
static bool run_variants(struct compare *compare, struct trouble *trouble)
{
    struct compare_job job[COMPARE_VARIANTS * WAY_COUNT];
    struct compare_figures figures[COMPARE_VARIANTS * WAY_COUNT];
    int count = 0, at = 0;
    for (int v = 0; v < COMPARE_VARIANTS; v++)
        for (int way = 0; way < WAY_FORESIGHT_SWITCHED; way++)
            if (compare->result[way].there) {
                job[count] = compare_job_of(compare, (enum compare_way)way, 0);
                job[count++].variant = &compare_variants[v];
            }
    if (!compare_do(compare, "in other homes", job, count, figures, trouble))
        return false;
    for (int v = 0; v < COMPARE_VARIANTS; v++)
        for (int way = 0; way < WAY_FORESIGHT_SWITCHED; way++)
            if (compare->result[way].there)
                compare->varied[v][way] = figures[at++];
    return true;
}

/* What the same ways would seem to do in hours without clouds and kettles. */
static bool run_flat(struct compare *compare, struct trouble *trouble)
{
    struct compare_job job[WAY_COUNT];
    struct compare_figures figures[WAY_COUNT];
    int count = 0, at = 0;
    if (!compare->refined)
        return true;
    for (int way = 0; way < WAY_FORESIGHT_SWITCHED; way++)
        if (compare->result[way].there) {
            job[count] = compare_job_of(compare, (enum compare_way)way, 0);
            job[count++].flat = true;
        }
    if (!compare_do(compare, "in flat steps", job, count, figures, trouble))
        return false;
    for (int way = 0; way < WAY_FORESIGHT_SWITCHED; way++)
        if (compare->result[way].there)
            compare->flat_result[way] = figures[at++];
    return true;
}

static void add(struct compare_figures *mean, const struct compare_figures *one, double part)
{
    mean->bill += one->bill * part;
    mean->cost += one->cost * part;
    mean->sun_kwh += one->sun_kwh * part;
    mean->grid_kwh += one->grid_kwh * part;
    mean->spoilt += one->spoilt * part;
    mean->cycles += one->cycles * part;
    mean->coldest_c = fmin(mean->coldest_c, one->coldest_c); /* of a number and NAN: the number */
}

/* Of what could be saved, less than a hundredth of the bill is nothing to share. */
static double share_of(enum compare_way way, const struct compare_figures *own,
                       const struct compare_figures *always, const struct compare_figures *bound)
{
    double possible = always->cost - bound->cost;
    bool told = way != WAY_CONTROLLED && possible > 0.01 * fabs(always->cost);
    return told ? (always->cost - own->cost) / possible : NAN;
}

static void take_means(struct compare *compare)
{
    for (int way = 0; way < WAY_COUNT; way++) {
        struct compare_result *result = &compare->result[way];
        result->mean = (struct compare_figures){.coldest_c = NAN, .share = NAN};
        for (int s = 0; s < compare->sample_count; s++)
            add(&result->mean, &result->sample[s], 1.0 / compare->sample_count);
    }
}

/* Once all means are there, those of the bounds among them. */
static void take_shares(struct compare *compare)
{
    const struct compare_result *always = &compare->result[WAY_ALWAYS_ON];
    for (int way = 0; way < WAY_COUNT; way++) {
        struct compare_result *result = &compare->result[way];
        if (!result->there)
            continue;
        const struct compare_result *bound =
            &compare->result[compare_bound_of(compare, (enum compare_way)way)];
        for (int s = 0; s < compare->sample_count; s++)
            result->sample[s].share = share_of((enum compare_way)way, &result->sample[s],
                                               &always->sample[s], &bound->sample[s]);
        result->mean.share =
            share_of((enum compare_way)way, &result->mean, &always->mean, &bound->mean);
    }
}

/* What is left in the tank, or lacks, will be made good from sun or grid: halfway between. */
static double price_of_left(const struct compare *compare)
{
    const struct days *days = compare->wish.days;
    double sum = 0;
    int64_t hours = (int64_t)days->steps * days->step_s / 3600;
    for (int64_t h = 0; h < hours; h++) {
        struct wall at = {days->first.ms + h * MS_PER_HOUR};
        struct local local = local_of_wall(compare->home.zone, at);
        sum += tariff_price(&compare->tariff, &local) + tariff_feed_in(&compare->tariff, &local);
    }
    double price = hours > 0 ? 1e-6 * sum / (2.0 * (double)hours) : 0;
    return price < 0 ? 0 : fmin(price, compare->home.unmet_per_kwh);
}

static void set_up(struct compare *compare, const struct compare_wish *wish)
{
    *compare = (struct compare){.wish = *wish, .home = *wish->home, .tariff = *wish->home->tariff};
    compare->tariff.controlled = (struct tariff_controlled){0};
    compare->home.tariff = &compare->tariff;
    if (compare->home.unmet_per_kwh <= 0)
        compare->home.unmet_per_kwh = MISSING_PER_KWH;
    compare->load = compare->tuned_load = wish->rules->loads[0];
    compare->rules = compare->tuned_rules = *wish->rules;
    compare->rules.loads = &compare->load;
    compare->tuned_rules.loads = &compare->tuned_load;
    compare->left_price = price_of_left(compare);
    compare->tune_cold.spoilt = INFINITY;
    for (int way = 0; way < WAY_COUNT; way++)
        compare->result[way].there = true;
    compare->result[WAY_CONTROLLED].there = wish->home->tariff->controlled.there;
    compare->result[WAY_TUNED].there = wish->tune;
}

bool compare_run(struct compare *compare, const struct compare_wish *wish, struct trouble *trouble)
{
    struct compare_figures always;
    set_up(compare, wish);
    if (wish->rules->load_count != 1 || wish->home->load_count != 1 || wish->home->tank_count != 1)
        return trouble_set(trouble, "", "one water heater is compared, in a home of its own");
    if (compare->tariff.count == 0)
        return trouble_set(trouble, "", "without a tariff there is nothing to compare");
    if (!compare_samples(compare, trouble) || !choose(compare, &always, trouble))
        return false;
    if (wish->tune && !compare_tune(compare, &always, trouble))
        return false;
    if (!run_all(compare, trouble) || !run_variants(compare, trouble) ||
        !run_flat(compare, trouble))
        return false;
    take_means(compare);
    take_shares(compare);
    return true;
}

void compare_free(struct compare *compare)
{
    for (int s = 0; s < compare->sample_count && compare->refined; s++)
        days_free(&compare->sample[s]);
}
