/* test_floors.c - floors: when they start, what meets them, and how no restart loses or
 * repeats one. */
#include "bench_house.h"

#include <check.h>
#include <stdlib.h>
#include <string.h>

enum { NOON = 12 * 3600, MINUTE = 60, HOUR = 3600 };

static struct bench b;

/* ---- floors ---- */

START_TEST(test_floor_starts_at_latest_safe_start)
{
    bench_make(&b, 1);
    bench_floor(&b, bench_hours_by(2, 17 * HOUR));
    bench_begin(&b, NOON);
    bench_until(&b, HEATER, true, 8 * HOUR);
    /* 17:00 less 2 h of run and 30 min of reserve */
    ck_assert_int_eq(bench_local(&b).second, 14 * HOUR + 30 * MINUTE);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_FLOOR);
    bench_until(&b, HEATER, false, 8 * HOUR);
    ck_assert_int_le(bench_local(&b).second, 16 * HOUR + 31 * MINUTE);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 1);
}
END_TEST

START_TEST(test_floor_needs_no_meter)
{
    bench_make(&b, 1);
    bench_floor(&b, bench_hours_by(2, 17 * HOUR));
    b.meter_silent = true;
    bench_begin(&b, NOON);
    bench_pass(&b, 6 * HOUR);
    ck_assert_int_eq(b.events[EVENT_FLOOR_UNPROVEN], 1); /* run; whether it drew is not known */
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 0);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MISSED], 0);
}
END_TEST

START_TEST(test_spare_power_counts_towards_the_floor)
{
    bench_make(&b, 1);
    bench_floor(&b, bench_hours_by(2, 17 * HOUR));
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    bench_pass(&b, 90 * MINUTE);
    b.rest_w = 500;
    bench_until(&b, HEATER, false, HOUR);
    bench_until(&b, HEATER, true, 8 * HOUR);
    ck_assert_int_gt(bench_local(&b).second, 15 * HOUR + 55 * MINUTE);
}
END_TEST

START_TEST(test_an_open_thermostat_meets_the_floor)
{
    bench_make(&b, 1);
    b.load[HEATER].thermostat = true;
    bench_floor(&b, bench_hours_by(2, 17 * HOUR));
    bench_begin(&b, NOON);
    bench_opened_before(&b, HEATER);
    bench_until(&b, HEATER, true, 8 * HOUR);
    bench_pass(&b, 20 * MINUTE);
    b.at[HEATER].thermostat_open = true;
    bench_pass(&b, 5 * MINUTE);
    ck_assert(!bench_on(&b, HEATER));
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 1);
}
END_TEST

/* It counts from 12 h before the deadline: no turn may be held beyond that. */
START_TEST(test_a_thermostat_open_since_long_meets_the_floor_at_a_moment_that_is_told)
{
    bench_make(&b, 1);
    b.load[HEATER].thermostat = true;
    bench_floor(&b, bench_hours_by(2, 17 * HOUR));
    bench_begin(&b, 5 * HOUR - 10 * MINUTE);
    b.loads[HEATER].draw.satisfied = true;
    b.loads[HEATER].draw.retry_at = mono_after(b.now.mono, 2 * MS_PER_HOUR);
    bench_pass(&b, 5 * MINUTE);
    ck_assert(!b.loads[HEATER].floor[0].met);
    int64_t left_ms = 5 * MS_PER_HOUR - (int64_t)bench_local(&b).second * MS_PER_S;
    ck_assert_int_eq(b.outcome.holds_until.ms - b.now.mono.ms, left_ms);
    bench_pass(&b, left_ms / MS_PER_S);
    ck_assert(b.loads[HEATER].floor[0].met);
}
END_TEST

