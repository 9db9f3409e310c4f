/* The meter must never see a house that holds still: a controller that is
 * proven on flat lines is proven on nothing. But each step's numbers follow
 * from the seed alone. */
#include "house/household.h"

#include <math.h>

#define FRIDGE_ON_S 900.0
#define FRIDGE_OFF_S 1500.0
#define KETTLE_S 180.0
#define CYCLE_SPREAD 0.2
#define WANDER_SHARE 0.1 /* of the base */
#define WANDER_S 120.0   /* how long it remembers */

void household_init(struct household *household, const struct household_settings *settings)
{
    *household = (struct household){.settings = *settings, .prng = {settings->seed}};
    household->fridge_left_s = prng_between(&household->prng, 60, FRIDGE_OFF_S);
    for (int i = 0; i < settings->chance_count; i++)
        household->use[i].prng.state = settings->seed * HOUSEHOLD_CHANCES_MAX + (uint64_t)i;
}

static int32_t span_s(int32_t from_s, int32_t to_s)
{
    return to_s > from_s ? to_s - from_s : to_s - from_s + 86400;
}

static bool event_on(const struct household_event *event, int32_t now_s)
{
    int32_t since = now_s - event->from_s;
    if (since < 0)
        since += 86400;
    if (since >= span_s(event->from_s, event->to_s))
        return false;
    return event->on_s == 0 || since % (event->on_s + event->off_s) < event->on_s;
}

static double base_w(struct household *household, double dt_s)
{
    if (dt_s != household->kept_dt_s) {
        household->kept_dt_s = dt_s;
        household->kept = exp(-dt_s / WANDER_S);
    }
    double keeps = household->kept;
    household->wander =
        household->wander * keeps + prng_between(&household->prng, -1, 1) * sqrt(1 - keeps * keeps);
    return household->settings.base_w * fmax(0, 1 + WANDER_SHARE * household->wander);
}

static double fridge_w(struct household *household, double dt_s)
{
    household->fridge_left_s -= dt_s;
    if (household->fridge_left_s <= 0) {
        household->fridge_on = !household->fridge_on;
        household->fridge_left_s = (household->fridge_on ? FRIDGE_ON_S : FRIDGE_OFF_S) *
                                   prng_between(&household->prng, 0.8, 1.2);
    }
    return household->fridge_on ? household->settings.fridge_w : 0;
}

static double kettle_w(struct household *household, int32_t now_s, double dt_s)
{
    bool awake = now_s >= 6 * 3600 && now_s < 22 * 3600;
    double chance = household->settings.kettles_a_day * dt_s / (16 * 3600);
    if (household->kettle_left_s > 0)
        household->kettle_left_s -= dt_s;
    else if (prng_unit(&household->prng) < chance && awake)
        household->kettle_left_s = KETTLE_S;
    return household->kettle_left_s > 0 ? household->settings.kettle_w : 0;
}

static double varied(struct prng *prng, double value, double share)
{
    return value * prng_between(prng, 1 - share, 1 + share);
}

static void begin_by_chance(const struct household_chance *chance, struct household_use *use,
                            int32_t now_s, double dt_s)
{
    int32_t since = now_s - chance->from_s, span = span_s(chance->from_s, chance->to_s);
    double rate = chance->a_day * dt_s / span;
    bool comes = prng_unit(&use->prng) < rate && (since < 0 ? since + 86400 : since) < span;
    if (!comes)
        return;
    use->left_s = prng_between(&use->prng, chance->least_s, chance->most_s);
    use->power_w = varied(&use->prng, chance->power_w, chance->power_spread);
    use->part_left_s = varied(&use->prng, chance->on_s, CYCLE_SPREAD);
    use->on = true;
}

/* What it takes in this step. */
static double chance_w(const struct household_chance *chance, struct household_use *use,
                       int32_t now_s, double dt_s)
{
    if (use->left_s <= 0)
        begin_by_chance(chance, use, now_s, dt_s);
    if (use->left_s <= 0)
        return 0;
    double w = use->on ? use->power_w : 0;
    use->left_s -= dt_s;
    use->part_left_s -= dt_s;
    if (chance->on_s > 0 && use->part_left_s <= 0) {
        use->on = !use->on;
        use->part_left_s = varied(&use->prng, use->on ? chance->on_s : chance->off_s, CYCLE_SPREAD);
    }
    return w;
}

void household_step_w(struct household *household, int32_t now_s, double dt_s,
                      double phase_w[PHASES_MAX])
{
    uint8_t all = (uint8_t)((1 << household->settings.phase_count) - 1);
    for (int p = 0; p < PHASES_MAX; p++)
        phase_w[p] = 0;
    phases_share(phase_w, all, base_w(household, dt_s));
    phases_share(phase_w, 1, fridge_w(household, dt_s) + kettle_w(household, now_s, dt_s));
    for (int i = 0; i < household->settings.event_count; i++)
        if (event_on(&household->settings.event[i], now_s))
            phases_share(phase_w, household->settings.event[i].phases,
                         household->settings.event[i].power_w);
    for (int i = 0; i < household->settings.chance_count; i++)
        phases_share(phase_w, household->settings.chance[i].phases,
                     chance_w(&household->settings.chance[i], &household->use[i], now_s, dt_s));
}
