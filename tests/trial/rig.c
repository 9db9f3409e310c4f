/* rig.c - see rig.h. */
#include "rig.h"
#include "reference_home.h"

#include <stdio.h>
#include <stdlib.h>

static const char zone_rule[] = "AEST-10AEDT,M10.1.0,M4.1.0/3";

static void make_rules(struct rig *rig)
{
    rig->load[0] = (struct load_settings){
        .kind = LOAD_SWITCHED,
        .priority = 1,
        .phases = 1,
        .power_w = 3600,
        .uses_spare = true,
        .thermostat = true,
        .start_permille = 700,
        .stop_margin_w = 300,
        .settle_start_ms = 3 * MS_PER_MIN,
        .settle_stop_ms = 90 * MS_PER_S,
        .min_on_ms = 10 * MS_PER_MIN,
        .min_off_ms = 5 * MS_PER_MIN,
        .group = RULES_NO_GROUP,
        .retry_ms = 30 * MS_PER_MIN,
        .floor_count = 1,
        .floor = {{.measure = FLOOR_TIME,
                   .weekdays = WEEKDAYS_ALL,
                   .by_s = 18 * 3600,
                   .reserve_ms = 30 * MS_PER_MIN,
                   .amount = 2 * MS_PER_HOUR}},
    };
    rig->rules = (struct rules_settings){.load_count = 1,
                                         .loads = rig->load,
                                         .order = rig->order,
                                         .zone = rig->zone,
                                         .tariff = rig->tariff,
                                         .phase_count = 1,
                                         .voltage_mv = 230000,
                                         .margin_w = 50};
    rules_order(rig->load, 1, rig->order);
}

struct rig *rig_new(int32_t step_s, size_t count)
{
    struct rig *rig = calloc(1, sizeof *rig);
    struct trouble trouble;
    if (!rig || count > RIG_ROWS_MAX || !zone_parse(zone_rule, &rig->zone, &trouble))
        abort();
    rig->tariff =
        (struct tariff){.count = 1, .band[0] = {.price_micro = 300000}, .feed_in_micro = 50000};
    reference_home(&rig->home, &rig->zone, &rig->tariff);
    for (int h = 0; h < TRIAL_DAY_HOURS; h++)
        rig->home.taps.hour_l[h] = 0;
    int32_t day = days_of_date((struct date){2026, 10, 1});
    rig->days = (struct days){.first = wall_of_local(&rig->zone, day, 0),
                              .step_s = step_s,
                              .count = count,
                              .steps = count,
                              .use_w = rig->use_w,
                              .solar_w = rig->solar_w};
    make_rules(rig);
    return rig;
}

void rig_free(struct rig *rig)
{
    free(rig);
}

void rig_sun(struct rig *rig, double peak_w, double use_w)
{
    for (size_t i = 0; i < rig->days.count; i++) {
        double hour = (double)(i * (size_t)rig->days.step_s % 86400) / 3600, off = (hour - 12) / 6;
        rig->solar_w[i] = (float)(off > -1 && off < 1 ? peak_w * (1 - off * off) : 0);
        rig->use_w[i] = (float)use_w;
    }
}

void rig_draw(struct rig *rig, size_t minute, double litres)
{
    rig->days.draw_l = rig->draw_l;
    rig->days.draw_step_s = 60;
    rig->days.draw_count = rig->days.steps * (size_t)rig->days.step_s / 60;
    rig->draw_l[minute] = (float)litres;
}

void rig_chance(struct rig *rig, uint64_t seed)
{
    struct prng prng = {seed};
    double cloud = 1, kettle_w = 0, peak_w = prng_between(&prng, 1500, 8000);
    rig_sun(rig, peak_w, 300);
    for (size_t i = 0; i < rig->days.count; i++) {
        if (prng_unit(&prng) < 0.2)
            cloud = prng_between(&prng, 0.2, 1.05);
        if (prng_unit(&prng) < 0.1)
            kettle_w = prng_unit(&prng) < 0.3 ? prng_between(&prng, 500, 4000) : 0;
        rig->solar_w[i] *= (float)cloud;
        rig->use_w[i] += (float)kettle_w;
    }
    rig_draw(rig, 0, 0);
    for (size_t m = 0; m < rig->days.draw_count; m++)
        if (prng_unit(&prng) < 0.02)
            rig_draw(rig, m, prng_between(&prng, 0.5, 10));
}

struct trial_outcome rig_run(const struct rig *rig, const struct trial_plan *plan)
{
    struct trial_outcome outcome;
    struct trouble trouble;
    if (!trial_run(&rig->home, &rig->days, plan, NULL, NULL, &outcome, &trouble)) {
        fprintf(stderr, "%s\n", trouble.text);
        abort();
    }
    return outcome;
}
