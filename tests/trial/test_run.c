/* Strategies over days whose outcome is plain: what each may and may not do, what a
 * run skips and does not miss, how showers and closings are counted. */
#include <math.h>
#include <string.h>

#include "../house/suite.h"
#include "../house/twin.h"
#include "rig.h"

#define C_KWH_K (315 * WATER_J_PER_L_K / 3.6e6) /* of the reference tank */

/* ---- the thermostat --------------------------------------------------------- */

struct seen {
    double hottest_c, coldest_c, drawn_kwh;
    struct wall until;
    bool gap, sees_other_power;
    double power_w;
};

static void watch(void *context, const struct trial_span *span)
{
    struct seen *seen = context;
    seen->hottest_c = fmax(seen->hottest_c, span->tank_c[0]);
    seen->coldest_c = fmin(seen->coldest_c, span->tank_c[0]);
    seen->gap |= seen->until.ms != 0 && seen->until.ms != span->from.ms;
    seen->until = span->to;
    double off_w = fabs(span->load_w[0] - seen->power_w);
    seen->sees_other_power |= span->load_w[0] != 0 && off_w > 1e-9;
    seen->drawn_kwh += span->load_w[0] * (double)(span->to.ms - span->from.ms) / 3.6e9;
}

static struct trial_outcome watched(const struct rig *rig, const struct trial_plan *plan,
                                    struct seen *seen)
{
    struct trial_outcome outcome;
    struct trouble trouble;
    ck_assert(trial_run(&rig->home, &rig->days, plan, watch, seen, &outcome, &trouble));
    return outcome;
}

START_TEST(test_an_undisturbed_tank_swings_between_set_point_and_hysteresis)
{
    struct rig *rig = rig_new(1800, 20 * 48);
    struct seen seen = {.coldest_c = 99, .power_w = 3600};
    struct trial_plan plan = {.strategy = STRATEGY_ALWAYS_ON};
    struct trial_outcome outcome = watched(rig, &plan, &seen);
    /* opens within a second of 3.6 kW; closes at most a minute's loss late */
    ck_assert_double_le(seen.hottest_c, 70 + 3600.0 * 1 / (315 * WATER_J_PER_L_K) + 1e-6);
    ck_assert_double_ge(seen.hottest_c, 70 - 1e-3);
    ck_assert_double_le(seen.coldest_c, 64);
    ck_assert_double_ge(seen.coldest_c, 64 - 2.66 / 1440 / C_KWH_K);
    ck_assert(!seen.gap && !seen.sees_other_power);
    ck_assert_int_eq(seen.until.ms, rig->days.first.ms + 20 * (int64_t)MS_PER_DAY);
    ck_assert_double_eq_tol(seen.drawn_kwh, outcome.heat_grid_kwh, 1e-6);
    rig_free(rig);
}
END_TEST

/* T(t) = Ta + (T0 - Ta) exp(-t / tau), and what is lost on the way; tau = C / UA with
 * 2.66 kWh a day at 55 K. */
START_TEST(test_a_tank_without_power_cools_by_the_exponential_however_often_it_is_looked_at)
{
    double tau_h = C_KWH_K / (2.66 / 24 / 55), left_k = 47 * exp(-5 * 24 / tau_h);
    static const int32_t looks_s[] = {1, 60, 300, 3600};
    for (size_t i = 0; i < 4; i++) {
        struct rig *rig = rig_new(1800, 5 * 48);
        rig->home.load_count = 0;
        struct trial_plan plan = {.strategy = STRATEGY_ALWAYS_ON, .look_s = looks_s[i]};
        struct trial_outcome outcome = rig_run(rig, &plan);
        ck_assert_double_eq_tol(outcome.lost_kwh, C_KWH_K * (47 - left_k), 1e-8);
        ck_assert_double_eq_tol(outcome.stored_kwh, -outcome.lost_kwh, 1e-8);
        rig_free(rig);
    }
}
END_TEST

/* 315 L by 45 K take 16.48 kWh, 4.58 h at 3.6 kW: the handbook's rule of 1.1628 Wh per
 * litre and kelvin. */
