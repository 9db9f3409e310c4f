/* test_rules.c - spare power, takeover, probes, levels: each rule of TABLE.md by an
 * example that a person can follow. */
#include "bench_house.h"

#include <check.h>
#include <stdlib.h>

enum { NOON = 12 * 3600, MINUTE = 60, HOUR = 3600 };

static struct bench b;

/* ---- spare power ---- */

START_TEST(test_with_200_w_spare_a_3600_w_load_stays_off)
{
    bench_make(&b, 1);
    b.rest_w = -200;
    bench_begin(&b, NOON);
    ck_assert_int_eq(bench_until(&b, HEATER, true, HOUR), -1);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_SPARE);
    ck_assert_int_eq(b.decision[HEATER].reason.number[0], 200);
    ck_assert_int_eq(b.decision[HEATER].reason.number[1], 3600);
}
END_TEST

START_TEST(test_enough_spare_power_starts_it_after_settling)
{
    bench_make(&b, 1);
    b.rest_w = -3600;
    bench_begin(&b, NOON);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_SETTLING);
    ck_assert_int_eq(bench_until(&b, HEATER, true, HOUR), 2 * MINUTE);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_SPARE);
}
END_TEST

START_TEST(test_a_gap_in_the_sun_begins_the_settling_anew)
{
    bench_make(&b, 1);
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    bench_pass(&b, 100);
    b.rest_w = -1000;
    bench_pass(&b, 1);
    b.rest_w = -4000;
    ck_assert_int_eq(bench_until(&b, HEATER, true, HOUR), 1 + 2 * MINUTE);
}
END_TEST

START_TEST(test_margin_is_left_unused)
{
    bench_make(&b, 1);
    b.settings.margin_w = 1;
    b.rest_w = -3600;
    bench_begin(&b, NOON);
    ck_assert_int_eq(bench_until(&b, HEATER, true, HOUR), -1);
}
END_TEST

START_TEST(test_half_the_power_is_enough_at_a_start_fraction_of_half)
{
    bench_make(&b, 1);
    b.load[HEATER].start_permille = 500;
    b.rest_w = -1800;
    bench_begin(&b, NOON);
    ck_assert_int_eq(bench_until(&b, HEATER, true, HOUR), 2 * MINUTE);
}
END_TEST

/* (p - c) / (p - f) = (0.35 - 0.20) / (0.35 - 0.05) = 0.5 */
START_TEST(test_start_fraction_from_tariff)
{
    bench_make(&b, 1);
    b.load[HEATER].start_permille = 0;
    b.settings.tariff = (struct tariff){
        .count = 2,
        .feed_in_micro = 50000,
        .band = {{.price_micro = 350000},
                 {.price_micro = 200000,
                  .hours = {.count = 1, .span = {{0, 6 * HOUR, WEEKDAYS_ALL}}}}},
    };
    b.rest_w = -1799;
    bench_begin(&b, NOON);
    ck_assert_int_eq(bench_until(&b, HEATER, true, HOUR), -1);
    b.rest_w = -1800;
    ck_assert_int_gt(bench_until(&b, HEATER, true, HOUR), 0);
}
END_TEST

START_TEST(test_a_cloud_stops_it_after_settling_once_minimum_on_is_served)
{
    bench_make(&b, 1);
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    bench_until(&b, HEATER, true, HOUR);
    bench_pass(&b, 10 * MINUTE);
    b.rest_w = 0;
    ck_assert_int_eq(bench_until(&b, HEATER, false, HOUR), 1 + MINUTE);
}
END_TEST

START_TEST(test_an_early_cloud_lets_it_finish_minimum_on)
{
    bench_make(&b, 1);
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    bench_until(&b, HEATER, true, HOUR);
    bench_pass(&b, 1); /* the output confirms: minimum on runs from here */
    b.rest_w = 0;
    bench_pass(&b, 2 * MINUTE);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_MINIMUM_ON);
    ck_assert_int_eq(bench_until(&b, HEATER, false, HOUR), 3 * MINUTE);
}
END_TEST

START_TEST(test_it_stays_off_for_minimum_off)
{
    bench_make(&b, 1);
    b.load[HEATER].settle_start_ms = 0;
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    bench_pass(&b, 10 * MINUTE);
    b.rest_w = 0;
    bench_until(&b, HEATER, false, HOUR);
    b.rest_w = -4000;
    ck_assert_int_eq(bench_until(&b, HEATER, true, HOUR), 1 + 5 * MINUTE);
}
END_TEST

