/* test_draws.c - what is said of a load's draw, each rule in a sentence. */
#include "bench_house.h"

#include <stdio.h>

enum { MINUTE = 60, HOUR = 3600, NOON = 12 * 3600 };

static struct bench b;

static const struct draw_view *draw(void)
{
    return rules_draw(&b.memory, HEATER);
}

static void heater_with_thermostat(void)
{
    bench_make(&b, 1);
    b.load[HEATER].thermostat = true;
    b.load[HEATER].power_w = 3600;
    b.rest_w = 400;
}

/* On for an hour by a person's order, and seen drawing. */
static void run_by_hand(int64_t minutes)
{
    bench_pass(&b, 30); /* what the house takes must be known before */
    bench_order(&b, bench_command(&b, COMMAND_ON, HEATER, minutes));
    bench_pass(&b, 45);
}

static void stop_by_hand(void)
{
    bench_order(&b, bench_command(&b, COMMAND_OFF, HEATER, 24 * 60));
    bench_pass(&b, 40);
}

/* ---- the sun --------------------------------------------------------------------- */

static void solar_each_5_s(int offset_s)
{
    b.settings.solar = true;
    b.solar_every_s = 5;
    b.solar_offset_s = offset_s;
    b.solar_w = 5000;
}

/* Full sun, then `cloud_w` less of it within `ramp_s`. */
static void pass_cloud_edge(int32_t from_w, int32_t to_w, int ramp_s)
{
    for (int s = 1; s <= ramp_s; s++) {
        b.solar_w = from_w + (to_w - from_w) * s / ramp_s;
        bench_pass(&b, 1);
    }
}

static void assert_still_drawing(int offset, int ramp, int32_t cloud_w, int second)
{
    ck_assert_msg(!draw()->supposed && !draw()->has_opened && !b.loads[HEATER].draw.satisfied,
                  "a cloud of %d W within %d s, %d s after a poll each 5 s + %d, passes for the "
                  "thermostat",
                  cloud_w, ramp, second, offset);
}

/* Two edges, one after the other, each long enough for an opening to be believed. */
static void one_cloud(int offset, int ramp, int32_t cloud_w, int second)
{
    heater_with_thermostat();
    solar_each_5_s(offset);
    bench_begin(&b, NOON);
    run_by_hand(60);
    bench_pass(&b, MINUTE + second);
    ck_assert_int_eq(draw()->state, DRAW_SEEN);
    pass_cloud_edge(5000, 5000 - cloud_w, ramp);
    bench_pass(&b, 150);
    assert_still_drawing(offset, ramp, cloud_w, second);
    pass_cloud_edge(5000 - cloud_w, 5000, ramp);
    bench_pass(&b, 150);
    assert_still_drawing(offset, ramp, cloud_w, second);
    ck_assert_int_eq(draw()->state, DRAW_SEEN);
}

START_TEST(test_no_cloud_passes_for_the_thermostat)
{
    static const int ramps_s[] = {1, 2, 3, 5, 8, 13, 20};
    for (int offset = 0; offset < 5; offset++)
        for (int second = 0; second < 5; second++)
            for (unsigned r = 0; r < sizeof ramps_s / sizeof ramps_s[0]; r++)
                for (int32_t cloud_w = 3300; cloud_w <= 4000; cloud_w += 350)
                    one_cloud(offset, ramps_s[r], cloud_w, second);
}
END_TEST

START_TEST(test_without_the_solar_meter_no_opening_is_believed_from_the_grid_alone)
{
    heater_with_thermostat();
    solar_each_5_s(0);
    bench_begin(&b, NOON);
    run_by_hand(60);
    bench_pass(&b, 5 * MINUTE);
    ck_assert_int_eq(draw()->state, DRAW_SEEN);
    b.solar_silent = true;
    bench_pass(&b, 30);
    ck_assert_int_eq(draw()->state, DRAW_ASSUMED); /* not known any more */
    b.solar_w += 3600; /* the sun comes out: the grid falls by as much */
    bench_pass(&b, 5 * MINUTE);
    ck_assert(!draw()->supposed && !b.loads[HEATER].draw.satisfied);
    b.solar_silent = false;
    bench_pass(&b, 30);
    ck_assert_int_eq(draw()->state, DRAW_SEEN); /* the house takes what it took before */
}
END_TEST