START_TEST(test_315_litres_by_45_k_take_16_48_kwh_and_4_58_h)
{
    struct rig *rig = rig_new(1800, 48);
    rig->home.tank[0].heater.tank.loss_kwh_day = 0;
    rig->home.tank[0].start_c = 25;
    struct trial_plan plan = {.strategy = STRATEGY_ALWAYS_ON};
    struct trial_outcome outcome = rig_run(rig, &plan);
    ck_assert_double_eq_tol(outcome.heat_grid_kwh, 16.48, 0.01);
    ck_assert_double_eq_tol((double)outcome.load[0].draws_s / 3600, 4.58, 0.005);
    rig_free(rig);
}
END_TEST

/* P = V^2 / R: 3.6 kW at 240 V are 3306.25 W at 230 V. */
START_TEST(test_an_element_gives_less_at_lower_voltage)
{
    struct rig *rig = rig_new(1800, 48);
    rig->home.tank[0].volts = 230;
    rig->home.tank[0].start_c = 25;
    struct seen seen = {.coldest_c = 99, .power_w = 3306.25};
    struct trial_plan plan = {.strategy = STRATEGY_ALWAYS_ON};
    watched(rig, &plan, &seen);
    ck_assert(!seen.sees_other_power);
    ck_assert_double_gt(seen.drawn_kwh, 10);
    rig_free(rig);
}
END_TEST

/* ---- the alternatives ------------------------------------------------------- */

START_TEST(test_a_timer_heats_in_its_hours_alone_and_switches_once_a_day)
{
    struct rig *rig = rig_new(1800, 10 * 48);
    rig->home.taps.hour_l[7] = 100;
    struct trial_plan plan = {.strategy = STRATEGY_TIMER,
                              .hours = {1, {{2 * 3600, 5 * 3600, WEEKDAYS_ALL}}}};
    struct trial_outcome outcome = rig_run(rig, &plan);
    ck_assert_int_eq(outcome.cycles, 10);
    /* the night of the 4th has no hour from 2 to 3 */
    ck_assert_int_eq(outcome.load[0].live_s, 10 * 3 * 3600 - 3600);
    ck_assert_double_gt(outcome.heat_grid_kwh, 20);
    rig_free(rig);
}
END_TEST

START_TEST(test_the_controlled_circuit_has_its_own_meter_and_none_of_the_sun)
{
    struct rig *rig = rig_new(1800, 4 * 48);
    rig_sun(rig, 5000, 500);
    rig->home.taps.hour_l[7] = 100;
    rig->tariff.controlled = (struct tariff_controlled){
        .there = true,
        .count = 1,
        .band[0] = {.price_micro = 180000},
        .hours = {1, {{10 * 3600, 15 * 3600, WEEKDAYS_ALL}}},
    };
    struct trial_outcome with = rig_run(rig, &(struct trial_plan){.strategy = STRATEGY_CONTROLLED});
    rig->home.load_count = 0;
    struct trial_outcome without =
        rig_run(rig, &(struct trial_plan){.strategy = STRATEGY_ALWAYS_ON});
    ck_assert_double_gt(with.controlled_kwh, 10);
    ck_assert_double_eq_tol(with.controlled_kwh, with.heat_grid_kwh, 1e-5);
    ck_assert_double_eq(with.heat_sun_kwh, 0);
    ck_assert_double_eq_tol(with.import_kwh, without.import_kwh, 1e-5);
    ck_assert_double_eq_tol(with.export_kwh, without.export_kwh, 1e-5);
    ck_assert_double_eq_tol(with.bill - without.bill, 0.18 * with.controlled_kwh, 1e-5);
    rig_free(rig);
}
END_TEST

START_TEST(test_a_diverter_takes_what_would_be_exported_to_the_watt)
{
    struct rig *rig = rig_new(60, 3 * 1440);
    rig_sun(rig, 3000, 400);
    rig->home.tank[0].start_c = 20; /* never full in three days */
    rig->home.tank[0].heater.tank.volume_l = 1500;
    struct trial_plan plan = {.strategy = STRATEGY_DIVERTER};
    struct trial_outcome outcome = rig_run(rig, &plan);
    ck_assert_double_eq_tol(outcome.export_kwh, 0, 1e-4);
    ck_assert_double_eq(outcome.heat_grid_kwh, 0);
    ck_assert_double_eq_tol(outcome.heat_sun_kwh,
                            outcome.solar_kwh + outcome.import_kwh - outcome.use_kwh, 1e-4);
    ck_assert_double_gt(outcome.heat_sun_kwh, 30);
    rig_free(rig);
}
END_TEST