START_TEST(test_a_silent_meter_ends_a_run_on_spare_power_at_minimum_on)
{
    bench_make(&b, 1);
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    bench_until(&b, HEATER, true, HOUR);
    bench_pass(&b, 10 * MINUTE);
    b.meter_silent = true;
    ck_assert_int_eq(bench_until(&b, HEATER, false, HOUR), 1);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_NO_READING);
    ck_assert_int_eq(bench_until(&b, HEATER, true, HOUR), -1);
}
END_TEST

START_TEST(test_a_battery_that_is_not_read_means_nothing_is_spare)
{
    bench_make(&b, 1);
    b.settings.battery = true;
    b.battery_silent = true;
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    ck_assert_int_eq(bench_until(&b, HEATER, true, HOUR), -1);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_NO_BATTERY);
}
END_TEST

START_TEST(test_battery_charging_is_spare_but_for_its_reserved_share)
{
    bench_make(&b, 1);
    b.settings.battery = true;
    b.settings.battery_reserved_permille = 250;
    b.battery_w = 4800; /* three quarters of it: 3600 W */
    bench_begin(&b, NOON);
    ck_assert_int_eq(bench_until(&b, HEATER, true, HOUR), 2 * MINUTE);
}
END_TEST

START_TEST(test_battery_discharge_counts_as_import)
{
    bench_make(&b, 1);
    b.settings.battery = true;
    b.rest_w = -3600;
    b.battery_w = -1;
    bench_begin(&b, NOON);
    ck_assert_int_eq(bench_until(&b, HEATER, true, HOUR), -1);
}
END_TEST

START_TEST(test_per_phase_billing_looks_at_the_loads_own_phase)
{
    bench_make(&b, 1);
    b.settings.phase_count = 3;
    b.settings.billing = BILLING_PER_PHASE;
    b.load[HEATER].phases = 2;
    bench_begin(&b, NOON);
    b.meter_held = true; /* the bench's meter knows one phase only */
    b.reading.has = HAS_GRID_POWER | HAS_PHASE_POWER;
    b.reading.grid_power_w = -9000;
    b.reading.phase_power_w[0] = -9000;
    ck_assert_int_eq(bench_until(&b, HEATER, true, HOUR), -1);
    b.reading.phase_power_w[0] = 0;
    b.reading.phase_power_w[1] = -9000;
    ck_assert_int_gt(bench_until(&b, HEATER, true, HOUR), 0);
}
END_TEST

/* ---- takeover ---- */

static void two_loads_of_which_the_lower_runs(void)
{
    bench_make(&b, 2);
    b.load[PUMP].power_w = 3000;
    b.rest_w = -3000;
    bench_begin(&b, NOON);
    ck_assert_int_gt(bench_until(&b, PUMP, true, HOUR), 0);
    bench_pass(&b, 10 * MINUTE);
    ck_assert(!bench_on(&b, HEATER));
}

START_TEST(test_takeover_waits_for_the_meter)
{
    two_loads_of_which_the_lower_runs();
    b.at[PUMP].answer_s = 5;
    b.rest_w = -4000;
    /* longer than for a start of its own, which needs 2 min */
    ck_assert_int_eq(bench_until(&b, PUMP, false, HOUR), 1 + 5 * MINUTE);
    ck_assert_int_eq(bench_reason(&b, PUMP), REASON_OFF_TAKEN_OVER);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_TAKEOVER);
    bench_pass(&b, 4);
    ck_assert(!bench_on(&b, HEATER)); /* the pump's output has not answered */
    ck_assert_int_le(bench_until(&b, HEATER, true, 5), 2);
    ck_assert(!bench_on(&b, PUMP));
}
END_TEST

START_TEST(test_takeover_spares_a_load_within_its_minimum_on)
{
    bench_make(&b, 2);
    b.load[PUMP].power_w = 3000;
    b.rest_w = -3000;
    bench_begin(&b, NOON);
    bench_until(&b, PUMP, true, HOUR);
    b.rest_w = -4000;
    bench_pass(&b, 4 * MINUTE);
    ck_assert(bench_on(&b, PUMP));
    ck_assert(!bench_on(&b, HEATER));
}
END_TEST