START_TEST(test_floor_until_satisfied_is_not_met_by_time_alone)
{
    bench_make(&b, 1);
    b.load[HEATER].thermostat = true;
    struct floor_settings floor = bench_hours_by(2, 17 * HOUR);
    floor.measure = FLOOR_SATISFIED;
    bench_floor(&b, floor);
    bench_begin(&b, NOON);
    bench_pass(&b, 4 * HOUR + 50 * MINUTE);
    ck_assert(bench_on(&b, HEATER));
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 0);
    b.at[HEATER].thermostat_open = true;
    bench_pass(&b, MINUTE);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 0); /* it may be a cloud */
    bench_pass(&b, 2 * MINUTE);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 1);
}
END_TEST

START_TEST(test_energy_floor_counts_what_the_meter_shows)
{
    bench_make(&b, 1);
    struct floor_settings floor = bench_hours_by(0, 17 * HOUR);
    floor.measure = FLOOR_ENERGY;
    floor.amount = 3600 * 1000; /* 3.6 kWh: an hour by the nameplate */
    bench_floor(&b, floor);
    b.at[HEATER].draw_w = 3000; /* but 72 minutes in truth */
    bench_begin(&b, NOON);
    int64_t began = NOON + bench_until(&b, HEATER, true, 8 * HOUR);
    int64_t ran = bench_until(&b, HEATER, false, 8 * HOUR);
    ck_assert_int_ge(began, 15 * HOUR);
    ck_assert_int_ge(ran, 72 * MINUTE);
    ck_assert_int_le(ran, 73 * MINUTE);
}
END_TEST

/* Of 3.6 kW in steps of 2 kW no more than 2 kW is ever drawn. */
START_TEST(test_energy_floor_of_a_set_point_goes_by_the_highest_step_that_it_can_take)
{
    bench_make(&b, 1);
    b.load[HEATER].kind = LOAD_SETPOINT;
    b.load[HEATER].least_w = 1400;
    b.load[HEATER].step_w = 2000;
    b.load[HEATER].metered = b.own_meters = true;
    struct floor_settings floor = bench_hours_by(0, 17 * HOUR);
    floor.measure = FLOOR_ENERGY;
    floor.amount = 6000 * 1000; /* 6 kWh: three hours */
    bench_floor(&b, floor);
    bench_begin(&b, NOON);
    bench_until(&b, HEATER, true, 8 * HOUR);
    ck_assert_int_eq(bench_local(&b).second, 13 * HOUR + 30 * MINUTE);
    bench_until(&b, HEATER, false, 8 * HOUR);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 1);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MISSED], 0);
}
END_TEST

START_TEST(test_floor_is_bought_in_its_cheapest_hours)
{
    bench_make(&b, 1);
    struct floor_settings floor = bench_hours_by(2, 17 * HOUR);
    floor.grid = FLOOR_IN_CHEAPEST_HOURS;
    bench_floor(&b, floor);
    b.settings.tariff = (struct tariff){
        .count = 2,
        .band = {{.price_micro = 350000},
                 {.price_micro = 100000,
                  .hours = {.count = 1, .span = {{10 * HOUR, 13 * HOUR, WEEKDAYS_ALL}}}}},
    };
    bench_begin(&b, 8 * HOUR);
    bench_until(&b, HEATER, true, 9 * HOUR);
    ck_assert_int_eq(bench_local(&b).second, 10 * HOUR + 30 * MINUTE);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_CHEAP_HOURS);
}
END_TEST

/* What people are told is when the engine in truth begins, to the minute. */
START_TEST(test_a_start_that_is_told_beforehand_counts_open_hours_only)
{
    bench_make(&b, 1);
    b.load[HEATER].hours =
        (struct hours){.count = 1, .span = {{10 * HOUR, 17 * HOUR, WEEKDAYS_ALL}}};
    bench_floor(&b, bench_hours_by(3, 17 * HOUR));
    bench_begin(&b, 6 * HOUR);
    struct floor_view view = rules_floor(&b.settings, &b.memory, HEATER, 0);
    struct local told = local_of_wall(&b.settings.zone, (struct wall){view.latest_start_ms});
    ck_assert_int_eq(told.second, 13 * HOUR + 30 * MINUTE);
    bench_until(&b, HEATER, true, 12 * HOUR);
    ck_assert_int_eq(bench_local(&b).second / MINUTE, told.second / MINUTE);
}
END_TEST

