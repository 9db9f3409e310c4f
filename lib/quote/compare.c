/* compare.c - first what each way is at its best; then every way on every sample, and the
 * bounds; then shares and means. */
#include "quote/compare.h"

#include <math.h>
#include <stdlib.h>

#include "quote/samples.h"
#include "quote/search.h"
#include "quote/tune.h"

/* What a kWh of hot water that was wanted and not there weighs, where the home says nothing. */
#define MISSING_PER_KWH 10

/* ---- all ---------------------------------------------------------------------- */

static bool is_missing(const struct compare_result *result)
{
    return result->there && !result->run;
}

static bool run_all(struct compare *compare, struct trouble *trouble)
{
    struct compare_job job[WAY_COUNT * COMPARE_SAMPLES_MAX];
    struct compare_figures figures[WAY_COUNT * COMPARE_SAMPLES_MAX];
    int count = 0, at = 0;
    for (int way = 0; way < WAY_COUNT; way++)
        for (int s = 0; s < compare->sample_count && is_missing(&compare->result[way]); s++)
            job[count++] = compare_job_of(compare, (enum compare_way)way, s);
    if (!compare_do(compare, "comparing", job, count, figures, trouble))
        return false;
    for (int way = 0; way < WAY_COUNT; way++)
        for (int s = 0; s < compare->sample_count && is_missing(&compare->result[way]); s++)
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
    mean->cool_kwh += one->cool_kwh * part;
    mean->cycles += one->cycles * part;
    mean->coldest_c = fmin(mean->coldest_c, one->coldest_c); /* of a number and NAN: the number */
}

/* The bounds are those of the element and the thermostat that are there. */
static bool has_bound(const struct compare *compare, enum compare_way way)
{
    const struct hardware *hardware = &compare->fit[way].hardware;
    return compare_is_bound(way) ||
           (way != WAY_CONTROLLED && hardware->element_w == compare->present.element_w &&
            hardware->set_mc == compare->present.set_mc);
}

/* Of what could be saved, less than a hundredth of the bill is nothing to share. */
static double share_of(const struct compare_figures *own, const struct compare_figures *always,
                       const struct compare_figures *bound)
{
    double possible = always->cost - bound->cost;
    bool told = possible > 0.01 * fabs(always->cost);
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
        if (!result->there || !has_bound(compare, (enum compare_way)way)) {
            result->mean.share = NAN;
            continue;
        }
        const struct compare_result *bound =
            &compare->result[compare_bound_of(compare, (enum compare_way)way)];
        for (int s = 0; s < compare->sample_count; s++)
            result->sample[s].share =
                share_of(&result->sample[s], &always->sample[s], &bound->sample[s]);
        result->mean.share = share_of(&result->mean, &always->mean, &bound->mean);
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
    compare->rules = *wish->rules;
    compare->left_price = price_of_left(compare);
    compare->result[WAY_ALWAYS_ON].there = compare->result[WAY_SLUICE].there = true;
    compare->result[WAY_FORESIGHT_SWITCHED].there = true;
    compare->result[WAY_FORESIGHT_PROPORTIONAL].there = true;
    compare->result[WAY_TUNED].there = wish->tune;
}

/* What is there, and what the settings say of it. */
static void see_hardware(struct compare *compare)
{
    static const uint8_t drives[] = {[LOAD_SWITCHED] = DRIVE_CONTACTOR,
                                     [LOAD_STAGED] = DRIVE_STAGES,
                                     [LOAD_SETPOINT] = DRIVE_REGULATOR,
                                     [LOAD_REQUEST] = DRIVE_CONTACTOR};
    const struct trial_home *home = &compare->home;
    const struct load_settings *load = &compare->rules.loads[0];
    const struct heater_settings *heater = &home->tank[0].heater;
    double w = home->load[0].power_w > 0 ? home->load[0].power_w : heater->element_w;
    compare->present = (struct hardware){
        .drive = DRIVE_NONE,
        .stages = load->kind == LOAD_STAGED ? load->stages : 1,
        .element_w = (int32_t)lround(w),
        .set_mc = (int32_t)lround(heater->set_c * 1000),
    };
    for (int way = 0; way < WAY_COUNT; way++)
        compare->fit[way].hardware = compare->present;
    struct compare_fit *configured = &compare->fit[WAY_SLUICE];
    configured->hardware.drive = drives[load->kind];
    configured->hardware.sensor = compare->wish.reads_tank_temperature;
    configured->load = *load;
    configured->as_configured = true;
    compare->fit[WAY_TUNED] = *configured;
}

bool compare_run(struct compare *compare, const struct compare_wish *wish, struct trouble *trouble)
{
    set_up(compare, wish);
    if (wish->rules->load_count != 1 || wish->home->load_count != 1 || wish->home->tank_count != 1)
        return trouble_set(trouble, "", "one water heater is compared, in a home of its own");
    if (compare->tariff.count == 0)
        return trouble_set(trouble, "", "without a tariff there is nothing to compare");
    see_hardware(compare);
    if (!compare_samples(compare, trouble) || !compare_search(compare, trouble))
        return false;
    if (wish->tune && !compare_tune(compare, trouble))
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