START_TEST(test_a_diverter_gives_no_more_than_the_element_takes)
{
    struct rig *rig = rig_new(60, 1440);
    rig_sun(rig, 9000, 0);
    rig->home.tank[0].start_c = 20;
    struct seen seen = {.coldest_c = 99, .power_w = 3600};
    struct trial_plan plan = {.strategy = STRATEGY_DIVERTER, .least_w = 3600};
    watched(rig, &plan, &seen);
    ck_assert(!seen.sees_other_power);
    ck_assert_double_gt(seen.drawn_kwh, 10);
    rig_free(rig);
}
END_TEST

START_TEST(test_a_boost_by_the_store_keeps_it_warm_without_sun)
{
    struct rig *rig = rig_new(1800, 10 * 48);
    rig->home.taps.hour_l[7] = 100; /* 3.1 kW, less than the element */
    struct seen seen = {.coldest_c = 99, .power_w = 3600};
    struct trial_plan plan = {.strategy = STRATEGY_DIVERTER,
                              .boost = {.there = true, .below_c = 50, .to_c = 55}};
    struct trial_outcome outcome = watched(rig, &plan, &seen);
    ck_assert_double_eq(outcome.unmet_kwh, 0);
    ck_assert_double_ge(seen.coldest_c, 49);
    ck_assert_double_eq(outcome.heat_sun_kwh, 0);
    rig_free(rig);
}
END_TEST

START_TEST(test_a_boost_by_the_clock_heats_in_its_hours_to_the_set_point)
{
    struct rig *rig = rig_new(1800, 4 * 48);
    rig->home.tank[0].start_c = 30;
    struct trial_plan plan = {
        .strategy = STRATEGY_DIVERTER,
        .boost = {.there = true, .hours = {1, {{0, 6 * 3600, WEEKDAYS_ALL}}}}};
    struct trial_outcome outcome = rig_run(rig, &plan);
    ck_assert_double_gt(outcome.heat_grid_kwh, 40 * C_KWH_K);
    ck_assert_int_le(outcome.load[0].live_s, 4 * 6 * 3600);
    rig_free(rig);
}
END_TEST

/* ---- the rules -------------------------------------------------------------- */

static void assert_same(const struct trial_outcome *a, const struct trial_outcome *b)
{
    ck_assert_int_eq(a->bill_parts.total_micro, b->bill_parts.total_micro);
    ck_assert_int_eq(a->cycles, b->cycles);
    ck_assert_int_eq(a->load[0].live_s, b->load[0].live_s);
    ck_assert_double_eq_tol(a->heat_sun_kwh, b->heat_sun_kwh, 1e-7);
    ck_assert_double_eq_tol(a->unmet_kwh, b->unmet_kwh, 1e-7);
    ck_assert_int_eq(a->spoilt_showers, b->spoilt_showers);
}

START_TEST(test_asking_the_rules_only_when_it_matters_is_asking_each_second)
{
    for (uint64_t seed = 1; seed <= 5; seed++) {
        struct rig *rig = rig_new(60, 3 * 1440);
        rig_chance(rig, seed);
        rig->rules.solar = seed % 2 == 0;
        struct trial_plan plan = {.strategy = STRATEGY_SLUICE, .rules = &rig->rules};
        struct trial_outcome seldom = rig_run(rig, &plan);
        plan.ask_s = 1;
        struct trial_outcome often = rig_run(rig, &plan);
        assert_same(&seldom, &often);
        ck_assert_int_gt(often.turns, 3 * 86000);
        ck_assert_int_lt(seldom.turns, 3 * 1440 + 3000);
        ck_assert_int_gt(seldom.cycles, 0);
        rig_free(rig);
    }
}
END_TEST

/* Two heaters on phases of their own, one with a meter, each phase billed for itself. */
static void on_three_phases(struct rig *rig)
{
    rig->home.tank_count = rig->home.load_count = 2;
    rig->home.tank[1] = rig->home.tank[0];
    rig->home.tank[0].draw_share = rig->home.tank[1].draw_share = 0.5;
    rig->home.load[1] = (struct trial_load){.model = TRIAL_HEATER, .tank = 1};
    rig->load[1] = rig->load[0];
    rig->load[1].priority = 2;
    rig->load[1].metered = true;
    rig->load[1].phases = 4;
    rig->load[0].start_permille = rig->load[1].start_permille = 200;
    rig->rules.phase_count = 3;
    rig->rules.billing = BILLING_PER_PHASE;
    rig->rules.load_count = 2;
    rules_order(rig->load, 2, rig->order);
}