START_TEST(test_a_start_that_is_told_across_a_closed_night_lies_in_open_hours)
{
    bench_make(&b, 1);
    b.load[HEATER].hours = (struct hours){
        .count = 2,
        .span = {{18 * HOUR, 20 * HOUR, WEEKDAYS_ALL}, {5 * HOUR, 7 * HOUR, WEEKDAYS_ALL}}};
    bench_floor(&b, bench_hours_by(3, 7 * HOUR)); /* of four hours' night, half an hour kept free */
    bench_begin(&b, NOON);
    struct floor_view view = rules_floor(&b.settings, &b.memory, HEATER, 0);
    struct local told = local_of_wall(&b.settings.zone, (struct wall){view.latest_start_ms});
    ck_assert_int_eq(told.second / MINUTE, (18 * HOUR + 30 * MINUTE) / MINUTE);
    bench_until(&b, HEATER, true, 24 * HOUR);
    ck_assert_int_eq(bench_local(&b).second / MINUTE, told.second / MINUTE);
}
END_TEST

START_TEST(test_a_due_floor_waits_for_no_more_than_its_rest)
{
    bench_make(&b, 1);
    b.load[HEATER].min_off_ms = 20 * MS_PER_MIN;
    bench_floor(&b, bench_hours_by(2, 17 * HOUR));
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    bench_pass(&b, 5 * MINUTE);
    b.rest_w = 500;
    bench_until(&b, HEATER, false, HOUR);
    bench_pass(&b, 5 * HOUR);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MISSED], 0);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 1);
}
END_TEST

START_TEST(test_an_element_stronger_than_its_nameplate_runs_through_to_the_end)
{
    bench_make(&b, 1);
    b.load[HEATER].kind = LOAD_STAGED;
    b.load[HEATER].stages = 1;
    b.load[HEATER].stage_w[0] = 3600;
    b.load[HEATER].metered = true;
    struct floor_settings floor = bench_hours_by(0, 17 * HOUR);
    floor.measure = FLOOR_ENERGY;
    floor.amount = 7200 * 1000;
    bench_floor(&b, floor);
    b.at[HEATER].draw_w = 4000;
    bench_begin(&b, NOON);
    ck_assert_int_gt(bench_until(&b, HEATER, true, 8 * HOUR), 0);
    /* 7.2 kWh at 4 kW are 108 min, in one go */
    ck_assert_int_ge(bench_until(&b, HEATER, false, 8 * HOUR), 108 * MINUTE);
}
END_TEST

START_TEST(test_an_appliance_of_its_size_does_not_stop_the_count_of_a_load_without_thermostat)
{
    bench_make(&b, 1);
    bench_floor(&b, bench_hours_by(2, 17 * HOUR));
    b.rest_w = 4000;
    bench_begin(&b, NOON);
    bench_until(&b, HEATER, true, 8 * HOUR);
    bench_pass(&b, 20 * MINUTE);
    b.rest_w = 400; /* the oven of 3.6 kW goes off */
    bench_pass(&b, 4 * HOUR);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 1);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MISSED], 0);
}
END_TEST

START_TEST(test_starts_per_hour_count_as_a_rest_before_the_latest_start)
{
    bench_make(&b, 1);
    b.load[HEATER].starts_per_hour = 1;
    b.load[HEATER].settle_start_ms = b.load[HEATER].min_on_ms = b.load[HEATER].min_off_ms = 0;
    bench_floor(&b, bench_hours_by(2, 17 * HOUR));
    bench_begin(&b, 14 * HOUR + 15 * MINUTE);
    b.rest_w = -4000;
    bench_pass(&b, 5 * MINUTE);
    b.rest_w = 500; /* a stop now would last an hour, to 15:15: too long */
    bench_pass(&b, 3 * HOUR);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 1);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MISSED], 0);
}
END_TEST

