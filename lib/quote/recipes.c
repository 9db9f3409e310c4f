/* recipes.c - few that are usual, so that each kind of hardware is seen at its best.
 *
 * Settings made for one element are made to suit another: hours of heating by its power,
 * and energy in place of hours where a drive has no fixed power. Weekly floors, hours and
 * rests stay as they are configured. */
#include "quote/recipes.h"

#include <math.h>

enum { USABLE_PERMILLE = 850, REGULATOR_LEAST_W = 50, HALF_WARM_PERCENT = 60 };

#define DAILY(from, to)                                                                            \
    {                                                                                              \
        (from) * 3600, (to)*3600, WEEKDAYS_ALL                                                     \
    }

/* ---- timers and diverters ----------------------------------------------------------- */

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
};
enum { BOOSTS = sizeof usual_boosts / sizeof usual_boosts[0] };

static const struct trial_boost sensed_boosts[] = {
    {.there = true, .below_c = 46, .to_c = 50, .height = 0.7},
    {.there = true, .below_c = 50, .to_c = 55, .height = 0.7},
    {.there = true, .below_c = 50, .to_c = 55, .height = 0.5},
    {.there = true, .below_c = 55, .to_c = 59, .height = 0.5},
};
enum { SENSED_BOOSTS = sizeof sensed_boosts / sizeof sensed_boosts[0] };

static bool write_timer(const struct compare *compare, int k, struct compare_fit *fit)
{
    const struct hours *told = &compare->wish.quote->timer_hours;
    if (k >= (told->count > 0 ? 1 : TIMERS))
        return false;
    fit->hours = told->count > 0 ? *told : usual_timers[k];
    return true;
}

static bool write_boost(const struct compare *compare, int k, struct compare_fit *fit)
{
    const struct hours *told = &compare->wish.quote->boost_hours;
    int count = fit->hardware.sensor ? SENSED_BOOSTS : BOOSTS;
    if (told->count > 0 && !fit->hardware.sensor) {
        fit->boost = (struct trial_boost){.there = true, .hours = *told};
        return k == 0;
    }
    if (k >= count)
        return false;
    fit->boost = fit->hardware.sensor ? sensed_boosts[k] : usual_boosts[k];
    return true;
}

/* ---- settings of sluice for other hardware -------------------------------------------- */

static double longer(int64_t ms, const struct load_settings *was, const struct load_settings *now)
{
    int64_t minutes = (int64_t)ceil((double)ms / MS_PER_MIN * was->power_w / now->power_w);
    return (double)((minutes + 14) / 15 * 15 * MS_PER_MIN);
}

static void adapt_floor(const struct load_settings *was, const struct load_settings *now,
                        struct floor_settings *floor)
{
    if (floor->measure == FLOOR_ENERGY)
        return;
    if (floor->measure == FLOOR_TIME && now->kind != LOAD_SWITCHED) {
        floor->measure = FLOOR_ENERGY;
        floor->amount = floor->amount / MS_PER_MIN * was->power_w * 1000 / 60; /* mWh */
    } else {
        floor->amount = (int64_t)longer(floor->amount, was, now);
    }
}

static void take_drive(const struct hardware *hardware, struct load_settings *load)
{
    static const uint8_t kinds[] = {[DRIVE_CONTACTOR] = LOAD_SWITCHED,
                                    [DRIVE_STAGES] = LOAD_STAGED,
                                    [DRIVE_REGULATOR] = LOAD_SETPOINT};
    load->kind = kinds[hardware->drive];
    load->power_w = hardware->element_w;
    load->stages = 0;
    load->least_w = load->step_w = 0;
    if (load->kind == LOAD_STAGED) {
        load->stages = hardware->stages;
        for (int s = 0; s < hardware->stages; s++)
            load->stage_w[s] = hardware->element_w / hardware->stages;
    } else if (load->kind == LOAD_SETPOINT) {
        load->least_w = REGULATOR_LEAST_W;
        load->step_w = 1;
        load->metered = true;
        load->min_on_ms = load->min_off_ms = MS_PER_MIN; /* nothing wears */
        load->stop_margin_w = REGULATOR_LEAST_W;
    }
}