START_TEST(test_an_inverter_that_sleeps_at_night_does_not_hide_the_thermostat)
{
    heater_with_thermostat();
    solar_each_5_s(0);
    b.solar_w = 20;
    bench_begin(&b, 17 * HOUR);
    bench_pass(&b, 30);
    b.solar_silent = true;
    b.solar_w = 0;
    run_by_hand(60);
    bench_pass(&b, 20 * MINUTE);
    ck_assert_int_eq(draw()->state, DRAW_SEEN);
    b.at[HEATER].thermostat_open = true;
    bench_pass(&b, 3 * MINUTE);
    stop_by_hand();
    ck_assert(draw()->has_opened);
    bench_pass(&b, 14 * HOUR); /* no night is longer: now its meter is taken to be broken */
    run_by_hand(60);
    ck_assert_int_eq(draw()->state, DRAW_ASSUMED);
}
END_TEST

START_TEST(test_a_solar_meter_that_stays_silent_after_sunrise_calls_no_good_element_dead)
{
    heater_with_thermostat();
    solar_each_5_s(0);
    b.solar_w = 20;
    bench_begin(&b, 6 * HOUR);
    bench_pass(&b, 30);
    b.solar_silent = true;
    bench_pass(&b, HOUR);
    b.solar_w = 6000; /* the sun has risen; its meter does not say so */
    ck_assert_int_gt(bench_until(&b, HEATER, true, 10 * MINUTE), 0);
    bench_pass(&b, HOUR);
    ck_assert(bench_on(&b, HEATER));
    ck_assert(!draw()->unexplained && !draw()->supposed && !b.loads[HEATER].draw.satisfied);
    ck_assert_int_eq(b.events[EVENT_NO_DRAW], 0);
}
END_TEST

START_TEST(test_a_true_opening_is_seen_beside_a_slow_solar_meter)
{
    heater_with_thermostat();
    solar_each_5_s(2);
    bench_begin(&b, NOON);
    run_by_hand(60);
    bench_pass(&b, 20 * MINUTE);
    b.at[HEATER].thermostat_open = true;
    bench_pass(&b, 3 * MINUTE);
    ck_assert(draw()->supposed);
    ck_assert(!draw()->has_opened); /* switching off proves it */
    stop_by_hand();
    ck_assert(draw()->has_opened);
    ck_assert_int_eq(b.events[EVENT_SATISFIED], 1);
}
END_TEST

/* A turn that is held for longer would miss the step: its moment counts. */
START_TEST(test_no_turn_between_two_looks_holds_beyond_the_next_while_the_level_is_moving)
{
    heater_with_thermostat();
    solar_each_5_s(0);
    bench_begin(&b, NOON);
    bench_pass(&b, 34); /* looked at in this second */
    ck_assert_int_gt(b.outcome.holds_until.ms - b.now.mono.ms, MS_PER_S);
    b.rest_w += 2000;
    for (int s = 0; s < 13; s++) { /* looks in the fifth and in the tenth */
        bench_pass(&b, 1);
        if (s < 9)
            ck_assert_int_le(b.outcome.holds_until.ms - b.now.mono.ms, MS_PER_S);
    }
    ck_assert_int_gt(b.outcome.holds_until.ms - b.now.mono.ms, MS_PER_S);
}
END_TEST

/* The fall is hidden, and told later by what the house takes: no level came back since. */
START_TEST(test_a_thermostat_that_opens_while_a_pump_starts_is_seen_open_once)
{
    bench_make(&b, 2);
    b.load[HEATER].thermostat = true;
    b.load[PUMP].power_w = 1000;
    b.rest_w = 400;
    solar_each_5_s(0);
    b.solar_w = 0;
    bench_begin(&b, NOON);
    run_by_hand(60);
    bench_pass(&b, 5 * MINUTE);
    ck_assert_int_eq(draw()->state, DRAW_SEEN);
    bench_order(&b, bench_command(&b, COMMAND_ON, PUMP, 60));
    b.at[HEATER].thermostat_open = true;
    bench_pass(&b, 40);
    ck_assert(bench_on(&b, PUMP));
    for (int s = 0; s < 60; s++) {
        ck_assert_int_eq(draw()->state, DRAW_OPEN);
        bench_pass(&b, 1);
    }
    bench_pass(&b, MINUTE);
    ck_assert(draw()->supposed); /* it opened after heating */
}
END_TEST