START_TEST(test_the_same_on_three_phases_with_a_meter_and_a_thermometer)
{
    for (uint64_t seed = 11; seed <= 13; seed++) {
        struct rig *rig = rig_new(60, 2 * 1440);
        rig_chance(rig, seed);
        on_three_phases(rig);
        struct trial_plan plan = {
            .strategy = STRATEGY_SLUICE, .rules = &rig->rules, .reads_tank_temperature = true};
        struct trial_outcome seldom = rig_run(rig, &plan);
        plan.ask_s = 1;
        struct trial_outcome often = rig_run(rig, &plan);
        assert_same(&seldom, &often);
        ck_assert_int_eq(seldom.load[1].live_s, often.load[1].live_s);
        ck_assert_int_gt(seldom.load[1].cycles, 0);
        rig_free(rig);
    }
}
END_TEST

/* What is left at the meter is the car's to take, within seconds. */
START_TEST(test_a_car_follows_the_sun_by_its_set_point)
{
    struct rig *rig = rig_new(60, 1440);
    rig_sun(rig, 5000, 300);
    rig->home.load[0] = (struct trial_load){
        .model = TRIAL_CHARGER,
        .charger = {.most_a = 16, .capacity_kwh = 60, .efficiency = 0.9, .phases = 1},
        .charger_volts = 230,
        .charger_start_kwh = 10};
    rig->load[0].kind = LOAD_SETPOINT;
    rig->load[0].thermostat = false;
    rig->load[0].least_w = 1380;
    rig->load[0].step_w = 230;
    rig->load[0].power_w = 3680;
    rig->load[0].start_permille = 1000;
    rig->load[0].floor_count = 0;
    struct trial_plan plan = {.strategy = STRATEGY_SLUICE, .rules = &rig->rules};
    struct trial_outcome outcome = rig_run(rig, &plan);
    ck_assert_double_gt(outcome.load[0].sun_kwh, 20);
    ck_assert_double_lt(outcome.load[0].grid_kwh, 0.01 * outcome.load[0].sun_kwh);
    ck_assert_double_lt(outcome.residual, 1e-6);
    rig_free(rig);
}
END_TEST

START_TEST(test_rows_that_last_are_as_many_rows)
{
    struct rig *rig = rig_new(1, 6 * 3600), *lasting = rig_new(1, 6 * 3600);
    struct prng prng = {5};
    size_t rows = 0;
    for (size_t s = 0; s < rig->days.steps; rows++) {
        size_t lasts = (size_t)prng_between(&prng, 1, 400);
        if (lasts > rig->days.steps - s)
            lasts = rig->days.steps - s;
        lasting->lasts[rows] = (uint16_t)lasts;
        lasting->solar_w[rows] = (float)prng_between(&prng, 0, 7000);
        lasting->use_w[rows] = (float)prng_between(&prng, 100, 900);
        for (; lasts > 0; lasts--, s++) {
            rig->solar_w[s] = lasting->solar_w[rows];
            rig->use_w[s] = lasting->use_w[rows];
        }
    }
    lasting->days.lasts = lasting->lasts;
    lasting->days.count = rows;
    rig->home.tank[0].start_c = lasting->home.tank[0].start_c = 30;
    struct trial_plan plan = {.strategy = STRATEGY_SLUICE, .rules = &rig->rules};
    struct trial_outcome one = rig_run(rig, &plan), many = rig_run(lasting, &plan);
    assert_same(&one, &many);
    ck_assert_double_gt(one.heat_sun_kwh, 1);
    rig_free(rig);
    rig_free(lasting);
}
END_TEST

/* No sun: the floor of 2 h by 18:00 is bought, all of it and hardly more. */
START_TEST(test_a_floor_is_kept_on_days_without_sun)
{
    struct rig *rig = rig_new(1800, 5 * 48);
    rig->home.taps.hour_l[7] = 220; /* more than the floor heats: never full */
    struct trial_plan plan = {.strategy = STRATEGY_SLUICE, .rules = &rig->rules};
    struct trial_outcome outcome = rig_run(rig, &plan);
    ck_assert_int_ge(outcome.load[0].draws_s, 5 * 2 * 3600 - 60);
    ck_assert_int_le(outcome.load[0].draws_s, 5 * 2 * 3600 + 600);
    ck_assert_int_eq(outcome.cycles, 5);
    rig_free(rig);
}
END_TEST