/* It sits where the thermostat does. In a tank that does not layer that tells the mean. */
static void take_sensor(const struct heater_settings *heater, bool there,
                        struct load_settings *load)
{
    load->water.probed = there;
    load->water.probe_permille =
        there && heater->tank.layers > 1 ? (int32_t)lround(heater->sensor_height * 1000) : 0;
}

void recipe_adapt(const struct compare *compare, const struct hardware *hardware,
                  struct load_settings *load)
{
    const struct load_settings *was = &compare->rules.loads[0];
    const struct hardware *present = &compare->present;
    const struct hardware *configured = &compare->fit[WAY_SLUICE].hardware;
    *load = *was;
    if (hardware->drive != configured->drive || hardware->stages != configured->stages ||
        hardware->element_w != present->element_w)
        take_drive(hardware, load);
    if (hardware->element_w < present->element_w || hardware->drive != configured->drive)
        for (int k = 0; k < load->floor_count; k++)
            adapt_floor(was, load, &load->floor[k]);
    if (hardware->element_w < present->element_w && load->daily_max_ms > 0)
        load->daily_max_ms = (int32_t)fmin(longer(load->daily_max_ms, was, load), MS_PER_DAY);
    if (hardware->set_mc != present->set_mc)
        load->water.set_mc = hardware->set_mc;
    if (hardware->sensor != configured->sensor)
        take_sensor(&compare->home.tank[0].heater, hardware->sensor, load);
}

void recipe_learn(const struct compare *compare, struct load_settings *load)
{
    const struct trial_home *home = &compare->home;
    const struct heater_settings *heater = &home->tank[0].heater;
    load->start_permille = RULES_START_LEARNT;
    if (load->water.volume_ml > 0)
        return;
    bool probed = load->water.probed;
    int32_t probe_permille = load->water.probe_permille;
    int32_t set_mc = load->water.set_mc;
    load->water = (struct heat_settings){
        .volume_ml = (int32_t)lround(heater->tank.volume_l * 1000),
        .set_mc = set_mc > 0 ? set_mc : (int32_t)lround(heater->set_c * 1000),
        .hysteresis_mc = (int32_t)lround(heater->hysteresis_k * 1000),
        .cold_mc = (int32_t)lround(home->inlet.mean_c * 1000),
        .room_mc = (int32_t)lround(heater->tank.ambient_c * 1000),
        .loss_mwh = (int32_t)lround(heater->tank.loss_kwh_day * 10) * 100000,
        .usable_permille = USABLE_PERMILLE,
        .missing_micro = (int32_t)lround(home->unmet_per_kwh * 1e6),
        .probed = probed,
        .probe_permille = probe_permille,
    };
}

/* ---- recipes of sluice -------------------------------------------------------------------- */

struct floor_settings *recipe_daily_floor(struct load_settings *load)
{
    for (int k = 0; k < load->floor_count; k++)
        if (load->floor[k].every_days == 0)
            return &load->floor[k];
    return NULL;
}

static void leave_weekly_floors(struct load_settings *load)
{
    uint8_t kept = 0;
    for (uint8_t k = 0; k < load->floor_count; k++)
        if (load->floor[k].every_days > 0)
            load->floor[kept++] = load->floor[k];
    load->floor_count = kept;
}

/* A day's guarantee: a full tank, or so many hours at full power. */
struct recipe {
    uint16_t start_permille;
    int32_t by_s;  /* 0: none but what is weekly */
    int64_t hours; /* 0: until the thermostat opens */
};

enum { H = 3600 };

static const struct recipe recipes[] = {
    {RULES_START_LEARNT, 0, 0},
    {600, 17 * H, 0},
    {850, 20 * H, 0},
    {300, 7 * H, 0},
};
enum { RECIPES = sizeof recipes / sizeof recipes[0] };