/* A gap in the clouds of less than five minutes is not worth two switchings. */
START_TEST(test_a_short_gap_in_the_clouds_takes_no_place)
{
    two_loads_of_which_the_lower_runs();
    for (int gap = 0; gap < 6; gap++) {
        b.rest_w = -4000;
        bench_pass(&b, 4 * MINUTE);
        b.rest_w = -3000;
        bench_pass(&b, 4 * MINUTE);
        ck_assert(bench_on(&b, PUMP));
        ck_assert(!bench_on(&b, HEATER));
    }
}
END_TEST

START_TEST(test_loads_change_places_at_most_once_an_hour)
{
    two_loads_of_which_the_lower_runs();
    int64_t taken = 0;
    for (int minute = 0; minute < 180; minute++) {
        b.rest_w = minute % 20 < 10 ? -4000 : -3000;
        for (int second = 0; second < MINUTE; second++) {
            bool ran = bench_on(&b, PUMP);
            bench_pass(&b, 1);
            taken += ran && bench_reason(&b, PUMP) == REASON_OFF_TAKEN_OVER;
        }
    }
    ck_assert_int_ge(taken, 2); /* else nothing was shown */
    ck_assert_int_le(taken, 3);
}
END_TEST

START_TEST(test_takeover_that_gave_less_than_promised_is_not_repeated)
{
    two_loads_of_which_the_lower_runs();
    b.rest_w = -4000;
    bench_until(&b, PUMP, false, HOUR);
    b.rest_w = -3000; /* a cloud comes while the pump stops */
    bench_pass(&b, 2 * MINUTE);
    ck_assert(!bench_on(&b, HEATER));
    ck_assert_int_gt(bench_until(&b, PUMP, true, HOUR), 0);
    b.rest_w = -4000;
    ck_assert_int_eq(bench_until(&b, PUMP, false, 20 * MINUTE), -1);
}
END_TEST

START_TEST(test_the_last_in_order_is_the_first_to_feel_a_cloud)
{
    bench_make(&b, 2);
    b.rest_w = -8000;
    bench_begin(&b, NOON);
    bench_until(&b, PUMP, true, HOUR);
    bench_pass(&b, 10 * MINUTE);
    ck_assert(bench_on(&b, HEATER));
    b.rest_w = -4000;
    ck_assert_int_gt(bench_until(&b, PUMP, false, HOUR), 0);
    bench_pass(&b, 30 * MINUTE);
    ck_assert(bench_on(&b, HEATER));
}
END_TEST

/* ---- probe ---- */

static void throttled_house(void)
{
    bench_make(&b, 1);
    b.settings.export_limit_w = 1000;
    b.settings.probes_per_day = 2;
    b.rest_w = -1000;
    bench_begin(&b, NOON);
}

START_TEST(test_probe_gives_up_when_import_follows)
{
    throttled_house();
    ck_assert_int_eq(bench_until(&b, HEATER, true, HOUR), 2 * MINUTE);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_PROBE);
    ck_assert_int_eq(bench_until(&b, HEATER, false, HOUR), 1 + 5 * MINUTE); /* minimum on */
    ck_assert_int_eq(bench_until(&b, HEATER, true, 19 * MINUTE), -1);
    ck_assert_int_gt(bench_until(&b, HEATER, true, 10 * MINUTE), 0); /* 25 min after the first */
}
END_TEST

START_TEST(test_probe_goes_on_as_spare_when_the_inverter_follows)
{
    throttled_house();
    bench_until(&b, HEATER, true, HOUR);
    bench_pass(&b, 5);
    b.rest_w = -4600;
    bench_pass(&b, 10 * MINUTE);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_SPARE);
}
END_TEST

START_TEST(test_no_more_probes_than_allowed_in_a_day)
{
    throttled_house();
    int starts = 0;
    while (bench_until(&b, HEATER, true, HOUR) > 0) {
        starts++;
        ck_assert_int_le(starts, 2);
        bench_until(&b, HEATER, false, HOUR);
    }
    ck_assert_int_eq(starts, 2);
}
END_TEST

/* ---- levels ---- */