START_TEST(test_a_set_point_follows_the_sun_and_buys_nothing_where_nothing_is_due)
{
    struct rig *rig = rig_new(60, 2 * 1440);
    rig_sun(rig, 3000, 400);
    rig->home.tank[0].start_c = 20; /* not full in two days */
    rig->home.tank[0].heater.tank.volume_l = 1500;
    rig->load[0].kind = LOAD_SETPOINT;
    rig->load[0].least_w = 100;
    rig->load[0].step_w = 1;
    rig->load[0].thermostat = false;
    rig->load[0].floor_count = 0;
    struct trial_plan plan = {.strategy = STRATEGY_SLUICE, .rules = &rig->rules};
    struct trial_outcome outcome = rig_run(rig, &plan);
    double spare_kwh = outcome.solar_kwh + outcome.import_kwh - outcome.use_kwh;
    ck_assert_double_gt(outcome.heat_sun_kwh, 0.9 * spare_kwh);
    ck_assert_double_lt(outcome.heat_grid_kwh, 0.01 * spare_kwh);
    ck_assert_int_eq(outcome.cycles, 0);
    rig_free(rig);
}
END_TEST

/* Once it has stopped, what it still draws is looked at when it may have followed, not in
 * each millisecond until then. */
START_TEST(test_a_set_point_that_stops_needs_few_turns)
{
    struct rig *rig = rig_new(600, 144);
    const struct trial_plan plan = {.strategy = STRATEGY_SLUICE, .rules = &rig->rules};
    rig->load[0].kind = LOAD_SETPOINT;
    rig->load[0].least_w = 50;
    rig->load[0].step_w = 1;
    rig->load[0].min_on_ms = 0;
    rig->load[0].metered = true;
    rig->load[0].floor_count = 0;
    for (size_t k = 0; k < rig->days.count; k++)
        rig->solar_w[k] = k % 4 < 2 ? 2000 : 0;
    struct trial_outcome outcome = rig_run(rig, &plan);
    ck_assert_double_gt(outcome.load[0].sun_kwh, 1);
    ck_assert_int_lt(outcome.turns, 50000);
    rig_free(rig);
}
END_TEST

START_TEST(test_stages_close_one_after_another)
{
    struct rig *rig = rig_new(60, 1440);
    rig_sun(rig, 5000, 200);
    rig->home.tank[0].start_c = 20;
    rig->load[0].kind = LOAD_STAGED;
    rig->load[0].stages = 3;
    for (int s = 0; s < 3; s++)
        rig->load[0].stage_w[s] = 1200;
    rig->load[0].floor_count = 0;
    struct trial_plan plan = {.strategy = STRATEGY_SLUICE, .rules = &rig->rules};
    struct trial_outcome outcome = rig_run(rig, &plan);
    ck_assert_int_ge(outcome.cycles, 3);
    ck_assert_double_gt(outcome.heat_sun_kwh, 10);
    ck_assert_double_lt(outcome.heat_grid_kwh, 0.1 * outcome.heat_sun_kwh);
    rig_free(rig);
}
END_TEST

START_TEST(test_a_thermometer_is_told_to_the_rules_without_changing_the_balance)
{
    struct rig *rig = rig_new(60, 2 * 1440);
    rig_chance(rig, 3);
    struct trial_plan plan = {
        .strategy = STRATEGY_SLUICE, .rules = &rig->rules, .reads_tank_temperature = true};
    struct trial_outcome outcome = rig_run(rig, &plan);
    ck_assert_int_ge(outcome.turns, 2 * 1440);
    ck_assert_double_lt(outcome.residual, 1e-6);
    rig_free(rig);
}
END_TEST

/* ---- showers ---------------------------------------------------------------- */

static struct rig *cold_house(void)
{
    struct rig *rig = rig_new(60, 1440);
    rig->home.load_count = 0;
    rig->home.tank[0].start_c = 35;
    return rig;
}