static const struct recipe tuning[] = {
    {RULES_START_LEARNT, 0, 0},
    {RULES_START_LEARNT, 7 * H, 0},
    {RULES_START_LEARNT, 17 * H, 0},
    {RULES_START_LEARNT, 20 * H, 0},
    {300, 7 * H, 0},
    {300, 17 * H, 0},
    {300, 20 * H, 0},
    {600, 7 * H, 0},
    {600, 17 * H, 0},
    {600, 20 * H, 0},
    {850, 7 * H, 0},
    {850, 17 * H, 0},
    {850, 20 * H, 0},
    {1000, 7 * H, 0},
    {1000, 17 * H, 0},
    {600, 7 * H, 2},
    {600, 17 * H, 2},
    {850, 7 * H, 2},
    {850, 17 * H, 2},
    {850, 17 * H, 3},
};
enum { TUNING = sizeof tuning / sizeof tuning[0] };

/* How long a tank that is half warm takes, to the next half hour. */
static int64_t heat_up_ms(const struct compare *compare, const struct load_settings *load)
{
    const struct heater_settings *heater = &compare->home.tank[0].heater;
    double kelvin = heater->set_c - compare->home.inlet.mean_c;
    double s = heater->tank.volume_l * kelvin * WATER_J_PER_L_K / load->power_w;
    return (int64_t)ceil(s * HALF_WARM_PERCENT / 100 / 1800) * 30 * MS_PER_MIN;
}

static bool follow(const struct compare *compare, const struct recipe *recipe,
                   struct load_settings *load)
{
    leave_weekly_floors(load);
    load->start_permille = recipe->start_permille;
    if (recipe->start_permille == RULES_START_LEARNT)
        recipe_learn(compare, load);
    if (recipe->by_s == 0)
        return true;
    if (load->floor_count == RULES_FLOORS_MAX)
        return false;
    struct floor_settings *floor = &load->floor[load->floor_count++];
    *floor = (struct floor_settings){.weekdays = WEEKDAYS_ALL, .by_s = recipe->by_s};
    if (recipe->hours == 0) {
        floor->measure = FLOOR_SATISFIED;
        floor->amount = heat_up_ms(compare, load);
    } else if (load->kind == LOAD_SWITCHED) {
        floor->measure = FLOOR_TIME;
        floor->amount = recipe->hours * MS_PER_HOUR;
        floor->reserve_ms = 30 * MS_PER_MIN;
    } else {
        floor->measure = FLOOR_ENERGY;
        floor->amount = recipe->hours * load->power_w * 1000;
        floor->reserve_ms = 30 * MS_PER_MIN;
    }
    return floor->measure != FLOOR_SATISFIED || load->kind != LOAD_SETPOINT || load->metered;
}

static bool write_settings(const struct compare *compare, int k, struct compare_fit *fit)
{
    recipe_adapt(compare, &fit->hardware, &fit->load);
    fit->as_configured = k == RECIPE_CONFIGURED;
    return fit->as_configured || (k <= RECIPES && follow(compare, &recipes[k - 1], &fit->load));
}

bool recipe_write_tuning(const struct compare *compare, int k, struct compare_fit *fit)
{
    recipe_adapt(compare, &fit->hardware, &fit->load);
    return k < TUNING && follow(compare, &tuning[k], &fit->load);
}

bool recipe_suits(const struct compare *compare, const struct compare_fit *fit)
{
    struct trouble trouble;
    struct rules_settings rules = compare->rules;
    rules.loads = &fit->load;
    return rules_settings_check(&rules, &trouble);
}

bool recipe_write(const struct compare *compare, enum compare_way way, int k,
                  struct compare_fit *fit)
{
    if (compare_is_sluice(way))
        return write_settings(compare, k, fit);
    if (way == WAY_TIMER)
        return write_timer(compare, k, fit);
    if (way == WAY_DIVERTER)
        return write_boost(compare, k, fit);
    return k == 0;
}