START_TEST(test_a_set_point_follows_the_spare_power)
{
    bench_make(&b, 1);
    b.load[HEATER].kind = LOAD_SETPOINT;
    b.load[HEATER].least_w = 1400;
    b.load[HEATER].step_w = 230;
    b.rest_w = -2500;
    bench_begin(&b, NOON);
    bench_until(&b, HEATER, true, HOUR);
    ck_assert_int_eq(b.decision[HEATER].level_w, 1400);
    bench_pass(&b, MINUTE);
    ck_assert_int_eq(b.decision[HEATER].level_w, 2300); /* ten steps of 230 W */
}
END_TEST

START_TEST(test_stages_follow_one_after_another)
{
    bench_make(&b, 1);
    b.load[HEATER].kind = LOAD_STAGED;
    b.load[HEATER].stages = 3;
    for (int k = 0; k < 3; k++)
        b.load[HEATER].stage_w[k] = 1200;
    b.rest_w = -2500;
    bench_begin(&b, NOON);
    bench_until(&b, HEATER, true, HOUR);
    bench_pass(&b, 2 * MINUTE - 1);
    ck_assert_int_eq(b.decision[HEATER].stage, 1);
    bench_pass(&b, 2);
    ck_assert_int_eq(b.decision[HEATER].stage, 2);
    ck_assert_int_eq(b.decision[HEATER].level_w, 2400);
    bench_pass(&b, 10 * MINUTE);
    ck_assert_int_eq(b.decision[HEATER].stage, 2);
}
END_TEST

/* ---- what is booked (1) ---- */

/* 3.6 kW of its own, a minute long, in mJ: 3600 W x 60 s. */
static struct load_totals booked_in_a_minute(int32_t rest_w)
{
    bench_make(&b, 1);
    b.rest_w = -5000;
    bench_begin(&b, NOON);
    ck_assert_int_ge(bench_until(&b, HEATER, true, 10 * MINUTE), 0);
    bench_pass(&b, 2 * MINUTE);
    b.rest_w = rest_w;
    bench_pass(&b, 1);
    struct load_totals before = b.loads[HEATER].total, after;
    bench_pass(&b, MINUTE);
    after = b.loads[HEATER].total;
    return (struct load_totals){.spare_mj = after.spare_mj - before.spare_mj,
                                .grid_mj = after.grid_mj - before.grid_mj};
}

START_TEST(test_at_no_import_all_of_a_run_is_spare_and_beyond_it_the_import_is_grid)
{
    struct load_totals booked = booked_in_a_minute(-3600);
    ck_assert_int_eq(booked.spare_mj, INT64_C(3600) * MINUTE * 1000);
    ck_assert_int_eq(booked.grid_mj, 0);
    booked = booked_in_a_minute(-3600 + 100);
    ck_assert_int_eq(booked.spare_mj, INT64_C(3500) * MINUTE * 1000);
    ck_assert_int_eq(booked.grid_mj, INT64_C(100) * MINUTE * 1000);
}
END_TEST

/* ---- by hand ---- */

START_TEST(test_off_by_hand_tells_how_long_it_lasts_yet)
{
    bench_make(&b, 1);
    bench_begin(&b, NOON);
    struct command off = bench_command(&b, COMMAND_OFF, HEATER, 60);
    bench_order(&b, off);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_MANUAL);
    bench_pass(&b, 10 * MINUTE);
    ck_assert_int_eq(b.decision[HEATER].reason.number[0], off.until.ms - b.now.mono.ms);
    off.until = MONO_NEVER;
    bench_order(&b, off);
    ck_assert_int_eq(b.decision[HEATER].reason.number[0], -1);
}
END_TEST

/* ---- what heat is worth (7a); the worth itself is tests/heat's ---- */

static struct heat_memory heat;

/* A water heater that learns, at 0.30 a kWh and 0.05 for what is exported. */
static void begin_learning(void)
{
    bench_make(&b, 1);
    b.settings.tariff =
        (struct tariff){.count = 1, .feed_in_micro = 50000, .band = {{.price_micro = 300000}}};
    b.load[HEATER].start_permille = RULES_START_LEARNT;
    b.load[HEATER].thermostat = true;
    b.load[HEATER].water = (struct heat_settings){.volume_ml = 315000,
                                                  .set_mc = 65000,
                                                  .hysteresis_mc = 6000,
                                                  .cold_mc = 16000,
                                                  .room_mc = 20000,
                                                  .loss_mwh = 2200000,
                                                  .usable_permille = 850,
                                                  .missing_micro = 10000000};
    bench_begin(&b, NOON);
    rules_learn(&b.settings, &b.memory, HEATER, &heat);
}