START_TEST(test_a_shower_below_38_c_for_over_a_minute_counts_once)
{
    struct rig *rig = cold_house();
    for (size_t minute = 420; minute < 430; minute++)
        rig_draw(rig, minute, 8);
    struct trial_outcome outcome = rig_run(rig, &(struct trial_plan){0});
    ck_assert_int_eq(outcome.showers, 1);
    ck_assert_int_eq(outcome.spoilt_showers, 1);
    ck_assert_double_lt(outcome.coldest_c, 35);
    ck_assert_double_gt(outcome.coldest_c, 25);
    rig_free(rig);
}
END_TEST

START_TEST(test_a_minute_of_cold_water_spoils_no_shower_but_is_unmet_heat)
{
    struct rig *rig = cold_house();
    rig->home.unmet_per_kwh = 10;
    rig_draw(rig, 0, 8); /* at 35 C, before anything is lost */
    struct trial_outcome outcome = rig_run(rig, &(struct trial_plan){0});
    ck_assert_int_eq(outcome.showers, 1);
    ck_assert_int_eq(outcome.spoilt_showers, 0);
    ck_assert_double_eq_tol(outcome.unmet_kwh, 8 * WATER_J_PER_L_K * 10 / 3.6e6, 1e-4);
    ck_assert_double_eq(outcome.unmet_cost, 10 * outcome.unmet_kwh);
    rig_free(rig);
}
END_TEST

/* No shower is spoilt at 40 C, and yet it is not what was wanted. */
START_TEST(test_water_between_38_and_42_c_is_counted_as_cool)
{
    for (double tank_c = 40; tank_c <= 60; tank_c += 20) {
        struct rig *rig = rig_new(60, 1440);
        const struct trial_plan plan = {.strategy = STRATEGY_TIMER, .hours = {1, {{0, 60, 127}}}};
        rig->home.tank[0].start_c = tank_c;
        rig_draw(rig, 300, 20);
        struct trial_outcome outcome = rig_run(rig, &plan);
        ck_assert_int_eq(outcome.spoilt_showers, 0);
        ck_assert_double_gt(outcome.tapped_kwh, 0.4);
        ck_assert_double_eq_tol(outcome.cool_kwh, tank_c < TAP_COOL_C ? outcome.tapped_kwh : 0,
                                1e-9);
        rig_free(rig);
    }
}
END_TEST

START_TEST(test_hot_water_is_mixed_so_that_a_draw_takes_its_heat_at_the_tap)
{
    struct rig *rig = rig_new(60, 1440);
    rig_draw(rig, 600, 40);
    struct trial_outcome outcome = rig_run(rig, &(struct trial_plan){0});
    double main_c = trial_inlet_c(&rig->home, rig->days.first);
    ck_assert_double_eq_tol(outcome.tapped_kwh, 40 * WATER_J_PER_L_K * (45 - main_c) / 3.6e6, 1e-9);
    ck_assert_double_eq(outcome.unmet_kwh, 0);
    ck_assert_double_eq(outcome.coldest_c, 45);
    rig_free(rig);
}
END_TEST

/* EU regulation 814/2013, Annex III table 1: Qref of profile M is 5.845 kWh and of L
 * 11.655 kWh a day above cold water at 10 C. */
START_TEST(test_a_day_of_the_regulations_profiles_taps_their_energy)
{
    struct rig *rig = rig_new(1800, 2 * 48);
    rig->home.inlet = (struct inlet){.mean_c = 10};
    trial_taps_profile(&rig->home.taps, tap_profile_m, tap_profile_m_count);
    struct trial_outcome m = rig_run(rig, &(struct trial_plan){0});
    ck_assert_double_eq_tol(m.tapped_kwh, 2 * 5.845, 1e-9);
    trial_taps_profile(&rig->home.taps, tap_profile_l, tap_profile_l_count);
    struct trial_outcome l = rig_run(rig, &(struct trial_plan){0});
    ck_assert_double_eq_tol(l.tapped_kwh, 2 * 11.655, 1e-9);
    ck_assert_double_eq(l.unmet_kwh, 0);
    rig_free(rig);
}
END_TEST

START_TEST(test_nothing_drawn_has_no_coldest_shower)
{
    struct rig *rig = rig_new(60, 1440);
    struct trial_outcome outcome = rig_run(rig, &(struct trial_plan){0});
    ck_assert(isnan(outcome.coldest_c));
    ck_assert_int_eq(outcome.showers, 0);
    rig_free(rig);
}
END_TEST