START_TEST(test_an_edge_that_a_roof_without_meter_made_is_found_out_by_switching_off)
{
    heater_with_thermostat();
    struct floor_settings floor = bench_hours_by(5, 17 * HOUR);
    floor.measure = FLOOR_SATISFIED;
    bench_floor(&b, floor);
    bench_begin(&b, 13 * HOUR);
    bench_until(&b, HEATER, true, HOUR);
    bench_pass(&b, 20 * MINUTE);
    b.rest_w -= 3600; /* the sun comes out, and stays */
    ck_assert_int_gt(bench_until(&b, HEATER, false, 5 * MINUTE), 0);
    bench_pass(&b, 15);
    ck_assert(!draw()->has_opened && !draw()->supposed);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 0);
    ck_assert_int_gt(bench_until(&b, HEATER, true, 6 * MINUTE), 0); /* due as before */
}
END_TEST

START_TEST(test_while_its_own_meter_is_silent_a_metered_load_is_proven_full_only_by_switching_off)
{
    heater_with_thermostat();
    b.load[HEATER].metered = true; /* and nothing is read from it */
    struct floor_settings floor = bench_hours_by(5, 17 * HOUR);
    floor.measure = FLOOR_SATISFIED;
    bench_floor(&b, floor);
    b.rest_w = 4000; /* with an oven */
    bench_begin(&b, NOON);
    ck_assert_int_gt(bench_until(&b, HEATER, true, HOUR), 0);
    bench_pass(&b, 20 * MINUTE);
    b.rest_w = 400; /* the oven ends */
    bench_until(&b, HEATER, false, 5 * MINUTE);
    bench_pass(&b, 40);
    ck_assert(!draw()->has_opened && !draw()->supposed);
    ck_assert_int_eq(b.events[EVENT_SATISFIED] + b.events[EVENT_FLOOR_MET], 0);
    bench_pass(&b, 6 * MINUTE);
    ck_assert(bench_on(&b, HEATER)); /* due as before */
}
END_TEST

/* ---- nothing is drawn ------------------------------------------------------------- */

static void floor_until_satisfied(void)
{
    struct floor_settings floor = bench_hours_by(2, 17 * HOUR);
    floor.measure = FLOOR_SATISFIED;
    bench_floor(&b, floor);
}

START_TEST(test_a_dead_element_is_not_satisfied_and_its_floor_is_missed)
{
    heater_with_thermostat();
    floor_until_satisfied();
    b.at[HEATER].dead = true;
    bench_begin(&b, NOON);
    bench_pass(&b, 5 * HOUR + MINUTE);
    ck_assert(draw()->unexplained);
    ck_assert(!draw()->has_opened);
    ck_assert_int_eq(b.events[EVENT_SATISFIED], 0);
    ck_assert_int_eq(b.events[EVENT_NO_DRAW], 1);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 0);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MISSED], 1);
}
END_TEST

/* Export stays at its limit: the roof would give at once what the heater takes, so that no
 * step at the meter says nothing of the heater. */
START_TEST(test_no_step_behind_an_inverter_that_is_held_back_proves_nothing)
{
    heater_with_thermostat();
    b.throttled = true;
    b.rest_w = -5000;
    b.at[HEATER].dead = true;
    bench_begin(&b, NOON);
    run_by_hand(60);
    bench_pass(&b, 5 * MINUTE);
    ck_assert_int_eq(draw()->state, DRAW_ASSUMED);
    ck_assert(!draw()->unexplained);
}
END_TEST

/* Heated through: four hours, opened, and proven. */
static void fill(void)
{
    b.at[HEATER].thermostat_open = false;
    run_by_hand(10 * 60);
    bench_pass(&b, 4 * HOUR);
    b.at[HEATER].thermostat_open = true;
    bench_pass(&b, 3 * MINUTE);
    stop_by_hand();
}

