/* test_limits.c - what keeps a load off: hours, outputs, the supply. */
#include "bench_house.h"

#include <check.h>
#include <stdlib.h>

enum { NOON = 12 * 3600, MINUTE = 60, HOUR = 3600 };

static struct bench b;

/* ---- hours, maxima, starts ---- */

START_TEST(test_it_does_not_start_with_less_than_minimum_on_left_in_its_hours)
{
    bench_make(&b, 1);
    b.load[HEATER].hours =
        (struct hours){.count = 1, .span = {{9 * HOUR, NOON + 6 * MINUTE, WEEKDAYS_ALL}}};
    bench_begin(&b, NOON);
    b.rest_w = -4000; /* settled at 12:02, with 4 min left of 5 */
    ck_assert_int_eq(bench_until(&b, HEATER, true, HOUR), -1);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_HOURS);
}
END_TEST

START_TEST(test_it_stops_when_its_hours_close)
{
    bench_make(&b, 1);
    b.load[HEATER].hours =
        (struct hours){.count = 1, .span = {{9 * HOUR, 13 * HOUR, WEEKDAYS_ALL}}};
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    bench_until(&b, HEATER, true, HOUR);
    bench_until(&b, HEATER, false, 2 * HOUR);
    ck_assert_int_eq(bench_local(&b).second, 13 * HOUR);
}
END_TEST

START_TEST(test_daily_maximum_is_not_passed)
{
    bench_make(&b, 1);
    b.load[HEATER].daily_max_ms = 30 * MS_PER_MIN;
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    bench_until(&b, HEATER, true, HOUR);
    ck_assert_int_eq(bench_until(&b, HEATER, false, HOUR), 30 * MINUTE);
    ck_assert_int_eq(bench_until(&b, HEATER, true, 11 * HOUR), -1);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_DAILY_MAXIMUM);
    ck_assert_int_gt(bench_until(&b, HEATER, true, 2 * HOUR), 0); /* a new day */
}
END_TEST

START_TEST(test_quiet_hours_keep_what_can_wait)
{
    bench_make(&b, 1);
    b.settings.quiet = (struct hours){.count = 1, .span = {{NOON, 13 * HOUR, WEEKDAYS_ALL}}};
    bench_floor(&b, bench_hours_by(2, 15 * HOUR));
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    bench_until(&b, HEATER, true, 2 * HOUR);
    ck_assert_int_eq(bench_local(&b).second, 12 * HOUR + 30 * MINUTE); /* the floor can't */
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_FLOOR);
}
END_TEST

START_TEST(test_starts_per_hour_are_kept)
{
    bench_make(&b, 1);
    b.load[HEATER].starts_per_hour = 2;
    b.load[HEATER].min_on_ms = b.load[HEATER].min_off_ms = 0;
    b.load[HEATER].settle_start_ms = b.load[HEATER].settle_stop_ms = 0;
    bench_begin(&b, NOON);
    int starts = 0;
    for (int s = 0; s < HOUR - 2 * MINUTE; s += MINUTE) {
        bool was_on = bench_on(&b, HEATER);
        b.rest_w = b.rest_w < 0 ? 500 : -4000;
        bench_pass(&b, MINUTE);
        starts += !was_on && bench_on(&b, HEATER);
    }
    ck_assert_int_eq(starts, 2);
}
END_TEST

/* ---- outputs ---- */

START_TEST(test_an_output_that_never_answered_is_not_started)
{
    bench_make(&b, 1);
    b.rest_w = -4000;
    bench_begin_cold(&b, NOON);
    bench_pass(&b, HOUR);
    ck_assert(!bench_on(&b, HEATER));
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_OUTPUT);
}
END_TEST

START_TEST(test_a_brief_silence_of_the_output_stops_no_run_but_allows_no_start)
{
    bench_make(&b, 2);
    bench_begin(&b, NOON);
    bench_order(&b, bench_command(&b, COMMAND_ON, HEATER, 60));
    bench_pass(&b, MINUTE);
    bench_find(&b, HEATER, OUTPUT_UNCONFIRMED, 3600);
    bench_pass(&b, 1);
    bench_find(&b, PUMP, OUTPUT_UNCONFIRMED, 0);
    bench_order(&b, bench_command(&b, COMMAND_ON, PUMP, 60));
    bench_pass(&b, 50);
    ck_assert(bench_on(&b, HEATER));
    ck_assert(!bench_on(&b, PUMP));
    ck_assert_int_eq(bench_reason(&b, PUMP), REASON_OFF_OUTPUT);
    bench_order(&b, bench_command(&b, COMMAND_INHIBIT, HEATER, 0)); /* is ordered all the same */
    bench_pass(&b, 1);
    ck_assert(!bench_on(&b, HEATER));
}
END_TEST