START_TEST(test_the_hours_litres_are_drawn_in_their_local_hours)
{
    struct rig *rig = rig_new(1800, 5 * 48 - 2); /* the 4th has 23 hours */
    rig->home.taps.hour_l[2] = 7;                /* which that night does not have */
    rig->home.taps.hour_l[23] = 11;
    struct wall end = {rig->days.first.ms + 5 * (int64_t)MS_PER_DAY - MS_PER_HOUR};
    ck_assert_double_eq_tol(trial_litres(&rig->home, &rig->days, rig->days.first, end),
                            4 * 7 + 5 * 11, 1e-9);
    rig_free(rig);
}
END_TEST

/* ---- other loads ------------------------------------------------------------ */

START_TEST(test_a_pump_runs_by_its_clock_and_a_car_is_full_again_after_its_trip)
{
    struct rig *rig = rig_new(300, 4 * 288);
    struct trial_home *home = &rig->home;
    home->load_count = 3;
    home->load[1] = (struct trial_load){
        .model = TRIAL_PUMP, .power_w = 1000, .hours = {1, {{9 * 3600, 11 * 3600, WEEKDAYS_ALL}}}};
    home->load[2] = (struct trial_load){.model = TRIAL_CHARGER,
                                        .charger = {.most_a = 16,
                                                    .capacity_kwh = 40,
                                                    .efficiency = 0.9,
                                                    .phases = 1,
                                                    .arrives_s = 18 * 3600,
                                                    .leaves_s = 8 * 3600,
                                                    .trip_kwh = 9},
                                        .charger_volts = 230,
                                        .charger_start_kwh = 40};
    struct trial_outcome outcome = rig_run(rig, &(struct trial_plan){0});
    /* half a minute of priming, 15 % falling to none, seen every ten seconds */
    ck_assert_double_eq_tol(outcome.load[1].grid_kwh, 4 * 2, 0.01);
    ck_assert_int_eq(outcome.load[1].cycles, 4);
    /* three trips are made good by the end, the fourth under way */
    ck_assert_double_eq_tol(outcome.load[2].grid_kwh, (4 * 9.0) / 0.9, 9 / 0.9 * 0.25);
    ck_assert_double_gt(outcome.load[2].grid_kwh, 3 * 9 / 0.9 - 0.1);
    ck_assert_double_lt(outcome.residual, 1e-6);
    rig_free(rig);
}
END_TEST

START_TEST(test_of_twin_elements_one_draws_at_a_time)
{
    struct rig *rig = rig_new(60, 1440);
    rig->home.tank[0].heater = twin_heater(315, 3600);
    rig->home.tank[0].start_c = 20;
    rig->home.load[1] = rig->home.load[0];
    rig->home.load[0].upper = true;
    rig->home.load_count = 2;
    struct trial_outcome outcome = rig_run(rig, &(struct trial_plan){0});
    /* a third of the tank by the upper, the rest by the lower, one after the other */
    double upper_kwh = outcome.load[0].grid_kwh, lower_kwh = outcome.load[1].grid_kwh;
    ck_assert_double_eq_tol(upper_kwh, C_KWH_K * 45 / 3, 2);
    ck_assert_double_eq_tol(upper_kwh + lower_kwh, C_KWH_K * 45, 3);
    ck_assert_int_eq(outcome.load[0].cycles, 0);
    rig_free(rig);
}
END_TEST

START_TEST(test_an_inverter_at_its_limit_gives_what_is_taken)
{
    struct rig *rig = rig_new(60, 1440);
    rig_sun(rig, 6000, 500);
    rig->home.load_count = 0;
    rig->home.export_limit_w = 1500;
    double least_kwh = 0;
    for (size_t i = 0; i < rig->days.count; i++)
        least_kwh += fmin(rig->solar_w[i], 2000) / 60e3;
    struct trial_outcome outcome = rig_run(rig, &(struct trial_plan){0});
    ck_assert_double_eq_tol(outcome.solar_kwh, least_kwh, 1e-3);
    rig_free(rig);
}
END_TEST

/* ---- what cannot be --------------------------------------------------------- */