START_TEST(test_a_breaker_that_trips_early_in_a_run_is_no_opening)
{
    heater_with_thermostat();
    bench_begin(&b, 0);
    for (int day = 0; day < 2; day++) {
        fill();
        bench_pass(&b, 19 * HOUR);
    }
    ck_assert_int_eq(b.events[EVENT_SATISFIED], 2);
    b.at[HEATER].thermostat_open = false;
    run_by_hand(60);
    bench_pass(&b, 5 * MINUTE);
    b.at[HEATER].dead = true; /* 0.3 kWh after 14 kWh a day */
    bench_pass(&b, 3 * MINUTE);
    stop_by_hand();
    ck_assert_int_eq(b.events[EVENT_SATISFIED], 2);
    ck_assert(draw()->unexplained);
    ck_assert_int_eq(b.events[EVENT_NO_DRAW], 1);
}
END_TEST

/* 27 minutes into the first run ever, 1.6 kWh: nothing to compare it with. */
START_TEST(test_a_breaker_that_trips_in_the_first_run_ever_keeps_no_floor)
{
    for (int measure = FLOOR_TIME; measure <= FLOOR_SATISFIED; measure++) {
        heater_with_thermostat();
        struct floor_settings floor = bench_hours_by(3, 17 * HOUR);
        floor.measure = (uint8_t)measure;
        if (measure == FLOOR_ENERGY)
            floor.amount = 10800000; /* mWh */
        bench_floor(&b, floor);
        bench_begin(&b, NOON);
        run_by_hand(4 * 60);
        bench_pass(&b, 27 * MINUTE);
        b.at[HEATER].dead = true;
        bench_pass(&b, 3 * MINUTE);
        stop_by_hand();
        ck_assert(draw()->has_opened && draw()->unsure);
        bench_order(&b, bench_command(&b, COMMAND_AUTO, HEATER, 0));
        bench_pass(&b, 5 * HOUR);
        ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 0);
        ck_assert_int_eq(b.events[EVENT_FLOOR_UNPROVEN], 1);
    }
}
END_TEST

START_TEST(test_a_first_opening_after_all_that_the_floor_plans_for_is_sure)
{
    heater_with_thermostat();
    floor_until_satisfied();
    bench_begin(&b, 8 * HOUR);
    run_by_hand(10 * 60);
    bench_pass(&b, 5 * HOUR + 10 * MINUTE);
    b.at[HEATER].thermostat_open = true;
    bench_pass(&b, 3 * MINUTE);
    stop_by_hand();
    ck_assert(draw()->has_opened && !draw()->unsure);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 1);
}
END_TEST

START_TEST(test_the_second_opening_is_compared_with_the_first)
{
    heater_with_thermostat();
    floor_until_satisfied();
    bench_begin(&b, 0);
    for (int day = 0; day < 2; day++) {
        ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 0);
        b.at[HEATER].thermostat_open = false;
        run_by_hand(10 * 60);
        bench_pass(&b, HOUR);
        b.at[HEATER].thermostat_open = true;
        bench_pass(&b, 3 * MINUTE);
        stop_by_hand();
        ck_assert_int_eq(draw()->unsure, day == 0);
        bench_pass(&b, 22 * HOUR);
    }
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 1);
    ck_assert_int_eq(b.events[EVENT_FLOOR_UNPROVEN], 1);
}
END_TEST

static void try_without_draw(void)
{
    run_by_hand(60);
    bench_pass(&b, 3 * MINUTE);
    stop_by_hand();
}

START_TEST(test_a_heater_that_was_just_filled_is_satisfied_when_tried_again)
{
    heater_with_thermostat();
    bench_begin(&b, 0);
    fill();
    bench_pass(&b, 2 * HOUR);
    try_without_draw();
    ck_assert(!draw()->unexplained);
    ck_assert(b.loads[HEATER].draw.satisfied);
    ck_assert_int_eq(b.events[EVENT_NO_DRAW], 0);
}
END_TEST