START_TEST(test_a_load_that_another_hand_switched_off_starts_its_minimum_off)
{
    bench_make(&b, 1);
    bench_begin(&b, NOON);
    bench_order(&b, bench_command(&b, COMMAND_ON, HEATER, 60));
    bench_pass(&b, 10 * MINUTE);
    bench_find(&b, HEATER, OUTPUT_CONFIRMED, 0);
    bench_pass(&b, 1);
    ck_assert(!bench_on(&b, HEATER));
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_MINIMUM_OFF);
    ck_assert_int_eq(b.events[EVENT_FOUND_OFF], 1);
    ck_assert_int_eq(bench_until(&b, HEATER, true, HOUR), 5 * MINUTE);
    ck_assert_int_eq(b.loads[HEATER].today.starts, 2);
}
END_TEST

START_TEST(test_a_load_that_another_hand_switched_on_is_ordered_off_at_once_and_rests)
{
    bench_make(&b, 1);
    bench_begin(&b, NOON);
    bench_find(&b, HEATER, OUTPUT_CONFIRMED, 3600);
    bench_pass(&b, 1);
    ck_assert(!bench_on(&b, HEATER));
    ck_assert_int_eq(b.events[EVENT_FOUND_ON], 1);
    bench_pass(&b, 3);
    ck_assert(!b.at[HEATER].is_on);
    bench_order(&b, bench_command(&b, COMMAND_ON, HEATER, 60));
    ck_assert_int_ge(bench_until(&b, HEATER, true, HOUR), 5 * MINUTE - 3);
    ck_assert_int_eq(b.events[EVENT_FOUND_ON], 1);
}
END_TEST

START_TEST(test_starting_lasts_until_the_output_confirms)
{
    bench_make(&b, 1);
    b.at[HEATER].answer_s = 30;
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    bench_until(&b, HEATER, true, HOUR);
    bench_pass(&b, 29);
    ck_assert_int_eq(b.loads[HEATER].state, STATE_STARTING);
    bench_pass(&b, 1);
    ck_assert_int_eq(b.loads[HEATER].state, STATE_ON);
}
END_TEST

/* ---- supply and groups ---- */

START_TEST(test_a_start_that_would_pass_the_supply_waits)
{
    bench_make(&b, 1);
    b.settings.supply_limit_ma = 25000;
    b.rest_w = 2200; /* 9.6 A, and 15.7 A more would be 25.2 A */
    bench_begin(&b, NOON);
    bench_order(&b, bench_command(&b, COMMAND_ON, HEATER, 60));
    ck_assert(!bench_on(&b, HEATER));
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_SUPPLY);
    b.rest_w = 2000;
    bench_pass(&b, 1);
    ck_assert(bench_on(&b, HEATER));
}
END_TEST

START_TEST(test_a_passed_supply_sheds_the_last_in_order_at_once)
{
    bench_make(&b, 2);
    b.load[PUMP].min_off_ms = 0;
    b.settings.supply_limit_ma = 40000;
    bench_begin(&b, NOON);
    bench_order(&b, bench_command(&b, COMMAND_ON, HEATER, 60));
    bench_order(&b, bench_command(&b, COMMAND_ON, PUMP, 60));
    bench_pass(&b, MINUTE);
    ck_assert(bench_on(&b, HEATER) && bench_on(&b, PUMP));
    b.rest_w = 3000; /* somebody lights the oven: 44 A */
    bench_pass(&b, 1);
    ck_assert(bench_on(&b, HEATER));
    ck_assert(!bench_on(&b, PUMP));
    ck_assert_int_eq(b.events[EVENT_SHED], 1);
    b.rest_w = 0;
    ck_assert_int_ge(bench_until(&b, PUMP, true, HOUR), 5 * MINUTE);
}
END_TEST