START_TEST(test_a_missed_floor_tells_what_denied_it)
{
    bench_make(&b, 1);
    bench_floor(&b, bench_hours_by(2, 17 * HOUR));
    bench_begin(&b, NOON);
    bench_order(&b, bench_command(&b, COMMAND_INHIBIT, HEATER, 0));
    int64_t denied_ms = -1;
    for (int s = 0; s < 6 * HOUR && denied_ms < 0; s++) {
        bench_pass(&b, 1);
        for (int e = 0; e < b.outcome.event_count; e++)
            if (b.outcome.event[e].kind == EVENT_FLOOR_MISSED)
                denied_ms = b.outcome.event[e].denied_ms[DENIED_ORDER];
    }
    ck_assert_int_eq(denied_ms, 150 * (int64_t)MS_PER_MIN); /* from 14:30 on */
}
END_TEST

START_TEST(test_floor_once_in_three_days_begins_anew_when_met)
{
    bench_make(&b, 1);
    struct floor_settings floor = bench_hours_by(1, 17 * HOUR);
    floor.every_days = 3;
    bench_floor(&b, floor);
    bench_begin(&b, NOON);
    ck_assert_int_gt(bench_until(&b, HEATER, true, 4 * 24 * HOUR), 0);
    ck_assert_int_eq(bench_local(&b).day, days_of_date((struct date){2026, 6, 4}));
    bench_until(&b, HEATER, false, 4 * HOUR);
    bench_until(&b, HEATER, true, 4 * 24 * HOUR);
    ck_assert_int_eq(bench_local(&b).day, days_of_date((struct date){2026, 6, 7}));
}
END_TEST

/* Heated three hours each day, and never through: the heat of those days has been used. */
START_TEST(test_a_weekly_heating_through_begins_in_time_whatever_was_heated_before)
{
    bench_make(&b, 1);
    b.load[HEATER].thermostat = true;
    bench_floor(&b, bench_hours_by(3, 17 * HOUR));
    struct floor_settings weekly = bench_hours_by(5, 17 * HOUR);
    weekly.measure = FLOOR_SATISFIED;
    weekly.every_days = 7;
    b.load[HEATER].floor[1] = weekly;
    b.load[HEATER].floor_count = 2;
    bench_begin(&b, NOON);
    for (int day = 0; day < 7; day++) {
        bench_until(&b, HEATER, true, 24 * HOUR);
        ck_assert_int_ge(bench_until(&b, HEATER, false, 4 * HOUR), 3 * HOUR - 60);
    }
    bench_until(&b, HEATER, true, 24 * HOUR);
    ck_assert_int_le(bench_local(&b).second, 12 * HOUR);
    ck_assert_int_ge(bench_local(&b).second, 11 * HOUR);
    bench_pass(&b, 4 * HOUR + 30 * MINUTE);
    ck_assert(bench_on(&b, HEATER));
    b.at[HEATER].thermostat_open = true;
    ck_assert_int_gt(bench_until(&b, HEATER, false, 10 * MINUTE), 0);
    bench_pass(&b, 15); /* switching off leaves no step: it is proven */
    ck_assert(rules_floor(&b.settings, &b.memory, HEATER, 1).deadline_ms - b.now.wall.ms >
              6 * (int64_t)MS_PER_DAY);
}
END_TEST

/* ---- satisfied ---- */