/* As if it had learnt that a kWh more in the store is worth so much, for the next day. */
static void learnt_here(int32_t worth_micro)
{
    b.memory.heat_tick = mono_after(b.now.mono, MS_PER_DAY);
    heat.reckoned = true;
    heat.worth_micro = worth_micro;
}

static void learnt_worth(int32_t worth_micro)
{
    begin_learning();
    learnt_here(worth_micro);
}

START_TEST(test_heat_is_bought_ahead_once_its_worth_passes_the_price)
{
    learnt_worth(280000);
    bench_pass(&b, MINUTE);
    ck_assert(!bench_on(&b, HEATER));
    heat.worth_micro = 320000;
    bench_pass(&b, 1);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_AHEAD);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_ON_AHEAD);
    ck_assert_int_eq(b.decision[HEATER].reason.number[0], 300000);
    ck_assert_int_eq(b.decision[HEATER].reason.number[1], 320000);
}
END_TEST

/* 0.8 cents above the price to begin, as much below it to end. */
START_TEST(test_prices_a_little_apart_do_not_switch)
{
    learnt_worth(307999);
    b.rest_w = 2000; /* nothing is spare: only what is bought ahead runs */
    bench_pass(&b, MINUTE);
    ck_assert(!bench_on(&b, HEATER));
    heat.worth_micro = 308000;
    bench_pass(&b, 1);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_AHEAD);
    heat.worth_micro = 292000;
    bench_pass(&b, HOUR);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_AHEAD);
    heat.worth_micro = 291999;
    bench_pass(&b, MINUTE);
    ck_assert(!bench_on(&b, HEATER));
}
END_TEST

/* 4 kW are there for it, and neither its own 3.6 kW nor what it could give up counts twice. */
START_TEST(test_what_a_load_could_take_counts_its_own_draw_once)
{
    learnt_worth(250000);
    b.rest_w = -4000;
    ck_assert_int_ge(bench_until(&b, HEATER, true, 10 * MINUTE), 0);
    bench_pass(&b, 10 * MINUTE);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_SPARE);
    ck_assert_int_eq(b.loads[HEATER].could_w, 4000 - b.settings.margin_w);
}
END_TEST

START_TEST(test_heat_bought_ahead_needs_no_reading)
{
    learnt_worth(320000);
    b.meter_silent = true;
    bench_pass(&b, MINUTE);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_AHEAD);
}
END_TEST

/* (p - w) / (p - f) = (0.30 - 0.125) / 0.25 = 0.7, and the slack of a load that is off */
START_TEST(test_worth_becomes_the_start_fraction)
{
    learnt_worth(125000 + 8000);
    b.rest_w = -2519;
    bench_pass(&b, 3 * MINUTE);
    ck_assert(!bench_on(&b, HEATER));
    ck_assert_int_eq(b.decision[HEATER].reason.number[1], 2520);
    learnt_worth(125000 + 8000);
    b.rest_w = -2520;
    ck_assert_int_gt(bench_until(&b, HEATER, true, 3 * MINUTE), 0);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_SPARE);
}
END_TEST

/* Between export and import there is then nothing to weigh: no fraction of its power. */
START_TEST(test_where_export_is_credited_in_full_heat_is_bought_or_left)
{
    begin_learning();
    b.settings.tariff.feed_in_micro = b.settings.tariff.band[0].price_micro;
    b.memory.calendar_until = b.memory.calendar_from; /* looked up anew */
    learnt_here(307999);
    b.rest_w = -5000;
    bench_pass(&b, 4 * MINUTE);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_WORTH);
    heat.worth_micro = 308000;
    bench_pass(&b, 1);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_AHEAD);
}
END_TEST

START_TEST(test_what_is_worth_less_than_its_feed_in_leaves_even_spare_power)
{
    learnt_worth(30000);
    b.rest_w = -5000;
    bench_pass(&b, 4 * MINUTE);
    ck_assert(!bench_on(&b, HEATER));
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_WORTH);
}
END_TEST

START_TEST(test_a_full_store_leaves_even_spare_power)
{
    learnt_worth(320000);
    heat.open = true;
    b.rest_w = -5000;
    bench_pass(&b, 4 * MINUTE);
    ck_assert(!bench_on(&b, HEATER));
}
END_TEST