/* The start that nothing came of is as flat as that of a store which is still hot. */
START_TEST(test_a_start_without_draw_a_day_after_the_last_opening_keeps_no_floor_for_sure)
{
    heater_with_thermostat();
    bench_floor(&b, bench_hours_by(3, 17 * HOUR));
    bench_begin(&b, 0);
    bench_opened_before(&b, HEATER);
    fill();
    b.at[HEATER].dead = true;
    bench_order(&b, bench_command(&b, COMMAND_AUTO, HEATER, 0));
    bench_pass(&b, 18 * HOUR - bench_local(&b).second);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 1); /* heated through in the early morning */
    bench_pass(&b, 24 * HOUR);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 1);
    ck_assert_int_eq(b.events[EVENT_FLOOR_UNPROVEN], 1);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MISSED], 0);
}
END_TEST

START_TEST(test_trials_without_draw_for_days_end_in_not_known_why)
{
    heater_with_thermostat();
    bench_begin(&b, 0);
    fill();
    for (int day = 0; day < 2; day++) {
        bench_pass(&b, 20 * HOUR);
        try_without_draw();
        ck_assert(!draw()->unexplained);
    }
    bench_pass(&b, 20 * HOUR);
    try_without_draw();
    ck_assert(draw()->unexplained); /* what was hot two days ago has been used or lost */
    ck_assert_int_eq(b.events[EVENT_NO_DRAW], 1);
}
END_TEST

START_TEST(test_an_opening_supposed_days_ago_explains_no_missing_draw)
{
    heater_with_thermostat();
    bench_begin(&b, NOON);
    run_by_hand(60);
    bench_pass(&b, 20 * MINUTE);
    b.at[HEATER].thermostat_open = true;
    bench_pass(&b, 3 * MINUTE);
    b.meter_silent = true; /* so what switching off does stays unseen */
    stop_by_hand();
    b.meter_silent = false;
    ck_assert(draw()->supposed && !draw()->has_opened);
    bench_order(&b, bench_command(&b, COMMAND_OFF, HEATER, 49 * 60));
    bench_pass(&b, 49 * HOUR + 5 * MINUTE);
    b.at[HEATER].dead = true;
    run_by_hand(60);
    bench_pass(&b, 5 * MINUTE);
    ck_assert(draw()->unexplained && !draw()->supposed);
    ck_assert_int_eq(b.events[EVENT_SATISFIED], 0);
    ck_assert_int_eq(b.events[EVENT_NO_DRAW], 1);
}
END_TEST

START_TEST(test_a_pump_whose_contact_never_closes_has_not_kept_its_floor)
{
    bench_make(&b, 1);
    bench_floor(&b, bench_hours_by(2, 17 * HOUR));
    b.at[HEATER].dead = true;
    b.rest_w = 400;
    bench_begin(&b, NOON);
    bench_pass(&b, 5 * HOUR + MINUTE);
    ck_assert(draw()->unexplained);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 0);
    ck_assert_int_eq(b.events[EVENT_FLOOR_UNPROVEN], 0);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MISSED], 1);
}
END_TEST

/* ---- a contact that stays closed ------------------------------------------------------ */

START_TEST(test_a_contact_that_stays_closed_goes_on_being_told_and_booked)
{
    bench_make(&b, 1);
    b.load[HEATER].thermostat = true;
    b.rest_w = 400;
    bench_begin(&b, NOON);
    run_by_hand(60);
    bench_pass(&b, 10 * MINUTE);
    b.at[HEATER].welded = true;
    bench_order(&b, bench_command(&b, COMMAND_OFF, HEATER, 600));
    bench_pass(&b, 15);
    ck_assert_int_eq(draw()->state, DRAW_STUCK);
    ck_assert_int_eq(b.events[EVENT_STUCK], 1);
    int64_t before_mj = b.loads[HEATER].total.grid_mj;
    bench_pass(&b, HOUR);
    ck_assert_int_eq(b.loads[HEATER].total.grid_mj - before_mj, 3600 * (int64_t)MS_PER_HOUR);
    b.at[HEATER].thermostat_open = true; /* it has heated through */
    bench_pass(&b, 5);
    ck_assert_int_eq(draw()->state, DRAW_NONE);
}
END_TEST