START_TEST(test_a_satisfied_load_is_off_and_tried_again_later)
{
    bench_make(&b, 1);
    b.load[HEATER].thermostat = true;
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    bench_opened_before(&b, HEATER);
    bench_until(&b, HEATER, true, HOUR);
    bench_pass(&b, 20 * MINUTE);
    b.at[HEATER].thermostat_open = true;
    ck_assert_int_le(bench_until(&b, HEATER, false, HOUR), 2 * MINUTE + 5);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_SUPPOSED);
    bench_pass(&b, 15);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_SATISFIED);
    int64_t waited = bench_until(&b, HEATER, true, 2 * HOUR);
    ck_assert_int_ge(waited, HOUR);
    ck_assert_int_le(waited, HOUR + 3 * MINUTE);
}
END_TEST

/* ---- settings ---- */

START_TEST(test_a_floor_that_does_not_fit_its_hours_is_refused)
{
    struct trouble trouble;
    bench_make(&b, 1);
    bench_floor(&b, bench_hours_by(4, 17 * HOUR));
    rules_order(b.load, 1, b.order);
    ck_assert(rules_settings_check(&b.settings, &trouble));
    b.load[HEATER].hours =
        (struct hours){.count = 1, .span = {{10 * HOUR, 14 * HOUR, WEEKDAYS_ALL}}};
    ck_assert(!rules_settings_check(&b.settings, &trouble));
    ck_assert_str_eq(trouble.place, "0.0");
}
END_TEST

START_TEST(test_a_daily_floor_of_more_than_the_daily_maximum_is_refused)
{
    struct trouble trouble;
    bench_make(&b, 1);
    bench_floor(&b, bench_hours_by(4, 13 * HOUR));
    b.load[HEATER].daily_max_ms = 4 * MS_PER_HOUR - 1;
    rules_order(b.load, 1, b.order);
    ck_assert(!rules_settings_check(&b.settings, &trouble));
    b.load[HEATER].daily_max_ms++;
    ck_assert(rules_settings_check(&b.settings, &trouble));
}
END_TEST

START_TEST(test_a_floor_once_in_two_days_needs_hours_whichever_day_it_begins)
{
    struct trouble trouble;
    bench_make(&b, 1);
    struct floor_settings floor = bench_hours_by(2, 17 * HOUR);
    floor.every_days = 2;
    bench_floor(&b, floor);
    rules_order(b.load, 1, b.order);
    uint8_t weekdays = WEEKDAYS_ALL & ~(1U << THURSDAY | 1U << FRIDAY);
    b.load[HEATER].hours = (struct hours){.count = 1, .span = {{9 * HOUR, 16 * HOUR, weekdays}}};
    ck_assert(!rules_settings_check(&b.settings, &trouble));
    b.load[HEATER].hours.span[0].weekdays = WEEKDAYS_ALL;
    ck_assert(rules_settings_check(&b.settings, &trouble));
}
END_TEST

START_TEST(test_equal_priorities_keep_the_order_of_the_settings)
{
    bench_make(&b, 3);
    b.load[0].priority = 2;
    b.load[1].priority = 1;
    b.load[2].priority = 2;
    rules_order(b.load, 3, b.order);
    ck_assert_int_eq(b.order[0], 1);
    ck_assert_int_eq(b.order[1], 0);
    ck_assert_int_eq(b.order[2], 2);
}
END_TEST

/* ---- restart ---- */

static void restart_after(int64_t away_ms, bool *was_on)
{
    static char text[4096], site[1024];
    struct text into = text_in(text, sizeof text);
    rules_load_save(&b.settings, &b.memory, HEATER, &into);
    into = text_in(site, sizeof site);
    rules_site_save(&b.memory, &into);
    b.now.mono.ms = 60 * MS_PER_S; /* the machine has been off: mono begins again */
    b.now.wall.ms += away_ms;
    rules_begin(&b.settings, &b.memory, b.loads, b.now, 1);
    ck_assert(rules_site_restore(&b.memory, site, NULL));
    ck_assert(
        rules_load_restore(&b.settings, &b.memory, HEATER, text, b.now, away_ms, was_on, NULL));
}