START_TEST(test_while_the_clock_is_not_set_the_fraction_is_derived)
{
    b.now = (struct moment){.wall = {1}};
    begin_learning();
    b.now = (struct moment){b.now.mono, {1}, false};
    bench_begin(&b, NOON);
    rules_learn(&b.settings, &b.memory, HEATER, &heat);
    heat.reckoned = true;
    heat.worth_micro = 900000;
    bench_pass(&b, MINUTE);
    ck_assert(!b.memory.trusted);
    ck_assert(!bench_on(&b, HEATER)); /* not ahead, and all of its power is needed */
    ck_assert_int_eq(b.loads[HEATER].start_permille, 1000);
    b.rest_w = -3600;
    ck_assert_int_gt(bench_until(&b, HEATER, true, HOUR), 0);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_SPARE);
    b.now = (struct moment){0};
}
END_TEST

START_TEST(test_in_the_first_days_it_is_hot_whatever_it_costs)
{
    begin_learning();
    bench_pass(&b, 2);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_AHEAD);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_ON_LEARNING);
}
END_TEST

/* However cheap, heat ahead keeps to the load's hours; the floor of hours goes on counting. */
START_TEST(test_hours_bind_heat_ahead_and_a_floor_counts_it)
{
    learnt_worth(900000);
    b.load[HEATER].hours = (struct hours){.count = 1, .span = {{13 * 3600, 15 * 3600, 0x7f}}};
    bench_floor(&b, bench_hours_by(1, 17 * 3600));
    bench_begin(&b, NOON);
    rules_learn(&b.settings, &b.memory, HEATER, &heat);
    b.memory.heat_tick = mono_after(b.now.mono, MS_PER_DAY);
    heat.reckoned = true;
    heat.worth_micro = 900000;
    bench_pass(&b, HOUR - MINUTE);
    ck_assert(!bench_on(&b, HEATER));
    ck_assert_int_gt(bench_until(&b, HEATER, true, 2 * MINUTE), 0);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_AHEAD);
    ck_assert(!rules_floor(&b.settings, &b.memory, HEATER, 0).met);
    bench_pass(&b, HOUR + MINUTE); /* the hour that is promised, and none of it a floor's run */
    ck_assert(rules_floor(&b.settings, &b.memory, HEATER, 0).met);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_AHEAD);
    bench_pass(&b, HOUR);
    ck_assert(!bench_on(&b, HEATER)); /* past three in the afternoon */
}
END_TEST

/* After a restart, or for a load that learns only from now on. */
START_TEST(test_an_opening_remembered_from_before_is_no_news)
{
    begin_learning();
    b.load[HEATER].metered = true;
    b.loads[HEATER].draw.view.has_opened = true;
    b.loads[HEATER].draw.view.opened_at = b.now;
    b.now.mono.ms += 8 * MS_PER_HOUR;
    b.now.wall.ms += 8 * MS_PER_HOUR;
    rules_learn(&b.settings, &b.memory, HEATER, &heat);
    bench_pass(&b, 2);
    ck_assert(!heat.known);
    ck_assert_int_lt(heat_held_percent(&b.load[HEATER].water, &heat), 60);
}
END_TEST

START_TEST(test_what_learns_no_more_is_bought_ahead_no_more)
{
    learnt_worth(320000);
    bench_pass(&b, 2);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_AHEAD);
    rules_learn_no_more(&b.settings, &b.memory, HEATER);
    ck_assert(!b.memory.learns);
    bench_pass(&b, 10 * MINUTE);
    ck_assert(!bench_on(&b, HEATER));
    ck_assert_int_eq(b.loads[HEATER].start_permille, 200); /* derived: the same price all day */
}
END_TEST

START_TEST(test_what_speaks_against_running_speaks_against_heat_ahead)
{
    learnt_worth(900000);
    bench_order(&b, bench_command(&b, COMMAND_OFF, HEATER, 10));
    bench_pass(&b, MINUTE);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_MANUAL);
    learnt_worth(900000);
    bench_order(&b, bench_command(&b, COMMAND_INHIBIT, HEATER, 0));
    bench_pass(&b, MINUTE);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_INHIBIT);
    learnt_worth(900000);
    b.settings.supply_limit_ma = 15000; /* 3450 W */
    bench_pass(&b, MINUTE);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_SUPPLY);
}
END_TEST