START_TEST(test_a_stop_hidden_by_an_oven_says_nothing_of_the_contact)
{
    bench_make(&b, 1);
    b.load[HEATER].thermostat = true;
    b.rest_w = 400;
    bench_begin(&b, NOON);
    run_by_hand(60);
    bench_pass(&b, 10 * MINUTE);
    b.rest_w += 2400; /* in the very seconds of the stop */
    bench_order(&b, bench_command(&b, COMMAND_OFF, HEATER, 600));
    bench_pass(&b, 30);
    ck_assert_int_eq(draw()->state, DRAW_NONE);
    ck_assert_int_eq(b.events[EVENT_STUCK], 0);
}
END_TEST

START_TEST(test_an_appliance_that_hid_the_stop_keeps_no_floor_of_the_heater)
{
    heater_with_thermostat();
    b.load[HEATER].uses_spare = false;
    bench_floor(&b, bench_hours_by(2, 17 * HOUR));
    bench_begin(&b, 9 * HOUR);
    run_by_hand(60);
    bench_pass(&b, 10 * MINUTE);
    bench_order(&b, bench_command(&b, COMMAND_AUTO, HEATER, 0));
    b.rest_w += 3600; /* an oven, in the very seconds of the stop */
    bench_pass(&b, 30);
    ck_assert_int_eq(draw()->state, DRAW_STUCK);
    bench_pass(&b, 3 * HOUR);
    ck_assert(!rules_floor(&b.settings, &b.memory, HEATER, 0).met);
    bench_pass(&b, 4 * HOUR + 30 * MINUTE);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET] + b.events[EVENT_FLOOR_UNPROVEN], 1);
    ck_assert_int_ge(b.loads[HEATER].total.on_ms, 2 * (int64_t)MS_PER_HOUR - MS_PER_MIN);
}
END_TEST

/* ---- floors without a meter ------------------------------------------------------------ */

START_TEST(test_a_floor_run_without_a_meter_is_run_once_and_told_as_not_known)
{
    heater_with_thermostat();
    bench_floor(&b, bench_hours_by(2, 17 * HOUR));
    b.meter_silent = true;
    bench_begin(&b, NOON);
    bench_pass(&b, 4 * HOUR + 50 * MINUTE);
    struct floor_view view = rules_floor(&b.settings, &b.memory, HEATER, 0);
    ck_assert(view.met);
    ck_assert(view.blind);
    ck_assert(!bench_on(&b, HEATER));
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 0);
    ck_assert_int_eq(b.events[EVENT_FLOOR_UNPROVEN], 1);
    ck_assert(!view.last.known);
    bench_pass(&b, HOUR); /* past its deadline: in the evening it is still known how it went */
    struct floor_view after = rules_floor(&b.settings, &b.memory, HEATER, 0);
    ck_assert(after.last.known && after.last.blind);
    ck_assert_int_eq(after.last.deadline_ms, view.deadline_ms);
}
END_TEST

/* ---- energy that nothing showed --------------------------------------------------------- */

START_TEST(test_energy_that_is_only_assumed_is_counted_and_told_apart)
{
    heater_with_thermostat();
    bench_begin(&b, NOON);
    run_by_hand(120);
    bench_pass(&b, HOUR - 45);
    ck_assert_int_eq(draw()->state, DRAW_SEEN);
    ck_assert_int_eq(b.loads[HEATER].total.assumed_mj, 0);
    b.meter_silent = true;
    bench_pass(&b, 40 * MINUTE);
    int64_t assumed_mj = b.loads[HEATER].total.assumed_mj;
    ck_assert_int_ge(assumed_mj, 38 * MINUTE * INT64_C(3600) * 1000);
    ck_assert_int_le(assumed_mj, 40 * MINUTE * INT64_C(3600) * 1000);
    ck_assert_int_eq(b.loads[HEATER].today.assumed_mj, assumed_mj);
    ck_assert_int_gt(b.loads[HEATER].total.spare_mj + b.loads[HEATER].total.grid_mj,
                     assumed_mj + 58 * MINUTE * INT64_C(3600) * 1000);
}
END_TEST

/* ---- off ---------------------------------------------------------------------------------- */