START_TEST(test_a_passed_supply_lowers_a_set_point_before_it_sheds)
{
    bench_make(&b, 1);
    b.load[HEATER].kind = LOAD_SETPOINT;
    b.load[HEATER].least_w = 600;
    b.load[HEATER].step_w = 100;
    b.settings.supply_limit_ma = 20000; /* 4600 W */
    bench_begin(&b, NOON);
    bench_order(&b, bench_command(&b, COMMAND_ON, HEATER, 60));
    bench_pass(&b, MINUTE);
    ck_assert_int_eq(b.decision[HEATER].level_w, 3600);
    b.rest_w = 2000; /* 5600 W */
    bench_pass(&b, 1);
    ck_assert(bench_on(&b, HEATER));
    ck_assert_int_eq(b.decision[HEATER].level_w, 2600);
}
END_TEST

START_TEST(test_one_at_a_time_means_one)
{
    bench_make(&b, 2);
    b.settings.group_count = 1;
    b.settings.group[0].one_at_a_time = true;
    b.load[HEATER].group = b.load[PUMP].group = 0;
    b.rest_w = -9000;
    bench_begin(&b, NOON);
    bench_pass(&b, HOUR);
    ck_assert(bench_on(&b, HEATER));
    ck_assert(!bench_on(&b, PUMP));
    ck_assert_int_eq(bench_reason(&b, PUMP), REASON_OFF_GROUP);
}
END_TEST

START_TEST(test_an_inhibited_load_does_not_claim_its_group)
{
    bench_make(&b, 2);
    b.settings.group_count = 1;
    b.settings.group[0].one_at_a_time = true;
    b.load[HEATER].group = b.load[PUMP].group = 0;
    b.load[HEATER].uses_spare = false;
    bench_floor(&b, bench_hours_by(2, 13 * HOUR)); /* due at once */
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    bench_order(&b, bench_command(&b, COMMAND_INHIBIT, HEATER, 0));
    ck_assert(bench_until(&b, PUMP, true, HOUR) > 0);
    bench_pass(&b, 10 * MINUTE);
    ck_assert_int_eq(bench_basis(&b, PUMP), BASIS_SPARE);
}
END_TEST

START_TEST(test_two_set_points_do_not_take_the_same_headroom)
{
    bench_make(&b, 2);
    b.settings.supply_limit_ma = 20000; /* 4600 W */
    for (int i = 0; i < 2; i++) {
        b.load[i].kind = LOAD_SETPOINT;
        b.load[i].least_w = 600;
        b.load[i].step_w = 100;
    }
    bench_begin(&b, NOON);
    bench_order(&b, bench_command(&b, COMMAND_ON, HEATER, 60));
    bench_order(&b, bench_command(&b, COMMAND_ON, PUMP, 60));
    for (int s = 0; s < 5 * MINUTE; s++) {
        bench_pass(&b, 1);
        ck_assert_int_le(b.decision[HEATER].level_w + b.decision[PUMP].level_w, 4600);
    }
    ck_assert_int_eq(b.events[EVENT_SHED], 0);
}
END_TEST

START_TEST(test_loads_start_one_after_another)
{
    bench_make(&b, 2);
    b.settings.start_gap_ms = 30 * MS_PER_S;
    b.rest_w = -9000;
    bench_begin(&b, NOON);
    ck_assert_int_eq(bench_until(&b, HEATER, true, HOUR), 2 * MINUTE);
    ck_assert_int_eq(bench_until(&b, PUMP, true, HOUR), 30);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_it_does_not_start_with_less_than_minimum_on_left_in_its_hours,
        test_it_stops_when_its_hours_close,
        test_daily_maximum_is_not_passed,
        test_quiet_hours_keep_what_can_wait,
        test_starts_per_hour_are_kept,
        test_an_output_that_never_answered_is_not_started,
        test_a_brief_silence_of_the_output_stops_no_run_but_allows_no_start,
        test_a_load_that_another_hand_switched_off_starts_its_minimum_off,
        test_a_load_that_another_hand_switched_on_is_ordered_off_at_once_and_rests,
        test_starting_lasts_until_the_output_confirms,
        test_a_start_that_would_pass_the_supply_waits,
        test_a_passed_supply_sheds_the_last_in_order_at_once,
        test_a_passed_supply_lowers_a_set_point_before_it_sheds,
        test_one_at_a_time_means_one,
        test_an_inhibited_load_does_not_claim_its_group,
        test_two_set_points_do_not_take_the_same_headroom,
        test_loads_start_one_after_another,
    };
    return bench_run_tests("limits", tests, sizeof tests / sizeof tests[0]);
}