static void heat_until_something_of_its_size_ends(void)
{
    learnt_worth(900000);
    bench_until(&b, HEATER, true, MINUTE);
    b.rest_w = 3600; /* an oven */
    bench_pass(&b, 10 * MINUTE);
    ck_assert_int_eq(rules_draw(&b.memory, HEATER)->state, DRAW_SEEN);
}

START_TEST(test_an_oven_that_ends_is_found_out_when_the_heater_is_switched_off)
{
    heat_until_something_of_its_size_ends();
    b.rest_w = 0;
    bench_pass(&b, 5 * MINUTE);
    ck_assert(!heat.open); /* not believed yet, whatever it looked like */
    bench_order(&b, bench_command(&b, COMMAND_OFF, HEATER, 60));
    bench_pass(&b, MINUTE);
    ck_assert(!b.loads[HEATER].draw.untold);
    ck_assert(!heat.open);
}
END_TEST

START_TEST(test_a_true_opening_is_proven_when_the_heater_is_switched_off)
{
    heat_until_something_of_its_size_ends();
    b.at[HEATER].thermostat_open = true;
    bench_pass(&b, 5 * MINUTE);
    bench_order(&b, bench_command(&b, COMMAND_OFF, HEATER, 60));
    bench_pass(&b, MINUTE);
    ck_assert(heat.open);
    ck_assert(heat.known);
}
END_TEST

/* 0.3 kWh, days after it was full: less than it needs. */
START_TEST(test_a_breaker_that_trips_early_in_a_run_makes_no_full_store)
{
    learnt_worth(900000);
    bench_opened_before(&b, HEATER);
    b.loads[HEATER].draw.needs_w = 400;
    bench_until(&b, HEATER, true, MINUTE);
    bench_pass(&b, 5 * MINUTE);
    b.at[HEATER].dead = true;
    bench_pass(&b, 5 * MINUTE);
    bench_order(&b, bench_command(&b, COMMAND_OFF, HEATER, 60));
    bench_pass(&b, MINUTE);
    ck_assert(rules_draw(&b.memory, HEATER)->unexplained);
    ck_assert(!heat.open);
}
END_TEST

START_TEST(test_a_load_that_rests_is_not_found_drawing_nothing_before_a_meter_shows_it)
{
    learnt_worth(900000);
    bench_pass(&b, 2);
    bench_order(&b, bench_command(&b, COMMAND_OFF, HEATER, 60));
    bench_pass(&b, 10 * MINUTE);
    b.loads[HEATER].draw.satisfied = true;
    b.loads[HEATER].draw.retry_at = mono_after(b.now.mono, MS_PER_HOUR);
    b.meter_silent = true;
    bench_order(&b, bench_command(&b, COMMAND_ON, HEATER, 60));
    bench_pass(&b, 2 * MINUTE);
    ck_assert_int_eq(rules_draw(&b.memory, HEATER)->state, DRAW_ASSUMED);
    ck_assert(b.loads[HEATER].draw.asked); /* still */
}
END_TEST

/* Full at noon; what is worth knowing of it lets every tick say that heat is wanted. */
static void heat_for_long_after_full(void)
{
    learnt_worth(900000);
    b.memory.heat_tick = b.now.mono;
    for (int g = 0; g < HEAT_LEVELS; g++)
        for (int s = 0; s < HEAT_SLOTS; s++)
            for (int sky = 0; sky < HEAT_SKIES; sky++)
                heat.after[s][sky][g] = (HEAT_LEVELS - g) * 400000;
    heat_full(&b.load[HEATER].water, &heat);
    heat.open = false;
    heat.shift_mj -= heat_full_mj(&b.load[HEATER].water) * 3 / 4;
    bench_until(&b, HEATER, true, MINUTE);
    bench_pass(&b, 10 * MINUTE);
    ck_assert_int_eq(rules_draw(&b.memory, HEATER)->state, DRAW_SEEN);
}

START_TEST(test_an_opening_hidden_by_an_oven_is_soon_found_out)
{
    heat_for_long_after_full();
    b.rest_w = 3600; /* in the same moment */
    b.at[HEATER].thermostat_open = true;
    ck_assert_int_gt(bench_until(&b, HEATER, false, 90 * MINUTE), 0);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_WORTH);
    bench_pass(&b, MINUTE);
    ck_assert(heat.open);
    ck_assert(!b.loads[HEATER].draw.doubted);
}
END_TEST