static void assert_refused(const struct rig *rig, const struct trial_plan *plan, const char *why)
{
    struct trial_outcome outcome;
    struct trouble trouble;
    ck_assert(!trial_run(&rig->home, &rig->days, plan, NULL, NULL, &outcome, &trouble));
    ck_assert_msg(strstr(trouble.text, why) != NULL, "\"%s\" says nothing of \"%s\"", trouble.text,
                  why);
}

START_TEST(test_what_cannot_be_run_is_named)
{
    struct rig *rig = rig_new(1800, 48);
    assert_refused(rig, &(struct trial_plan){.strategy = STRATEGY_CONTROLLED}, "controlled supply");
    assert_refused(rig, &(struct trial_plan){.strategy = STRATEGY_SLUICE}, "no rules");
    assert_refused(rig, &(struct trial_plan){.strategy = STRATEGY_COUNT}, "no strategy");
    assert_refused(rig, &(struct trial_plan){.in_steps = true, .look_s = 700}, "do not fit");
    assert_refused(rig,
                   &(struct trial_plan){.strategy = STRATEGY_DIVERTER,
                                        .boost = {.there = true, .below_c = 55, .to_c = 50}},
                   "colder");
    rig->rules.battery = true;
    assert_refused(rig, &(struct trial_plan){.strategy = STRATEGY_SLUICE, .rules = &rig->rules},
                   "battery");
    rig->rules.battery = false;
    rig->home.load_count = 2;
    rig->home.load[1] = (struct trial_load){.model = TRIAL_HEATER, .upper = true};
    assert_refused(rig, &(struct trial_plan){.strategy = STRATEGY_SLUICE, .rules = &rig->rules},
                   "upper element");
    rig->home.load[1] = (struct trial_load){.model = TRIAL_HEATER};
    assert_refused(rig, &(struct trial_plan){.strategy = STRATEGY_SLUICE, .rules = &rig->rules},
                   "1 loads, the home has 2");
    rig->home.load[1].tank = 3;
    assert_refused(rig, &(struct trial_plan){0}, "tank 4");
    rig->home.load_count = 1;
    rig->home.tank[0].draw_share = 0.5;
    assert_refused(rig, &(struct trial_plan){0}, "not all of it");
    rig_free(rig);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_an_undisturbed_tank_swings_between_set_point_and_hysteresis,
        test_a_tank_without_power_cools_by_the_exponential_however_often_it_is_looked_at,
        test_315_litres_by_45_k_take_16_48_kwh_and_4_58_h,
        test_an_element_gives_less_at_lower_voltage,
        test_a_timer_heats_in_its_hours_alone_and_switches_once_a_day,
        test_the_controlled_circuit_has_its_own_meter_and_none_of_the_sun,
        test_a_diverter_takes_what_would_be_exported_to_the_watt,
        test_a_diverter_gives_no_more_than_the_element_takes,
        test_a_boost_by_the_store_keeps_it_warm_without_sun,
        test_a_boost_by_the_clock_heats_in_its_hours_to_the_set_point,
        test_asking_the_rules_only_when_it_matters_is_asking_each_second,
        test_the_same_on_three_phases_with_a_meter_and_a_thermometer,
        test_a_car_follows_the_sun_by_its_set_point,
        test_rows_that_last_are_as_many_rows,
        test_a_floor_is_kept_on_days_without_sun,
        test_a_set_point_follows_the_sun_and_buys_nothing_where_nothing_is_due,
        test_a_set_point_that_stops_needs_few_turns,
        test_stages_close_one_after_another,
        test_a_thermometer_is_told_to_the_rules_without_changing_the_balance,
        test_a_shower_below_38_c_for_over_a_minute_counts_once,
        test_a_minute_of_cold_water_spoils_no_shower_but_is_unmet_heat,
        test_water_between_38_and_42_c_is_counted_as_cool,
        test_hot_water_is_mixed_so_that_a_draw_takes_its_heat_at_the_tap,
        test_a_day_of_the_regulations_profiles_taps_their_energy,
        test_nothing_drawn_has_no_coldest_shower,
        test_the_hours_litres_are_drawn_in_their_local_hours,
        test_a_pump_runs_by_its_clock_and_a_car_is_full_again_after_its_trip,
        test_of_twin_elements_one_draws_at_a_time,
        test_an_inverter_at_its_limit_gives_what_is_taken,
        test_what_cannot_be_run_is_named,
    };
    return RUN("run", tests);
}
