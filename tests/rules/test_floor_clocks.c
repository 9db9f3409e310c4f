/* test_floor_clocks.c - floors while the clock is not trusted, is set, or changes to summer time.
 */
#include "bench_house.h"

#include <check.h>
#include <stdlib.h>

enum { NOON = 12 * 3600, MINUTE = 60, HOUR = 3600 };

static struct bench b;

/* ---- clock ---- */

static void begin_without_a_clock(void)
{
    b.now.wall.ms = MS_PER_HOUR; /* 1970 */
    b.now.wall_trusted = false;
    bench_begin(&b, 0);
}

START_TEST(test_clock_untrusted_waives_hours_unless_strict)
{
    for (int strict = 0; strict < 2; strict++) {
        bench_make(&b, 1);
        b.load[HEATER].strict = strict;
        b.load[HEATER].hours =
            (struct hours){.count = 1, .span = {{9 * HOUR, 11 * HOUR, WEEKDAYS_ALL}}};
        b.rest_w = -4000;
        begin_without_a_clock();
        bench_pass(&b, 3 * MINUTE);
        ck_assert_int_eq(bench_on(&b, HEATER), !strict);
        if (strict)
            ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_CLOCK);
    }
}
END_TEST

START_TEST(test_clock_untrusted_keeps_floors_by_24_hours_elapsed)
{
    bench_make(&b, 1);
    bench_floor(&b, bench_hours_by(2, 17 * HOUR));
    begin_without_a_clock();
    int64_t waited = bench_until(&b, HEATER, true, 30 * HOUR);
    /* 24 h from half an hour on, less 2 h of run and the reserve */
    ck_assert_int_eq(waited, 24 * HOUR + 30 * MINUTE - 2 * HOUR - 30 * MINUTE - 1);
    bench_pass(&b, 4 * HOUR);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 1);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MISSED], 0);
}
END_TEST

START_TEST(test_clock_untrusted_counts_the_daily_maximum_in_a_floors_time)
{
    bench_make(&b, 1);
    bench_floor(&b, bench_hours_by(4, 17 * HOUR));
    b.load[HEATER].daily_max_ms = 5 * MS_PER_HOUR;
    begin_without_a_clock();
    /* 5 h of the first 24 h and half an hour of the next are less than 24 h of open time */
    bench_pass(&b, 30 * HOUR);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 1);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MISSED], 0);
}
END_TEST

START_TEST(test_clock_step_over_a_deadline_does_not_lose_the_floor)
{
    bench_make(&b, 1);
    bench_floor(&b, bench_hours_by(2, 17 * HOUR));
    bench_begin(&b, NOON);
    b.now.wall.ms += 6 * (int64_t)MS_PER_HOUR;
    bench_pass(&b, 1);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MISSED], 0);
    ck_assert(bench_on(&b, HEATER)); /* due now */
    bench_pass(&b, 2 * HOUR + MINUTE);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 1);
}
END_TEST

START_TEST(test_clock_step_back_does_not_repeat_a_floor)
{
    bench_make(&b, 1);
    bench_floor(&b, bench_hours_by(2, 17 * HOUR));
    bench_begin(&b, NOON);
    bench_pass(&b, 6 * HOUR);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 1);
    b.now.wall.ms -= 3 * (int64_t)MS_PER_HOUR;
    bench_pass(&b, 3 * HOUR);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 1);
    ck_assert(!bench_on(&b, HEATER));
}
END_TEST

START_TEST(test_a_run_without_evidence_stays_without_it_when_the_clock_steps_back)
{
    bench_make(&b, 1);
    bench_floor(&b, bench_hours_by(2, 17 * HOUR));
    bench_begin(&b, NOON);
    b.meter_silent = true;
    b.now.wall.ms += 6 * (int64_t)MS_PER_HOUR;
    bench_pass(&b, 2 * HOUR + MINUTE); /* over the deadline, which waits for the run */
    ck_assert_int_eq(b.events[EVENT_FLOOR_UNPROVEN], 1);
    b.now.wall.ms -= 6 * (int64_t)MS_PER_HOUR;
    bench_pass(&b, MINUTE);
    struct floor_view view = rules_floor(&b.settings, &b.memory, HEATER, 0);
    ck_assert(view.met && view.blind);
}
END_TEST