START_TEST(test_a_contact_that_stayed_closed_before_the_beginning_is_not_told_as_drawing_nothing)
{
    heater_with_thermostat();
    b.at[HEATER].welded = true;
    b.settings.solar = true;
    b.solar_w = 0;
    bench_begin(&b, 19 * HOUR);
    bench_pass(&b, HOUR);
    ck_assert_int_eq(draw()->state, DRAW_NONE);
    ck_assert(!draw()->off_shown);
    b.at[HEATER].welded = false; /* somebody has opened it */
    bench_pass(&b, 10);
    ck_assert(draw()->off_shown);
}
END_TEST

START_TEST(test_what_was_shown_before_a_run_says_nothing_of_the_contact_after_it)
{
    heater_with_thermostat();
    b.settings.solar = true;
    b.solar_w = 0;
    bench_begin(&b, NOON);
    bench_pass(&b, MINUTE);
    ck_assert(draw()->off_shown); /* the house takes less than the heater would */
    run_by_hand(60);
    b.at[HEATER].welded = true;
    bench_order(&b, bench_command(&b, COMMAND_OFF, HEATER, 60));
    bench_pass(&b, 4);
    ck_assert(!draw()->off_shown);
}
END_TEST

START_TEST(test_a_load_is_shown_off_when_the_meter_fell_as_it_stopped)
{
    heater_with_thermostat();
    bench_begin(&b, NOON);
    bench_pass(&b, MINUTE);
    ck_assert(!draw()->off_shown); /* a roof without a meter may be feeding it */
    run_by_hand(60);
    stop_by_hand();
    ck_assert(draw()->off_shown);
    bench_order(&b, bench_command(&b, COMMAND_ON, HEATER, 60));
    bench_pass(&b, 10 * MINUTE);
    b.meter_silent = true;
    stop_by_hand();
    ck_assert_int_eq(draw()->state, DRAW_NONE);
    ck_assert(!draw()->off_shown);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_no_cloud_passes_for_the_thermostat,
        test_without_the_solar_meter_no_opening_is_believed_from_the_grid_alone,
        test_an_inverter_that_sleeps_at_night_does_not_hide_the_thermostat,
        test_a_solar_meter_that_stays_silent_after_sunrise_calls_no_good_element_dead,
        test_a_true_opening_is_seen_beside_a_slow_solar_meter,
        test_no_turn_between_two_looks_holds_beyond_the_next_while_the_level_is_moving,
        test_a_thermostat_that_opens_while_a_pump_starts_is_seen_open_once,
        test_an_edge_that_a_roof_without_meter_made_is_found_out_by_switching_off,
        test_while_its_own_meter_is_silent_a_metered_load_is_proven_full_only_by_switching_off,
        test_a_dead_element_is_not_satisfied_and_its_floor_is_missed,
        test_no_step_behind_an_inverter_that_is_held_back_proves_nothing,
        test_a_breaker_that_trips_early_in_a_run_is_no_opening,
        test_a_breaker_that_trips_in_the_first_run_ever_keeps_no_floor,
        test_a_first_opening_after_all_that_the_floor_plans_for_is_sure,
        test_the_second_opening_is_compared_with_the_first,
        test_a_heater_that_was_just_filled_is_satisfied_when_tried_again,
        test_a_start_without_draw_a_day_after_the_last_opening_keeps_no_floor_for_sure,
        test_trials_without_draw_for_days_end_in_not_known_why,
        test_an_opening_supposed_days_ago_explains_no_missing_draw,
        test_a_pump_whose_contact_never_closes_has_not_kept_its_floor,
        test_a_contact_that_stays_closed_goes_on_being_told_and_booked,
        test_a_stop_hidden_by_an_oven_says_nothing_of_the_contact,
        test_an_appliance_that_hid_the_stop_keeps_no_floor_of_the_heater,
        test_a_floor_run_without_a_meter_is_run_once_and_told_as_not_known,
        test_energy_that_is_only_assumed_is_counted_and_told_apart,
        test_a_contact_that_stayed_closed_before_the_beginning_is_not_told_as_drawing_nothing,
        test_what_was_shown_before_a_run_says_nothing_of_the_contact_after_it,
        test_a_load_is_shown_off_when_the_meter_fell_as_it_stopped,
    };
    return bench_run_tests("draws", tests, sizeof tests / sizeof tests[0]);
}
