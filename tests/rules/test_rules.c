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
    };
    return bench_run_tests("rules", tests, sizeof tests / sizeof tests[0]);
}