START_TEST(test_restart_keeps_what_was_done_for_a_floor)
{
    bool was_on = false;
    bench_make(&b, 1);
    bench_floor(&b, bench_hours_by(2, 17 * HOUR));
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    bench_pass(&b, 62 * MINUTE + 10);
    struct load_totals before = b.loads[HEATER].total;
    int64_t done = b.loads[HEATER].floor[0].done;
    restart_after(10 * MS_PER_MIN, &was_on);
    ck_assert(was_on);
    ck_assert_int_eq(b.loads[HEATER].floor[0].done, done);
    ck_assert_mem_eq(&b.loads[HEATER].total, &before, sizeof before);
    b.rest_w = 500;
    bench_pass(&b, 5);
    ck_assert_int_eq(b.loads[HEATER].floor[0].done, done); /* lost time counts nothing */
    ck_assert_int_eq(b.events[EVENT_FLOOR_MISSED], 0);
}
END_TEST

START_TEST(test_lost_time_counts_fully_towards_the_daily_maximum)
{
    bool was_on = false;
    bench_make(&b, 1);
    b.load[HEATER].daily_max_ms = 2 * MS_PER_HOUR;
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    bench_pass(&b, HOUR);
    int64_t on_today = b.loads[HEATER].on_today_ms;
    restart_after(10 * MS_PER_MIN, &was_on);
    ck_assert_int_eq(b.loads[HEATER].on_today_ms, on_today + 10 * MS_PER_MIN);
}
END_TEST

START_TEST(test_restart_adopts_a_load_that_is_on_and_begins_minimum_on_afresh)
{
    bool was_on = false;
    bench_make(&b, 1);
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    bench_pass(&b, HOUR);
    restart_after(MS_PER_MIN, &was_on);
    rules_adopt(&b.settings, &b.memory, HEATER, b.now);
    b.rest_w = 500;
    ck_assert_int_eq(bench_until(&b, HEATER, false, HOUR), 5 * MINUTE);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_floor_starts_at_latest_safe_start,
        test_floor_needs_no_meter,
        test_spare_power_counts_towards_the_floor,
        test_an_open_thermostat_meets_the_floor,
        test_a_thermostat_open_since_long_meets_the_floor_at_a_moment_that_is_told,
        test_floor_until_satisfied_is_not_met_by_time_alone,
        test_energy_floor_counts_what_the_meter_shows,
        test_energy_floor_of_a_set_point_goes_by_the_highest_step_that_it_can_take,
        test_floor_is_bought_in_its_cheapest_hours,
        test_a_start_that_is_told_beforehand_counts_open_hours_only,
        test_a_start_that_is_told_across_a_closed_night_lies_in_open_hours,
        test_a_due_floor_waits_for_no_more_than_its_rest,
        test_an_element_stronger_than_its_nameplate_runs_through_to_the_end,
        test_an_appliance_of_its_size_does_not_stop_the_count_of_a_load_without_thermostat,
        test_starts_per_hour_count_as_a_rest_before_the_latest_start,
        test_a_missed_floor_tells_what_denied_it,
        test_floor_once_in_three_days_begins_anew_when_met,
        test_a_weekly_heating_through_begins_in_time_whatever_was_heated_before,
        test_a_satisfied_load_is_off_and_tried_again_later,
        test_a_floor_that_does_not_fit_its_hours_is_refused,
        test_a_daily_floor_of_more_than_the_daily_maximum_is_refused,
        test_a_floor_once_in_two_days_needs_hours_whichever_day_it_begins,
        test_equal_priorities_keep_the_order_of_the_settings,
        test_restart_keeps_what_was_done_for_a_floor,
        test_lost_time_counts_fully_towards_the_daily_maximum,
        test_restart_adopts_a_load_that_is_on_and_begins_minimum_on_afresh,
    };
    return bench_run_tests("floors", tests, sizeof tests / sizeof tests[0]);
}