START_TEST(test_a_floor_that_has_yet_to_be_met_is_not_told_as_run_without_evidence)
{
    bench_make(&b, 1);
    bench_floor(&b, bench_hours_by(2, 17 * HOUR));
    bench_begin(&b, NOON);
    b.meter_silent = true;
    bench_pass(&b, 4 * HOUR + 50 * MINUTE);
    ck_assert(rules_floor(&b.settings, &b.memory, HEATER, 0).blind);
    struct load_settings before = b.load[HEATER];
    b.load[HEATER].floor[0].amount += MS_PER_HOUR;
    rules_load_migrate(&b.settings, &b.memory, HEATER, &before, b.now, NULL);
    bench_pass(&b, 2);
    struct floor_view view = rules_floor(&b.settings, &b.memory, HEATER, 0);
    ck_assert(!view.met && !view.blind);
}
END_TEST

/* Sydney's rule; on 4 October 2026 02:00 becomes 03:00. */
static void sydney_before_the_change(struct floor_settings floor)
{
    struct trouble trouble;
    bench_make(&b, 1);
    ck_assert(zone_parse("AEST-10AEDT,M10.1.0,M4.1.0/3", &b.settings.zone, &trouble));
    bench_floor(&b, floor);
    bench_begin(&b, 0);
    struct wall midnight =
        wall_of_local(&b.settings.zone, days_of_date((struct date){2026, 10, 4}), 0);
    b.now.wall.ms = midnight.ms - 2 * (int64_t)MS_PER_HOUR;
    rules_begin(&b.settings, &b.memory, b.loads, b.now, 1);
    b.loads[HEATER].health = OUTPUT_CONFIRMED;
    b.loads[HEATER].confirmed_once = true;
    b.loads[HEATER].since.ms -= MS_PER_DAY;
    memset(b.events, 0, sizeof b.events);
}

START_TEST(test_dst_in_spring_leaves_an_hour_less_before_the_deadline)
{
    sydney_before_the_change(bench_hours_by(2, 6 * HOUR));
    int64_t waited = bench_until(&b, HEATER, true, 10 * HOUR);
    /* 22:00 to 06:00 are seven hours in this night */
    ck_assert_int_eq(waited, 7 * HOUR - 2 * HOUR - 30 * MINUTE);
}
END_TEST

START_TEST(test_dst_a_deadline_that_does_not_exist_is_the_moment_of_the_change)
{
    sydney_before_the_change(bench_hours_by(1, 2 * HOUR + 30 * MINUTE));
    int64_t waited = bench_until(&b, HEATER, true, 10 * HOUR);
    ck_assert_int_eq(waited, 4 * HOUR - HOUR - 30 * MINUTE);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_clock_untrusted_waives_hours_unless_strict,
        test_clock_untrusted_keeps_floors_by_24_hours_elapsed,
        test_clock_untrusted_counts_the_daily_maximum_in_a_floors_time,
        test_clock_step_over_a_deadline_does_not_lose_the_floor,
        test_clock_step_back_does_not_repeat_a_floor,
        test_a_run_without_evidence_stays_without_it_when_the_clock_steps_back,
        test_a_floor_that_has_yet_to_be_met_is_not_told_as_run_without_evidence,
        test_dst_in_spring_leaves_an_hour_less_before_the_deadline,
        test_dst_a_deadline_that_does_not_exist_is_the_moment_of_the_change,
    };
    return bench_run_tests("floor_clocks", tests, sizeof tests / sizeof tests[0]);
}