START_TEST(test_a_store_that_takes_more_than_was_known_is_doubted_once_and_heats_on)
{
    heat_for_long_after_full();
    ck_assert_int_gt(bench_until(&b, HEATER, false, 90 * MINUTE), 0);
    bench_pass(&b, MINUTE);
    ck_assert(!heat.open);
    ck_assert_int_gt(bench_until(&b, HEATER, true, 30 * MINUTE), 0);
    bench_pass(&b, 60 * MINUTE);
    ck_assert(bench_on(&b, HEATER));
}
END_TEST

START_TEST(test_a_doubt_that_no_meter_could_settle_says_nothing)
{
    heat_for_long_after_full();
    b.meter_silent = true;
    ck_assert_int_gt(bench_until(&b, HEATER, false, 90 * MINUTE), 0);
    b.meter_silent = false;
    bench_pass(&b, MINUTE);
    ck_assert(!heat.open);
    ck_assert(!b.loads[HEATER].draw.doubted);
    ck_assert_int_gt(bench_until(&b, HEATER, true, 30 * MINUTE), 0);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_with_200_w_spare_a_3600_w_load_stays_off,
        test_enough_spare_power_starts_it_after_settling,
        test_a_gap_in_the_sun_begins_the_settling_anew,
        test_margin_is_left_unused,
        test_half_the_power_is_enough_at_a_start_fraction_of_half,
        test_start_fraction_from_tariff,
        test_a_cloud_stops_it_after_settling_once_minimum_on_is_served,
        test_an_early_cloud_lets_it_finish_minimum_on,
        test_it_stays_off_for_minimum_off,
        test_a_silent_meter_ends_a_run_on_spare_power_at_minimum_on,
        test_a_battery_that_is_not_read_means_nothing_is_spare,
        test_battery_charging_is_spare_but_for_its_reserved_share,
        test_battery_discharge_counts_as_import,
        test_per_phase_billing_looks_at_the_loads_own_phase,
        test_takeover_waits_for_the_meter,
        test_takeover_spares_a_load_within_its_minimum_on,
        test_a_short_gap_in_the_clouds_takes_no_place,
        test_loads_change_places_at_most_once_an_hour,
        test_takeover_that_gave_less_than_promised_is_not_repeated,
        test_the_last_in_order_is_the_first_to_feel_a_cloud,
        test_probe_gives_up_when_import_follows,
        test_probe_goes_on_as_spare_when_the_inverter_follows,
        test_no_more_probes_than_allowed_in_a_day,
        test_a_set_point_follows_the_spare_power,
        test_stages_follow_one_after_another,
        test_at_no_import_all_of_a_run_is_spare_and_beyond_it_the_import_is_grid,
        test_off_by_hand_tells_how_long_it_lasts_yet,
        test_heat_is_bought_ahead_once_its_worth_passes_the_price,
        test_prices_a_little_apart_do_not_switch,
        test_what_a_load_could_take_counts_its_own_draw_once,
        test_heat_bought_ahead_needs_no_reading,
        test_worth_becomes_the_start_fraction,
        test_where_export_is_credited_in_full_heat_is_bought_or_left,
        test_what_is_worth_less_than_its_feed_in_leaves_even_spare_power,
        test_a_full_store_leaves_even_spare_power,
        test_while_the_clock_is_not_set_the_fraction_is_derived,
        test_in_the_first_days_it_is_hot_whatever_it_costs,
        test_hours_bind_heat_ahead_and_a_floor_counts_it,
        test_an_opening_remembered_from_before_is_no_news,
        test_what_learns_no_more_is_bought_ahead_no_more,
        test_what_speaks_against_running_speaks_against_heat_ahead,
        test_an_oven_that_ends_is_found_out_when_the_heater_is_switched_off,
        test_a_true_opening_is_proven_when_the_heater_is_switched_off,
        test_a_breaker_that_trips_early_in_a_run_makes_no_full_store,
        test_a_load_that_rests_is_not_found_drawing_nothing_before_a_meter_shows_it,
        test_an_opening_hidden_by_an_oven_is_soon_found_out,
        test_a_doubt_that_no_meter_could_settle_says_nothing,
        test_a_store_that_takes_more_than_was_known_is_doubted_once_and_heats_on,
    };
    return bench_run_tests("rules", tests, sizeof tests / sizeof tests[0]);
}
